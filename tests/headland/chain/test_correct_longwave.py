"""The longwave correction: what it adds, and what it can't change."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.chain import correct_longwave
from headland.physics import longwave, radiation
from headland.physics.constants import SIGMA, ZERO_CELSIUS

body = st.floats(230.0, 340.0)


def samples(lw_in_net=-90.0, lw_out_net=5.0, body_in=20.0, body_out=None):
    return pd.DataFrame(
        {
            "time_utc": pd.to_datetime(["2026-05-21T10:00:00Z"]),
            "sw_in": [800.0],
            "sw_out": [160.0],
            "lw_in_net": [lw_in_net],
            "lw_out_net": [lw_out_net],
            "body_temperature_lw_in": [body_in],
            "body_temperature_lw_out": [body_in if body_out is None else body_out],
        }
    )


def net(frame):
    row = correct_longwave.corrected(frame).iloc[0]
    return radiation.net_radiation(row["sw_in"], row["sw_out"], row["lw_in"], row["lw_out"])


@given(body)
def test_a_head_that_exchanges_nothing_sees_its_own_temperature(kelvin):
    assert float(longwave.irradiance(0.0, kelvin)) == pytest.approx(SIGMA * kelvin**4, rel=1e-12)


@given(st.floats(-200.0, 100.0), st.floats(-200.0, 100.0), st.floats(-30.0, 60.0), st.floats(-30.0, 60.0))
def test_net_radiation_does_not_know_the_body_temperature_that_both_heads_share(up, down, one, other):
    assert net(samples(up, down, one)) == pytest.approx(net(samples(up, down, other)), abs=1e-9)
    assert net(samples(up, down, one)) == pytest.approx(640.0 + up - down, abs=1e-9)


def test_net_radiation_does_know_a_difference_between_the_heads():
    change = net(samples(body_in=20.3, body_out=20.0)) - net(samples(body_in=20.0))
    assert change == pytest.approx(4.0 * SIGMA * 293.3**3 * 0.3, rel=1e-3)


@given(st.floats(250.0, 330.0), st.floats(-80.0, 120.0), st.floats(-150.0, -10.0), st.floats(0.9, 1.0))
def test_surface_temperature_follows_the_body_temperature_by_the_cube_of_their_ratio(
    kelvin, down, up, emissivity
):
    """d T_s / d T_body = (T_body / T_s)^3 with both heads on one thermometer, whatever the emissivity."""

    def surface(t):
        return float(
            longwave.surface_temperature(longwave.irradiance(down, t), longwave.irradiance(up, t), emissivity)
        )

    slope = (surface(kelvin + 0.05) - surface(kelvin - 0.05)) / 0.1
    assert slope == pytest.approx((kelvin / surface(kelvin)) ** 3, rel=1e-5)


def test_the_correction_made_twice_leaves_net_alone_and_doubles_the_terms():
    once = correct_longwave.corrected(samples()).iloc[0]
    emission = float(longwave.own_emission(20.0 + ZERO_CELSIUS))
    twice = correct_longwave.corrected(samples(once["lw_in"], once["lw_out"])).iloc[0]
    assert twice["lw_in"] - once["lw_in"] == pytest.approx(emission) and twice["lw_out"] - once[
        "lw_out"
    ] == pytest.approx(emission)
    assert twice["lw_in"] - twice["lw_out"] == pytest.approx(once["lw_in"] - once["lw_out"])


def test_shortwave_passes_and_the_body_is_the_mean_of_the_heads():
    row = correct_longwave.corrected(samples(body_in=20.0, body_out=22.0)).iloc[0]
    assert (row["sw_in"], row["sw_out"], row["body_temperature"]) == (800.0, 160.0, 21.0)


def test_a_missing_value_stays_missing_and_alone():
    row = correct_longwave.corrected(samples(lw_in_net=np.nan)).iloc[0]
    assert np.isnan(row["lw_in"]) and np.isfinite(row["lw_out"])
