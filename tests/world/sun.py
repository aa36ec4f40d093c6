"""Position of the sun (low-precision almanac) and the clear sky (Bird and Hulstrom 1981), both written
here."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

SOLAR_CONSTANT = 1361.0  # W m-2, Kopp and Lean 2011
OZONE = 0.32  # cm, a middle value; Bird and Hulstrom 1981 use 0.3
J2000 = pd.Timestamp("2000-01-01T12:00:00Z")


@dataclass(frozen=True)
class Site:
    """A place on a date. Times of the world are seconds after `midnight`."""

    name: str
    latitude: float
    longitude: float
    elevation: float
    timezone: str
    midnight: pd.Timestamp  # UTC, of the local day at the standard offset
    southern: bool

    @property
    def pressure(self) -> float:
        """Standard pressure at the elevation, hPa."""
        return 1013.25 * (1.0 - 2.25577e-5 * self.elevation) ** 5.25588


def sun_vector(site: Site, t: np.ndarray) -> np.ndarray:
    """Return the unit vector to the sun (east, north, up), shape (3, len(t)).

    Source: low-precision formulae of the Astronomical Almanac as given by Michalsky 1988 (from memory).
    """
    first = (site.midnight - J2000).total_seconds() / 86400.0
    n = first + np.asarray(t, float) / 86400.0
    mean_longitude = np.radians(280.460 + 0.9856474 * n)
    anomaly = np.radians(357.528 + 0.9856003 * n)
    ecliptic = mean_longitude + np.radians(1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    obliquity = np.radians(23.439 - 0.0000004 * n)
    right_ascension = np.arctan2(np.cos(obliquity) * np.sin(ecliptic), np.cos(ecliptic))
    declination = np.arcsin(np.sin(obliquity) * np.sin(ecliptic))
    sidereal_hours = 18.697374558 + 24.06570982441908 * n
    hour_angle = np.radians(sidereal_hours * 15.0 + site.longitude) - right_ascension
    latitude = np.radians(site.latitude)
    east = -np.cos(declination) * np.sin(hour_angle)
    north = np.sin(declination) * np.cos(latitude) - np.cos(declination) * np.sin(latitude) * np.cos(
        hour_angle
    )
    up = np.sin(declination) * np.sin(latitude) + np.cos(declination) * np.cos(latitude) * np.cos(hour_angle)
    return np.stack([east, north, up])


def extraterrestrial(site: Site) -> float:
    """Return the irradiance on a plane facing the sun outside the air, W m-2 (Spencer 1971, first term)."""
    day = site.midnight.day_of_year
    return SOLAR_CONSTANT * (1.0 + 0.033 * np.cos(2 * np.pi * day / 365.0))


@dataclass(frozen=True)
class Turbidity:
    """What the clear air contains."""

    aod_500: float
    aod_380: float
    water: float  # cm
    ground_albedo: float = 0.2


def clear_sky(mu: np.ndarray, site: Site, air: Turbidity) -> tuple[np.ndarray, np.ndarray]:
    """Return beam at normal incidence and diffuse on a level plane, W m-2, for the sine of the sun's height.

    Source: Bird and Hulstrom 1981, SERI/TR-642-761 (from memory; held against pvlib in the tests).
    """
    shown = np.maximum(mu, 0.0)
    zenith = np.degrees(np.arccos(np.minimum(shown, 1.0)))
    mass = 1.0 / (shown + 0.15 * (93.885 - np.minimum(zenith, 90.0)) ** -1.25)
    mass_p = mass * site.pressure / 1013.0
    rayleigh = np.exp(-0.0903 * mass_p**0.84 * (1.0 + mass_p - mass_p**1.01))
    ozone = OZONE * mass
    ozone_part = 0.1611 * ozone * (1.0 + 139.48 * ozone) ** -0.3035
    t_ozone = 1.0 - ozone_part - 0.002715 * ozone / (1.0 + 0.044 * ozone + 0.0003 * ozone**2)
    t_gas = np.exp(-0.0127 * mass_p**0.26)
    water = air.water * mass
    t_water = 1.0 - 2.4959 * water / ((1.0 + 79.034 * water) ** 0.6828 + 6.385 * water)
    depth = 0.2758 * air.aod_380 + 0.35 * air.aod_500
    t_aerosol = np.exp(-(depth**0.873) * (1.0 + depth - depth**0.7088) * mass**0.9108)
    t_absorbed = 1.0 - 0.1 * (1.0 - mass + mass**1.06) * (1.0 - t_aerosol)
    scattered = 1.0 - t_aerosol / t_absorbed
    sky_albedo = 0.0685 + 0.16 * scattered
    outside = extraterrestrial(site)
    beam = 0.9662 * outside * t_rayleigh_product(rayleigh, t_ozone, t_gas, t_water) * t_aerosol
    single = 0.5 * (1.0 - rayleigh) + 0.84 * scattered
    once = (
        0.79 * outside * shown * t_ozone * t_water * t_gas * t_absorbed * single / (1.0 - mass + mass**1.02)
    )
    total = (beam * shown + once) / (1.0 - air.ground_albedo * sky_albedo)
    above = mu > 0.0
    # Twilight: a little diffuse light remains down to 6 degrees below the horizon (common practice, no
    # source).
    twilight = np.where(above, 0.0, 3.0 * np.clip(1.0 + mu / 0.105, 0.0, 1.0) ** 3)
    return np.where(above, beam, 0.0), np.where(above, np.maximum(total - beam * shown, 0.0) + 3.0, twilight)


def t_rayleigh_product(*parts: np.ndarray) -> np.ndarray:
    """Return the product of transmittances."""
    product = parts[0]
    for part in parts[1:]:
        product = product * part
    return product
