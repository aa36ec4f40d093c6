"""What a weather station would say at a visit."""

import numpy as np
import pandas as pd
import pytest

from headland.chain import weather_station
from headland.physics import reference_evaporation as station

NOON = pd.Timestamp("2015-10-01T14:00:00Z")
AIR = {"air_temperature": 38.0, "relative_humidity": 52.0, "wind_speed": 3.3, "pressure": 1012.0}
SITE = {"latitude": 16.2167, "longitude": -16.25, "elevation": 8.0}


def made(**changes):
    """The hour of FAO-56's example 19, 14 to 15 h, as one visit over a surface."""
    row = {
        "segment": "a",
        "surface": "paving",
        "field": "yard",
        "start_utc": NOON,
        "end_utc": NOON + pd.Timedelta(hours=1),
        "sw_in": 2.450 / weather_station.AN_HOUR,
        "sw_out": 0.23 * 2.450 / weather_station.AN_HOUR,
        "net_radiation": 1.749 / weather_station.AN_HOUR,
        "solar_elevation": 50.0,
        **changes,
    }
    angle = station.hour_angle(274, 14.5, longitude=-16.25, meridian=-15.0)
    visits = pd.DataFrame(
        {"segment": ["a"], "after_noon": angle * 12.0 / np.pi, "pressure": 1012.0, "evaporation": 0.3}
    )
    settings = {
        "site": SITE,
        "weather": {**AIR, **changes.get("weather", {})},
        "measured": {"wind_height": changes.get("wind_height", 2.0)},
    }
    air = row.pop("table", pd.DataFrame({"time_utc": []}))
    return weather_station.beside(pd.DataFrame([row]), visits, air, settings).iloc[0]


def test_the_hour_of_the_printed_example():
    """Example 19: Rn 1.749 MJ m-2 h-1 (0.5 %: the example rounds); the standardized form has C_d 0.24, not
    0.34.
    """
    row = made()
    assert row["net_radiation_station"] * weather_station.AN_HOUR == pytest.approx(1.749, rel=5e-3)
    hourly = station.penman_monteith(
        0.9 * 1.749, 38.0, wind=3.3, deficit=3.180, pressure=101.2, crop=station.SHORT_HOUR_DAY
    )
    assert row["reference_evapotranspiration"] == pytest.approx(hourly, rel=5e-3)


def test_the_parts_add_up_to_the_gap_and_the_larger_one_is_named():
    row = made(sw_out=30.0, net_radiation=560.0)
    gap = row["net_radiation"] - row["net_radiation_station"]
    assert row["gap_shortwave"] + row["gap_longwave"] == pytest.approx(gap)
    assert row["gap_shortwave"] == pytest.approx(0.23 * row_sw_in() - 30.0)
    assert "darker" in row["because"]
    assert "brighter" in made(sw_out=300.0, net_radiation=340.0)["because"]
    assert "more longwave" in made(net_radiation=300.0)["because"]


def row_sw_in():
    return 2.450 / weather_station.AN_HOUR


def test_without_humidity_there_is_nothing_and_without_wind_no_evaporation():
    row = made(weather={"relative_humidity": np.nan})
    assert np.isnan(row["net_radiation_station"]) and "humidity" in row["because"]
    row = made(weather={"wind_speed": np.nan})
    assert np.isfinite(row["net_radiation_station"]) and np.isnan(row["reference_evapotranspiration"])


def test_wind_of_another_height_is_brought_to_2_m():
    """FAO-56, example 14: 3.2 m s-1 at 10 m are 2.4 at 2 m."""
    row = made(wind_height=10.0, weather={"wind_speed": 3.2})
    assert row["wind_speed"] == pytest.approx(2.4, abs=0.05)
    low = made(weather={"wind_speed": row["wind_speed"]})
    assert row["reference_evapotranspiration"] == pytest.approx(low["reference_evapotranspiration"])
    assert (
        row["reference_evapotranspiration"]
        < made(weather={"wind_speed": 3.2})["reference_evapotranspiration"]
    )
    assert row["net_radiation_station"] == low["net_radiation_station"]


def test_wind_at_2_m_stays_as_it_is():
    assert made()["wind_speed"] == 3.3 and weather_station.at_2m(np.array([1.0]), 2.0).item() == 1.0
    # eq. 47 is rounded: it has no jump at 2 m
    assert weather_station.at_2m(np.array([1.0]), 2.001).item() == pytest.approx(1.0, abs=5e-4)


def test_the_air_is_that_of_the_middle_of_the_visit():
    end = NOON + pd.Timedelta(hours=1)
    air = pd.DataFrame({"time_utc": [NOON, end], "air_temperature": [10.0, 20.0]})
    assert made(table=air)["air_temperature"] == pytest.approx(15.0)
