"""The quick look before driving home: what the loggers hold, as lamps with a word, and what to do while still in the field.

It needs no notes. What is wrong is told by the chain's own tests up to step 5, and by its comparison of sets, in their codes and sentences; here stands only what
they do not ask: which lamp a finding belongs to, what to do about it in the field, and whether a lamp that stays dark was tested at all. Where there are no notes, each run is
looked at as a stand. Limits without another source are common practice: none is published for this.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from headland.base import findings
from headland.base.findings import Finding
from headland.chain import notes, screen, segment, weather
from headland.checks import compare, diagnose, diagnose_samples
from headland.physics.constants import RADIATION
from headland.report import figures
from headland.report.wording import ALIKE

WORDS = {"green": "good", "amber": "look", "red": "act", "grey": "not tested"}
"""What each colour says, so that no colour stands alone."""
WORST = ("grey", "green", "amber", "red")
STATES = {"error": "red", "warning": "amber", "note": "green"}
"""Colour of a finding of the chain, by its severity."""
NAMES = {"sw_in": "shortwave in", "sw_out": "shortwave out", "lw_in": "longwave in", "lw_out": "longwave out"}

SUBJECTS = {
    "ranges": ("beyond-possible",),
    "covers": ("cover-left-on",),
    "signs and places": ("sign-reversed", "channels-exchanged", "head-inverted"),
    "channels alive": ("channel-frozen",),
    "factors": ("factor-inverted", "factors-exchanged"),
    "longwave correction": (
        "longwave-corrected-twice",
        "longwave-not-corrected",
        "longwave-corrected-one-channel",
    ),
    "body temperature": ("body-temperature-unit", "thermal-shock"),
    "upper window": ("dome-wet",),
    "supply": ("battery-low",),
    "clock and sun": ("clock-against-sun",),
}
"""The lamps of a set, and the codes that light each of them."""
OF_HEADS = ("covers", "signs and places", "channels alive", "factors")
"""Lamps of which two sets are not held against each other."""
OTHERS = {
    "ingest": "files",
    "calibrate": "certificates",
    "screen": "carrying",
    "segment": "notes",
    "diagnose": "sets together",
}
"""Lamps of findings with another code, by the step that finds them."""

_BY_HAND = "Cover each head by hand, see which channel moves, and mend the leads now."
IN_FIELD = {
    "beyond-possible": "Compare with the other set; see plugs, cable and factors.",
    "cover-left-on": "Take the covers off and walk those parts again, unless they were covered on purpose.",
    "sign-reversed": _BY_HAND,
    "channels-exchanged": _BY_HAND,
    "head-inverted": "See which side of the carrier is up, turn it, and walk again.",
    "channel-frozen": "See its plug and cable; walk again what matters.",
    "dome-wet": "Dry the window with a soft cloth, look whether the signal comes back, and walk those parts again.",
    "thermal-shock": "Let the set stand outside for half an hour and walk the first part again.",
    "swing-strong": "Carry the head stiffer or walk slower, and walk again what matters.",
    "battery-low": "Change or charge the battery before going on.",
    "clock-against-sun": "Read the logger's clock now and note it (clock_check); see utc_offset in campaign.yaml.",
    "clock-check-far-off": "Read watch and logger once more and note both; see utc_offset in campaign.yaml.",
    "notes-shifted": "Read watch and loggers against one time now, and note them (clock_check).",
    "notes-sets-swapped": "Ask who carried which set while everybody is here, and mend the notes.",
    "note-without-data": "Walk it again, or see whether a file is still on the logger, or the notes' clock is another one.",
    "data-without-note": "Write down what was walked then, while everybody remembers.",
    "segment-unused": "Walk it again, longer, or further from the edges.",
    "head-too-low": "Carry the head higher and walk it again, or measure the canopy again.",
    "sets-disagree": "Clean the domes, level both heads, see factors and plugs; then stand side by side for 5 min.",
}
"""What is still to be done in the field; for other codes the report's remedy is as good there."""

ENOUGH = 10
"""Samples below which nothing is judged."""
LAG_BIN, LONGEST_LAG, SMALLEST_LAG, SURE_LAG = 5.0, 900.0, 60.0, 0.8
"""s, s, s and correlation: clouds reach neighbouring fields within a minute; a larger lag between two sets is a clock's (common practice, no source)."""
MOST_RUNS = 200
"""Runs that the page lists and draws one by one."""
NOTED = "#777777"
"""Colour of the bars of what is noted."""


@dataclass(frozen=True)
class Lamp:
    """One thing looked at. set: whose, or several names, or empty. state: a key of WORDS. what, remedy: sentences; no remedy where there is nothing to do. code: of the chain's finding, empty where it is none."""

    set: str
    subject: str
    state: str
    what: str
    remedy: str = ""
    code: str = ""


@dataclass(frozen=True)
class Record:
    """One set as far as its own files tell: rows as logged, samples (W m-2, degC, with `flags`), middles of the samples by its own clock, certificates, and the set's settings."""

    raw: pd.DataFrame
    samples: pd.DataFrame
    middles: pd.Series
    certificates: pd.DataFrame
    entry: Mapping

    @property
    def interval(self) -> float:
        return self.entry["layout"]["interval"]


def worst(lamps: Sequence[Lamp]) -> str:
    """The colour of the whole: the worst of its lamps."""
    return max((lamp.state for lamp in lamps), key=WORST.index, default="grey")


# What the chain finds ----------------------------------------------------------------------------------------------


def screened(
    name: str,
    raw: pd.DataFrame,
    sensed: pd.DataFrame,
    samples: pd.DataFrame,
    air: Mapping,
    certificates: pd.DataFrame,
    entry: Mapping,
    limits: Mapping[str, Mapping],
) -> tuple[pd.DataFrame, list[Finding]]:
    """The samples of a set with `flags`, and what they tell of its instruments, as step 4 does it.

    raw, sensed, certificates: as for `diagnose_samples.diagnose`. air: as `weather.at` gives it. samples: corrected, with `solar_elevation`, `sw_clear`, `toa`. entry: the set's settings.
    """
    flags = screen.flags(samples, limits, air["air_temperature"], samples["toa"])
    diagnosis = diagnose_samples.diagnose(
        name,
        raw,
        sensed,
        samples,
        weather.usual(air["air_temperature"]),
        certificates,
        entry["layout"]["channels"],
        entry["longwave"],
        entry["layout"]["interval"],
        limits,
    )
    flags |= diagnosis.flags
    return samples.assign(flags=pd.Series(screen.joined(flags), samples.index, dtype=str)), screen.found(
        flags, limits, samples["time_utc"], name, diagnosis.wrong
    ) + diagnosis.findings


def as_noted(records: Mapping[str, Record], columns: Sequence[str], zone: str) -> pd.DataFrame:
    """Each run of each set as if a stand had been noted for it, for a look without notes. columns: those of `notes.intervals`. A record of very many runs is taken as one."""
    rows = []
    for name, record in records.items():
        seconds = pd.DatetimeIndex(record.middles).as_unit("us").asi8 / 1e6
        spans = diagnose.runs(seconds, record.interval)
        spans = spans if len(spans) <= MOST_RUNS else np.array([[spans[0, 0], spans[-1, 1]]])
        for number, span in enumerate(spans, 1):
            start, end = pd.to_datetime(span * 1e9, unit="ns", utc=True)
            rows.append(
                {
                    "set": name,
                    "field": f"run {number}, from {clock(start, zone)}",
                    "activity": "stand",
                    "start_utc": start,
                    "end_utc": end,
                    "heading": math.nan,
                    "length": math.nan,
                    "canopy_height": math.nan,
                    "speed": math.nan,
                    "surface": "",
                    "transect": "",
                    "pass": "",
                    "notes_row": None,
                }
            )
    frame = pd.DataFrame(rows, columns=[*columns])
    return frame.assign(
        **{
            c: pd.to_datetime(frame[c], utc=True).astype("datetime64[us, UTC]")
            for c in ("start_utc", "end_utc", "logger_utc")
        }
    )


def against_notes(
    records: Mapping[str, Record],
    noted: pd.DataFrame,
    file: str,
    S: Mapping,
    excluding: set[str],
    terms: Mapping,
) -> list[tuple[str, Finding]]:
    """What notes, sun and the sets say of each other, as steps 5 and 8 find it, with the step. noted: as `notes.intervals` gives it. S: the campaign's settings. terms: of uncertainty.csv.

    Places by a track, and what needs means, are left to the report.
    """
    walks, found = S["carrying"]["walking_speed"] > 0, []
    there = {name: record for name, record in records.items() if len(record.samples)}
    written = (noted["activity"] != "clock_check").any()
    listed, some = segment.list_segments(
        noted if written else as_noted(there, noted.columns, S["site"]["timezone"]),
        S["carrying"]["sensor_height"],
        S["carrying"]["walking_speed"] if written else 0.0,
    )
    found += segment.in_file(some, file)
    checks = {name: noted[(noted["activity"] == "clock_check") & (noted["set"] == name)] for name in records}
    moments = {
        name: segment.corrected_moments(record.middles, checks[name]) for name, record in records.items()
    }
    intervals = {name: record.interval for name, record in records.items()}
    if written:
        found += segment.in_file(
            diagnose.notes_against_runs(
                listed,
                noted[noted["activity"] == "clock_check"],
                moments,
                intervals,
                notes.shift_of(S["notes"]["shift"]).total_seconds(),
                walks,
            ),
            file,
        )
    shaded = (
        diagnose.upward_shaded(
            lambda name: records[name].samples,
            {name: record.samples["flags"] for name, record in records.items()},
            moments,
            intervals,
        )
        if walks
        else {}
    )
    samples = {}
    for name, record in records.items():
        own = listed[listed["set"] == name]
        placed, some = segment.assign(
            record.middles,
            checks[name],
            own,
            record.interval,
            segment.response_time(record.certificates),
            walks,
        )
        frame = record.samples.assign(
            segment=placed["segment"].to_numpy(),
            flags=screen.together(record.samples["flags"], placed["flags"]),
        )
        if name in shaded:
            frame["flags"] = screen.also_flagged(frame["flags"], "upward-shaded", shaded[name])
            found += diagnose.shaded_findings(name, frame["segment"], shaded[name], moments[name])
        frame["flags"] = segment.without_meant_covers(own, frame)
        some = (
            some
            + segment.covers(own, frame)
            + (segment.counts(own, frame, screen.has_any(frame["flags"], excluding)) if written else [])
        )
        found += segment.in_file(some, file)
        samples[name] = frame
    middles = {name: record.middles for name, record in records.items()}
    found += diagnose.clocks_against_sun(
        {name: samples[name] for name in there},
        middles,
        moments,
        intervals,
        listed,
        excluding,
        walks,
        S["site"],
    )
    spoilt = {
        name: screen.has_any(frame["flags"], excluding - {"edge", "low-head"})
        for name, frame in samples.items()
    }
    registers = (
        pd.concat([record.certificates for record in there.values()], ignore_index=True)
        if there
        else pd.DataFrame()
    )
    disagree = compare.sets_disagree(
        {name: samples[name] for name in there},
        moments,
        intervals,
        spoilt,
        listed,
        registers,
        terms,
        S["carrying"],
    )
    return [("segment", finding) for finding in found] + [("diagnose", finding) for finding in disagree]


def of_findings(found: Sequence[tuple[str, Finding]], sentences: Mapping) -> list[Lamp]:
    """The lamps of what the chain finds: of one finding for several only the cause, in the report's words; notes stay unsaid. sentences: as `findings.describe` wants it."""
    subject = {code: name for name, codes in SUBJECTS.items() for code in codes}
    groups: dict[tuple, list[Lamp]] = {}
    for step, finding in findings.folded(found):
        row = findings.describe(finding, step, sentences)
        if row["severity"] == "note":
            continue
        place = row["file"] + (f", line {row['line']}" if row["file"] and row["line"] else "")
        lamp = Lamp(
            row["set"],
            subject.get(finding.code, OTHERS[step]),
            STATES[row["severity"]],
            f"{place}: {row['what']}" if place else row["what"],
            IN_FIELD.get(finding.code, row["remedy"]),
            finding.code,
        )
        groups.setdefault((lamp.set, lamp.code, lamp.state), []).append(lamp)
    lamps = []
    for alike in groups.values():
        lamps += (
            alike
            if len(alike) <= ALIKE
            else [
                *alike[: ALIKE - 1],
                Lamp(
                    alike[0].set,
                    alike[0].subject,
                    alike[0].state,
                    f"{len(alike) - ALIKE + 1} more like these.",
                    alike[0].remedy,
                    alike[0].code,
                ),
            ]
        )
    return lamps


# Lamps that stay dark ----------------------------------------------------------------------------------------------


def of_set(name: str, record: Record, site: Mapping[str, float]) -> list[Lamp]:
    """What there is of a set, and for each subject what a lamp says where nothing is found: good, or not tested and why."""
    samples, entry = record.samples, record.entry
    if not len(samples):
        return [
            Lamp(
                name,
                "stored",
                "red",
                "Nothing was stored, or nothing of it can be read.",
                "See whether the storage switch was on and the right file was downloaded, before anything is put away.",
            )
        ]
    seconds = pd.DatetimeIndex(record.middles).as_unit("us").asi8 / 1e6
    runs = segment.recorded_runs(seconds, record.interval)[-1] + 1
    lamps = [
        Lamp(
            name,
            "stored",
            "green",
            f"{len(samples)} samples in {runs} run{'s' if runs > 1 else ''}: {len(samples) * record.interval / 60:.0f} min in all.",
        )
    ]
    known = {c: np.isfinite(samples[c].to_numpy(float)) for c in RADIATION}
    blind = [NAMES[c] for c in RADIATION if not known[c].any()]
    if blind:
        lamps.append(
            Lamp(
                name,
                "factors",
                "amber",
                f"No certificate or no value for {', '.join(blind)}: not judged.",
                "Put instruments.csv into the folder; then look again.",
            )
        )
    high = samples["solar_elevation"].to_numpy() > diagnose_samples.SUN_UP
    lit = high & (
        np.fmax(*(np.abs(samples[c].to_numpy(float)) for c in ("sw_in", "sw_out"))) > diagnose_samples.LIT
    )
    body = samples["body_temperature"].to_numpy(float)
    warm = np.isfinite(body).any()
    if not warm:
        lamps.append(
            Lamp(
                name,
                "body temperature",
                "red",
                "No body temperature: the longwave terms can't be had without it.",
                "See the thermometer's plug and the layout's unit.",
            )
        )
    longwave = (known["lw_in"] & known["lw_out"]).sum() >= ENOUGH
    volts = record.raw["battery"].to_numpy(float) if "battery" in record.raw else np.zeros(0)
    fit = diagnose.fit_to_sun(seconds, samples["sw_in"].to_numpy(float), np.full(len(samples), np.nan), site)
    good = lambda subject, what: Lamp(name, subject, "green", what)
    untested = lambda subject, why, remedy="": Lamp(name, subject, "grey", why, remedy)
    ends = "; ".join(
        f"{NAMES[c]} {np.nanmin(samples[c]):.0f} to {np.nanmax(samples[c]):.0f}"
        for c in RADIATION
        if known[c].any()
    )
    return [
        *lamps,
        good("ranges", f"{ends} W m⁻².") if ends else untested("ranges", "Nothing to judge."),
        good("covers", "No head was covered for a minute.")
        if (high & known["sw_in"]).any()
        else untested("covers", "The sun is too low to tell."),
        good(
            "signs and places",
            "Signs and places of the channels make sense."
            if lit.sum() >= ENOUGH
            else "Longwave makes sense; no sun to tell shortwave by.",
        )
        if lit.sum() >= ENOUGH or longwave
        else untested("signs and places", "Neither sun nor longwave to tell them by."),
        good("channels alive", "Every channel moves."),
        good("longwave correction", f"As declared: {entry['longwave']}.")
        if longwave and warm
        else untested("longwave correction", "No longwave, or no body temperature, to tell it by."),
        *(
            [good("body temperature", f"{np.nanmin(body):.1f} to {np.nanmax(body):.1f} °C, steady enough.")]
            if warm
            else []
        ),
        good("upper window", "Dry, as far as the signal tells.")
        if known["lw_in"].any()
        else untested("upper window", "No longwave in to tell it by."),
        good("supply", f"{np.nanmax(volts):.2f} V at most, {np.nanmin(volts):.2f} V at least.")
        if np.isfinite(volts).any()
        else untested("supply", "The layout names no supply voltage."),
        untested("clock and sun", "Less than half an hour of sun: not to be told.")
        if fit is None
        else good(
            "clock and sun",
            "The clear sky fits the logger's clock, as far as the sun can tell (some 20 min).",
        )
        if fit.clear
        else untested(
            "clock and sun",
            "Clouds: not to be told.",
            "Read the logger's clock against the time and note it (clock_check).",
        ),
    ]


def together(dark: Sequence[Lamp], lit: Sequence[Lamp]) -> list[Lamp]:
    """A set's lamps in order: where something is found, that stands in the place of what is said where nothing is."""
    subjects = dict.fromkeys([*(lamp.subject for lamp in dark), *(lamp.subject for lamp in lit)])
    found = {subject: [lamp for lamp in lit if lamp.subject == subject] for subject in subjects}
    kept = {
        subject: [
            lamp
            for lamp in dark
            if lamp.subject == subject and (not found[subject] or lamp.state in ("amber", "red"))
        ]
        for subject in subjects
    }
    return [lamp for subject in subjects for lamp in (*kept[subject], *found[subject])]


def between_sets(samples: Mapping[str, pd.DataFrame], lit: Sequence[Lamp]) -> list[Lamp]:
    """What two sets stored at the same time: their clocks by the clouds, and whether their incoming terms were compared. samples: with `seconds`. lit: lamps of findings."""
    lamps = []
    for a, b in combinations([name for name, frame in samples.items() if len(frame)], 2):
        both = f"{a}, {b}"
        common = np.intersect1d(*(np.floor(samples[n]["seconds"].to_numpy() / 60.0) for n in (a, b)))
        if not len(common):
            lamps.append(
                Lamp(
                    both,
                    "clocks",
                    "amber",
                    "The two sets have not one minute of storage in common.",
                    "See both clocks and utc_offset; let both store side by side for 5 min.",
                )
            )
            continue
        if any(lamp.set in (a, b) and lamp.subject in OF_HEADS for lamp in lit):
            lamps.append(
                Lamp(
                    both,
                    "clocks and incoming terms",
                    "grey",
                    "To be told once what was found of single heads is mended.",
                )
            )
            continue
        lag, sure = lag_between(*(samples[n].set_index("seconds")["sw_in"].dropna() for n in (a, b)))
        if not sure >= SURE_LAG:
            lamps.append(
                Lamp(
                    both,
                    "clocks",
                    "grey",
                    "The sky was too even, or the fields too far apart, to tell the clocks against each other.",
                    "Read both clocks against one time and note it (clock_check).",
                )
            )
        elif abs(lag) >= SMALLEST_LAG:
            lamps.append(
                Lamp(
                    both,
                    "clocks",
                    "amber",
                    f"Clouds reach {b} {abs(lag):.0f} s {'after' if lag > 0 else 'before'} {a}: a clock is off, or the fields are far apart.",
                    "Read both clocks against one time and note it (clock_check).",
                )
            )
        else:
            lamps.append(Lamp(both, "clocks", "green", f"Clouds reach both within {abs(lag):.0f} s."))
        if not any(lamp.code == "sets-disagree" and lamp.set in (a, b) for lamp in lit):
            enough = len(common) * 60.0 >= compare.SHORTEST_COMMON and all(
                np.isfinite(samples[n]["lw_in"].to_numpy(float)).any() for n in (a, b)
            )
            lamps.append(
                Lamp(both, "incoming terms of both", "green", "Alike, within what their uncertainties allow.")
                if enough
                else Lamp(
                    both,
                    "incoming terms of both",
                    "grey",
                    "Nothing in common to compare.",
                    "Let both stand side by side for 5 min.",
                )
            )
    return lamps


def of_notes(file: str, noted: pd.DataFrame, sets: Sequence[str], lit: Sequence[Lamp]) -> list[Lamp]:
    """Whether there are notes, whether something is stored for each of them, and whether each set's clock was read. lit: lamps of findings."""
    if not file:
        return [
            Lamp(
                "",
                "notes",
                "grey",
                "No notes in the folder yet.",
                "Type them in while everybody remembers, and look again.",
            )
        ]
    counted = noted[noted["activity"] != "clock_check"]
    lamps = []
    if len(counted) and not any(lamp.code in ("note-without-data", "notes-shifted") for lamp in lit):
        lamps.append(Lamp("", "notes", "green", f"All {len(counted)} noted intervals have samples."))
    read = set(noted.loc[noted["activity"] == "clock_check", "set"])
    return lamps + [
        Lamp(
            name,
            "clock check",
            "amber",
            "No clock check is noted.",
            "Read the logger's clock against the time and note both (clock_check), before it is switched off.",
        )
        for name in sets
        if len(noted) and name not in read
    ]


def lag_between(a: pd.Series, b: pd.Series) -> tuple[float, float]:
    """The lag in s by which b runs behind a, and the correlation at that lag, from SW_in of two sets by their own clocks (series over seconds).

    In bins of 5 s, up to 15 min; NaN where they have no 5 min in common or the sky was too even to tell.
    """
    first, second = (
        s.groupby(np.floor(s.index.to_numpy() / LAG_BIN).astype(np.int64)).mean() for s in (a, b)
    )
    best = (math.nan, math.nan)
    for step in sorted(range(-int(LONGEST_LAG / LAG_BIN), int(LONGEST_LAG / LAG_BIN) + 1), key=abs):
        _, of_a, of_b = np.intersect1d(
            first.index, second.index - step, assume_unique=True, return_indices=True
        )
        pair = np.stack([first.to_numpy()[of_a], second.to_numpy()[of_b]])
        if pair.shape[1] < 60 or (pair.std(axis=1) < 0.03 * pair.mean(axis=1)).any():
            continue
        found = float(np.corrcoef(pair)[0, 1])
        if not best[1] >= found:
            best = (step * LAG_BIN, found)
    return best


# What the page shows -----------------------------------------------------------------------------------------------


def clock(moment: pd.Timestamp, zone: str) -> str:
    """A moment in UTC as local time of day."""
    return moment.tz_convert(ZoneInfo(zone)).strftime("%H:%M:%S")


def runs_table(samples: pd.DataFrame, interval: float, zone: str) -> list[dict[str, str]]:
    """One row a run that was stored: local start and end, UTC start, samples and what they were on average."""
    if not len(samples):
        return []
    number = segment.recorded_runs(samples["seconds"].to_numpy(), interval)
    rows = []
    for _, part in samples[number < MOST_RUNS].groupby(number[number < MOST_RUNS]):
        first, last = part["time_utc"].iloc[[0, -1]]
        rows.append(
            {
                "date": first.tz_convert(ZoneInfo(zone)).strftime("%Y-%m-%d"),
                "start": clock(first, zone),
                "end": clock(last, zone),
                "utc": first.strftime("%H:%M:%S"),
                "samples": str(len(part)),
                **{c: "–" if part[c].isna().all() else f"{part[c].mean():.0f}" for c in RADIATION},
                "body": "–"
                if part["body_temperature"].isna().all()
                else f"{part['body_temperature'].mean():.1f}",
            }
        )
    return rows


def timeline(
    samples: Mapping[str, pd.DataFrame], intervals: Mapping[str, float], noted: pd.DataFrame, zone: str
) -> Figure:
    """The four components of each set against local time, with what is noted as bars below them."""
    some = {name: frame for name, frame in samples.items() if len(frame)}
    if not some:
        return figures.nothing("Nothing is stored yet.")
    counted = noted[noted["activity"] != "clock_check"]
    local = lambda times: pd.DatetimeIndex(times).tz_convert(ZoneInfo(zone)).tz_localize(None)
    with rc_context(figures.STYLE):
        figure = Figure(figsize=(figures.WIDTH, 1.7 * len(some) + 0.7), layout="constrained")
        axes = figure.subplots(len(some), 1, sharex=True, squeeze=False)[:, 0]
        for ax, (name, frame) in zip(axes, some.items()):
            number = segment.recorded_runs(frame["seconds"].to_numpy(), intervals[name])
            number = number if number[-1] < MOST_RUNS else np.zeros(len(number), int)
            for channel, (_, colour, style) in figures.COMPONENTS.items():
                for _, part in frame.groupby(number):
                    x, y = figures.thinned(local(part["time_utc"]), part[channel])
                    ax.plot(x, y, color=colour, linestyle=style)
            for row in counted[counted["set"] == name].to_dict("records"):
                ax.axvspan(*local([row["start_utc"], row["end_utc"]]), ymax=0.05, color=NOTED)
            ax.set_ylabel("W m⁻²")
            ax.set_title(figures.shortened(name), loc="left")
        handles = [
            Line2D([], [], color=colour, linestyle=style, label=label)
            for label, colour, style in figures.COMPONENTS.values()
        ]
        figure.legend(
            handles=[*handles, *([Patch(color=NOTED, label="noted")] if len(counted) else [])],
            ncols=5,
            loc="outside upper left",
            handlelength=2.6,
            columnspacing=1.1,
            borderaxespad=0.1,
        )
        figures.time_axis(axes[-1])
        axes[-1].set_xlabel(f"local time ({zone})")
    return figure


def noted_intervals(
    table: pd.DataFrame, file: str, settings: Mapping, span
) -> tuple[pd.DataFrame, list[Finding]]:
    """The notes as intervals in UTC, by the campaign's settings."""
    return notes.intervals(
        table,
        file,
        settings["notes"]["timezone"],
        settings["notes"]["shift"],
        span,
        list(settings["sets"]),
        settings["surfaces"],
        {name: entry["utc_offset"] for name, entry in settings["sets"].items()},
    )
