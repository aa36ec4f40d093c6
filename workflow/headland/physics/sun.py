"""The sun and the clear sky: position, top of atmosphere, clear-sky radiation, beam and diffuse."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pvlib

from headland.physics.constants import SOLAR_CONSTANT

NODE = 60.0
"""s: the position is computed at nodes this far apart and interpolated between them."""

AEROSOL_DEPTH, PRECIPITABLE_WATER = 0.1, 1.0
"""Aerosol optical depth at 700 nm and precipitable water, cm, of the clear sky above sea level.

A fairly clean, fairly dry mid-latitude atmosphere: pvlib's defaults for this model (common practice, no
source).
"""

SCALE_HEIGHT = 2000.0
"""m in which haze and vapour decrease by the factor e; both lie lower than the air (common practice, no
source).
"""


def _index(seconds) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(pd.to_datetime(np.asarray(seconds, dtype=float) * 1e9, unit="ns", utc=True))


def _seconds(times) -> np.ndarray:
    """Seconds since 1970 of times in UTC."""
    index = pd.DatetimeIndex(times)
    index = index.tz_localize("UTC") if index.tz is None else index.tz_convert("UTC")
    return index.as_unit("us").asi8 / 1e6


def position(
    times,
    latitude: float,
    longitude: float,
    elevation: float,
    *,
    pressure: float | None = None,
    temperature: float = 12.0,
):
    """Apparent elevation and azimuth of the sun at times in UTC.

    Parameters as for `course`. Returns (elevation, azimuth from north through east), degrees.
    """
    return course(times, latitude, longitude, elevation, pressure=pressure, temperature=temperature)(times)


def course(
    times,
    latitude: float,
    longitude: float,
    elevation: float,
    *,
    pressure: float | None = None,
    temperature: float = 12.0,
) -> Callable:
    """`position` for times that are looked at piece by piece.

    Reda & Andreas 2004 (NREL/TP-560-34302) through pvlib. For many times it is computed at nodes of 60 s and
    interpolated as unit vectors between them.

    Parameters
    ----------
    times : all in UTC.
    latitude : north positive, and longitude, east positive, degrees.
    elevation : of the site, m.
    pressure : Pa, and temperature, degC, for the refraction.

    Without a pressure that of the standard atmosphere is taken. Returns a function of some of the times, with
    the same result as for all of them at once.
    """
    seconds = _seconds(times)
    if pressure is None:
        pressure = float(pvlib.atmosphere.alt2pres(elevation))
    minutes = np.unique(np.floor(seconds / NODE))
    nodes = np.union1d(minutes, minutes + 1.0) * NODE
    direct = len(nodes) >= len(seconds)

    def computed(seconds: np.ndarray) -> np.ndarray:
        result = pvlib.solarposition.spa_python(
            _index(seconds), latitude, longitude, elevation, pressure, temperature
        )
        up, azimuth = (
            np.radians(result["apparent_elevation"].to_numpy()),
            np.radians(result["azimuth"].to_numpy()),
        )
        return np.array([np.cos(up) * np.sin(azimuth), np.cos(up) * np.cos(azimuth), np.sin(up)])

    def at(times) -> tuple[np.ndarray, np.ndarray]:
        seconds = _seconds(times)
        if not len(seconds):
            return np.zeros(0), np.zeros(0)
        if direct:
            east, north, up = computed(seconds)
        else:
            vectors = np.array([np.interp(seconds, nodes, axis) for axis in vectors_of_nodes])
            east, north, up = vectors / np.linalg.norm(vectors, axis=0)
        return np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))), np.degrees(np.arctan2(east, north)) % 360.0

    vectors_of_nodes = computed(nodes[:0] if direct else nodes)
    return at


def seconds_after_noon(times, longitude: float):
    """Time since solar noon, s, negative before it.

    UTC plus 4 min for each degree of longitude (east positive) plus the equation of time (Spencer 1971).
    """
    seconds = _seconds(times)
    day_of_year = _index(seconds).day_of_year
    equation = np.asarray(pvlib.solarposition.equation_of_time_spencer71(day_of_year), dtype=float)
    return (seconds % 86400.0 + 240.0 * longitude + 60.0 * equation) % 86400.0 - 43200.0


def top_of_atmosphere(times):
    """Irradiance normal to the beam at the top of the atmosphere, W m-2: 1361 / R^2 (equation 7).

    R is in AU, by the same algorithm as `position`.
    """
    seconds = _seconds(times)
    if not len(seconds):
        return np.zeros(0)
    hours = np.unique(np.concatenate([np.floor(seconds / 3600.0), np.floor(seconds / 3600.0) + 1.0])) * 3600.0
    distance = pvlib.solarposition.nrel_earthsun_distance(_index(hours)).to_numpy()
    return SOLAR_CONSTANT / np.interp(seconds, hours, distance) ** 2


def clear_sky_global(solar_elevation, times, elevation: float):
    """Global radiation under a clear sky, W m-2; 0 with the sun down.

    Simplified Solis model (Ineichen 2008) through pvlib, with the top of atmosphere of the day and the
    aerosol and water of this module.

    Parameters
    ----------
    solar_elevation : apparent, degrees.
    times : in UTC.
    elevation : of the site, m: air, haze and vapour above it decrease with it.
    """
    pressure = float(pvlib.atmosphere.alt2pres(elevation))
    up = np.asarray(solar_elevation, dtype=float)
    thinned = float(np.exp(-elevation / SCALE_HEIGHT))
    sky = pvlib.clearsky.simplified_solis(
        np.maximum(up, 0.01),
        AEROSOL_DEPTH * thinned,
        PRECIPITABLE_WATER * thinned,
        pressure,
        top_of_atmosphere(times),
    )
    return np.where(up > 0, np.nan_to_num(np.asarray(sky["ghi"], dtype=float)), 0.0)


def diffuse_fraction(clearness):
    """Diffuse share k_d of global radiation from the clearness index k_t (Erbs et al. 1982)."""
    kt = np.asarray(clearness, dtype=float)
    middle = 0.9511 + kt * (-0.1604 + kt * (4.388 + kt * (-16.638 + kt * 12.336)))
    return np.where(kt <= 0.22, 1.0 - 0.09 * kt, np.where(kt <= 0.80, middle, 0.165))


def clear_sky_emissivity_brutsaert(vapour_pressure, temperature):
    """Emissivity of a clear sky: 1.24 (e / T)^(1/7), e in hPa and T in K (Brutsaert 1975)."""
    return 1.24 * (np.asarray(vapour_pressure, dtype=float) / temperature) ** (1.0 / 7.0)


def clear_sky_emissivity_prata(vapour_pressure, temperature):
    """Emissivity of a clear sky: 1 - (1 + w) exp(-sqrt(1.2 + 3 w)), w = 46.5 e / T, e in hPa and T in K
    (Prata 1996).
    """
    w = 46.5 * np.asarray(vapour_pressure, dtype=float) / temperature
    return 1.0 - (1.0 + w) * np.exp(-np.sqrt(1.2 + 3.0 * w))
