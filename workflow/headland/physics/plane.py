"""Geometry of fields on a plane that touches the ellipsoid there. Lengths are small, so a plane is enough."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy.optimize import isotonic_regression

SEMI_MAJOR, FLATTENING = 6378137.0, 1.0 / 298.257223563
"""m, 1: the ellipsoid of WGS 84 (its definition)."""
MOST_LINES = 500
"""Lines across a field of many corners that are tried for the longest chord."""
TOGETHER = 64
"""Edges of an outline that are looked at, or left out, together."""


def projected(longitude, latitude, origin: tuple[float, float]):
    """East and north of an origin, m, on the plane that touches the ellipsoid there.

    Parameters
    ----------
    longitude, latitude : degrees.
    origin : longitude and latitude, degrees.

    By the two radii of curvature at the origin: N cos(latitude) per radian to the east, M per radian to the
    north (any textbook of geodesy, from memory).
    """
    sine = np.sin(np.radians(origin[1]))
    eccentricity = FLATTENING * (2.0 - FLATTENING)
    normal = SEMI_MAJOR / np.sqrt(1.0 - eccentricity * sine**2)
    meridian = normal * (1.0 - eccentricity) / (1.0 - eccentricity * sine**2)
    to_the_east = (np.asarray(longitude) - origin[0] + 180.0) % 360.0 - 180.0
    east = np.radians(to_the_east) * normal * np.cos(np.radians(origin[1]))
    north = np.radians(np.asarray(latitude) - origin[1]) * meridian
    return east, north


def on_plane(
    outlines: Mapping[str, Sequence[np.ndarray]],
) -> tuple[dict[str, list[np.ndarray]], tuple[float, float]]:
    """Outlines in m, and the origin of the plane: the first corner of the first field. outlines: rings in
    degrees.
    """
    longitude, latitude = next(iter(outlines.values()))[0][0]
    origin = (longitude, latitude)
    return {
        name: [np.column_stack(projected(ring[:, 0], ring[:, 1], origin)) for ring in rings]
        for name, rings in outlines.items()
    }, origin


def inside(x, y, rings: Sequence[np.ndarray]):
    """Which points are in a field: a line to the east crosses its rings an odd number of times. x, y, rings:
    m.
    """
    odd = np.zeros(np.shape(x), bool)
    for ring in rings:
        for (ax, ay), (bx, by) in zip(ring[:-1], ring[1:], strict=True):
            if ay != by:
                odd ^= ((ay > y) != (by > y)) & (x < ax + (y - ay) / (by - ay) * (bx - ax))
    return odd


def edge_distance(x, y, rings: Sequence[np.ndarray]):
    """Distance of points from the nearest of a field's edges, m, on whichever side. x, y, rings: m; x and y
    are arrays.

    Edges are taken TOGETHER at a time. A corner of each such part bounds the distance, and where even the
    box around a part is farther, its edges are not looked at.
    """
    nearest = np.full(np.shape(x), np.inf)
    parts = [
        ring[first : first + TOGETHER + 1] for ring in rings for first in range(0, len(ring) - 1, TOGETHER)
    ]
    for part in parts:
        nearest = np.fmin(nearest, np.hypot(x - part[0, 0], y - part[0, 1]))
    for part in parts:
        low, high = part.min(axis=0), part.max(axis=0)
        near = np.hypot(np.clip(x, low[0], high[0]) - x, np.clip(y, low[1], high[1]) - y) < nearest
        nearest[near] = np.fmin(nearest[near], _line_distance(x[near], y[near], part))
    return nearest


def _line_distance(x, y, line: np.ndarray):
    """Distance of points from the nearest edge of a line of corners, m."""
    nearest = np.full(np.shape(x), np.inf)
    for (ax, ay), (bx, by) in zip(line[:-1], line[1:], strict=True):
        dx, dy = bx - ax, by - ay
        length = dx * dx + dy * dy
        share = np.clip(((x - ax) * dx + (y - ay) * dy) / length, 0.0, 1.0) if length > 0 else 0.0
        nearest = np.fmin(nearest, np.hypot(x - ax - share * dx, y - ay - share * dy))
    return nearest


def longest_chord(rings: Sequence[np.ndarray], heading: float) -> float:
    """Length of the longest straight line within a field along a heading, m.

    Parameters
    ----------
    rings : m, east and north.
    heading : degrees from north.

    Between two corners' distances across the heading a chord's length changes linearly, so the longest chord
    passes by a corner: both sides of each corner are tried. With more than MOST_LINES corners, evenly spaced
    lines are tried.
    """
    turn = np.radians(heading)
    ahead, aside = np.array([np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), -np.sin(turn)])
    turned = [np.column_stack([ring @ ahead, ring @ aside]) for ring in rings]
    across = np.unique(np.concatenate([ring[:, 1] for ring in turned]))
    if len(across) <= MOST_LINES:
        beside = 1e-6 * np.ptp(across)
        lines = np.concatenate([across - beside, across + beside])
    else:
        lines = np.linspace(across[0], across[-1], MOST_LINES)
    return max((_longest_part(turned, line) for line in lines), default=0.0)


def _longest_part(turned: Sequence[np.ndarray], line: float) -> float:
    """The longest part of a line ahead that is within the rings, m. line: its distance across."""
    crossings = []
    for ring in turned:
        (ax, ay), (bx, by) = ring[:-1].T, ring[1:].T
        cut = (ay > line) != (by > line)
        crossings.append(ax[cut] + (line - ay[cut]) / (by[cut] - ay[cut]) * (bx[cut] - ax[cut]))
    at = np.sort(np.concatenate(crossings))
    return max(0.0, float((at[1::2] - at[:-1:2]).max())) if len(at) > 1 else 0.0


def along(x, y):
    """Distance from the start of a straight transect of each of its points in their order, m. x, y: m.

    Measured along the line through the points of least squared distance, and never backwards (isotonic
    regression), so that the position's error does not make a walker step back.
    """
    points = np.column_stack([x, y])
    centred = points - points.mean(axis=0)
    direction = np.linalg.svd(centred, full_matrices=False)[2][0]
    progress = centred @ direction
    trend = np.polyfit(np.arange(len(progress)), progress, 1)[0]
    forward = isotonic_regression(progress if trend >= 0 else -progress).x
    return forward - forward[0]
