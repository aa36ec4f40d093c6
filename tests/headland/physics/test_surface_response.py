"""Albedo and emission with the sun, the sky and the air."""

import pytest

from headland.physics import surface_response as response


# Briegleb et al. 1986, form from memory; numbers worked out apart (half the last digit)
@pytest.mark.parametrize(
    "strength, mu, value",
    [(0.4, 1.0, 0.778), (0.4, 0.8, 0.854), (0.4, 0.5, 1.0), (0.4, 0.25, 1.167),
     (0.1, 1.0, 0.917), (0.1, 0.8, 0.948), (0.1, 0.5, 1.0), (0.1, 0.25, 1.048)],
)  # fmt: skip
def test_albedo_of_the_beam_with_the_height_of_the_sun(strength, mu, value):
    assert response.albedo_of_beam(mu, strength) == pytest.approx(value, abs=5e-4)


def test_diffuse_light_has_the_albedo_of_a_sun_at_30_degrees():
    assert response.albedo_shape(1.0, 0.0, 0.4) == pytest.approx(0.778, abs=5e-4)
    assert response.albedo_shape(1.0, 1.0, 0.4) == 1.0
    assert response.albedo_shape(1.0, 0.25, 0.4) == pytest.approx(0.25 + 0.75 * 0.7778, abs=1e-4)


def test_the_albedo_at_another_time_is_in_the_ratio_of_the_shapes():
    assert response.albedo_at(0.2, 0.8, 1.0) == pytest.approx(0.25)


def test_a_black_surface_at_20_degrees_emits_5_7_more_a_kelvin():
    assert response.emission_slope(293.15, 1.0) == pytest.approx(5.714, abs=5e-4)
    assert response.emission_slope(293.15, 0.95) == pytest.approx(0.95 * 5.714, abs=5e-4)


def test_warming_with_sky_and_air():
    assert response.warming_with_sky(100.0, 20.0, 0.1) == pytest.approx(12.0)
    assert response.warming_with_air(2.0, 5.7, 0.6) == pytest.approx(6.84)
