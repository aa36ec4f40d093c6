"""Does a layout fit a logger's file? Where each column is, and what in the layout doesn't fit, with a value
that would.
"""

from __future__ import annotations

import datetime
import itertools
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from headland.base.findings import Finding
from headland.base.words import did_you_mean
from headland.files.logger_rows import Parsed, Reading, clock_text, listed, numbers_of, parse, texts_at
from headland.files.logger_text import cells_of, is_blank, shown, widths

SAMPLE = 500
"""Rows from the beginning of a file on which it is decided whether the layout fits."""


LISTED_NAMES = 20
"""Names of columns that a finding lists."""
MOST, SURE = 0.5, 0.9
"""Share of sampled rows that a layout must read, and that another reading must read to be offered instead."""


@dataclass(frozen=True)
class _Unread:
    """A delimiter and decimal mark with which a column of the layout is not there."""

    faults: list[Finding]


@dataclass(frozen=True)
class _Trial:
    """How well a delimiter and decimal mark read the sampled rows.

    lines, cells: numbers and cells of those rows that have the usual number of columns. share: of all sampled
    rows, those with sound numbers in their places.
    """

    reading: Reading
    lines: np.ndarray
    cells: pa.ListArray
    parsed: Parsed
    share: float


def sample_of(lines: Sequence[str], before: int, header: Sequence[str]) -> list[tuple[int, str]]:
    """The first SAMPLE data lines, with their numbers."""
    headers = {line.strip() for line in header}
    filled = (
        (number, line)
        for number, line in enumerate(lines, before + 1)
        if not is_blank(line) and line.strip() not in headers
    )
    return list(itertools.islice(filled, SAMPLE))


def time_faults(time: Mapping, report: Callable) -> list[Finding]:
    """What in the layout's time can't be used, whatever the file holds."""
    unusable = partial(report, "layout-mismatch", "time-format")
    if "format" in time:
        given = time["format"]
        try:
            pd.to_datetime(["x"], format=given, errors="coerce", utc=True)
        except (ValueError, TypeError, re.error):
            return [unusable(facts={"key": "time.format", "value": shown(given)})]
        day = "%j" in given or "%d" in given and re.search("%[mbB]", given)
        if not (re.search("%[Yy]", given) and day):
            return [report("layout-mismatch", "time-parts", facts={"missing": "year and a day"})]
    elif "since" in time:
        try:
            datetime.datetime.fromisoformat(time["since"])
        except ValueError:
            return [unusable(facts={"key": "time.since", "value": shown(time["since"])})]
    elif "hhmm" not in time:
        for coarse, fine in (("hour", "minute"), ("minute", "second")):
            if fine in time and coarse not in time:
                return [report("layout-mismatch", "time-parts", facts={"missing": coarse})]
    return []


def _columns(layout: Mapping) -> tuple[dict[str, str | int], dict[str, str | int]]:
    """The columns that a layout names, by name or position: those of the channels, and those of the time, by
    its keys.
    """
    time = layout["time"]
    if "columns" in time:
        clock = {f"columns.{position}": column for position, column in enumerate(time["columns"], 1)}
    else:
        clock = {key: column for key, column in time.items() if key not in ("format", "unit", "since")}
    return {channel: entry["column"] for channel, entry in layout["channels"].items()}, clock


def _places(
    layout: Mapping, names: Sequence[str], width: int, *, names_line: int, data_line: int, report: Callable
) -> tuple[dict[str, int], list[Finding]]:
    """Where each column of the layout is in a row (from 0), by its key in the layout, and columns that are
    not there.

    names: the file's own. width: columns of its rows. names_line, data_line: numbers of the lines for
    findings.
    """
    places: dict[str, int] = {}
    faults = []
    channels, clock = _columns(layout)
    by_key = {f"channels.{name}.column": column for name, column in channels.items()}
    by_key |= {f"time.{name}": column for name, column in clock.items()}
    for key, column in by_key.items():
        if isinstance(column, int):
            places[key] = column - 1
            if column > width:
                facts = {"key": key, "position": column, "columns": width}
                faults.append(report("layout-mismatch", "position", line=data_line, facts=facts))
        elif names.count(column.strip()) == 1:
            places[key] = names.index(column.strip())
        elif column.strip() in names:
            facts = {"key": key, "column": shown(column)}
            faults.append(report("layout-mismatch", "column-twice", line=names_line, facts=facts))
        else:
            facts = {"key": key, **_facts_of_missing(column, names)}
            faults.append(report("layout-mismatch", "column", line=names_line, facts=facts))
    return places, faults


def _facts_of_missing(column: str, names: Sequence[str]) -> dict[str, str]:
    """What a finding says about a column that the file lacks. names: the file's own."""
    all_names = [shown(name) for name in names if name]
    found = (", ".join(all_names[:LISTED_NAMES]) or "nothing") + ", ..." * (len(all_names) > LISTED_NAMES)
    return {"column": shown(column), "found": found, "hint": did_you_mean(column, all_names)}


def _try(
    layout: Mapping,
    delimiter: str,
    decimal: str,
    *,
    lines: Sequence[str],
    sample: Sequence[tuple[int, str]],
    report: Callable,
) -> _Trial | _Unread:
    """Read the sampled lines with a delimiter and a decimal mark: the columns found, and how many rows hold
    numbers.
    """
    numbers = np.array([number for number, _ in sample])
    cells = cells_of([text for _, text in sample], delimiter)
    names_line = layout["skip_lines"] + 1
    names = cells_of([lines[names_line - 1]], delimiter)[0].as_py() if layout["names"] else []
    names = [name.strip() for name in names]
    width = _usual_width(widths(cells).tolist(), len(names))
    while len(names) > width and not names[-1]:
        names.pop()
    fitting = widths(cells) == width
    rows, row_lines = cells.filter(pa.array(fitting)), numbers[fitting]
    first = int(numbers[0])
    places, faults = _places(layout, names, width, names_line=names_line, data_line=first, report=report)
    if not faults and _uses_names(layout) and not _names_fit(names, width, rows):
        facts = {"names": len(names), "columns": width}
        faults = [report("layout-mismatch", "columns", line=first, facts=facts)]
    if faults:
        return _Unread(faults)
    channels, clock = _columns(layout)
    reading = Reading(
        delimiter,
        decimal,
        missing=tuple(map(str, layout["missing"])),
        width=width,
        channels={name: places[f"channels.{name}.column"] for name in channels},
        clock={name: places[f"time.{name}"] for name in clock},
        time=layout["time"],
        interval=layout["interval"],
    )
    parsed = parse(rows, reading)
    return _Trial(reading, row_lines, rows, parsed, parsed.numbers_sound.sum() / len(sample))


def _usual_width(found: Sequence[int], names: int) -> int:
    """The number of columns of most rows; of two as frequent, that of the names."""
    counts = Counter(found)
    return max(counts, key=lambda width: (counts[width], width == names))


def _uses_names(layout: Mapping) -> bool:
    return any(isinstance(column, str) for columns in _columns(layout) for column in columns.values())


def _names_fit(names: Sequence[str], width: int, rows: pa.ListArray) -> bool:
    """Whether there are as many names as columns, not counting an empty last column: a delimiter may end each
    row.
    """
    one_more = width == len(names) + 1 and not any(map(str.strip, texts_at(rows, width - 1)))
    return width == len(names) or one_more


def diagnose(
    layout: Mapping,
    lines: Sequence[str],
    header: Sequence[str],
    sample: Sequence[tuple[int, str]],
    *,
    only_cut: bool,
    report: Callable,
) -> tuple[Reading | None, list[Finding]]:
    """How the file is read by its layout, and what in the layout doesn't fit it, with the value that would.

    lines: the file's first ones, which begin with `header`. only_cut: the sample is one line without an end
    of line.
    """
    if unusable := time_faults(layout["time"], report):
        return None, unusable
    attempt = partial(_try, layout, lines=lines, sample=sample, report=report)
    declared = attempt(layout["delimiter"], layout["decimal"])
    if isinstance(declared, _Trial) and declared.share >= MOST:
        findings = _time_mismatch(declared, layout, [], report)
        return declared.reading, findings or _skipped_rows(layout, header, declared.reading, report)
    other = _better_trial(attempt, layout)
    if other is None and only_cut:
        facts = {"reason": "it can't be read as a row"}
        return None, [report("file-truncated", line=sample[0][0], facts=facts), report("file-empty")]
    if other is not None:
        findings = _wrong_marks(other.reading, layout, sample[0][0], report)
        return None, findings + _time_mismatch(other, layout, findings, report)
    if isinstance(declared, _Unread):
        return None, _lines_to_skip(layout, lines, report) or declared.faults
    findings = _number_faults(declared, len(sample), report)
    findings += _time_mismatch(declared, layout, findings, report)
    return declared.reading, findings or _skipped_rows(layout, header, declared.reading, report)


def _other_readings(delimiter: str, decimal: str) -> Iterator[tuple[str, str]]:
    """Delimiters and decimal marks to try instead, the nearest to the declared ones first.

    One sign may be both: then the numbers are quoted, as spreadsheets do it.
    """
    delimiters = [d for d in (",", ";", "\t", "|", "whitespace") if d != delimiter]
    other = "," if decimal == "." else "."
    yield delimiter, other
    yield from ((d, decimal) for d in delimiters if d != decimal)
    yield from ((d, other) for d in delimiters if d != other)


def _delimiter_name(delimiter: str) -> str:
    return {"\t": '"\\t" (a tab)', "whitespace": "whitespace"}.get(delimiter, f'"{delimiter}"')


def _line_of_names(layout: Mapping, lines: Sequence[str]) -> int | None:
    """The number of the line among the first hundred that holds all the names in the layout."""
    wanted = {
        column.strip()
        for columns in _columns(layout)
        for column in columns.values()
        if isinstance(column, str)
    }
    rows = cells_of(lines[:100], layout["delimiter"]).to_pylist()
    return next(
        (number for number, cells in enumerate(rows, 1) if wanted and wanted <= set(map(str.strip, cells))),
        None,
    )


def _better_trial(attempt: Callable[[str, str], _Trial | _Unread], layout: Mapping) -> _Trial | None:
    """The first other delimiter and decimal mark that read nearly all sampled rows; None where none does."""
    for delimiter, decimal in _other_readings(layout["delimiter"], layout["decimal"]):
        other = attempt(delimiter, decimal)
        if isinstance(other, _Trial) and other.share >= SURE:
            return other
    return None


def _wrong_marks(reading: Reading, layout: Mapping, line: int, report: Callable) -> list[Finding]:
    """Delimiter and decimal mark that differ from the declared ones. reading: the one that fits."""
    findings = []
    if reading.delimiter != layout["delimiter"]:
        names = _delimiter_name(layout["delimiter"]), _delimiter_name(reading.delimiter)
        facts = {"declared": names[0], "fits": names[1]}
        findings.append(report("wrong-delimiter", line=line, facts=facts))
    if reading.decimal != layout["decimal"]:
        facts = {"declared": layout["decimal"], "fits": reading.decimal}
        findings.append(report("decimal-comma", line=line, facts=facts))
    return findings


def _lines_to_skip(layout: Mapping, lines: Sequence[str], report: Callable) -> list[Finding]:
    """A finding where the names of the columns are on another line than the declared one."""
    elsewhere = _line_of_names(layout, lines) if layout["names"] else None
    if not elsewhere or elsewhere == layout["skip_lines"] + 1:
        return []
    facts = {"fits": elsewhere - 1, "declared": layout["skip_lines"]}
    return [report("layout-mismatch", "skip-lines", line=elsewhere, facts=facts)]


def _time_mismatch(
    trial: _Trial, layout: Mapping, found: Sequence[Finding], report: Callable
) -> list[Finding]:
    """A finding where most rows hold no time. found: other findings, which explain a time in numbers."""
    reading, parsed = trial.reading, trial.parsed
    if parsed.time_sound.sum() >= MOST * len(trial.lines) or (reading.numeric_clock and found):
        return []
    row = int(np.flatnonzero(~parsed.time_sound)[0])
    facts = {
        "found": shown(clock_text(trial.cells[row].as_py(), reading)),
        "expected": _expected_time(layout["time"]),
    }
    return [report("layout-mismatch", "time", line=int(trial.lines[row]), facts=facts)]


def _number_faults(trial: _Trial, sampled: int, report: Callable) -> list[Finding]:
    """The columns that hold no numbers in most rows; or a finding that most rows have unequal columns."""
    reading, findings = trial.reading, []
    if len(trial.lines) < MOST * sampled:
        uneven = {"columns": reading.width}
        return [report("layout-mismatch", "uneven", line=int(trial.lines[0]), facts=uneven)]
    places = {f"channels.{channel}.column": (channel, place) for channel, place in reading.channels.items()}
    if reading.numeric_clock:
        places |= {f"time.{key}": ("", place) for key, place in reading.clock.items()}
    unsound = {
        key: ~numbers_of(pc.list_element(trial.cells, place), reading)[1]
        for key, (_, place) in places.items()
    }
    enough = min(MOST * len(trial.lines), max(bad.sum() for bad in unsound.values()))
    for key, (channel, place) in places.items():
        if unsound[key].sum() < enough:
            continue
        row = int(np.flatnonzero(unsound[key])[0])
        facts = {
            "key": key,
            "column": place + 1,
            "found": shown(trial.cells[row].as_py()[place]),
        }
        line = int(trial.lines[row])
        findings.append(report("layout-mismatch", "number", line=line, channel=channel, facts=facts))
    return findings


def _expected_time(time: Mapping) -> str:
    if "format" in time:
        return time["format"]
    return f"a number of {time['unit']} since {time['since']}" if "unit" in time else ", ".join(time)


def _skipped_rows(
    layout: Mapping, header: Sequence[str], reading: Reading, report: Callable
) -> list[Finding]:
    """A warning where the layout passes over lines that are rows of data like the others."""
    if not header:
        return []
    cells = cells_of(header, reading.delimiter)
    names = np.arange(len(header)) == layout["skip_lines"] if layout["names"] else False
    candidates = np.flatnonzero((widths(cells) == reading.width) & ~np.asarray(names))
    parsed = parse(cells.take(pa.array(candidates)), reading)
    lines = (candidates[parsed.numbers_sound & parsed.time_sound] + 1).tolist()
    if not lines:
        return []
    facts = {"count": len(lines), "lines": listed(lines, len(lines))}
    return [report("layout-mismatch", "skipped-rows", line=lines[0], facts=facts)]
