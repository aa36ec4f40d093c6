"""Step 1: the raw files of a set become one table in the order of time."""

import datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headland.chain import ingest
from headland.chain.ingest import join_files, middle_of_interval

from ..files.made_logger import HEADER, codes, layout, moments, read


def frame_of(clocks, name="one.csv", value=1.0, day="2026-05-21"):
    values = np.broadcast_to(np.asarray(value, dtype=float), len(clocks))
    content = HEADER + "".join(
        f"{clock if len(clock) > 8 else day + ' ' + clock},{v},2,3,4,5\n"
        for clock, v in zip(clocks, values, strict=True)
    )
    return read(content, name=name)[0]


def clocks(start, count, step=1):
    first = datetime.datetime.fromisoformat(f"2026-05-21T{start}")
    return [
        (first + datetime.timedelta(seconds=i * step)).strftime("%Y-%m-%d %H:%M:%S") for i in range(count)
    ]


def test_join_sorts_files_by_time():
    joined, findings = join_files(
        [frame_of(clocks("11:00:00", 30), "b.csv"), frame_of(clocks("10:00:00", 30), "a.csv")], 1.0, "heron"
    )
    assert findings == []
    assert (
        joined["time"].is_monotonic_increasing and joined["file"].tolist() == ["a.csv"] * 30 + ["b.csv"] * 30
    )
    assert list(joined.index) == list(range(60))


@pytest.mark.parametrize("frames", [[], [frame_of([])]])
def test_join_of_nothing(frames):
    joined, findings = join_files(frames, 1.0)
    assert joined.empty and findings == [] and str(joined["time"].dtype) == "datetime64[us, UTC]"


def test_a_block_downloaded_twice_is_dropped_and_counted():
    first, second_ = (
        frame_of(clocks("10:00:00", 60), "a.csv", np.arange(60)),
        frame_of(clocks("10:00:40", 60), "b.csv", np.arange(40, 100)),
    )
    joined, findings = join_files([first, second_], 1.0, "heron")
    assert codes(findings) == [("rows-duplicated", "")] and findings[0].facts["count"] == 20
    assert findings[0].set == "heron" and findings[0].file == "b.csv" and findings[0].line == 2
    assert (findings[0].start_utc, findings[0].end_utc) == ("2026-05-21T10:00:40Z", "2026-05-21T10:00:59Z")
    assert joined["sw_in"].tolist() == list(range(100))


def test_a_block_twice_in_one_file_is_no_clock_fault():
    once = clocks("10:00:00", 60)
    joined, findings = join_files([frame_of(once + once[20:] + clocks("10:01:00", 30))], 1.0)
    assert codes(findings) == [("rows-duplicated", "")] and findings[0].facts["count"] == 40
    assert len(joined) == 90


def test_missing_values_are_equal_to_themselves():
    text = HEADER + "2026-05-21 10:00:00,,2,3,4,5\n" * 2
    joined, findings = join_files([read(text)[0]], 1.0)
    assert codes(findings) == [("rows-duplicated", "")] and len(joined) == 1


def test_equal_stamps_with_different_values():
    first, second_ = (
        frame_of(clocks("10:00:00", 30), "a.csv", 1),
        frame_of(clocks("10:00:20", 30), "b.csv", 2),
    )
    joined, findings = join_files([first, second_], 1.0, "heron")
    assert codes(findings) == [("rows-duplicated", "different")] and findings[0].facts["count"] == 10
    assert joined["sw_in"].tolist() == [1] * 30 + [2] * 20


def test_rows_are_taken_by_their_places_in_any_order():
    frames = [
        frame_of(clocks("10:00:00", 5), "b.csv", np.arange(5)),
        frame_of([]),
        frame_of(clocks("09:00:00", 5), "a.csv", np.arange(5, 10)),
    ]
    places, _ = ingest.in_order(frames, 1.0)
    assert places.tolist() == [5, 6, 7, 8, 9, 0, 1, 2, 3, 4]
    taken = ingest.rows_at(frames, np.array([9, 0, 6, 1]))
    assert (
        taken["sw_in"].tolist() == [9, 0, 6, 1]
        and taken["file"].tolist() == ["a.csv", "b.csv", "a.csv", "b.csv"]
        and list(taken.index) == [0, 1, 2, 3]
    )


def test_clock_backwards():
    joined, findings = join_files([frame_of(clocks("10:00:00", 30) + clocks("09:30:00", 30))], 1.0, "heron")
    assert codes(findings) == [("clock-backwards", "")]
    assert findings[0].line == 32 and findings[0].file == "one.csv"
    assert findings[0].facts == {
        "before": "2026-05-21T10:00:29Z",
        "after": "2026-05-21T09:30:00Z",
        "count": 1,
    }
    assert joined["time"].is_monotonic_increasing and len(joined) == 60


def test_clock_backwards_over_the_same_time_with_other_values():
    _, findings = join_files(
        [frame_of(clocks("10:00:00", 60) + clocks("10:00:30", 30), value=np.arange(90))], 1.0
    )
    assert codes(findings) == [("clock-backwards", ""), ("rows-duplicated", "different")]


def test_clock_reset_to_a_default_date():
    stamps = (
        clocks("10:00:00", 30)
        + [stamp.replace("2026-05-21", "2000-01-01") for stamp in clocks("00:00:00", 30)]
        + clocks("11:00:00", 30)
    )
    _, findings = join_files([frame_of(stamps)], 1.0)
    assert codes(findings) == [("clock-reset", "")]
    assert (
        findings[0].line == 32
        and findings[0].facts["count"] == 2
        and findings[0].facts["after"] == "2000-01-01T00:00:00Z"
    )


def test_clock_reset_between_files():
    early = [stamp.replace("2026", "2000") for stamp in clocks("10:00:00", 30)]
    _, findings = join_files([frame_of(clocks("10:00:00", 30), "a.csv"), frame_of(early, "b.csv")], 1.0)
    assert codes(findings) == [("clock-reset", "files")]
    assert findings[0].file == "a.csv" and findings[0].facts["other"] == "b.csv"
    days = [
        frame_of([s.replace("05-21", day) for s in clocks("10:00:00", 30)], day)
        for day in ("05-01", "05-21", "06-11")
    ]
    assert join_files(days, 1.0)[1] == []  # three weeks apart is a course, not a reset


@pytest.mark.parametrize("day, reset", [("06-20", False), ("06-21", True)])
def test_a_pause_of_more_than_thirty_days_is_a_reset(day, reset):
    """From 10:00:30 on 21 May to 10:00 on 20 or 21 June."""
    later = [stamp.replace("05-21", day) for stamp in clocks("10:00:00", 30)]
    _, findings = join_files([frame_of([*clocks("10:00:00", 30), *later])], 1.0)
    assert ("clock-reset", "") in codes(findings) if reset else codes(findings) == []
    _, findings = join_files([frame_of(clocks("10:00:00", 30), "a.csv"), frame_of(later, "b.csv")], 1.0)
    assert (("clock-reset", "files") in codes(findings)) == reset


@pytest.mark.parametrize(
    "step, declared, found", [(1, 1.0, None), (2, 1.0, "2"), (1, 2.0, "1"), (60, 1.0, "60"), (1, 1.005, None)]
)
def test_sampling_interval(step, declared, found):
    _, findings = join_files([frame_of(clocks("10:00:00", 50, step))], declared, "heron")
    assert codes(findings) == ([("sampling-interval", "")] if found else [])
    if found:
        assert (
            findings[0].facts == {"found": found, "declared": f"{declared:g}"}
            and findings[0].file == "one.csv"
        )


def test_sampling_interval_with_pauses_and_few_rows():
    pauses = [clock for minute in range(20) for clock in clocks(f"10:{minute:02d}:00", 5)]
    assert join_files([frame_of(pauses)], 1.0)[1] == []
    assert join_files([frame_of(clocks("10:00:00", 5, 60))], 1.0)[1] == []
    minutes = frame_of([clock for hour in range(20) for clock in clocks(f"{hour:02d}:00:00", 3, 60)])
    assert join_files([minutes], 60.0)[1] == []
    assert codes(join_files([minutes], 45.0)[1]) == [("sampling-interval", "")]


def test_sampling_interval_behind_coarse_stamps():
    """Five rows a second where ten are declared: the rows are spread by what the file shows, so that it is
    seen.
    """
    text = HEADER + "".join(
        f"2026-05-21 10:{s // 60:02d}:{s % 60:02d},1,2,{k},4,5\n" for s in range(120) for k in range(5)
    )
    frame, _ = read(text, layout(interval=0.1))
    _, findings = join_files([frame], 0.1)
    assert codes(findings) == [("sampling-interval", "")] and findings[0].facts["found"] == "0.2"


def test_interval_that_stamps_round():
    """1.5 s between rows, stamps in whole seconds: steps of 1 and 2 s are no disagreement."""
    rounded = [frame_of([f"10:{int(1.5 * i) // 60:02d}:{int(1.5 * i) % 60:02d}" for i in range(200)])]
    assert join_files(rounded, 1.5)[1] == []
    assert join_files(rounded, 1.5 * 1.005)[1] == []
    _, findings = join_files(rounded, 1.7)
    assert codes(findings) == [("sampling-interval", "")] and float(
        findings[0].facts["found"]
    ) == pytest.approx(1.5, abs=0.01)
    half_hours = frame_of([f"{i // 2:02d}:{i % 2 * 30:02d}:00" for i in range(48)])
    assert join_files([half_hours], 1800.0)[1] == []
    assert codes(join_files([half_hours], 1750.0)[1]) == [("sampling-interval", "")]


@settings(max_examples=25)
@given(st.lists(st.integers(1, 10), min_size=1, max_size=12), st.randoms(use_true_random=False))
def test_runs_of_files_in_any_order_join_to_one_order(counts, rng):
    """Files that each hold a few seconds at 0.1 s, handed over in any order."""
    frames = []
    for i, count in enumerate(counts):
        text = "".join(
            f"2026-05-21 10:{i:02d}:{s:02d},{i},{s},{k},4,5\n" for s in range(count) for k in range(10)
        )
        frames.append(read(HEADER + text, layout(interval=0.1), name=f"{i}.csv")[0])
    rng.shuffle(frames)
    joined, findings = join_files(frames, 0.1, "heron")
    assert findings == []
    assert joined["time"].is_monotonic_increasing and len(joined) == 10 * sum(counts)
    assert joined["sw_in"].is_monotonic_increasing


@pytest.mark.parametrize(
    "stamp, expected", [("start", "10:00:30"), ("end", "09:59:30"), ("instant", "10:00:00")]
)
def test_middle_of_interval(stamp, expected):
    index = moments("2026-05-21T10:00:00Z")
    middle = middle_of_interval(pd.Series(index), stamp, 60.0)
    assert (
        middle.dt.strftime("%H:%M:%S").tolist() == [expected] and str(middle.dtype) == "datetime64[us, UTC]"
    )
    assert middle_of_interval(index, stamp, 60.0).strftime("%H:%M:%S").tolist() == [expected]
    bare = middle_of_interval(np.array(["2026-05-21T10:00:00"], dtype="datetime64[us]"), stamp, 60.0)
    assert str(bare[0])[11:19] == expected
