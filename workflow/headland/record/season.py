"""Many campaigns side by side: each surface over the dates, and each head against the other set's and against
a fixed station.

Raw net radiation of different days is never put side by side: it is the sky's. What can be compared are the
albedo, the surface's temperature minus the air's, and the net radiation under one sky for all dates.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from matplotlib import rc_context
from matplotlib.figure import Figure

from headland.base.station import NAME as STATION
from headland.physics import radiation
from headland.report import figures
from headland.report.figures import label, line_colour, look
from headland.report.wording import PROVISIONAL

QUANTITIES = {
    "albedo": ("albedo", 3),
    "surface_minus_air": ("surface minus air, K", 1),
    "net_radiation_season_sky": ("net under one sky, W m⁻²", 0),
}
"""What is compared over the dates: title and decimals."""
SHARED = ("albedo", "surface_temperature", "net_radiation_common_sky")
HEADS = (
    "campaign",
    "date",
    "set_a",
    "set_b",
    "channel",
    "sensor_a",
    "sensor_b",
    "certificate_a",
    "certificate_b",
    "ratio",
    "ratio_low",
    "ratio_high",
    "difference",
    "allowed_percent",
    "e_n",
    "agree",
)
MOST_HEADS = 12
"""Pairs of heads that a figure shows."""


def season_sky(campaigns: Sequence[pd.DataFrame]) -> tuple[float, float]:
    """The sky for all dates: the mean over campaigns of the incoming shortwave and longwave, each the mean
    over its surfaces, W m-2.
    """
    means = [[frame[c].mean() for c in ("sw_in", "lw_in")] for frame in campaigns]
    sw, lw = np.nanmean(np.array(means, dtype=float), axis=0) if means else (math.nan, math.nan)
    return float(sw), float(lw)


def rows(
    campaign: str,
    date: str,
    surfaces: pd.DataFrame,
    air: Mapping[str, float],
    classes: Mapping[str, Mapping],
    *,
    sky: tuple[float, float],
) -> pd.DataFrame:
    """A campaign's surfaces as rows of the season's table.

    surfaces: surfaces.csv. air: air temperature by surface, degC. classes: class properties, by which the net
    radiation under the season's sky (SW_ref, L_ref) is computed; it is empty where that sky is too
    different (`summarise.net_common_sky`).
    """
    keep = ["surface", "segments", "state", *(f"{q}{end}" for q in SHARED for end in ("", "_low", "_high"))]

    def of(key: str) -> np.ndarray:
        """A property of each surface's class; NaN where it has none."""
        values = [classes.get(name, {}).get(key, {}).get("value", math.nan) for name in surfaces["surface"]]
        return np.array(values, dtype=float)

    temperature = np.array([air.get(s, math.nan) for s in surfaces["surface"]], dtype=float)
    value = {c: surfaces[c].to_numpy(float) for c in ("net_radiation", "albedo", "sw_in", "lw_in")}
    common = radiation.net_common_sky(
        value["net_radiation"],
        value["albedo"],
        sw_in=value["sw_in"],
        lw_in=value["lw_in"],
        sw_ref=sky[0],
        lw_ref=sky[1],
        emissivity=of("emissivity"),
        sky_response=of("sky_response"),
    )
    frame = surfaces[keep].assign(
        campaign=campaign,
        date=date,
        air_temperature=temperature,
        sw_in=surfaces["sw_in"],
        lw_in=surfaces["lw_in"],
        net_radiation_season_sky=common,
    )
    for end in ("", "_low", "_high"):
        frame[f"surface_minus_air{end}"] = frame[f"surface_temperature{end}"] - temperature
    return frame


def heads(
    campaign: str, date: str, intercomparison: pd.DataFrame, certificates: pd.DataFrame
) -> pd.DataFrame:
    """A campaign's side-by-side visits as rows: both heads, what one read over the other, what their
    certificates allow, and whether they agree.

    intercomparison: as step 8 leaves it. certificates: in force, all sets. `allowed_percent`: both expanded
    uncertainties added in squares (JCGM 100:2008, eq. 10).
    """
    own = certificates.set_index(["set", "channel"])
    records = []
    for row in intercomparison.to_dict("records"):
        pair = {
            side: own.loc[(row[f"set_{side}"], row["channel"])]
            for side in "ab"
            if (row[f"set_{side}"], row["channel"]) in own.index
        }
        if len(pair) < 2:
            continue
        percents = [pair[side]["expanded_uncertainty_percent"] for side in "ab"]
        records.append(
            {
                "campaign": campaign,
                "date": date,
                **{
                    k: row[k]
                    for k in (
                        "set_a",
                        "set_b",
                        "channel",
                        "ratio",
                        "ratio_low",
                        "ratio_high",
                        "difference",
                        "e_n",
                    )
                },
                **{f"sensor_{side}": pair[side]["sensor_id"] for side in "ab"},
                **{f"certificate_{side}": pair[side]["certificate_date"] for side in "ab"},
                "allowed_percent": math.hypot(*percents),
                "agree": bool(row["e_n"] <= 1.0) if math.isfinite(row["e_n"]) else None,
            }
        )
    return pd.DataFrame(records, columns=HEADS)


def heads_against_station(
    campaign: str, date: str, compared: pd.DataFrame, certificates: pd.DataFrame
) -> pd.DataFrame:
    """A campaign's sets against the fixed station as rows like those of `heads`, with the station as second
    set: what the head's own certificate allows is given there.

    compared: as step 8 leaves it (`compare.against_station`).
    """
    own = certificates.set_index(["set", "channel"])
    kept = [row for row in compared.to_dict("records") if (row["set"], row["channel"]) in own.index]
    return pd.DataFrame(
        [
            {
                "campaign": campaign,
                "date": date,
                "set_a": row["set"],
                "set_b": STATION,
                "channel": row["channel"],
                "sensor_b": STATION,
                "certificate_b": "",
                "difference": math.nan,
                **{
                    name: own.loc[(row["set"], row["channel"])][column]
                    for name, column in (
                        ("sensor_a", "sensor_id"),
                        ("certificate_a", "certificate_date"),
                        ("allowed_percent", "expanded_uncertainty_percent"),
                    )
                },
                **{name: row[name] for name in ("ratio", "ratio_low", "ratio_high", "e_n")},
                "agree": bool(row["e_n"] <= 1.0),
            }
            for row in kept
        ],
        columns=HEADS,
    )


def drift(table: pd.DataFrame) -> list[dict]:
    """What the ratio of each two heads did from the first date to the last, for pairs of sensors met on two
    dates or more: per cent, and days between.
    """
    found = []
    for (a, b, channel), part in table.groupby(["sensor_a", "sensor_b", "channel"], sort=True):
        ratios = part.groupby("date")["ratio"].mean().dropna()
        if len(ratios) > 1:
            days = (pd.Timestamp(ratios.index[-1]) - pd.Timestamp(ratios.index[0])).days
            found.append(
                {
                    "heads": f"{a} over {b}",
                    "channel": channel,
                    "dates": len(ratios),
                    "days": days,
                    "percent": 100.0 * (ratios.iloc[-1] / ratios.iloc[0] - 1.0),
                }
            )
    return found


def _dates(axes, days: pd.Series, ticks: int) -> None:
    """An axis of dates that holds them all, and never less than a month."""
    middle, reach = (
        days.min() + (days.max() - days.min()) / 2,
        max((days.max() - days.min()) * 0.55, pd.Timedelta(days=15)),
    )
    axes.set_xlim(middle - reach, middle + reach)
    figures.time_axis(axes, ticks)


def surfaces_figure(table: pd.DataFrame, classes: Mapping[str, Mapping]) -> Figure:
    """Each surface over the dates: albedo, surface minus air, net under one sky; with 95 % intervals where
    there are any.
    """
    if not len(table):
        return figures.nothing("No surface in any campaign.")
    table = table.assign(day=pd.to_datetime(table["date"]))
    with rc_context(figures.STYLE):
        figure = Figure(figsize=(figures.WIDTH, 6.2), layout="constrained")
        axes = figure.subplots(len(QUANTITIES), 1, sharex=True)
        for ax, (name, (title, _)) in zip(axes, QUANTITIES.items(), strict=True):
            for key, part in table.groupby("surface", sort=True):
                surface = str(key)
                colour, marker = look(classes, surface)
                part = part.sort_values("day", kind="stable")
                y = part[name].to_numpy(float)
                if f"{name}_low" in part:
                    ends = np.abs(
                        np.stack(
                            [
                                y - part[f"{name}_low"].to_numpy(float),
                                part[f"{name}_high"].to_numpy(float) - y,
                            ]
                        )
                    )
                    ax.errorbar(
                        part["day"],
                        y,
                        yerr=np.nan_to_num(ends),
                        color=line_colour(colour),
                        linewidth=0.7,
                        fmt="none",
                    )
                ax.plot(
                    part["day"],
                    y,
                    color=colour,
                    marker=marker,
                    markersize=4,
                    markeredgecolor="black",
                    markeredgewidth=0.4,
                    linestyle="-" if len(part) > 1 else "",
                    label=figures.shortened(label(classes, surface)),
                )
                doubtful = (part["state"] == PROVISIONAL).to_numpy()
                ax.plot(
                    part["day"][doubtful],
                    y[doubtful],
                    ls="none",
                    marker=marker,
                    ms=4,
                    mfc="white",
                    mec=figures.DOUBTFUL,
                )
            ax.set_ylabel(title)
        axes[0].legend(ncols=4, loc="lower left", bbox_to_anchor=(0.0, 1.0))
        _dates(axes[-1], table["day"], 8)
        axes[-1].set_xlabel("date")
    return figure


def heads_figure(table: pd.DataFrame) -> Figure:
    """The ratio of each two heads that stood side by side, and of each head to the station, over the dates,
    with its interval and, grey, what their certificates allow.
    """
    if not len(table):
        return figures.nothing("No two sets stood side by side, and no station was near.")
    table = table.assign(day=pd.to_datetime(table["date"]))
    groups = list(table.groupby(["channel", "sensor_a", "sensor_b"], sort=True))[:MOST_HEADS]
    rows_ = math.ceil(len(groups) / 2)
    with rc_context(figures.STYLE):
        figure = Figure(figsize=(figures.WIDTH, 1.5 * rows_ + 0.4), layout="constrained")
        axes = figure.subplots(rows_, 2, sharex=True, squeeze=False).ravel()
        for ax, (key, part) in zip(axes[: len(groups)], groups, strict=True):
            channel, a, b = map(str, key)
            part = part.sort_values("day", kind="stable")
            ratio = part["ratio"].to_numpy(float)
            allowed = part["allowed_percent"].iloc[-1] / 100.0
            if math.isfinite(allowed) and channel.startswith("sw"):
                ax.axhspan(1.0 - allowed, 1.0 + allowed, color="#e6e6e6")
            ax.axhline(1.0, color="#777777", linewidth=0.8)
            ends = np.abs(
                np.stack(
                    [ratio - part["ratio_low"].to_numpy(float), part["ratio_high"].to_numpy(float) - ratio]
                )
            )
            ax.errorbar(
                part["day"],
                ratio,
                yerr=np.nan_to_num(ends),
                color=figures.COMPONENTS[channel][1],
                fmt="o",
                markersize=3,
                linewidth=0.8,
            )
            ax.set_title(
                figures.shortened(f"{figures.COMPONENTS[channel][0]}: {a} over {b}", 44),
                loc="left",
            )
        for ax in axes[len(groups) :]:
            ax.set_axis_off()
        for ax in axes[: len(groups)][-2:]:
            _dates(ax, table["day"], 4)
    return figure
