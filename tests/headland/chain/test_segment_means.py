"""Means of one segment, and what its scatter says."""

import numpy as np
import pandas as pd
import pytest

from headland.chain.segment_means import left_out
from headland.physics.constants import SIGMA, ZERO_CELSIUS

from .made_segments import means, samples


def test_means_of_a_steady_segment():
    row = means(samples())
    assert (row["samples"], row["samples_used"], row["weight"]) == (60, 60, 60.0)
    assert (row["sw_in"], row["albedo"], row["net_radiation"]) == pytest.approx((800.0, 0.2, 540.0))
    assert row["surface_temperature"] == pytest.approx((430.0 / SIGMA) ** 0.25 - ZERO_CELSIUS)
    assert (
        row["noise_sw_in"],
        row["ground_sw_out"],
        row["ground_lw_out"],
        row["ground_correlation"],
    ) == pytest.approx((0, 0, 0, 0), abs=1e-9)


def test_net_of_means_is_the_mean_of_nets():
    generator = np.random.default_rng(6)
    frame = samples(
        sw_in=generator.uniform(300, 900, 60),
        sw_out=generator.uniform(60, 180, 60),
        lw_out=generator.uniform(400, 450, 60),
    )
    assert means(frame)["net_radiation"] == pytest.approx(
        (frame["sw_in"] - frame["sw_out"] + frame["lw_in"] - frame["lw_out"]).mean()
    )


def test_only_used_samples_count():
    frame = samples(sw_in=np.where(np.arange(60) < 30, 800.0, 5000.0))
    assert means(frame, np.arange(60) < 30)["sw_in"] == 800.0


def test_albedo_needs_the_sun_above_10_degrees_and_50_w_m2():
    low = np.arange(60) < 30
    assert means(samples(solar_elevation=np.where(low, 10.0, 10.1), sw_out=np.where(low, 700.0, 160.0)))[
        "albedo"
    ] == pytest.approx(0.2)
    assert means(samples(sw_in=np.where(low, 50.0, 800.0), sw_out=np.where(low, 49.0, 160.0)))[
        "albedo"
    ] == pytest.approx(0.2)
    assert np.isnan(means(samples(solar_elevation=5.0))["albedo"]) and np.isfinite(
        means(samples(solar_elevation=5.0))["net_radiation"]
    )


def test_a_segment_without_used_samples_has_no_means_but_a_sun():
    row = means(samples(), np.zeros(60, bool))
    assert (
        np.isnan(row["sw_in"])
        and np.isnan(row["albedo"])
        and row["solar_elevation"] == 55.0
        and row["independent"] == 0.0
    )
    assert np.isnan(means(samples().iloc[:0])["solar_azimuth"])


def test_a_moving_sky_is_no_scatter_of_the_ground():
    sky = np.random.default_rng(7).uniform(200.0, 900.0, 60)
    assert means(samples(sw_in=sky, sw_out=0.2 * sky))["ground_sw_out"] == pytest.approx(0.0, abs=1e-9)
    assert means(samples(lw_out=430.0 + 0.1 * np.arange(60)))["ground_lw_out"] == pytest.approx(0.0, abs=1e-9)


def test_what_the_ground_emits_under_a_moving_sky_is_its_own_scatter_alone():
    """Warmth that follows the sun and a steady drift are the sky's; what is left has a standard deviation of
    2 W m-2. Where the ground reflects more by the same pattern, both go together."""
    rng, time = np.random.default_rng(7), np.arange(60)
    sky = rng.uniform(200.0, 900.0, 60)
    others = np.column_stack([np.ones(60), time, sky])
    own = rng.standard_normal(60)
    own -= others @ np.linalg.lstsq(others, own, rcond=None)[0]
    own *= 2.0 / own.std()
    follows = 430.0 + 0.05 * sky + 0.1 * time
    assert means(samples(sw_in=sky, lw_out=follows))["ground_lw_out"] == pytest.approx(0.0, abs=1e-9)
    row = means(samples(sw_in=sky, sw_out=0.2 * sky + own, lw_out=follows + own))
    assert row["ground_lw_out"] == pytest.approx(2.0) and row["ground_correlation"] == pytest.approx(
        1.0, abs=1e-3
    )
    row = means(samples(sw_in=sky, sw_out=0.2 * sky - own, lw_out=follows + own))
    assert row["ground_correlation"] == pytest.approx(-1.0, abs=1e-3)


def test_the_azimuth_is_averaged_as_a_direction():
    azimuth = means(samples(2, solar_azimuth=[359.0, 1.0]))["solar_azimuth"]
    assert min(azimuth, 360.0 - azimuth) == pytest.approx(0.0, abs=1e-9)


def test_standing_is_one_look():
    assert means(samples(), speed=0.0)["independent"] == 1.0


def test_what_is_left_out_at_the_edge_had_another_sun():
    """Means of 700 over all and of 600 over those that count; a missing or frozen sample is in neither."""
    frame = pd.DataFrame(
        {
            "sw_in": [1000.0, 600.0, 500.0, 700.0, 5000.0, np.nan],
            "sw_out": 100.0,
            "lw_out": 400.0,
            "flags": ["edge", "", "", "", "frozen", "edge"],
        }
    )
    used = np.array([False, True, True, True, False, False])
    assert left_out(frame, used)["left_out"] == pytest.approx(100.0)
    for nothing in (left_out(frame, np.zeros(6, bool)), left_out(frame.drop(columns="flags"), used)):
        assert set(nothing.values()) == {0.0}


def test_and_another_ground():
    """Ground of albedo 0.2 and an edge of 0.5 that is 30 W m-2 warmer; the sun is twice as strong there."""
    at_edge = np.array([True, False, False, True])
    sw_in = np.where(at_edge, 800.0, 400.0)
    frame = pd.DataFrame(
        {
            "sw_in": sw_in,
            "sw_out": sw_in * np.where(at_edge, 0.5, 0.2),
            "lw_out": np.where(at_edge, 430.0, 400.0),
            "flags": np.where(at_edge, "edge", ""),
        }
    )
    found = left_out(frame, ~at_edge)
    assert found["left_out_lw_out"] == pytest.approx(15.0)
    assert found["left_out_sw_out"] == pytest.approx((400.0 + 80.0) / 2.0 - 80.0 - 0.2 * 200.0)
