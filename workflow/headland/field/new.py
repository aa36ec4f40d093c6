"""A campaign folder to fill in: settings with comments, a form for the notes, a register, and a layout worked out from a sample file.

What can't be told from a sample file is left empty or marked CHECK: a guess never stands there as if it were known.
"""

from __future__ import annotations

import csv
import datetime
import io
import itertools
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from headland.chain.notes import ACTIVITIES
from headland.physics.constants import RADIATION

SAMPLE = 400
"""Lines from the start of a file from which its layout is worked out."""
ENOUGH = 3
"""Rows of data below which nothing is worked out."""
DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars", "whitespace": "blanks"}
NUMBER = {".": r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?", ",": r"[-+]?(\d+(,\d*)?|,\d+)([eE][-+]?\d+)?"}
DATES = ("%Y-%m-%d", "%Y/%m/%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%Y%m%d", "%d.%m.%y")
CLOCKS = ("%H:%M:%S", "%H:%M:%S.%f", "%H:%M", "%H.%M.%S")
PARTS = {
    "year": ("year", "yyyy"),
    "month": ("month",),
    "day": ("day", "dom"),
    "day_of_year": ("doy", "jday", "yday"),
    "hhmm": ("hhmm",),
    "hour": ("hour", "hh"),
    "minute": ("minute", "min"),
    "second": ("second", "sec"),
}
"""Parts of a time that stand in columns of their own, with names that such columns have."""
EPOCH = (6e8, 4e9)
"""s since 1970 between which a number is taken for a time (1989 to 2096)."""

SHORTWAVE = r"short|(^|[^a-z])(sw|k|solar|glob\w*)([^a-z]|$)|^sw|^rs[du]|(^|_)sr(_|$)"
LONGWAVE = r"long|(^|[^a-z])(lw|l|ir)([^a-z]|$)|^lw|^rl[du]|(^|_)lr(_|$)"
FROM_ABOVE = r"above|top|upper|incoming|incident|downwelling|(^|[^a-z])in([^a-z]|$)|global"
FROM_BELOW = r"below|bottom|lower|outgoing|reflect|upwelling|emitted|(^|[^a-z])out([^a-z]|$)"
BODY = r"body|head|case|dome|housing|pt100|temp|(^|[^a-z])t(b|body)?([^a-z]|$)"
SUPPLY = r"batt|supply|volt|(^|[^a-z])u_?b([^a-z]|$)"
UNITS = {
    "mv": "mV",
    "uv": "uV",
    "µv": "uV",
    "w/m2": "W m-2",
    "wm-2": "W m-2",
    "w/m²": "W m-2",
    "degc": "degC",
    "°c": "degC",
    "c": "degC",
    "k": "K",
    "ohm": "ohm",
    "v": "V",
}
"""Units as exports write them, without blanks and hats, in lower case."""
IDENTITY = re.compile(
    r"(?i)^(.*?\b(?:logger|ident\w*|serial|s/?n|station|id)\b\W{0,3})([A-Za-z0-9][A-Za-z0-9_-]*)\s*$"
)


@dataclass
class Found:
    """What was worked out from a sample file. layout: as campaign.yaml holds it. doubts: keys that a person must look at, with the reason. columns: all there are."""

    layout: dict
    longwave: str
    logger_id: str
    columns: list[str]
    doubts: dict[str, str] = field(default_factory=dict)


# A layout from a sample ------------------------------------------------------------------------------------------


def _split(line: str, delimiter: str) -> list[str]:
    return (
        line.split()
        if delimiter == "whitespace"
        else [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    )


def _numbers(cells: Sequence[str], decimal: str) -> np.ndarray:
    return np.array(
        [
            float(c.replace(decimal, ".")) if re.fullmatch(NUMBER[decimal], c, re.ASCII) else np.nan
            for c in cells
        ]
    )


def _reading(lines: Sequence[str]) -> tuple[str, str, int]:
    """Delimiter, decimal mark and the index of the first row of data: the reading in which the most cells of the most rows are numbers."""
    best, chosen = (0.0,), ("", "", 0)
    for delimiter, decimal in itertools.product(DELIMITERS, NUMBER):
        if delimiter == decimal:
            continue
        rows = [_split(line, delimiter) for line in lines]
        width = Counter(len(row) for row in rows if len(row) > 1).most_common(1)
        if not width:
            continue
        width = width[0][0]
        numeric = [int(np.isfinite(_numbers(row, decimal)).sum()) if len(row) == width else 0 for row in rows]
        typical = Counter(n for n in numeric if n).most_common(1)
        if not typical:
            continue
        first = next(i for i, n in enumerate(numeric) if n >= 0.5 * typical[0][0] and n)
        score = (
            sum(numeric) / max(width, 1) if width < 4 else float(sum(numeric)),
            -list(DELIMITERS).index(delimiter),
        )
        if score > best:
            best, chosen = score, (delimiter, decimal, first)
    return chosen


def _stamps(texts: Sequence[str], form: str) -> list[datetime.datetime] | None:
    """The times of some texts by a format; None where one does not fit or they go back."""
    try:
        stamps = [datetime.datetime.strptime(text, form) for text in texts]
    except ValueError:
        return None
    return (
        stamps
        if all(a <= b for a, b in itertools.pairwise(stamps)) and 1900 <= stamps[0].year < 2200
        else None
    )


def _time_of(
    rows: Sequence[Sequence[str]], names: Sequence[str], decimal: str
) -> tuple[dict, list[float], str, set[int]]:
    """The layout's `time`, the seconds of the rows, a doubt (or nothing), and the places of its columns."""
    width, columns = len(rows[0]), list(zip(*rows))
    key = lambda place: names[place] if names else place + 1
    fits = []
    for date, clock in itertools.product(DATES, CLOCKS):
        for place in range(width):
            fits += [((place,), f"{date}{gap}{clock}", columns[place]) for gap in " T"]
        fits += [
            (
                (place, place + 1),
                f"{date} {clock}",
                [f"{a} {b}" for a, b in zip(columns[place], columns[place + 1])],
            )
            for place in range(width - 1)
        ]
    good = [(places, form, stamps) for places, form, texts in fits if (stamps := _stamps(texts, form))]
    if good:
        good.sort(key=lambda fit: (fit[2][-1] - fit[2][0], fit[0]))
        places, form, stamps = good[0]
        other = {fit[1] for fit in good if fit[0] == places} - {form}
        time = (
            {"column": key(places[0]), "format": form}
            if len(places) == 1
            else {"columns": [key(p) for p in places], "format": form}
        )
        return (
            time,
            [s.timestamp() for s in stamps],
            f"it could also be {' or '.join(sorted(other))}" if other else "",
            set(places),
        )
    lower = [name.lower() for name in names]
    parts = {part: lower.index(word) for part, words in PARTS.items() for word in words if word in lower}
    if not names and width >= 6:
        head = np.array([_numbers(column, decimal) for column in columns[:6]])
        orders = ((0, 1, 2, 3, 4), (0, 2, 3, 4, 5))  # without and with the day of the year after the year
        fits = [
            o
            for o in orders
            if np.all(np.isfinite(head))
            and 1900 <= head[0, 0] < 2200
            and np.all(head[list(o[1:])].max(axis=1) <= (12, 31, 24, 59))
        ]
        fits.sort(key=lambda o: -len(np.unique(head[list(o)], axis=1).T))
        parts = dict(zip(("year", "month", "day", "hour", "minute"), fits[0])) if fits else {}
    if "year" in parts and ("day_of_year" in parts or {"month", "day"} <= set(parts)):
        if "day_of_year" in parts:
            parts = {part: place for part, place in parts.items() if part not in ("month", "day")}
        value = lambda part: _numbers(columns[parts[part]], decimal) if part in parts else np.zeros(len(rows))
        seconds = (
            60.0 * (value("hhmm") // 100 * 60 + value("hhmm") % 100)
            + 3600.0 * value("hour")
            + 60.0 * value("minute")
            + value("second")
        )
        seconds += 86400.0 * (value("day_of_year") + value("day"))
        return (
            {part: key(place) for part, place in parts.items()},
            list(seconds),
            "" if names else "the columns have no names",
            set(parts.values()),
        )
    for place, column in enumerate(columns):
        values = _numbers(column, decimal)
        if (
            np.all(np.isfinite(values))
            and np.all(np.diff(values) >= 0)
            and EPOCH[0] < values[0] < EPOCH[1]
            and np.ptp(values) > 0
        ):
            return (
                {"column": key(place), "unit": "s", "since": "1970-01-01"},
                list(values),
                "numbers that look like seconds since 1970",
                {place},
            )
    return {}, [], "no column reads as a time", set()


def _unit(name: str, below: str) -> str:
    ending = re.search(r"_(W_m-?2|mV|uV|degC|K|V|ohm)$", name)
    for text in (
        below,
        *re.findall(r"[\[(]([^\])]+)[\])]", name),
        ending[1].replace("W_m2", "W/m2").replace("W_m-2", "W/m2") if ending else "",
    ):
        unit = UNITS.get(re.sub(r"[\s^·]|\*\*", "", text).lower().replace("⁻²", "-2"), "")
        if unit:
            return unit
    return ""


def _channels(
    names: Sequence[str], below: Sequence[str], values: np.ndarray, taken: set[int], doubts: dict
) -> dict:
    """The layout's `channels`. names: of the columns (empty where they have none). below: the line of units. values: numbers, a column a column."""
    free = [
        place
        for place in range(len(values))
        if place not in taken and np.isfinite(values[place]).mean() > 0.5
    ]
    key = lambda place: names[place] if names else place + 1
    matching = lambda pattern: [p for p in free if names and re.search(pattern, names[p], re.IGNORECASE)]
    supply = matching(SUPPLY)
    body = [p for p in matching(BODY) if p not in supply]
    channels: dict[str, dict] = {}
    for band, pattern, brighter in (("sw", SHORTWAVE, "in"), ("lw", LONGWAVE, "out")):
        own = [
            p for p in matching(pattern) if p not in supply and (band == "sw" or p not in matching(SHORTWAVE))
        ]
        own = [
            p
            for p in own
            if p not in body or _unit(names[p], below[p] if below else "") in ("mV", "uV", "W m-2")
        ]
        above = [p for p in own if re.search(FROM_ABOVE, names[p], re.IGNORECASE)]
        under = [p for p in own if re.search(FROM_BELOW, names[p], re.IGNORECASE)]
        pair = (
            {way: min(found, key=lambda p: len(names[p])) for way, found in (("in", above), ("out", under))}
            if above and under
            else {}
        )
        for way, found in (("in", above), ("out", under)):
            if pair and len(found) > 1:
                doubts[f"channels.{band}_{way}"] = (
                    f"there is also {', '.join(names[p] for p in found if p != pair[way])}"
                )
        if not pair and len(own) == 2:
            large, small = sorted(own, key=lambda p: -np.nanmean(values[p]))
            pair = {"in": large, "out": small} if brighter == "in" else {"in": small, "out": large}
            for way in pair:
                doubts[f"channels.{band}_{way}"] = (
                    f"taken from the numbers: by day {'more shortwave comes from above' if band == 'sw' else 'less longwave comes from above'}"
                )
        for way in ("in", "out"):
            if way not in pair:
                doubts[f"channels.{band}_{way}"] = (
                    "no column has a name that tells; write the column and its unit"
                )
                channels[f"{band}_{way}"] = {"column": None, "unit": None}
                continue
            place, name = pair[way], f"{band}_{way}"
            unit = _unit(names[place], below[place] if below else "")
            if unit not in ("mV", "uV", "W m-2"):
                unit = "W m-2" if np.nanmax(np.abs(values[[pair["in"], pair["out"]]])) > 60.0 else "mV"
                doubts[f"channels.{name}"] = (
                    f"no unit stands in the file; from the size of the numbers it is {unit}"
                )
            channels[name] = {"column": key(place), "unit": unit}
    used = {c["column"] for c in channels.values()}
    body = [p for p in body if key(p) not in used]
    of_head = {
        way: [p for p in body if re.search(pattern, names[p], re.IGNORECASE)]
        for way, pattern in (("in", FROM_ABOVE), ("out", FROM_BELOW))
    }
    thermometers = (
        {"body_temperature": body}
        if len(body) == 1
        else {f"body_temperature_lw_{way}": found for way, found in of_head.items()}
        if all(of_head.values())
        else {}
    )
    for name, found in thermometers.items():
        place = min(found, key=lambda p: ("dome" in names[p].lower(), len(names[p])))
        unit, typical = _unit(names[place], below[place] if below else ""), float(np.nanmedian(values[place]))
        if unit not in ("degC", "K", "ohm"):
            unit = "K" if typical > 200.0 else "ohm" if typical > 80.0 else "degC"
            doubts[f"channels.{name}"] = (
                f"no unit stands in the file; from the size of the numbers it is {unit}"
            )
        if len(found) > 1:
            doubts[f"channels.{name}"] = f"there is also {', '.join(names[p] for p in found if p != place)}"
        channels[name] = {"column": key(place), "unit": unit}
    if not thermometers:
        doubts["channels.body_temperature"] = (
            "no column has a name that tells; write the column and its unit"
            if not body
            else f"one of {', '.join(names[p] for p in body)}"
        )
        channels["body_temperature"] = {"column": None, "unit": None}
    if len(supply) == 1:
        channels["battery"] = {"column": key(supply[0]), "unit": "V"}
    return channels


def layout_of(text: str, encoding: str) -> Found | None:
    """What a sample of a logger's file tells of how it is written; None where it holds no rows of numbers.

    text: the start of the file. encoding: what it was decoded by, as the layout names it.
    """
    lines = [line for line in text.splitlines()[:SAMPLE]]
    while lines and not lines[-1].strip():
        lines.pop()
    delimiter, decimal, first = _reading(lines)
    if not delimiter or len(lines) - first < ENOUGH:
        return None
    width = Counter(len(_split(line, delimiter)) for line in lines[first:]).most_common(1)[0][0]
    rows = [row for row in (_split(line, delimiter) for line in lines[first:]) if len(row) == width]
    before = [_split(line, delimiter) for line in lines[:first]]
    wide = [i for i, row in enumerate(before) if len(row) == width]
    names_at = wide[0] if wide else None
    units_line = next((before[i] for i in wide[1:]), [])
    names = before[names_at] if names_at is not None else []
    if len(set(names)) < len(names) or "" in names:
        names = []
    doubts: dict[str, str] = {}
    time, seconds, doubt, places = _time_of(rows, names, decimal)
    if doubt:
        doubts["time"] = doubt
    steps = np.diff(seconds)
    steps = steps[steps > 0]
    interval = float(np.median(steps)) if len(steps) else 1.0
    if not len(steps):
        doubts["interval"] = "it could not be told from the times"
    values = np.array([_numbers(column, decimal) for column in zip(*rows)])
    channels = _channels(names, units_line, values, places, doubts)
    odd = Counter(
        cell
        for column, v in zip(zip(*rows), values)
        if np.isfinite(v).mean() > 0.5
        for cell, x in zip(column, v)
        if not np.isfinite(x)
    )
    layout = {
        "delimiter": delimiter,
        "decimal": decimal,
        "encoding": encoding,
        "skip_lines": names_at if names else first,
        "names": bool(names),
        "lines_after_names": first - names_at - 1 if names else 0,
        "missing": list(dict.fromkeys(["", "NaN", *odd])),
        "interval": interval,
        "time": time or {"column": None, "format": None},
        "stamp": "end",
        "channels": channels,
    }
    doubts["stamp"] = (
        "no file tells: does the time name the start or the end of the interval that was averaged, or an instant?"
    )
    logger_id = ""
    for number, line in enumerate(lines[:first], 1):
        match = IDENTITY.match(line)
        if match and len(match[2]) <= 40 and number - 1 != names_at:
            logger_id = match[2]
            layout["identity"] = {
                "logger_id": {
                    "line": number,
                    "pattern": re.escape(match[1]).replace("\\ ", " ") + "([A-Za-z0-9_-]+)",
                }
            }
            break
    if not logger_id:
        doubts["logger_id"] = "the file names none"
    incoming = channels["lw_in"]
    longwave = "net"
    if incoming["unit"] == "W m-2":
        place = names.index(incoming["column"]) if names else incoming["column"] - 1
        longwave = "corrected" if np.nanmedian(values[place]) > 150.0 else "net"
        doubts["longwave"] = (
            f"from the size of the numbers: the incoming longwave is about {np.nanmedian(values[place]):.0f} W m-2"
        )
    return Found(layout, longwave, logger_id, names or [str(n + 1) for n in range(width)], doubts)


# The files of a new folder ---------------------------------------------------------------------------------------


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
    text = str(value).replace("\\", "\\\\").replace('"', '\\"').replace("\t", "\\t")
    return f'"{text}"'


LAYOUT_WORDS = {
    "delimiter": "the character between two fields, or whitespace",
    "decimal": "the decimal mark",
    "encoding": "how the text is stored",
    "skip_lines": "lines before the line of column names",
    "names": "whether a line holds the column names; false: columns by position, from 1",
    "lines_after_names": "such as a line of units",
    "missing": "what stands in a field without a value",
    "interval": "seconds from one record to the next",
    "time": "the logger's own clock",
    "stamp": "start | end | instant: which moment of its interval a time names",
    "identity": "where the file names its logger",
}


def layout_lines(found: Found) -> list[str]:
    """A layout as lines of YAML, each key explained, what is doubtful marked CHECK."""

    def line(key: str, value: object, words: str, path: str) -> str:
        doubt = found.doubts.get(path)
        return (
            f"{key}: {scalar(value)}".rstrip()
            + (f"   # {words}" if words else "")
            + (f"{'; ' if words else '   # '}CHECK: {doubt}" if doubt else "")
        )

    lines = []
    for key, value in found.layout.items():
        if key == "channels":
            lines.append(f"channels:   # columns of the file: {', '.join(found.columns)}")
            lines += [
                "  " + line(name, channel if channel["column"] is not None else None, "", f"channels.{name}")
                for name, channel in value.items()
            ]
        else:
            lines.append(
                line(
                    key,
                    value if key != "time" or None not in value.values() else None,
                    LAYOUT_WORDS.get(key, ""),
                    key,
                )
            )
    return lines


def campaign_yaml(sets: Mapping[str, Found | None], title: str) -> str:
    """campaign.yaml, to be filled in: an empty value is one that the check asks for."""
    lines = [
        "# A campaign: fill in what is empty, and see to what is marked CHECK. config/README.md explains every key.",
        "# Lines that begin with # are for you; the tool does not read them.",
        "",
        f"title: {scalar(title)}",
        "site:",
        "  name:            # of the place",
        "  latitude:        # degrees, north positive, such as 46.95",
        "  longitude:       # degrees, east positive, such as 7.44",
        "  elevation:       # m above the sea",
        "  timezone:        # of the place, such as Europe/Zurich",
        "sets:              # one entry a set, by the name that the notes use",
    ]
    for name, found in sets.items():
        doubts = found.doubts if found else {}
        lines += [
            f"  {name}:",
            f"    logger_id: {scalar(found.logger_id or None) if found else ''}".rstrip()
            + "   # as on the logger and in instruments.csv"
            + (f"; CHECK: {doubts['logger_id']}" if "logger_id" in doubts else ""),
            '    utc_offset:              # of the logger\'s clock, fixed, such as "+01:00"; set the clock to UTC and write "+00:00"',
            f'    files: "logger/{name}*"    # the raw files of this set, as they came off the logger',
            f"    longwave: {found.longwave if found else 'net'}            # net: as the head senses it; corrected: the logger has added the own emission"
            + (f"; CHECK: {doubts['longwave']}" if "longwave" in doubts else ""),
        ]
        if found:
            lines += [
                "    layout:                  # how the file is written, worked out from a sample",
                *("      " + line for line in layout_lines(found)),
            ]
        else:
            lines.append(
                "    layout: comma-clock      # a file in config/layouts, or the keys of one written here (or: new FOLDER --from-file FILE)"
            )
    lines += [
        "notes:",
        '  shift: "00:00:00"   # added to the times as noted, where the watch was wrong',
        "carrying:",
        "  sensor_height: 1.5     # m, of the heads over the ground",
        "  reach: 1.2             # m, from the carrier to the heads",
        "  carrier_height: 1.75   # m",
        "  carrier_width: 0.5     # m",
        "  walking_speed: 0.8     # m s-1; 0 where nobody walks",
        "# weather: {air_temperature: 18.0, relative_humidity: 60}   # where there is no weather.csv",
        "",
    ]
    return "\n".join(lines)


def register_csv(sets: Mapping[str, str], columns: Sequence[str]) -> str:
    """instruments.csv with a row for every head, to be filled in from the certificates. sets: logger by set."""
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, columns, lineterminator="\n")
    writer.writeheader()
    for name, logger in sets.items():
        for channel in RADIATION:
            writer.writerow(
                {"set": name, "logger_id": logger, "channel": channel, "factor_unit": "W m-2 per mV"}
            )
    return stream.getvalue()


def guide(sets: Sequence[str], surfaces: Mapping[str, str], folder: str) -> str:
    """The page that goes into the folder. surfaces: labels by class."""
    classes = ", ".join(f"`{name}`" for name in surfaces)
    return f"""# From this folder to a report

**Before.** Fill in `campaign.yaml` (what is empty, what is marked CHECK) and `instruments.csv` (serial number, factor and date from each certificate; one more row where a head has an older one). Set the loggers' clocks.

**In the field.** Write into `notes.xlsx`, one row an interval: set ({", ".join(sets)}), start and end by one watch, field (its name), surface (its class), heading.
1. Clock check: activity `clock_check`, start = the watch, logger_shows = the logger's clock. Once at the start, once at the end.
2. Both sets side by side for five minutes (`side_by_side`).
3. Field after field: storage on, walk 60 m or more, storage off; there and back, more than one transect.

Classes of surfaces: {classes}.

**After.** Copy the raw files, unchanged, into `logger/`. Weather of the day, if you have it: `weather.csv` (time_utc, air_temperature, relative_humidity, pressure, wind_speed). Then:

    python3 scripts/headland.py report {folder}

What is wrong is told line by line: file, line, what was found, what was expected. Mend it and run the same command again. An empty cell that you can't fill is better than a guess.

**Cautions.** Heat and sun; no raised mast when thunder is about; traffic, livestock, water, uneven ground; ask permission to enter. Local rules and the responsible person decide.
"""


def notes_form(columns: Sequence[Mapping], sets: Sequence[str], surfaces: Mapping[str, str]):
    """The notes form as a workbook (openpyxl): lists to choose from, times and dates that are checked as they are typed. columns: fields of the notes' schema."""
    import openpyxl
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    book = openpyxl.Workbook()
    sheet, lists = book.active, book.create_sheet("lists")
    sheet.title = "notes"
    choices = {
        "set": list(sets),
        "surface": list(surfaces),
        "activity": list(ACTIVITIES),
        "sky": ["clear", "broken", "overcast"],
    }
    for place, (name, values) in enumerate(choices.items(), 1):
        lists.cell(1, place, name).font = Font(bold=True)
        for row, value in enumerate(values, 2):
            lists.cell(row, place, value)
        lists.column_dimensions[get_column_letter(place)].width = 18
    rows = FORM_ROWS
    for place, entry in enumerate(columns, 1):
        name, letter = entry["name"], get_column_letter(place)
        head = sheet.cell(1, place, name)
        head.font, head.fill, head.alignment = (
            Font(bold=True),
            PatternFill("solid", fgColor="F3F1EC"),
            Alignment(wrap_text=True),
        )
        sheet.column_dimensions[letter].width = (
            22 if name in ("field", "remark") else 16 if name in choices else 11
        )
        check = None
        if name in choices:
            place_of = get_column_letter(list(choices).index(name) + 1)
            check = DataValidation(
                type="list",
                formula1=f"lists!${place_of}$2:${place_of}${len(choices[name]) + 1}",
                allow_blank=True,
            )
            check.error = f"Choose from the list: {', '.join(choices[name])[:180]}."
        elif name in ("start", "end", "logger_shows"):
            check = DataValidation(
                type="time", operator="between", formula1="0", formula2="0.999988426", allow_blank=True
            )
            check.error = "A time of day such as 09:31 or 09:31:20."
        elif name == "date":
            check = DataValidation(type="date", operator="greaterThan", formula1="36526", allow_blank=True)
            check.error = "A date such as 2026-05-21."
        elif entry["type"] == "number":
            limits = entry["constraints"]
            check = DataValidation(
                type="decimal",
                operator="between",
                formula1=str(limits["minimum"]),
                formula2=str(limits["maximum"]),
                allow_blank=True,
            )
            check.error = f"A number from {limits['minimum']} to {limits['maximum']} ({entry['unit']})."
        if check is not None:
            check.errorTitle, check.showErrorMessage = name.replace("_", " "), True
            check.promptTitle, check.prompt, check.showInputMessage = (
                name.replace("_", " "),
                entry["description"][:250],
                True,
            )
            sheet.add_data_validation(check)
            check.add(f"{letter}2:{letter}{rows}")
        form = {"start": "hh:mm:ss", "end": "hh:mm:ss", "logger_shows": "hh:mm:ss", "date": "yyyy-mm-dd"}.get(
            name, "@" if entry["type"] == "string" and name not in choices else "General"
        )
        for row in range(2, rows + 1):
            sheet.cell(row, place).number_format = form
    sheet.freeze_panes = "A2"
    return book


FORM_ROWS = 120
"""Rows of the notes form that are checked as they are filled in."""


# Packs for groups ------------------------------------------------------------------------------------------------


def dealt(groups: pd.DataFrame, surfaces: Sequence[str]) -> dict[str, list[str]]:
    """The surfaces of each group: those that its row names (separated by blanks or semicolons); where no row names any, all are dealt out in turn."""
    given = {
        row["group"]: [s for s in re.split(r"[;\s]+", row["surfaces"]) if s]
        for row in groups.to_dict("records")
    }
    if any(given.values()):
        return given
    names = list(given)
    return {
        name: [s for i, s in enumerate(surfaces) if i % len(names) == count]
        or [surfaces[count % len(surfaces)]]
        for count, name in enumerate(names)
    }


def answers_form(group: str, surfaces: Sequence[str], quantities: Mapping[str, str]) -> str:
    """The table that a group fills in, as `answers` reads it. quantities: units by quantity."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(("who", "surface", "quantity", "value", "unit", "uncertainty"))
    writer.writerows(
        (group, surface, quantity, "", unit, "")
        for surface in surfaces
        for quantity, unit in quantities.items()
    )
    return stream.getvalue()
