"""What a weather station would say: net radiation from sunshine and air, and reference evapotranspiration.

Source: Allen et al. 1998 (FAO-56) and ASCE-EWRI 2005. Their units are kept: fluxes in MJ m-2 a day or an
hour, water in mm a day or an hour, vapour pressure in kPa, temperature in degC, wind at 2 m in m s-1. FAO-56
has its own solar constant, Stefan-Boltzmann constant and zero of temperature; this module uses them to
reproduce it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headland.physics import evaporation

SOLAR_CONSTANT = 0.0820
"""MJ m-2 min-1 (FAO-56 eq. 21)."""

SIGMA_DAY, SIGMA_HOUR = 4.903e-9, 2.043e-10
"""Stefan-Boltzmann constant, MJ m-2 K-4 a day and an hour (FAO-56 eq. 39 and 54)."""

ZERO = 273.16
"""0 degC in K, as FAO-56 has it."""

ALBEDO = 0.23
"""Albedo of the reference grass (FAO-56 eq. 38)."""

WATER = 0.408
"""mm of water evaporated by 1 MJ m-2, with 2.45 MJ kg-1 (FAO-56 eq. 20)."""

NIGHT_CLEARNESS = 0.8
"""Rs over Rso by night in a dry climate (FAO-56, example 19)."""


# Sun and radiation ------------------------------------------------------------------------------------------


def inverse_distance(day_of_year):
    """Square of the inverse relative distance of earth and sun, 1 (FAO-56 eq. 23)."""
    return 1.0 + 0.033 * np.cos(2.0 * np.pi * np.asarray(day_of_year, dtype=float) / 365.0)


def declination(day_of_year):
    """Declination of the sun, rad (FAO-56 eq. 24)."""
    return 0.409 * np.sin(2.0 * np.pi * np.asarray(day_of_year, dtype=float) / 365.0 - 1.39)


def sunset_angle(day_of_year, latitude):
    """Hour angle of sunset, rad (FAO-56 eq. 25); latitude in degrees. 0 in the polar night, pi in the polar
    day.
    """
    cosine = -np.tan(np.radians(latitude)) * np.tan(declination(day_of_year))
    return np.arccos(np.clip(cosine, -1.0, 1.0))


def daylight_hours(day_of_year, latitude):
    """Longest possible sunshine of the day, h (FAO-56 eq. 34)."""
    return 24.0 / np.pi * sunset_angle(day_of_year, latitude)


def seasonal_correction(day_of_year):
    """Seasonal correction of solar time, h (FAO-56 eq. 32 and 33)."""
    b = 2.0 * np.pi * (np.asarray(day_of_year, dtype=float) - 81.0) / 364.0
    return 0.1645 * np.sin(2.0 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b)


def hour_angle(day_of_year, clock_hour, *, longitude: float, meridian: float):
    """Hour angle of the sun, rad, negative before noon (FAO-56 eq. 31).

    clock_hour: middle of the period, h. longitude, meridian: of the site and of its clock, degrees, east
    positive.
    """
    solar = clock_hour + (longitude - meridian) / 15.0 + seasonal_correction(day_of_year)
    return np.pi / 12.0 * (solar - 12.0)


def extraterrestrial_between(day_of_year, latitude, start, end):
    """Radiation at the top of the atmosphere between two hour angles in rad, MJ m-2 (FAO-56 eq. 28).

    Angles before sunrise and after sunset are cut to them.
    """
    phi, delta = np.radians(latitude), declination(day_of_year)
    limit = sunset_angle(day_of_year, latitude)
    start, end = np.clip(start, -limit, limit), np.clip(end, -limit, limit)
    steady = (end - start) * np.sin(phi) * np.sin(delta)
    turning = np.cos(phi) * np.cos(delta) * (np.sin(end) - np.sin(start))
    return 12.0 * 60.0 / np.pi * SOLAR_CONSTANT * inverse_distance(day_of_year) * (steady + turning)


def extraterrestrial_day(day_of_year, latitude):
    """Radiation at the top of the atmosphere, MJ m-2 d-1 (FAO-56 eq. 21). latitude: degrees."""
    limit = sunset_angle(day_of_year, latitude)
    return extraterrestrial_between(day_of_year, latitude, -limit, limit)


def shortwave_from_sunshine(sunshine, daylight, extraterrestrial):
    """Rs = (0.25 + 0.50 n / N) Ra, in the unit of Ra (FAO-56 eq. 35). sunshine, daylight: h."""
    return (0.25 + 0.50 * np.asarray(sunshine, dtype=float) / daylight) * extraterrestrial


def clear_sky_shortwave(extraterrestrial, elevation):
    """Rso = (0.75 + 2e-5 z) Ra, in the unit of Ra (FAO-56 eq. 37). elevation: m."""
    return (0.75 + 2e-5 * np.asarray(elevation, dtype=float)) * extraterrestrial


def net_shortwave(shortwave, albedo=ALBEDO):
    """Rns = (1 - albedo) Rs, in the unit of Rs (FAO-56 eq. 38)."""
    return (1.0 - albedo) * np.asarray(shortwave, dtype=float)


def emitted(celsius, sigma: float = SIGMA_DAY):
    """sigma T^4 with FAO-56's constants, MJ m-2 (FAO-56, table 2.8)."""
    return sigma * (np.asarray(celsius, dtype=float) + ZERO) ** 4


def net_longwave_loss(emission, vapour_pressure, clearness):
    """Rnl, net longwave that leaves the surface, in the unit of the emission (FAO-56 eq. 39).

    emission: sigma T^4, of a day the mean of its highest and lowest temperature. vapour_pressure: kPa.
    clearness: Rs over Rso, cut at 1.
    """
    moist = 0.34 - 0.14 * np.sqrt(vapour_pressure)
    return emission * moist * (1.35 * np.minimum(clearness, 1.0) - 0.35)


def net_radiation(net_shortwave_gain, net_longwave):
    """Rn = Rns - Rnl (FAO-56 eq. 40)."""
    return net_shortwave_gain - net_longwave


def soil_heat_of_month(before, after):
    """Ground heat of a month from the mean temperatures of those before and after it, MJ m-2 d-1 (FAO-56 eq.
    43).
    """
    return 0.07 * (np.asarray(after, dtype=float) - before)


def soil_heat_from_last_month(before, now):
    """Ground heat of a month from its mean temperature and the last one's, MJ m-2 d-1 (FAO-56 eq. 44)."""
    return 0.14 * (np.asarray(now, dtype=float) - before)


# Air --------------------------------------------------------------------------------------------------------


def mean_saturation(highest, lowest):
    """Saturation vapour pressure of a day, kPa: mean of those at its two temperatures (FAO-56 eq. 12)."""
    high, low = (evaporation.saturation_vapour_pressure(celsius) for celsius in (highest, lowest))
    return (high + low) / 2.0


def vapour_from_psychrometer(wet, dry, pressure, coefficient=0.000662):
    """Vapour pressure, kPa, from wet and dry bulb in degC (FAO-56 eq. 15 and 16; ventilated: 0.000662)."""
    return evaporation.saturation_vapour_pressure(wet) - coefficient * pressure * (np.asarray(dry) - wet)


def vapour_from_humidities(highest, lowest, least, most):
    """Vapour pressure, kPa, from the extremes of temperature (degC) and relative humidity (%) of a day
    (FAO-56 eq. 17).

    most: the humidity at the lowest temperature; least: at the highest.
    """
    at_night = evaporation.saturation_vapour_pressure(lowest) * most / 100.0
    at_noon = evaporation.saturation_vapour_pressure(highest) * least / 100.0
    return (at_night + at_noon) / 2.0


def wind_at_2m(wind, height):
    """Wind at 2 m, m s-1, from wind at a height z over grass: u 4.87 / ln(67.8 z - 5.42) (FAO-56 eq. 47)."""
    return wind * 4.87 / np.log(67.8 * np.asarray(height, dtype=float) - 5.42)


# Penman-Monteith
# ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Crop:
    """Constants of a reference surface: numerator and denominator of the standardized equation (ASCE-EWRI
    2005, table 1).
    """

    numerator: float
    denominator: float


FAO_DAY = SHORT_DAY = Crop(900.0, 0.34)
FAO_HOUR = Crop(37.0, 0.34)
SHORT_HOUR_DAY, SHORT_HOUR_NIGHT = Crop(37.0, 0.24), Crop(37.0, 0.96)
TALL_DAY, TALL_HOUR_DAY, TALL_HOUR_NIGHT = Crop(1600.0, 0.38), Crop(66.0, 0.25), Crop(66.0, 1.7)

CROPS = {
    "short": (SHORT_DAY, SHORT_HOUR_DAY, SHORT_HOUR_NIGHT),
    "tall": (TALL_DAY, TALL_HOUR_DAY, TALL_HOUR_NIGHT),
}
"""By reference surface: a day, an hour by day, an hour by night."""

GROUND_FRACTION = {"short": (0.1, 0.5), "tall": (0.04, 0.2)}
"""Ground heat over net radiation of an hour by day and by night (FAO-56 eq. 45, 46; ASCE-EWRI 2005 eq. 65,
66).
"""


def aerodynamic_resistance(wind):
    """Resistance of the reference grass to heat and vapour, s m-1: 208 / u at 2 m (FAO-56, box 4)."""
    return 208.0 / np.asarray(wind, dtype=float)


def penman_monteith(available, celsius, *, wind, deficit, pressure, crop: Crop):
    """Reference evapotranspiration, mm a day or an hour (FAO-56 eq. 6 and 53; ASCE-EWRI 2005 eq. 1).

    Parameters
    ----------
    available : Rn - G, MJ m-2 a day or an hour
    celsius : mean temperature, degC
    wind : at 2 m, m s-1
    deficit : es - ea, kPa
    pressure : kPa
    crop : constants of the surface and the period
    """
    slope = evaporation.slope_of_saturation(celsius)
    gamma = evaporation.psychrometric_constant(pressure)
    by_air = gamma * crop.numerator / (np.asarray(celsius, dtype=float) + 273.0) * wind * deficit
    return (WATER * slope * available + by_air) / (slope + gamma * (1.0 + crop.denominator * wind))
