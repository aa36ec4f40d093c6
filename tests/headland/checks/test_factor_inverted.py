"""A factor in the wrong unit is named under a beam; a heavy overcast is no sign of it."""

import dataclasses

import numpy as np
import pytest

from headland.checks import instruments
from study.made import diagnosed, found, record, unmade

FACTOR = 1000.0 / 66.0
"""W m-2 per mV: of a head of 66 uV per W m-2, and what a factor of 66 becomes where its unit is mistaken."""
TIMES = 66.0 * 66.0 / 1000.0
"""How many times too small the flux then is."""


def between(low, high, seconds=1800):
    """SW_in that changes over minutes between two values, as under moving cloud without edges."""
    wave = 0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(seconds) / 100.0)
    return low * (high / low) ** wave


DRIFT = np.exp(np.linspace(-0.1, 0.1, 1800))
"""What an even layer does within half an hour, at the least."""
OVERCAST = {
    "even and heavy": {"sw_in": 60.0 * DRIFT, "sw_out": 12.0 * DRIFT, "lw_in": -8.0, "lw_out": 2.0},
    "even and high": {"sw_in": 185.0 * DRIFT, "sw_out": 40.0 * DRIFT, "lw_in": -45.0, "lw_out": 5.0},
    "heavy, with structure": {"sw_in": between(90.0, 200.0), "sw_out": between(18.0, 40.0), "lw_in": -15.0},
    "so heavy that lamps are lit": {
        "sw_in": between(28.0, 60.0),
        "sw_out": between(6.0, 12.0),
        "lw_in": -5.0,
    },
}


@pytest.mark.parametrize("name", OVERCAST)
def test_an_overcast_sky_is_no_inverted_factor(name):
    said = diagnosed(seconds=1800, factor=FACTOR, **OVERCAST[name])
    assert "factor-inverted" not in {code for code, _, _ in found(said)}
    assert ("factor-inverted", "no-beam") in unmade(said)


def test_clouds_that_let_the_sun_through_now_and_then_are_no_inverted_longwave_factor():
    """Net longwave of -22 W m-2, as under seven eighths of cumulus, with the sun out for half of the time."""
    sun = np.where(np.arange(900) // 90 % 2, 790.0, 200.0)
    said = diagnosed(factor=FACTOR, sw_in=sun, sw_out=sun / 5.0, lw_in=-22.0)
    assert "factor-inverted" not in {code for code, _, _ in found(said)}


def test_brighter_than_a_clear_sky_beside_a_cloud_is_no_inverted_factor():
    sun = np.where(np.arange(900) // 90 % 2, 1.35, 0.4) * 800.0
    said = diagnosed(factor=40.0, sw_in=sun, sw_out=sun / 5.0, lw_in=-70.0)
    assert "factor-inverted" not in {code for code, _, _ in found(said)}


@pytest.mark.parametrize(
    "sun", [780.0, np.where(np.arange(900) // 90 % 2, 780.0, 200.0)], ids=["clear", "broken"]
)
def test_an_inverted_factor_is_named_under_a_beam(sun):
    said = diagnosed(factor=FACTOR, sw_in=sun / TIMES, sw_out=sun / 5.0 / TIMES, lw_in=-95.0)
    assert ("factor-inverted", "", "sw_in sw_out") in found(said)


def test_a_steady_flux_beyond_any_sky_is_named():
    said = diagnosed(sw_in=780.0 * TIMES, sw_out=160.0 * TIMES, factor=66.0)
    assert ("factor-inverted", "", "sw_in sw_out") in found(said)


def test_inverted_longwave_factors_are_named_under_a_steady_beam():
    said = diagnosed(factor=FACTOR, lw_in=-95.0 / TIMES, lw_out=30.0 / TIMES)
    assert ("factor-inverted", "", "lw_in lw_out") in found(said)


def test_a_register_in_the_wrong_unit_is_named_by_the_course_of_a_clear_half_hour():
    """All factors are inverted, so the clear sky looks as warm as a cloud."""
    said = diagnosed(
        seconds=1800, factor=FACTOR, sw_in=780.0 / TIMES, sw_out=160.0 / TIMES, lw_in=-95.0 / TIMES
    )
    assert ("factor-inverted", "", "sw_in sw_out") in found(said)


@pytest.mark.parametrize(
    "factors, albedo, named",
    [
        # a reflected flux 4.4 times too small: darker than 0.06 is no ground that one walks over
        ((66.0, FACTOR), 0.055, ("", "sw_out")),
        ((66.0, FACTOR), 0.065, ("one-of-two", "sw_in sw_out")),
        # and 4.4 times too large: brighter than 0.92 is no snow
        ((FACTOR, 66.0), 0.94, ("", "sw_out")),
        ((FACTOR, 66.0), 0.90, ("one-of-two", "sw_in sw_out")),
    ],
)
def test_which_of_two_factors_is_inverted_shows_by_an_albedo_that_no_ground_has(factors, albedo, named):
    """Under a clear sky that the upper head fits; the two factors multiply to 1000."""
    made = record(sw_in=780.0, sw_out=780.0 * albedo, lw_in=-95.0)
    rows = made.certificates.assign(factor=[*factors, 66.0, 66.0])
    said = instruments.diagnosed(dataclasses.replace(made, certificates=rows))
    assert [(v, c) for code, v, c in found(said) if code == "factor-inverted"] == [named]
