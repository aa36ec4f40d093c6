"""The quick look before driving home: what the loggers hold, as lamps with a word, and what to do while still
there.

It needs no notes. The chain's own steps and checks find what is wrong; where there are no notes, each run
counts as a stand. Limits without another source are common practice: none is published for this.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from headland.base import findings
from headland.base.findings import Finding
from headland.base.flags import also_flagged, excluding_flags, has_any, joined, limits_of, merged
from headland.base.times import since_1970
from headland.chain import (
    calibrate,
    clock_checks,
    correct_longwave,
    covers,
    ingest,
    notes,
    screen,
    segment,
    weather,
)
from headland.checks import campaign as checked
from headland.checks import clocks, instruments, notes_and_runs, shade
from headland.checks.one_set import SetRecord
from headland.checks.runs import runs
from headland.checks.sets import sets_disagree
from headland.field import channel_check, common_lamps, lamps, look_page, set_lamps
from headland.field.lamps import Lamp
from headland.field.set_lamps import Record
from headland.files import logger_files, settings, user_tables
from headland.files.config_tables import read_config_table
from headland.files.uncertainty_terms import uncertainty_terms
from headland.physics import sun
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

    @property
    def excluding(self) -> set[str]:
        """The flags that keep a sample out of the means."""
        return excluding_flags(self.limits)

    @property
    def walks(self) -> bool:
        return self.S["carrying"]["walking_speed"] > 0


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
        limits_of(read_config_table(config / "quality.csv")),
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


# One set by itself ------------------------------------------------------------------------------------------


def read_set(campaign: Campaign, name: str) -> tuple[Record, Found, list[Lamp]]:
    """A set as its files show it, what the steps find with each step, and a lamp for each file that can't be
    opened."""
    S, entry = campaign.S, campaign.S["sets"][name]
    layout = entry["layout"]
    raw, found, unopened = _files_of(campaign, name)
    certificates, wrong = calibrate.choose_certificates(
        campaign.register,
        name,
        entry["logger_id"],
        layout["channels"],
        day=calibrate.measurement_day(raw["time_utc"]),
        method=S["methods"]["certificate"],
    )
    if len(campaign.register):
        found += [("calibrate", finding) for finding in wrong]
    sensed = calibrate.calibrate(raw, layout["channels"], certificates, entry["longwave"])
    middles = ingest.middle_of_interval(raw["time_utc"], layout["stamp"], layout["interval"])
    samples = _with_sun(sensed, middles, S["site"])
    record, wrong = _screened(name, Record(raw, samples, middles, certificates, entry), sensed, campaign)
    return record, found + [("screen", finding) for finding in wrong], unopened


def _files_of(campaign: Campaign, name: str) -> tuple[pd.DataFrame, Found, list[Lamp]]:
    """The rows of a set's files as one table."""
    entry = campaign.S["sets"][name]
    layout = entry["layout"]
    frames, found, unopened = [logger_files.read_nothing(layout)], [], []
    for shown in entry["raw"]:
        try:
            with (campaign.folder / shown).open("rb") as stream:
                frame, wrong = logger_files.read_logger_file(
                    stream,
                    shown,
                    name,
                    layout,
                    utc_offset=notes.offset_of(entry["utc_offset"]),
                    logger_id=entry["logger_id"],
                )
        except OSError as problem:  # taken away meanwhile, or on a stick that was pulled out
            what = f"{shown} can't be opened ({problem.strerror or 'unreadable'})."
            unopened.append(Lamp(name, "files", "red", what, "Copy it again, and look again."))
            continue
        frames.append(frame)
        found += wrong
    raw, wrong = ingest.join_files(frames, layout["interval"], name)
    return raw.rename(columns={"time": "time_utc"}), [("ingest", f) for f in (*found, *wrong)], unopened


def _with_sun(sensed: pd.DataFrame, middles: pd.Series, site: Mapping[str, float]) -> pd.DataFrame:
    """Corrected samples with the sun and the clear sky."""
    elevation, azimuth = sun.position(middles, site["latitude"], site["longitude"], site["elevation"])
    return correct_longwave.corrected(sensed).assign(
        lw_in_net=sensed["lw_in_net"],
        lw_out_net=sensed["lw_out_net"],
        seconds=since_1970(middles),
        solar_elevation=elevation,
        solar_azimuth=azimuth,
        sw_clear=sun.clear_sky_global(elevation, middles, site["elevation"]),
        toa=sun.top_of_atmosphere(middles),
    )


def _screened(
    name: str, record: Record, sensed: pd.DataFrame, campaign: Campaign
) -> tuple[Record, list[Finding]]:
    """The record with `flags`, and what its samples show of its instruments, as step 4 does it."""
    samples, layout = record.samples, record.entry["layout"]
    air = weather.at(record.middles, campaign.air, campaign.S["weather"])["air_temperature"]
    flags = screen.flags(samples, campaign.limits, air, samples["toa"])
    diagnosis = instruments.diagnosed(
        SetRecord(
            name,
            raw=record.raw,
            sensed=sensed,
            sun=samples,
            air=weather.usual(air),
            certificates=record.certificates,
            channels=layout["channels"],
            longwave=record.entry["longwave"],
            interval=layout["interval"],
            limits=campaign.limits,
        )
    )
    flags |= diagnosis.flags
    found = screen.found(flags, campaign.limits, samples["time_utc"], name, diagnosis.wrong)
    flagged = samples.assign(flags=pd.Series(joined(flags), samples.index, dtype=str))
    return (
        Record(record.raw, flagged, record.middles, record.certificates, record.entry),
        found + diagnosis.findings,
    )


# Against the notes and each other ---------------------------------------------------------------------------


def noted_intervals(table: pd.DataFrame, file: str, S: Mapping, span) -> tuple[pd.DataFrame, list[Finding]]:
    """The notes as intervals in UTC, by the campaign's settings."""
    return notes.intervals(
        table,
        file,
        S["notes"]["timezone"],
        S["notes"]["shift"],
        span,
        list(S["sets"]),
        S["surfaces"],
        {name: entry["utc_offset"] for name, entry in S["sets"].items()},
    )


def as_noted(records: Mapping[str, Record], columns: Sequence[str], zone: str) -> pd.DataFrame:
    """Each run of each set as if a stand had been noted for it, for a look without notes.

    columns: those of `notes.intervals`. A record of very many runs counts as one run.
    """
    rows = []
    for name, record in records.items():
        spans = runs(record.seconds, record.interval)
        if len(spans) > look_page.MOST_RUNS:
            spans = np.array([[spans[0, 0], spans[-1, 1]]])
        for number, span in enumerate(spans, 1):
            start, end = pd.to_datetime(span * 1e9, unit="ns", utc=True)
            rows.append(
                {
                    **dict.fromkeys(("heading", "length", "canopy_height", "speed"), math.nan),
                    **dict.fromkeys(("surface", "transect", "pass"), ""),
                    "set": name,
                    "field": f"run {number}, from {look_page.clock(start, zone)}",
                    "activity": "stand",
                    "start_utc": start,
                    "end_utc": end,
                    "notes_row": None,
                }
            )
    frame = pd.DataFrame(rows, columns=[*columns])
    times = ("start_utc", "end_utc", "logger_utc")
    return frame.assign(
        **{c: pd.to_datetime(frame[c], utc=True).astype("datetime64[us, UTC]") for c in times}
    )


def against_notes(
    records: Mapping[str, Record], noted: pd.DataFrame, file: str, campaign: Campaign
) -> list[tuple[str, Finding]]:
    """What notes, sun and the sets show of each other, as steps 5 and 8 find it, with the step.

    noted: as `notes.intervals` gives it. Places by a track, and what needs means, are left to the report.
    """
    S, walks, excluding = campaign.S, campaign.walks, campaign.excluding
    there = {name: record for name, record in records.items() if len(record.samples)}
    written = bool((noted["activity"] != "clock_check").any())
    listed, wrong = segment.list_segments(
        noted if written else as_noted(there, noted.columns, S["site"]["timezone"]),
        S["carrying"]["sensor_height"],
        S["carrying"]["walking_speed"] if written else 0.0,
    )
    found = segment.in_file(wrong, file)
    is_check = noted["activity"] == "clock_check"
    checks = {name: noted[is_check & (noted["set"] == name)] for name in records}
    moments = {
        name: clock_checks.corrected_moments(record.middles, checks[name]) for name, record in records.items()
    }
    intervals = {name: record.interval for name, record in records.items()}
    if written:
        shift = notes.shift_of(S["notes"]["shift"]).total_seconds()
        wrong = notes_and_runs.notes_against_runs(
            listed, noted[is_check], moments, intervals, shift, walks=walks
        )
        found += segment.in_file(wrong, file)
    shaded = _shaded(records, moments, intervals) if walks else {}
    samples = {}
    for name, record in records.items():
        own = listed[listed["set"] == name]
        samples[name], wrong = _placed(record, own, checks[name], walks)
        if name in shaded:
            flags = also_flagged(samples[name]["flags"], "upward-shaded", shaded[name])
            samples[name]["flags"] = flags
            found += shade.shaded_findings(name, samples[name]["segment"], shaded[name], moments[name])
        samples[name]["flags"] = covers.without_meant_covers(own, samples[name])
        wrong = wrong + covers.covers(own, samples[name])
        if written:
            wrong += segment.counts(own, samples[name], has_any(samples[name]["flags"], excluding))
        found += segment.in_file(wrong, file)
    present = {name: samples[name] for name in there}
    middles = {name: record.middles for name, record in records.items()}
    found += clocks.clocks_against_sun(
        present, middles, moments, intervals, listed, excluding=excluding, walks=walks, site=S["site"]
    )
    disagree = _disagreement(there, samples, moments, listed, campaign)
    return [("segment", finding) for finding in found] + [("diagnose", finding) for finding in disagree]


def _shaded(records: Mapping[str, Record], moments: Mapping, intervals: Mapping) -> dict:
    """The samples of each set under which the upward head was shaded."""
    return shade.upward_shaded(
        lambda name: records[name].samples,
        {name: record.samples["flags"] for name, record in records.items()},
        moments,
        intervals,
    )


def _placed(
    record: Record, own: pd.DataFrame, checks: pd.DataFrame, walks: bool
) -> tuple[pd.DataFrame, list[Finding]]:
    """The samples of a set with the segment in which each lies, and the flags that come with its place."""
    response = segment.response_time(record.certificates)
    placed, wrong = segment.assign(
        record.middles, checks, own, interval=record.interval, response_time=response, walks=walks
    )
    samples = record.samples.assign(
        segment=placed["segment"].to_numpy(),
        flags=merged(record.samples["flags"], placed["flags"]),
    )
    return samples, wrong


def _disagreement(
    there: Mapping[str, Record],
    samples: Mapping[str, pd.DataFrame],
    moments: Mapping,
    listed: pd.DataFrame,
    campaign: Campaign,
) -> list[Finding]:
    """Whether the sets disagree on the incoming terms, as step 8 asks it."""
    registers = [record.certificates for record in there.values()]
    return sets_disagree(
        checked.Campaign(
            samples={name: samples[name] for name in there},
            moments=moments,
            intervals={name: record.interval for name, record in there.items()},
            excluding=campaign.excluding,
            segments=listed,
            certificates=pd.concat(registers, ignore_index=True) if there else pd.DataFrame(),
            terms=campaign.terms,
            carrying=campaign.S["carrying"],
        )
    )


# The page ---------------------------------------------------------------------------------------------------


def seen_in(folder: Path, config: Path) -> dict:
    """Everything that the page shows of a campaign folder as it is now. Raises UserErrors for campaign.yaml."""
    campaign = opened(folder, config)
    S, zone = campaign.S, campaign.S["site"]["timezone"]
    records, found, unopened = {}, list(campaign.found), []
    for name in S["sets"]:
        records[name], more, dark = read_set(campaign, name)
        found += more
        unopened += dark
    samples = {name: record.samples for name, record in records.items()}
    span = clock_checks.span(record.middles for record in records.values())
    noted, wrong = noted_intervals(campaign.notes, campaign.notes_file or "notes", S, span)
    found += [("segment", finding) for finding in wrong]
    found += against_notes(records, noted, campaign.notes_file, campaign)
    lit = [*unopened, *lamps.of_findings(found, findings.sentences())]
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
