"""Sensible and latent heat from measurements: two heights of air, or a flux station that does not close."""

from __future__ import annotations

import numpy as np

from headland.physics import evaporation

USUAL_CLOSURE = (0.53, 0.79, 0.99)
"""(H + LE) over (Q* - G): least, mean and most of 22 sites (Wilson et al. 2002, from memory)."""


def bowen_from_heights(warmer, moister, pressure):
    """Bowen ratio from two heights: gamma dT / de (Bowen 1926).

    warmer, moister: lower minus upper height, K and kPa. pressure: kPa. NaN without a difference of vapour.
    """
    moister = np.asarray(moister, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = evaporation.psychrometric_constant(pressure) * np.asarray(warmer, dtype=float) / moister
    return np.where(moister != 0.0, ratio, np.nan)


def half_range_near_minus_one(moister, pressure, *, resolution_temperature: float, resolution_vapour: float):
    """How near to -1 a Bowen ratio is useless: (resolution of e + gamma resolution of T) / |de| (Ohmura 1982,
    eq. 5).

    The worst of the two signs is taken. Resolutions: of the differences, K and kPa.
    """
    gamma = evaporation.psychrometric_constant(pressure)
    with np.errstate(divide="ignore"):
        return (resolution_vapour + gamma * resolution_temperature) / np.abs(np.asarray(moister, dtype=float))


def is_rejected(warmer, moister, available, *, pressure, resolution_temperature, resolution_vapour):
    """Whether a Bowen ratio gives no fluxes (Ohmura 1982).

    It lies too near to -1, or the fluxes go against the differences that they follow. available: Q* - G, W
    m-2.
    """
    ratio = bowen_from_heights(warmer, moister, pressure)
    half_range = half_range_near_minus_one(
        moister,
        pressure,
        resolution_temperature=resolution_temperature,
        resolution_vapour=resolution_vapour,
    )
    near = np.abs(ratio + 1.0) < half_range
    against = np.asarray(available) * np.asarray(moister) * (ratio + 1.0) < 0.0
    return ~np.isfinite(ratio) | near | against


def split_by_bowen(available, ratio):
    """Sensible and latent heat, W m-2, from the available energy: LE = A / (1 + beta) (definition; Twine et
    al. 2000).

    The same form closes the balance of a flux station, with the ratio of its own fluxes.
    """
    latent = np.asarray(available, dtype=float) / (1.0 + np.asarray(ratio, dtype=float))
    return available - latent, latent


def closure(available, sensible, latent):
    """Measured turbulent fluxes over the available energy, (H + LE) / (Q* - G) (Wilson et al. 2002); 1 where
    closed.
    """
    return (np.asarray(sensible, dtype=float) + latent) / available


def closed_by_bowen(available, sensible, latent):
    """Fluxes of a station, W m-2, closed with their Bowen ratio kept (Twine et al. 2000)."""
    share = closure(available, sensible, latent)
    return sensible / share, latent / share
