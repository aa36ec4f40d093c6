"""Body thermometers: points of the standard, data sheets in three forms, round trips."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.physics import thermometers
from headland.physics.thermometers import read_thermometer


@given(st.floats(-200.0, 850.0))
def test_pt100_there_and_back(celsius):
    assert float(
        thermometers.platinum_temperature(thermometers.platinum_resistance(celsius))
    ) == pytest.approx(celsius, abs=1e-6)


# IEC 60751:2008, table 1 (from memory): half the last printed digit
@pytest.mark.parametrize(
    "celsius, ohm",
    [(-200.0, 18.52), (-100.0, 60.26), (0.0, 100.00), (100.0, 138.51), (200.0, 175.86), (850.0, 390.48)],
)
def test_pt100_at_points_of_the_standard(celsius, ohm):
    assert float(thermometers.platinum_resistance(celsius)) == pytest.approx(ohm, abs=0.005)


@pytest.mark.parametrize("ohm", [0.0, -5.0, 18.0, 391.0, 1e6, np.nan])
def test_a_resistance_that_no_pt100_has_is_no_temperature(ohm):
    assert np.isnan(thermometers.platinum_temperature(ohm))


def test_body_temperature_in_each_unit_is_the_same():
    assert float(thermometers.body_celsius(25.0, "degC")) == 25.0
    assert float(thermometers.body_celsius(298.15, "K")) == pytest.approx(25.0)
    assert float(thermometers.body_celsius(thermometers.platinum_resistance(25.0), "ohm")) == pytest.approx(
        25.0, abs=1e-9
    )
    with pytest.raises(ValueError):
        thermometers.body_celsius(77.0, "degF")


# IEC 60751:2008, table 1 (from memory): a Pt1000 has ten times the resistance of a Pt100
@pytest.mark.parametrize("celsius, ohm", [(0.0, 1000.0), (-50.0, 803.06), (25.0, 1097.35), (100.0, 1385.1)])
def test_pt1000_at_points_of_the_standard(celsius, ohm):
    for unit, value in (("ohm", ohm), ("kohm", ohm / 1000.0)):
        assert float(thermometers.body_celsius(value, unit, "pt1000")) == pytest.approx(celsius, abs=0.02)


POINTS = [(0.0, 32650.0), (25.0, 10000.0), (50.0, 3603.0)]
"""A common curve of 10 kohm thermistors, rounded as data sheets print it (from memory)."""


@pytest.mark.parametrize("celsius, ohm", POINTS)
@pytest.mark.parametrize(
    "written, within",
    [
        ("steinhart-hart 1.1292411e-3 2.341077e-4 8.775468e-8", 0.02),  # of the same curve (from memory)
        ("table 0 32650; 25 10000; 50 3603", 1e-9),
        ("beta 10000 3892", 0.8),  # one B holds within a kelvin over 50 K
    ],
)
def test_a_thermistor_in_each_of_its_forms(written, within, celsius, ohm):
    assert float(thermometers.body_celsius(ohm, "ohm", written)) == pytest.approx(celsius, abs=within)
    assert float(thermometers.body_celsius(ohm / 1000.0, "kohm", written)) == pytest.approx(
        celsius, abs=within
    )


@given(st.floats(-40.0, 60.0), st.floats(2000.0, 5000.0), st.floats(100.0, 1e5))
def test_a_thermistor_of_constant_b_there_and_back(celsius, b, r25):
    kelvin = celsius + 273.15
    ohm = r25 * math.exp(b * (1.0 / kelvin - 1.0 / 298.15))
    assert float(thermometers.beta_temperature(ohm, r25, b)) == pytest.approx(celsius, abs=1e-6)
    # a table of such a thermistor is exact between its pairs
    ends = [r25 * math.exp(b * (1.0 / (t + 273.15) - 1.0 / 298.15)) for t in (-41.0, 61.0)]
    assert float(thermometers.table_temperature(ohm, (-41.0, 61.0), ends)) == pytest.approx(celsius, abs=1e-6)


@pytest.mark.parametrize("ohm", [0.0, -5.0, np.nan, np.inf])
@pytest.mark.parametrize("written", ["beta 10000 3950", "table 0 32650; 50 3603", "pt1000"])
def test_what_is_no_resistance_is_no_temperature(written, ohm):
    assert np.isnan(thermometers.body_celsius(ohm, "ohm", written))


def test_outside_a_table_there_is_no_temperature():
    assert np.isnan(thermometers.body_celsius([32651.0, 3602.0], "ohm", "table 0 32650; 50 3603")).all()
    rising = thermometers.body_celsius([99.0, 105.0, 111.0], "ohm", "table 0 100; 25 110")
    assert np.isnan(rising[[0, 2]]).all() and rising[1] == pytest.approx(12.5)


@pytest.mark.parametrize(
    "written, problem",
    [
        ("ntc", "kind is unknown"),
        ("pt100 5", "kind is unknown"),
        ("beta 10000", "two numbers"),
        ("beta 3950 10000", "R25 must be over 0"),
        ("beta ten 3950", "must be numbers"),
        ("beta nan 3950", "must be numbers"),
        ("steinhart-hart 1e-3 2e-4", "three numbers"),
        ("steinhart-hart 1.0 2.0 3.0", "natural logarithm"),
        ("table 0 32650", "two pairs"),
        ("table 0 32650; 25", "two pairs"),
        ("table 25 10000; 0 32650", "rising temperatures"),
        ("table 0 100; 10 90; 20 95", "all rise or all fall"),
    ],
)
def test_what_is_no_thermometer_says_why(written, problem):
    with pytest.raises(ValueError, match=problem):
        read_thermometer(written)
