"""Raw files of loggers, read by their layout (config/README.md) in pieces, so that their size does not
matter.

A file is untrusted: a part that doesn't fit becomes a finding, never a guess. Each line of a file is either a
row of the frame, or counted in a finding, or part of the header. Signals stay as logged; times are the
moments that the logger stamped, in UTC.
"""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import BinaryIO

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from headland.base.findings import Finding
from headland.files.logger_layout import MOST, SAMPLE, diagnose, sample_of
from headland.files.logger_rows import read_rows
from headland.files.logger_stamps import micros
from headland.files.logger_text import BLOCK, UNDECODABLE, batches_of, codec_of, shown, wrong_encoding
from headland.files.logger_units import unit_faults

LONGEST_IDENTITY = 500
"""Characters of a line in which the logger's name is sought."""


DOUBTS = (("pair-broken", "not-found"), ("layout-mismatch", "skipped-rows"))
"""Findings before the first row that are only warnings: the file is read all the same."""


def read_logger_file(
    stream: BinaryIO,
    name: str,
    set_name: str,
    layout: Mapping,
    *,
    utc_offset: datetime.timedelta,
    logger_id: str,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The rows of one raw file, and what is wrong in it.

    Parameters
    ----------
    stream : the file, opened for reading bytes at its beginning.
    name, set_name : the file and the set that findings name.
    layout : a checked layout with its defaults.
    utc_offset : local time of the logger's clock minus UTC.
    logger_id : the logger that the set is declared to use, compared with the file's own where the layout says
        where.

    Returns
    -------
    A frame with `time` (datetime64[us, UTC], the moment stamped), one float column for each channel in the
    logged units (NaN for a missing marker), `file` and `line` (from 1), in the file's order; and the
    findings. Rows that share a stamp coarser than the interval are spread over it (`spread_shared_stamps`).
    The frame has no rows where a finding says that the layout doesn't fit the file, or that another logger
    wrote it.
    """
    report = partial(Finding, set=set_name, file=name)
    nothing = frame_of(layout, name, [], [], [])
    head = stream.read(BLOCK)
    if not head:
        return nothing, [report("file-empty")]
    codec, fault = codec_of(head, layout["encoding"], report)
    if fault:
        return nothing, [fault]

    before = layout["skip_lines"] + layout["names"] + layout["lines_after_names"]
    batches = batches_of(head, stream, codec)
    lines, cut = _first_lines(batches, max(before, _identity_line(layout)) + SAMPLE)
    header, first = lines[:before], lines[before:]
    findings = identity_faults(layout, lines, logger_id, report)
    sample = sample_of(first[:-1] if cut and len(first) > 1 else first, before, header)
    garbled = _garbled_line(header, sample)
    if garbled is not None:
        return nothing, [*findings, wrong_encoding(head, layout["encoding"], report, garbled)]
    if not sample:
        return nothing, [*findings, report("file-empty")]

    only_cut = cut and len(first) == 1
    reading, faults = diagnose(layout, lines, header, sample, only_cut=only_cut, report=report)
    findings += faults
    if reading is not None and not faults:
        findings += unit_faults(layout, header, reading, report)
    if reading is None or any((finding.code, finding.variant) not in DOUBTS for finding in findings):
        return nothing, findings

    all_lines = itertools.chain([(first, cut)], batches)
    values, stamps, numbers, found = read_rows(all_lines, reading, header, report)
    findings += found
    if not len(numbers):
        return nothing, [*findings, report("file-empty")]
    if not reading.zoned:
        stamps = stamps - micros(utc_offset.total_seconds())
    return frame_of(layout, name, values, stamps, numbers), findings


def frame_of(
    layout: Mapping,
    name: str,
    values: Sequence[np.ndarray],
    stamps: np.ndarray | Sequence[int],
    numbers: np.ndarray | Sequence[int],
) -> pd.DataFrame:
    """Rows as `read_logger_file` returns them. values: an array for each channel, or nothing for no rows."""
    time = pd.DatetimeIndex(np.asarray(stamps, dtype=np.int64).view("datetime64[us]")).tz_localize("UTC")
    columns = values if len(values) else [np.empty(0)] * len(layout["channels"])
    channels = dict(zip(layout["channels"], columns, strict=True))
    file = pd.Categorical.from_codes(np.zeros(len(time), dtype=np.int8), pd.Index([name]))
    return pd.DataFrame({"time": time, **channels, "file": file, "line": np.asarray(numbers, dtype=np.int64)})


def _first_lines(batches: Iterator[tuple[list[str], bool]], enough: int) -> tuple[list[str], bool]:
    """The first batches of lines, until there are enough; and whether the last line has no end of line."""
    lines: list[str] = []
    cut = False
    while len(lines) < enough:
        more, cut = next(batches, (None, cut))
        if more is None:
            break
        lines += more
    return lines, cut


def _identity_line(layout: Mapping) -> int:
    """The number of the line that names the logger; 0 where the layout gives none."""
    return layout["identity"]["logger_id"]["line"] if "logger_id" in layout.get("identity", {}) else 0


def _garbled_line(header: Sequence[str], sample: Sequence[tuple[int, str]]) -> int | None:
    """The line that shows another encoding than the declared one: any of the header, or most of the rows."""
    for number, line in enumerate(header, 1):
        if UNDECODABLE in line:
            return number
    garbled = sum(UNDECODABLE in line for _, line in sample)
    return sample[0][0] if garbled > MOST * len(sample) else None


def identity_faults(layout: Mapping, lines: Sequence[str], logger_id: str, report: Callable) -> list[Finding]:
    """What is wrong with the logger's name in the file, where the layout says where it is.

    The pattern comes from a user's file. It is matched by an engine whose time grows only with the length of
    the text (RE2, through pyarrow), so that no pattern can stop the program.
    """
    number = _identity_line(layout)
    if not number:
        return []
    pattern = layout["identity"]["logger_id"]["pattern"]
    text = lines[number - 1][:LONGEST_IDENTITY].replace(UNDECODABLE, "?") if number <= len(lines) else ""
    try:
        line = pa.array([text])
        found = pc.match_substring_regex(line, pattern)[0].as_py()
        group = pc.replace_substring_regex(line, f"^.*?(?:{pattern}).*$", r"\1")[0].as_py().strip()
    except pa.ArrowInvalid:
        return [report("layout-mismatch", "pattern", facts={"pattern": pattern})]
    if not found or not group:
        facts = {"pattern": pattern, "found": shown(text) or "nothing"}
        return [report("pair-broken", "not-found", line=number, facts=facts)]
    if group != str(logger_id):
        facts = {"found": shown(group), "expected": logger_id}
        return [report("pair-broken", "file", line=number, facts=facts)]
    return []


def read_nothing(layout: Mapping) -> pd.DataFrame:
    """The frame of a set without a file: `read_logger_file`'s columns, no rows."""
    return frame_of(layout, "", [], [], [])
