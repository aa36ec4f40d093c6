"""Pictures of mistakes, sound beside mistaken, and docs/mistakes.md. `PYTHONPATH=tests:workflow python -m study.gallery` makes both anew."""

from __future__ import annotations

import dataclasses
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
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
from simulate import campaign, specs
from simulate import mistakes_across as across
from simulate import mistakes_instruments as heads
from simulate.campaign import Campaign
from simulate.spec import Sky, Spec

ROOT = Path(__file__).parents[2]
PAGE, FOLDER = ROOT / "docs" / "mistakes.md", ROOT / "docs" / "mistakes"
SHORTWAVE, LONGWAVE = ("sw_in", "sw_out"), ("lw_in", "lw_out")
LOOKS = {
    **COMPONENTS,
    "body_temperature": ("temperature of the body", "#1f4e8c", "-"),
    "sw_clear": ("clear sky by the sun's height", PLAIN[0], "--"),
    "battery": ("supply", "#1f4e8c", "-"),
    "station": ("fixed station", PLAIN[0], "--"),
    "albedo": ("albedo", "#1f4e8c", "-"),
}
UNITS = {"body_temperature": "°C", "battery": "V", "albedo": "albedo"}


@dataclass(frozen=True)
class Run:
    """A campaign and what the chain made of it."""

    made: Campaign
    outcome: chain.Outcome
    station: pd.DataFrame | None = None


@dataclass(frozen=True)
class Mistake:
    """An entry of the gallery.

    code: as the chain must name it, alone among errors and warnings. damage: of the sound campaign, or a spec of its own. channels: drawn, of `set`;
    none where runs and notes are drawn. seen, told, avoided: a sentence each; braces name facts of the finding or `numbers` of the two runs.
    beside: another set drawn too. base: of the sound campaign. station: its column for both runs, times the truth.
    """

    code: str
    title: str
    damage: Callable[[Campaign], Campaign] | Spec
    channels: tuple[str, ...]
    seen: str
    told: str
    avoided: str
    set: str = "curlew"
    beside: str = ""
    base: str = "day"
    numbers: Callable[[Run, Run], dict[str, float]] = lambda right, wrong: {}
    station: bool = False


def day(**changes) -> Spec:
    """Two sets over four fields."""
    fields = tuple(
        specs.field(name, surface)
        for name, surface in (
            ("Lower meadow", "short_grass"),
            ("Dry tilth", "bare_dry_soil"),
            ("Barley stubble", "stubble"),
            ("Farm track", "gravel"),
        )
    )
    sets = specs.two_sets()
    return Spec(
        "A day for mistakes",
        "2025-08-20 11:00:00",
        fields,
        sets,
        specs.rounds(sets, fields),
        sky=Sky("clear"),
        seed=12,
    ).with_(**changes)


def long_day() -> Spec:
    """The same until the evening, with pauses: long enough for the sun's course to show."""
    spec = day()
    return spec.with_(visits=specs.rounds(spec.sets, spec.fields, between=4200.0))


def by_turns() -> Spec:
    """The same, the second set some minutes after the first."""
    spec = day()
    return spec.with_(
        visits=tuple(
            dataclasses.replace(v, at=v.at + 270.0) if v.set == "lapwing" and v.field else v
            for v in spec.visits
        )
    )


def along_the_sun() -> Spec:
    """The same over fields that are walked towards the sun and away from it."""
    spec = day(start="2025-08-20 15:00:00")
    azimuth = campaign.simulate(spec).samples["curlew"]["azimuth"]
    way = float(np.degrees(np.arctan2(np.sin(azimuth).mean(), np.cos(azimuth).mean())) % 360.0)
    return spec.with_(
        fields=tuple(dataclasses.replace(f, heading=float(round((way + 180.0) % 360.0))) for f in spec.fields)
    )


def broad() -> Spec:
    spec = along_the_sun()
    return spec.with_(carrying=dataclasses.replace(spec.carrying, carrier_width=1.2))


BASES: dict[str, Callable[[], Spec]] = {"day": day, "long": long_day, "sun": along_the_sun, "turns": by_turns}


def apart(channel: str, name: str) -> Callable[[Run, Run], dict[str, float]]:
    """How far the mistake takes a channel's mean."""
    return lambda right, wrong: {
        "apart": abs(
            wrong.outcome.samples[name][channel].mean() - right.outcome.samples[name][channel].mean()
        )
    }


GALLERY: tuple[Mistake, ...] = (
    Mistake(
        "cover-left-on",
        "A cover left on",
        lambda c: heads.cover_left_on(c, "curlew", visit=1),
        SHORTWAVE,
        "All shortwave falls to nothing in the middle of the day, as sharply as a switch.",
        "Under 2 % of the sun's light at the top of the atmosphere for a minute, and both longwave signals next to 0.",
        "Count the covers in your pocket before the storage is switched on.",
    ),
    Mistake(
        "head-inverted",
        "The set upside down",
        lambda c: heads.head_inverted(c, "curlew"),
        SHORTWAVE + LONGWAVE,
        "More light seems to come from the ground than from the sky, and more longwave from the sky than from the ground.",
        "Both bands are the wrong way round nearly all the time: so the set, not two plugs.",
        "Look for the level or the mark on the upper side before each walk.",
    ),
    Mistake(
        "channels-exchanged",
        "Two shortwave plugs exchanged",
        lambda c: heads.exchanged(c, "curlew", ("sw",)),
        SHORTWAVE + LONGWAVE,
        "More light from below than from above, while the longwave is as it should be.",
        "Shortwave the wrong way round, longwave the right way: so the plugs, not the set.",
        "Cover one head after the other before leaving and watch which number falls.",
    ),
    Mistake(
        "sign-reversed",
        "Leads of one head reversed",
        lambda c: heads.sign_reversed(c, "curlew", "sw_in"),
        SHORTWAVE,
        "One channel goes down where it should go up.",
        "Shortwave below 0 by day cannot be.",
        "Look at the signs before the first walk: by day both shortwave channels are positive.",
    ),
    Mistake(
        "channel-frozen",
        "A broken lead",
        lambda c: heads.channel_frozen(c, "curlew", "sw_out"),
        SHORTWAVE,
        "One line becomes as straight as a ruler while the other goes on.",
        "The same value for two minutes and more, while another channel moves by many steps of its resolution.",
        "Move the plugs gently while somebody watches the numbers.",
    ),
    Mistake(
        "factor-inverted",
        "A responsivity entered as a factor",
        lambda c: heads.factor_inverted(c, "curlew"),
        ("sw_in", "sw_clear"),
        "The incoming shortwave has the right shape and an absurd size: {ratio:.2g} times what it should be.",
        "The ratio to a clear sky is just the one that the other reading of the factor mends.",
        "Copy the number with its unit from the certificate, and compare the first values with what the sun can give.",
        numbers=lambda right, wrong: {
            "ratio": wrong.outcome.samples["curlew"]["sw_in"].mean()
            / right.outcome.samples["curlew"]["sw_in"].mean()
        },
    ),
    Mistake(
        "longwave-corrected-one-channel",
        "One longwave channel with its own emission, one without",
        lambda c: heads.corrected_one_channel(c, "lapwing", "lw_out"),
        LONGWAVE,
        "One longwave term is {apart:.0f} W m⁻² off, further than any weather makes it.",
        "Each channel is held against 0, 1 and 2 times the emission of its own body; here they differ.",
        "Ask who programmed the logger whether it adds σT⁴, and to which channels.",
        set="lapwing",
        numbers=apart("lw_out", "lapwing"),
    ),
    Mistake(
        "dome-wet",
        "Water on a window",
        lambda c: heads.dome_wet(c, "curlew"),
        LONGWAVE,
        "The longwave from the sky jumps up to that of the head itself, although the sun shines.",
        "The net signal of the upper head stays next to 0 under a sky with a beam.",
        "Dry the window with a soft cloth, and look at it again after each pause.",
    ),
    Mistake(
        "thermal-shock",
        "Fresh out of a warm car",
        heads.out_of_a_warm_car(day(), "curlew"),
        ("body_temperature",),
        "The body starts too warm and cools towards the air's temperature in the first minutes, by up to {rate} K per hour.",
        "It changes by more than 12 K per hour over 5 to 10 minutes.",
        "Let the set stand outside for a quarter of an hour before the first walk.",
    ),
    Mistake(
        "battery-low",
        "A supply that sags",
        lambda c: heads.battery_low(c, "curlew"),
        ("battery",),
        "The voltage falls from {highest} V to {volts} V while the radiation still looks sound.",
        "It is under 11 V, or falls by more than 0.5 V an hour.",
        "Charge the battery the evening before and read its voltage before each walk.",
    ),
    Mistake(
        "swing-strong",
        "A swinging head",
        heads.swinging(day(), 15.0),
        ("sw_in",),
        "The incoming shortwave frays from second to second under a steady sun.",
        "Its fast scatter is what a swing of {degrees} degrees or more makes; the slow head hides most of it.",
        "Hold the stick with both hands, and walk slower.",
    ),
    Mistake(
        "upward-shaded",
        "A tree over the upper head",
        lambda c: across.head_shaded(c, "curlew", 2, 40.0, 20.0, 0.3),
        ("sw_in",),
        "The incoming shortwave of one set falls for some seconds and comes back.",
        "The other set stood under the same clear sky and saw nothing: a cloud would have reached both.",
        "Keep trees, walls and people out of the sun's direction.",
        beside="lapwing",
    ),
    Mistake(
        "own-shade",
        "The carrier's shadow under the head",
        broad(),
        ("albedo",),
        "The albedo is lower on the walks away from the sun than on those back over the same ground.",
        "From heading, sun and the carrier's size the shadow took up to {loss} % of the reflected light.",
        "Walk towards the sun or across it, or hold the head further out.",
        base="sun",
    ),
    Mistake(
        "sets-disagree",
        "A head that reads too much",
        lambda c: across.scaled(c, "curlew", "sw_in", 1.25),
        ("sw_in",),
        "One set sees {percent} % {direction} sunlight than the other all day long.",
        "The ratio of both is further from 1 than the {allowed} % that their uncertainties allow; which of the two is off needs a station or a third set.",
        "Put both sets side by side for five minutes at the start.",
        beside="lapwing",
    ),
    Mistake(
        "station-disagrees",
        "A station that reads too little",
        lambda c: c,
        ("sw_in", "station"),
        "Both sets see {percent} % {direction} sunlight than the fixed station.",
        "All sets are off the station by more than 3.6 standard uncertainties, and agree with each other: so most likely it is the station.",
        "Note the station's time zone and whether its times are the start or the end of an interval.",
        station=True,
    ),
    Mistake(
        "head-tilted",
        "A head off level",
        lambda c: across.tilted(c, "curlew", 8.0),
        ("sw_in",),
        "The incoming shortwave has steps that come and go with the direction of the walk.",
        "Under a clear sky it follows the sine and cosine of the heading: a lean of {degrees} degrees or more.",
        "Level the head on its carrier; walking there and back over each field cancels most of it.",
    ),
    Mistake(
        "surface-mislabelled",
        "A field under another name",
        lambda c: across.mislabelled(c, "Lower meadow", "snow"),
        ("albedo",),
        "One field has an albedo of {value}, far from that of the surface in the notes.",
        "It is outside the {low} to {high} of that class, widened by its uncertainty.",
        "Write the surface down while standing on it, and take a photograph.",
    ),
    Mistake(
        "notes-shifted",
        "Notes by a watch in another zone",
        lambda c: across.notes_late(c, 3600.0),
        (),
        "Every note lies beside its run, all by the same time.",
        "Once {shift} their times, notes and runs share {fit} % of their time; as noted {now} %.",
        "Set the watch by the logger before the first walk and read both clocks together, at the start and at the end.",
    ),
    Mistake(
        "notes-sets-swapped",
        "Two sets exchanged in the notes",
        lambda c: across.sets_swapped(c, "curlew", "lapwing"),
        (),
        "Each set's notes lie over the runs of the other.",
        "Exchanged they share {other} % of their time with the runs, as noted {own} %.",
        "Mark each set with its name where whoever notes can read it.",
        base="turns",
    ),
    Mistake(
        "note-without-data",
        "A walk that was not stored",
        lambda c: across.storage_forgotten(c, "curlew", 2),
        (),
        "A note has no run under it.",
        "Nothing was stored between the noted start and end, while the other notes fit their runs.",
        'Say aloud "storage on" and wait for the lamp before walking off.',
    ),
    Mistake(
        "data-without-note",
        "A walk that was not noted",
        lambda c: across.note_forgotten(c, 3),
        (),
        "A run has no note over it.",
        "{minutes} minutes were stored that no note claims.",
        "Write the start down before the first step, not after the walk.",
    ),
    Mistake(
        "clock-corrected",
        "A clock that is fast",
        lambda c: across.logger_late(c, "curlew", 120.0, checks=True),
        (),
        "The runs begin {ahead:.0f} s after the notes by the logger's own clock, all of them.",
        "The clock checks say so: the samples are shifted accordingly, and a note tells by how much.",
        "Read the logger's clock beside a reference at the start and at the end: the second reading shows the drift.",
        numbers=lambda right, wrong: {
            "ahead": (wrong.made.records["curlew"]["stamp"] - right.made.records["curlew"]["stamp"])
            .dt.total_seconds()
            .mean()
        },
    ),
    Mistake(
        "clock-against-sun",
        "A logger on local time taken for another zone",
        lambda c: across.logger_late(c, "curlew", 7200.0),
        ("sw_in", "sw_clear"),
        "The day's curve of sunlight lies beside that of the sun.",
        "Under this clear sky it follows the sun of a time {minutes} minutes away ({rms} % residual there, {now} % by its own clock).",
        "Leave the logger in UTC or in winter time, and write its offset on it.",
        base="long",
    ),
)


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
            for a, b in zip(cuts, cuts[1:]):
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
            [(minutes[a], minutes[b - 1] - minutes[a]) for a, b in zip(cuts, cuts[1:])],
            (1.0 - k, 0.35),
            color=COMPONENTS["lw_out"][1],
        )
        own = noted[noted["set"] == name]
        starts, ends = (
            ((own[c].dt.tz_localize(None).to_numpy() - begin) / np.timedelta64(1, "s")) / 60.0
            for c in ("start_utc", "end_utc")
        )
        ax.broken_barh(
            list(zip(starts, ends - starts)),
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
    """The finding of this code, and its severity; SystemExit where the chain does not name it, or names another error or warning."""
    rows = [
        (finding, findings.describe(finding, step, chain.SENTENCES)["severity"])
        for step, finding in findings.folded(outcome.found)
    ]
    others = {finding.code for finding, severity in rows if severity != "note"} - {code}
    named = [row for row in rows if row[0].code == code]
    if others or not named:
        raise SystemExit(
            f"{code}: {'named' if named else 'NOT named'}, and beside it {sorted(others)}; the page is not written"
        )
    return named[0]


def page(parts: list[str]) -> str:
    known = {code for code, _ in chain.SENTENCES}
    without = sorted(known - {mistake.code for mistake in GALLERY})
    head = [
        "# Mistakes, and how they look",
        "",
        "Made by `PYTHONPATH=tests:workflow python -m study.gallery` from simulated campaigns: on the left the day as it should be, on the right the same day with one mistake. Numbers in the sentences are those of that run. "
        "Every finding stands in [findings.md](findings.md), and how well each is told in [detection.md](detection.md).",
        "",
    ]
    return "\n".join(
        [
            *head,
            *parts,
            "## Without a picture",
            "",
            "These show in a sentence, not in a curve; see [findings.md](findings.md): "
            + ", ".join(f"`{code}`" for code in without)
            + ".",
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
                f"**In the data.** {seen} **How it is told** (`{mistake.code}`, {severity}). {told} **In the field.** {mistake.avoided}",
                "",
            ]
    for code, figure in drawn.items():
        figure.savefig(FOLDER / f"{code}.png", dpi=120, metadata={"Software": None})
    PAGE.write_text(page(parts), encoding="utf-8")


if __name__ == "__main__":
    main()
