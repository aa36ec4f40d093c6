"""Samples to segments: the half-open interval by the middle of a sample, the guards at the edges, positions
and clocks.
"""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.base.times import recorded_runs
from headland.chain import clock_checks, segment, unused
from headland.physics import geometry, instruments

START = pd.Timestamp("2026-05-21T09:00:00Z")


def noted(*rows):
    base = {
        "set": "heron",
        "field": "mill",
        "surface": "stubble",
        "activity": "walk",
        "start_utc": START,
        "end_utc": START + pd.Timedelta(60, "s"),
        "speed": np.nan,
        "length": np.nan,
        "canopy_height": np.nan,
        "notes_row": 2,
    }
    rows = [
        {
            **base,
            **{
                k: START + pd.Timedelta(v, "s") if k in ("start_utc", "end_utc") else v
                for k, v in row.items()
            },
        }
        for row in rows
    ]
    return pd.DataFrame(rows, columns=list(base))


def listed(*rows, height=1.5, speed=1.0):
    return segment.list_segments(noted(*rows), height, speed)[0]


def middles(seconds):
    return pd.Series(START + pd.to_timedelta(np.asarray(seconds, float), unit="s"))


NO_CHECKS = pd.DataFrame(
    {
        "set": [],
        "start_utc": pd.to_datetime([], utc=True),
        "logger_utc": pd.to_datetime([], utc=True),
        "notes_row": [],
    }
)


def checks(*seconds_ahead):
    return pd.DataFrame(
        [
            {
                "set": "heron",
                "start_utc": START + pd.Timedelta(k, "h"),
                "logger_utc": START + pd.Timedelta(k, "h") + pd.Timedelta(s, "s"),
                "notes_row": 7 + k,
            }
            for k, s in enumerate(seconds_ahead)
        ]
    )


def assign(seconds, *rows, clock=NO_CHECKS, interval=1.0, response=0.0, walks=True, height=1.5, speed=1.0):
    return segment.assign(
        middles(seconds),
        clock,
        listed(*rows, height=height, speed=speed),
        interval=interval,
        response_time=response,
        walks=walks,
    )


def test_view_within_three_heights_is_nine_tenths():
    assert geometry.view_within(3.0 * 1.7, 1.7) == pytest.approx(0.90, abs=1e-12)
    assert geometry.view_within(1.7, 1.7) == pytest.approx(0.5, abs=1e-12)
    assert geometry.view_within(10.0, 1.0) == pytest.approx(0.9901, abs=5e-5)
    assert geometry.view_within(geometry.GUARD_RADIUS, 1.0) == pytest.approx(0.90)


@pytest.mark.parametrize("share, radius", [(0.90, 3.0), (0.95, 4.3589), (0.99, 9.9499)])
def test_radius_of_a_share_of_the_view(share, radius):
    assert geometry.view_within(radius, 1.0) == pytest.approx(share, abs=1e-5)


@given(st.floats(0.01, 100.0), st.floats(0.5, 10.0))
def test_the_view_depends_on_the_ratio_alone_and_grows(radius, height):
    assert geometry.view_within(radius, height) == pytest.approx(geometry.view_within(radius / height, 1.0))
    assert geometry.view_within(radius, height) < geometry.view_within(1.01 * radius, height) < 1.0


def test_runs_end_where_the_switch_was_off():
    assert recorded_runs(np.array([0.0, 1.0, 2.0, 60.0, 61.0, 300.0]), 1.0).tolist() == [
        0,
        0,
        0,
        1,
        1,
        2,
    ]
    assert recorded_runs(np.array([0.0, 2.5, 5.01]), 1.0).tolist() == [0, 0, 1]
    assert recorded_runs(np.array([]), 1.0).tolist() == []


def test_positions_are_at_the_middle_of_the_samples():
    assert segment.positions(4, 1.0, 0.8).tolist() == pytest.approx([0.4, 1.2, 2.0, 2.8])
    assert segment.positions(4, 1.0, 0.8, 32.0).tolist() == pytest.approx([4.0, 12.0, 20.0, 28.0])
    assert segment.positions(0, 1.0, 0.8, 32.0).tolist() == []


@given(st.integers(1, 500), st.floats(0.2, 10.0), st.floats(0.2, 2.0), st.floats(1.0, 2000.0))
def test_a_noted_length_is_filled_evenly(count, interval, speed, length):
    along = segment.positions(count, interval, speed, length)
    assert along[0] == pytest.approx(length - along[-1]) and along[0] == pytest.approx(length / count / 2.0)


def test_edges_at_both_ends_and_settling_at_the_start():
    along = np.arange(0.5, 30.0)
    kept = along[~segment.edge(along, 30.0, 1.5, 10.0)]
    assert kept.min() == 14.5 and kept.max() == 25.5  # 4.5 + 10 m from the start, 4.5 m from the end


def test_a_sample_belongs_where_its_middle_lies():
    placed, _ = assign([-0.01, 0.0, 30.0, 59.99, 60.0], {}, walks=False)
    assert (placed["segment"] != "").tolist() == [False, True, True, True, False]


def test_two_intervals_that_touch_share_no_sample():
    placed, _ = assign([59.5, 60.0, 60.5], {}, {"start_utc": 60, "end_utc": 120}, walks=False)
    assert (
        placed["segment"].tolist() == ["heron-0521-0900", "heron-0521-0901", "heron-0521-0901"]
        and (placed["flags"] == "").all()
    )


def test_guards_of_a_walk():
    placed, _ = assign(np.arange(0.5, 60.0), {}, response=5.0)
    used = np.flatnonzero(placed["flags"] == "")
    # 60 m at 1 m/s: 4.5 m + 5 m settled at the start, 4.5 m at the end
    assert (used[0], used[-1]) == (9, 55) and placed["position"].iloc[0] == 0.5


def test_an_interruption_does_not_count_as_way():
    seconds = np.concatenate([np.arange(0.5, 20.0), np.arange(40.5, 60.0)])
    placed, _ = assign(seconds, {})
    assert np.diff(placed["position"]) == pytest.approx(np.ones(39))
    assert placed["position"].iloc[-1] == 39.5


def test_a_noted_length_and_speed_take_precedence():
    placed, _ = assign(np.arange(0.5, 60.0), {"length": 120.0})
    assert placed["position"].iloc[-1] == pytest.approx(119.0)
    assert (placed["flags"].iloc[:2] == "edge").all() and placed["flags"].iloc[
        2
    ] == ""  # 1, 3 m, then 5 m > 4.5 m
    placed, _ = assign(np.arange(0.5, 60.0), {"speed": 0.5})
    assert placed["position"].iloc[-1] == pytest.approx(29.75)


def test_a_stand_has_no_edge_but_settles():
    placed, _ = assign(np.arange(0.5, 60.0), {"activity": "stand"}, response=12.0)
    assert (
        (placed["flags"] == "edge").sum() == 12
        and (placed["flags"].iloc[:12] == "edge").all()
        and placed["position"].isna().all()
    )


def test_where_nobody_walks_there_is_no_edge():
    placed, _ = assign(np.arange(0.5, 60.0), {}, response=12.0, walks=False, speed=0.0)
    assert (placed["flags"] == "").all() and (placed["segment"] != "").all()


def test_a_head_too_low_counts_nowhere():
    rows, findings = segment.list_segments(noted({"canopy_height": 1.45}), 1.5, 1.0)
    assert [(f.code, f.variant) for f in findings] == [("head-too-low", "")]
    assert rows["height"].item() == pytest.approx(0.05)
    placed, _ = segment.assign(
        middles(np.arange(0.5, 60.0)), NO_CHECKS, rows, interval=1.0, response_time=0.0, walks=True
    )
    assert (placed["flags"] == "low-head").all()
    assert segment.list_segments(noted({"canopy_height": 0.5}), 1.5, 1.0)[1] == []
    (near,) = segment.list_segments(noted({"canopy_height": 1.1}), 1.2, 1.0)[1]
    assert near.variant == "near"  # 1.2 - 1.1 is a little less than 0.1 to a computer


def test_a_head_near_a_canopy_counts_and_is_noted_once_a_field():
    rows, findings = segment.list_segments(noted({"canopy_height": 0.6}, {"canopy_height": 0.7}), 1.5, 1.0)
    assert [(f.code, f.variant, f.facts["count"]) for f in findings] == [("head-too-low", "near", 2)]
    placed, _ = segment.assign(
        middles(np.arange(0.5, 60.0)), NO_CHECKS, rows, interval=1.0, response_time=0.0, walks=True
    )
    assert not (placed["flags"] == "low-head").any()


def test_samples_that_two_notes_claim_are_flagged_and_stay_with_the_first():
    placed, _ = assign(np.arange(0.5, 90.0), {}, {"start_utc": 30, "end_utc": 90}, walks=False)
    assert (placed["flags"] == "overlap").tolist() == [30 <= k < 60 for k in range(90)]
    assert (
        placed["segment"].iloc[45] == "heron-0521-0900" and placed["segment"].iloc[75] == "heron-0521-0900.2"
    )


def test_names_are_unique_and_tell_set_and_start():
    assert listed({}, {}, {"set": "curlew"}, {"start_utc": 60})["segment"].tolist() == [
        "heron-0521-0900",
        "heron-0521-0900.2",
        "curlew-0521-0900",
        "heron-0521-0901",
    ]


def test_clock_checks_are_no_segments_and_speeds_follow_the_activity():
    rows = listed({"activity": "clock_check"}, {}, {"activity": "stand"}, {"speed": 1.3}, speed=0.8)
    assert rows["activity"].tolist() == ["walk", "stand", "walk"] and rows["speed"].tolist() == [
        0.8,
        0.0,
        1.3,
    ]
    assert listed({"speed": 1.3}, speed=0.0)["speed"].tolist() == [0.0]


def test_a_clock_ahead_shifts_the_samples_back():
    placed, findings = assign([9.5, 10.5, 69.5, 70.5], {}, clock=checks(10.0), walks=False)
    assert (placed["segment"] != "").tolist() == [False, True, True, False]
    assert [(f.code, f.facts["seconds"], f.facts["direction"]) for f in findings] == [
        ("clock-corrected", "10", "ahead")
    ]


def test_a_clock_behind():
    placed, findings = assign([-10.5, -9.5, 49.5, 50.5], {}, clock=checks(-10.0), walks=False)
    assert (placed["segment"] != "").tolist() == [False, True, True, False] and findings[0].facts[
        "direction"
    ] == "behind"


def test_a_clock_within_a_second_is_not_worth_a_word():
    assert assign([0.5], {}, clock=checks(0.9))[1] == []


def test_a_clock_far_off_is_questioned_not_corrected():
    placed, findings = assign([0.5, 3600.5], {}, clock=checks(3600.0), walks=False)
    assert [(f.code, f.facts["minutes"]) for f in findings] == [("clock-check-far-off", "60")]
    assert (placed["segment"] != "").tolist() == [True, False]


def test_notes_without_samples_and_segments_without_a_used_one():
    rows = listed({}, {"start_utc": 3600, "end_utc": 3660, "notes_row": 3})
    samples = pd.DataFrame({"segment": ["heron-0521-0900"] * 3, "flags": ["", "edge", "edge"]})
    (empty,) = unused.counts(rows, samples, [False, True, True])
    assert (empty.code, empty.line, empty.facts["segment"]) == ("note-without-data", 3, "heron-0521-1000")
    assert [f.code for f in unused.counts(rows, samples, [True] * 3)] == [
        "segment-unused",
        "note-without-data",
    ]


def test_span_and_response_time():
    assert clock_checks.span([middles([5.0, 9.0]), middles([]), middles([1.0, 7.0])]) == (
        START + pd.Timedelta(1, "s"),
        START + pd.Timedelta(9, "s"),
    )
    assert clock_checks.span([middles([])]) is None
    assert segment.response_time(pd.DataFrame({"response_time_95": [12.0, np.nan, 18.0]})) == 18.0
    assert segment.response_time(pd.DataFrame({"response_time_95": [np.nan]})) == instruments.RESPONSE_TIME


def test_a_set_of_which_nothing_is_used_is_an_error_and_a_sky_monitor_is_none():
    rows = pd.DataFrame({"segment": ["a", "b"], "activity": ["walk", "sky_monitor"]})
    placed = pd.Series(["a", "a", "b", ""])
    (found,) = unused.set_unused("heron", rows, placed, [True, True, True, False])
    assert (found.code, found.set, found.facts["count"]) == ("set-unused", "heron", 4)
    assert unused.set_unused("heron", rows, placed, [True, True, False, False]) == []
    assert unused.set_unused("heron", rows, placed, [True, False, True, False]) == []
    covered = rows.assign(activity=["dark", "channel_check"])
    assert unused.set_unused("heron", covered, placed, [False] * 4) == []


@pytest.mark.parametrize("length", [math.nan, 0.0, 40.0, 120.0])
def test_a_walk_is_as_long_as_noted_else_as_its_time_and_speed_say(length):
    """100 s at 0.8 m/s with a head 1.5 m up and a response of 20 s: guards of 4.5 m at both ends, and the way
    of a fifth of the time at the start."""
    row = {"height": 1.5, "speed": 0.8, "length": length}
    position, flags = segment.guards(row, np.arange(100.0), 1.0, 20.0)
    kept = position[np.asarray(flags) == 0]
    way = length if length > 0 else 80.0
    assert position[0] == pytest.approx(0.005 * way) and position[-1] == pytest.approx(0.995 * way)
    assert kept.min() >= 4.5 + 0.2 * way > kept.min() - 0.01 * way
    assert kept.max() <= way - 4.5 < kept.max() + 0.01 * way


def test_a_set_that_stands_settles_and_has_no_place():
    row = {"height": 1.5, "speed": 0.0, "length": math.nan}
    position, flags = segment.guards(row, np.arange(100.0), 1.0, 20.0)
    assert np.isnan(position).all() and [segment.FLAGS[k] for k in flags] == ["edge"] * 20 + [""] * 80
    position, flags = segment.guards(row | {"height": 0.09}, np.arange(10.0), 1.0, 20.0)
    assert np.isnan(position).all() and {segment.FLAGS[k] for k in flags} == {"low-head"}
