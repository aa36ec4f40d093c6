"""Longwave radiation: emission of a body, irradiance from a head's signal, temperature of a surface."""

from __future__ import annotations

import numpy as np

from headland.physics.constants import SIGMA


def own_emission(temperature):
    """Emission of a black body, W m-2, at a temperature in K: sigma T^4 (equation 5, Stefan-Boltzmann)."""
    return SIGMA * np.asarray(temperature, dtype=float) ** 4


def irradiance(net, body_temperature):
    """Longwave irradiance, W m-2: L = N + sigma T_body^4 (equation 6).

    Parameters
    ----------
    net : the net signal N, W m-2.
    body_temperature : K.

    The pyrgeometer equation with one thermometer, WMO-No. 8, part I, chapter 7 (from memory).
    """
    return np.asarray(net, dtype=float) + own_emission(body_temperature)


def emitted(lw_out, lw_in, emissivity):
    """Emission of a grey surface as that of a black body, W m-2: (L_out - (1 - eps) L_in) / eps = sigma
    T_s^4.
    """
    return (lw_out - (1.0 - emissivity) * lw_in) / emissivity


def surface_temperature(lw_out, lw_in, emissivity):
    """Surface temperature, K, from longwave in W m-2: T_s = [(L_out - (1 - eps) L_in) / (eps sigma)]^(1/4).

    Equation 13: grey emission plus reflected sky. From means of L it is the mean in the fourth power. NaN
    where the reflected sky exceeds L_out.
    """
    flux = np.asarray(emitted(lw_out, lw_in, emissivity), dtype=float)
    return (np.where(flux > 0, flux, np.nan) / SIGMA) ** 0.25
