"""The result tables as a workbook for a spreadsheet: a sheet of meanings, then a sheet a table with units
under the names of its columns.

Text is written as text and marked as such, so that no cell is ever taken for a formula; numbers stay
numbers, with the decimals of the table.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import openpyxl
from openpyxl.cell import Cell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from headland.files import options
from headland.files.saved_workbook import saved

LONGEST = 32_767
"""Characters that a cell of a spreadsheet holds."""
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")
"""What a text may begin with that some spreadsheet would take for a formula."""

READS = {"package": options.JSON, "tables": options.TEXTS_OF_TABLES}


def workbook(resources: Sequence[Mapping], rows: Mapping[str, Sequence[Sequence[str]]]) -> bytes:
    """The bytes of the workbook. resources: of datapackage.json. rows: of each table by its resource's path,
    as texts, the line of names left out.
    """
    book = openpyxl.Workbook()
    meanings = book.active
    meanings.title = "meanings"
    _head(meanings, [("sheet", ""), ("column", ""), ("unit", ""), ("meaning", "")])
    names = [_sheet(resource["path"]) for resource in resources]
    for name, resource in zip(names, resources, strict=True):
        _texts(meanings, [name, "", "", resource["description"]])
        for field in resource["schema"]["fields"]:
            _texts(meanings, [name, field["name"], field.get("unit", ""), field["description"]])
    for name, resource in zip(names, resources, strict=True):
        sheet, fields = book.create_sheet(name), resource["schema"]["fields"]
        _head(sheet, [(field["name"], field.get("unit", "")) for field in fields])
        for number, row in enumerate(rows[resource["path"]], 3):
            for column, (text, field) in enumerate(zip(row, fields, strict=False), 1):
                if text:
                    _fill(sheet.cell(number, column), text, field["type"])
    for sheet in book.worksheets:
        _widen(sheet)
    return saved(book)


def _sheet(path: str) -> str:
    return path.rsplit("/", 1)[-1].removesuffix(".csv")[:31]


def _head(sheet, columns: Sequence[tuple[str, str]]) -> None:
    """Names of columns and their units, which stay in view."""
    for line, (part, font) in enumerate(((0, Font(bold=True)), (1, Font(italic=True))), 1):
        for column, pair in enumerate(columns, 1):
            cell = sheet.cell(line, column)
            _text(cell, pair[part])
            cell.font = font
    sheet.freeze_panes = "A3"


def _texts(sheet, texts: Sequence[str]) -> None:
    number = sheet.max_row + 1
    for column, text in enumerate(texts, 1):
        _text(sheet.cell(number, column), text)


def _fill(cell: Cell, text: str, kind: str) -> None:
    """A cell of a table: a number with as many decimals as it is printed with, anything else as text."""
    if kind in ("number", "integer") and re.fullmatch(r"-?\d{1,15}(\.\d+)?", text):
        decimals = len(text.partition(".")[2])
        cell.value = float(text) if decimals else int(text)
        cell.number_format = f"0.{'0' * decimals}" if decimals else "0"
    else:
        # the apostrophe that the CSV puts before what looks like a formula is not needed: the cell says
        # itself that it is text
        _text(cell, text[1:] if text[:1] == "'" and text[1:2] in FORMULA else text)


def _text(cell: Cell, text: str) -> None:
    if not text:
        return
    cell.value = ILLEGAL_CHARACTERS_RE.sub("\ufffd", text)[:LONGEST]
    cell.data_type = "s"
    if text.startswith(FORMULA):
        cell.quotePrefix = True  # stays text when somebody edits the cell
    if len(text) > 60:
        cell.alignment = Alignment(wrap_text=True, vertical="top")


def _widen(sheet) -> None:
    for number, cells in enumerate(sheet.iter_cols(values_only=True), 1):
        longest = max((len(str(value)) for value in cells if value is not None), default=8)
        sheet.column_dimensions[get_column_letter(number)].width = min(max(longest + 2, 8), 60)
