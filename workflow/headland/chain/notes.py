"""Field notes as intervals in UTC: whose set was where, from when to when.

Notes are written by people in a hurry: times without a date, without seconds, in the zone of their own watch.
Each row becomes one interval or one finding; a row that can't be placed is named, not guessed at.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.times import since_1970
from headland.base.words import did_you_mean

ACTIVITIES = ("walk", "stand", "side_by_side", "sky_monitor", "dark", "channel_check", "clock_check")
WITHOUT_SURFACE = ("dark", "channel_check", "clock_check")
"""Activities that need neither field nor surface."""

LONGEST_OVER_MIDNIGHT = datetime.timedelta(hours=16)
"""An end earlier in the day than its start is read as one after midnight where the interval is no longer than
this, else as a slip.
"""

_TIME = re.compile(
    r"(?:(\d{4})-(\d{2})-(\d{2})[T ])?(\d{1,2}):(\d{2})(?::(\d{2})(\.\d+)?)?"
    r"\s*(Z|[+-](?:0\d|1[0-4]):[0-5]\d)?",
    re.ASCII,
)
YEARS = (1900, 2200)
"""Years in which a noted date is believed: others are slips, and near the ends of the calendar no arithmetic
with them is possible.
"""


@dataclass(frozen=True)
class NotesClock:
    """The clock by which notes were written.

    zone: of the notes. shift: added to the times as noted. span: first and last moment recorded, in UTC (None
    where nothing was), which dates a time without a date.
    """

    zone: datetime.tzinfo
    shift: datetime.timedelta
    span: tuple[datetime.datetime, datetime.datetime] | None


def notes_clock(zone_name: str, shift_text: str, span: tuple | None) -> NotesClock:
    """The clock of the notes from the settings. zone_name: IANA. shift_text: as for `shift_of`."""
    return NotesClock(ZoneInfo(zone_name), shift_of(shift_text), span)


def shift_of(text: str) -> datetime.timedelta:
    """A shift such as `-01:00:00` or `24:00` as a duration."""
    sign = -1 if text.startswith("-") else 1
    parts = [int(part) for part in text.lstrip("+-").split(":")]
    return sign * datetime.timedelta(**dict(zip(("hours", "minutes", "seconds"), parts, strict=False)))


def offset_of(text: str) -> datetime.timedelta:
    """A clock's fixed offset from UTC, such as `+01:00`, as a duration."""
    return shift_of(text + ":00")


def _clock(text: str) -> tuple[datetime.date | None, datetime.timedelta, datetime.timezone | None] | None:
    """Date (where given), time of day and offset (where given) of a noted time; None where it is none."""
    match = _TIME.fullmatch(text)
    if not match:
        return None
    year, month, day, hour, minute, second, fraction, offset = match.groups()
    if (
        int(hour) > 24
        or int(minute) > 59
        or int(second or 0) > 59
        or (int(hour) == 24 and (int(minute) or int(second or 0)))
    ):
        return None
    try:
        date = datetime.date(int(year), int(month), int(day)) if year else None
    except ValueError:
        return None
    if date and not YEARS[0] <= date.year < YEARS[1]:
        return None
    of_day = datetime.timedelta(
        hours=int(hour), minutes=int(minute), seconds=int(second or 0) + float(fraction or 0)
    )
    zone = None
    if offset:
        zone = datetime.UTC if offset == "Z" else datetime.timezone(offset_of(offset))
    return date, of_day, zone


def to_utc(local: datetime.datetime, zone) -> tuple[datetime.datetime | None, str]:
    """A wall-clock time in UTC, or None and `ambiguous` or `impossible` where the change of clocks makes it
    so.
    """
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() != second.utcoffset():
        back = first.astimezone(datetime.UTC).astimezone(zone).replace(tzinfo=None)
        return None, "ambiguous" if back == local else "impossible"
    return first.astimezone(datetime.UTC), ""


def _nearest_date(
    of_day: datetime.timedelta, span: tuple[datetime.datetime, datetime.datetime], zone, shift
) -> datetime.date:
    """The date on which a time of day falls into, or nearest to, what was recorded."""
    first = span[0].astimezone(zone).date()

    def away(date: datetime.date) -> float:
        moment = (
            (datetime.datetime.combine(date, datetime.time()) + of_day + shift)
            .replace(tzinfo=zone)
            .timestamp()
        )
        return max(span[0].timestamp() - moment, moment - span[1].timestamp(), 0.0)

    return min((first + datetime.timedelta(days=d) for d in (0, -1, 1)), key=away)


def intervals(
    table: pd.DataFrame,
    file: str,
    clock: NotesClock,
    surfaces: Sequence[str],
    offsets: Mapping[str, str],
) -> tuple[pd.DataFrame, list[Finding]]:
    """Each row of the notes that can be placed, as an interval in UTC, and what is wrong with the others.

    table: rows of notes.csv as text and numbers, with `line`. file: their name. surfaces: the known names.
    offsets: UTC offset of the logger clock of each set, for what a logger showed. Returns the table's columns
    with `start_utc`, `end_utc`, `logger_utc` (clock checks only) and `notes_row`.
    """
    sets = list(offsets)
    findings: list[Finding] = []
    rows = []
    for row in table.to_dict("records"):
        place: dict[str, Any] = {"file": file, "line": int(row["line"])}
        place["set"] = row["set"] if row["set"] in sets else ""
        row["activity"] = row["activity"] or "walk"
        faults = list(_name_faults(row, place, sets, surfaces))
        needed = ["set", "start"] if row["activity"] == "clock_check" else ["set", "start", "end"]
        needed += ["logger_shows"] if row["activity"] == "clock_check" else []
        needed += [] if row["activity"] in WITHOUT_SURFACE else ["field", "surface"]
        empty = [name for name in needed if not row[name]]
        if empty:
            faults.append(Finding("notes-incomplete", **place, facts={"columns": " and ".join(empty)}))
        if not faults:
            faults += _place_in_time(row, place, clock, offsets)
        findings += faults
        if not faults:
            rows.append({**row, "notes_row": int(row["line"])})
    columns = [*table.columns, "start_utc", "end_utc", "logger_utc", "notes_row"]
    result = pd.DataFrame(rows, columns=columns)
    for column in ("start_utc", "end_utc", "logger_utc"):
        result[column] = pd.to_datetime(result[column], utc=True).astype("datetime64[us, UTC]")
    result = result.sort_values("start_utc", kind="stable").reset_index(drop=True)
    return result, findings + _overlaps(result, file)


def _name_faults(row: Mapping, place: Mapping, sets, surfaces):
    for column, allowed, value in (
        ("set", sets, row["set"]),
        ("surface", surfaces, row["surface"]),
        ("activity", ACTIVITIES, row["activity"]),
    ):
        if value and value not in allowed:
            yield Finding(
                "notes-unknown-name",
                **place,
                facts={
                    "column": column,
                    "value": value[:60],
                    "allowed": ", ".join(allowed),
                    "hint": did_you_mean(value, allowed),
                },
            )


def _place_in_time(row: dict, place: Mapping, clock: NotesClock, offsets: Mapping[str, str]) -> list[Finding]:
    """Fill in `start_utc`, `end_utc` and `logger_utc` of a row, or say why that can't be done."""
    read, faults = _noted_times(row, place)
    if faults:
        return faults
    date, unknown = _start_date(row, place, read["start"], clock)
    if date is None:
        return unknown
    moments = _local_moments(row, read, date, clock)
    for column, (local, its_zone) in moments.items():
        moment, problem = to_utc(local, its_zone)
        if problem:
            facts = {"column": column, "value": row[column], "zone": str(its_zone)}
            faults.append(Finding(f"notes-time-{problem}", **place, facts=facts))
        row[f"{column}_utc"] = moment
    if faults:
        return faults
    if row["activity"] == "clock_check":
        offset = offset_of(offsets[row["set"]])
        shown_date, shown, its_zone = read["logger_shows"]
        row["logger_utc"] = _shown_utc(shown_date, shown, its_zone, offset, row["start_utc"])
    elif row["end_utc"] <= row["start_utc"]:
        faults.append(Finding("notes-reversed", **place, facts={"start": row["start"], "end": row["end"]}))
    return faults


def _noted_times(row: Mapping, place: Mapping) -> tuple[dict[str, tuple], list[Finding]]:
    """Date, time of day and zone of each noted time, and findings on times and dates that are none."""
    read: dict[str, tuple] = {}
    faults = []
    for column in ("start", "end", "logger_shows"):
        if not row[column]:
            continue
        clock = _clock(row[column])
        if clock is None:
            wanted = "a time such as 09:31, 09:31:20 or 2026-05-21 09:31:20"
            faults.append(_invalid(place, column, row[column], wanted))
        else:
            read[column] = clock
    if row["date"] and not YEARS[0] <= int(row["date"][:4]) < YEARS[1]:
        faults.append(_invalid(place, "date", row["date"], "the day of the practical, such as 2026-05-21"))
    return read, faults


def _invalid(place: Mapping, column: str, value: str, allowed: str) -> Finding:
    facts = {"column": column, "value": value[:60], "allowed": allowed, "hint": ""}
    return Finding("value-invalid", **place, facts=facts)


def _start_date(
    row: Mapping, place: Mapping, start: tuple, clock: NotesClock
) -> tuple[datetime.date | None, list[Finding]]:
    """The date of a row: as noted, else by what was recorded; or a finding where neither tells it."""
    date, of_day, own_zone = start
    if date or row["date"]:
        return date or datetime.date.fromisoformat(row["date"]), []
    facts, span = {"value": row["start"]}, clock.span
    if span is None:
        return None, [Finding("notes-without-date", "nothing-recorded", **place, facts=facts)]
    if span[1] - span[0] >= datetime.timedelta(hours=24):
        return None, [Finding("notes-without-date", **place, facts=facts)]
    return _nearest_date(of_day, span, own_zone or clock.zone, clock.shift), []


def _local_moments(row: Mapping, read: Mapping[str, tuple], date: datetime.date, clock: NotesClock) -> dict:
    """Start and end of a row by the clock of the notes, each with its zone."""
    _, of_day, own_zone = read["start"]
    start = datetime.datetime.combine(date, datetime.time()) + of_day + clock.shift
    moments = {"start": (start, own_zone or clock.zone)}
    if row["activity"] == "clock_check":
        return moments | {"end": moments["start"]}
    end_date, of_day, end_zone = read["end"]
    end = datetime.datetime.combine(end_date or date, datetime.time()) + of_day + clock.shift
    overnight = end + datetime.timedelta(days=1)
    if end_date is None and end < start and overnight - start <= LONGEST_OVER_MIDNIGHT:
        end = overnight
    return moments | {"end": (end, end_zone or own_zone or clock.zone)}


def _shown_utc(date, of_day, own_zone, offset, reference: datetime.datetime) -> datetime.datetime:
    """What a logger's clock showed, in UTC by its declared offset; without a date, the one nearest to the
    reference time.
    """
    zone = own_zone or datetime.timezone(offset)
    days = (
        [date]
        if date
        else [reference.astimezone(zone).date() + datetime.timedelta(days=d) for d in (-1, 0, 1)]
    )
    moments = [
        (datetime.datetime.combine(day, datetime.time()) + of_day)
        .replace(tzinfo=zone)
        .astimezone(datetime.UTC)
        for day in days
    ]
    return min(moments, key=lambda moment: abs(moment - reference))


def _overlaps(rows: pd.DataFrame, file: str) -> list[Finding]:
    findings = []
    for name, own in rows[~rows["activity"].isin(["clock_check"])].groupby("set", sort=False):
        latest = None
        for row in own.to_dict("records"):
            if latest is not None and row["start_utc"] < latest["end_utc"]:
                findings.append(
                    Finding(
                        "notes-overlap",
                        "",
                        str(name),
                        file,
                        row["notes_row"],
                        facts={"other": latest["notes_row"], "start": row["start"], "end": latest["end"]},
                    )
                )
            if latest is None or row["end_utc"] > latest["end_utc"]:
                latest = row
    return findings


def clock_offset(checks: pd.DataFrame, moments: pd.Series) -> np.ndarray:
    """By how many seconds a logger's clock was ahead at the given moments, from its clock checks (zeros
    without one).

    checks: rows with `start_utc`, the reference, and `logger_utc`, what the logger showed. Linear between two
    checks (drift), constant before the first and after the last.
    """
    if not len(checks):
        return np.zeros(len(moments))
    checks = checks.sort_values("logger_utc", kind="stable")
    ahead = (checks["logger_utc"] - checks["start_utc"]).dt.total_seconds().to_numpy()
    shown = since_1970(checks["logger_utc"])
    return np.interp(since_1970(moments), shown, ahead)
