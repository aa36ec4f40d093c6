"""The form on paper: a row a visit, what to fill in, and how tall rows are."""

import math

import pandas as pd
import pytest

from headland.field import form

SETS = {
    "heron": {"logger_id": "H-1", "utc_offset": "+01:00"},
    "plover": {"logger_id": "P-2", "utc_offset": "+00:00"},
}


def visit(start, set_="heron", *, activity="walk", heading=80.0, transect="1", field="Yard", remark=""):
    begin = pd.Timestamp(f"2026-05-21T{start}Z")
    return {"set": set_, "start_utc": begin, "end_utc": begin, "field": field, "surface": "short_grass",
            "activity": activity, "transect": transect, "pass": "1", "heading": heading, "length": 65.0,
            "remark": remark}  # fmt: skip


def pages(*visits):
    columns = ["set", "date", "start", "end", "field", "surface", "activity", "transect", "pass", "heading",
               "length", "remark"]  # fmt: skip
    frame = form.rows(pd.DataFrame(list(visits)), "Europe/Ljubljana", columns)
    return form.pages(frame, SETS)


def test_planned_times_are_local_and_times_to_fill_in_are_empty():
    columns = [
        "set",
        "date",
        "start",
        "heading",
        "length",
        "field",
        "surface",
        "activity",
        "transect",
        "pass",
        "remark",
    ]
    frame = form.rows(
        pd.DataFrame([visit("23:30"), visit("08:00", heading=math.nan)]), "Europe/Ljubljana", columns
    )
    assert frame["planned"].tolist() == ["01:30", "10:00"] and frame["date"].tolist() == [
        "2026-05-22",
        "2026-05-21",
    ]
    assert (frame["start"] == "").all() and frame["heading"].tolist() == ["80", ""]


def test_there_and_back_share_a_row_and_another_transect_does_not():
    heron, plover = pages(
        visit("08:00"), visit("08:03", heading=260.0), visit("08:10", transect="2"), visit("08:00", "plover")
    )
    rows = [row for row in heron["rows"] if row is not form.SPARE_ROW]
    assert [row["headings"] for row in rows] == ["80°, 260°", "80°"]
    assert [row["back"] for row in rows] == [True, False] and rows[0]["surface"] == "short grass"
    assert (heron["logger"], heron["offset"], heron["date"]) == ("H-1", "+01:00", "2026-05-21")
    assert len(heron["rows"]) == 2 + form.SPARE and len(plover["rows"]) == 1 + form.SPARE


def test_a_check_says_what_to_write():
    (page, _) = pages(
        visit("08:00", activity="clock_check", field="", heading=math.nan),
        visit("08:05", activity="channel_check", field="", heading=math.nan, remark="sw_in sw_out"),
    )
    clock, channel = page["rows"][:2]
    assert clock["what"] == "clock check" and clock["remark"] == "logger shows:" and not clock["back"]
    assert channel["what"] == "channel check: sw_in sw_out" and channel["remark"] == ""


@pytest.mark.parametrize("count", [1, 14, 60])
def test_rows_fit_one_page_as_far_as_they_can_be_written_in(count):
    page = pages(*[visit("08:00", transect=str(k)) for k in range(count)])[0]
    wanted = form.HEIGHT / (count + form.SPARE)
    assert float(page["height"]) == pytest.approx(min(max(wanted, 5.6), 10.0), abs=0.006)
