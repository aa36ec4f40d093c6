"""Surface temperature from longwave radiation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.physics import longwave
from headland.physics.constants import SIGMA, ZERO_CELSIUS


# L_out 450, L_in 350 W m-2 (anchors; half the last digit)
@pytest.mark.parametrize(
    "emissivity, celsius", [(1.0, 25.320), (0.98, 25.657), (0.95, 26.189), (0.92, 26.751)]
)
def test_surface_temperature(emissivity, celsius):
    assert float(longwave.surface_temperature(450.0, 350.0, emissivity)) - ZERO_CELSIUS == pytest.approx(
        celsius, abs=5e-4
    )


@given(st.floats(230.0, 340.0), st.floats(100.0, 500.0), st.floats(0.8, 1.0))
def test_forward_then_inverse_returns_the_surface(kelvin, lw_in, emissivity):
    lw_out = emissivity * SIGMA * kelvin**4 + (1.0 - emissivity) * lw_in
    assert float(longwave.surface_temperature(lw_out, lw_in, emissivity)) == pytest.approx(kelvin, rel=1e-9)
    assert longwave.emitted(lw_out, lw_in, emissivity) * emissivity + (
        1.0 - emissivity
    ) * lw_in == pytest.approx(lw_out, rel=1e-9)


@given(st.floats(200.0, 600.0), st.floats(0.8, 1.0))
def test_under_a_sky_as_warm_as_the_surface_the_emissivity_does_not_matter(flux_, emissivity):
    assert longwave.surface_temperature(flux_, flux_, emissivity) == pytest.approx((flux_ / SIGMA) ** 0.25)


def test_nothing_left_to_emit_is_no_temperature():
    assert np.isnan(longwave.surface_temperature(0.0, 300.0, 0.9))
