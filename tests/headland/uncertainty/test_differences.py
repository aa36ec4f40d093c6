"""Differences between surfaces at a common moment and the budget, against sums of squares by hand."""

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.uncertainty.differences import p_values, significant, verdicts
from headland.uncertainty.propagate import propagate

from .made import CLASSES, TERMS, certificates, inputs_of, only, segments, whole

ROOT2 = math.sqrt(2.0)


def by_sw_in() -> float:
    """What an error of one visit's SW_in makes of the difference in net radiation, W m-2 per W m-2.

    e of one visit moves its albedo a by -a e / SW and the common sky by e / 2: -(a - b) e / 2 + a e is
    (a + b) e / 2. Each surface is brought to the common sky from e / 2 away, by lambda (1 - a).
    """
    albedo = {"stubble": 190.0 / 800.0, "paving": 90.0 / 800.0}
    warming = [CLASSES[name]["sky_response"]["value"] * (1.0 - a) for name, a in albedo.items()]
    return (sum(albedo.values()) + sum(warming)) / 2.0


def half_of(result, quantity="net_radiation"):
    row = result.differences.set_index("quantity").loc[quantity]
    return (row["difference_high"] - row["difference_low"]) / 2.0


def test_a_difference_by_two_sets_has_the_errors_of_both():
    """Zeros of four heads, 1 W m-2 each. By one set they cancel.

    SW_out's zero moves net radiation as it is, SW_in's by `by_sw_in`.
    """
    two = segments(sets=("heron", "curlew"))
    by_hand = 1.96 * ROOT2 * math.hypot(1.0, by_sw_in())
    assert half_of(whole(two, only("zero"), draws=4000)) == pytest.approx(by_hand, rel=0.003)
    assert half_of(whole(segments(), only("zero"), draws=4000)) == pytest.approx(0.0, abs=1e-9)


def test_noise_of_both_visits_is_in_a_difference():
    noisy = segments(noise_sw_in=3.0, noise_lw_out=4.0)
    found = half_of(whole(noisy, only("noise"), draws=4000))
    by_hand = 1.96 * ROOT2 * math.hypot(4.0, 3.0 * by_sw_in())
    assert found == pytest.approx(by_hand, rel=0.003)


def test_the_ground_of_both_surfaces_is_in_a_difference():
    """6 W m-2 of 800 at 20 looks: t(19) = 2.093; each surface has its own ground."""
    found = half_of(whole(segments(), only("ground"), draws=4000), "albedo")
    assert found == pytest.approx(2.093 * 6.0 / 800.0 / math.sqrt(20.0) * ROOT2, rel=0.02)


@pytest.mark.parametrize("apart, told", [(10.0, False), (13.0, True), (-10.0, False), (-13.0, True)])
def test_surfaces_are_told_apart_where_the_interval_leaves_out_0(apart, told):
    """The half width is 1.96 * sqrt 2 * 4 = 11.1 W m-2 by SW_out alone, and 11.3 with SW_in's noise times the
    albedo.

    There is one pair, so Holm's correction changes nothing.
    """
    frame = segments(
        sw_out=np.array([100.0, 100.0 + apart]),
        lw_out=450.0,
        lw_out_net=20.0,
        noise_sw_in=3.0,
        noise_sw_out=4.0,
    )
    row = whole(frame, only("noise"), draws=4000).differences.set_index("quantity").loc["net_radiation"]
    # paving comes first, and has the second walk
    assert (row["surface_a"], row["surface_b"]) == ("paving", "stubble")
    assert row["difference"] == pytest.approx(-apart) and row["distinguishable"] == str(told).lower()
    assert row["difference_low"] == pytest.approx(-apart - 11.27, abs=0.2)
    assert row["difference_high"] == pytest.approx(-apart + 11.27, abs=0.2)


def test_a_share_of_the_budget_by_hand():
    """Net: zeros of two heads 1 W m-2 each, noise 0.5 W m-2: shares 2 / 2.25 and 0.25 / 2.25."""
    frame = segments(noise_sw_in=0.5)
    rows = whole(frame, only("zero", "noise"), draws=100).budget
    net = rows[(rows["surface"] == "stubble") & (rows["quantity"] == "net_radiation")]
    assert net["source"].tolist() == [TERMS["zero"]["label"], TERMS["noise"]["label"]]
    assert net["share"].tolist() == pytest.approx([2.0 / 2.25, 0.25 / 2.25])
    assert net["half_width_95"].tolist() == pytest.approx([1.96 * ROOT2, 1.96 * 0.5], rel=1e-4)
    # what both share has no row in the difference
    apart = rows[(rows["surface"] == "paving - stubble") & (rows["quantity"] == "net_radiation")]
    assert apart["source"].tolist() == [TERMS["noise"]["label"]]
    by_hand = 1.96 * 0.5 * ROOT2 * by_sw_in()
    assert apart["half_width_95"].item() == pytest.approx(by_hand, rel=1e-3)


def test_certificate_and_default_are_one_row_of_the_budget():
    """Both are the calibration of the sensor: terms with one label add up."""
    mixed = certificates().assign(expanded_uncertainty_percent=[3.0, np.nan, 3.0, 3.0])
    terms = only("certificate_sensor", "default_sensor_sw")
    rows = propagate(inputs_of(terms=terms, certificate=mixed), 1, 100, one_sided="leave").budget
    albedo = rows[(rows["surface"] == "stubble") & (rows["quantity"] == "albedo")]
    relative = math.hypot(0.015 * math.sqrt(0.8), 0.015)
    assert albedo["half_width_95"].item() == pytest.approx(1.96 * 190.0 / 800.0 * relative, rel=1e-3)


def test_the_linear_check_by_hand():
    """Cooling of 0 to 7.5 W m-2 is rectangular: linear 1.96 * 3.75 / sqrt 3, draws 0.95 * 3.75, and no
    skew.
    """
    row = whole(segments(), only("cooling"), draws=4000).linear.set_index(["surface", "quantity"])
    sw_in = row.loc[("stubble", "sw_in")]
    assert sw_in["half_width_linear"] == pytest.approx(1.96 * 3.75 / math.sqrt(3.0), rel=1e-4)
    assert sw_in["half_width_draws"] == pytest.approx(0.95 * 3.75, rel=2e-3)
    assert sw_in["skew"] == pytest.approx(0.0, abs=2e-3)


# Verdicts ---------------------------------------------------------------------------------------------------


def test_holm_stops_at_the_first_that_fails():
    """Five tests: 0.05/5, 0.05/4, 0.05/3 … in order of size. 0.02 is over 0.05/3, so 0.024 is not tested."""
    p = np.array([0.02, 0.001, 0.024, 0.011, 0.9])
    assert significant(p, np.ones(5, bool)).tolist() == [False, True, False, True, False]


def test_a_test_that_is_not_made_costs_nothing():
    p = np.array([0.04, 0.001])
    assert significant(p, np.array([True, False])).tolist() == [True, False]


def test_p_values_are_those_of_a_normal_distribution():
    """Two-sided 5 % at 1.959964 standard uncertainties (JCGM 100:2008, table G.1: 1.960)."""
    p = p_values(np.array([1.959964, -3.919928, 0.0]), np.array([1.0, 2.0, 1.0]))
    assert p.tolist() == pytest.approx([0.05, 0.05, 1.0], abs=1e-7)


def test_a_pair_whose_interval_holds_zero_is_never_told_apart():
    """-2.6 of [-3.9, 0.1]: significant by its half width, but the longer side reaches over 0."""
    pairs = SimpleNamespace(
        course={"albedo": np.zeros(2)}, unknown=np.zeros(2, bool), too_different={"albedo": np.zeros(2, bool)}
    )
    value, low, high = np.array([-2.6, -2.6]), np.array([-3.9, -4.1]), np.array([0.1, -0.1])
    found, _ = verdicts(value, low, high, pairs, "albedo")
    assert found.tolist() == ["false", "true"]


def test_what_only_the_course_hides_is_undecided():
    """Two walks five hours apart, 20 W m-2 different: only the course hides it."""
    frame = segments(sw_out=np.array([100.0, 120.0]), lw_out=450.0, lw_out_net=20.0, noise_sw_out=2.0)
    later = frame["start_utc"] + pd.to_timedelta([0, 5], unit="h")
    frame = frame.assign(start_utc=later, end_utc=later + pd.Timedelta("10min"))
    row = whole(frame, only("noise"), draws=2000).differences.set_index("quantity").loc["net_radiation"]
    assert row["distinguishable"] == "true" and not row["why"]
    row = (
        whole(frame, only("noise", "course"), draws=2000)
        .differences.set_index("quantity")
        .loc["net_radiation"]
    )
    assert row["distinguishable"] == "undecided" and "visit the first again" in row["why"]


def test_skies_too_different_are_refused_but_for_albedo():
    """800 against 400 W m-2: a third from their mean, where 25 % is allowed."""
    frame = segments(sw_in=np.array([800.0, 400.0]), sw_out=np.array([160.0, 80.0]))
    rows = whole(frame, only("noise"), draws=200).differences.set_index("quantity")
    assert rows.loc["net_radiation", "distinguishable"] == "undecided"
    assert "sky" in rows.loc["net_radiation", "why"] and np.isnan(rows.loc["net_radiation", "difference"])
    assert np.isfinite(rows.loc["albedo", "difference"])
