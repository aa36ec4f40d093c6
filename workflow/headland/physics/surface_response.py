"""How a surface's albedo and longwave follow the sun, the sky and the air."""

from __future__ import annotations

import numpy as np

from headland.physics.constants import SIGMA
from headland.physics.radiation import ALBEDO_ELEVATION


def albedo_of_beam(mu, strength):
    """Albedo for the beam over the albedo with the sun at 30 degrees (Briegleb et al. 1986, from memory).

    Parameters
    ----------
    mu : sine of the sun's elevation.
    strength : d of the surface, 0.4 for grass, arable land and desert, 0.1 for others.

    Returns (1 + d) / (1 + 2 d mu), which is 1 at mu = 0.5.
    """
    return (1.0 + strength) / (1.0 + 2.0 * strength * np.asarray(mu, dtype=float))


def albedo_shape(mu, diffuse_fraction, strength):
    """Albedo over the albedo with the sun at 30 degrees, under a sky with a diffuse share.

    The beam's share follows the sun's height. Diffuse light has the albedo of a sun at 30 degrees, its mean
    height (common practice, no source).
    """
    diffuse = np.asarray(diffuse_fraction, dtype=float)
    return (1.0 - diffuse) * albedo_of_beam(mu, strength) + diffuse


def facing(mu, azimuth, diffuse_fraction) -> np.ndarray:
    """How the sun stands to a slope and to rows: four numbers for each sun, in a last axis.

    A field that falls gets more of the beam by s tan Z cos(azimuth - aspect), s the tangent of its slope. A
    canopy in rows reflects more of the beam by a part that goes with twice the azimuth. So albedo over that
    of level ground without rows is 1 plus these numbers times (s sin aspect, s cos aspect, a, b). The sun
    counts as at the lowest elevation at which albedo is taken, at least.

    Parameters
    ----------
    mu : sine of the sun's elevation.
    azimuth : of the sun, degrees.
    diffuse_fraction : share of the sun's light that has no direction.
    """
    sine = np.clip(np.asarray(mu, dtype=float), np.sin(np.radians(ALBEDO_ELEVATION)), 1.0)
    turn, beam = np.radians(np.asarray(azimuth, dtype=float)), 1.0 - np.asarray(diffuse_fraction, dtype=float)
    low = beam * np.sqrt(1.0 - sine**2) / sine
    along = (low * np.sin(turn), low * np.cos(turn), beam * np.cos(2.0 * turn), beam * np.sin(2.0 * turn))
    return np.stack(along, axis=-1)


def albedo_at(albedo, shape, shape_ref):
    """Albedo at the common moment: the measured one times the ratio of the shapes there and at the visit."""
    return albedo * shape_ref / shape


def emission_slope(surface_temperature, emissivity):
    """Change of a surface's emission with its temperature, 4 eps sigma T^3, W m-2 K-1; temperature in K."""
    return 4.0 * emissivity * SIGMA * np.asarray(surface_temperature, dtype=float) ** 3


def warming_with_sky(absorbed_sw, absorbed_lw, sky_response):
    """Change of a surface's emission, W m-2, with what it absorbs: lambda times the change absorbed.

    absorbed_sw, absorbed_lw: changes of the absorbed shortwave, (1 - albedo) dSW, and longwave, eps dL, W
    m-2. sky_response: lambda, the part of an absorbed change that the surface emits again.
    """
    return sky_response * (absorbed_sw + absorbed_lw)


def warming_with_air(air_change, slope, air_response):
    """Change of a surface's emission, W m-2, with the air's temperature: lambda_air 4 eps sigma T^3 dT_air.

    air_change: K. slope: as `emission_slope` gives it. air_response: lambda_air, K of the surface for a K of
    air.
    """
    return air_response * slope * air_change
