"""Rows of the first sheet of a workbook (XLSX) that a user wrote, as text, with the number of each row.

A workbook is untrusted: what it unpacks to is limited before a library reads it.
"""

from __future__ import annotations

import contextlib
import datetime
import warnings
import zipfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from headland.base.errors import UserErrors, refuse
from headland.base.findings import Finding
from headland.files.user_rows import (
    LARGEST_USER_TABLE,
    MOST_BY_HAND,
    MOST_COLUMNS,
    Rows,
    refuse_beyond_limits,
)
from headland.files.xml_limits import BeyondLimits, LimitedParser

LARGEST_WORKBOOK = 10_000_000
"""Bytes of the file."""
MOST_PARTS = 200
"""Files in a workbook: one of a spreadsheet program has under thirty."""
MOST_ELEMENTS, MOST_SHARED_TEXTS, MOST_ELEMENTS_OF_SHEET = 20_000, 200_000, 1_000_000
"""Elements of a part, of the shared texts, and of a sheet: 10,000 rows of 20 filled cells have 600,000."""

BLANK_ROWS = 100_000
"""Empty rows of a sheet that are passed over: a sheet may claim a row far down, with all rows before it
empty.
"""


def workbook_rows(path: Path, most: int = MOST_BY_HAND) -> tuple[Rows, list[Finding]]:
    """The filled rows of the first sheet, with times and dates in ISO form. most: rows that it may have.

    Raises UserErrors where the workbook is beyond a limit or can't be read.
    """
    try:
        _refuse_beyond_limits(path)
        with first_sheet(path) as sheet:
            return _rows(sheet, path.name, most), []
    except UserErrors:
        raise
    except Exception:  # openpyxl raises many kinds on a damaged workbook; each means the same to the user
        wanted = "an XLSX workbook whose first sheet is the table"
        raise refuse(path.name, None, "the file can't be read as a workbook", wanted) from None


def _refuse_beyond_limits(path: Path) -> None:
    """Raise UserErrors before the library reads a workbook that would need much memory or time.

    The library builds objects from every element of the styles and the shared texts, and reads the sheet as a
    stream.
    """
    wanted = "a table written by hand, saved again from a spreadsheet program"
    if path.stat().st_size > LARGEST_WORKBOOK:
        raise refuse(path.name, None, "the workbook is larger than 10 MB", wanted)
    with zipfile.ZipFile(path) as archive:
        parts = archive.infolist()
        if len(parts) > MOST_PARTS:
            raise refuse(path.name, None, f"more than {MOST_PARTS} parts in the workbook", wanted)
        if sum(part.file_size for part in parts) > LARGEST_USER_TABLE:
            raise refuse(path.name, None, "the workbook is larger than 50 MB", wanted)
        for part in parts:
            if part.filename.endswith((".xml", ".rels", ".vml")):
                try:
                    with archive.open(part) as stream:
                        _Cells(_most_elements(part.filename)).read(stream)
                except BeyondLimits as problem:
                    where = f"{problem.found} in its part {part.filename[:60]}"
                    raise refuse(path.name, None, where, wanted) from None


def _most_elements(part: str) -> int:
    if part.startswith("xl/worksheets/"):
        return MOST_ELEMENTS_OF_SHEET
    return MOST_SHARED_TEXTS if part.lower().endswith("sharedstrings.xml") else MOST_ELEMENTS


class _Cells:
    """Parses a part within limits, and refuses a filled cell beyond the last column that is read."""

    def __init__(self, most: int):
        self.column = 0
        self.parser = LimitedParser(most, self._start, namespaces=True)

    def read(self, stream) -> None:
        self.parser.read(stream)

    def _start(self, tag: str, attributes: Mapping[str, str]) -> None:
        local = tag.rpartition(" ")[2]
        if local == "c":
            self.column = _column_number(attributes.get("r", ""))
        elif local in ("v", "is", "f") and self.column > MOST_COLUMNS:
            raise BeyondLimits(f"more than {MOST_COLUMNS} columns", self.parser.line)


def _column_number(reference: str) -> int:
    """The column of a cell such as AB12, from 1; 0 where it has none."""
    number = 0
    for letter in reference.rstrip("0123456789")[:4]:
        number = number * 26 + ord(letter.upper()) - ord("A") + 1
    return number


def _rows(sheet, name: str, most: int) -> Rows:
    rows: Rows = []
    characters = 0
    for number, cells in enumerate(sheet.iter_rows(values_only=True, max_col=MOST_COLUMNS + 1), 1):
        if number > BLANK_ROWS + most:
            wanted = "a table such as this tool describes, from the first row on"
            raise refuse(name, None, f"more than {most} rows", wanted)
        texts = [cell_text(cell) for cell in cells]
        while texts and not texts[-1]:
            texts.pop()
        if texts:
            refuse_beyond_limits(name, number, texts, count=len(rows), most=most)
            characters += sum(map(len, texts))  # cells may share a text that the file holds once
            if characters > LARGEST_USER_TABLE:
                raise refuse(name, number, "more than 50 MB of text", "a table written by hand")
            rows.append((number, texts))
    return rows


@contextlib.contextmanager
def first_sheet(path: Path) -> Iterator:
    """The first sheet of a workbook, read row by row.

    The library's warnings (a lost style, a date beyond all dates) are not shown: where they matter, a cell
    shows it.
    """
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with contextlib.closing(
            openpyxl.load_workbook(path, read_only=True, data_only=True, keep_links=False)
        ) as book:
            yield book.worksheets[0]


def cell_text(cell: object) -> str:
    """A cell's value as text."""
    match cell:
        case None:
            return ""
        case bool():
            return str(cell).lower()
        case datetime.datetime() if cell.time() == datetime.time(0):
            return cell.date().isoformat()
        case datetime.datetime():
            return cell.isoformat(sep=" ", timespec="seconds")
        case datetime.time():
            return cell.isoformat(timespec="seconds")
        case datetime.timedelta():
            seconds = round(cell.total_seconds())
            return f"{seconds // 3600:02d}:{seconds % 3600 // 60:02d}:{seconds % 60:02d}"
        case float() if cell.is_integer():
            return str(int(cell))
        case _:
            return str(cell).strip()
