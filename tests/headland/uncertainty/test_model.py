"""The measurement model: without errors it is what was measured, and each term by hand."""

import math

import numpy as np
import pytest

from headland.physics.constants import SIGMA, ZERO_CELSIUS
from headland.uncertainty.distributions import NORMAL_95
from headland.uncertainty.draws import Source
from headland.uncertainty.linear import half_width
from headland.uncertainty.model import MEASURED, measured
from headland.uncertainty.sources import instrument_sources
from headland.uncertainty.sources_group import class_sources

from .made import (
    CLASSES,
    SEGMENTS,
    SHADE,
    TERMS,
    at_work,
    certificates,
    drawn,
    grouping,
    half_widths,
    only,
    parts,
    segments,
)


def test_without_errors_the_model_gives_what_was_measured():
    flux = measured(SEGMENTS, SHADE, {})
    for name in MEASURED:
        assert flux[name][0] == pytest.approx(SEGMENTS[name].to_numpy(float), rel=1e-12), name


def test_certificate_and_default_of_a_channel():
    share = 1.5 / 100.0 * 800.0
    assert half_widths(only("certificate_band", "certificate_sensor"), "sw_in") == pytest.approx(
        [share, share]
    )
    assert half_widths(only("certificate_band"), "sw_in") == pytest.approx([share * math.sqrt(0.2)] * 2)
    none = certificates(expanded_uncertainty_percent=np.nan)
    assert half_widths(
        only("default_band_sw", "default_sensor_sw"), "sw_in", certificate=none
    ) == pytest.approx([8.0 * math.hypot(0.7, 1.5)] * 2)
    assert half_widths(
        only("default_band_lw", "default_sensor_lw"), "lw_in", certificate=none
    ) == pytest.approx([math.hypot(1.5, 2.5)] * 2)


def test_longwave_factors_act_on_the_net_signal_alone():
    assert half_widths(only("certificate_band", "certificate_sensor"), "lw_in") == pytest.approx(
        [0.015 * 100.0] * 2
    )
    assert half_widths(only("certificate_band", "certificate_sensor"), "lw_out") == pytest.approx(
        [0.015 * 20.0, 0.015 * 50.0]
    )


def test_drift_grows_with_age_and_temperature_response_with_the_distance_from_20_degrees():
    assert half_widths(only("drift_sw"), "sw_in", certificate=certificates(age_months=24.0)) == pytest.approx(
        [2.0 * 0.015 / math.sqrt(3.0) * 800.0] * 2
    )
    assert half_widths(only("drift_sw"), "sw_in", certificate=certificates(age_months=-3.0)) == pytest.approx(
        [0.0, 0.0]
    )
    assert half_widths(only("temperature_sw"), "sw_in") == pytest.approx(
        [0.02 / math.sqrt(3.0) * 2.0 / 25.0 * 800.0] * 2
    )


def test_zero_noise_and_body_temperature():
    assert half_widths(only("zero"), "net_radiation") == pytest.approx([math.sqrt(2.0)] * 2)
    noisy = segments(**{"noise_sw_in": 0.3, "noise_lw_out": 0.4})
    assert half_widths(only("noise"), "net_radiation", noisy) == pytest.approx([0.5, 0.5])
    assert half_widths(only("body_temperature"), "lw_in") == pytest.approx(
        [4.0 * SIGMA * 295.15**3 * 0.4 / math.sqrt(3.0)] * 2, rel=1e-5
    )


def test_body_temperature_cancels_in_net_radiation_and_a_gradient_does_not():
    assert half_widths(only("body_temperature"), "net_radiation") == pytest.approx([0.0, 0.0], abs=1e-9)
    assert half_widths(only("body_gradient"), "net_radiation") == pytest.approx(
        [4.0 * SIGMA * 295.15**3 * 0.3 / math.sqrt(3.0)] * 2, rel=1e-4
    )


def test_body_temperature_and_emissivity_in_the_surface_temperature():
    kelvin = SEGMENTS["surface_temperature"].to_numpy() + ZERO_CELSIUS
    assert half_widths(only("body_temperature"), "surface_temperature") == pytest.approx(
        0.4 / math.sqrt(3.0) * (295.15 / kelvin) ** 3, rel=1e-4
    )
    groups = grouping().groups
    sources = [
        s
        for s in class_sources(SEGMENTS, groups, CLASSES, TERMS, at_work(SEGMENTS))
        if s.term == "emissivity"
    ]
    u = 0.035 / math.sqrt(3.0)  # paving, 0.90 to 0.97
    eps, lw_in, lw_out = (
        (0.90 + 0.97) / 2.0,
        330.0,
        480.0,
    )  # in the middle of the range, where the source stands
    emitted = (lw_out - (1 - eps) * lw_in) / eps
    slope = (lw_in - emitted) / eps / (4.0 * SIGMA * (emitted / SIGMA) ** 0.75)  # d T_s / d eps
    assert np.abs(parts(sources, "surface_temperature"))[:, 1].max() == pytest.approx(
        abs(slope) * u, rel=1e-3
    )


def test_albedo_of_two_heads_by_hand():
    """u(albedo)/albedo = sqrt(u_in^2 + u_out^2) for what the heads do not share; the band's part cancels."""
    assert half_widths(only("certificate_sensor"), "albedo") == pytest.approx(
        SEGMENTS["albedo"].to_numpy() * 0.015 * math.sqrt(0.8) * math.sqrt(2.0), rel=1e-3
    )
    assert half_widths(only("certificate_band"), "albedo") == pytest.approx([0.0, 0.0], abs=1e-12)


def test_levelling_by_hand():
    beam = (1.0 - SEGMENTS["diffuse_fraction"].iloc[0]) * 800.0
    assert half_widths(only("levelling"), "sw_in") == pytest.approx(
        [beam * math.radians(1.0) * math.tan(math.radians(40.0))] * 2, rel=1e-6
    )


def test_net_radiation_with_correlated_pairs():
    """u 10, 4, 6, 5 with r(sw) 0.5 and r(lw) 0.8 give 9.4340, and 13.3041 without (anchor)."""
    one = np.ones(2)

    def pair(a, b, ua, ub, r):
        return [
            Source("x", a + b, {f"zero_{a}": ua * one, f"zero_{b}": r * ub * one}),
            Source("x", b, {f"zero_{b}": math.sqrt(1 - r * r) * ub * one}),
        ]

    for r, s, expected in ((0.5, 0.8, 9.4340), (0.0, 0.0, 13.3041)):
        sources = pair("sw_in", "sw_out", 10.0, 4.0, r) + pair("lw_in", "lw_out", 6.0, 5.0, s)
        assert half_width(parts(sources, "net_radiation", shade=np.zeros_like)) / NORMAL_95 == pytest.approx(
            [expected] * 2, abs=5e-5
        )
        draws = measured(SEGMENTS, np.zeros_like, drawn(sources, 1, 40_000))["net_radiation"]
        assert draws.std(axis=0) == pytest.approx(
            [expected] * 2, abs=0.1
        )  # 2 standard errors of a standard deviation at 40 000 draws


def test_albedo_with_correlated_terms():
    """130 of 600 with u 4 and 10: 0.005780 at r = 0.5 and 0.007582 at r = 0 (anchor)."""
    frame = segments(1, sw_in=600.0, sw_out=130.0)
    for r, expected in ((0.5, 0.005780), (0.0, 0.007582)):
        sources = [
            Source("x", "a", {"zero_sw_in": np.array([10.0]), "zero_sw_out": np.array([4.0 * r])}),
            Source("x", "b", {"zero_sw_out": np.array([4.0 * math.sqrt(1 - r * r)])}),
        ]
        assert half_width(parts(sources, "albedo", frame, np.zeros_like)) / NORMAL_95 == pytest.approx(
            [expected], abs=3e-6
        )


def test_effects_of_one_sign_are_in_the_middle_of_the_draws():
    sources = instrument_sources(SEGMENTS, certificates(), only("cooling"))
    errors = drawn(sources, 1, 4000)["cooling_sw_in"]  # class B: up to 15 W m-2 at 200 W m-2
    assert errors.min() >= 0.0 and errors.max() <= 0.075 and errors.mean() == pytest.approx(0.0375, abs=1e-4)
