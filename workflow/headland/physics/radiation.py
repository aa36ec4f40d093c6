"""Albedo, net radiation, and net radiation under a common sky."""

from __future__ import annotations

import numpy as np

ALBEDO_ELEVATION, ALBEDO_SW_IN = 10.0, 50.0
"""Degrees and W m-2: albedo is taken with the sun and the incoming shortwave above these (methods of this project)."""

LARGEST_SKY_DIFFERENCE = 0.25
"""Relative: no common-sky value where the common incoming shortwave is further from the measured one than this (methods of this project)."""


def albedo(sw_in, sw_out):
    """Albedo of the samples along the last axis: the ratio of the sums of SW_out and SW_in, never the mean of ratios. NaN where SW_in sums to 0."""
    total = np.sum(np.asarray(sw_in, dtype=float), axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(total > 0, np.sum(np.asarray(sw_out, dtype=float), axis=-1) / total, np.nan)


def net_radiation(sw_in, sw_out, lw_in, lw_out):
    """Net radiation Q* = SW_in - SW_out + LW_in - LW_out, W m-2, positive towards the surface (definition)."""
    return sw_in - sw_out + lw_in - lw_out


def warming(response, albedo_, sw_in):
    """Part `response` of what a surface absorbs of an incoming shortwave, W m-2; 0 where the albedo is unknown (no sun to speak of)."""
    known = np.asarray(albedo_, dtype=float)
    return np.where(np.isnan(known), 0.0, 1.0 - known) * response * sw_in


def net_common_sky(net, albedo_, sw_in, lw_in, sw_ref, lw_ref, emissivity, sky_response):
    """Net radiation under a common incoming shortwave and longwave, W m-2.

    (1 - albedo) SW_ref + (L_in - L_out) + eps (L_ref - L_in) - lambda (1 - albedo) (SW_ref - SW_in), written as what it adds to
    the measured net; `sky_response` is lambda, how the surface warms with the sun (methods of this project, section 6). With
    SW_ref = SW_in and L_ref = L_in it is net. Where the albedo is unknown (no sun to speak of) the shortwave stays as measured. NaN where
    SW_ref is further than 25 % from SW_in (by night: than 25 % of 50 W m-2).
    """
    change = sw_ref - sw_in
    absorbed = warming(1.0 - sky_response, albedo_, change)
    allowed = np.abs(change) <= LARGEST_SKY_DIFFERENCE * np.maximum(sw_in, ALBEDO_SW_IN)
    return np.where(allowed, net + absorbed + emissivity * (lw_ref - lw_in), np.nan)
