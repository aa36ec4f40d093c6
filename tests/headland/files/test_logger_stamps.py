"""Stamps coarser than the sampling interval. No published value; held by limiting cases."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headland.files.logger_stamps import spread_rounded_stamps, spread_shared_stamps

from .made_logger import HEADER, layout, moments, read, time_of


def second(*texts):
    return moments(*texts).asi8


def test_tenths_of_a_second_with_whole_second_stamps():
    # three rows of the first second, all ten of the next, two of the last
    stamps = second("2026-05-21T10:00:00Z") + 1_000_000 * np.repeat([0, 1, 2], [3, 10, 2])
    spread = (spread_shared_stamps(stamps, 1.0, 0.1) - stamps[0]) / 100_000
    assert spread.tolist() == [7, 8, 9, *range(10, 20), 20, 21]


def test_seconds_with_minute_stamps_and_a_pause():
    rows = [("10:00", 20), ("10:01", 60), ("10:02", 15), ("11:30", 10), ("11:31", 30)]
    text = "".join(f"2026-05-21 {clock},1,2,3,4,5\n" * count for clock, count in rows)
    frame, findings = read(HEADER + text, layout(time={"column": "stamp", "format": "%Y-%m-%d %H:%M"}))
    assert findings == []
    clocks = frame["time"].dt.strftime("%H:%M:%S").tolist()
    assert [clocks[i] for i in (0, 19, 20, 79, 80, 94, 95, 104, 105, 134)] == [
        "10:00:40",
        "10:00:59",
        "10:01:00",
        "10:01:59",
        "10:02:00",
        "10:02:14",
        "11:30:50",
        "11:30:59",
        "11:31:00",
        "11:31:29",
    ]


def test_a_pause_across_a_minute_that_leaves_no_gap_of_stamps():
    stamps = 60_000_000 * np.repeat([0, 1, 2, 3], [60, 30, 20, 60])
    spread = spread_shared_stamps(stamps, 60.0, 1.0) / 1e6
    assert spread[60:110].tolist() == [*range(60, 90), *range(160, 180)]


def test_groups_alone_and_too_full():
    assert spread_shared_stamps(np.zeros(4, dtype=np.int64), 1.0, 0.1).tolist() == [
        0,
        100_000,
        200_000,
        300_000,
    ]
    assert spread_shared_stamps(np.zeros(4, dtype=np.int64), 1.0, 0.5).tolist() == [
        0,
        250_000,
        500_000,
        750_000,
    ]
    untouched = np.array([0, 60_000_000, 120_000_000])
    assert spread_shared_stamps(untouched, 60.0, 1.0).tolist() == untouched.tolist()
    assert spread_shared_stamps(np.array([], dtype=np.int64), 60.0, 1.0).tolist() == []


@pytest.mark.parametrize(
    "plan, cells",
    [
        ({"column": 1, "unit": "s", "since": "2026-05-21"}, [[36000], [36000], [36001], [36001]]),
        (
            {"column": 1, "format": "%Y-%m-%d %H:%M:%S.%f"},
            [[f"2026-05-21 10:00:0{s}.0"] for s in (0, 0, 1, 1)],
        ),
        (
            dict(year=1, month=2, day=3, hour=4, minute=5, second=6),
            [[2026, 5, 21, 10, 0, s] for s in (0, 0, 1, 1)],
        ),
        ({"column": 1, "unit": "h", "since": "2026-05-21"}, [["10.0"], ["10.0"], ["10.1"], ["10.1"]]),
    ],
)
def test_resolution_is_known_from_the_finest_figure(plan, cells):
    interval = {"h": 180.0}.get(plan.get("unit"), 0.5)
    if "%f" in str(plan):
        interval = 0.05
    frame, findings = time_of(cells, plan, interval=interval)
    assert findings == []
    apart = frame["time"].diff().dt.total_seconds().tolist()
    assert apart[1] == interval and apart[3] == interval


def test_printed_decimals_tell_the_resolution():
    """Tenths printed, twenty rows a second: the first tenth began in its middle."""
    parts = dict(year=1, month=2, day=3, hour=4, minute=5, second=6)
    for plan, start in (
        ({"column": 1, "unit": "s", "since": "2026-05-21"}, ["36000"]),
        ({"column": 1, "format": "%Y-%m-%d %H:%M:%S.%f"}, ["2026-05-21 10:00:00"]),
        (parts, [2026, 5, 21, 10, 0, "0"]),
    ):
        cells = [[*start[:-1], f"{start[-1]}.{tenth}"] for tenth in (0, 1, 1, 2)]
        frame, _ = time_of(cells, plan, interval=0.05)
        assert (frame["time"].dt.microsecond // 1000).tolist() == [50, 100, 150, 200]


@settings(max_examples=200)
@given(st.data())
def test_partial_seconds_are_put_back(data):
    """Rows stored in runs at 1/m s, their stamps cut off to the second: each run's times come back to
    within a row.
    """
    draw = data.draw
    m = draw(st.integers(2, 20))
    true, at = [], draw(st.integers(0, 50 * m))
    for _ in range(draw(st.integers(1, 6))):
        at += draw(st.integers(2 * m, 200 * m))  # a pause of two seconds or more
        begin = -(-at // m) * m - at  # rows to the next full second
        length = begin + draw(st.integers(1, 8)) * m + draw(st.integers(0, m - 1))
        true += range(at, at + length)
        at += length
    index = np.array(true, dtype=np.int64)
    stamps = index // m * 1_000_000
    spread = spread_shared_stamps(stamps, 1.0, 1 / m)
    assert np.all(np.diff(spread) > 0)
    assert np.array_equal(spread // 1_000_000, stamps // 1_000_000)
    # a run that fills but one second and stands alone can't be told from one that begins at its stamp: it
    # does
    np.testing.assert_allclose(spread, index * 1e6 / m, atol=1)


@settings(max_examples=100)
@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(1, 25)), min_size=1, max_size=30), st.floats(0.05, 0.9)
)
def test_spread_rows_stay_in_their_second_and_order(groups, interval):
    seconds = np.cumsum([step for step, _ in groups])
    stamps = 1_000_000 * np.repeat(seconds, [count for _, count in groups]).astype(np.int64)
    spread = spread_shared_stamps(stamps, 1.0, interval)
    assert np.array_equal(spread // 1_000_000, stamps // 1_000_000)
    assert np.all(np.diff(spread) >= 0)


def test_stamps_rounded_to_twice_the_interval_are_spread_around_them():
    """Rows at 1, 3, 5 ... 59 s by a clock that rounds to 4 s: each stamp twice, but for the ends."""
    true = np.arange(1, 60, 2)
    stamps = 4_000_000 * np.round(true / 4).astype(np.int64)  # halves to even: 0, 4, 4, 8, 8 ...
    assert len(set(stamps)) < len(stamps)
    spread = spread_rounded_stamps(stamps, 2.0)
    assert np.abs(spread / 1e6 - true).max() <= 1.0 and (np.diff(spread) == 2_000_000).all()


@pytest.mark.parametrize(
    "stamps, interval",
    [
        (np.repeat(np.arange(30), 2), 1.0),  # every row twice, as in a file that was written twice
        (2 * np.arange(30), 1.0),  # every second row lost
        (np.repeat(4 * np.arange(30), 3), 2.0),  # three rows where two fit
        (np.arange(30), 1.0),
    ],
)
def test_other_stamps_are_not_rounded_ones(stamps, interval):
    stamps = stamps.astype(np.int64) * 1_000_000
    assert spread_rounded_stamps(stamps, interval).tolist() == stamps.tolist()


def test_a_pause_between_rounded_stamps_keeps_the_rows_on_their_side():
    stamps = 1_000_000 * np.array([*np.repeat(4 * np.arange(20), 2), *np.repeat(600 + 4 * np.arange(20), 2)])
    spread = spread_rounded_stamps(stamps.astype(np.int64), 2.0) / 1e6
    assert spread[0] == -1.0 and spread[39] == 77.0 and spread[40] == 599.0 and (np.diff(spread) > 0).all()


@pytest.mark.parametrize("interval, spread", [(1.0, False), (0.8, True)])
def test_stamps_are_spread_where_they_are_coarser_than_the_interval(interval, spread):
    stamps = np.array([0, 0, 1, 2, 3, 4], dtype=np.int64) * 1_000_000
    own = spread_shared_stamps(stamps, 1.0, interval)
    assert (np.diff(own) > 0).all() == spread and (own.tolist() == stamps.tolist()) != spread
