"""The start of a logger's file as text and as rows: its encoding, delimiter, decimal mark and the lines
before the data."""

from __future__ import annotations

import csv
import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from headland.base.errors import refuse
from headland.base.units import unit_of
from headland.field.channel_words import means

BYTES = 200_000
"""Bytes from the start of a file that are looked at."""
LINES = 400
"""Lines from the start of a file that are looked at."""
ENOUGH = 3
"""Rows of data below which nothing is worked out."""
DELIMITERS = (",", ";", "\t", "|", "whitespace", "#", "~", "^", "&", "!", "§", ":", "/")
NUMBER = {".": r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?", ",": r"[-+]?(\d+(,\d*)?|,\d+)([eE][-+]?\d+)?"}
MOSTLY = 0.5
"""Share of the usual number of numbers in a row from which a row counts as data."""
WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff")
KNOWN = (
    *("shortwave", "longwave", "body", "air", "supply", "time"),
    *("year", "month", "day", "day_of_year", "hour", "minute", "second"),
)
"""Meanings of the columns that a logger writes."""


def start_of(path: Path) -> tuple[str, str]:
    """The start of a file as text, and its encoding as layouts name it. Raises UserErrors for what is no
    text."""
    if not path.is_file():
        raise refuse(str(path), None, "no such file", "a file as it came off the logger")
    raw = path.read_bytes()[:BYTES]
    if b"\0" in raw and raw[:2] not in WIDE_MARKS:
        codecs: tuple[str, ...] = (
            ("utf-16-le",) if raw[1:200:2].count(0) > raw[:200:2].count(0) else ("utf-16-be",)
        )
    else:
        codecs = ("utf-16",) if raw[:2] in WIDE_MARKS else ("utf-8-sig", "cp1252")
    whole = raw if "utf-16" in codecs[0] else raw[: raw.rfind(b"\n") + 1] or raw
    whole = whole[: len(whole) // 2 * 2] if "utf-16" in codecs[0] else whole
    for codec in codecs:
        try:
            text = whole.decode(codec)
        except UnicodeError:
            continue
        if "\0" not in text:
            return text, "utf-16" if codec.startswith("utf-16") else codec.removesuffix("-sig")
    expected = "the data exported from the logger as delimited text"
    raise refuse(str(path), None, "the file is not text", expected)


def split(line: str, delimiter: str) -> list[str]:
    """The cells of a line."""
    if delimiter == "whitespace":
        return line.split()
    return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]


def numbers(cells: Sequence[str], decimal: str) -> np.ndarray:
    """Cells as numbers, NaN where one is none."""
    known = [bool(re.fullmatch(NUMBER[decimal], cell, re.ASCII)) for cell in cells]
    values = [
        float(cell.replace(decimal, ".")) if is_one else np.nan
        for cell, is_one in zip(cells, known, strict=True)
    ]
    return np.array(values)


@dataclass(frozen=True)
class Sheet:
    """The start of a file read in one way. first: index of the first row of data."""

    lines: list[str]
    delimiter: str
    decimal: str
    first: int

    @cached_property
    def _split(self) -> list[list[str]]:
        return [split(line, self.delimiter) for line in self.lines]

    @cached_property
    def width(self) -> int:
        """Columns of most rows of data; empty lines are none."""
        widths = Counter(len(row) for row in self._split[self.first :] if row)
        return widths.most_common(1)[0][0] if widths else 0

    @cached_property
    def rows(self) -> list[list[str]]:
        """The rows of data."""
        return [row for row in self._split[self.first :] if row and len(row) == self.width]

    @cached_property
    def columns(self) -> list[tuple[str, ...]]:
        return list(zip(*self.rows, strict=True))

    @cached_property
    def values(self) -> np.ndarray:
        """The data as numbers, a column a row."""
        return np.array([numbers(column, self.decimal) for column in self.columns])

    @cached_property
    def header(self) -> list[list[str]]:
        """The lines before the data, as cells; the line of names may lack cells at its end."""
        return [_without_empty_end(row, self.width) for row in self._split[: self.first]]

    @cached_property
    def names_at(self) -> int | None:
        """Index of the line of names: of as many different cells as the data, the most of which name what
        loggers write.

        Where no line names anything known, the last one that is no line of units.
        """
        wide = [
            index
            for index, row in enumerate(self.header)
            if len(row) == self.width and len(set(row)) == self.width and "" not in row
        ]
        wide = [index for index in wide if not _is_units(self.header[index]) and not self._is_data(index)]
        if not wide:
            return None
        return max(wide, key=lambda index: (_named(self.header[index]), index))

    def _is_data(self, index: int) -> bool:
        return bool(np.isfinite(numbers(self.header[index], self.decimal)).sum() > MOSTLY * self.width)

    @cached_property
    def names(self) -> list[str]:
        """The columns' names; none where the file has no line of names."""
        return self.header[self.names_at] if self.names_at is not None else []

    @cached_property
    def units(self) -> list[str]:
        """The cells of the line of units, as many as columns; empty ones where the file has no such line."""
        after = self.header[self.names_at + 1 :] if self.names_at is not None else []
        wide = [row for row in after if len(row) == self.width and any(unit_of(cell) for cell in row)]
        return max(wide, key=lambda row: sum(bool(unit_of(cell)) for cell in row), default=[""] * self.width)

    def key(self, place: int) -> str | int:
        """How a layout names a column: by its name, or by its position from 1."""
        return self.names[place] if self.names else place + 1


def _without_empty_end(row: list[str], width: int) -> list[str]:
    """A row without the empty cells beyond the data's columns."""
    while len(row) > width and not row[-1]:
        row = row[:-1]
    return row


def _is_units(row: Sequence[str]) -> bool:
    filled = [cell for cell in row if cell]
    return sum(bool(unit_of(cell)) for cell in filled) >= max(2, 0.5 * len(filled))


def _named(row: Sequence[str]) -> int:
    """How many cells name something that loggers write."""
    return sum(any(means(cell, meaning) for meaning in KNOWN) for cell in row)


def sheet_of(text: str) -> Sheet | None:
    """The reading of a file in which the most cells of the most rows are numbers; None where it holds no rows
    of numbers."""
    lines = text.splitlines()[:LINES]
    while lines and not lines[-1].strip():
        lines.pop()
    best: tuple[tuple[float, ...], Sheet] | None = None
    for delimiter, decimal in itertools.product(DELIMITERS, NUMBER):
        if delimiter != decimal:
            scored = _scored(lines, delimiter, decimal)
            if scored and (best is None or scored[0] > best[0]):
                best = scored
    if best is None or len(lines) - best[1].first < ENOUGH or len(best[1].rows) < ENOUGH:
        return None
    return best[1]


def _scored(lines: list[str], delimiter: str, decimal: str) -> tuple[tuple[float, ...], Sheet] | None:
    """A reading with its score: the numbers in it, then the plainer delimiter."""
    rows = [split(line, delimiter) for line in lines]
    common = Counter(len(row) for row in rows if len(row) > 1).most_common(1)
    if not common:
        return None
    width = common[0][0]
    counts = [int(np.isfinite(numbers(row, decimal)).sum()) if len(row) == width else 0 for row in rows]
    typical = Counter(count for count in counts if count).most_common(1)
    if not typical:
        return None
    first = next(i for i, count in enumerate(counts) if count and count >= MOSTLY * typical[0][0])
    total = sum(counts) / max(width, 1) if width < 4 else float(sum(counts))
    return (total, -DELIMITERS.index(delimiter)), Sheet(lines, delimiter, decimal, first)
