"""The date of a time that is noted without one, around midnight."""

import pandas as pd
import pytest

from .test_notes import both


@pytest.mark.parametrize(
    "recorded, start, end, expected",
    [
        (("21T23:40", "22T00:20"), "00:05", "00:15", ("22T00:05", "22T00:15")),  # of the day that began then
        (("22T00:05", "22T01:00"), "23:55", "00:15", ("21T23:55", "22T00:15")),  # of the day that ended
    ],
)
def test_a_time_around_midnight_without_a_date_is_of_the_nearest_day(recorded, start, end, expected):
    span = tuple(pd.Timestamp(f"2026-05-{t}Z").to_pydatetime() for t in recorded)
    own = both(start, end, date="", zone="UTC", span=span)
    assert own == tuple(f"2026-05-{time}:00" for time in expected)
