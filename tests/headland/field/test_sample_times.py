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
