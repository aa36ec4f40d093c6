"""Tables as people write them: encodings, faults by line, workbooks, the weather."""

import datetime
import zipfile
from collections import Counter

import numpy as np
import openpyxl
import pandas as pd
import pytest

from headland.files import user_rows, user_tables

from .made_tables import TEXT, codes, read, register


def test_a_plain_table(tmp_path):
    frame, found = read(tmp_path, TEXT)
    assert found == [] and frame["line"].tolist() == [2, 3]
    assert frame["air_temperature"].tolist() == [19.5, 20.5] and frame["pressure"].isna().tolist() == [
        False,
        True,
    ]


@pytest.mark.parametrize(
    "encoding, code",
    [("utf-8-sig", []), ("utf-16", ["wrong-encoding/table"]), ("latin-1", ["wrong-encoding/table"])],
)
def test_encodings(tmp_path, encoding, code):
    frame, found = read(
        tmp_path,
        "date,set,start,end,field,surface,remark\n2026-05-21,heron,09:00,09:10,Mühle,stubble,kühl\n".encode(
            encoding
        ),
        "notes.csv",
        "notes",
    )
    assert (
        codes(found) == code and frame["field"].tolist() == ["Mühle"] and frame["remark"].tolist() == ["kühl"]
    )


@pytest.mark.parametrize("delimiter, word", [(";", "semicolons"), ("\t", "tabs")])
def test_other_delimiters_are_read_and_named(tmp_path, delimiter, word):
    frame, found = read(tmp_path, TEXT.replace(",", delimiter))
    assert (
        codes(found) == ["wrong-delimiter/table"]
        and found[0].facts["found"] == word
        and frame["air_temperature"].tolist() == [19.5, 20.5]
    )


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_line_ends_and_blank_lines(tmp_path, ends):
    frame, found = read(tmp_path, ("\n" + TEXT.replace("\n", "\n\n") + ",,,,\n").replace("\n", ends))
    assert codes(found) == [] and len(frame) == 2 and frame["line"].tolist() == [4, 6]


def test_quotes_hold_commas_and_line_ends(tmp_path):
    text = (
        "set,start,end,field,surface,remark\n"
        'heron,09:00,09:10,"mill, ""old""",stubble,"two\nlines"\n'
        "heron,10:00,10:10,yard,paving,\n"
    )
    frame, found = read(tmp_path, text, "notes.csv", "notes")
    assert (
        found == []
        and frame["field"].tolist() == ['mill, "old"', "yard"]
        and frame["line"].tolist() == [2, 4]
    )


def test_columns_in_any_order_and_unknown_missing_or_twice(tmp_path):
    assert read(tmp_path, "wind_speed,time_utc\n2.5,2026-05-21T09:00:00Z\n")[0]["wind_speed"].tolist() == [
        2.5
    ]
    frame, found = read(
        tmp_path, "time_utc,air_temprature,colour,wind_speed,wind_speed\n2026-05-21T09:00:00Z,1,2,3,4\n"
    )
    assert codes(found) == ["column-unknown", "column-unknown", "column-twice"]
    assert found[0].facts["hint"] == '; did you mean "air_temperature"?' and found[1].facts["hint"] == ""
    assert frame["wind_speed"].tolist() == [3.0]
    frame, found = read(
        tmp_path, "set,start,endd,field,surface\nheron,09:00,09:10,mill,stubble\n", "notes.csv", "notes"
    )
    assert (
        codes(found)[0] == "column-missing"
        and found[0].facts["column"] == "end"
        and '"endd"' in found[0].facts["hint"]
        and frame.empty
    )


@pytest.mark.parametrize(
    "cell, kept",
    [
        ("abc", False),
        ("1,2,3", False),
        ("nan", False),
        ("inf", False),
        ("1e999", False),
        ("0x10", False),
        ("1_000", False),
        ("-91", False),
        ("61", False),
        ("19.5", True),
        ("-5", True),
        ("1.95e1", True),
        (" 19.5 ", True),
        ("+3.", True),
        (".5", True),
    ],
)
def test_numbers(tmp_path, cell, kept):
    frame, found = read(tmp_path, f'time_utc,air_temperature\n2026-05-21T09:00:00Z,"{cell}"\n')
    assert (
        codes(found) == ([] if kept else ["value-invalid"])
        and frame["air_temperature"].notna().item() == kept
    )
    assert kept or (
        found[0].line == 2
        and found[0].facts["value"] == cell
        and found[0].facts["column"] == "air_temperature"
    )


@pytest.mark.parametrize(
    "row, column, hint",
    [
        ("heron,H-1,sw_inn,S,70,W m-2 per mV,2025-01-31", "channel", "sw_in"),
        ("heron,H-1,sw_in,S,70,W/m2 per mV,2025-01-31", "factor_unit", "W m-2 per mV"),
        ("heron,H-1,sw_in,S,70,W m-2 per mV,31.13.2025", "certificate_date", ""),
        ("heron,H-1,sw_in,S,70,W m-2 per mV,2025-02-30", "certificate_date", ""),
        ("heron,H-1,sw_in,S,-70,W m-2 per mV,2025-01-31", "factor", ""),
        ("heron,,sw_in,S,70,W m-2 per mV,2025-01-31", "logger_id", ""),
    ],
)
def test_a_cell_that_does_not_fit_is_emptied_and_named(tmp_path, row, column, hint):
    frame, found = read(tmp_path, register(row), "instruments.csv", "instruments")
    assert codes(found) == ["value-invalid"] and (found[0].facts["column"], found[0].line) == (column, 2)
    assert hint in found[0].facts["hint"] and bool(hint) == bool(found[0].facts["hint"])
    assert len(frame) == 1 and (frame[column].item() in ("",) or np.isnan(frame[column].item()))


def test_all_faults_of_a_table_at_once(tmp_path):
    _, found = read(
        tmp_path,
        "time_utc,air_temperature,wind_speed\n2026-05-21T09:00:00Z,x,-1\n2026-05-21T10:00:00Z,99,y,z\n",
    )
    assert codes(found) == [
        "row-too-long",
        "value-invalid",
        "value-invalid",
        "value-invalid",
        "value-invalid",
    ]
    assert [f.line for f in found] == [3, 2, 2, 3, 3]


@pytest.mark.parametrize("content", ["", "\n\n", ",,,\n"])
def test_an_empty_file(tmp_path, content):
    frame, found = read(tmp_path, content)
    assert frame.empty and codes(found) in (["file-empty/table"], ["column-missing"])


def test_a_binary_file_and_broken_quotes(tmp_path):
    assert codes(read(tmp_path, b"PK\x00\x01\x02")[1]) == ["table-unreadable"]
    assert read(tmp_path, 'time_utc,air_temperature\n"2026-05-21T09:00:00Z,1\n')[0] is not None
    assert codes(read(tmp_path, "time_utc,air_temperature\n" + '"' + "x" * 200_000 + '"\n')[1]) == [
        "table-unreadable"
    ]


def test_a_file_too_large_is_not_opened(tmp_path, monkeypatch):
    monkeypatch.setattr(user_rows, "LARGEST_USER_TABLE", 10)
    assert codes(read(tmp_path, TEXT)[1]) == ["table-unreadable"]


# Workbooks
# ---------------------------------------------------------------------------------------------------------


def workbook(path, *rows):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.create_sheet("other").append(["nothing to see"])
    book.save(path)
    return path


def test_a_workbook_with_times_dates_and_numbers_as_cells(tmp_path):
    path = workbook(
        tmp_path / "notes.xlsx",
        ["date", "set", "start", "end", "field", "surface", "heading", "pass"],
        [
            datetime.date(2026, 5, 21),
            "heron",
            datetime.time(9, 31, 20),
            datetime.datetime(2026, 5, 21, 9, 45),
            "mill",
            "stubble",
            90,
            1.0,
        ],
        [],
        [None, "heron", datetime.timedelta(hours=10), "10:10", "yard", "paving", 270.5, "b"],
    )
    frame, found = user_tables.read_user_table(path, "notes")
    assert found == [] and frame["line"].tolist() == [2, 4]
    assert frame["date"].tolist() == ["2026-05-21", ""] and frame["start"].tolist() == [
        "09:31:20",
        "10:00:00",
    ]
    assert (
        frame["end"].tolist() == ["2026-05-21 09:45:00", "10:10"]
        and frame["heading"].tolist() == [90.0, 270.5]
        and frame["pass"].tolist() == ["1", "b"]
    )


def test_formulas_of_a_workbook_are_not_evaluated(tmp_path):
    path = workbook(
        tmp_path / "weather.xlsx", ["time_utc", "air_temperature"], ["2026-05-21T09:00:00Z", "=1+1"]
    )
    frame, _ = user_tables.read_user_table(path, "weather")
    assert frame["air_temperature"].isna().all()


@pytest.mark.parametrize("content", [b"", b"not a workbook", b"PK\x03\x04" + b"\x00" * 40])
def test_a_damaged_workbook(tmp_path, content):
    assert codes(read(tmp_path, content, "notes.xlsx", "notes")[1]) == ["table-unreadable"]


def test_a_zip_bomb_is_refused_before_it_is_unpacked(tmp_path):
    path = workbook(tmp_path / "notes.xlsx", ["set"])
    with (
        zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/worksheets/sheet9.xml", "w") as stream,
    ):
        for _ in range(60):
            stream.write(b"0" * 1_000_000)
    assert path.stat().st_size < 200_000
    _, found = user_tables.read_user_table(path, "notes")
    assert codes(found) == ["table-unreadable"] and "50 MB" in found[0].facts["found"]


# The weather
# -------------------------------------------------------------------------------------------------------


def test_weather_times_become_times_or_a_finding(tmp_path):
    path = tmp_path / "weather.csv"
    path.write_text(TEXT + "yesterday,20,,,\n2026-05-21T13:00:00+02:00,21,,,\n", encoding="utf-8")
    frame, found = user_tables.read_weather([path])
    assert [(f.code, f.line, f.facts["column"]) for f in found] == [("value-invalid", 4, "time_utc")]
    assert frame["time_utc"].iloc[3] == pd.Timestamp("2026-05-21T11:00:00Z") and len(frame) == 4
    assert user_tables.read_weather([])[0].empty


def test_of_a_thousand_wrong_cells_the_rest_is_counted(tmp_path):
    """A station's file with a word for what is missing may have half a million of them."""
    rows = "".join(f"2026-05-21T10:00:00Z,x{n},1,300,400,\n" for n in range(1205))
    (tmp_path / "station.csv").write_text("time_utc,sw_in,sw_out,lw_in,lw_out\n" + rows)
    _, found = user_tables.read_station([tmp_path / "station.csv"])
    kinds = Counter((one.code, one.facts.get("column", "")) for one in found)
    assert kinds["value-invalid", "sw_in"] == 1000 and kinds["not-listed", ""] == 1
    (more,) = [one for one in found if one.code == "not-listed"]
    assert more.facts == {"count": 205, "kind": "value-invalid of sw_in", "first": 1002, "last": 1206}


def test_of_a_thousand_times_that_can_not_be_read_the_rest_is_counted(tmp_path):
    (tmp_path / "weather.csv").write_text("time_utc,air_temperature\n" + "noon,20\n" * 1003)
    frame, found = user_tables.read_weather([tmp_path / "weather.csv"])
    assert len(frame) == 1003 and [one.code for one in found].count("value-invalid") == 1000
    assert found[-1].facts["count"] == 3


def test_rows_have_the_line_on_which_they_begin(tmp_path):
    """Blank lines and line ends within quotes count as lines, and blank lines are no rows."""
    (tmp_path / "notes.csv").write_text('a,b\n\n1,"two\nlines"\n,\n3,4\n')
    rows, findings = user_rows.csv_rows(tmp_path / "notes.csv", 100)
    assert rows == [(1, ["a", "b"]), (3, ["1", "two\nlines"]), (6, ["3", "4"])] and findings == []
    (tmp_path / "notes.csv").write_text("\n\na;b\n1;2\n")
    rows, (found,) = user_rows.csv_rows(tmp_path / "notes.csv", 100)
    assert [line for line, _ in rows] == [3, 4] and (found.code, found.line) == ("wrong-delimiter", 1)
