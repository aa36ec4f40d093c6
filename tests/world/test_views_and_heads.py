"""Views of the ground and the person, and the errors of heads."""

from dataclasses import replace

import numpy as np
import pytest

from world.carrying import Obstacle, normal_of, swing
from world.fields import PATCHES, beyond, draw_field, view_points
from world.heads import CHANNELS, LIMITS, body_course, draw_body, draw_head
from world.people import draw_carrier


def test_view_points_have_the_views_of_discs():
    right, forward = view_points(4000)
    radius = np.hypot(right, forward)
    for wanted in (0.5, 1.0, 3.0):
        assert (radius < wanted).mean() == pytest.approx(wanted**2 / (1 + wanted**2), abs=0.002)
    assert abs(right.mean()) < 0.5


@pytest.mark.parametrize("surface", ["short_grass", "paving", "snow"])
def test_views_add_to_one(surface):
    for seed in range(5):
        field = draw_field(seed, 0, "plot", surface)
        x = np.linspace(-0.7, 0.7, 80) * field.length
        y = np.linspace(-0.9, 0.9, 80) * field.width
        seen = field.seen(x, y, 1.5)
        assert seen.min() >= 0.0
        assert np.allclose(seen.sum(axis=0), 1.0, atol=1e-9)
        assert field.mean_parts.sum() == pytest.approx(1.0)


def test_edges_enter_the_view_as_they_should():
    assert beyond(np.array([0.0]), 1.5)[0] == pytest.approx(0.5)
    assert beyond(np.array([1e6]), 1.5)[0] == pytest.approx(0.0, abs=1e-9)
    assert beyond(np.array([-1e6]), 1.5)[0] == pytest.approx(1.0)
    # Half a plane beyond a distance equal to the height: (1 - 1/sqrt 2) / 2.
    assert beyond(np.array([1.5]), 1.5)[0] == pytest.approx(0.1464, abs=1e-4)


def test_mean_view_over_the_middle_is_the_fields_mean():
    field = replace(draw_field(2, 0, "plot", "short_grass"), width=200.0, length=200.0, gradient=0.0)
    field.measure_means()
    x, y = (part.ravel() for part in np.meshgrid(np.linspace(-64, 64, 41), np.linspace(-64, 64, 41)))
    seen = field.seen(x, y, 1.5)[:3]
    assert np.allclose(seen.mean(axis=1) / seen.sum(axis=0).mean(), field.mean_parts, atol=0.03)


def test_patches_have_the_sizes_asked_for():
    field = draw_field(3, 0, "plot", "short_grass")
    power = np.abs(np.fft.fft2(field.second)) ** 2
    k = np.hypot(*np.meshgrid(np.fft.fftfreq(256, 0.25), np.fft.fftfreq(256, 0.25)))
    inside = (k > 0.5 / PATCHES[1]) & (k < 0.5 / PATCHES[0])
    assert power[inside].sum() / power.sum() > 0.999


def test_the_person_hides_little_and_shades_only_with_the_sun_behind():
    for seed in range(10):
        carrier = draw_carrier(seed, "one")
        obstacle = Obstacle(carrier)
        assert 0.005 < obstacle.lower_share < 0.09
        assert 0.0 <= obstacle.upper_share < 0.03
        facing, behind = np.array([180.0]), np.array([0.0])
        assert obstacle.shadow_share(facing, np.array([40.0]))[0] == pytest.approx(0.0, abs=0.01)
        assert obstacle.shadow_share(behind, np.array([40.0]))[0] > 0.02
        assert obstacle.shades_beam(facing, np.array([5.0]))[0] == 0.0
        assert obstacle.shades_beam(behind, np.array([60.0]))[0] == 0.0


def test_low_sun_behind_shades_the_upper_head():
    carrier = replace(draw_carrier(1, "one"), head_height=1.4, height=1.8, reach=1.2)
    obstacle = Obstacle(carrier)
    assert obstacle.shades_beam(np.array([0.0]), np.array([8.0]))[0] == 1.0


def test_swing_lies_in_its_band_and_has_its_size():
    carrier = replace(draw_carrier(1, "one"), swing=2.0)
    times = np.arange(0.0, 2000.0, 0.2)
    tilt = swing(1, "one", carrier=carrier, times=times, moving=np.ones(len(times), bool))
    rms = np.sqrt((tilt**2).sum(axis=0).mean())
    assert 1.2 < rms < 3.2
    power = np.abs(np.fft.rfft(tilt[0])) ** 2
    frequency = np.fft.rfftfreq(len(times), 0.2)
    inside = (frequency > 0.25) & (frequency < 2.1)
    assert power[inside].sum() / power.sum() > 0.9


def test_axis_leans_where_the_person_looks():
    axis = normal_of(np.array([[5.0], [0.0]]), np.array([90.0]))
    assert axis[0, 0] == pytest.approx(np.sin(np.radians(5.0)))
    axis = normal_of(np.array([[0.0], [5.0]]), np.array([90.0]))
    assert axis[1, 0] == pytest.approx(-np.sin(np.radians(5.0)))


@pytest.mark.parametrize("grade", LIMITS)
def test_heads_keep_to_their_class(grade):
    limits = LIMITS[grade]
    deviations = []
    for seed in range(150):
        for channel in CHANNELS:
            head = draw_head(seed, "one", channel, grade)
            deviations.append((head.certified / head.sensitivity - 1.0) / (head.expanded / 200.0))
            if channel == "sw_in":
                assert np.abs(head.directional).max() <= limits.directional + 1e-9
                assert np.allclose(head.directional[0], head.directional[0, 0])
            if channel.startswith("sw"):
                assert 0.0 < head.zero_a * 200.0 <= limits.zero_a
                assert abs(head.zero_b * 5.0) <= limits.zero_b
                level = np.linspace(-0.8, 1.0, 50)
                curve = head.linearity[0] * level + head.linearity[1] * (level**2 - 1.0) * 0.5
                assert np.abs(curve).max() <= limits.linearity / 100.0 + 1e-9
            warmer = np.linspace(-1.0, 20.0 / 30.0, 30)
            curve = head.temperature[0] * warmer + head.temperature[1] * warmer**2
            assert np.abs(curve).max() <= limits.temperature / 100.0 + 1e-9
    # Certificates are right: their k = 2 uncertainty holds the truth in 95 of 100 heads.
    assert 0.93 < np.mean(np.abs(deviations) < 2.0) < 0.97


def test_directional_errors_have_another_shape_in_each_head():
    one = draw_head(1, "one", "sw_in", "B").directional.ravel()
    two = draw_head(2, "one", "sw_in", "B").directional.ravel()
    assert abs(np.corrcoef(one, two)[0, 1]) < 0.95


def test_response_is_not_one_exponential_and_settles():
    head = draw_head(1, "one", "sw_in", "B")
    step = np.concatenate([np.zeros(1), np.ones(5000)])
    out = head.slow(step, 0.2)
    assert out[-1] == pytest.approx(1.0, abs=1e-3)
    rate = -np.gradient(np.log(np.maximum(1.0 - out[1:2000], 1e-12)), 0.2)
    assert rate[3] > 2.0 * rate[500]


def test_body_is_some_kelvin_over_the_air_in_sun_and_less_in_wind():
    for seed in range(40):
        body = draw_body(seed, "one", "B")
        n = 8000
        calm = body_course(
            body, air=np.full(n, 20.0), wind=np.full(n, 2.0), light=np.full(n, 900.0), net=np.zeros(n)
        )
        windy = body_course(
            body, air=np.full(n, 20.0), wind=np.full(n, 7.0), light=np.full(n, 900.0), net=np.zeros(n)
        )
        assert 1.9 < calm[-1] - 20.0 < 7.1
        assert windy[-1] < calm[-1]
        assert 100.0 <= body.constant <= 900.0
