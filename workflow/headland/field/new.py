"""The files of a new campaign folder: settings with comments, a register and a guide, to be filled in."""

from __future__ import annotations

import csv
import io
import shlex
from collections.abc import Mapping, Sequence

from headland.field.sample import Found
from headland.physics.constants import RADIATION

LAYOUT_WORDS = {
    "delimiter": "the character between two fields, or whitespace",
    "decimal": "the decimal mark",
    "encoding": "how the text is stored; auto: found for each file",
    "skip_lines": "lines before the line of column names",
    "names": "whether a line holds the column names; false: columns by position, from 1",
    "lines_after_names": "such as a line of units",
    "missing": "what is in a field without a value",
    "interval": "seconds from one record to the next",
    "time": "the logger's own clock",
    "stamp": "start | end | instant: which moment of its interval a time names",
    "identity": "where the file names its logger",
}
HEAD = """\
# A campaign: fill in what is empty, and check what is marked CHECK.
# config/README.md explains every key.
# Lines that begin with # are for you; the tool does not read them.
"""
SITE = """\
site:
  name:            # of the place
  latitude:        # degrees, north positive, such as 46.95
  longitude:       # degrees, east positive, such as 7.44
  elevation:       # m above the sea
  timezone:        # of the place, such as Europe/Zurich
sets:              # one entry a set, by the name that the notes use"""
REST = """\
notes:
  shift: "00:00:00"   # added to the times as noted, where the watch was wrong
carrying:
  sensor_height: 1.5     # m, of the heads over the ground
  reach: 1.2             # m, from the carrier to the heads
  carrier_height: 1.75   # m
  carrier_width: 0.5     # m
  walking_speed: 0.8     # m s-1; 0 where nobody walks
# weather: {air_temperature: 18.0, relative_humidity: 60}   # where there is no weather.csv
# plan: {date: "2026-05-21", start: "10:00", end: "15:00"}   # the day to plan for, with plan.csv
"""
OFFSET = (
    "    utc_offset:              # of the logger's clock, fixed, such as "
    '"+01:00"; "+00:00" for a clock on UTC'
)
LONGWAVE = "net: as the head senses it; corrected: the logger has added the own emission"
NO_LAYOUT = (
    "    layout: comma-clock      # a file in config/layouts, or its keys written here"
    " (or: new FOLDER --from-file FILE)"
)
ESCAPES = str.maketrans({"\\": "\\\\", '"': '\\"', "\t": "\\t"})


def scalar(value: object) -> str:
    """A value as YAML writes it on one line; nothing where a person has to fill it in."""
    match value:
        case None:
            return ""
        case bool():
            return str(value).lower()
        case int():
            return str(value)
        case float():
            return f"{value:g}" if value != int(value) else f"{value:.1f}"
        case list():
            return "[" + ", ".join(scalar(v) for v in value) + "]"
        case Mapping():
            return "{" + ", ".join(f"{k}: {scalar(v)}" for k, v in value.items()) + "}"
    return f'"{str(value).translate(ESCAPES)}"'


def _line(key: str, value: object, words: str, doubt: str) -> str:
    """A key of a layout with its explanation, marked CHECK where it is doubtful."""
    said = "; ".join(part for part in (words, f"CHECK: {doubt}" if doubt else "") if part)
    return f"{key}: {scalar(value)}".rstrip() + (f"   # {said}" if said else "")


def layout_lines(found: Found) -> list[str]:
    """A layout as lines of YAML, each key explained."""
    lines = []
    for key, value in found.layout.items():
        if key == "channels":
            lines.append(f"channels:   # columns of the file: {', '.join(found.columns)}")
            for name, channel in value.items():
                known = channel if channel["column"] is not None else None
                lines.append("  " + _line(name, known, "", found.doubts.get(f"channels.{name}", "")))
            continue
        known = None if isinstance(value, Mapping) and None in value.values() else value
        lines.append(_line(key, known, LAYOUT_WORDS.get(key, ""), found.doubts.get(key, "")))
    return lines


def campaign_yaml(
    sets: Mapping[str, Found | None], title: str, files: Mapping[str, str] | None = None
) -> str:
    """campaign.yaml, to be filled in: the check asks for each empty value.

    files: the pattern of each set's raw files.
    """
    lines = [HEAD, f"title: {scalar(title)}", SITE]
    for name, found in sets.items():
        lines += _set_lines(name, found, (files or {}).get(name, f"logger/{name}*"))
    return "\n".join([*lines, REST])


def _set_lines(name: str, found: Found | None, files: str) -> list[str]:
    doubts = found.doubts if found else {}
    logger = scalar(found.logger_id or None) if found else ""
    lines = [
        f"  {name}:",
        f"    logger_id: {logger}".rstrip()
        + "   # as on the logger and in instruments.csv"
        + (f"; CHECK: {doubts['logger_id']}" if "logger_id" in doubts else ""),
        OFFSET,
        f"    files: {scalar(files)}    # the raw files of this set, as they came off the logger",
        f"    longwave: {found.longwave if found else 'net'}            # {LONGWAVE}"
        + (f"; CHECK: {doubts['longwave']}" if "longwave" in doubts else ""),
    ]
    if found is None:
        return [*lines, NO_LAYOUT]
    head = "    layout:                  # how the file is written, worked out from a sample"
    return [*lines, head, *("      " + line for line in layout_lines(found))]


def register_csv(sets: Mapping[str, str], columns: Sequence[str]) -> str:
    """instruments.csv with a row for every head, to be filled in from certificates. sets: logger by set."""
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, columns, lineterminator="\n")
    writer.writeheader()
    for name, logger in sets.items():
        for channel in RADIATION:
            row = {"set": name, "logger_id": logger, "channel": channel, "factor_unit": "W m-2 per mV"}
            writer.writerow(row)
    return stream.getvalue()


GUIDE = """\
# From this folder to a report

**The day before, if you like.** Write the fields into `plan.csv`, a row each: field (its name), surface (its
class), length (m that can be walked), headings (such as `80` or `60-120`; empty: any). Such as
`Lower meadow,short_grass,85,60-120,`. Set `plan` in `campaign.yaml` to the day. Then

    python3 scripts/headland.py plan {folder}

makes the plan, a form on paper (a page a set) and `phone.html` with the planned visits.

**Before.** Fill in `campaign.yaml` (what is empty, what is marked CHECK) and `instruments.csv`: serial
number, factor and date from each certificate, and one more row where a head has an older one. Set the
loggers' clocks. Then look at how the files are read:

    python3 scripts/headland.py new {folder} --preview

**In the field.** Write into `notes.xlsx`, or open `phone.html` in the browser of a phone: it needs no
network, a button notes each time, and it saves `notes.csv`. Keep one of the two files of notes. One row an
interval: set ({sets}), start and end by one watch,
field (its name), surface (its class), heading.
1. Clock check: activity `clock_check`, start = the watch, logger_shows = the logger's clock. Once at the
   start, once at the end.
2. Both sets side by side for five minutes (`side_by_side`).
3. Field after field: storage on, walk 60 m or more, storage off; there and back, more than one transect.
   Passes beside each other get a number each in the column `transect`.

Classes of surfaces: {classes}.

**After.** Copy the raw files, unchanged, into `logger/`. Weather of the day, if you have it: `weather.csv`
(time_utc, air_temperature, relative_humidity, pressure, wind_speed). Then:

    python3 scripts/headland.py report {folder}

Every fault has its own line: file, line, what was found, what was expected. Correct it and run the same
command again. An empty cell that you can't fill is better than a guess.

**Cautions.** Heat and sun; no raised mast when thunder is about; traffic, livestock, water, uneven ground;
ask permission to enter. Local rules and the responsible person decide.
"""


def plan_csv(columns: Sequence[str]) -> str:
    """plan.csv with its line of names, to be filled in with a row a field."""
    return ",".join(columns) + "\n"


def guide(sets: Sequence[str], surfaces: Mapping[str, str], folder: str) -> str:
    """The page that goes into the folder. surfaces: labels by class."""
    classes = ", ".join(f"`{name}`" for name in surfaces)
    return GUIDE.format(folder=shlex.quote(folder), sets=", ".join(sets), classes=classes)
