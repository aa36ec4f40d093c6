"""Rows of a CSV file that a user wrote, as text, with the number of each row's line.

A file is untrusted: its size, rows, columns and cells have limits, and its encoding and delimiter are found,
not believed.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from headland.base.errors import refuse
from headland.base.findings import Finding

LARGEST_USER_TABLE = 50_000_000
"""Bytes of a register, notes or weather table."""
MOST_BY_HAND = 10_000
"""Rows of a table that a person writes."""
MOST_ROWS = dict.fromkeys(("weather", "station", "ground", "levels"), 500_000)
"""Rows of the tables that a logger writes, by kind."""
LINES_A_ROW = 10
"""Lines for each row that a table may have: blank ones count, and so do line breaks in cells."""
MOST_COLUMNS, LONGEST_CELL = 200, 20_000
"""Columns, and characters of a cell: beyond these limits reading could take hours or all memory."""
DELIMITERS = {";": "semicolons", "\t": "tabs"}
"""What may separate cells instead of a comma, and its name in findings."""

Rows = list[tuple[int, list[str]]]
"""The filled rows of a table: the number of the line, and the cells."""


def csv_rows(path: Path, most: int = MOST_BY_HAND) -> tuple[Rows, list[Finding]]:
    """The filled rows of a CSV file, and findings on its encoding and delimiter. most: rows that it may have.

    Raises UserErrors where the file is beyond a limit or can't be read.
    """
    text, findings = csv_text(path)
    if max(text.count("\n"), text.count("\r")) > LINES_A_ROW * most:
        wanted = "a table such as this tool describes: remove blank lines, or split the file"
        raise refuse(path.name, None, f"more than {LINES_A_ROW * most} lines", wanted)
    delimiter = delimiter_of(text)
    if delimiter != ",":
        facts = {"found": DELIMITERS[delimiter]}
        findings.append(Finding("wrong-delimiter", "table", file=path.name, line=1, facts=facts))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: Rows = []
    start = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                refuse_beyond_limits(path.name, start, cells, count=len(rows), most=most)
                rows.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as problem:
        found = f"a line that can't be read ({problem})"
        raise refuse(path.name, reader.line_num, found, "cells separated by commas") from None
    return rows, findings


def csv_text(path: Path) -> tuple[str, list[Finding]]:
    """The text of a CSV file, and a finding where it is not UTF-8. Raises UserErrors for no text, or too
    much.
    """
    if path.stat().st_size > LARGEST_USER_TABLE:
        raise refuse(path.name, None, "the file is larger than 50 MB", "a table written by hand")
    text, findings = decoded(path.read_bytes(), path.name)
    if "\0" in text:
        raise refuse(path.name, None, "the file is not text", "a CSV file: save the table as CSV, UTF-8")
    return text, findings


def refuse_beyond_limits(name: str, line: int, cells: Sequence[str], *, count: int, most: int) -> None:
    """Raise UserErrors where a row is beyond what a table may have. count: rows before it. most: rows
    allowed.
    """
    longest = max(map(len, cells), default=0)
    for what, found, limit in (
        ("rows", count, most),
        ("columns", len(cells), MOST_COLUMNS),
        ("characters in a cell", longest, LONGEST_CELL),
    ):
        if found > limit:
            wanted = "a table such as this tool describes: remove what is not needed, or split the file"
            raise refuse(name, line, f"more than {limit} {what}", wanted)


def delimiter_of(text: str) -> str:
    """What separates the names of the columns: a comma, where nothing else clearly does."""
    first = text.lstrip("\r\n ").split("\n", 1)[0]
    found = max(",;\t", key=first.count) if first.count(",") == 0 else ","
    return found if found in first else ","


def decoded(raw: bytes, name: str) -> tuple[str, list[Finding]]:
    """Text of a user's table. UTF-8 is expected, a byte-order mark is accepted.

    UTF-16 and Latin-1 are read as well, with a finding.
    """
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        finding = Finding("wrong-encoding", "table", file=name, facts={"found": "UTF-16"})
        return raw.decode("utf-16", errors="replace"), [finding]
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError as problem:
        line = raw[: problem.start].count(b"\n") + 1
        facts = {"found": "Latin-1 (a Windows encoding)"}
        return raw.decode("latin-1"), [Finding("wrong-encoding", "table", file=name, line=line, facts=facts)]
