"""The directional error of a shortwave head: a smooth random function of where the sun stands to the head.

A head that is carried turns with its carrier. So the error cancels between visits with a similar sun in the
same heading, and only between those.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache

import numpy as np
import pandas as pd

from headland.uncertainty.draws import Source
from headland.uncertainty.terms import of_term

CORRELATION_LENGTH = 20.0
"""Degrees between two directions of the sun over which the directional error forgets itself (common practice,
no source)."""

BASIS_POINTS, BASIS_LEAST = 250, 1e-2
"""Directions that the basis of the error is made from, and the least of its components, as part of the
largest: 43 remain, and correlations are right to 0.04."""


def unit_vectors(elevation, azimuth) -> np.ndarray:
    """Directions as vectors east, north and up (directions x 3). elevation, azimuth: degrees."""
    up = np.radians(np.asarray(elevation, dtype=float))
    turn = np.radians(np.asarray(azimuth, dtype=float))
    return np.stack([np.cos(up) * np.sin(turn), np.cos(up) * np.cos(turn), np.sin(up)], axis=1)


def _correlation(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Correlation of the error between directions: exp(-(angle / 20 degrees)^2 / 2)."""
    angle = np.degrees(np.arccos(np.clip(a @ b.T, -1.0, 1.0)))
    return np.exp(-0.5 * (angle / CORRELATION_LENGTH) ** 2)


@cache
def _basis() -> tuple[np.ndarray, np.ndarray]:
    """Directions evenly over the sky, and weights that turn correlations with them into components."""
    height = (np.arange(BASIS_POINTS) + 0.5) / BASIS_POINTS
    turn = math.pi * (1.0 + math.sqrt(5.0)) * np.arange(BASIS_POINTS)
    radius = np.sqrt(1.0 - height**2)
    points = np.stack([radius * np.cos(turn), radius * np.sin(turn), height], axis=1)
    values, components = np.linalg.eigh(_correlation(points, points))
    kept = values > BASIS_LEAST * values[-1]
    return points, (components[:, kept] / np.sqrt(values[kept]))[:, ::-1]


def directional_components(elevation, azimuth) -> np.ndarray:
    """Components of a smooth random function over the sky at some directions (directions x components).

    The function's value at a direction is the sum of the components, each times a standard normal number.
    elevation, azimuth: degrees. It has unit variance, and the correlation of `_correlation` between
    directions. The components depend on nothing but the direction, so that another segment changes no other's
    numbers.
    """
    points, weights = _basis()
    values = _correlation(unit_vectors(elevation, azimuth), points) @ weights
    return values / np.linalg.norm(values, axis=1, keepdims=True)


def directional_sources(
    segments: pd.DataFrame, upper: np.ndarray, set_name: str, row: Mapping[str, str]
) -> list[Source]:
    """The directional error of a set, one source a component; all share the set's amplitude.

    Without a noted heading the sun may stand anywhere to the head: such a segment has an error of its own.

    upper: segments that the set's upper head measured. row: of the head's class in uncertainty.csv.
    """
    where = np.flatnonzero((upper > 0) & (segments["solar_elevation"] > 0).to_numpy())
    if row["enabled"] != "true" or not len(where):
        return []
    sigma = of_term(row).sigma
    heading = segments["incoming_heading"].to_numpy(float)[where]
    towards = segments["solar_azimuth"].to_numpy(float)[where] - np.nan_to_num(heading)
    components = directional_components(segments["solar_elevation"].iloc[where], towards)
    components[np.isnan(heading)] = 0.0
    sources, amplitude = [], f"directional|{set_name}"
    for number, component in enumerate(components.T):
        shift = np.zeros(len(segments))
        shift[where] = component * sigma
        unit = f"{set_name}/{number}"
        sources.append(Source(row["term"], unit, {"directional": shift}, amplitude=amplitude))
    for place in where[np.isnan(heading)]:
        shift = np.where(np.arange(len(segments)) == place, sigma, 0.0)
        unit = f"{set_name}/{segments['segment'].iloc[place]}"
        sources.append(Source(row["term"], unit, {"directional": shift}, amplitude=amplitude))
    return sources
