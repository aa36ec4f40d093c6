"""The data of a finished run, read again for verbs that repeat a part of the chain."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import excluding_flags, limits_of
from headland.chain import calibrate, clock_checks, notes, segment, weather
from headland.chain.ingest import middle_of_interval
from headland.course.rerun import Survey
from headland.files import step_settings, tables, user_tables
from headland.files.own_numbers import quality_rows

STEPS_OF_SETS = ("1_ingest", "2_calibrate", "4_screen")
"""Steps that leave findings by set."""


def noted_in(
    path: Path, S: Mapping, raw: Mapping[str, pd.DataFrame]
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding]]:
    """The intervals of a file of notes, the segments that they make, and what is wrong with the file.

    S: settings. raw: samples by set.
    """
    table, wrong = user_tables.read_user_table(path, "notes")
    moments = clock_checks.span(frame["time_utc"] for frame in raw.values())
    given = {**step_settings.segment(S), "notes_file": path.name}
    noted, segments, found, more = segment.listed(table, moments, given)
    return noted, segments, [*wrong, *found, *more]


def survey_of(campaign: Path, results: Path, S: Mapping, surfaces: Mapping, config: Path) -> Survey:
    """What the chain worked on in the run whose results these are. S: settings. config: the project's."""
    sets, steps = list(S["sets"]), results / "steps"
    raw = {name: _of_step(steps / "1_ingest" / f"{name}.csv", "samples_raw") for name in sets}
    register, _ = user_tables.read_user_table(campaign / "instruments.csv", "instruments")
    noted, segments, _ = noted_in(campaign / S["notes_file"], S, raw)
    station = S["methods"]["incoming_terms"] == "station"
    return Survey(
        raw=raw,
        segmented={name: _of_step(steps / "5_segment" / f"{name}.csv", "samples_segmented") for name in sets},
        certificates={
            name: _of_step(steps / "2_calibrate" / f"{name}_certificates.csv", "certificates")
            for name in sets
        },
        sets={name: _entry(S["sets"][name]) for name in sets},
        register=calibrate.register_factors(register),
        noted=noted,
        segments=segments,
        surfaces=surfaces,
        balances=tables.read_table(steps / "7_balance" / "surfaces.csv", "group_balance"),
        visits=tables.read_table(steps / "7_balance" / "visits.csv", "visit_balance"),
        excluding=frozenset(excluding_flags(limits_of(quality_rows(config / "quality.csv")))),
        air=_air(campaign, S, raw),
        found=_found(steps, sets),
        set_scale=S["methods"]["set_scale"],
        stamp=S["station"]["stamp"],
        fixed=user_tables.read_station([campaign / S["station_file"]])[0] if station else None,
        walks=S["carrying"]["walking_speed"] > 0,
        notes_offset=_notes_offset(segments, S),
    )


def _of_step(path: Path, kind: str) -> pd.DataFrame:
    return tables.read_table(path, kind)


def _entry(entry: Mapping) -> dict:
    """What a rerun needs of a set's settings."""
    return {
        **{name: entry["layout"][name] for name in ("channels", "interval", "stamp")},
        "longwave": entry["longwave"],
        "utc_offset": notes.offset_of(entry["utc_offset"]).total_seconds(),
    }


def _air(campaign: Path, S: Mapping, raw: Mapping[str, pd.DataFrame]) -> dict:
    """By set, the air temperature at each sample, degC."""
    table, _ = user_tables.read_weather([campaign / S["weather_file"]] if S["weather_file"] else [])
    air = {}
    for name, frame in raw.items():
        layout = S["sets"][name]["layout"]
        middles = middle_of_interval(frame["time_utc"], layout["stamp"], layout["interval"])
        air[name] = weather.at(middles, table, S["weather"])["air_temperature"]
    return air


def _found(steps: Path, sets: list[str]) -> list[Finding]:
    """What steps 1 to 5 found."""
    files = [steps / folder / f"{name}_findings.csv" for folder in STEPS_OF_SETS for name in sets]
    files.append(steps / "5_segment" / "all_findings.csv")
    return [one for file in files for one in tables.read_findings(file)]


def _notes_offset(segments: pd.DataFrame, S: Mapping) -> float:
    """Of the notes' zone from UTC on the day, s."""
    if not len(segments):
        return 0.0
    first = segments["start_utc"].min()
    return first.tz_convert(S["notes"]["timezone"]).utcoffset().total_seconds()
