"""Runs, notes and shifts between them: each limit from both sides."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from headland.checks import runs, shifts


@pytest.mark.parametrize("gap, count", [(4.9, 1), (5.1, 2)])
def test_gaps_under_5_s_are_lost_rows(gap, count):
    moments = np.concatenate([np.arange(10.0), 9.0 + gap + np.arange(10.0)])
    found = runs.runs(moments, 1.0)
    assert len(found) == count and found[0, 0] == -0.5 and found[-1, 1] == 9.0 + gap + 9.5
    assert len(runs.runs(np.concatenate([np.arange(3) * 4.0, 8.0 + 9.9 + np.arange(3) * 4.0]), 4.0)) == 1


def test_notes_of_whole_minutes_may_be_further_off():
    def noted(*clocks):
        return pd.DataFrame({"start_utc": pd.to_datetime([f"2026-05-21T{clock}Z" for clock in clocks])})

    assert runs.noted_within(noted("10:00:00", "10:07:00")) == 75.0
    assert runs.noted_within(noted("10:00:00", "10:07:01")) == 30.0 == runs.noted_within(noted())


@pytest.mark.parametrize(
    "span, near",
    [
        ((0.0, 70.1), True),
        ((0.0, 70.0), False),
        ((229.9, 300.0), True),
        ((230.0, 300.0), False),
        ((120.0, 130.0), True),
    ],
)
def test_a_span_is_close_within_some_seconds(span, near):
    assert runs.close(span, np.array([[100.0, 200.0]]), 30.0) == near
    assert not runs.close(span, np.zeros((0, 2)), 30.0)


@pytest.mark.parametrize(
    "changes, improves, decided",
    [
        ({}, True, True),
        ({"best": 0.59}, False, False),
        ({"best": 0.601, "unshifted": 0.4}, True, True),
        ({"best": 0.601, "unshifted": 0.402}, False, False),
        ({"unshifted": 0.61}, False, False),
        ({"rival": 0.71}, True, False),
        ({"rival": 0.69}, True, True),
    ],
)
def test_a_shift_is_suggested_where_it_fits_better_and_alone(changes, improves, decided):
    fit = dataclasses.replace(shifts.Fit(0.3, 0.8, 60.0, 0.2, 600.0), **changes)
    assert (fit.improves, fit.decided) == (improves, decided)


@pytest.mark.parametrize(
    "found, entered",
    [
        (1741.0, 1800.0),
        (1739.0, 1739.0),
        (1859.0, 1800.0),
        (1861.0, 1861.0),
        (40.0, 40.0),
        (-3541.0, -3600.0),
        (12.6, 13.0),
    ],
)
def test_a_shift_within_a_minute_of_a_half_hour_is_one(found, entered):
    assert shifts.tidy(found) == entered


def test_shifts_are_tried_up_to_13_hours_and_within_10_minutes_of_whole_days():
    def tried(shift):
        recorded = [np.array([[0.0, 100.0]])]
        return shift in shifts._candidates(recorded, [np.array([[-shift, 100.0 - shift]])])

    assert [tried(hours * 3600.0) for hours in (-13, 13)] == [True, True]
    assert not tried(13 * 3600.0 + 10.0) and tried(86400.0 + 600.0) and not tried(86400.0 + 610.0)
    assert (
        tried(-2 * 86400.0 - 590.0)
        and 30.0 in shifts._candidates([], [])
        and 15.0 not in shifts._candidates([], [])
    )


def test_a_shift_in_words_of_days_hours_minutes_and_seconds():
    assert shifts.shown(2 * 86400.0 + 3 * 3600.0 + 4 * 60.0 + 5.0) == "2 days 3 h 4 min 5 s is added to"
    assert shifts.shown(-86400.0) == "1 day is taken from" and shifts.shown(0.0) == "0 s is added to"
    assert shifts.shift_text(-(3600.0 + 62.0)) == "-01:01:02" and shifts.shift_text(59.6) == "00:01:00"
