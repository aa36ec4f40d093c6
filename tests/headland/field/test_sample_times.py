"""Times of a sample in every way that loggers write them, and the seconds that they mean."""

import datetime

import numpy as np
import pytest

from headland.field.sample_text import Sheet
from headland.field.sample_times import times_of


def sheet(rows, names=None):
    lines = ([";".join(names)] if names else []) + [";".join(map(str, row)) for row in rows]
    return Sheet(lines, ";", ".", 1 if names else 0)


START = datetime.datetime(2026, 5, 21, 10, 58, 0)
MOMENTS = [START + datetime.timedelta(seconds=30 * k) for k in range(8)]


@pytest.mark.parametrize(
    "form",
    [
        "%Y-%m-%d %H:%M:%S",
        "%d.%m.%Y %H:%M:%S",
        "%Y/%m/%dT%H:%M:%S",
        "%m/%d/%Y %H:%M:%S",
        "%d.%m.%y - %H:%M:%S",
    ],
)
def test_date_and_clock_in_one_column(form):
    found = times_of(sheet([(m.strftime(form), 800 + k) for k, m in enumerate(MOMENTS)]))
    assert found.time == {"column": 1, "format": form} and found.places == {0} and found.doubt == ""
    assert np.diff(found.seconds).tolist() == [30.0] * 7


def test_date_and_clock_in_two_columns_with_names():
    rows = [(k, m.strftime("%Y-%m-%d"), m.strftime("%H:%M:%S")) for k, m in enumerate(MOMENTS)]
    found = times_of(sheet(rows, ["no", "date", "time"]))
    assert found.time == {"columns": ["date", "time"], "format": "%Y-%m-%d %H:%M:%S"}
    assert found.places == {1, 2}


def test_a_day_that_could_be_a_month_is_doubted():
    rows = [(f"05/06/2026 10:00:{k:02d}", k) for k in range(8)]
    assert "could also be" in times_of(sheet(rows)).doubt


def test_parts_of_a_time_in_columns_of_their_own():
    rows = [(m.year, m.month, m.day, m.hour, m.minute, m.second, 800) for m in MOMENTS]
    names = ["year", "month", "day", "hour", "minute", "second", "SW"]
    found = times_of(sheet(rows, names))
    assert found.time == {name: name for name in names[:6]} and found.doubt == ""
    assert np.diff(found.seconds) == pytest.approx([30.0] * 7)


def test_year_and_day_of_the_year_with_hours_and_minutes_as_one_number():
    """From 1059 to 1100 is a minute."""
    rows = [(2026, 141, m.hour * 100 + m.minute, m.second, 800) for m in MOMENTS]
    found = times_of(sheet(rows, ["year", "doy", "hhmm", "second", "SW"]))
    assert set(found.time) == {"year", "day_of_year", "hhmm", "second"}
    assert np.diff(found.seconds) == pytest.approx([30.0] * 7)


def test_parts_without_names_are_told_by_their_size():
    rows = [(m.year, m.month, m.day, m.hour, m.minute, m.second, 800) for m in MOMENTS]
    found = times_of(sheet(rows))
    assert found.time == {"year": 1, "month": 2, "day": 3, "hour": 4, "minute": 5}
    assert found.doubt == "the columns have no names"
    assert np.ptp(found.seconds) == pytest.approx(180.0)


def test_days_count_across_midnight():
    moments = [datetime.datetime(2026, 5, 21, 23, 59, 0) + datetime.timedelta(minutes=k) for k in range(4)]
    rows = [(m.year, m.timetuple().tm_yday, m.hour, m.minute) for m in moments]
    found = times_of(sheet(rows, ["year", "doy", "hour", "minute"]))
    assert np.diff(found.seconds) == pytest.approx([60.0] * 3)


def test_seconds_since_1970_rise_and_lie_in_our_time():
    found = times_of(sheet([(5, 1779357600 + k, 800 - k) for k in range(8)]))
    assert found.time == {"column": 2, "unit": "s", "since": "1970-01-01"} and found.doubt
    assert times_of(sheet([(5, 100 + k, 800 - k) for k in range(8)])).time == {}
    assert times_of(sheet([(5, 1779357600 - k, 800) for k in range(8)])).time == {}
    assert times_of(sheet([(5, 1779357600, 800) for k in range(8)])).doubt == "no column reads as a time"


@pytest.mark.parametrize(
    "form", ["%Y%m%d %H%M%S", "%d-%m-%Y %H:%M", "%d/%m/%y, %H.%M.%S", "%d.%m.%Y %H:%M:%S.%f"]
)
def test_rarer_ways_to_write_a_time(form):
    moments = [START + datetime.timedelta(minutes=20 * k, seconds=0) for k in range(40)]
    found = times_of(Sheet([f"{m.strftime(form)};8{k}" for k, m in enumerate(moments)], ";", ".", 0))
    assert found.time["format"] == form and np.diff(found.seconds).tolist() == [1200.0] * 39


def test_of_two_readings_the_one_with_the_shorter_sample_is_taken():
    """Days 1 to 8 of June, or months 1 to 8: a week is more likely than seven months."""
    rows = [(f"0{k}/06/2026 10:00:00", k) for k in range(1, 9)]
    found = times_of(sheet(rows))
    assert found.time["format"] == "%d/%m/%Y %H:%M:%S"
    assert found.doubt == "it could also be %m/%d/%Y %H:%M:%S"


@pytest.mark.parametrize("year, there", [(1899, False), (1900, True), (2199, True), (2200, False)])
def test_years_of_our_time(year, there):
    rows = [(f"{year}-05-21 10:00:{k:02d}", k) for k in range(8)]
    assert bool(times_of(sheet(rows)).time) == there
    parts = [(year, 5, 21, 10, k, 800.5) for k in range(8)]
    assert (times_of(sheet(parts)).time.get("year") == 1) == there


def test_times_that_go_back_are_none():
    rows = [(f"2026-05-21 10:00:{40 - k:02d}", k) for k in range(8)]
    assert times_of(sheet(rows)).time == {}
    still = [("2026-05-21 10:00:00", k) for k in range(8)]
    assert times_of(sheet(still)).time  # a clock may show the same second again


def test_a_year_and_a_day_are_needed_for_a_time_in_parts():
    rows = [(2026, 5, 10, k, 800) for k in range(8)]
    assert times_of(sheet(rows, ["year", "month", "hour", "minute", "SW"])).time == {}
    whole = [(2026, 5, 21, 141, 10, k) for k in range(8)]
    found = times_of(sheet(whole, ["year", "month", "day", "doy", "hour", "minute"]))
    assert set(found.time) == {"year", "day_of_year", "hour", "minute"}  # a day of the year says both
    assert np.diff(found.seconds) == pytest.approx([60.0] * 7)


def test_seconds_since_1970_between_1989_and_2096():
    for start, there in ((5.9e8, False), (6.1e8, True), (3.9e9, True), (4.1e9, False)):
        assert bool(times_of(sheet([(5, start + k, 800 - k) for k in range(8)])).time) == there
