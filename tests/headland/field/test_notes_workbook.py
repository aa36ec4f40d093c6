"""The workbook for the notes checks each cell as it is typed, and says what is allowed."""

import pytest
from openpyxl.utils.datetime import from_excel

from headland.field.notes_workbook import ROWS, notes_workbook
from headland.files.schemas import table_schema

FIELDS = table_schema("notes")["fields"]


@pytest.fixture(scope="module")
def checked():
    """The check of each column, by the column's name."""
    book = notes_workbook(FIELDS, ["heron", "plover"], ["paving", "snow"])
    sheet = book.active
    heads = {cell.column_letter: cell.value for cell in sheet[1]}
    found = {}
    for check in sheet.data_validations.dataValidation:
        (area,) = check.sqref.ranges
        first, last = area.coord.split(":")
        assert (first[1:], last[1:]) == ("2", str(ROWS)) and first[0] == last[0]
        found[heads[first[0]]] = check
    return book, found


def test_every_check_speaks_and_lets_a_cell_be_empty(checked):
    _, found = checked
    assert len(found) >= 9
    for name, check in found.items():
        assert check.allow_blank and check.showErrorMessage and check.showInputMessage, name
        assert (
            check.error and check.prompt and check.errorTitle == check.promptTitle == name.replace("_", " ")
        )


@pytest.mark.parametrize("column, values", [("set", ["heron", "plover"]), ("surface", ["paving", "snow"])])
def test_a_list_holds_what_is_allowed_and_nothing_more(checked, column, values):
    book, found = checked
    sheet, cells = found[column].formula1.split("!")
    assert [row[0].value for row in book[sheet][cells.replace("$", "")]] == values


def test_times_dates_and_numbers_are_within_what_the_chain_reads(checked):
    _, found = checked
    for name in ("start", "end"):
        check = found[name]
        assert (check.type, check.operator, float(check.formula1)) == ("time", "between", 0.0)
        assert from_excel(float(check.formula2)).strftime("%H:%M:%S") == "23:59:59"
    date = found["date"]
    assert (date.type, date.operator) == ("date", "greaterThan")
    assert from_excel(float(date.formula1)).strftime("%Y-%m-%d") == "2000-01-01"
    heading = found["heading"]
    assert (heading.type, heading.operator) == ("decimal", "between")
    assert (float(heading.formula1), float(heading.formula2)) == (0.0, 360.0)
    assert heading.error == "A number from 0 to 360 (degree)."
