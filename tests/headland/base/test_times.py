"""Runs of a record, and seconds since 1970."""

import numpy as np
import pandas as pd
import pytest

from headland.base import time_text
from headland.base.times import recorded_runs, since_1970


@pytest.mark.parametrize("interval", [0.2, 1.0, 10.0])
def test_a_gap_of_more_than_two_and_a_half_intervals_ends_a_run(interval):
    steps = interval * np.array([1.0, 1.0, 2.4, 1.0, 2.6, 1.0, 30.0])
    seconds = np.concatenate([[0.0], np.cumsum(steps)])
    assert recorded_runs(seconds, interval).tolist() == [0, 0, 0, 0, 0, 1, 1, 2]
    assert recorded_runs([], interval).tolist() == []


def test_seconds_are_whole_to_the_microsecond():
    times = pd.DatetimeIndex(["1970-01-01T00:00:01.5Z", "2026-05-21T10:00:00.000001Z"])
    assert since_1970(times).tolist() == [1.5, 1779357600.000001]


def test_times_come_back_from_their_texts():
    moments = pd.Series(
        pd.to_datetime(["2026-05-21T10:00:00.25Z", None, "1999-12-31T23:59:59Z"], format="ISO8601")
    )
    texts = pd.Series(time_text.time_text(moments))
    assert texts.tolist() == ["2026-05-21T10:00:00.25Z", "", "1999-12-31T23:59:59.00Z"]
    back = time_text.times(texts)
    assert back.equals(moments.astype("datetime64[us, UTC]")) and str(back.dt.tz) == "UTC"


@pytest.mark.parametrize(
    "micros, decimals", [(0, 0), (500_000, 1), (250_000, 2), (1_000, 3), (100, 6), (1, 6), (2_000_000, 0)]
)
def test_as_many_decimals_as_the_times_need(micros, decimals):
    start = pd.Timestamp("2026-05-21T10:00:00Z")
    moments = pd.DatetimeIndex([start, start + pd.Timedelta(microseconds=micros), pd.NaT])
    assert time_text.time_decimals(moments) == decimals
