"""Rows of the first sheet of a workbook (XLSX) that a user wrote, as text, with the number of each row.

A workbook is untrusted: what it unpacks to is limited before a library reads it.
"""

from __future__ import annotations

import contextlib
import datetime
import warnings
import zipfile
from collections.abc import Iterator
from pathlib import Path

from headland.base.errors import UserErrors, refuse
from headland.base.findings import Finding
from headland.files.user_rows import LARGEST_USER_TABLE, MOST_BY_HAND, Rows, refuse_beyond_limits

BLANK_ROWS = 100_000
"""Empty rows of a sheet that are passed over: a sheet may claim a row far down, with all rows before it
empty.
"""


def workbook_rows(path: Path, most: int = MOST_BY_HAND) -> tuple[Rows, list[Finding]]:
    """The filled rows of the first sheet, with times and dates in ISO form. most: rows that it may have.

    Raises UserErrors where the workbook is beyond a limit or can't be read.
    """
    try:
        _refuse_large(path)
        with first_sheet(path) as sheet:
            return _rows(sheet, path.name, most), []
    except UserErrors:
        raise
    except Exception:  # openpyxl raises many kinds on a damaged workbook; each means the same to the user
        wanted = "an XLSX workbook whose first sheet is the table"
        raise refuse(path.name, None, "the file can't be read as a workbook", wanted) from None


def _refuse_large(path: Path) -> None:
    with zipfile.ZipFile(path) as archive:
        if sum(item.file_size for item in archive.infolist()) > LARGEST_USER_TABLE:
            raise refuse(path.name, None, "the workbook is larger than 50 MB", "a table written by hand")


def _rows(sheet, name: str, most: int) -> Rows:
    rows: Rows = []
    for number, cells in enumerate(sheet.iter_rows(values_only=True), 1):
        if number > BLANK_ROWS + most:
            wanted = "a table such as this tool describes, from the first row on"
            raise refuse(name, None, f"more than {most} rows", wanted)
        texts = [cell_text(cell) for cell in cells]
        while texts and not texts[-1]:
            texts.pop()
        if texts:
            refuse_beyond_limits(name, number, texts, count=len(rows), most=most)
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
        with contextlib.closing(openpyxl.load_workbook(path, read_only=True, data_only=True)) as book:
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
