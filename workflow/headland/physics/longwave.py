"""Longwave radiation: what a body emits, what a head's signal says of the irradiance, the temperature of a surface."""

from __future__ import annotations

import numpy as np

from headland.physics.constants import SIGMA


def own_emission(temperature):
    """Emission of a black body, W m-2, at a temperature in K: sigma T^4 (Stefan-Boltzmann law). Arrays or numbers."""
    return SIGMA * np.asarray(temperature, dtype=float) ** 4


def irradiance(net, body_temperature):
    """Longwave irradiance L = N + sigma T_body^4, W m-2, from the net signal N in W m-2 and the body temperature in K.

    The pyrgeometer equation with one thermometer, WMO-No. 8, part I, chapter 7 (from memory).
    """
    return np.asarray(net, dtype=float) + own_emission(body_temperature)


def emitted(lw_out, lw_in, emissivity):
    """What a grey surface itself emits, as a black body's flux: (L_out - (1 - eps) L_in) / eps = sigma T_s^4, W m-2."""
    return (lw_out - (1.0 - emissivity) * lw_in) / emissivity


def surface_temperature(lw_out, lw_in, emissivity):
    """Surface temperature in K from longwave in W m-2: T_s = [(L_out - (1 - eps) L_in) / (eps sigma)]^(1/4).

    Grey emission plus reflected sky (definition). Of means of L it is the mean in the fourth power. NaN where nothing is left to emit.
    """
    flux = np.asarray(emitted(lw_out, lw_in, emissivity), dtype=float)
    return (np.where(flux > 0, flux, np.nan) / SIGMA) ** 0.25
