"""Sensible heat from the difference of surface and air temperature and the wind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

KARMAN = 0.41
"""Von Karman's constant (FAO-56 eq. 4)."""

GRAVITY = 9.81
"""m s-2."""

HEAT_CAPACITY = 1013.0
"""Specific heat of air at constant pressure, J kg-1 K-1 (FAO-56 eq. 8)."""

ROUNDS = 30
"""Rounds of the stability correction; it settles to 1e-6 well before."""

MOST_STABLE = 1.0
"""z / L above which the stable form is not extended (common practice, no source)."""


@dataclass(frozen=True)
class Mast:
    """Where wind and air are measured and over what: heights of wind, of air and of the cover, m."""

    wind_height: float
    air_height: float
    cover_height: float

    @property
    def displacement(self) -> float:
        """Zero plane displacement, m: 2/3 h (FAO-56, box 4)."""
        return 2.0 / 3.0 * self.cover_height

    @property
    def roughness(self) -> float:
        """Roughness length for momentum, m: 0.123 h (FAO-56, box 4)."""
        return 0.123 * self.cover_height

    @property
    def heat_roughness(self) -> float:
        """Roughness length for heat, m: a tenth of that for momentum (FAO-56, box 4)."""
        return 0.1 * self.roughness


def air_density(celsius, pressure):
    """Density of air, kg m-3: P / (0.287 * 1.01 (T + 273)) (FAO-56, annex 3). pressure: kPa."""
    return pressure / (0.287 * 1.01 * (np.asarray(celsius, dtype=float) + 273.0))


def profile_of_wind(stability):
    """Correction of the wind profile at z / L: Paulson 1970 where unstable, -5 z / L where stable (Dyer
    1974).
    """
    x = (1.0 - 16.0 * np.minimum(stability, 0.0)) ** 0.25
    unstable = 2.0 * np.log((1.0 + x) / 2.0) + np.log((1.0 + x**2) / 2.0) - 2.0 * np.arctan(x) + np.pi / 2.0
    return np.where(stability < 0.0, unstable, -5.0 * np.clip(stability, 0.0, MOST_STABLE))


def profile_of_heat(stability):
    """Correction of the temperature profile at z / L: Paulson 1970 where unstable, -5 z / L where stable
    (Dyer 1974).
    """
    x = (1.0 - 16.0 * np.minimum(stability, 0.0)) ** 0.25
    unstable = 2.0 * np.log((1.0 + x**2) / 2.0)
    return np.where(stability < 0.0, unstable, -5.0 * np.clip(stability, 0.0, MOST_STABLE))


def resistance(wind, mast: Mast, inverse_length=0.0):
    """Resistance to heat, s m-1 (FAO-56 eq. 4; with 1 / L other than 0 corrected for stability).

    wind: m s-1. inverse_length: 1 / L, m-1; 0 in neutral air.
    """
    of_wind, of_air = mast.wind_height - mast.displacement, mast.air_height - mast.displacement
    by_wind = np.log(of_wind / mast.roughness) - profile_of_wind(of_wind * np.asarray(inverse_length))
    by_heat = np.log(of_air / mast.heat_roughness) - profile_of_heat(of_air * np.asarray(inverse_length))
    return by_wind * by_heat / (KARMAN**2 * np.asarray(wind, dtype=float))


def sensible_heat(surface, air, wind, mast: Mast, pressure):
    """Sensible heat flux, W m-2, positive away from the surface: rho c_p (T_s - T_a) / r_a, with stability.

    Parameters
    ----------
    surface, air : temperatures, degC
    wind : m s-1; without wind there is no value
    mast : heights
    pressure : kPa

    Returns
    -------
    H, of the shape of the inputs; the Obukhov length is found round by round (Monin-Obukhov; Dyer 1974).
    """
    surface, air, wind = np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in (surface, air, wind)))
    wind = np.where(wind > 0.0, wind, np.nan)
    of_wind = mast.wind_height - mast.displacement
    density, kelvin = air_density(air, pressure), air + 273.15
    inverse_length = np.zeros(surface.shape)
    heat = np.zeros(surface.shape)
    for _ in range(ROUNDS):
        friction = (
            KARMAN * wind / (np.log(of_wind / mast.roughness) - profile_of_wind(of_wind * inverse_length))
        )
        heat = density * HEAT_CAPACITY * (surface - air) / resistance(wind, mast, inverse_length)
        wanted = -KARMAN * GRAVITY * heat / (density * HEAT_CAPACITY * kelvin * friction**3)
        inverse_length = 0.5 * inverse_length + 0.5 * np.clip(wanted, -5.0, MOST_STABLE / of_wind)
    return heat
