"""Field notes: times as people write them, and every way in which a row can't be placed."""

import datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.chain import notes
from headland.files.schemas import table_schema

COLUMNS = [field["name"] for field in table_schema("notes")["fields"]]
SPAN = (
    pd.Timestamp("2026-05-21T07:00:00Z").to_pydatetime(),
    pd.Timestamp("2026-05-21T16:00:00Z").to_pydatetime(),
)
SURFACES = ["short_grass", "stubble", "paving"]


def table(*rows):
    base = dict.fromkeys(COLUMNS, "") | {
        "set": "heron",
        "field": "mill",
        "surface": "stubble",
        "date": "2026-05-21",
        **dict.fromkeys(("heading", "speed", "length", "slope", "aspect", "canopy_height"), np.nan),
    }
    return pd.DataFrame(
        [{"line": line, **base, **row} for line, row in enumerate(rows, 2)], columns=["line", *COLUMNS]
    )


def place(*rows, zone="Europe/Zurich", shift="00:00:00", span=SPAN, offset="+01:00"):
    return notes.intervals(
        table(*rows),
        "notes.csv",
        notes.notes_clock(zone, shift, span),
        SURFACES,
        {"heron": offset, "curlew": offset},
    )


def both(start, end, **others):
    """Start and end of one row in UTC as text."""
    zone = {key: others.pop(key) for key in ("zone", "shift", "span") if key in others}
    placed, findings = place({"start": start, "end": end, **others}, **zone)
    assert findings == []
    return tuple(f"{placed[c].iloc[0]:%Y-%m-%dT%H:%M:%S}" for c in ("start_utc", "end_utc"))


def code(*rows, **others):
    """The findings of rows of which the first can't be placed."""
    placed, findings = place(*rows, **others)
    assert 2 not in placed["notes_row"].tolist()
    return [(finding.code, finding.variant) for finding in findings]


@pytest.mark.parametrize(
    "start, end",
    [
        ("09:31", "09:45"),
        ("9:31", "9:45"),
        ("09:31:00", "09:45:00"),
        ("2026-05-21 09:31", "2026-05-21 09:45"),
        ("2026-05-21T09:31:00", "2026-05-21T09:45:00"),
        ("2026-05-21 07:31Z", "2026-05-21 07:45Z"),
        ("07:31Z", "07:45Z"),
        ("08:31+01:00", "08:45+01:00"),
        ("2026-05-21 02:31 -05:00", "2026-05-21 02:45 -05:00"),
        ("09:31:00.0", "09:45:00.000"),
    ],
)
def test_every_way_to_write_a_time(start, end):
    assert both(start, end) == ("2026-05-21T07:31:00", "2026-05-21T07:45:00")


def test_seconds_and_their_fractions_are_kept():
    placed, _ = place({"start": "09:31:20.25", "end": "09:45:10"})
    assert placed["start_utc"].iloc[0] == pd.Timestamp("2026-05-21T07:31:20.25Z") and placed["end_utc"].iloc[
        0
    ] == pd.Timestamp("2026-05-21T07:45:10Z")


def test_a_date_in_the_time_overrules_the_column():
    assert both("2026-05-20 09:31", "2026-05-20 09:45") == ("2026-05-20T07:31:00", "2026-05-20T07:45:00")


@pytest.mark.parametrize(
    "zone, start",
    [
        ("Europe/Zurich", "07:31"),
        ("UTC", "09:31"),
        ("America/Denver", "15:31"),
        ("Asia/Kolkata", "04:01"),
        ("Australia/Adelaide", "00:01"),
    ],
)
def test_zones(zone, start):
    assert both("09:31", "09:45", zone=zone)[0] == f"2026-05-21T{start}:00"


@pytest.mark.parametrize(
    "date, start, end, expected",
    [
        ("2026-05-21", "23:50", "00:10", ("2026-05-21T21:50:00", "2026-05-21T22:10:00")),
        ("2026-05-21", "23:50", "2026-05-22 00:10", ("2026-05-21T21:50:00", "2026-05-21T22:10:00")),
        ("2026-05-21", "20:00", "12:00", ("2026-05-21T18:00:00", "2026-05-22T10:00:00")),
        ("2026-05-21", "23:00", "24:00", ("2026-05-21T21:00:00", "2026-05-21T22:00:00")),
    ],
)
def test_over_midnight(date, start, end, expected):
    assert both(start, end, date=date) == expected


@pytest.mark.parametrize(
    "start, end",
    [("09:45", "09:31"), ("09:45", "09:45"), ("20:00", "12:01"), ("2026-05-21 23:50", "2026-05-21 00:10")],
)
def test_an_interval_that_ends_before_it_starts(start, end):
    assert code({"start": start, "end": end}) == [("notes-reversed", "")]


def test_the_shift_is_added():
    assert both("09:31", "09:45", shift="-01:00:00") == ("2026-05-21T06:31:00", "2026-05-21T06:45:00")
    assert both("23:30", "23:50", shift="01:30") == ("2026-05-21T23:00:00", "2026-05-21T23:20:00")
    assert both("09:31", "09:45", shift="-24:00") == ("2026-05-20T07:31:00", "2026-05-20T07:45:00")
    assert both("09:31", "09:45", shift="+0:00:30") == ("2026-05-21T07:31:30", "2026-05-21T07:45:30")


@given(st.integers(-300, 300), st.integers(0, 59), st.integers(0, 59))
def test_a_shift_reads_as_it_is_written(hours, minutes, seconds):
    text = f"{'-' if hours < 0 else '+'}{abs(hours)}:{minutes:02d}:{seconds:02d}"
    sign = -1 if hours < 0 else 1
    assert notes.shift_of(text) == sign * datetime.timedelta(
        hours=abs(hours), minutes=minutes, seconds=seconds
    )


# The clocks are put forward over an hour in spring and back over one in autumn, which comes half a year
# apart in the two hemispheres.
@pytest.mark.parametrize(
    "zone, time, variant",
    [
        ("Europe/Zurich", "2026-03-29 02:30", "impossible"),
        ("Europe/Zurich", "2026-10-25 02:30", "ambiguous"),
        ("Australia/Sydney", "2026-10-04 02:30", "impossible"),
        ("Australia/Sydney", "2026-04-05 02:30", "ambiguous"),
        ("Australia/Lord_Howe", "2026-10-04 02:15", "impossible"),
        ("Australia/Lord_Howe", "2026-04-05 01:45", "ambiguous"),
    ],
)
def test_times_at_a_change_of_clocks(zone, time, variant):
    placed, findings = place({"start": time, "end": time[:11] + "09:00"}, zone=zone)
    assert len(placed) == 0
    assert [finding.code for finding in findings] == [f"notes-time-{variant}"]
    assert findings[0].facts["zone"] == zone and findings[0].facts["value"] == time


@pytest.mark.parametrize(
    "zone, time",
    [
        ("Europe/Zurich", "2026-03-29 01:59"),
        ("Europe/Zurich", "2026-03-29 03:00"),
        ("Europe/Zurich", "2026-10-25 01:59"),
        ("Europe/Zurich", "2026-10-25 03:00"),
        ("Australia/Sydney", "2026-10-04 03:00"),
        ("Australia/Sydney", "2026-04-05 03:00"),
        ("UTC", "2026-03-29 02:30"),
    ],
)
def test_times_beside_a_change_of_clocks_are_plain(zone, time):
    assert place({"start": time, "end": time[:11] + "09:00"}, zone=zone)[1] == []


def test_an_offset_settles_an_ambiguous_time():
    early, late = (
        both(f"2026-10-25 02:30{offset}", f"2026-10-25 02:40{offset}")[0] for offset in ("+02:00", "+01:00")
    )
    assert (early, late) == ("2026-10-25T00:30:00", "2026-10-25T01:30:00")


def test_an_interval_over_a_change_of_clocks_has_its_true_length():
    assert both("2026-10-25 01:30", "2026-10-25 03:30") == ("2026-10-24T23:30:00", "2026-10-25T02:30:00")


def test_a_time_without_date_falls_into_a_recording_of_less_than_a_day():
    assert both("09:31", "09:45", date="")[0] == "2026-05-21T07:31:00"
    night = (
        pd.Timestamp("2026-05-21T20:00:00Z").to_pydatetime(),
        pd.Timestamp("2026-05-22T04:00:00Z").to_pydatetime(),
    )
    assert both("23:30", "23:40", date="", span=night)[0] == "2026-05-21T21:30:00"
    assert both("02:00", "02:10", date="", span=night)[0] == "2026-05-22T00:00:00"
    assert both("23:50", "00:10", date="", span=night) == ("2026-05-21T21:50:00", "2026-05-21T22:10:00")


def test_a_time_without_date_can_t_be_placed_in_a_longer_recording_nor_in_none():
    row = {"date": "", "start": "09:31", "end": "09:45"}
    assert code(row, span=(SPAN[0], SPAN[0] + datetime.timedelta(hours=24))) == [("notes-without-date", "")]
    assert code(row, span=None) == [("notes-without-date", "nothing-recorded")]
    assert place(row, span=(SPAN[0], SPAN[0] + datetime.timedelta(hours=24, seconds=-1)))[1] == []


@pytest.mark.parametrize(
    "text",
    [
        "9.31",
        "0931",
        "25:00",
        "24:01",
        "09:60",
        "09:31:60",
        "half nine",
        "2026-02-30 09:31",
        "2026-13-01 09:31",
        "09:31 am",
        "-09:31",
    ],
)
def test_a_text_that_is_no_time(text):
    assert code({"start": text, "end": "23:45"}) == [("value-invalid", "")]


def test_names_are_checked_and_the_nearest_is_offered():
    placed, findings = place(
        {"start": "09:31", "end": "09:45", "set": "herno", "surface": "stuble", "activity": "wlak"}
    )
    assert [(f.code, f.facts["column"], f.facts["hint"]) for f in findings] == [
        ("notes-unknown-name", "set", '; did you mean "heron"?'),
        ("notes-unknown-name", "surface", '; did you mean "stubble"?'),
        ("notes-unknown-name", "activity", '; did you mean "walk"?'),
    ]
    assert len(placed) == 0 and findings[0].line == 2


@pytest.mark.parametrize("empty", ["set", "start", "end", "field", "surface"])
def test_what_a_walk_needs(empty):
    placed, findings = place({"start": "09:31", "end": "09:45", empty: ""})
    assert (
        [f.code for f in findings] == ["notes-incomplete"]
        and findings[0].facts["columns"] == empty
        and len(placed) == 0
    )


@pytest.mark.parametrize("activity", notes.WITHOUT_SURFACE)
def test_instrument_checks_need_no_place(activity):
    row = {
        "start": "09:31",
        "end": "09:45",
        "field": "",
        "surface": "",
        "activity": activity,
        "logger_shows": "08:31",
    }
    assert place(row)[1] == []


def test_an_empty_activity_is_a_walk():
    assert place({"start": "09:31", "end": "09:45"})[0]["activity"].tolist() == ["walk"]


def test_overlaps_within_a_set_only():
    rows = [
        {"start": "09:00", "end": "09:30"},
        {"start": "09:29", "end": "09:50"},
        {"start": "09:10", "end": "09:20", "set": "curlew"},
        {"start": "09:50", "end": "10:00"},
    ]
    placed, findings = place(*rows)
    assert [(f.code, f.line, f.facts["other"]) for f in findings] == [("notes-overlap", 3, 2)] and len(
        placed
    ) == 4


def test_an_interval_inside_an_earlier_longer_one_is_found_too():
    rows = [
        {"start": "09:00", "end": "11:00"},
        {"start": "09:10", "end": "09:20"},
        {"start": "10:00", "end": "10:10"},
    ]
    assert [(f.line, f.facts["other"]) for f in place(*rows)[1]] == [(3, 2), (4, 2)]


def test_rows_come_in_the_order_of_time_and_all_columns_are_kept():
    placed, _ = place(
        {"start": "10:00", "end": "10:10", "remark": "b"}, {"start": "09:00", "end": "09:10", "remark": "a"}
    )
    assert placed["remark"].tolist() == ["a", "b"] and placed["notes_row"].tolist() == [3, 2]
    assert place()[0].empty and "start_utc" in place()[0]


def checks(*pairs, zone="Europe/Zurich", offset="+01:00"):
    placed, findings = place(
        *(
            {
                "start": start,
                "end": "",
                "field": "",
                "surface": "",
                "activity": "clock_check",
                "logger_shows": shown,
            }
            for start, shown in pairs
        ),
        zone=zone,
        offset=offset,
    )
    assert findings == []
    return placed


@pytest.mark.parametrize("shown", ["08:00:05", "2026-05-21 08:00:05", "07:00:05Z"])
def test_a_clock_check(shown):
    placed = checks(("09:00:00", shown))
    assert placed["logger_utc"].iloc[0] == pd.Timestamp("2026-05-21T07:00:05Z")
    assert notes.clock_offset(placed, placed["start_utc"]).tolist() == [5.0]


def test_a_clock_check_around_midnight_takes_the_nearest_day():
    assert checks(("2026-05-22 00:00:02", "22:59:58"))["logger_utc"].iloc[0] == pd.Timestamp(
        "2026-05-21T21:59:58Z"
    )


def test_a_clock_check_needs_what_the_logger_showed():
    assert code({"start": "09:00", "end": "", "activity": "clock_check"}) == [("notes-incomplete", "")]


def test_drift_is_linear_between_checks_and_constant_beyond():
    placed = checks(("09:00:00", "08:00:10"), ("11:00:00", "10:00:30"))
    moments = pd.Series(
        pd.to_datetime(["2026-05-21T06:00:00Z", "2026-05-21T08:00:20Z", "2026-05-21T12:00:00Z"])
    )
    assert notes.clock_offset(placed, moments).tolist() == pytest.approx([10.0, 20.0, 30.0])


def test_without_a_check_the_clock_is_right():
    assert notes.clock_offset(
        checks().iloc[:0], pd.Series(pd.to_datetime(["2026-05-21T06:00:00Z"]))
    ).tolist() == [0.0]


@pytest.mark.parametrize(
    "start, end",
    [
        ("09:31+99:00", "09:45"),
        ("09:31-24:00", "09:45"),
        ("09:31", "09:45+99:59"),
        ("0001-01-01 00:10", "0001-01-01 00:20"),
        ("9999-12-31 23:50", "9999-12-31 24:00"),
        ("0000-01-01 09:31", "09:45"),
        ("٠٩:٣١", "09:45"),
    ],
)
def test_an_absurd_time_is_a_finding_not_a_trace(start, end):
    placed, findings = place({"start": start, "end": end})
    assert len(placed) + len(findings) >= 1 and len(placed) <= 1


@pytest.mark.parametrize("date", ["0001-01-01", "9999-12-31"])
def test_an_absurd_date_is_a_finding_not_a_trace(date):
    for zone, shift in (("Europe/Zurich", "-48:00"), ("America/Denver", "48:00")):
        placed, findings = place({"date": date, "start": "00:10", "end": "23:50"}, zone=zone, shift=shift)
        assert len(placed) + len(findings) == 1


def test_an_absurd_time_shown_by_a_logger_is_a_finding_not_a_trace():
    row = {"start": "09:00", "end": "", "activity": "clock_check", "logger_shows": "0001-01-01 00:00:00"}
    placed, findings = place(row, offset="+14:00")
    assert len(placed) + len(findings) == 1


@pytest.mark.parametrize(
    "noted, shown, utc",
    [
        # the logger's clock is one hour ahead of UTC, the notes' two hours
        ("09:00:00", "08:00:05", "2026-05-21T07:00:05Z"),
        # it passed midnight before the watch did, and after
        ("2026-05-22 00:59:50", "00:00:10", "2026-05-21T23:00:10Z"),
        ("2026-05-22 01:00:10", "23:59:50", "2026-05-21T22:59:50Z"),
        ("2026-05-22 01:00:10", "00:00:10", "2026-05-21T23:00:10Z"),
    ],
)
def test_a_time_that_a_logger_shows_is_that_of_the_nearest_day(noted, shown, utc):
    assert checks((noted, shown))["logger_utc"].iloc[0] == pd.Timestamp(utc)


def test_a_time_with_its_own_zone_is_of_the_nearest_date_by_that_zone():
    span = tuple(pd.Timestamp(f"2026-05-{t}Z").to_pydatetime() for t in ("21T23:40", "22T00:10"))
    own = both("23:50Z", "00:05Z", date="", zone="Pacific/Auckland", span=span)
    assert own == ("2026-05-21T23:50:00", "2026-05-22T00:05:00")
