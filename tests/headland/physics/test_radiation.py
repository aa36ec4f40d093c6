"""Albedo, net radiation, and net radiation under a common sky."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.physics import radiation

flux = st.floats(0.0, 1200.0)
long = st.floats(150.0, 700.0)


def common_sky(net, albedo, *others):
    names = ("sw_in", "lw_in", "sw_ref", "lw_ref", "emissivity", "sky_response")
    return radiation.net_common_sky(net, albedo, **dict(zip(names, others, strict=True)))


def test_albedo_is_the_ratio_of_sums_not_the_mean_of_ratios():
    sw_in, sw_out = np.array([100.0, 900.0]), np.array([50.0, 90.0])
    assert radiation.albedo(sw_in, sw_out) == pytest.approx(0.14)
    assert np.mean(sw_out / sw_in) == pytest.approx(0.30)


@given(st.floats(0.01, 0.99), st.lists(st.floats(1.0, 1200.0), min_size=1, max_size=50))
def test_albedo_of_an_even_surface_is_its_own_whatever_the_sun(a, sun):
    assert radiation.albedo(np.array(sun), a * np.array(sun)) == pytest.approx(a)


def test_without_sun_there_is_no_albedo():
    assert np.isnan(radiation.albedo(np.zeros(3), np.zeros(3)))
    assert radiation.albedo(np.array([[100.0], [0.0]]), np.array([[20.0], [0.0]])).tolist()[0] == 0.2


@given(flux, flux, long, long)
def test_net_radiation_signs(sw_in, sw_out, lw_in, lw_out):
    net = radiation.net_radiation(sw_in, sw_out, lw_in, lw_out)
    assert net == pytest.approx((sw_in - sw_out) + (lw_in - lw_out), abs=1e-9)
    assert radiation.net_radiation(sw_in + 1, sw_out, lw_in + 1, lw_out) == pytest.approx(net + 2)
    assert radiation.net_radiation(sw_in, sw_out + 1, lw_in, lw_out + 1) == pytest.approx(net - 2)
    assert radiation.net_radiation(sw_out, sw_in, lw_out, lw_in) == pytest.approx(-net, abs=1e-9)


@given(
    net=st.floats(-200.0, 900.0),
    albedo=st.floats(0.0, 1.0),
    sw_in=flux,
    lw_in=long,
    emissivity=st.floats(0.8, 1.0),
    response=st.floats(0.0, 0.3),
)
def test_under_the_sky_as_it_was_net_stays(net, albedo, sw_in, lw_in, *, emissivity, response):
    assert float(common_sky(net, albedo, sw_in, lw_in, sw_in, lw_in, emissivity, response)) == pytest.approx(
        net, abs=1e-9
    )


@given(
    a=st.floats(0.0, 0.9),
    sw_in=st.floats(200.0, 1000.0),
    change=st.floats(-0.24, 0.24),
    lw_in=long,
    lw_out=long,
    lw_ref=long,
    emissivity=st.floats(0.8, 1.0),
    response=st.floats(0.0, 0.3),
)
def test_common_sky_is_the_balance_of_the_four_fluxes_under_it(
    a, sw_in, change, *, lw_in, lw_out, lw_ref, emissivity, response
):
    sw_ref = sw_in * (1.0 + change)
    net = radiation.net_radiation(sw_in, a * sw_in, lw_in, lw_out)
    # the four fluxes under the other sky: more sun is absorbed, of which a part is emitted again, and of
    # another longwave a part is reflected
    warmer = response * (1 - a) * (sw_ref - sw_in)
    reflected = (1 - emissivity) * (lw_ref - lw_in)
    expected = sw_ref - a * sw_ref + lw_ref - (lw_out + reflected + warmer)
    assert float(common_sky(net, a, sw_in, lw_in, sw_ref, lw_ref, emissivity, response)) == pytest.approx(
        expected, abs=1e-8
    )


@pytest.mark.parametrize(
    "sw_ref, known", [(1000.0, True), (600.0, True), (1000.1, False), (599.9, False), (800.0, True)]
)
def test_beyond_a_quarter_there_is_no_common_sky(sw_ref, known):
    assert np.isfinite(common_sky(500.0, 0.2, 800.0, 330.0, sw_ref, 330.0, 0.97, 0.06)) == known


def test_by_night_a_quarter_of_50_is_allowed_and_the_albedo_not_needed():
    assert common_sky(-60.0, np.nan, 0.0, 300.0, 2.0, 310.0, 0.97, 0.06) == pytest.approx(-60.0 + 9.7)
    assert np.isnan(common_sky(-60.0, np.nan, 0.0, 300.0, 12.6, 310.0, 0.97, 0.06))
