"""The workbook of results."""

import io

import openpyxl
import pytest

from headland.report import workbook


@pytest.mark.parametrize("text", ['=HYPERLINK("x")', "+1+1", "-1+1", "@SUM(1)", "'=1+1"])
def test_no_cell_of_the_workbook_is_a_formula(text):
    resource = {
        "path": "t.csv",
        "description": "d",
        "schema": {
            "fields": [
                {"name": "field", "type": "string", "description": "f"},
                {"name": "n", "type": "number", "unit": "W m-2", "description": "n"},
            ]
        },
    }
    content = workbook.workbook([resource], {"t.csv": [[text, "-1.50"]]})
    sheet = openpyxl.load_workbook(io.BytesIO(content))["t"]
    assert (
        sheet["A3"].data_type == "s"
        and sheet["A3"].value == text.removeprefix("'")
        and sheet["A3"].quotePrefix
    )
    assert sheet["B3"].value == -1.5 and sheet["B3"].number_format == "0.00" and sheet["B2"].value == "W m-2"
    assert content == workbook.workbook([resource], {"t.csv": [[text, "-1.50"]]})
