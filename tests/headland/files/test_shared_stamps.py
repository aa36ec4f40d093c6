"""Rows that share a stamp because stamps are coarser than the sampling interval."""

import numpy as np
import pytest

from headland.files.logger_stamps import spread_shared_stamps

S = 1_000_000
MINUTE = 60 * S


def stamps(*counts, gap_after=()):
    """So many rows a minute; after some of the minutes one is missing."""
    minute, found = 0, []
    for place, count in enumerate(counts):
        found += [minute * MINUTE] * count
        minute += 2 if place in gap_after else 1
    return np.array(found)


def seconds(rows, interval):
    return spread_shared_stamps(rows, 60.0, interval) / S


def test_rows_of_a_minute_follow_by_the_interval():
    assert seconds(stamps(60, 60, 60), 1.0) == pytest.approx(np.arange(180.0))


def test_storing_that_began_within_a_minute_ends_with_it():
    assert seconds(stamps(20, 60, 60), 1.0) == pytest.approx(np.arange(40.0, 180.0))


def test_where_the_minutes_show_another_interval_theirs_is_taken():
    """30 rows a minute are 2 s apart, whatever the layout says."""
    got = seconds(stamps(*[30] * 40), 1.0)
    assert np.diff(got) == pytest.approx([2.0] * 1199) and got[0] == 0.0


def test_a_row_more_or_less_in_a_minute_is_how_clocks_run():
    got = seconds(stamps(60, 61, 60, 59, 60, 60, 60), 1.0)
    assert (np.diff(got) > 0).all() and np.abs(got - np.arange(420.0)).max() < 2.0


def test_after_a_gap_storing_began_within_its_minute():
    got = seconds(stamps(60, 60, 20, 60, gap_after=(1,)), 1.0)
    assert got[120:140] == pytest.approx(220.0 + np.arange(20.0)) and got[140] == 240.0


def test_after_a_minute_that_stopped_short_storing_began_within_the_next():
    got = seconds(stamps(60, 40, 30, 60), 1.0)
    assert got[60:100] == pytest.approx(60.0 + np.arange(40.0))
    assert got[100:130] == pytest.approx(150.0 + np.arange(30.0))


@pytest.mark.parametrize("count, begins", [(59, 120.0), (58, 122.0)])
def test_a_minute_one_row_short_has_not_stopped(count, begins):
    """Of the minute before; the one after has 58 rows."""
    got = seconds(stamps(60, count, 58, 60), 1.0)
    assert got[60 + count] == pytest.approx(begins, abs=1e-6)


def test_stamps_as_fine_as_the_interval_stay():
    rows = np.arange(10) * S
    assert spread_shared_stamps(rows, 1.0, 1.0) is rows
    assert spread_shared_stamps(rows, 60.0, 1.0) is rows
