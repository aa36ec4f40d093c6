"""Step 1: from the raw files of the loggers to one table of samples for each set.

A layout (`config/README.md`) describes how a file is written; these functions read a file by it, in pieces, so that
its size does not matter. A file is untrusted: whatever its bytes, what does not fit becomes a finding, never a guess.
Each line of a file is either a row of the frame, or counted in a finding, or part of what stands before the data.
Signals stay as logged; times are the moments that the logger stamped, in UTC. Which moment of a sample's interval that
is, `middle_of_interval` knows.
"""

from __future__ import annotations

import codecs
import csv
import datetime
import io
import itertools
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import BinaryIO

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from headland.base.basics import did_you_mean
from headland.base.findings import Finding
from headland.base.frames import Made, Pieces
from headland.chain.notes import offset_of
from headland.files.tables import pieces_of, time_decimals, time_text

BLOCK = 2_000_000
"""Bytes read at a time: some 20,000 lines, which keeps the memory needed beside the result under 100 MB."""
LONGEST_LINE = 10_000
"""Characters of a line that are looked at; a longer one is no row."""
LONGEST_IDENTITY = 500
"""Characters of a line in which the logger's name is sought."""
SAMPLE = 500
"""Rows from the beginning of a file on which it is decided whether the layout fits."""
MOST, SURE = 0.5, 0.9
"""Share of sampled rows that a layout must read, and that another reading must read to be offered instead."""
LISTED = 5
"""Damaged lines whose numbers a finding lists."""
RESET = 30 * 86400
"""s: a longer jump within a set is not a pause but a clock that fell back on its default date."""
ENOUGH_STEPS = 10
"""Steps between rows below which the sampling interval is not judged."""
TOLERANCE = 0.01
"""Share by which the step between rows may differ from the declared interval (common practice, no source)."""

DOUBTS = (("pair-broken", "not-found"), ("layout-mismatch", "skipped-rows"))
"""Findings before the first row that are only warnings: the file is read all the same."""

MICRO = 1_000_000
EARLIEST, LATEST = (int(np.datetime64(day, "us").astype(np.int64)) for day in ("1900-01-01", "2200-01-01"))
"""Microseconds since 1970 between which a stamp is believed: years in four digits, and safe as nanoseconds."""

SECONDS = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
"""Seconds in each unit of a numeric time."""
PARTS = {
    "year": (31_536_000.0, 1900, 2200),
    "month": (2_592_000.0, 1, 13),
    "day": (86400.0, 1, 32),
    "day_of_year": (86400.0, 1, 367),
    "hhmm": (60.0, 0, 2401),
    "hour": (3600.0, 0, 25),
    "minute": (60.0, 0, 60),
    "second": (1.0, 0, 60),
}
"""Parts of a time, from coarse to fine: seconds that one count stands for, the lowest value, the first too high."""
DIRECTIVES = {"%S": 1.0, "%M": 60.0, "%H": 3600.0, "%I": 3600.0}
"""Directives of a time format, finest first, with the seconds that one count stands for."""

UNDECODABLE = "\uffff"
"""Stands for bytes that are no text in the declared encoding: a code point that is no character, so no text holds it."""
codecs.register_error("headland.undecodable", lambda problem: (UNDECODABLE, problem.end))

CONTROLS = bytes(set(range(32)) - set(b"\t\n\f\r\x1a"))
NUMBER = {mark: rf"^[+-]?(?:[0-9]+(?:[{mark}][0-9]*)?|[{mark}][0-9]+)(?:[eE][+-]?[0-9]+)?$" for mark in ".,"}
"""What a logger writes as a number, by decimal mark: no hexadecimal, no grouped digits, no words."""


# One file ---------------------------------------------------------------------------------------------------------


def read_logger_file(
    stream: BinaryIO,
    name: str,
    set_name: str,
    layout: Mapping,
    utc_offset: datetime.timedelta,
    logger_id: str,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The rows of one raw file, and what was found wrong in it.

    stream: the file, opened for reading bytes at its beginning. name, set_name: the file and set that findings name.
    layout: a checked layout with its defaults filled in. utc_offset: local time of the logger's clock minus UTC.
    logger_id: the logger that the set is declared to use, compared with the file's own where the layout says where.

    Returns a frame with `time` (datetime64[us, UTC], the moment stamped), one float column a channel in the units that
    were logged (NaN where a missing marker stood), `file` and `line` (from 1), in the file's order. Rows that share a
    stamp coarser than the interval are spread over it (`spread_shared_stamps`). The frame has no rows where an error is
    among the findings that says the file was not written as the layout says, or not by that logger.
    """
    report = partial(Finding, set=set_name, file=name)
    nothing = _frame(layout, name, [], [], [])
    head = stream.read(BLOCK)
    if not head:
        return nothing, [report("file-empty")]
    codec, fault = _codec(head, layout["encoding"], report)
    if fault:
        return nothing, [fault]

    before = layout["skip_lines"] + layout["names"] + layout["lines_after_names"]
    identity = layout.get("identity", {}).get("logger_id")
    lines: list[str] = []
    cut = False
    batches = _batches(head, stream, codec)
    for more, cut in batches:
        lines += more
        if len(lines) >= max(before, identity["line"] if identity else 0) + SAMPLE:
            break
    header, first = lines[:before], lines[before:]

    findings = _identity_faults(identity, lines, logger_id, report) if identity else []
    garbled = next((number for number, line in enumerate(header, 1) if UNDECODABLE in line), None)
    sample = _sample(first[:-1] if cut and len(first) > 1 else first, before, header)
    if garbled is None and sum(UNDECODABLE in line for _, line in sample) > MOST * len(sample):
        garbled = sample[0][0]
    if garbled is not None:
        return nothing, findings + [_wrong_encoding(head, layout["encoding"], report, garbled)]
    if not sample:
        return nothing, findings + [report("file-empty")]

    reading, faults = _diagnose(layout, lines, header, sample, cut and len(first) == 1, report)
    findings += faults
    if any((finding.code, finding.variant) not in DOUBTS for finding in findings):
        return nothing, findings

    values, stamps, numbers, found = _read_rows(
        itertools.chain([(first, cut)], batches), reading, header, report
    )
    findings += found
    if not len(numbers):
        return nothing, findings + [report("file-empty")]
    if not reading.zoned:
        stamps = stamps - _micros(utc_offset.total_seconds())
    return _frame(layout, name, values, stamps, numbers), findings


def _micros(seconds: float) -> int:
    return round(seconds * MICRO)


def _frame(
    layout: Mapping, name: str, values: Sequence[np.ndarray], stamps: Sequence[int], numbers: Sequence[int]
) -> pd.DataFrame:
    time = pd.DatetimeIndex(np.asarray(stamps, dtype=np.int64).view("datetime64[us]")).tz_localize("UTC")
    channels = dict(
        zip(layout["channels"], values if len(values) else [np.empty(0)] * len(layout["channels"]))
    )
    file = pd.Categorical.from_codes(np.zeros(len(time), dtype=np.int8), [name])
    return pd.DataFrame({"time": time, **channels, "file": file, "line": np.asarray(numbers, dtype=np.int64)})


# Bytes to lines ---------------------------------------------------------------------------------------------------


def _codec(head: bytes, declared: str, report: Callable) -> tuple[str, Finding | None]:
    """The codec for a file that begins with `head`, and a finding where the declared encoding can't be right."""
    likely = _likely_encoding(head)
    if likely == "binary":
        return declared, report("wrong-encoding", "binary", line=1)
    wide = likely.startswith("utf-16")
    proved = (
        not head.isascii() and likely == "utf-8"
    )  # bytes that form UTF-8 by chance are next to impossible
    if wide != (declared == "utf-16") or proved and declared != "utf-8":
        return declared, _wrong_encoding(head, declared, report, 1)
    return (likely if wide else declared), None


def _likely_encoding(head: bytes) -> str:
    """The encoding that the first bytes of a file show; `utf-8` where all would read the same, `binary` for no text."""
    if head[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        return "utf-16"
    beginning = re.sub(rb"\0{16,}", b"", head[:4096])  # runs of zeros are what a power cut leaves in a file
    zeros_even, zeros_odd = beginning[::2].count(0), beginning[1::2].count(0)
    if max(zeros_even, zeros_odd) > 0.2 * len(beginning) and min(zeros_even, zeros_odd) < 0.02 * len(
        beginning
    ):
        return "utf-16-le" if zeros_odd > zeros_even else "utf-16-be"
    if len(beginning) - len(beginning.translate(None, CONTROLS)) > 0.05 * len(beginning):
        return "binary"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)  # incremental: the block may end in a character
        return "utf-8"
    except UnicodeDecodeError:
        return "cp1252" if re.search(rb"[\x80-\x9f]", head) else "latin-1"


def _wrong_encoding(head: bytes, declared: str, report: Callable, line: int) -> Finding:
    likely = _likely_encoding(head)
    fits = "utf-16" if likely.startswith("utf-16") else likely
    fits = fits if fits != declared else "another one"
    return report("wrong-encoding", line=line, facts={"declared": declared, "fits": fits})


def _batches(head: bytes, stream: BinaryIO, codec: str) -> Iterator[tuple[list[str], bool]]:
    """Lists of a file's lines in order; the flag marks a last line that has no end of line."""
    decoder = io.IncrementalNewlineDecoder(
        codecs.getincrementaldecoder(codec)("headland.undecodable"), translate=True
    )
    rest, block, start = "", head, True
    while block:
        text = decoder.decode(block)
        if start and text:
            text, start = text.removeprefix("\ufeff"), False
        *lines, rest = (rest + text).split("\n")
        rest = rest[:LONGEST_LINE]
        yield [line[:LONGEST_LINE] for line in lines], False
        block = stream.read(BLOCK)
    *lines, rest = (rest + decoder.decode(b"", final=True)).split("\n")
    yield lines, False
    if rest:
        yield [rest], True


def _cells(lines: Sequence[str], delimiter: str) -> pa.ListArray:
    """The cells of each line, as a list of texts a line. Quotes hold together what they enclose, within a line."""
    if delimiter == "whitespace":
        return pc.utf8_split_whitespace(pc.utf8_trim_whitespace(pa.array(lines, pa.string())))
    if not any('"' in line for line in lines):
        return pc.split_pattern(pa.array(lines, pa.string()), delimiter)
    options = {"delimiter": delimiter, "skipinitialspace": delimiter != " "}
    try:
        rows = list(csv.reader(lines, **options))
    except csv.Error:
        rows = []
    if len(rows) != len(lines):  # a quote that is not closed has run on into the next lines
        rows = [next(csv.reader([line], **options)) for line in lines]
    return pa.array(rows, pa.list_(pa.string()))


def _widths(cells: pa.ListArray) -> np.ndarray:
    return pc.list_value_length(cells).to_numpy(zero_copy_only=False)


def _shown(text: str) -> str:
    """Text from a file as a sentence may show it: short, on one line, without what can't be printed."""
    text = "".join(c if c.isprintable() else "?" for c in text.strip()[:80])
    return text if len(text) <= 60 else text[:57] + "..."


def _identity_faults(
    identity: Mapping, lines: Sequence[str], logger_id: str, report: Callable
) -> list[Finding]:
    """What is wrong with the logger's name in the file.

    The pattern comes from a user's file. It is matched by an engine whose time grows only with the length of the text
    (RE2, through pyarrow), so that no pattern can hold up the program.
    """
    number, pattern = identity["line"], identity["pattern"]
    text = lines[number - 1][:LONGEST_IDENTITY].replace(UNDECODABLE, "?") if number <= len(lines) else ""
    try:
        line = pa.array([text])
        found = pc.match_substring_regex(line, pattern)[0].as_py()
        group = (
            pc.replace_substring_regex(line, f"^.*?(?:{pattern}).*$", r"\1")[0].as_py().strip()
            if found
            else ""
        )
    except pa.ArrowInvalid:
        return [report("layout-mismatch", "pattern", facts={"pattern": pattern})]
    if not group:
        facts = {"pattern": pattern, "found": _shown(text) or "nothing"}
        return [report("pair-broken", "not-found", line=number, facts=facts)]
    if group != str(logger_id):
        return [
            report("pair-broken", "file", line=number, facts={"found": _shown(group), "expected": logger_id})
        ]
    return []


# Does the layout fit? ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Reading:
    """A layout as it applies to one file: where each value stands in a row (from 0), and how it is written.

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
class _Trial:
    """How well a delimiter and decimal mark read the sampled rows.

    lines, cells: numbers and cells of those rows that have the usual number of columns. share: of all sampled rows, those
    with sound numbers in their places.
    """

    reading: _Reading | None
    faults: list[Finding]
    lines: np.ndarray
    cells: pa.ListArray
    parsed: _Parsed | None = None
    share: float = 0.0


def _sample(lines: Sequence[str], before: int, header: Sequence[str]) -> list[tuple[int, str]]:
    """The first SAMPLE data lines, with their numbers."""
    headers = {line.strip() for line in header}
    filled = (
        (number, line)
        for number, line in enumerate(lines, before + 1)
        if not _blank(line) and line.strip() not in headers
    )
    return list(itertools.islice(filled, SAMPLE))


def _blank(line: str) -> bool:
    return not line.strip(" \t\x1a")


def _time_faults(time: Mapping, report: Callable) -> list[Finding]:
    """What in the layout's time can't be used, whatever the file holds."""
    unusable = partial(report, "layout-mismatch", "time-format")
    if "format" in time:
        given = time["format"]
        try:
            pd.to_datetime(["x"], format=given, errors="coerce", utc=True)
        except (ValueError, TypeError, re.error):
            return [unusable(facts={"key": "time.format", "value": _shown(given)})]
        day = "%j" in given or "%d" in given and re.search("%[mbB]", given)
        if not (re.search("%[Yy]", given) and day):
            return [report("layout-mismatch", "time-parts", facts={"missing": "year and a day"})]
    elif "since" in time:
        try:
            datetime.datetime.fromisoformat(time["since"])
        except ValueError:
            return [unusable(facts={"key": "time.since", "value": _shown(time["since"])})]
    elif "hhmm" not in time:
        for coarse, fine in (("hour", "minute"), ("minute", "second")):
            if fine in time and coarse not in time:
                return [report("layout-mismatch", "time-parts", facts={"missing": coarse})]
    return []


def _columns(layout: Mapping) -> tuple[dict[str, str | int], dict[str, str | int]]:
    """The columns that a layout names, by name or position: those of the channels, and those of the time, by its keys."""
    time = layout["time"]
    if "columns" in time:
        clock = {f"columns.{position}": column for position, column in enumerate(time["columns"], 1)}
    else:
        clock = {key: column for key, column in time.items() if key not in ("format", "unit", "since")}
    return {channel: entry["column"] for channel, entry in layout["channels"].items()}, clock


def _places(
    layout: Mapping, names: Sequence[str], width: int, names_line: int, data_line: int, report: Callable
) -> tuple[dict[str, int], list[Finding]]:
    """Where each column of the layout stands (from 0), by its key in the layout, and the columns that the file has not.

    names: the file's own. width: columns of its rows. names_line, data_line: numbers of the lines that findings point at.
    """
    places, faults = {}, []
    listed = [_shown(name) for name in names if name]
    found = (", ".join(listed[:20]) or "nothing") + ", ..." * (len(listed) > 20)
    channels, clock = _columns(layout)
    for key, column in (
        {f"channels.{name}.column": column for name, column in channels.items()}
        | {f"time.{name}": column for name, column in clock.items()}
    ).items():
        if isinstance(column, int):
            places[key] = column - 1
            if column > width:
                faults.append(
                    report(
                        "layout-mismatch",
                        "position",
                        line=data_line,
                        facts={"key": key, "position": column, "columns": width},
                    )
                )
        elif names.count(column.strip()) == 1:
            places[key] = names.index(column.strip())
        elif column.strip() in names:
            faults.append(
                report(
                    "layout-mismatch",
                    "column-twice",
                    line=names_line,
                    facts={"key": key, "column": _shown(column)},
                )
            )
        else:
            faults.append(
                report(
                    "layout-mismatch",
                    "column",
                    line=names_line,
                    facts={
                        "key": key,
                        "column": _shown(column),
                        "found": found,
                        "hint": did_you_mean(column, listed),
                    },
                )
            )
    return places, faults


def _try(
    layout: Mapping,
    delimiter: str,
    decimal: str,
    lines: Sequence[str],
    sample: Sequence[tuple[int, str]],
    report: Callable,
) -> _Trial:
    """Read the sampled lines with a delimiter and a decimal mark: the columns found, and how many rows hold numbers."""
    numbers, texts = zip(*sample)
    cells = _cells(texts, delimiter)
    widths = _widths(cells)
    names_line = layout["skip_lines"] + 1
    names = _cells([lines[names_line - 1]], delimiter)[0].as_py() if layout["names"] else []
    names = [name.strip() for name in names]
    width = max(Counter(widths.tolist()).items(), key=lambda item: (item[1], item[0] == len(names)))[0]
    while len(names) > width and not names[-1]:
        names.pop()
    fitting = widths == width
    rows, row_lines = cells.filter(pa.array(fitting)), np.array(numbers)[fitting]
    places, faults = _places(layout, names, width, names_line, numbers[0], report)
    unnamed = width == len(names) + 1 and not any(
        map(str.strip, _texts(rows, width - 1))
    )  # a delimiter ends each row
    named = any(isinstance(column, str) for columns in _columns(layout) for column in columns.values())
    if named and not faults and width != len(names) and not unnamed:
        faults = [
            report(
                "layout-mismatch", "columns", line=numbers[0], facts={"names": len(names), "columns": width}
            )
        ]
    if faults:
        return _Trial(None, faults, row_lines, rows)
    channels, clock = _columns(layout)
    reading = _Reading(
        delimiter,
        decimal,
        tuple(map(str, layout["missing"])),
        width,
        {name: places[f"channels.{name}.column"] for name in channels},
        {name: places[f"time.{name}"] for name in clock},
        layout["time"],
        layout["interval"],
    )
    parsed = _parse(rows, reading)
    return _Trial(reading, [], row_lines, rows, parsed, parsed.numbers_sound.sum() / len(sample))


def _diagnose(
    layout: Mapping,
    lines: Sequence[str],
    header: Sequence[str],
    sample: Sequence[tuple[int, str]],
    only_cut: bool,
    report: Callable,
) -> tuple[_Reading | None, list[Finding]]:
    """How the file is read by its layout, and what in the layout does not fit it, with the value that would.

    lines: the file's first ones, of which `header` stand before the data. only_cut: the sample is but a line without end.
    """
    if unusable := _time_faults(layout["time"], report):
        return None, unusable
    attempt = partial(_try, layout, lines=lines, sample=sample, report=report)
    declared = best = attempt(layout["delimiter"], layout["decimal"])
    if declared.share < MOST:
        for delimiter, decimal in _other_readings(layout["delimiter"], layout["decimal"]):
            other = attempt(delimiter, decimal)
            if other.share >= SURE:
                best = other
                break
        if best is declared and only_cut:
            facts = {"reason": "it can't be read as a row"}
            return None, [report("file-truncated", line=sample[0][0], facts=facts), report("file-empty")]
    findings = []
    if best is not declared:
        where = {"line": sample[0][0]}
        if best.reading.delimiter != layout["delimiter"]:
            findings.append(
                report(
                    "wrong-delimiter",
                    **where,
                    facts={
                        "declared": _delimiter_name(layout["delimiter"]),
                        "fits": _delimiter_name(best.reading.delimiter),
                    },
                )
            )
        if best.reading.decimal != layout["decimal"]:
            findings.append(
                report(
                    "decimal-comma",
                    **where,
                    facts={"declared": layout["decimal"], "fits": best.reading.decimal},
                )
            )
    elif declared.faults:
        elsewhere = _line_of_names(layout, lines) if layout["names"] else None
        if elsewhere and elsewhere != layout["skip_lines"] + 1:
            facts = {"fits": elsewhere - 1, "declared": layout["skip_lines"]}
            return None, [report("layout-mismatch", "skip-lines", line=elsewhere, facts=facts)]
        return None, declared.faults
    elif declared.share < MOST:
        findings += _number_faults(declared, len(sample), report)
    if best.parsed.time_sound.sum() < MOST * len(best.lines) and not (
        best.reading.numeric_clock and findings
    ):
        row = int(np.flatnonzero(~best.parsed.time_sound)[0])
        found = _shown(_clock_text(best.cells[row].as_py(), best.reading))
        findings.append(
            report(
                "layout-mismatch",
                "time",
                line=int(best.lines[row]),
                facts={"found": found, "expected": _expected_time(layout["time"])},
            )
        )
    if not findings:
        findings += _skipped_rows(layout, header, declared.reading, report)
    return declared.reading, findings


def _other_readings(delimiter: str, decimal: str) -> Iterator[tuple[str, str]]:
    """Delimiters and decimal marks to try instead, the nearest to the declared ones first."""
    delimiters = [d for d in (",", ";", "\t", "|", "whitespace") if d != delimiter]
    other = "," if decimal == "." else "."
    if delimiter != other:
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
    rows = _cells(lines[:100], layout["delimiter"]).to_pylist()
    return next(
        (number for number, cells in enumerate(rows, 1) if wanted and wanted <= set(map(str.strip, cells))),
        None,
    )


def _number_faults(trial: _Trial, sampled: int, report: Callable) -> list[Finding]:
    """The columns that hold no numbers in most rows; or that most rows have not the same columns."""
    reading, findings = trial.reading, []
    if len(trial.lines) < MOST * sampled:
        return [
            report("layout-mismatch", "uneven", line=int(trial.lines[0]), facts={"columns": reading.width})
        ]
    places = {f"channels.{channel}.column": (channel, place) for channel, place in reading.channels.items()}
    if reading.numeric_clock:
        places |= {f"time.{key}": ("", place) for key, place in reading.clock.items()}
    unsound = {
        key: ~_numbers(pc.list_element(trial.cells, place), reading)[1] for key, (_, place) in places.items()
    }
    enough = min(MOST * len(trial.lines), max(bad.sum() for bad in unsound.values()))
    for key, (channel, place) in places.items():
        if unsound[key].sum() >= enough:
            row = int(np.flatnonzero(unsound[key])[0])
            findings.append(
                report(
                    "layout-mismatch",
                    "number",
                    line=int(trial.lines[row]),
                    channel=channel,
                    facts={"key": key, "column": place + 1, "found": _shown(trial.cells[row].as_py()[place])},
                )
            )
    return findings


def _expected_time(time: Mapping) -> str:
    if "format" in time:
        return time["format"]
    return f"a number of {time['unit']} since {time['since']}" if "unit" in time else ", ".join(time)


def _skipped_rows(
    layout: Mapping, header: Sequence[str], reading: _Reading, report: Callable
) -> list[Finding]:
    """A warning where the layout passes over lines that are rows of data like the others."""
    if not header:
        return []
    cells = _cells(header, reading.delimiter)
    names = np.arange(len(header)) == layout["skip_lines"] if layout["names"] else False
    candidates = np.flatnonzero((_widths(cells) == reading.width) & ~np.asarray(names))
    parsed = _parse(cells.take(pa.array(candidates)), reading)
    lines = (candidates[parsed.numbers_sound & parsed.time_sound] + 1).tolist()
    if not lines:
        return []
    facts = {"count": len(lines), "lines": _listed(lines, len(lines))}
    return [report("layout-mismatch", "skipped-rows", line=lines[0], facts=facts)]


# Rows to values ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Parsed:
    """Rows as values, one array a channel, and which rows are sound.

    stamps: microseconds since 1970 by the logger's clock. resolution: the finest that they tell, s.
    """

    values: list[np.ndarray]
    stamps: np.ndarray
    resolution: float
    numbers_sound: np.ndarray
    time_sound: np.ndarray


def _read_rows(
    batches: Iterable[tuple[list[str], bool]], reading: _Reading, header: Sequence[str], report: Callable
) -> tuple[list[np.ndarray], np.ndarray, np.ndarray, list[Finding]]:
    """Values by channel, stamps, line numbers, and the findings about lines that are no rows.

    batches: the lines after the header, as `_batches` gives them.
    """
    headers = {line.strip() for line in header if not _blank(line)}
    values: list[list[np.ndarray]] = []
    stamps: list[np.ndarray] = []
    numbers: list[np.ndarray] = []
    resolutions: list[float] = []
    blank = blank_at_end = repeated = 0
    damage = _Damage()
    number = len(header)
    for lines, cut in batches:
        cells = _cells(lines, reading.delimiter)
        fitting = np.fromiter((UNDECODABLE not in line for line in lines), bool, len(lines))
        fitting &= _widths(cells) == reading.width
        parsed = _parse(cells.filter(pa.array(fitting)), reading)
        sound = parsed.numbers_sound & parsed.time_sound
        kept = fitting.copy()
        kept[fitting] = sound
        values.append([column[sound] for column in parsed.values])
        stamps.append(parsed.stamps[sound])
        numbers.append(number + 1 + np.flatnonzero(kept))
        if sound.any():
            resolutions.append(parsed.resolution)
        for i in np.flatnonzero(~kept).tolist():
            if _blank(lines[i]):
                blank += 1
            elif lines[i].strip() in headers:
                repeated += 1
            else:
                damage.add(number + 1 + i, lines[i], cells[i].as_py(), cut and i == len(lines) - 1, reading)
        trailing = sum(1 for _ in itertools.takewhile(_blank, reversed(lines)))
        blank_at_end = trailing + (blank_at_end if trailing == len(lines) else 0)
        number += len(lines)
    line_numbers = np.concatenate(numbers)
    findings = damage.findings(int(line_numbers[-1]) if len(line_numbers) else 0, report)
    if repeated or blank > blank_at_end:
        findings.append(report("lines-skipped", facts={"blank": blank - blank_at_end, "repeated": repeated}))
    joined = np.concatenate(stamps)
    if len(joined):
        joined = spread_shared_stamps(joined, min(resolutions), reading.interval)
    return [np.concatenate(columns) for columns in zip(*values)], joined, line_numbers, findings


@dataclass
class _Damage:
    """The lines of a file that are no rows: how many, the first few, and the last with whether it may have been cut."""

    count: int = 0
    lines: list[int] = field(default_factory=list)
    reason: str = ""
    last: tuple[int, bool, str] = (0, False, "")

    def add(self, number: int, line: str, cells: Sequence[str], cut: bool, reading: _Reading) -> None:
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
        """last_row: number of the last line that is a row; one after it that is too short or has no end was cut."""
        found = []
        number, may_be_cut, reason = self.last
        cut = may_be_cut and number > last_row
        count, lines = self.count - cut, [line for line in self.lines if not cut or line != number]
        if count:
            facts = {"count": count, "lines": _listed(lines, count), "reason": self.reason}
            found.append(report("row-damaged", line=lines[0], facts=facts))
        if cut:
            found.append(report("file-truncated", line=number, facts={"reason": reason}))
        return found


def _listed(lines: Sequence[int], count: int) -> str:
    """The first of `count` line numbers as a sentence gives them: `12, 15, 20, 21, 22, ...`."""
    return ", ".join(map(str, lines[:LISTED])) + ", ..." * (count > LISTED)


def _reason(line: str, cells: Sequence[str], reading: _Reading) -> str:
    """Why a line is no row, as a part of a sentence."""
    if UNDECODABLE in line:
        return "it holds bytes that are no text in the declared encoding"
    if len(cells) != reading.width:
        return f"it has {len(cells)} column{'s' * (len(cells) != 1)}, not {reading.width}"
    row = pa.array([cells])
    for channel, place in reading.channels.items():
        if not _numbers(pc.list_element(row, place), reading)[1][0]:
            return f'"{_shown(cells[place])}" ({channel}) is not a number'
    return f'"{_shown(_clock_text(cells, reading))}" is not a time'


def _clock_text(cells: Sequence[str], reading: _Reading) -> str:
    return " ".join(cells[place].strip() for place in reading.clock.values())


def _parse(cells: pa.ListArray, reading: _Reading) -> _Parsed:
    """Rows, each of the reading's width, as values."""
    sound = np.ones(len(cells), dtype=bool)
    values = []
    for place in reading.channels.values():
        column, good = _numbers(pc.list_element(cells, place), reading)
        values.append(column)
        sound &= good
    if not reading.numeric_clock:
        columns = [map(str.strip, _texts(cells, place)) for place in reading.clock.values()]
        texts = [" ".join(parts) for parts in zip(*columns)]
        stamps, good = _formatted_stamps(texts, reading.time["format"])
        return _Parsed(values, stamps, _format_resolution(reading.time["format"], texts), sound, good)
    clock = {}
    for key, place in reading.clock.items():
        clock[key], good = _numbers(pc.list_element(cells, place), reading)
        sound &= good
    if "unit" in reading.time:
        finest, count = "column", SECONDS[reading.time["unit"]]
        stamps, good = _counted_stamps(clock["column"], reading.time["unit"], reading.time["since"])
    else:
        used = _used_parts(clock)
        finest, count = used[-1], PARTS[used[-1]][0]
        stamps, good = _stamps_from_parts({key: clock[key] for key in used})
    printed = _texts(cells.filter(pa.array(sound & good)), reading.clock[finest])
    return _Parsed(values, stamps, count * 10.0 ** -_decimals(printed, 0), sound, good)


def _texts(cells: pa.ListArray, place: int) -> list[str]:
    return pc.list_element(cells, place).to_pylist()


def _numbers(texts: pa.StringArray, reading: _Reading) -> tuple[np.ndarray, np.ndarray]:
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


# Stamps -----------------------------------------------------------------------------------------------------------


def _formatted_stamps(texts: Sequence[str], given: str) -> tuple[np.ndarray, np.ndarray]:
    """Microseconds since 1970 from texts in a format, and which texts have it. A zone in the format is applied."""

    def parsed(texts: Sequence[str], given: str) -> np.ndarray:
        return (
            pd.to_datetime(pd.Index(texts, dtype=object), format=given, errors="coerce", utc=True)
            .as_unit("us")
            .asi8
        )

    stamps = parsed(texts, given)
    unread = np.flatnonzero(~_believed(stamps))
    if len(unread) and (whole := re.sub(r"[.,]%f", "", given)) != given:
        stamps[unread] = parsed([texts[i] for i in unread], whole)  # some loggers print no fraction of zero
    sound = _believed(stamps)
    if {"now", "today"}.intersection(texts):  # words that pandas reads as the present
        sound &= [text not in ("now", "today") for text in texts]
    return stamps, sound


def _believed(stamps: np.ndarray) -> np.ndarray:
    return (stamps >= EARLIEST) & (stamps < LATEST)


def _format_resolution(given: str, texts: Sequence[str]) -> float:
    """Seconds that the finest figure of times in a format counts."""
    if "%f" in given:
        return 10.0 ** -_decimals(texts, 6)
    return next((seconds for directive, seconds in DIRECTIVES.items() if directive in given), 86400.0)


def _decimals(texts: Sequence[str], default: int) -> int:
    """The most figures printed after the last decimal mark of the first texts; `default` where none has such a mark."""
    ends = (re.search(r"[.,]([0-9]+)[^0-9]*$", text) for text in texts[:SAMPLE])
    return max((len(end[1]) for end in ends if end), default=default)


def _counted_stamps(counts: np.ndarray, unit: str, since: str) -> tuple[np.ndarray, np.ndarray]:
    """Microseconds since 1970 from counts of a unit since a moment (ISO 8601, with a zone or by the logger's clock)."""
    start = datetime.datetime.fromisoformat(since)
    since_1970 = start - datetime.datetime(1970, 1, 1, tzinfo=start.tzinfo and datetime.UTC)
    with np.errstate(over="ignore"):  # a count beyond all time is not believed below
        micros = np.rint(counts * (SECONDS[unit] * MICRO)) + float(
            since_1970 // datetime.timedelta(microseconds=1)
        )
    sound = np.isfinite(micros) & _believed(micros)
    return np.where(sound, micros, 0).astype(np.int64), sound


def _used_parts(given: Iterable[str]) -> list[str]:
    """The parts that make a time, from coarse to fine: month and day rather than day of the year, hhmm than hour."""
    date = ["month", "day"] if {"month", "day"} <= set(given) else ["day_of_year"]
    clock = ["hhmm"] if "hhmm" in given else ["hour", "minute"]
    return [part for part in ("year", *date, *clock, "second") if part in given]


def _stamps_from_parts(parts: Mapping[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Microseconds since 1970 from the parts of a time, coarse to fine, and which rows hold a moment.

    The finest part may carry a fraction, but for hhmm (5 is 00:05, 2400 the end of the day); the others are whole.
    """
    finest = list(parts)[-1]
    sound = np.ones(len(parts[finest]), dtype=bool)
    for name, values in parts.items():
        _, lowest, above = PARTS[name]
        sound &= (values >= lowest) & (values < above)
        if name != finest or name == "hhmm":
            sound &= values == np.floor(values)
    part = {name: np.where(sound, values, PARTS[name][1]) for name, values in parts.items()}
    months = (part["year"].astype(np.int64) - 1970) * 12 + (
        part["month"].astype(np.int64) - 1 if "month" in part else 0
    )
    span = "M" if "month" in part else "Y"
    start = months.astype("datetime64[M]").astype(f"datetime64[{span}]")
    day = part["day"] if "day" in part else part["day_of_year"]
    date = start.astype("datetime64[D]") + (np.floor(day) - 1).astype(np.int64)
    sound &= date.astype(f"datetime64[{span}]") == start  # no 31 April, no day 366 of a common year
    seconds = (day - np.floor(day)) * 86400.0
    if "hhmm" in part:
        hours, minutes = np.divmod(part["hhmm"], 100)
        sound &= minutes < 60
        seconds = seconds + hours * 3600 + minutes * 60
    for name, count in (("hour", 3600.0), ("minute", 60.0), ("second", 1.0)):
        seconds = seconds + part.get(name, 0.0) * count
    sound &= seconds <= 86400.0  # 24:00 is the end of the day
    return date.astype("datetime64[us]").astype(np.int64) + np.rint(seconds * MICRO).astype(np.int64), sound


def _grid(stamps: np.ndarray) -> float:
    """The coarsest of 60, 1, 0.1 ... 0.000001 s on whose multiples all stamps (microseconds since 1970) lie, s."""
    grids = (60 * MICRO, *(10**power for power in range(6, -1, -1)))
    return next(micros for micros in grids if not np.any(stamps % micros)) / MICRO


def spread_shared_stamps(stamps: np.ndarray, resolution: float, interval: float) -> np.ndarray:
    """Stamps of their own for rows that share one because stamps are coarser than the sampling interval.

    stamps: microseconds since 1970 in the file's order, cut off at `resolution` s; interval: s between samples. Returns
    microseconds; the same stamps where they are as fine as the interval. (No published value; held by limiting cases.)

    Rows that share a stamp follow one another by the interval from the stamp on, and up to the end of its second (or
    minute) where storing began within it: after a gap of stamps, or after a group that stopped short. A group that stands
    alone begins at its stamp; one with more rows than fit is spread evenly. Where the groups between others show another
    interval than the declared one, theirs is taken, so that the disagreement can be seen in the times.
    """
    if resolution <= interval * 1.001 or not np.any(np.diff(stamps) == 0):
        return stamps
    span, step = _micros(resolution), interval * MICRO
    starts = np.flatnonzero(np.diff(stamps, prepend=stamps[0] - 1))
    counts = np.diff(starts, append=len(stamps))
    gap = np.diff(stamps[starts]) != span
    begins, ends = np.concatenate([[True], gap]), np.concatenate([gap, [True]])
    inner = counts[~begins & ~ends]
    usual = float(np.median(inner)) if len(inner) >= ENOUGH_STEPS else span / step
    if abs(usual - span / step) > max(1.0, TOLERANCE * span / step):  # a row more or less is how clocks run
        step = span / usual
    short = counts * step < span - 1.5 * step
    resumed = begins | np.concatenate([[False], short[:-1] & ~begins[:-1]])
    steps = np.minimum(step, span / counts)
    delay = np.where(resumed & ~ends, span - counts * steps, 0.0)
    rank = np.arange(len(stamps)) - np.repeat(starts, counts)
    return stamps + np.floor(np.repeat(delay, counts) + rank * np.repeat(steps, counts) + 0.5).astype(
        np.int64
    )


def read_nothing(layout: Mapping) -> pd.DataFrame:
    """The frame of a set without a file: `read_logger_file`'s columns, no rows."""
    return _frame(layout, "", [], [], [])


def middle_of_interval(time, stamp: str, interval: float):
    """The middle of each sample's own averaging interval.

    time: the moments stamped (Series, index or array of datetimes). stamp: the moment of the interval that the logger
    names, `start`, `end` or `instant`. interval: s. Returns what `time` is. Source: definition (methods, section 5).
    """
    half = {"start": 0.5, "end": -0.5, "instant": 0.0}[stamp]
    return time + np.timedelta64(_micros(half * interval), "us")


# The files of a set -----------------------------------------------------------------------------------------------


def join_files(
    frames: Sequence[pd.DataFrame], interval: float, set_name: str = ""
) -> tuple[pd.DataFrame, list[Finding]]:
    """The files of one set as one frame in the order of time, and what is wrong with its rows' times.

    frames: as `read_logger_file` returns them. interval: s between samples. set_name: the set that findings name.
    Rows with equal stamps and values are one row downloaded twice: one is kept. Of rows with equal stamps and different
    values the first is kept (by the order of frames and lines). Both are counted in a finding.
    """
    places, findings = in_order(frames, interval, set_name)
    return (rows_at(frames, places) if frames else _frame({"channels": {}}, "", [], [], [])), findings


def in_order(
    frames: Sequence[pd.DataFrame], interval: float, set_name: str = ""
) -> tuple[np.ndarray, list[Finding]]:
    """`join_files` for a set too long to be held twice: the places (from 0, through all frames) of the rows that are kept, in the order of time, for `rows_at`."""
    report = partial(Finding, set=set_name)
    stamps = np.concatenate(
        [np.zeros(0, np.int64), *(pd.DatetimeIndex(frame["time"]).as_unit("us").asi8 for frame in frames)]
    )
    if not len(stamps):
        return stamps, []
    order = np.argsort(stamps, kind="stable")
    again, different = _repeated(frames, stamps, order)
    findings = _clock_faults(frames, stamps, again, order, report) + _interval_faults(
        frames, stamps, again, interval, report
    )
    for mask, variant in ((again, ""), (different, "different")):
        if mask.any():
            first, moments = _row(frames, np.argmax(mask)), stamps[mask]
            findings.append(
                report(
                    "rows-duplicated",
                    variant,
                    file=str(first["file"]),
                    line=int(first["line"]),
                    start_utc=_utc(moments.min()),
                    end_utc=_utc(moments.max()),
                    facts={"count": int(mask.sum())},
                )
            )
    return order[~(again | different)[order]], findings


def rows_at(frames: Sequence[pd.DataFrame], places: np.ndarray) -> pd.DataFrame:
    """The rows at some places, as `in_order` counts them, in the order of the places."""
    ends = np.cumsum([len(frame) for frame in frames])
    which = np.searchsorted(ends, places, side="right")
    numbers = np.unique(which)
    if not len(numbers):
        return frames[0].iloc[:0]
    parts = [frames[i].iloc[places[which == i] - (ends[i] - len(frames[i]))] for i in numbers]
    files = pd.api.types.union_categoricals([part["file"] for part in parts])
    rows = pd.concat([part.drop(columns="file") for part in parts], ignore_index=True).assign(file=files)[
        list(parts[0])
    ]
    if np.any(np.diff(which) < 0):
        rows = rows.iloc[np.argsort(np.argsort(which, kind="stable"))].reset_index(drop=True)
    return rows


def _row(frames: Sequence[pd.DataFrame], place: int) -> pd.Series:
    return rows_at(frames, np.array([place])).iloc[0]


def run(files: Iterable[tuple[str, BinaryIO]], settings: Mapping) -> Made:
    """The samples of a set as they were stored, in the order of time.

    files: raw files, open, by the names that findings give them. settings: `set`, `logger_id`, `utc_offset`, `files`
    (the pattern by which they were found) and `layout`. Makes `samples`.
    """
    name, layout, offset = settings["set"], settings["layout"], offset_of(settings["utc_offset"])
    frames, findings = [], []
    for shown, stream in files:
        frame, found = read_logger_file(stream, shown, name, layout, offset, settings["logger_id"])
        frames.append(frame)
        findings += found
    if not frames:
        facts = {"pattern": settings["files"]}
        findings.append(Finding("set-without-files", set=name, file="campaign.yaml", facts=facts))
        frames.append(read_nothing(layout))
    places, found = in_order(frames, layout["interval"], name)
    pieces = (
        rows_at(frames, places[piece]).rename(columns={"time": "time_utc"})
        for piece in pieces_of(len(places))
    )
    decimals = max(time_decimals(frame["time"]) for frame in frames)
    return Made({"samples": Pieces(pieces, {"time_utc": decimals})}, findings + found, [])


def _places_by_file(frames: Sequence[pd.DataFrame], again: np.ndarray) -> Iterator[tuple[str, np.ndarray]]:
    """The places of each file's rows, less those that are there again."""
    spans: dict[str, list[range]] = {}
    start = 0
    for frame in frames:
        if len(frame):
            spans.setdefault(str(frame["file"].iloc[0]), []).append(range(start, start + len(frame)))
        start += len(frame)
    for name, some in spans.items():
        places = np.concatenate([np.asarray(span) for span in some])
        yield name, places[~again[places]]


def _utc(stamp: int) -> str:
    """A moment in microseconds since 1970 as text."""
    return time_text(pd.DatetimeIndex(np.array([stamp]).view("datetime64[us]")))[0]


def _repeated(
    frames: Sequence[pd.DataFrame], stamps: np.ndarray, order: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Which rows repeat an earlier one in stamp and values, and which only in its stamp."""
    again, different = np.zeros(len(stamps), dtype=bool), np.zeros(len(stamps), dtype=bool)
    same = np.diff(stamps[order]) == 0
    shared = order[np.concatenate([same, [False]]) | np.concatenate([[False], same])]
    shared.sort()
    twice = rows_at(frames, shared).drop(columns=["file", "line"])
    again[shared] = twice.duplicated().to_numpy()
    different[shared] = twice.duplicated("time").to_numpy() & ~again[shared]
    return again, different


def _clock_faults(
    frames: Sequence[pd.DataFrame], stamps: np.ndarray, again: np.ndarray, order: np.ndarray, report: Callable
) -> list[Finding]:
    """Where time goes back within a file, or jumps by more than RESET: one finding a file for each.

    stamps: of all rows. again: which are repetitions. order: places of all in the order of time. A jump is sought within each file first; where there is none, between the files of the set.
    """

    def jump(code: str, variant: str, before: int, after: int, **facts) -> Finding:
        start, end, row = _utc(stamps[before]), _utc(stamps[after]), _row(frames, after)
        return report(
            code,
            variant,
            file=str(row["file"]),
            line=int(row["line"]),
            start_utc=start,
            end_utc=end,
            facts={"before": start, "after": end, **facts},
        )

    findings = []
    for _, places in _places_by_file(frames, again):
        steps = np.diff(stamps[places])
        far = np.abs(steps) > RESET * MICRO
        for code, where in (("clock-reset", far), ("clock-backwards", (steps < 0) & ~far)):
            at = np.flatnonzero(where)
            if len(at):
                findings.append(jump(code, "", places[at[0]], places[at[0] + 1], count=len(at)))
    if not any(finding.code == "clock-reset" for finding in findings):
        order = order[~again[order]]
        for at in np.flatnonzero(np.diff(stamps[order]) > RESET * MICRO):
            findings.append(
                jump(
                    "clock-reset",
                    "files",
                    order[at],
                    order[at + 1],
                    other=str(_row(frames, order[at])["file"]),
                )
            )
    return findings


def _interval_faults(
    frames: Sequence[pd.DataFrame], stamps: np.ndarray, again: np.ndarray, interval: float, report: Callable
) -> list[Finding]:
    """The files whose rows do not follow one another by the declared interval.

    Where stamps are cut off, single steps lie to both sides of the interval by up to what the stamps can tell; then the
    mean of those steps is compared, which each stretch without a pause shifts by no more than that. Otherwise the median
    step is, which no pause or lost row disturbs.
    """
    findings = []
    for name, places in _places_by_file(frames, again):
        steps = np.diff(stamps[places])
        steps = steps[steps > 0] / MICRO
        if len(steps) < ENOUGH_STEPS:
            continue
        blur = _grid(stamps[places]) if _grid(stamps[places]) <= interval else 0.0
        slack = TOLERANCE * interval
        near = np.abs(steps - interval) < max(blur, slack)
        if near.sum() > MOST * len(steps):
            stretches = np.count_nonzero(np.diff(near, prepend=False) & near)
            found, slack = float(steps[near].mean()), max(slack, blur * stretches / near.sum())
        else:
            found = float(np.median(steps))
        if abs(found - interval) > slack:
            findings.append(
                report(
                    "sampling-interval", file=name, facts={"found": f"{found:g}", "declared": f"{interval:g}"}
                )
            )
    return findings
