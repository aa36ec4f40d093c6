"""Figures of the report. Each function takes frames and gives a matplotlib figure; `svg` turns one into text, the same bytes each time.

Colours and markers of surfaces come from config/surfaces.csv; nothing is told by colour alone: there is a marker, a line style, a hatch, a height or
a word beside it, so that a grey print says the same. Every figure is as wide as the page's text, so that its text has its printed size.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Mapping, Sequence

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.colors import is_color_like
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from headland.screen import has_any

WIDTH = 6.7
"""Inches: the text width of the page."""
TALLEST = 8.6
"""Inches: what a page holds beside its caption."""

STYLE = {
    "svg.hashsalt": "headland", "svg.fonttype": "path", "path.simplify": True, "font.family": "DejaVu Sans", "font.size": 8.0, "axes.titlesize": 8.0,
    "axes.labelsize": 8.0, "xtick.labelsize": 8.0, "ytick.labelsize": 8.0, "legend.fontsize": 8.0, "axes.spines.top": False, "axes.spines.right": False,
    "axes.linewidth": 0.6, "xtick.major.width": 0.6, "ytick.major.width": 0.6, "lines.linewidth": 1.1, "legend.frameon": False, "figure.dpi": 100,
    "axes.grid": True, "grid.color": "#dddddd", "grid.linewidth": 0.5, "axes.axisbelow": True, "hatch.linewidth": 0.4, "axes.unicode_minus": True,
    "axes.formatter.use_locale": False,
}
COMPONENTS = {
    "sw_in": ("shortwave in", "#b35c00", "-"), "sw_out": ("shortwave out", "#e39a3b", (0, (4, 1.5))),
    "lw_in": ("longwave in", "#5b8fd0", (0, (1, 1))), "lw_out": ("longwave out", "#1f4e8c", (0, (6, 1.5, 1, 1.5))),
}
SETS = (("#1b6ca8", "-"), ("#c4472d", (0, (4, 1.5))), ("#3f7f3f", (0, (1, 1))), ("#7a4fa3", "-."), ("#5f5f5f", (0, (6, 1, 1, 1))))
"""Colour and line style of the sets, in their order, over again where there are more."""
PLAIN = ("#777777", "o")
COUNTS, GUARD, FLAGGED, UNCLAIMED = "#2e8b3d", "#d9d9d9", "#c4472d", "#f3d36b"
MOST_POINTS = 600
"""Points a line keeps: the least and the greatest of each stretch, so that no peak is lost."""
LONGEST_PAUSE = pd.Timedelta(hours=6)
"""Where nothing was stored or noted for longer, a time axis is broken."""
MOST_PARTS = 6
"""Pieces that an axis is broken into at most."""
LETTER = 0.068
"""Inches that a letter of the figures takes on average."""


def svg(figure: Figure) -> str:
    """A figure as SVG text, without a date."""
    stream = io.StringIO()
    with matplotlib.rc_context(STYLE):
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None}, bbox_inches="tight", pad_inches=0.04)
    return stream.getvalue()


def equation(text: str, size: float = 11.0) -> str:
    """An equation in mathtext as SVG text."""
    with matplotlib.rc_context({**STYLE, "mathtext.fontset": "dejavusans"}):
        figure = Figure(figsize=(0.1, 0.1))
        figure.text(0, 0, f"${text}$", fontsize=size)
        return svg(figure)


def thinned(x, y, most: int = MOST_POINTS):
    """A line with at most about `most` points: of each stretch the least and the greatest."""
    x, y = np.asarray(x), np.asarray(y, dtype=float)
    if len(x) <= most:
        return x, y
    keep = set()
    for part in np.array_split(np.arange(len(x)), most // 2):
        values = y[part]
        if np.isfinite(values).any():
            keep |= {part[np.nanargmin(values)], part[np.nanargmax(values)]}
    index = np.array(sorted(keep | {0, len(x) - 1}))
    return x[index], y[index]


def look(surfaces: Mapping[str, Mapping], name: str) -> tuple[str, str]:
    """Colour and marker of a surface class."""
    entry = surfaces.get(name, {})
    return (entry.get("colour", {}).get("value") or PLAIN[0], entry.get("marker", {}).get("value") or PLAIN[1])


def label(surfaces: Mapping[str, Mapping], name: str) -> str:
    """A surface class's plain name."""
    return str(surfaces.get(name, {}).get("label", {}).get("value") or name.replace("_", " "))


def shortened(text: str, most: int = 24) -> str:
    """Text of a user for a figure: no longer than fits, and never read as an equation."""
    text = text if len(text) <= most else text[:most - 1] + "…"
    return text.replace("$", r"\$")


def _nothing(text: str) -> Figure:
    figure = Figure(figsize=(WIDTH, 1.0))
    figure.text(0.5, 0.5, text, ha="center", va="center", color="#555555")
    return figure


def _times(axes) -> None:
    locator = AutoDateLocator(maxticks=8)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))


def _bare(times: pd.Series) -> np.ndarray:
    return times.dt.tz_localize(None).to_numpy()


def _errorbar(axes, value, low, high, y, colour, marker) -> None:
    if np.isfinite(low) and np.isfinite(high):
        axes.plot([low, high], [y, y], color=colour, lw=1.6, solid_capstyle="butt")
    if np.isfinite(value):
        axes.plot([value], [y], marker=marker, color=colour, mec="black", mew=0.5, ms=6, ls="none")


def answer(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Albedo, surface temperature, net radiation as measured and under the common sky, a row a surface, each with its 95 % interval."""
    if not len(table):
        return _nothing("No surface has a value.")
    rows = table.sort_values("net_radiation_common_sky", kind="stable", na_position="first").reset_index(drop=True)
    panels = (("albedo", "albedo"), ("surface_temperature", "surface\ntemperature, °C"), ("net_radiation", "net radiation\nas measured, W m⁻²"),
              ("net_radiation_common_sky", "net radiation\ncommon sky, W m⁻²"))
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 0.75 + 0.27 * len(rows)))
        axes = figure.subplots(1, len(panels), sharey=True)
        for ax, (quantity, title) in zip(axes, panels):
            for y, row in enumerate(rows.to_dict("records")):
                _errorbar(ax, row[quantity], row[f"{quantity}_low"], row[f"{quantity}_high"], y, *look(surfaces, row["surface"]))
            ax.set_xlabel(title)
            ax.set_ylim(-0.6, len(rows) - 0.4)
            ax.locator_params(axis="x", nbins=4)
        axes[0].set_yticks(range(len(rows)), [label(surfaces, s) for s in rows["surface"]])
        figure.subplots_adjust(wspace=0.12)
    return figure


def balance(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Net radiation above, and below it what it becomes: ground, sensible and latent heat laid end to end, so that the bars show whether they close."""
    rows = table[table["ground_heat"].notna()].reset_index(drop=True)
    if not len(rows):
        return _nothing("For no surface is an energy balance estimated.")
    terms = (("ground_heat", "ground heat G", "#8c6d46", "//"), ("sensible_heat", "sensible heat H", "#c4472d", ".."), ("latent_heat", "latent heat LE", "#2b7bba", "xx"))
    with matplotlib.rc_context({**STYLE, "hatch.linewidth": 0.4}):
        figure = Figure(figsize=(WIDTH, 0.9 + 0.52 * len(rows)))
        ax = figure.subplots()
        for y, row in enumerate(rows.to_dict("records")):
            ax.barh(y - 0.2, row["net_radiation"], 0.34, color="#f1c75b", edgecolor="black", lw=0.5)
            if np.isfinite(row["net_radiation_low"]):
                ax.plot([row["net_radiation_low"], row["net_radiation_high"]], [y - 0.2, y - 0.2], color="black", lw=1.2)
            ends = {True: 0.0, False: 0.0}
            for name, _, colour, hatch in terms:
                value = row[name]
                if np.isfinite(value):
                    ax.barh(y + 0.2, value, 0.34, left=ends[value >= 0], color=colour, edgecolor="white", hatch=hatch, lw=0.5)
                    if abs(value) > 45:
                        ax.text(ends[value >= 0] + value / 2, y + 0.2, f"{value:.0f}", ha="center", va="center", color="black",
                                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8})
                    ends[value >= 0] += value
            if not np.isfinite(row["latent_heat"]):
                ax.text(ends[True] + 6, y + 0.2, "H and LE not estimated", va="center", color="#555555")
            ax.text(row["net_radiation"] / 2, y - 0.2, f"{row['net_radiation']:.0f}", ha="center", va="center")
        ax.set_yticks(range(len(rows)), [label(surfaces, s) for s in rows["surface"]])
        ax.invert_yaxis()
        ax.axvline(0, color="black", lw=0.6)
        ax.set_xlabel("W m⁻²   (G, H and LE estimated from textbook fractions)")
        handles = [Patch(facecolor="#f1c75b", edgecolor="black", lw=0.5, label="net radiation Q* (line: 95 % interval)")]
        handles += [Patch(facecolor=c, edgecolor="white", hatch=h, label=t) for _, t, c, h in terms]
        ax.legend(handles=handles, ncols=4, loc="lower center", bbox_to_anchor=(0.45, 1.0), handlelength=1.4, columnspacing=1.0)
    return figure


def timeline(noted: pd.DataFrame, samples: Mapping[str, pd.DataFrame], intervals: Mapping[str, float], excluded: Mapping[str, np.ndarray],
             surfaces: Mapping[str, Mapping]) -> Figure:
    """What was recorded against what was noted: for each set the runs stored, the noted intervals, and which samples count."""
    some = {name: frame for name, frame in samples.items() if len(frame)}
    if not some:
        return _nothing("Nothing was recorded.")
    with matplotlib.rc_context({**STYLE, "axes.grid": False}):
        figure = Figure(figsize=(WIDTH, 0.5 + 1.15 * len(samples)))
        ax = figure.subplots()
        for number, (name, frame) in enumerate(samples.items()):
            base = 3 * number
            own = noted[noted["set"] == name]
            for order, row in enumerate(own.to_dict("records")):
                start, end = (row[key].tz_localize(None) for key in ("start_utc", "end_utc"))
                colour, _ = look(surfaces, row["surface"])
                ax.barh(base, end - start, 0.62, left=start, color=colour, edgecolor="black", lw=0.4, alpha=0.75)
            if len(frame):
                times = _bare(frame["time_utc"])
                claimed = (frame["segment"] != "").to_numpy()
                for y, mask, colour in ((base + 0.75, np.ones(len(frame), bool), "#222222"), (base + 1.2, claimed & ~excluded[name], "#2e8b3d"),
                                        (base + 1.2, claimed & excluded[name], "#c4472d")):
                    for start, end in _stretches(times, mask, intervals[name]):
                        ax.barh(y, end - start, 0.34 if colour != "#c4472d" else 0.18, left=start, color=colour, lw=0)
        ax.set_yticks([3 * n + offset for n in range(len(samples)) for offset in (0, 0.75, 1.2)],
                      [text for name in samples for text in (f"{shortened(name)}: noted", "stored", "counts / kept apart")])
        ax.invert_yaxis()
        _times(ax)
        ax.set_xlabel("time, UTC")
        shown = list(dict.fromkeys(s for s in noted["surface"] if s))
        handles = [Patch(facecolor=look(surfaces, s)[0], edgecolor="black", lw=0.4, alpha=0.75, label=label(surfaces, s)) for s in shown]
        handles += [Patch(color="#2e8b3d", label="counts"), Patch(color="#c4472d", label="kept apart (thin)")]
        ax.legend(handles=handles, ncols=5, loc="lower center", bbox_to_anchor=(0.4, 1.0), handlelength=1.2, columnspacing=0.9)
    return figure


def _stretches(times: np.ndarray, mask: np.ndarray, interval: float) -> list[tuple]:
    """Start and end of each uninterrupted stretch of the masked samples."""
    step = np.timedelta64(int(interval * 1e6), "us")
    index = np.flatnonzero(mask)
    if not len(index):
        return []
    breaks = np.flatnonzero((np.diff(index) > 1) | (np.diff(times[index]) > 2.5 * step))
    starts, ends = np.r_[index[0], index[breaks + 1]], np.r_[index[breaks], index[-1]]
    return [(pd.Timestamp(times[a]), pd.Timestamp(times[b] + step)) for a, b in zip(starts, ends)]


def incoming(samples: Mapping[str, pd.DataFrame]) -> Figure:
    """Incoming shortwave and longwave of all sets on one axis, with the clear-sky model: do the sets agree, and what did the sky do?"""
    some = {name: frame for name, frame in samples.items() if len(frame)}
    if not some:
        return _nothing("Nothing was recorded.")
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 3.4))
        axes = figure.subplots(2, 1, sharex=True, height_ratios=(2, 1))
        for number, (name, frame) in enumerate(some.items()):
            colour, line = SETS[number % len(SETS)]
            gaps = frame["time_utc"].diff().dt.total_seconds().gt(120) & frame["time_utc"].diff().dt.total_seconds().gt(2.5 * frame["time_utc"].diff().dt.total_seconds().median())
            for ax, channel in zip(axes, ("sw_in", "lw_in")):
                first = True
                for _, part in frame.groupby(gaps.cumsum()):
                    x, y = thinned(_bare(part["time_utc"]), part[channel], max(40, MOST_POINTS * len(part) // len(frame)))
                    ax.plot(x, y, color=colour, ls=line, lw=0.9, label=shortened(name) if first else None)
                    first = False
            if number == 0:
                x, y = thinned(_bare(frame["time_utc"]), frame["sw_clear"], 200)
                axes[0].plot(x, y, color="#999999", lw=0.8, ls=(0, (2, 2)), label="clear sky (model)")
        axes[0].set_ylabel("shortwave in, W m⁻²")
        axes[1].set_ylabel("longwave in, W m⁻²")
        axes[1].set_xlabel("time, UTC")
        _times(axes[1])
        axes[0].legend(ncols=4, loc="lower left", bbox_to_anchor=(0, 1.0))
        figure.align_ylabels(axes)
    return figure


def components(noted: pd.DataFrame, frame: pd.DataFrame, excluded: np.ndarray, per_page: int = 12) -> list[Figure]:
    """The four components of each segment of one set along its transect (against time where one stood), samples kept apart shaded: as few pages as hold them, evenly filled."""
    frame = frame.assign(excluded=excluded)
    parts = {name: part for name, part in frame[frame["segment"] != ""].groupby("segment")}
    rows = [row for row in noted.to_dict("records") if row["segment"] in parts]
    pages = []
    for part_of_rows in np.array_split(np.arange(len(rows)), -(-len(rows) // per_page)) if rows else []:
        chunk = [rows[index] for index in part_of_rows]
        lines = (len(chunk) + 1) // 2
        with matplotlib.rc_context(STYLE):
            figure = Figure(figsize=(WIDTH, 0.45 + 1.46 * lines))
            axes = figure.subplots(lines, 2, squeeze=False).ravel()
            for ax, row in zip(axes, chunk):
                part = parts[row["segment"]]
                walked = part["position"].notna().all() and part["position"].nunique() > 1
                x = part["position"].to_numpy(float) if walked else (part["time_utc"] - part["time_utc"].iloc[0]).dt.total_seconds().to_numpy()
                scale, unit = (1.0, "m") if walked else (60.0, "min") if x[-1] < 7200 else (3600.0, "h")
                x = x / scale
                half = (x[1] - x[0]) / 2 if len(x) > 1 else 0.5
                for a, b in _runs(part["excluded"].to_numpy(bool)):
                    ax.axvspan(x[a] - half, x[b] + half, color="#e6e6e6", lw=0)
                for channel, (_, colour, line) in COMPONENTS.items():
                    ax.plot(*thinned(x, part[channel], 300), color=colour, ls=line, marker="o" if len(x) < 4 else None, ms=3)
                place = shortened(row["field"] or row["activity"], 18)
                ax.set_title(f"{row['segment']}  {place}", loc="left", pad=2)
                ax.set_xlabel(unit, labelpad=0.5)
                ax.margins(x=0.01)
                ax.locator_params(axis="y", nbins=4)
            for ax in axes[len(chunk):]:
                ax.set_visible(False)
            handles = [matplotlib.lines.Line2D([], [], color=c, ls=s, label=t) for t, c, s in COMPONENTS.values()]
            handles.append(Patch(color="#e6e6e6", label="kept apart"))
            figure.legend(handles=handles, ncols=5, loc="upper center", bbox_to_anchor=(0.5, 1.0), handlelength=2.6)
            figure.supylabel("W m⁻²", fontsize=8, x=0.04)
            top = 1.0 - 0.42 / figure.get_figheight()
            figure.subplots_adjust(left=0.1, right=0.99, top=top, bottom=0.35 / figure.get_figheight(), hspace=0.62, wspace=0.16)
        pages.append(figure)
    return pages


def _runs(mask: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.r_[0, mask.astype(int), 0]))
    return [(a, b - 1) for a, b in zip(edges[::2], edges[1::2])]


def albedo_temperature(fields: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Albedo against surface temperature, a point a field with its intervals."""
    rows = fields.dropna(subset=["albedo", "surface_temperature"])
    if not len(rows):
        return _nothing("No field has both an albedo and a surface temperature.")
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 3.3))
        ax = figure.subplots()
        for row in rows.to_dict("records"):
            colour, marker = look(surfaces, row["surface"])
            x, y = row["albedo"], row["surface_temperature"]
            if np.isfinite(row["albedo_low"]):
                ax.plot([row["albedo_low"], row["albedo_high"]], [y, y], color=colour, lw=1)
                ax.plot([x, x], [row["surface_temperature_low"], row["surface_temperature_high"]], color=colour, lw=1)
            ax.plot([x], [y], marker=marker, color=colour, mec="black", mew=0.5, ms=7, ls="none")
            ax.annotate(shortened(row["field"]), (x, y), xytext=(6, 5), textcoords="offset points")
        ax.set_xlabel("albedo")
        ax.set_ylabel("surface temperature, °C")
        ax.margins(x=0.18, y=0.12)
    return figure


def budget(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Where the uncertainty comes from: the share of each source in the variance of three quantities, a bar a surface."""
    quantities = (("albedo", "albedo"), ("surface_temperature", "surface temperature"), ("net_radiation", "net radiation"))
    rows = table[table["quantity"].isin([q for q, _ in quantities])]
    if not len(rows):
        return _nothing("No budget: no surface has an interval.")
    names = list(dict.fromkeys(rows["surface"]))
    sources = list(rows.groupby("source")["share"].sum().sort_values(ascending=False, kind="stable").index)
    kept, rest = sources[:8], sources[8:]
    shades = ("#1b4f72", "#d17a00", "#5aa9a3", "#8c2f39", "#b7b34d", "#7a4fa3", "#9fb7cf", "#5f5f5f")
    hatches = ("", "//", "..", "\\\\", "xx", "--", "oo", "++")
    with matplotlib.rc_context({**STYLE, "hatch.linewidth": 0.4}):
        figure = Figure(figsize=(WIDTH, 1.3 + 0.25 * len(names)))
        axes = figure.subplots(1, 3, sharey=True)
        for ax, (quantity, title) in zip(axes, quantities):
            own = rows[rows["quantity"] == quantity].pivot_table(index="surface", columns="source", values="share", aggfunc="sum").reindex(names).fillna(0.0)
            left = np.zeros(len(names))
            for source, colour, hatch in [*zip(kept, shades, hatches), ("others", "#eeeeee", "")]:
                share = own[[s for s in rest if s in own]].sum(axis=1).to_numpy() if source == "others" else own.get(source, pd.Series(0.0, own.index)).to_numpy()
                ax.barh(range(len(names)), share, left=left, color=colour, edgecolor="white", hatch=hatch, lw=0.3)
                left += share
            ax.set_title(title)
            ax.set_xticks([0, 0.5, 1], ["0", "50", "100"])
            ax.set_xlabel("share of the variance, %")
            ax.set_xlim(0, 1.02)
        axes[0].set_yticks(range(len(names)), [label(surfaces, s) for s in names])
        axes[0].invert_yaxis()
        handles = [Patch(facecolor=c, edgecolor="white", hatch=h, label=s) for s, c, h in zip(kept, shades, hatches)]
        handles += [Patch(facecolor="#eeeeee", edgecolor="#999999", lw=0.4, label="all others")] if rest else []
        figure.legend(handles=handles, ncols=2, loc="upper center", bbox_to_anchor=(0.5, -0.02), handlelength=1.6)
        figure.subplots_adjust(wspace=0.1, bottom=0.42 / figure.get_figheight())
    return figure


def pairs(table: pd.DataFrame, surfaces: Mapping[str, Mapping], quantity: str = "net_radiation_common_sky") -> Figure:
    """Which surfaces can be told apart: difference (row less column) with a filled cell where its interval does not hold 0."""
    rows = table[table["quantity"] == quantity]
    names = list(dict.fromkeys([*rows["surface_a"], *rows["surface_b"]]))
    if not len(names):
        return _nothing("There are no two surfaces to compare.")
    with matplotlib.rc_context({**STYLE, "axes.grid": False}):
        size = 0.62 * len(names)
        figure = Figure(figsize=(min(WIDTH, 1.6 + size), 1.2 + 0.34 * len(names)))
        ax = figure.subplots()
        for row in rows.to_dict("records"):
            a, b = names.index(row["surface_a"]), names.index(row["surface_b"])
            for y, x, sign in ((a, b, 1.0), (b, a, -1.0)):
                told = row["distinguishable"]
                colour, mark = ("#cfe3f3", "") if told is True else ("#ffffff", "(") if told is False else ("#eeeeee", "?")
                ax.add_patch(matplotlib.patches.Rectangle((x - 0.5, y - 0.5), 1, 1, facecolor=colour, edgecolor="#999999", lw=0.5))
                value = sign * row["difference"]
                text = "–" if not np.isfinite(value) else f"{value:+.0f}"
                ax.text(x, y, f"({text})" if mark == "(" else f"{text}{mark}", ha="center", va="center", fontweight="bold" if told is True else "normal")
        ax.set_xlim(-0.5, len(names) - 0.5)
        ax.set_ylim(len(names) - 0.5, -0.5)
        ax.set_xticks(range(len(names)), [label(surfaces, n) for n in names], rotation=30, ha="left")
        ax.xaxis.tick_top()
        ax.set_yticks(range(len(names)), [label(surfaces, n) for n in names])
        ax.tick_params(length=0)
        for side in ax.spines.values():
            side.set_visible(False)
    return figure


def all_figures(noted: pd.DataFrame, samples: Mapping[str, pd.DataFrame], intervals: Mapping[str, float], excluded: Mapping[str, np.ndarray],
                tables: Mapping[str, pd.DataFrame], surfaces: Mapping[str, Mapping], sets: Sequence[str]) -> dict[str, Figure]:
    """Every figure of the report by its name."""
    result = {
        "answer": answer(tables["surfaces"], surfaces), "timeline": timeline(noted, samples, intervals, excluded, surfaces), "incoming": incoming(samples),
        "albedo_temperature": albedo_temperature(tables["fields"], surfaces), "balance": balance(tables["surfaces"], surfaces),
        "budget": budget(tables["uncertainty_budget"], surfaces), "pairs": pairs(tables["differences"], surfaces)}
    for name in sets:
        for page, figure in enumerate(components(noted[noted["set"] == name], samples[name], excluded[name]), 1):
            result[f"components_{name}_{page:02d}"] = figure
    return result
