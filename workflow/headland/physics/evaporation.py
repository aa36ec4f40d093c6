"""Water vapour and evaporation: the latent heat flux of well-watered cover."""

from __future__ import annotations

import numpy as np

DE_BRUIN_HOLTSLAG_OFFSET = 20.0
"""W m-2: the constant in De Bruin & Holtslag 1982 (from memory)."""

DE_BRUIN_HOLTSLAG_COEFFICIENT = 1.0
"""The coefficient of that form for well-watered grass: between 0.95 and 1 (De Bruin & Holtslag 1982, from
memory).
"""


def saturation_vapour_pressure(celsius):
    """Saturation vapour pressure, kPa, at T in degC: 0.6108 exp(17.27 T / (T + 237.3)) (FAO-56 eq. 11)."""
    t = np.asarray(celsius, dtype=float)
    return 0.6108 * np.exp(17.27 * t / (t + 237.3))


def slope_of_saturation(celsius):
    """Slope of the saturation vapour pressure, kPa K-1, at T in degC: 4098 e0 / (T + 237.3)^2 (FAO-56 eq.
    13).
    """
    t = np.asarray(celsius, dtype=float)
    return 4098.0 * saturation_vapour_pressure(t) / (t + 237.3) ** 2


def pressure_at(elevation):
    """Air pressure, kPa, at an elevation in m: 101.3 ((293 - 0.0065 z) / 293)^5.26 (FAO-56 eq. 7)."""
    return 101.3 * ((293.0 - 0.0065 * np.asarray(elevation, dtype=float)) / 293.0) ** 5.26


def psychrometric_constant(pressure):
    """Psychrometric constant, kPa K-1, at a pressure in kPa: 0.665e-3 P (FAO-56 eq. 8)."""
    return 0.665e-3 * np.asarray(pressure, dtype=float)


def latent_heat_of_vaporisation(celsius):
    """Latent heat of vaporisation, MJ kg-1, at T in degC: 2.501 - 2.361e-3 T (Harrison 1963; FAO-56 eq.
    3-1).
    """
    return 2.501 - 2.361e-3 * np.asarray(celsius, dtype=float)


def evaporation(latent_heat, celsius):
    """Evaporation, mm h-1, from a latent heat flux in W m-2: LE / lambda (1 kg m-2 of water is 1 mm)."""
    return latent_heat * 3600.0 / (latent_heat_of_vaporisation(celsius) * 1e6)


def priestley_taylor(available, celsius, pressure, coefficient):
    """Latent heat flux of well-watered cover, W m-2: alpha Delta / (Delta + gamma) A (Priestley & Taylor
    1972).

    available: A = Q* - G, W m-2. celsius: air temperature. pressure: kPa. coefficient: alpha.
    """
    slope, gamma = slope_of_saturation(celsius), psychrometric_constant(pressure)
    return coefficient * slope / (slope + gamma) * available


def de_bruin_holtslag(available, celsius, pressure):
    """Latent heat flux of well-watered grass, W m-2: Delta / (Delta + gamma) A + 20 (De Bruin & Holtslag
    1982).
    """
    by_energy = priestley_taylor(available, celsius, pressure, DE_BRUIN_HOLTSLAG_COEFFICIENT)
    return by_energy + DE_BRUIN_HOLTSLAG_OFFSET
