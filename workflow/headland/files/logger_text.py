"""Bytes of a logger's file as lines and cells: encoding, ends of lines, delimiters.

A file is untrusted: whatever its bytes, reading takes memory for a block and time for its length.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from typing import BinaryIO

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from headland.base.findings import Finding

BLOCK = 2_000_000
"""Bytes read at a time: some 20,000 lines, which keeps the memory needed beside the result under 100 MB."""


LONGEST_LINE = 10_000
"""Characters of a line that are looked at; a longer one is no row."""


UNDECODABLE = "\uffff"
"""Replaces bytes that are no text in the declared encoding: no text holds this code point."""


def _replaced(problem: UnicodeError) -> tuple[str, int]:
    """What a decoder puts in the place of bytes that are no text, and where it goes on."""
    return UNDECODABLE, getattr(problem, "end", 0)


codecs.register_error("headland.undecodable", _replaced)


CONTROLS = bytes(set(range(32)) - set(b"\t\n\f\r\x1a"))


def codec_of(head: bytes, declared: str, report: Callable) -> tuple[str, Finding | None]:
    """The codec for a file that begins with `head`, and a finding where the declared encoding is wrong.

    With `auto` the file's own bytes decide.
    """
    likely = _likely_encoding(head)
    if likely == "binary":
        return declared, report("wrong-encoding", "binary", line=1)
    if declared == "auto":
        return likely, None
    wide = likely.startswith("utf-16")
    # bytes that form UTF-8 by chance are next to impossible
    proved = not head.isascii() and likely == "utf-8"
    if wide != (declared == "utf-16") or proved and declared != "utf-8":
        return declared, wrong_encoding(head, declared, report, 1)
    return (likely if wide else declared), None


def _likely_encoding(head: bytes) -> str:
    """The encoding that the first bytes of a file show; `utf-8` where all would read the same, `binary` for
    no text.
    """
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


def wrong_encoding(head: bytes, declared: str, report: Callable, line: int) -> Finding:
    likely = _likely_encoding(head)
    fits = "utf-16" if likely.startswith("utf-16") else likely
    fits = fits if fits != declared else "another one"
    return report("wrong-encoding", line=line, facts={"declared": declared, "fits": fits})


def batches_of(head: bytes, stream: BinaryIO, codec: str) -> Iterator[tuple[list[str], bool]]:
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


def cells_of(lines: Sequence[str], delimiter: str) -> pa.ListArray:
    """The cells of each line, as a list of texts a line. Quotes hold together what they enclose, within a
    line.
    """
    if delimiter == "whitespace":
        return pc.utf8_split_whitespace(pc.utf8_trim_whitespace(pa.array(lines, pa.string())))
    if not any('"' in line for line in lines):
        return pc.split_pattern(pa.array(lines, pa.string()), delimiter)
    skip = delimiter != " "
    try:
        rows = list(csv.reader(lines, delimiter=delimiter, skipinitialspace=skip))
    except csv.Error:
        rows = []
    if len(rows) != len(lines):  # a quote that is not closed has run on into the next lines
        rows = [next(csv.reader([line], delimiter=delimiter, skipinitialspace=skip)) for line in lines]
    return pa.array(rows, pa.list_(pa.string()))


def widths(cells: pa.ListArray) -> np.ndarray:
    return pc.list_value_length(cells).to_numpy(zero_copy_only=False)


def shown(text: str) -> str:
    """Text from a file as a sentence may show it: short, on one line, without what can't be printed."""
    text = "".join(c if c.isprintable() else "?" for c in text.strip()[:80])
    return text if len(text) <= 60 else text[:57] + "..."


def is_blank(line: str) -> bool:
    return not line.strip(" \t\x1a")
