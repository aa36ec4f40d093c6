"""Workbooks that are written: the same bytes whenever they are, also by a clock that no zip can hold."""

import time
import zipfile

import openpyxl
import pytest

from headland.files import saved_workbook


def book():
    made = openpyxl.Workbook()
    made.active.append(["a", 1.5, "=1+1"])
    made.create_sheet("more").append(["b"])
    return made


@pytest.mark.parametrize("year", [1970, 1979, 2026, 2108])
def test_a_workbook_is_saved_by_any_clock_with_the_same_bytes(tmp_path, monkeypatch, year):
    """A laptop with an empty battery starts in 1970: `new`, `plan` and `report` ended in a trace."""
    right = saved_workbook.saved(book())
    now = (year, 1, 2, 3, 4, 5, 4, 2, 0)
    monkeypatch.setattr(time, "localtime", lambda *_: time.struct_time(now))
    content = saved_workbook.saved(book())
    assert content == right
    path = tmp_path / "a.xlsx"
    path.write_bytes(content)
    assert [cell.value for cell in openpyxl.load_workbook(path).worksheets[0][1]] == ["a", 1.5, "=1+1"]
    with zipfile.ZipFile(path) as archive:
        assert {entry.date_time[0] for entry in archive.infolist()} == {1980}
        assert archive.read(saved_workbook.CORE).count(saved_workbook.NEVER) == 2
        assert archive.testzip() is None and len(set(archive.namelist())) == len(archive.namelist())
