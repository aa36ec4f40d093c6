"""Albedo, net radiation, and net radiation under a common sky."""

from __future__ import annotations

import numpy as np

ALBEDO_ELEVATION, ALBEDO_SW_IN = 10.0, 50.0
"""Degrees and W m-2: albedo is computed only with the sun and the incoming shortwave above these
(docs/method.md, summarise)."""

LARGEST_SKY_DIFFERENCE = 0.25
"""Largest relative difference between the common and the measured incoming shortwave for a common-sky value
(docs/method.md, summarise)."""


def albedo(sw_in, sw_out):
    """Albedo of the samples along the last axis, equation 11: the ratio of sums, never the mean of ratios.

    Parameters
    ----------
    sw_in, sw_out : W m-2.

    Returns
    -------
    Sum SW_out / sum SW_in, NaN where SW_in sums to 0.
    """
    total = np.sum(np.asarray(sw_in, dtype=float), axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(total > 0, np.sum(np.asarray(sw_out, dtype=float), axis=-1) / total, np.nan)


def net_radiation(sw_in, sw_out, lw_in, lw_out):
    """Net radiation Q* = SW_in - SW_out + LW_in - LW_out, W m-2, positive towards the surface (equation
    12).
    """
    return sw_in - sw_out + lw_in - lw_out


def warming(response, albedo_, sw_in):
    """Part `response` of what a surface absorbs of an incoming shortwave, W m-2.

    Without sun the albedo is unknown (NaN), and the result is 0.
    """
    known = np.asarray(albedo_, dtype=float)
    return np.where(np.isnan(known), 0.0, 1.0 - known) * response * sw_in


def net_common_sky(net, albedo_, *, sw_in, lw_in, sw_ref, lw_ref, emissivity, sky_response):
    """Net radiation under a common incoming shortwave and longwave, W m-2.

    Equation 14: Q* + (1 - albedo) (1 - lambda) (SW_ref - SW_in) + eps (L_ref - L_in). Without sun the albedo
    is unknown and the shortwave stays as measured.

    Parameters
    ----------
    net : Q*.
    sw_in, lw_in : measured.
    sw_ref, lw_ref : common.
    emissivity : eps.
    sky_response : lambda, the part of the absorbed shortwave by which the surface warms.

    Fluxes in W m-2. Returns NaN where SW_ref is further than 25 % from SW_in (at night: than 25 % of 50 W
    m-2).
    """
    change = sw_ref - sw_in
    absorbed = warming(1.0 - sky_response, albedo_, change)
    allowed = np.abs(change) <= LARGEST_SKY_DIFFERENCE * np.maximum(sw_in, ALBEDO_SW_IN)
    return np.where(allowed, net + absorbed + emissivity * (lw_ref - lw_in), np.nan)
