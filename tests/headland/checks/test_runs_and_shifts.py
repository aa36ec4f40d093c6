"""Runs, notes and shifts between them, and the formulas of the limits, by cases worked out by hand."""

import numpy as np
import pytest

from headland.checks import runs, same_sky, shifts, sky_records


def test_runs_bridge_a_lost_row_and_end_at_a_gap():
    moments = np.array([0.5, 1.5, 2.5, 4.5, 5.5, 20.5, 21.5])
    assert runs.runs(moments, 1.0).tolist() == [[0.0, 6.0], [20.0, 22.0]]
    assert runs.runs([], 1.0).shape == (0, 2)


def test_agreement_is_intersection_over_union():
    recorded, noted = np.array([[0.0, 100.0], [200.0, 300.0]]), np.array([[50.0, 150.0], [200.0, 300.0]])
    assert runs.shared(recorded, noted) == pytest.approx(150.0)
    assert runs.agreement([recorded], [noted]) == pytest.approx(150.0 / 250.0)
    assert runs.agreement([recorded], [recorded - 7.0], [0.0, 7.0]).tolist() == pytest.approx(
        [186 / 214, 1.0]
    )


def test_union_leaves_no_overlap():
    assert runs.union([[5, 9], [0, 3], [2, 6]]).tolist() == [[0, 9]]


IRREGULAR = np.array(
    [[0, 90], [130, 250], [700, 800], [900, 1100], [2000, 2070], [2500, 2700], [3300, 3390], [4000, 4200]],
    dtype=float,
)


@pytest.mark.parametrize("shift", [-46800.0, -3600.0, -200.0, 47.0, 3600.0, 86400.0, -172800.0])
def test_the_shift_is_found_to_the_second(shift):
    fit = shifts.best_fit([IRREGULAR], [IRREGULAR - shift])
    assert (
        fit.decided
        and fit.shift == pytest.approx(shift, abs=1.0)
        and fit.best == pytest.approx(1.0, abs=0.01)
    )


def test_equal_walks_at_equal_times_are_undecided_until_a_clock_check_speaks():
    regular = np.array([[150.0 * k, 150.0 * k + 100.0] for k in range(20)])
    fit = shifts.best_fit([regular], [regular - 3600.0])
    assert fit.improves and not fit.decided
    assert shifts.best_fit([regular], [regular - 3600.0], checked=3610.0).decided


@pytest.mark.parametrize(
    "seconds, text, words",
    [
        (-3600.0, "-01:00:00", "1 h is taken from"),
        (86400.0, "24:00:00", "1 day is added to"),
        (75.0, "00:01:15", "1 min 15 s is added to"),
    ],
)
def test_a_shift_as_it_is_entered_and_said(seconds, text, words):
    assert shifts.shift_text(seconds) == text and shifts.shown(seconds) == words


@pytest.mark.parametrize(
    "found, entered", [(3563.0, 3600.0), (-5421.0, -5400.0), (300.0, 300.0), (86390.0, 86400.0), (20.4, 20.0)]
)
def test_zones_differ_by_half_hours(found, entered):
    assert shifts.tidy(found) == entered


def test_shadow_limit_by_hand():
    """At 45 degrees: 0.10 + 3.6 sqrt 2 pi / 180 = 0.1889 (computed by hand)."""
    assert sky_records.shadow_limit(45.0) == pytest.approx(0.1889, abs=5e-5)


def test_scatter_of_a_constant_ratio_is_the_usual_one_alone():
    """Ten equal windows without scatter: 0.02 sqrt(5 / 14) t_14 / z_norm / sqrt 10 with t and z at 3.2e-4
    two-sided (4.78 and 3.60)."""
    u = same_sky.sky_scatter("sw_in", np.zeros(10), np.ones(10), same_sky.FALSE_ALARM)
    assert u == pytest.approx(0.02 * np.sqrt(5 / 14) * 4.78 / 3.60 / np.sqrt(10), rel=0.02)
