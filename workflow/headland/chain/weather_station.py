"""What a weather station would say at each visit, beside what was measured and estimated there.

A station has global radiation, air temperature, humidity and wind, and takes the ground for well-watered
grass that is as warm as the air. What measuring adds is the gap between the two.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.chain import weather
from headland.physics import evaporation, radiation
from headland.physics import reference_evaporation as station

AN_HOUR = 0.0036
"""MJ m-2 h-1 in 1 W m-2."""

LEAST_CLEARNESS = 0.3
"""Rs over Rso is not taken lower (ASCE-EWRI 2005 eq. 45, from memory)."""

WIND_HEIGHT = 2.0
"""m: height of the wind in the form of Penman and Monteith for a reference surface (FAO-56 eq. 6)."""

LOWEST_SUN = 17.0
"""Degrees: with the sun lower the clearness of a dry night is used (ASCE-EWRI 2005, from memory)."""


def beside(
    segments: pd.DataFrame, visits: pd.DataFrame, table: pd.DataFrame, settings: Mapping
) -> pd.DataFrame:
    """Net radiation and reference evapotranspiration of a station at each visit.

    Parameters
    ----------
    segments : step 6's, for the four terms.
    visits : of step 7.
    table : rows of the weather table.
    settings : `site` (latitude, elevation), `weather`, which serves where the table has nothing, and
        `measured`, with the height of the wind over the ground.

    Returns
    -------
    A row a visit. Empty values where air temperature or humidity is unknown; no evaporation without wind.
    """
    own = segments.set_index("segment").loc[visits["segment"]].reset_index()
    air = weather.at(own["start_utc"] + (own["end_utc"] - own["start_utc"]) / 2, table, settings["weather"])
    wind = at_2m(air["wind_speed"], settings["measured"]["wind_height"])
    net = net_by_station(own, visits, air, settings["site"])
    measured = own["net_radiation"].to_numpy(float)
    by_shortwave = radiation.net_radiation(own["sw_in"], own["sw_out"], 0.0, 0.0) - station.net_shortwave(
        own["sw_in"]
    )
    names = ["segment", "surface", "field", "start_utc", "end_utc"]
    made = own[names].assign(
        air_temperature=air["air_temperature"],
        relative_humidity=air["relative_humidity"],
        wind_speed=wind,
        net_radiation=measured,
        net_radiation_station=net,
        gap_shortwave=by_shortwave,
        gap_longwave=measured - net - by_shortwave,
        evaporation=visits["evaporation"],
        reference_evapotranspiration=evapotranspiration(
            net, {**air, "wind_speed": wind}, visits["pressure"].to_numpy(float)
        ),
    )
    return made.assign(because=[because(row) for row in made.to_dict("records")])


def at_2m(wind: np.ndarray, height: float) -> np.ndarray:
    """Wind at 2 m, m s-1, from that at a height in m over grass (FAO-56 eq. 47).

    At 2 m itself it stays as it is: there the rounded form is 0.02 % off.
    """
    return wind if height == WIND_HEIGHT else station.wind_at_2m(wind, height)


def net_by_station(own: pd.DataFrame, visits: pd.DataFrame, air: Mapping, site: Mapping) -> np.ndarray:
    """Net radiation over grass, W m-2, from global radiation, air temperature and humidity (FAO-56 eq. 37 to
    40).

    The hour around the middle of the visit serves for the top of the atmosphere. With a low sun or none the
    clearness is that of a dry night.
    """
    middle = own["start_utc"] + (own["end_utc"] - own["start_utc"]) / 2
    angle = np.pi / 12.0 * visits["after_noon"].to_numpy(float)
    half = np.pi / 24.0
    outside = station.extraterrestrial_between(
        middle.dt.day_of_year.to_numpy(float), site["latitude"], angle - half, angle + half
    )
    clear = station.clear_sky_shortwave(outside, site["elevation"])
    shortwave = own["sw_in"].to_numpy(float) * AN_HOUR
    with np.errstate(divide="ignore", invalid="ignore"):
        clearness = np.clip(shortwave / clear, LEAST_CLEARNESS, 1.0)
    low = own["solar_elevation"].to_numpy(float) < LOWEST_SUN
    clearness = np.where(low, station.NIGHT_CLEARNESS, clearness)
    vapour = evaporation.saturation_vapour_pressure(air["air_temperature"]) * air["relative_humidity"] / 100.0
    emission = station.emitted(air["air_temperature"], station.SIGMA_HOUR)
    loss = station.net_longwave_loss(emission, vapour, clearness)
    return station.net_radiation(station.net_shortwave(shortwave), loss) / AN_HOUR


def evapotranspiration(net: np.ndarray, air: Mapping, pressure: np.ndarray) -> np.ndarray:
    """Standardized reference evapotranspiration of an hour over the short reference, mm h-1 (ASCE-EWRI 2005
    eq. 1).

    net: W m-2. air: temperature in degC, humidity in %, wind at 2 m in m s-1. pressure: hPa. Where net
    radiation is under 0 it is night.
    """
    celsius = air["air_temperature"]
    deficit = evaporation.saturation_vapour_pressure(celsius) * (1.0 - air["relative_humidity"] / 100.0)
    _, of_day, of_night = station.CROPS["short"]
    by_day, by_night = (
        station.penman_monteith(
            (1.0 - share) * net * AN_HOUR,
            celsius,
            wind=air["wind_speed"],
            deficit=deficit,
            pressure=pressure / 10.0,
            crop=crop,
        )
        for share, crop in zip(station.GROUND_FRACTION["short"], (of_day, of_night), strict=True)
    )
    return np.where(net > 0.0, by_day, by_night)


def because(row: Mapping) -> str:
    """Why the station's net radiation differs from the measured one: the larger of two parts, in words."""
    by_shortwave, by_longwave = row["gap_shortwave"], row["gap_longwave"]
    if not np.isfinite(by_longwave):
        return "no air temperature or humidity is known"
    if abs(by_shortwave) > abs(by_longwave):
        word = "darker" if by_shortwave > 0 else "brighter"
        return f"the surface is {word} than the reference grass"
    word = "less" if by_longwave > 0 else "more"
    return f"surface and sky lose {word} longwave than grass at air temperature under the station's sky"
