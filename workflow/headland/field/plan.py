"""The plan of a day to come: what campaign.yaml and plan.csv ask for, and everything that its pages show."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd

from headland.base.errors import UserError, UserErrors
from headland.base.words import did_you_mean
from headland.chain import calibrate, notes, segment
from headland.field import channel_drawing, expected, orders, plan_figures, plan_page
from headland.field import day as days
from headland.field.timetable import COVER_SECONDS, SIDE_MINUTES, Day, timetable
from headland.files import geojson, step_settings, user_tables
from headland.files.required import read_with_errors
from headland.physics import plane
from headland.report import figures, page
from headland.uncertainty.course import CourseSizes

DRAWS = 2000
WALKING_SPEED = 0.8
"""m s-1, where the campaign gives none."""
EXPECTED = "one row a field: field, surface, length, headings, outline"
NO_LENGTH = "neither length nor outline"
MOST_FIELDS, MOST_VISITS = 40, 2000
"""Fields of a plan, and visits that it may ask for: one round over 40 fields takes a day (common practice, no
source).
"""
Reads = Callable[[str], tuple[geojson.Outlines, list[UserError]]]
"""Reads the outlines of a file of the campaign folder, and says what is wrong with it."""


@dataclass(frozen=True)
class Plan:
    """A plan: its day, the hours in it, fields with their headings, visits and expected differences.

    rounds: that fit. whose: a sentence on the certificates.
    """

    day: pd.DataFrame
    inside: pd.DataFrame
    fields: pd.DataFrame
    visits: pd.DataFrame
    rounds: int
    differences: pd.DataFrame
    given: expected.Circumstances
    whose: str


# What the user asks for -------------------------------------------------------------------------------------


def fields_of(folder: Path, surfaces: Mapping, naming: str) -> pd.DataFrame:
    """The rows of plan.csv with `free`, the directions in which a transect can lie, and `lengths`, m, in each
    of them.

    naming: the property that holds a field's name in an outline. Raises UserErrors with everything that is
    wrong.
    """
    table, errors = read_with_errors(folder / "plan.csv", "plan", EXPECTED)
    if len(table) > MOST_FIELDS:
        wanted = f"at most {MOST_FIELDS}: already one round over so many takes a day"
        raise UserErrors([UserError("plan.csv", None, f"{len(table)} fields", wanted)])
    invalid = {error.line for error in errors}
    free, lengths = [], []
    read = _reader(folder, naming)
    for row in table.to_dict("records"):
        headings, long, faults = _field(folder, row, surfaces, read)
        faults = [one for one in faults if one.line not in invalid or one.found != NO_LENGTH]
        free.append(headings)
        lengths.append(long)
        errors += faults
    for name in table.loc[table["field"].duplicated() & table["field"].ne(""), "field"]:
        errors.append(UserError("plan.csv", None, f"the field {name[:60]} is there twice", "each field once"))
    if errors:
        raise UserErrors(errors)
    return table.assign(free=pd.Series(free, table.index), lengths=pd.Series(lengths, table.index))


def _field(
    folder: Path, row: Mapping, surfaces: Mapping, read: Reads
) -> tuple[list[float], list[float], list[UserError]]:
    """Directions and lengths of one row of plan.csv, and what is wrong with it."""
    errors = []
    surface, line = row["surface"], row["line"]
    if surface and surface not in surfaces:
        allowed = f"one of {', '.join(surfaces)}{did_you_mean(surface, surfaces)}"
        errors.append(UserError("plan.csv", line, f"surface is {surface[:60]}", allowed))
    try:
        headings = days.headings_of(row["headings"])
    except ValueError as problem:
        allowed = "degrees from north such as 80, or 60-120, separated by blanks"
        return [], [], [*errors, UserError("plan.csv", line, f"headings has {str(problem)[:60]}", allowed)]
    if row["outline"]:
        rings, faults = outline_of(folder, row, read)
        headings, long = days.along_outline(rings, headings, row["length"]) if rings else (headings, [])
        return headings, long, errors + faults
    if math.isnan(row["length"]):
        allowed = "the length in m that can be walked, or a GeoJSON file with the field's outline"
        errors.append(UserError("plan.csv", line, NO_LENGTH, allowed))
    return headings, [row["length"]] * len(headings), errors


def _reader(folder: Path, naming: str) -> Reads:
    """A reader that reads each file of outlines once, however many rows name it."""

    @cache
    def read(file: str) -> tuple[geojson.Outlines, list[UserError]]:
        with (folder / file).open("rb") as stream:
            outlines, wrong = geojson.read_outlines(stream, file, naming)
        return outlines, [
            UserError(f.file, f.line, str(f.facts["found"]), str(f.facts["expected"])) for f in wrong
        ]

    return read


def outline_of(folder: Path, row: Mapping, read: Reads) -> tuple[list, list[UserError]]:
    """The rings of a field's outline in m, and what is wrong with its file or its name."""
    file, field, line = row["outline"], row["field"], row["line"]
    path = folder / file
    try:
        there = path.resolve().is_relative_to(folder.resolve()) and path.is_file()
    except (OSError, ValueError):  # no name that a file can have
        there = False
    if not there:
        found = f"outline is {file[:60]}, which is no file in the campaign folder"
        return [], [UserError("plan.csv", line, found, "a GeoJSON file there, such as fields.geojson")]
    outlines, wrong = read(file)
    if wrong:
        return [], wrong
    if field not in outlines:
        allowed = f"one of {', '.join(outlines)[:300]}{did_you_mean(field, outlines)}"
        return [], [UserError("plan.csv", line, f"{file[:60]} has no outline named {field[:60]}", allowed)]
    return plane.on_plane({field: outlines[field]})[0][field], []


def hours_of(S: Mapping) -> tuple[pd.Timestamp, pd.Timestamp, pd.DatetimeIndex]:
    """Start and end of the plan, and the moments of its day, in UTC. Raises UserErrors."""
    entry = S.get("plan")
    if not entry:
        example = 'the day to plan for, such as `plan: {date: "2026-05-21", start: "10:00", end: "15:00"}`'
        raise _refused("plan is missing", example)
    try:
        date = datetime.date.fromisoformat(entry["date"])
    except ValueError:
        raise _refused(f"plan.date is {entry['date']}", "a day that there is") from None
    zone = ZoneInfo(S["site"]["timezone"])
    start, end = (_moment(entry, key, date, zone) for key in ("start", "end"))
    if end <= start:
        raise _refused(f"plan.end is {entry['end']}, not after plan.start", "a later time of the same day")
    midnight = pd.Timestamp(datetime.datetime.combine(date, datetime.time(), zone)).tz_convert("UTC")
    moments = pd.date_range(midnight, periods=int(86400 / days.STEP), freq=f"{days.STEP:.0f}s")
    return start, end, moments


def _moment(entry: Mapping, key: str, date: datetime.date, zone: ZoneInfo) -> pd.Timestamp:
    local = datetime.datetime.combine(date, datetime.time.fromisoformat(entry[key]))
    moment, problem = notes.to_utc(local, zone)
    if problem or moment is None:
        found = f"plan.{key} is {entry[key]}, which the change of clocks makes {problem}"
        raise _refused(found, "another time")
    return pd.Timestamp(moment)


def _refused(found: str, expected: str) -> UserErrors:
    return UserErrors([UserError("campaign.yaml", None, found, expected)])


def certificates_of(folder: Path, S: Mapping, day: datetime.date) -> tuple[pd.DataFrame, str]:
    """The certificates that will be in force, and a sentence on where they come from."""
    if not (folder / "instruments.csv").is_file():
        whose = "There is no instruments.csv yet: sensors a year after an ordinary certificate are assumed."
        return expected.default_certificates(list(S["sets"])), whose
    register, _ = user_tables.read_user_table(folder / "instruments.csv", "instruments")
    found = [calibrate.in_force(register, day, step_settings.calibrate(S, name))[0] for name in S["sets"]]
    return pd.concat(found, ignore_index=True), "Certificates are those of instruments.csv."


# The plan ---------------------------------------------------------------------------------------------------


def made(
    folder: Path, S: Mapping, surfaces: Mapping, terms: Mapping, course: Mapping[str, CourseSizes]
) -> Plan:
    """The plan of a campaign folder. S: its settings. Raises UserErrors where plan.csv or the day can't be
    used."""
    fields = fields_of(folder, surfaces, S["positions"]["field_name"])
    start, end, moments = hours_of(S)
    entry = S["plan"]
    if len(S["sets"]) * len(fields) * 2 * entry["rounds"] > MOST_VISITS:
        asked_for = f"{len(S['sets'])} sets, {len(fields)} fields and {entry['rounds']} rounds"
        raise _refused(
            f"plan asks for {asked_for}", f"at most {MOST_VISITS} visits: fewer rounds, fields or sets"
        )
    certificates, whose = certificates_of(folder, S, datetime.date.fromisoformat(entry["date"]))
    given = expected.Circumstances(
        site=S["site"],
        carrying={**S["carrying"], "walking_speed": S["carrying"]["walking_speed"] or WALKING_SPEED},
        surfaces=surfaces,
        terms=terms,
        course=course,
        air=S["weather"].get("air_temperature", days.AIR),
        humidity=S["weather"].get("relative_humidity", days.HUMIDITY),
        response=segment.response_time(certificates),
    )
    day = given.sky(moments)
    inside = day[(day["time_utc"] >= start) & (day["time_utc"] <= end)].reset_index(drop=True)
    fields = with_headings(fields, inside, given.carrying)
    asked = Day(
        start,
        end,
        given.carrying["walking_speed"],
        entry["minutes_between"],
        entry["sky_monitor"],
        entry["rounds"],
        S["seed"],
    )
    visits, rounds = timetable(fields, list(S["sets"]), asked)
    segments = expected.expected_segments(visits, given)
    differences = expected.expected_differences(segments, certificates, given, S["seed"], DRAWS)
    return Plan(day, inside, fields, visits, rounds, differences, given, whose)


def with_headings(fields: pd.DataFrame, inside: pd.DataFrame, carrying: Mapping[str, float]) -> pd.DataFrame:
    """The fields with `heading` and `length` of the transect chosen, and its losses `there` and `back`."""
    chosen = [days.best_heading(free, inside, carrying) for free in fields["free"]]
    lengths = [
        long[free.index(heading)]
        for free, long, (heading, _, _) in zip(fields["free"], fields["lengths"], chosen, strict=True)
    ]
    heading, there, back = ([one[place] for one in chosen] for place in range(3))
    return fields.assign(length=lengths, heading=heading, there=there, back=back)


def context(plan: Plan, S: Mapping) -> dict[str, object]:
    """The values of the plan's page."""
    entry, zone, given = S["plan"], S["site"]["timezone"], plan.given
    start, end, _ = hours_of(S)
    beyond = plan.visits["end_utc"].max() - end
    sun = plan_figures.sun_figure(plan.day, (start, end), zone)
    heading = plan_figures.heading_figure(plan.fields, plan.inside, given.carrying)
    worst = 100.0 * days.shade_loss(plan_figures.AROUND, plan.inside, given.carrying).max(axis=1)
    return {
        "title": S["title"],
        "site": S["site"],
        "date": entry["date"],
        "start": entry["start"],
        "end": entry["end"],
        "sets": list(S["sets"]),
        "rounds": plan.rounds,
        "asked": entry["rounds"],
        "overtime": max(0, round(beyond.total_seconds() / 60.0)),
        "monitor": bool(entry["sky_monitor"]) and len(S["sets"]) > 1,
        "air": given.air,
        "humidity": given.humidity,
        "whose": plan.whose,
        "edge": f"{plan_figures.compass_edge(worst):.1f}",
        "sun_figure": page.embedded(figures.svg(sun)),
        "heading_figure": page.embedded(figures.svg(heading)),
        "fields": plan_page.field_rows(plan.fields, plan.inside, given.carrying, given.surfaces),
        "hours": plan_page.hour_rows(plan.inside, zone),
        "cheap": plan_page.cheap_hours(plan.day, zone),
        "pairs": plan_page.pair_rows(plan.differences, given.surfaces),
        "orders": plan_page.order_rows(
            orders.left_open(plan.visits, len(plan.fields), plan.rounds, given.course)
        ),
        "titles": plan_page.TITLES,
        "column_units": plan_page.UNITS,
        "visits": plan_page.visit_rows(plan.visits, zone),
        "short": days.too_short(plan.fields, given.carrying),
        "cautions": plan_page.CAUTIONS,
        "check_steps": channel_drawing.STEPS,
        "check_drawing": page.embedded(channel_drawing.drawing(COVER_SECONDS)),
        "last_word": plan_page.LAST_WORD,
        "side_minutes": SIDE_MINUTES,
        "carrying": given.carrying,
        "scatter": f"{100 * expected.GROUND_SCATTER:.1f} % and {expected.GROUND_SCATTER_K:.2f} K"
        f" in patches of {expected.PATCH:.0f} m",
    }
