"""A set fresh out of a warm car is named; a body that warms and cools as the sun comes and goes is not."""

import numpy as np

from study.made import diagnosed, found, unmade

T = np.arange(3600.0)
TAU = 400.0
"""s: time constant of the body."""


def body(sun: np.ndarray, start: float = 0.0, air: float = 20.0) -> np.ndarray:
    """Body temperature that follows the air and 8 K more in full sun (800 W m-2), from `start` K off."""
    warmth, now = np.empty(len(sun)), 8.0 * sun[0] / 800.0 + start
    for k, light in enumerate(sun):
        now += (8.0 * light / 800.0 - now) / TAU
        warmth[k] = now
    return air + warmth


def shocked(said) -> bool:
    return "thermal-shock" in {code for code, _, _ in found(said)}


def test_broken_cloud_is_no_shock():
    sun = np.where(T // 600 % 2, 200.0, 780.0)
    said = diagnosed(seconds=3600, sw_in=sun, sw_out=sun / 5.0, body=body(sun), lw_in=-60.0)
    assert np.abs(np.diff(body(sun)[::300])).max() * 12.0 > 24.0  # K an hour: more than the limit by far
    assert not shocked(said) and not said.flags["thermal-shock"].any()
    assert ("thermal-shock", "changing-sun") in unmade(said)


def test_the_shade_of_a_wood_before_the_first_field_is_no_shock():
    sun = np.where(T < 900, 120.0, 780.0)
    said = diagnosed(seconds=3600, sw_in=sun, sw_out=sun / 5.0, body=body(sun))
    assert not shocked(said)


def test_a_warm_car_under_a_clear_sky_is_named():
    sun = np.full(3600, 780.0)
    said = diagnosed(seconds=3600, sw_in=sun, body=body(sun, 8.0))
    assert shocked(said) and said.flags["thermal-shock"][60:240].all()
    assert not shocked(diagnosed(seconds=3600, sw_in=sun, body=body(sun)))


def test_a_hot_car_under_broken_cloud_is_named():
    sun = np.where(T // 600 % 2, 400.0, 700.0)
    said = diagnosed(seconds=3600, sw_in=sun, sw_out=sun / 5.0, body=body(sun, 20.0), lw_in=-60.0)
    assert shocked(said)
