"""A swinging head is named; the edges of clouds, a logger's noise and its step are not."""

import numpy as np
import pytest

from study.made import diagnosed, found, unmade

T = np.arange(900.0)


def swing_named(said) -> bool:
    return "swing-strong" in {code for code, _, _ in found(said)}


def swung(degrees: float, level: float = 780.0, tau: float = 0.0) -> np.ndarray:
    """SW_in of a head that swings at 0.6 to 0.8 Hz, the sun at 45 degrees, behind a first-order response
    (s)."""
    fine = np.arange(0.0, 900.0, 0.1)
    phase = np.cumsum(2.0 * np.pi * (0.7 + 0.1 * np.sin(2.0 * np.pi * fine / 37.0)) * 0.1)
    value = level * (1.0 + np.radians(degrees) * np.sin(phase))
    if tau:
        share = 1.0 - np.exp(-0.1 / tau)
        now = level
        for k, aim in enumerate(value):
            now += share * (aim - now)
            value[k] = now
    return value[::10]


@pytest.mark.parametrize("noise", [0.3, 0.5])
@pytest.mark.parametrize("response", [12.0, 18.0])
def test_noise_is_no_swing(noise, response):
    """0.5 W m-2 behind a slow head would be a swing of 1 to 2 degrees, were it one."""
    scatter = noise * np.random.default_rng(3).standard_normal(900)
    assert not swing_named(diagnosed(sw_in=420.0 + scatter, sw_out=84.0, response=response, elevation=24.0))
    assert not swing_named(diagnosed(sw_in=780.0 + scatter, response=response))


def test_the_step_of_a_logger_is_no_swing():
    assert not swing_named(diagnosed(sw_in=780.0 + 0.01 * T, step=1.0, response=18.0))


def test_the_edges_of_clouds_are_no_swing():
    """Gaps of 90 s whose edges take 30 s, with wisps of cloud that change the sun by 1 % in 6 s."""
    gaps = 0.5 + 0.5 * np.tanh(6.0 * np.sin(2.0 * np.pi * T / 180.0))
    wisps = 1.0 + 0.01 * np.sin(2.0 * np.pi * T / 6.0)
    said = diagnosed(
        sw_in=200.0 + 580.0 * gaps * wisps, sw_out=40.0 + 116.0 * gaps, lw_in=-60.0, response=12.0
    )
    assert not swing_named(said) and ("swing-strong", "no-beam") in unmade(said)


@pytest.mark.parametrize("degrees, response", [(4.0, 1.5), (15.0, 12.0)])
def test_a_swinging_head_is_named(degrees, response):
    assert swing_named(diagnosed(sw_in=swung(degrees, tau=response / 3.0), response=response))
