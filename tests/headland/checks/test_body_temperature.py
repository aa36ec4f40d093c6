"""The body temperature: its unit, its thermometer, and a resistance stored as a temperature."""

import dataclasses
import math

import numpy as np
import pytest

from headland.checks import instruments, longwave_states
from study.made import found, record

T = np.arange(0.0, 7200.0, 5.0)
AIR = 16.0 + 4.0 * T / 7200.0
"""degC: a morning that warms by 4 K."""
SUN = 700.0 + 100.0 * np.sin(2.0 * np.pi * T / 3000.0)


def body(lag: float = 120.0) -> np.ndarray:
    """A body that follows the air, 5 K above it in the sun."""
    aim, now = AIR + 5.0 * SUN / 800.0, AIR[0] + 5.0
    course = np.empty(len(T))
    for k, target in enumerate(aim):
        now += (target - now) * 5.0 / lag
        course[k] = now
    return course


def thermistor(celsius):
    """kohm of a 10 kohm thermistor with B = 3950 K."""
    return 10.0 * np.exp(3950.0 * (1.0 / (np.asarray(celsius) + 273.15) - 1.0 / 298.15))


def said(logged, air=AIR):
    made = record(7200, interval=5.0, sw_in=SUN, sw_out=SUN / 5.0, body=logged, air=float(np.median(air)))
    return found(instruments.diagnosed(dataclasses.replace(made, air_course=air)))


def test_a_body_that_follows_air_and_sun_is_silent():
    assert said(body()) == []


def test_a_resistance_stored_as_degrees_runs_against_the_air():
    assert ("body-temperature-unit", "against-air", "body_temperature") in said(thermistor(body()))


def test_a_body_that_cools_out_of_a_car_while_the_air_warms_is_no_resistance():
    assert "against-air" not in {v for _, v, _ in said(body() + 12.0 * np.exp(-T / 900.0))}


def test_a_sun_that_goes_behind_clouds_while_the_air_warms_is_no_resistance():
    sun = np.where(T < 2400.0, 800.0, np.where(T < 4800, 400.0, 100.0))
    warmth = AIR + 8.0 * np.convolve(sun, np.ones(120) / 120, "same") / 800.0
    made = record(7200, interval=5.0, sw_in=sun, sw_out=sun / 5.0, body=warmth, air=18.0, lw_in=-40.0)
    assert "against-air" not in {
        v for _, v, _ in found(instruments.diagnosed(dataclasses.replace(made, air_course=AIR)))
    }


@pytest.mark.parametrize(
    "logged, declared, thermometer, verdict, fits",
    [
        (108.6, "ohm", "", "sound", []),
        (1.086, "ohm", "", "wrong", ["kohm pt1000"]),
        (1086.0, "ohm", "pt100", "wrong", ["ohm pt1000"]),
        (1.086, "kohm", "pt1000", "sound", []),
        (1086.0, "degC", "", "wrong", ["ohm pt1000"]),
        (11.4, "ohm", "", "resistance", []),  # a thermistor in kohm, of which nothing is said
        (11400.0, "ohm", "", "resistance", []),
        (11.4, "ohm", "beta 10000 3950", "wrong", ["kohm"]),
        (11400.0, "kohm", "beta 10000 3950", "wrong", ["ohm"]),
        (11.4, "kohm", "beta 10000 3950", "sound", []),
    ],
)
def test_unit_and_thermometer_of_a_resistance(logged, declared, thermometer, verdict, fits):
    """22 degC: 108.6 ohm of a Pt100, 11.4 kohm of a 10 kohm thermistor; the air has 18 degC."""
    assert math.isclose(thermistor(22.0), 11.4, abs_tol=0.1)
    assert longwave_states.body_unit(logged, declared, 18.0, thermometer) == (verdict, fits)
