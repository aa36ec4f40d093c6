"""A swinging head is named; the edges of clouds, a logger's noise and its step are not."""

import numpy as np
import pytest

from headland.checks.field_conditions import undone
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
    """0.5 W m-2 behind a slow head would be a swing of 0.3 to 0.5 degrees, were it one."""
    scatter = noise * np.random.default_rng(3).standard_normal(900)
    assert not swing_named(diagnosed(sw_in=420.0 + scatter, sw_out=84.0, response=response, elevation=24.0))
    assert not swing_named(diagnosed(sw_in=780.0 + scatter, response=response))


def test_the_step_of_a_logger_is_no_swing():
    assert not swing_named(diagnosed(sw_in=780.0 + 0.01 * T, step=1.0, response=18.0))


def test_clouds_are_no_swing():
    """Gaps of 200 s whose edges take 30 s, and a sky that flickers by 1 % in 6 s: SW_out shows it, too."""
    gaps = 0.5 + 0.5 * np.tanh(12.0 * np.sin(2.0 * np.pi * T / 400.0))
    sky = (200.0 + 580.0 * gaps) * (1.0 + 0.01 * np.sin(2.0 * np.pi * T / 6.0))
    assert not swing_named(diagnosed(sw_in=sky, sw_out=0.2 * sky, lw_in=-60.0, response=12.0))
    assert swing_named(diagnosed(sw_in=sky, sw_out=40.0 + 116.0 * gaps, lw_in=-60.0, response=12.0))


def test_under_clouds_no_swing_can_be_seen():
    said = diagnosed(sw_in=200.0, sw_out=40.0, lw_in=-20.0)
    assert not swing_named(said) and ("swing-strong", "no-beam") in unmade(said)


@pytest.mark.parametrize("degrees, expected", [(1.5, False), (1.75, True), (15.0, True)])
def test_a_swing_is_named_by_its_size(degrees, expected):
    """The limit is 1.3 degrees (rms), which a steady swing of an amplitude of 1.65 degrees reads."""
    assert swing_named(diagnosed(sw_in=swung(degrees), response=0.1)) == expected


def test_a_swing_behind_a_slow_head_is_named():
    assert swing_named(diagnosed(sw_in=swung(15.0, tau=4.0), response=12.0))
    assert not swing_named(diagnosed(sw_in=swung(1.5, tau=4.0), response=12.0))


def test_a_noise_that_would_hide_a_swing_is_told():
    noise = 3.0 * np.random.default_rng(3).standard_normal((2, 900))
    said = diagnosed(sw_in=780.0 + noise[0], sw_out=160.0 + noise[1], response=18.0)
    assert not swing_named(said) and ("swing-strong", "noisy-record") in unmade(said)


def test_means_of_two_seconds_may_hide_a_swing():
    said = diagnosed(interval=2.0)
    assert not swing_named(said) and ("swing-strong", "records-apart") in unmade(said)


def test_a_response_is_undone():
    exposed = np.where(np.arange(40) < 20, 300.0, 800.0)
    given, kept = [300.0], np.exp(-np.log(20.0) / 9.0)
    for value in exposed[1:]:
        given.append(value + kept * (given[-1] - value))
    assert undone(np.array([given]), 1.0, 9.0)[0] == pytest.approx(exposed[1:])
    assert undone(np.array([given]), 1.0, np.nan)[0] == pytest.approx(given[1:])
