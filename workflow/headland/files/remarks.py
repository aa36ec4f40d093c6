"""A user's table without its remarks, for handing a campaign on."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from headland.files.schemas import table_schema
from headland.files.user_rows import MOST_BY_HAND, MOST_ROWS, csv_rows, decoded, delimiter_of
from headland.files.workbooks import cell_text, first_sheet, workbook_rows


def csv_without_remarks(path: Path, kind: str) -> bytes:
    """A user's table without its remarks and without columns that its schema lacks.

    Their cells are empty, and every line keeps its number.
    """
    csv_rows(path, MOST_ROWS.get(kind, MOST_BY_HAND))  # refuses what is too large or damaged
    text, other = decoded(path.read_bytes(), path.name)
    encoding = other[0].facts["found"].split()[0].lower() if other else "utf-8"
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter_of(text)))
    header = next((row for row in rows if any(cell.strip() for cell in row)), [])
    keep = _columns_to_keep(header, kind)
    out = io.StringIO(newline="")
    line_end = "\r\n" if "\r\n" in text else "\n"
    writer = csv.writer(out, delimiter=delimiter_of(text), lineterminator=line_end)
    for row in rows:
        # the line ends within a remark stay, so that the rows below it keep their numbers
        writer.writerow(
            cell if number in keep else "".join(c for c in cell if c in "\r\n")
            for number, cell in enumerate(row)
        )
    return out.getvalue().encode(encoding)


def workbook_without_remarks(path: Path, kind: str):
    """As `csv_without_remarks`, for a workbook: a new one with the other columns of the first sheet."""
    import openpyxl

    workbook_rows(path)  # refuses what is too large or damaged
    with first_sheet(path) as sheet:
        rows = list(sheet.iter_rows(values_only=True))
    texts = ([cell_text(cell) for cell in row] for row in rows)
    keep = _columns_to_keep(next((row for row in texts if any(row)), []), kind)
    book = openpyxl.Workbook()
    for number, row in enumerate(rows, 1):
        for column, value in enumerate(row):
            if column in keep and value is not None:
                cell = book.active.cell(number, column + 1)
                cell.value = value
                if isinstance(value, str):
                    cell.data_type = "s"  # never a formula
    return book


def _columns_to_keep(header: Sequence[str], kind: str) -> set[int]:
    known = {field["name"] for field in table_schema(kind)["fields"]} - {"remark"}
    return {number for number, cell in enumerate(header) if cell.strip() in known}
