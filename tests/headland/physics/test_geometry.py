"""Views, shadows and tilt against integrals and vectors worked out here."""

import numpy as np
import pytest
from scipy.integrate import dblquad

from headland.physics import geometry
from headland.physics.geometry import Carrier

PERSON = Carrier(reach=0.6, height=1.75, width=0.45)


def ground_view(x0, x1, y0, y1, height):
    """What a level head sees of a rectangle on the ground: the integral of h^2 / (pi r^4)."""
    return dblquad(lambda y, x: height**2 / np.pi / (x * x + y * y + height**2) ** 2, x0, x1, y0, y1)[0]


def upright_view(z0, z1, y0, y1, distance):
    """What a level head sees of an upright rectangle at a distance: the integral of z d / (pi r^4)."""
    return dblquad(lambda y, z: z * distance / np.pi / (z * z + y * y + distance**2) ** 2, z0, z1, y0, y1)[0]


@pytest.mark.parametrize(
    "box", [(0.2, 1.7, -0.4, 0.9), (-2.0, -0.5, -3.0, -1.0), (-1.0, 1.0, -1.0, 1.0), (3.0, 3.5, 0.0, 8.0)]
)
def test_a_rectangle_on_the_ground_fills_what_the_integral_says(box):
    x0, x1, y0, y1 = box
    corners = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    expected = ground_view(*box, 1.3)
    assert geometry.polygon_view(corners, 1.3) == pytest.approx(expected, rel=1e-9)
    assert geometry.polygon_view(corners[::-1], 1.3) == pytest.approx(expected, rel=1e-9)


def test_parts_of_a_polygon_add_up_to_the_whole_ground():
    far = 1e6
    triangles = [[[0, 0], [far, -far], [far, far]], [[0, 0], [far, far], [-far, far]]]
    triangles += [[[0, 0], [-far, far], [-far, -far]], [[0, 0], [-far, -far], [far, -far]]]
    assert np.sum(geometry.polygon_view(triangles, 1.5)) == pytest.approx(1.0, abs=1e-5)


def test_a_long_strip_is_the_limit_of_a_rectangle():
    far = 1e5
    for half in (0.3, 1.5, 4.0):
        strip = geometry.polygon_view([[-far, -half], [far, -half], [far, half], [-far, half]], 1.5)
        assert geometry.view_within_strip(half, 1.5) == pytest.approx(float(strip), abs=1e-6)


@pytest.mark.parametrize("height, width, distance", [(1.0, 2.0, 0.5), (0.4, 0.2, 0.6), (3.0, 1.0, 4.0)])
def test_an_upright_rectangle_fills_what_the_integral_says(height, width, distance):
    expected = upright_view(0.0, height, 0.0, width, distance)
    got = geometry.perpendicular_rectangle_view(height, width, distance)
    assert got == pytest.approx(expected, rel=1e-8)


def test_the_carrier_counts_on_both_sides_and_below_the_head_only():
    expected = upright_view(0.0, 1.5, -0.225, 0.225, 0.6)
    assert geometry.carrier_view(1.5, PERSON) == pytest.approx(expected, rel=1e-8)
    taller = Carrier(PERSON.reach, 3.0, PERSON.width)
    assert geometry.carrier_view(1.5, taller) == geometry.carrier_view(1.5, PERSON)
    lower = geometry.carrier_view(1.5, Carrier(PERSON.reach, 1.0, PERSON.width))
    assert 0.0 < lower < geometry.carrier_view(1.5, PERSON)
    for nobody in (Carrier(0.0, 1.75, 0.45), Carrier(0.6, 1.75, 0.0)):
        assert geometry.carrier_view(1.5, nobody) == 0.0


def test_the_carrier_of_the_settings():
    carrying = {"reach": 0.7, "carrier_height": 1.8, "carrier_width": 0.5, "sensor_height": 1.4}
    assert geometry.carrier_of(carrying) == Carrier(0.7, 1.8, 0.5)


@pytest.mark.parametrize(
    "phi, tip",
    [(0.0, (-2.35, 0.0)), (180.0, (1.15, 0.0)), (90.0, (-0.6, -1.75)), (-90.0, (-0.6, 1.75))],
)
def test_the_shadow_points_away_from_the_sun(phi, tip):
    """With the sun at 45 degrees it is as long as the carrier is tall. x ahead, y to the right."""
    corners = geometry.shadow_corners(phi, 45.0, PERSON)
    assert corners[:2].mean(axis=0) == pytest.approx((-0.6, 0.0), abs=1e-12)
    assert corners[2:].mean(axis=0) == pytest.approx(tip, abs=1e-12)
    assert np.linalg.norm(corners[0] - corners[1]) == pytest.approx(0.45)
    assert np.linalg.norm(corners[2] - corners[3]) == pytest.approx(0.45)


def test_a_long_shadow_is_cut_off_where_it_fills_nothing():
    def length(elevation):
        corners = geometry.shadow_corners(0.0, elevation, PERSON)
        return np.linalg.norm(corners[2:].mean(axis=0) - corners[:2].mean(axis=0))

    assert length(2.0) == pytest.approx(1.75 / np.tan(np.radians(2.0)))
    assert length(0.5) == pytest.approx(100.0)


def test_the_shadow_under_the_head_fills_what_the_integral_says():
    """Sun from behind at 40 degrees: the shadow reaches from the carrier past the point below the head."""
    reach = 1.75 / np.tan(np.radians(40.0))
    expected = ground_view(-0.6, -0.6 + reach, -0.225, 0.225, 1.5)
    assert geometry.shadow_view(180.0, 40.0, 1.5, PERSON) == pytest.approx(expected, rel=1e-8)


def test_there_is_no_shadow_with_the_sun_down():
    assert geometry.shadow_view([180.0, 180.0], [-3.0, 0.05], 1.5, PERSON) == pytest.approx([0.0, 0.0])
    assert geometry.shadow_view(180.0, 0.2, 1.5, PERSON) > 0.05


def test_the_beam_on_a_tilted_head_is_the_product_of_the_two_directions():
    rng = np.random.default_rng(4)
    for _ in range(20):
        tilt, zenith, towards, azimuth = rng.uniform([0, 0, 0, 0], [10, 80, 360, 360])
        sun = np.array([np.sin(np.radians(zenith)) * np.cos(np.radians(azimuth)),
                        np.sin(np.radians(zenith)) * np.sin(np.radians(azimuth)),
                        np.cos(np.radians(zenith))])  # fmt: skip
        head = np.array([np.sin(np.radians(tilt)) * np.cos(np.radians(towards)),
                         np.sin(np.radians(tilt)) * np.sin(np.radians(towards)),
                         np.cos(np.radians(tilt))])  # fmt: skip
        expected = sun @ head / sun[2] - 1.0
        assert geometry.tilt_effect(tilt, zenith, azimuth - towards) == pytest.approx(expected, abs=1e-12)
