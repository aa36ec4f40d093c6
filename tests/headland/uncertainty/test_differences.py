"""Differences between surfaces and the budget, against sums of squares by hand."""

import math

import numpy as np
import pytest

from headland.uncertainty.propagate import propagate

from .made import TERMS, certificates, inputs_of, only, segments, whole

ROOT2 = math.sqrt(2.0)


def half_of(result, quantity="net_radiation"):
    row = result.differences.set_index("quantity").loc[quantity]
    return (row["difference_high"] - row["difference_low"]) / 2.0


def test_a_difference_by_two_sets_has_the_errors_of_both():
    """Zeros of four heads, 1 W m-2 each: 1.96 * 2. By one set they cancel."""
    two = segments(sets=("heron", "curlew"))
    assert half_of(whole(two, only("zero"), draws=4000)) == pytest.approx(1.96 * 2.0, rel=0.01)
    assert half_of(whole(segments(), only("zero"), draws=4000)) == pytest.approx(0.0, abs=1e-9)


def test_noise_of_both_visits_is_in_a_difference():
    noisy = segments(noise_sw_in=3.0, noise_lw_out=4.0)
    found = half_of(whole(noisy, only("noise"), draws=4000))
    assert found == pytest.approx(1.96 * 5.0 * ROOT2, rel=0.01)


def test_the_ground_of_both_surfaces_is_in_a_difference():
    """6 W m-2 of 800 at 20 looks: t(19) = 2.093; each surface has its own ground."""
    found = half_of(whole(segments(), only("ground"), draws=4000), "albedo")
    assert found == pytest.approx(2.093 * 6.0 / 800.0 / math.sqrt(20.0) * ROOT2, rel=0.02)


@pytest.mark.parametrize("apart, told", [(12.0, False), (16.0, True), (-12.0, False), (-16.0, True)])
def test_surfaces_are_told_apart_where_the_interval_leaves_out_0(apart, told):
    """The half width is 1.96 * 5 * sqrt 2 = 13.9 W m-2."""
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
    assert row["difference"] == pytest.approx(-apart) and row["distinguishable"] == told
    assert row["difference_low"] == pytest.approx(-apart - 13.86, abs=0.2)
    assert row["difference_high"] == pytest.approx(-apart + 13.86, abs=0.2)


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
    assert apart["half_width_95"].item() == pytest.approx(1.96 * 0.5 * ROOT2, rel=1e-4)


def test_certificate_and_default_are_one_row_of_the_budget():
    """Both are the calibration of the sensor: terms with one label add up."""
    mixed = certificates().assign(expanded_uncertainty_percent=[3.0, np.nan, 3.0, 3.0])
    terms = only("certificate_sensor", "default_sensor_sw")
    rows = propagate(inputs_of(terms=terms, certificate=mixed), 1, 100).budget
    albedo = rows[(rows["surface"] == "stubble") & (rows["quantity"] == "albedo")]
    relative = math.hypot(0.015 * math.sqrt(0.8), 0.015)
    assert albedo["half_width_95"].item() == pytest.approx(1.96 * 190.0 / 800.0 * relative, rel=1e-3)


def test_the_linear_check_by_hand():
    """Cooling of 0 to 8 W m-2 is rectangular: linear 1.96 * 4 / sqrt 3, draws 0.95 * 4, and no skew."""
    row = whole(segments(), only("cooling"), draws=4000).linear.set_index(["surface", "quantity"])
    sw_in = row.loc[("stubble", "sw_in")]
    assert sw_in["half_width_linear"] == pytest.approx(1.96 * 4.0 / math.sqrt(3.0), rel=1e-4)
    assert sw_in["half_width_draws"] == pytest.approx(0.95 * 4.0, rel=2e-3)
    assert sw_in["skew"] == pytest.approx(0.0, abs=2e-3)
