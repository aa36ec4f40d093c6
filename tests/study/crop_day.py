"""The measured crop day: each hour's estimate with its interval beside what was measured.

    PYTHONPATH=tests:workflow python -m study.crop_day

writes docs/crop-day.md and docs/crop-day.png from ../shared/real. Of the measurements only the picture goes
into the project.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import NamedTuple

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.figure import Figure

import chain
from headland.report.figures import STYLE
from whole.test_measured import REAL, campaign

ROOT = Path(__file__).parents[2]
PAGE, PICTURE = ROOT / "docs" / "crop-day.md", ROOT / "docs" / "crop-day.png"
DRAWS = 2048
TERMS = {"ground_heat": "ground heat G", "sensible_heat": "sensible heat H", "latent_heat": "latent heat LE"}
HALF_HOUR = pd.Timedelta(minutes=30)


class Held(NamedTuple):
    """How an estimated flux compares with the measured one: hours held, hours estimated, mean width of the
    interval, mean of estimate minus measurement, W m-2.
    """

    inside: int
    count: int
    width: float
    off: float


def measured_hours() -> pd.DataFrame:
    """Hourly means of the plates, and of the station's fluxes closed with their Bowen ratio, W m-2.

    Radiation and plates are stamped at the end of the half hour, the fluxes at its start.
    """
    ours = pd.read_csv(REAL / "crop_30min" / "radiation_and_soil.csv", parse_dates=["time_utc"])
    ours = ours.assign(start=ours["time_utc"] - HALF_HOUR).set_index("start")
    ground = -ours["file_surface_soil_heat_flux_avg_W_m2_up_positive"]
    net = ours["sw_in_W_m2"] - ours["sw_out_W_m2"] + ours["lw_in_W_m2"] - ours["lw_out_W_m2"]
    fluxes = pd.read_csv(
        REAL / "crop_30min" / "turbulent_fluxes_start_stamped.csv", parse_dates=["time_utc"]
    ).set_index("time_utc")
    table = pd.DataFrame({"ground_heat": ground, "net": net}).join(fluxes, how="inner")
    table = table.resample("1h").mean(numeric_only=True)
    share = (table["sensible_heat_W_m2"] + table["latent_heat_W_m2"]) / (table["net"] - table["ground_heat"])
    for name in ("sensible_heat", "latent_heat"):
        table[name] = table[f"{name}_W_m2"] / share
    return table


def estimated_hours(folder: Path) -> pd.DataFrame:
    """Step 8's visits, one an hour, with what was measured in columns that end in `_measured`."""
    measured = measured_hours()
    notes = "".join(f"mast,{h:02d}:00,{h + 1:02d}:00,plot,tall_crop\n" for h in range(1, 23))
    own = campaign(folder, "crop", "corrected", notes)
    air = measured["temp_degC_analyser"].dropna()
    rows = [f"{at:%Y-%m-%dT%H}:30:00Z,{value:.2f}\n" for at, value in air.items()]
    (own / "weather.csv").write_text("time_utc,air_temperature\n" + "".join(rows))
    visits = chain.run(own, draws=DRAWS).result.visits
    return visits.set_index(visits["start_utc"].dt.tz_localize(None)).join(measured.add_suffix("_measured"))


def compared(hours: pd.DataFrame, term: str) -> pd.DataFrame:
    """The hours that have both, with whether the interval holds the measurement (`inside`)."""
    known = hours[hours[term].notna() & hours[f"{term}_measured"].notna()]
    return known.assign(inside=known[f"{term}_measured"].between(known[f"{term}_low"], known[f"{term}_high"]))


def held(hours: pd.DataFrame, term: str) -> Held:
    """The comparison of one flux."""
    known = compared(hours, term)
    width = (known[f"{term}_high"] - known[f"{term}_low"]).mean()
    off = (known[term] - known[f"{term}_measured"]).mean()
    return Held(int(known["inside"].sum()), len(known), float(width), float(off))


def drawn(hours: pd.DataFrame) -> Figure:
    """Three panels, one a flux: bars are intervals of estimates, dots are measurements."""
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(7.2, 6.6), layout="constrained")
        panels = figure.subplots(3, 1, sharex=True)
        for axes, (term, title) in zip(panels, TERMS.items(), strict=True):
            panel(axes, hours, term)
            found = held(hours, term)
            words = f"{title}: {found.inside} of {found.count} hours held, mean width {found.width:.0f} W m⁻²"
            axes.set_title(words, loc="left")
            axes.set_ylabel("W m⁻²")
        panels[-1].set_xlabel("hour, UTC (the middle of each visit)")
        panels[-1].set_xlim(0.0, 24.0)
        panels[-1].set_xticks(range(0, 25, 3))
    return figure


def panel(axes, hours: pd.DataFrame, term: str) -> None:
    """One flux. A measurement outside its interval is a cross, and a small grey dot where G has no estimate:
    at night H and LE are not closed, because their ratio comes near -1.
    """
    middle = np.asarray(hours.index.hour) + 0.5
    axes.axhline(0.0, color="black", lw=0.6)
    axes.vlines(middle, hours[f"{term}_low"], hours[f"{term}_high"], color="#c9a227", lw=7, alpha=0.55)
    axes.plot(middle, hours[term], "_", color="black", ms=9, mew=1.6)
    known = compared(hours, term)
    place = np.asarray(known.index.hour) + 0.5
    inside = known["inside"].to_numpy(bool)
    values = known[f"{term}_measured"].to_numpy(float)
    axes.plot(place[inside], values[inside], "o", color="#1f4e9c", ms=4.5)
    axes.plot(place[~inside], values[~inside], "X", color="#b3261e", ms=7)
    others = hours[hours[term].isna()] if term == "ground_heat" else hours.iloc[:0]
    alone = others[f"{term}_measured"]
    axes.plot(np.asarray(others.index.hour) + 0.5, alone, "o", color="#999999", ms=2.5)


def page(hours: pd.DataFrame) -> str:
    """docs/crop-day.md."""
    found = {term: held(hours, term) for term in TERMS}
    inside, count = (sum(getattr(one, part) for one in found.values()) for part in ("inside", "count"))
    lines = [
        "# A measured day over a crop",
        "",
        "Made by `PYTHONPATH=tests:workflow python -m study.crop_day` from `../shared/real`: open data, "
        "which is not part of the project.",
        "",
        "![Three panels, one for each heat flux, against the hour of the day: bars for the estimates' "
        "intervals, dots for the measurements.](crop-day.png)",
        "",
        "Each hour from 1 to 23 h is a visit. A bar is the 95 % interval of an hour's estimate from textbook "
        "fractions of the class `tall_crop`, and its black line is the estimate. A blue dot is a measurement "
        "inside the interval, a red cross one outside. A grey dot is a measured ground heat in an hour "
        "without an estimate: with a low sun or little net radiation. H and LE are estimated by day alone. "
        "Ground heat is the mean of three plates with the storage above them. H and LE are those of a flux "
        "station, closed with their Bowen ratio: as measured, they add up to 0.61 of the available energy.",
        "",
        "| flux | hours held | mean width, W m⁻² | mean of estimate − measurement, W m⁻² |",
        "|---|---|---|---|",
    ]
    for term, title in TERMS.items():
        one = found[term]
        off = f"{round(one.off):+d}".replace("-", "−") if round(one.off) else "0"
        lines.append(f"| {title} | {one.inside} of {one.count} | {one.width:.0f} | {off} |")
    return "\n".join(
        [
            *lines,
            "",
            f"In all **{inside} of {count}** hourly values are held ({100.0 * inside / count:.0f} %).",
            "",
            "- The ranges of the class were revised with this day at hand, so it is no independent test.",
            "- The intervals are wide because the fractions are poorly known, not because of instruments. A "
            "plate or a station makes them narrower (section 7.11 of [method.md](method.md)).",
            "- Another crop, a dry spell, or an irrigated field in a dry region can lie outside.",
            "",
        ]
    )


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        hours = estimated_hours(Path(folder) / "crop")
    drawn(hours).savefig(PICTURE, dpi=110, metadata={"Software": None})
    PAGE.write_text(page(hours), encoding="utf-8")
    print({term: held(hours, term) for term in TERMS})


if __name__ == "__main__":
    main()
