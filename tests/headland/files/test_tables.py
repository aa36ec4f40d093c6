"""Tables as steps leave them: numbers, times, round trips, pieces."""

import datetime
import re

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.base.errors import UserError
from headland.base.findings import Finding
from headland.base.time_text import time_text, times
from headland.files import tables, writing
from headland.files.schemas import table_schema


@pytest.mark.parametrize(
    "stamps, texts",
    [
        (["2026-05-21T09:00:00", "2026-05-21T09:00:01"], ["2026-05-21T09:00:00Z", "2026-05-21T09:00:01Z"]),
        (
            ["2026-05-21T09:00:00", "2026-05-21T09:00:00.5"],
            ["2026-05-21T09:00:00.0Z", "2026-05-21T09:00:00.5Z"],
        ),
        (["2026-05-21T09:00:00.25", None], ["2026-05-21T09:00:00.25Z", ""]),
        (["2026-05-21T09:00:00.000001"], ["2026-05-21T09:00:00.000001Z"]),
        (["2026-05-21T09:00:00.125"], ["2026-05-21T09:00:00.125Z"]),
        ([], []),
    ],
)
def test_times_have_as_many_decimals_as_they_need(stamps, texts):
    assert time_text(pd.DatetimeIndex(stamps, tz="UTC")) == texts


@given(st.lists(st.datetimes(datetime.datetime(1970, 1, 1), datetime.datetime(2100, 1, 1)), max_size=20))
def test_times_there_and_back(stamps):
    index = pd.DatetimeIndex(pd.to_datetime(stamps, utc=True)).as_unit("us")
    assert times(pd.Series(time_text(index), dtype=object)).tolist() == list(index)


def test_times_of_a_zone_are_written_in_utc():
    assert time_text(pd.DatetimeIndex(["2026-05-21T11:00:00"]).tz_localize("Europe/Zurich")) == [
        "2026-05-21T09:00:00Z"
    ]


@pytest.mark.parametrize(
    "value, text",
    [
        (-0.0, "0.00"),
        (-0.004, "0.00"),
        (-0.005, "-0.01"),
        (0.005, "0.01"),
        (np.nan, ""),
        (np.inf, ""),
        (1234.567, "1234.57"),
        (None, ""),
    ],
)
def test_numbers_as_written(value, text):
    got = tables._cells(pd.Series([value], dtype=float), {"type": "number", "decimals": 2})[0]
    assert got == text or (abs(value) == 0.005 and got.lstrip("-") in ("0.00", "0.01") and got != "-0.00")


@given(st.floats(-1e6, 1e6), st.integers(0, 6))
def test_there_is_no_negative_zero(value, decimals):
    text = tables._cells(pd.Series([value]), {"type": "number", "decimals": decimals})[0]
    assert not re.fullmatch(r"-0(\.0*)?", text) and float(text) == pytest.approx(
        value, abs=0.5000001 * 10.0**-decimals
    )


@pytest.mark.parametrize(
    "cell, written",
    [
        ("=1+1", "'=1+1"),
        ("+cmd", "'+cmd"),
        ("-x", "'-x"),
        ("@sum", "'@sum"),
        ("\tx", "'\tx"),
        ("-3.5", "-3.5"),
        ("+01:00", "+01:00"),
        ("-", "'-"),
        ("plain", "plain"),
        ("a,b", '"a,b"'),
        ('a"b', '"a""b"'),
        ("=a,b", '"\'=a,b"'),
        ("a\nb", '"a\nb"'),
    ],
)
def test_text_that_a_spreadsheet_would_run_is_disarmed(cell, written):
    assert tables.quoted(cell) == written


def test_a_table_there_and_back(tmp_path):
    frame = pd.DataFrame(
        {
            "surface_a": ["stubble", 'odd, "name"'],
            "surface_b": ["paving", "snow"],
            "quantity": ["albedo", "net_radiation"],
            "difference": [0.12, -0.0],
            "difference_low": [0.1, np.nan],
            "difference_high": [0.14, np.nan],
            "distinguishable": ["true", None],
            "why": ["", "visited too far apart"],
            "as_visited": [0.11, 1.0],
        }
    )
    tables.write_table(tmp_path / "deep/differences.csv", frame, "differences")
    back = tables.read_table(tmp_path / "deep/differences.csv", "differences")
    assert back["surface_a"].tolist() == frame["surface_a"].tolist() and back[
        "difference_low"
    ].isna().tolist() == [False, True]
    assert (
        back["distinguishable"].tolist()[0] == "true"
        and back["distinguishable"].iloc[1] == ""
        and "-0.0" not in (tmp_path / "deep/differences.csv").read_text()
    )
    tables.write_table(tmp_path / "again.csv", back, "differences")
    assert (tmp_path / "again.csv").read_bytes() == (tmp_path / "deep/differences.csv").read_bytes()


def test_segments_there_and_back_to_the_written_decimals(tmp_path):
    generator = np.random.default_rng(8)
    fields = table_schema("segments")["fields"]
    values = {
        "string": lambda: ["a", "b c", ""],
        "datetime": lambda: pd.to_datetime(
            ["2026-05-21T09:00:00.5Z", "2026-05-21T10:00:00.0Z", None], utc=True
        ),
        "integer": lambda: [3, 0, 12],
        "number": lambda: [*generator.normal(0, 300, 2), np.nan],
    }
    frame = pd.DataFrame({field["name"]: values[field["type"]]() for field in fields})
    tables.write_table(tmp_path / "segments.csv", frame, "segments")
    back = tables.read_table(tmp_path / "segments.csv", "segments")
    assert list(back) == [field["name"] for field in fields]
    for field in fields:
        if field["type"] == "number":
            assert back[field["name"]].to_numpy() == pytest.approx(
                frame[field["name"]].to_numpy(), abs=0.500001 * 10.0 ** -field["decimals"], nan_ok=True
            )
    assert back["start_utc"].iloc[0] == pd.Timestamp("2026-05-21T09:00:00.5Z") and pd.isna(
        back["start_utc"].iloc[2]
    )


def test_findings_there_and_back(tmp_path):
    found = [
        Finding(
            "value-invalid",
            "",
            "heron",
            "notes.csv",
            7,
            "2026-05-21T09:00:00Z",
            "",
            "sw_in",
            {"value": 'a, "b" é {x}', "n": 3},
        ),
        Finding("no-segment"),
    ]
    tables.write_findings(tmp_path / "f.csv", found)
    assert tables.read_findings(tmp_path / "f.csv") == found
    tables.write_findings(tmp_path / "f.csv", [])
    assert tables.read_findings(tmp_path / "f.csv") == []


def test_a_fault_as_a_plain_line():
    assert (
        str(UserError("notes.csv", 3, "x", "y")) == "notes.csv, line 3: x; expected y"
        and str(UserError("notes.csv", None, "x", "y")) == "notes.csv: x; expected y"
    )


def test_a_file_gets_its_name_once_it_is_whole_and_leftovers_go(tmp_path):
    path = tmp_path / "a[1].csv"
    path.write_text("old")
    (tmp_path / ".a[1].csv.77.part").write_text("left by a killed run")
    with pytest.raises(RuntimeError), writing.whole(path) as part:
        part.write_text("half")
        assert path.read_text() == "old"
        raise RuntimeError
    assert path.read_text() == "old" and [p.name for p in tmp_path.iterdir()] == ["a[1].csv"]
    with writing.whole(path) as part:
        part.write_text("new")
    assert path.read_text() == "new" and [p.name for p in tmp_path.iterdir()] == ["a[1].csv"]


def test_a_table_written_in_pieces_has_the_same_bytes(tmp_path, monkeypatch):
    """A single time with a fraction, far from the first piece, gives every time its decimals."""
    times = pd.date_range("2025-08-20T10:00:00Z", periods=50, freq="1s").to_series(index=range(50))
    times.iloc[47] += pd.Timedelta("500ms")
    frame = pd.DataFrame(
        {
            "time_utc": times,
            "sw_in": np.arange(50.0),
            "sw_out": 1.0,
            "lw_in": 2.0,
            "lw_out": 3.0,
            "body_temperature": np.where(np.arange(50) == 30, np.nan, 20.0),
        }
    )
    tables.write_table(tmp_path / "whole.csv", frame, "samples_corrected")
    monkeypatch.setattr(tables, "PIECE", 7)
    tables.write_table(tmp_path / "pieces.csv", frame, "samples_corrected")
    assert (tmp_path / "pieces.csv").read_bytes() == (tmp_path / "whole.csv").read_bytes()
    assert (
        tables.read_table(tmp_path / "pieces.csv", "samples_corrected")["time_utc"].tolist() == times.tolist()
    )


def long_table(count=50):
    times = (
        pd.date_range("2025-08-20T10:00:00Z", periods=count, freq="1500ms")
        .to_series(index=range(count))
        .astype("datetime64[us, UTC]")
    )
    return pd.DataFrame(
        {
            "time_utc": times,
            "solar_elevation": np.arange(count) / 8.0,
            "solar_azimuth": 180.0,
            "sw_clear": np.where(np.arange(count) == 30, np.nan, 20.0),
            "flags": [("", "sun-low", "edge sun-low")[i % 3] for i in range(count)],
        }
    )


@pytest.mark.parametrize("count", [0, 1, 7, 50])
def test_a_table_goes_through_in_pieces_and_is_read_whole_by_column_by_row_and_as_categories(
    tmp_path, monkeypatch, count
):
    monkeypatch.setattr(tables, "PIECE", 7)
    table, path, again = long_table(count), tmp_path / "a.csv", tmp_path / "b.csv"
    tables.write_table(path, table, "samples_screened")
    pieces = list(tables.read_pieces(path, "samples_screened"))
    assert [len(piece) for piece in pieces] == [7] * (count // 7) + [count % 7] * (
        count % 7 > 0 or count == 0
    )
    assert (
        tables.write_pieces(again, iter(pieces), "samples_screened") == count
        and again.read_bytes() == path.read_bytes()
    )
    pd.testing.assert_frame_equal(tables.read_table(path, "samples_screened"), table.astype({"flags": "str"}))
    rows = np.arange(count) % 4 == 1
    some = tables.read_table(path, "samples_screened", ["flags", "time_utc"], "category", rows)
    assert (
        list(some) == ["time_utc", "flags"]
        and some["flags"].tolist() == table["flags"][rows].tolist()
        and some["time_utc"].tolist() == table["time_utc"][rows].tolist()
    )
    assert some["flags"].dtype == "category" and list(some["flags"].cat.categories) == sorted(
        set(table["flags"][rows])
    )


def test_a_column_stays_on_disk_until_it_is_asked_for(tmp_path):
    tables.write_table(tmp_path / "a.csv", long_table(), "samples_screened")
    table = tables.OnDisk(tmp_path / "a.csv", "samples_screened")
    assert "flags" in table and "battery" not in table
    assert table["solar_elevation"].tolist() == long_table()["solar_elevation"].tolist() and list(
        table[["solar_azimuth", "flags"]]
    ) == ["solar_azimuth", "flags"]
