"""A layout worked out from the start of a logger's file.

What the file does not show is left empty or marked CHECK: a guess is never written as if it were known.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from headland.field.channel_words import means
from headland.field.sample_channels import channels_of
from headland.field.sample_text import Sheet, sheet_of, start_of
from headland.field.sample_times import times_of

NAME_OF_LOGGER = re.compile(r"(?<![^\W_])[A-Za-z0-9][A-Za-z0-9_.-]{0,39}(?![^\W_])")
KEY_BEFORE = re.compile(r"((?:[^\W\d_][^\s:=;,\t|]*[ ]){0,3}[^\W\d_][^\s:=;,\t|]*)[\s:=;,|#\"']+$")
"""Up to four words, and what separates them from the name that follows."""
NAMING = ("logger", "station")
"""Meanings of the words before a logger's name, the surer first."""
CORRECTED = 150.0
"""W m-2: incoming longwave above this has its own emission added (common practice, no source)."""
STAMP = "no file shows it: does the time name the start or the end of the averaged interval, or an instant?"


@dataclass
class Found:
    """What was worked out from a sample.

    layout: as campaign.yaml holds it. doubts: keys that a person must check, with the reason. columns: all
    there are. sheet: the sample as it was read.
    """

    layout: dict
    longwave: str
    logger_id: str
    columns: list[str]
    doubts: dict[str, str] = field(default_factory=dict)
    sheet: Sheet | None = None


def layout_of(text: str, encoding: str) -> Found | None:
    """What the start of a logger's file shows of how it is written; None where it holds no rows of numbers.

    encoding: what the text was decoded by, as a layout names it.
    """
    sheet = sheet_of(text)
    if sheet is None:
        return None
    times = times_of(sheet)
    found = channels_of(sheet, times.places)
    doubts = {**({"time": times.doubt} if times.doubt else {}), **found.doubts, "stamp": STAMP}
    steps = np.diff(times.seconds)
    steps = steps[steps > 0]
    if not len(steps):
        doubts["interval"] = "the times do not show it"
    names_at = sheet.names_at
    layout = {
        "delimiter": sheet.delimiter,
        "decimal": sheet.decimal,
        "encoding": encoding,
        "skip_lines": names_at if names_at is not None else sheet.first,
        "names": bool(sheet.names),
        "lines_after_names": sheet.first - names_at - 1 if names_at is not None else 0,
        "missing": ["", "NaN", *_missing(sheet)],
        "interval": float(np.median(steps)) if len(steps) else 1.0,
        "time": times.time or {"column": None, "format": None},
        "stamp": "end",
        "channels": found.channels,
    }
    logger_id, line, pattern = _identity(sheet)
    if line:
        layout["identity"] = {"logger_id": {"line": line, "pattern": pattern}}
    elif logger_id:
        doubts["logger_id"] = "taken from a column of the file"
    else:
        doubts["logger_id"] = "the file names none"
    longwave, doubt = _longwave(sheet, found.channels["lw_in"])
    if doubt:
        doubts["longwave"] = doubt
    columns = sheet.names or [str(place + 1) for place in range(sheet.width)]
    return Found(layout, longwave, logger_id, columns, doubts, sheet)


def found_in(path: Path) -> Found | None:
    """The layout of a file. Raises UserErrors where it is no text."""
    return layout_of(*start_of(path))


def _missing(sheet: Sheet) -> list[str]:
    """The texts in columns of numbers that are no numbers."""
    odd = Counter(
        cell
        for column, values in zip(sheet.columns, sheet.values, strict=True)
        if np.isfinite(values).mean() > 0.5
        for cell, value in zip(column, values, strict=True)
        if not np.isfinite(value)
    )
    return [text for text in odd if text not in ("", "NaN")]


def _longwave(sheet: Sheet, incoming: dict) -> tuple[str, str]:
    """Whether the logger has added the own emission, and what is doubtful about it."""
    if incoming["unit"] != "W m-2":
        return "net", ""
    column = incoming["column"]
    place = sheet.names.index(column) if sheet.names else column - 1
    typical = float(np.nanmedian(sheet.values[place]))
    way = "corrected" if typical > CORRECTED else "net"
    return way, f"from the size of the numbers: the incoming longwave is about {typical:.0f} W m-2"


def _identity(sheet: Sheet) -> tuple[str, int, str]:
    """The logger's name, the line that holds it (0 where a column does), and the pattern that finds it."""
    before = [(n, line) for n, line in enumerate(sheet.lines[: sheet.first], 1) if n - 1 != sheet.names_at]
    for meaning in NAMING:
        for number, line in before:
            name, pattern = _named_in(line, meaning)
            if name:
                return name, number, pattern
    for place, column in enumerate(sheet.names):
        values = set(sheet.columns[place])
        if means(column, "logger") and len(values) == 1 and NAME_OF_LOGGER.fullmatch(min(values)):
            return min(values), 0, ""
    return "", 0, ""


def _named_in(line: str, meaning: str) -> tuple[str, str]:
    """The name that follows a word for the logger in a line, and the pattern that finds it there."""
    for value in NAME_OF_LOGGER.finditer(line):
        key = KEY_BEFORE.search(line[: value.start()])
        is_key = any(means(value[0], one) for one in NAMING)
        if key and not is_key and _is_name(value[0]) and means(key[1], meaning):
            before = re.escape(key[0]).replace(r"\ ", " ").replace("\\\t", r"\t")
            return value[0], before + "([A-Za-z0-9_.-]+)"
    return "", ""


def _is_name(text: str) -> bool:
    """Whether a word may be the name of a logger: it holds a digit, or is written in capitals."""
    return any(c.isdigit() for c in text) or text.isupper()
