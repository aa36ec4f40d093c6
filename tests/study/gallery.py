"""Pictures of mistakes, sound beside mistaken, and docs/mistakes.md. `PYTHONPATH=tests:workflow python -m
study.gallery` makes both anew."""

from __future__ import annotations

import tempfile
from itertools import pairwise
from pathlib import Path

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from matplotlib.patches import Patch

import chain
from headland.base import findings
from headland.files import config_tables
from headland.physics import sun
from headland.report.figures import COMPONENTS, FLAGGED, PLAIN, STYLE, WIDTH, thinned
from simulate import campaign
from simulate import mistakes_across as across
from simulate.campaign import Campaign
from simulate.spec import Spec
from study import dated
from study.gallery_mistakes import BASES, GALLERY, Mistake, Run

ROOT = Path(__file__).parents[2]
PAGE, FOLDER = ROOT / "docs" / "mistakes.md", ROOT / "docs" / "mistakes"
LOOKS = {
    **COMPONENTS,
    "body_temperature": ("temperature of the body", "#1f4e8c", "-"),
    "sw_clear": ("clear sky by the sun's height", PLAIN[0], "--"),
    "battery": ("supply", "#1f4e8c", "-"),
    "station": ("fixed station", PLAIN[0], "--"),
    "albedo": ("albedo", "#1f4e8c", "-"),
}
UNITS = {"body_temperature": "°C", "battery": "V", "albedo": "albedo"}


def frame_of(run: Run, name: str, channel: str) -> tuple[np.ndarray, np.ndarray]:
    """Times (UTC) and values of a channel."""
    if channel == "station":
        return pd.DatetimeIndex(run.station["time_utc"]).tz_localize(None).to_numpy(), run.station[
            "sw_in"
        ].to_numpy(float)
    frame = run.outcome.samples[name]
    if channel == "sw_clear":  # also where nothing was stored
        site, whole = (
            run.outcome.settings["site"],
            pd.date_range(frame["time_utc"].iloc[0], frame["time_utc"].iloc[-1], freq="30s"),
        )
        elevation, _ = sun.position(whole, site["latitude"], site["longitude"], site["elevation"])
        return whole.tz_localize(None).to_numpy(), np.asarray(
            sun.clear_sky_global(elevation, whole, site["elevation"])
        )
    times = pd.DatetimeIndex(frame["time_utc"]).tz_localize(None).to_numpy()
    if channel == "battery":
        return times, run.made.records[name]["battery"].to_numpy(float)
    return times, (frame["sw_out"] / frame["sw_in"] if channel == "albedo" else frame[channel]).to_numpy(
        float
    )


def draw_channels(ax, run: Run, mistake: Mistake, begin: np.datetime64) -> None:
    for name in filter(None, (mistake.set, mistake.beside)):
        for channel in mistake.channels:
            times, values = frame_of(run, name, channel)
            minutes = (times - begin) / np.timedelta64(1, "s") / 60.0
            label, colour, style = LOOKS[channel]
            label, colour, style = (
                (f"{label}, other set", PLAIN[0], "--") if name == mistake.beside else (label, colour, style)
            )
            cuts = np.concatenate([[0], np.flatnonzero(np.diff(minutes) > 1.5) + 1, [len(minutes)]])
            for a, b in pairwise(cuts):
                short = minutes[b - 1] - minutes[a] < 0.03 * np.ptp(minutes)
                ax.plot(
                    *thinned(minutes[a:b], values[a:b], 120),
                    color=colour,
                    ls=style,
                    marker="o" if short else None,
                    ms=2.5,
                    label=label if a == 0 else None,
                )


def shade_classes(ax, run: Run, begin: np.datetime64) -> None:
    """The range of albedo of the class that each walk of the first set is noted as."""
    classes = config_tables.read_config_table(ROOT / "config" / "surfaces.csv")
    albedo = classes[classes["property"] == "albedo"].set_index("surface")
    for k, row in enumerate(run.outcome.noted[run.outcome.noted["set"] == "curlew"].to_dict("records")):
        if row["surface"] in albedo.index:
            start, end = (
                (np.datetime64(row[c].tz_localize(None)) - begin) / np.timedelta64(1, "s") / 60.0
                for c in ("start_utc", "end_utc")
            )
            low, high = (float(albedo.loc[row["surface"], c]) for c in ("low", "high"))
            ax.fill_between(
                [start, end],
                low,
                high,
                color="#d9d9d9",
                hatch="///",
                ec="#999999",
                lw=0,
                label="range of the class noted" if k == 0 else None,
            )


def draw_runs(ax, run: Run, begin: np.datetime64) -> None:
    """Runs (plain) under notes (hatched) of each set, by the clocks as they were."""
    noted = run.outcome.noted
    for k, name in enumerate(("curlew", "lapwing")):
        times, _ = frame_of(run, name, "sw_in")
        minutes = (times - begin) / np.timedelta64(1, "s") / 60.0
        cuts = np.concatenate([[0], np.flatnonzero(np.diff(minutes) > 0.1) + 1, [len(minutes)]])
        ax.broken_barh(
            [(minutes[a], minutes[b - 1] - minutes[a]) for a, b in pairwise(cuts)],
            (1.0 - k, 0.35),
            color=COMPONENTS["lw_out"][1],
        )
        own = noted[noted["set"] == name]
        starts, ends = (
            ((own[c].dt.tz_localize(None).to_numpy() - begin) / np.timedelta64(1, "s")) / 60.0
            for c in ("start_utc", "end_utc")
        )
        ax.broken_barh(
            list(zip(starts, ends - starts, strict=True)),
            (1.38 - k, 0.35),
            facecolor="#f7dcd6",
            edgecolor=FLAGGED,
            hatch="////",
            lw=0.6,
        )
    ax.set_yticks([0.37, 1.37], ["lapwing", "curlew"])
    ax.set_ylim(-0.1, 1.85)


def picture(sound: Run, wrong: Run, mistake: Mistake) -> Figure:
    """The same as it should be and as it is."""
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 2.2), layout="constrained")
        begin = frame_of(sound, mistake.set, "sw_in")[0][0]
        for ax, run, title in zip(
            figure.subplots(1, 2, sharex=True, sharey=True),
            (sound, wrong),
            ("as it should be", "with the mistake"),
            strict=True,
        ):
            if mistake.channels:
                draw_channels(ax, run, mistake, begin)
            else:
                draw_runs(ax, run, begin)
            if mistake.code == "surface-mislabelled":
                shade_classes(ax, run, begin)
            ax.set_title(title, loc="left")
            ax.set_xlabel("minutes since the first sample of the sound day")
        if mistake.channels:
            figure.axes[0].set_ylabel(UNITS.get(mistake.channels[0], "W m⁻²"))
            handles, labels = figure.axes[0].get_legend_handles_labels()
        else:
            handles = [
                Patch(color=COMPONENTS["lw_out"][1]),
                Patch(facecolor="#f7dcd6", edgecolor=FLAGGED, hatch="////"),
            ]
            labels = ["stored", "noted"]
        figure.legend(handles, labels, ncols=4, loc="outside upper center")
    return figure


def run_of(made: Campaign, folder: Path, by_station: float | None = None) -> Run:
    made.write(folder)
    station = None if by_station is None else across.station(made, "curlew", by_station)
    if station is not None:
        station.to_csv(folder / "station.csv", index=False)
        station = station.assign(time_utc=pd.to_datetime(station["time_utc"], utc=True))
    return Run(made, chain.run(folder, draws=256), station)


def told_alone(outcome: chain.Outcome, code: str) -> tuple[findings.Finding, str]:
    """The finding of this code, and its severity; SystemExit where the chain does not name it, or names
    another error or warning."""
    rows = [
        (finding, findings.describe(finding, step, chain.SENTENCES)["severity"])
        for step, finding in findings.folded(outcome.found)
    ]
    others = {finding.code for finding, severity in rows if severity != "note"} - {code}
    named = [row for row in rows if row[0].code == code]
    if others or not named:
        raise SystemExit(
            f"{code}: {'named' if named else 'NOT named'}, and beside it {sorted(others)}; the page is "
            "not written"
        )
    return named[0]


def page(parts: list[str]) -> str:
    known = {code for code, _ in chain.SENTENCES}
    without = sorted(known - {mistake.code for mistake in GALLERY})
    head = [
        "# Mistakes, and how they look",
        "",
        "Made by `PYTHONPATH=tests:workflow python -m study.gallery` from simulated campaigns. The left "
        "side shows a sound day, the right side the same day with one mistake. The numbers are those of "
        "this run. [findings.md](findings.md) lists every finding; [detection.md](detection.md) shows how "
        "often each mistake is found.",
        "",
    ]
    return "\n".join(
        [
            *head,
            *parts,
            "## Without a picture",
            "",
            "These findings have no picture, because they do not show in a curve; see "
            "[findings.md](findings.md): " + ", ".join(f"`{code}`" for code in without) + ".",
            "",
        ]
    )


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    parts, drawn, sound = [], {}, {}
    with tempfile.TemporaryDirectory() as folder:
        for mistake in GALLERY:
            if (mistake.base, mistake.station) not in sound:
                made = campaign.simulate(BASES[mistake.base]())
                sound[mistake.base, mistake.station] = run_of(
                    made,
                    Path(folder) / f"sound-{mistake.base}-{mistake.station}",
                    1.0 if mistake.station else None,
                )
            right = sound[mistake.base, mistake.station]
            made = (
                campaign.simulate(mistake.damage)
                if isinstance(mistake.damage, Spec)
                else mistake.damage(right.made)
            )
            wrong = run_of(made, Path(folder) / mistake.code, 0.7 if mistake.station else None)
            finding, severity = told_alone(wrong.outcome, mistake.code)
            facts = {**finding.facts, **mistake.numbers(right, wrong)}
            drawn[mistake.code] = picture(right, wrong, mistake)
            seen, told = mistake.seen.format(**facts), mistake.told.format(**facts)
            print(mistake.code, severity, "|", seen, "|", told, flush=True)
            parts += [
                f"## {mistake.title}",
                "",
                f"![{mistake.title}: sound on the left, mistaken on the right](mistakes/{mistake.code}.png)",
                "",
                f"**In the data.** {seen} **How it is found** (`{mistake.code}`, {severity}). {told} "
                f"**In the field.** {mistake.avoided}",
                "",
            ]
    for code, figure in drawn.items():
        figure.savefig(FOLDER / f"{code}.png", dpi=120, metadata={"Software": None})
    PAGE.write_text(page(parts), encoding="utf-8")
    dated.made(PAGE)


if __name__ == "__main__":
    main()
