"""Questions about the energy balance: their numbers by hand."""

import numpy as np
import pandas as pd
import pytest

from headland.course.exercises_of_balance import of_balance, of_visits

SURFACES = pd.DataFrame(
    [
        {
            "surface": "stubble",
            "net_radiation": 430.0,
            "ground_heat": 50.0,
            "bowen_ratio": 1.9,
        }
    ]
)
VISIT = {
    "surface": "stubble",
    "net_radiation_station": 500.0,
    "air_temperature": 25.0,
    "relative_humidity": 50.0,
    "wind_speed": 2.0,
    "pressure": 1000.0,
    "surface_temperature": 33.0,
    "evaporation": 0.2,
    "reference_evapotranspiration": 0.5,
}


def parts(questions) -> dict[str, float]:
    return {part.name: part.value for one in questions for part in one.parts}


def called(name: str) -> str:
    return name.replace("_", " ")


def test_latent_heat_by_a_bowen_ratio_and_its_slips():
    found = parts(of_balance(SURFACES, called))
    assert found["latent heat"] == pytest.approx((430.0 - 50.0) / 2.9)
    assert found["without minus G"] == pytest.approx(430.0 / 2.9)
    assert found["upside down"] == pytest.approx(380.0 - 380.0 / 2.9)  # the sensible heat


def test_evapotranspiration_of_an_hour_and_its_slips():
    """FAO-56 eq. 53 with the standard's 0.24, written out."""
    found = parts(of_visits(pd.DataFrame([VISIT]), called))
    saturated = 0.6108 * np.exp(17.27 * 25.0 / 262.3)
    slope, deficit = 4098.0 * saturated / 262.3**2, 0.5 * saturated

    def by_hand(gamma: float, numerator: float, denominator: float) -> float:
        energy = 0.408 * slope * 0.9 * 500.0 * 0.0036
        wind = gamma * numerator / 298.0 * 2.0 * deficit
        return (energy + wind) / (slope + gamma * (1.0 + denominator * 2.0))

    assert found["evapotranspiration"] == pytest.approx(by_hand(0.0665, 37.0, 0.24))
    assert found["constants of a day"] == pytest.approx(by_hand(0.0665, 900.0, 0.34))
    assert found["hPa as kPa"] == pytest.approx(by_hand(0.665, 37.0, 0.24))


def test_sensible_heat_by_the_wind_and_its_slip():
    found = parts(of_visits(pd.DataFrame([VISIT]), called))
    density = 100.0 / (0.287 * 1.01 * 298.0)
    assert found["sensible heat"] == pytest.approx(density * 1013.0 * 8.0 / 104.0)
    assert found["70 s m⁻¹"] == pytest.approx(density * 1013.0 * 8.0 / 70.0)


def test_what_is_not_known_is_not_asked():
    assert not list(of_balance(SURFACES.assign(bowen_ratio=np.nan), called))
    assert not list(of_visits(None, called))
    bare = pd.DataFrame([{**VISIT, "wind_speed": np.nan, "reference_evapotranspiration": np.nan}])
    assert not list(of_visits(bare, called))
