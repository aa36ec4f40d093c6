"""The quick look before driving home: what the loggers hold, as lamps with a word, and what to do while still
there.

It needs no notes. The chain's own steps and checks find what is wrong; where there are no notes, each run
counts as a stand. Limits without another source are common practice: none is published for this.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
import pandas as pd

from headland.base import findings
from headland.base.findings import Finding
from headland.base.flags import excluding_flags, limits_of
from headland.base.times import since_1970
from headland.chain import calibrate, clock_checks, correct_longwave, ingest, screen, segment
from headland.chain.recording import Screened
from headland.checks import campaign as checked
from headland.checks.runs import runs
from headland.checks.sets import sets_disagree
from headland.field import channel_check, common_lamps, lamps, look_page, set_lamps
from headland.field.lamps import Lamp
from headland.field.set_lamps import Record
from headland.files import settings, step_settings, user_tables
from headland.files.own_numbers import quality_rows
from headland.files.uncertainty_terms import uncertainty_terms
from headland.physics.constants import RADIATION
from headland.report import figures, page

Found = list[tuple[str, Finding]]
"""Findings, each with the step that made it."""


@dataclass(frozen=True)
class Campaign:
    """A campaign folder as it is now.

    S: its settings. found: what is wrong with the tables beside the loggers' files.
    """

    folder: Path
    S: Mapping
    register: pd.DataFrame
    air: pd.DataFrame
    notes: pd.DataFrame
    notes_file: str
    limits: Mapping[str, Mapping]
    terms: Mapping[str, Mapping]
    found: Found


def opened(folder: Path, config: Path) -> Campaign:
    """The settings and tables of a campaign folder. config: the project's. Raises UserErrors for
    campaign.yaml."""
    S = settings.load(folder, config, needs=())
    register, wrong, _ = read_if_there(folder, "instruments.csv", "instruments")
    written, more, notes_file = read_if_there(folder, S["notes_file"], "notes")
    try:
        air, _ = user_tables.read_weather([folder / S["weather_file"]] if S["weather_file"] else [])
    except OSError:
        air, _ = user_tables.read_weather([])
    return Campaign(
        folder,
        S,
        register,
        air,
        written,
        notes_file,
        limits_of(quality_rows(config / "quality.csv")),
        uncertainty_terms(config / "uncertainty.csv"),
        [("calibrate", finding) for finding in wrong] + [("segment", finding) for finding in more],
    )


def read_if_there(folder: Path, file: str, kind: str) -> tuple[pd.DataFrame, list[Finding], str]:
    """A user's table, what is wrong with it, and its name; an empty table and no name where the file is not
    there."""
    try:
        if file and (folder / file).is_file():
            return *user_tables.read_user_table(folder / file, kind), file
    except OSError:
        pass
    return user_tables.no_user_table(kind), [], ""


# One set by itself
# ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Seen:
    """A set after steps 1 to 4: its record for the lamps, and its tables for step 5."""

    record: Record
    screened: Screened


def read_set(campaign: Campaign, name: str) -> tuple[Seen, Found, list[Lamp]]:
    """A set through steps 1 to 4, what they find, and a lamp for each file that can't be opened."""
    S = campaign.S
    unopened: list[Lamp] = []
    found: Found = []
    made = ingest.run(_opened(campaign, name, unopened), step_settings.ingest(S, name))
    raw = made.tables["samples"].held()
    found += [("ingest", one) for one in made.findings]
    made = calibrate.run(raw, campaign.register, step_settings.calibrate(S, name))
    certificates, calibrated = made.tables["certificates"], made.tables["calibrated"].held()
    if len(campaign.register):
        found += [("calibrate", one) for one in made.findings]
    corrected = correct_longwave.run(calibrated).tables["corrected"].held()
    recorded = screen.Recorded(raw, calibrated, corrected, certificates)
    made = screen.run(recorded, campaign.limits, campaign.air, step_settings.screen(S, name))
    screened = made.tables["screened"].held()
    # without a register no channel has values yet
    known = len(campaign.register) > 0
    found += [("screen", one) for one in made.findings if known or one.code != "channel-empty"]
    sky = screened.frame[["solar_elevation", "solar_azimuth", "sw_clear", "flags"]]
    net = calibrated.frame[["lw_in_net", "lw_out_net"]]
    entry = S["sets"][name]
    layout = entry["layout"]
    middles = ingest.middle_of_interval(raw["time_utc"], layout["stamp"], layout["interval"])
    samples = corrected.frame.assign(**net, **sky, seconds=since_1970(middles))
    record = Record(raw.frame, samples, middles, certificates, entry)
    return Seen(record, Screened(corrected, screened, certificates)), found, unopened


def _opened(campaign: Campaign, name: str, unopened: list[Lamp]) -> Iterator[tuple[str, BinaryIO]]:
    """The raw files of a set; for one that can't be opened a lamp is added."""
    for shown in campaign.S["sets"][name]["raw"]:
        try:
            with (campaign.folder / shown).open("rb") as stream:
                yield shown, stream
        except OSError as problem:  # taken away meanwhile, or on a stick that was pulled out
            what = f"{shown} can't be opened ({problem.strerror or 'unreadable'})."
            unopened.append(Lamp(name, "files", "red", what, "Copy it again, and look again."))


# Against the notes and each other
# --------------------------------------------------------------------------------

OF_NOTES = frozenset(
    {
        *("no-segment", "segment-unused", "note-without-data", "data-without-note", "notes-shifted"),
        *("set-unused", "notes-sets-swapped", "notes-overlap", "head-too-low"),
    }
)
"""What step 5 finds of the notes: it says nothing where runs replace them."""


def as_noted(records: Mapping[str, Record], S: Mapping) -> pd.DataFrame:
    """Each run of each set as a row of notes, for a look without notes. Very many runs count as one."""
    rows = []
    for name, record in records.items():
        spans = runs(record.seconds, record.interval)
        if len(spans) > look_page.MOST_RUNS:
            spans = np.array([[spans[0, 0], spans[-1, 1]]])
        for number, span in enumerate(spans, 1):
            start, end = pd.to_datetime(span * 1e9, unit="ns", utc=True)
            field = f"run {number}, from {look_page.clock(start, S['site']['timezone'])}"
            rows.append(
                {
                    "line": number,
                    "set": name,
                    "field": field,
                    "surface": S["surfaces"][0],
                    "activity": "stand",
                    "start": start.strftime(NOTED),
                    "end": end.strftime(NOTED),
                }
            )
    empty = user_tables.no_user_table("notes")
    frame = pd.DataFrame(rows, columns=[*empty]).astype(empty.dtypes)
    texts = frame.select_dtypes("object").columns
    return frame.assign(**{name: frame[name].fillna("") for name in texts})


NOTED = "%Y-%m-%d %H:%M:%S.%fZ"
"""A moment as notes may write it."""


def against_notes(seen: Mapping[str, Seen], campaign: Campaign) -> tuple[pd.DataFrame, pd.DataFrame, Found]:
    """The noted intervals, the same or the runs where nothing is noted, and what notes, sun and the sets show
    of each other, as steps 5 and 8 find it.

    Places by a track, and what needs means, are left to the report.
    """
    S, records = campaign.S, {name: one.record for name, one in seen.items()}
    there = {name: record for name, record in records.items() if len(record.samples)}
    written = bool((campaign.notes["activity"] != "clock_check").any())
    given = {**step_settings.segment(S), "notes_file": campaign.notes_file or "notes"}
    table = campaign.notes
    if not written:
        table = pd.concat([table, as_noted(there, S)], ignore_index=True)
        given["walking_speed"] = 0.0
    screened = {name: one.screened for name, one in seen.items()}
    made = segment.run(table, screened, campaign.limits, None, given)
    found = [one for one in made.findings if written or one.code not in OF_NOTES]
    samples = {name: pieces.whole() for name, pieces in made.tables["segmented"].items() if name in there}
    moments = clock_checks.span(record.middles for record in records.values())
    noted, _ = segment.noted_intervals(campaign.notes, moments, given)
    segments = made.tables["noted"]
    disagree = _disagreement(there, samples, segments, noted, campaign)
    every = [*(("segment", one) for one in found), *(("diagnose", one) for one in disagree)]
    visits, _ = segment.noted_intervals(table, moments, given)
    return noted, visits, every


def _disagreement(
    there: Mapping[str, Record],
    samples: Mapping[str, pd.DataFrame],
    segments: pd.DataFrame,
    noted: pd.DataFrame,
    campaign: Campaign,
) -> list[Finding]:
    """Whether the sets disagree on the incoming terms, as step 8 asks it."""
    registers = [record.certificates for record in there.values()]
    return sets_disagree(
        checked.Campaign(
            samples=samples,
            moments={
                name: clock_checks.corrected_moments(record.middles, clock_checks.checks_of(noted, name))
                for name, record in there.items()
            },
            intervals={name: record.interval for name, record in there.items()},
            excluding=excluding_flags(campaign.limits),
            segments=segments[segments["activity"] != "clock_check"],
            certificates=pd.concat(registers, ignore_index=True) if there else pd.DataFrame(),
            terms=campaign.terms,
            carrying=campaign.S["carrying"],
        )
    )


# The page ---------------------------------------------------------------------------------------------------


def seen_in(folder: Path, config: Path) -> dict:
    """Everything that the page shows of a campaign folder now. Raises UserErrors for campaign.yaml."""
    campaign = opened(folder, config)
    S, zone = campaign.S, campaign.S["site"]["timezone"]
    seen, found, unopened = {}, list(campaign.found), []
    for name in S["sets"]:
        seen[name], more, dark = read_set(campaign, name)
        found += more
        unopened += dark
    records = {name: one.record for name, one in seen.items()}
    samples = {name: record.samples for name, record in records.items()}
    noted, visits, more = against_notes(seen, campaign)
    found += more
    lit = [*unopened, *lamps.of_findings(found, findings.sentences(), visits, zone)]
    sets = [_set_entry(name, record, lit, S) for name, record in records.items()]
    together = [
        *common_lamps.between_sets(samples, lit),
        *common_lamps.of_notes(campaign.notes_file, noted, list(records), lit),
        *(lamp for lamp in lit if lamp.set not in records),
    ]
    certificates = {name: record.certificates for name, record in records.items()}
    covered = channel_check.checks(noted, samples, certificates)
    every = [*together, *(lamp for entry in (*sets, *covered) for lamp in entry["lamps"])]
    intervals = {name: record.interval for name, record in records.items()}
    figure = look_page.timeline(samples, intervals, noted, zone)
    return {
        "title": S["title"],
        "site": S["site"],
        "state": lamps.worst(every),
        "words": lamps.WORDS,
        "sets": sets,
        "together": together,
        "checks": covered,
        "urgent": [lamp for state in ("red", "amber") for lamp in every if lamp.state == state],
        "names": lamps.NAMES,
        "channels": RADIATION,
        "untested": _untested(every),
        "seen": sum(len(frame) for frame in samples.values()),
        "figure": page.embedded(figures.svg(figure)),
    }


def _set_entry(name: str, record: Record, lit: Sequence[Lamp], S: Mapping) -> dict:
    """What the page shows of one set."""
    quiet = set_lamps.of_set(name, record, S["site"])
    return {
        "name": name,
        "lamps": set_lamps.together(quiet, [lamp for lamp in lit if lamp.set == name]),
        "files": ", ".join(record.entry["raw"]) or f"none that matches {record.entry['files']}",
        "runs": look_page.runs_table(record.samples, record.interval, S["site"]["timezone"]),
    }


def _untested(every: Sequence[Lamp]) -> list[str]:
    """What could not be tested, each subject once."""
    grey = (lamp for lamp in every if lamp.state == "grey")
    return list(dict.fromkeys(lamp.subject + (f" ({lamp.set})" if lamp.set else "") for lamp in grey))
