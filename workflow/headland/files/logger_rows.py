"""Rows of a logger's file as values and stamps, and the findings on lines that are no rows."""

from __future__ import annotations

import datetime
import itertools
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from headland.base.findings import Finding
from headland.files.logger_stamps import (
    PARTS,
    SECONDS,
    counted_stamps,
    decimals_of,
    format_resolution,
    formatted_stamps,
    spread_rounded_stamps,
    spread_shared_stamps,
    stamps_from_parts,
    used_parts,
)
from headland.files.logger_text import UNDECODABLE, cells_of, is_blank, shown, widths

LISTED = 5
"""Damaged lines whose numbers a finding lists."""


NUMBER = {mark: rf"^[+-]?(?:[0-9]+(?:[{mark}][0-9]*)?|[{mark}][0-9]+)(?:[eE][+-]?[0-9]+)?$" for mark in ".,"}
"""What a logger writes as a number, by decimal mark: no hexadecimal, no grouped digits, no words."""


@dataclass(frozen=True)
class Reading:
    """A layout as it applies to one file: where each value is in a row (from 0), and how it is written.

    channels: columns of the channels, in the layout's order. clock: columns of the time by key of the layout.
    """

    delimiter: str
    decimal: str
    missing: tuple[str, ...]
    width: int
    channels: Mapping[str, int]
    clock: Mapping[str, int]
    time: Mapping
    interval: float

    @property
    def numeric_clock(self) -> bool:
        return "format" not in self.time

    @property
    def zoned(self) -> bool:
        """Whether the stamps carry their own zone, so that the clock's declared offset is not applied."""
        if self.numeric_clock:
            return (
                "since" in self.time
                and datetime.datetime.fromisoformat(self.time["since"]).tzinfo is not None
            )
        return bool(re.search(r"%[zZ]", self.time["format"]))


@dataclass(frozen=True)
class Parsed:
    """Rows as values, one array a channel, and which rows are sound.

    stamps: microseconds since 1970 by the logger's clock. resolution: the finest that they tell, s.
    """

    values: list[np.ndarray]
    stamps: np.ndarray
    resolution: float
    numbers_sound: np.ndarray
    time_sound: np.ndarray


def read_rows(
    batches: Iterable[tuple[list[str], bool]], reading: Reading, header: Sequence[str], report: Callable
) -> tuple[list[np.ndarray], np.ndarray, np.ndarray, list[Finding]]:
    """Values by channel, stamps, line numbers, and the findings about lines that are no rows.

    batches: the lines after the header, as `batches_of` gives them.
    """
    headers = {line.strip() for line in header if not is_blank(line)}
    values: list[list[np.ndarray]] = []
    stamps: list[np.ndarray] = []
    numbers: list[np.ndarray] = []
    resolutions: list[float] = []
    blank = blank_at_end = repeated = 0
    damage = _Damage()
    number = len(header)
    for lines, cut in batches:
        cells = cells_of(lines, reading.delimiter)
        fitting = np.fromiter((UNDECODABLE not in line for line in lines), bool, len(lines))
        fitting &= widths(cells) == reading.width
        parsed = parse(cells.filter(pa.array(fitting)), reading)
        sound = parsed.numbers_sound & parsed.time_sound
        kept = fitting.copy()
        kept[fitting] = sound
        values.append([column[sound] for column in parsed.values])
        stamps.append(parsed.stamps[sound])
        numbers.append(number + 1 + np.flatnonzero(kept))
        if sound.any():
            resolutions.append(parsed.resolution)
        for i in np.flatnonzero(~kept).tolist():
            if is_blank(lines[i]):
                blank += 1
            elif lines[i].strip() in headers:
                repeated += 1
            else:
                damage.add(number + 1 + i, lines[i], cells[i].as_py(), cut and i == len(lines) - 1, reading)
        trailing = sum(1 for _ in itertools.takewhile(is_blank, reversed(lines)))
        blank_at_end = trailing + (blank_at_end if trailing == len(lines) else 0)
        number += len(lines)
    line_numbers = np.concatenate(numbers)
    findings = damage.findings(int(line_numbers[-1]) if len(line_numbers) else 0, report)
    if repeated or blank > blank_at_end:
        findings.append(report("lines-skipped", facts={"blank": blank - blank_at_end, "repeated": repeated}))
    joined = np.concatenate(stamps)
    if len(joined):
        joined = spread_shared_stamps(joined, min(resolutions), reading.interval)
        apart = spread_rounded_stamps(joined, reading.interval)
        if apart is not joined:
            facts = {"interval": f"{reading.interval:g}", "step": f"{_usual_step(joined):g}"}
            findings.append(report("stamps-rounded", facts=facts))
        joined = apart
    return [np.concatenate(columns) for columns in zip(*values, strict=True)], joined, line_numbers, findings


def _usual_step(stamps: np.ndarray) -> float:
    """s from one stamp to the next different one."""
    steps = np.diff(stamps)
    return float(np.median(steps[steps > 0])) / 1e6


@dataclass
class _Damage:
    """The lines of a file that are no rows: how many, the first few, and the last with whether it may have
    been cut.
    """

    count: int = 0
    lines: list[int] = field(default_factory=list)
    reason: str = ""
    last: tuple[int, bool, str] = (0, False, "")

    def add(self, number: int, line: str, cells: Sequence[str], cut: bool, reading: Reading) -> None:
        """cut: the line has no end of line."""
        self.count += 1
        may_be_cut = cut or len(cells) < reading.width
        self.last = (
            number,
            may_be_cut,
            _reason(line, cells, reading) if may_be_cut or self.count == 1 else "",
        )
        self.reason = self.reason or self.last[2]
        if len(self.lines) < LISTED:
            self.lines.append(number)

    def findings(self, last_row: int, report: Callable) -> list[Finding]:
        """last_row: number of the last line that is a row; one after it that is too short or has no end was
        cut.
        """
        found = []
        number, may_be_cut, reason = self.last
        cut = may_be_cut and number > last_row
        count, lines = self.count - cut, [line for line in self.lines if not cut or line != number]
        if count:
            facts = {"count": count, "lines": listed(lines, count), "reason": self.reason}
            found.append(report("row-damaged", line=lines[0], facts=facts))
        if cut:
            found.append(report("file-truncated", line=number, facts={"reason": reason}))
        return found


def listed(lines: Sequence[int], count: int) -> str:
    """The first of `count` line numbers as a sentence gives them: `12, 15, 20, 21, 22, ...`."""
    return ", ".join(map(str, lines[:LISTED])) + ", ..." * (count > LISTED)


def _reason(line: str, cells: Sequence[str], reading: Reading) -> str:
    """Why a line is no row, as a part of a sentence."""
    if UNDECODABLE in line:
        return "it holds bytes that are no text in the declared encoding"
    if len(cells) != reading.width:
        return f"it has {len(cells)} column{'s' * (len(cells) != 1)}, not {reading.width}"
    row = pa.array([cells])
    for channel, place in reading.channels.items():
        if not numbers_of(pc.list_element(row, place), reading)[1][0]:
            return f'"{shown(cells[place])}" ({channel}) is not a number'
    return f'"{shown(clock_text(cells, reading))}" is not a time'


def clock_text(cells: Sequence[str], reading: Reading) -> str:
    return " ".join(cells[place].strip() for place in reading.clock.values())


def parse(cells: pa.ListArray, reading: Reading) -> Parsed:
    """Rows, each of the reading's width, as values."""
    sound = np.ones(len(cells), dtype=bool)
    values = []
    for place in reading.channels.values():
        column, good = numbers_of(pc.list_element(cells, place), reading)
        values.append(column)
        sound &= good
    if not reading.numeric_clock:
        columns = [map(str.strip, texts_at(cells, place)) for place in reading.clock.values()]
        texts = [" ".join(parts) for parts in zip(*columns, strict=True)]
        stamps, good = formatted_stamps(texts, reading.time["format"])
        return Parsed(values, stamps, format_resolution(reading.time["format"], texts), sound, good)
    clock = {}
    for key, place in reading.clock.items():
        clock[key], good = numbers_of(pc.list_element(cells, place), reading)
        sound &= good
    if "unit" in reading.time:
        finest, count = "column", SECONDS[reading.time["unit"]]
        stamps, good = counted_stamps(clock["column"], reading.time["unit"], reading.time["since"])
    else:
        used = used_parts(clock)
        finest, count = used[-1], PARTS[used[-1]][0]
        stamps, good = stamps_from_parts({key: clock[key] for key in used})
    printed = texts_at(cells.filter(pa.array(sound & good)), reading.clock[finest])
    return Parsed(values, stamps, count * 10.0 ** -decimals_of(printed, 0), sound, good)


def texts_at(cells: pa.ListArray, place: int) -> list[str]:
    return pc.list_element(cells, place).to_pylist()


def numbers_of(texts: pa.StringArray, reading: Reading) -> tuple[np.ndarray, np.ndarray]:
    """Cells as floats, NaN where a missing marker stands, and which cells are a finite number or a marker."""
    texts = pc.utf8_trim_whitespace(texts)
    markers = {form(marker.strip()) for marker in reading.missing for form in (str, str.lower, str.upper)}
    absent = pc.is_in(texts, pa.array(sorted(markers), pa.string()))
    number = pc.and_(pc.match_substring_regex(texts, NUMBER[reading.decimal]), pc.invert(absent))
    plain = pc.utf8_ltrim(pc.replace_substring(texts, reading.decimal, "."), "+")
    values = pc.cast(pc.if_else(number, plain, "nan"), pa.float64()).to_numpy(zero_copy_only=False)
    absent = absent.to_numpy(zero_copy_only=False)
    for marker in markers:  # where -9999 is a marker, -9999.0 is missing too
        if re.search(NUMBER["."], marker.replace(",", ".")):
            absent = absent | (values == float(marker.replace(",", ".")))
    return np.where(absent, np.nan, values), absent | np.isfinite(values)
