"""Geometry of the view: how much of it the carrier's shadow and body fill, and how a tilt changes the beam.

The carrier is an upright plate, always broadside to the sun, at the horizontal distance `reach` behind the
head. The head points ahead along the walk.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

LONGEST_SHADOW = 100.0
"""m: a longer shadow is cut off here, where it fills next to nothing of the view."""

GUARD_RADIUS = 3.0
"""Heights of the head: within this radius lie 90 % of the downward view (`view_within`)."""

SMALLEST_HEIGHT = 0.1
"""m: closer to the ground, a head sees too little of it for a field (common practice, no source)."""

NEAR_HEIGHT = 1.0
"""m: closer to the ground, a head sees more of its own carrier and little ground (docs/method.md, segment).
"""


@dataclass(frozen=True)
class Carrier:
    """The person who carries a set, as a plate: reach from the plate to the head, height and width, m.

    The height is that over what the head looks at; an array where that differs.
    """

    reach: float
    height: float | np.ndarray
    width: float

    def over(self, canopy) -> Carrier:
        """The part of the carrier that a canopy (m) does not hide."""
        return replace(self, height=np.clip(self.height - np.asarray(canopy, dtype=float), 0.0, None))


def carrier_of(carrying: Mapping[str, float]) -> Carrier:
    """The carrier from the settings (`reach`, `carrier_height`, `carrier_width`, m)."""
    return Carrier(carrying["reach"], carrying["carrier_height"], carrying["carrier_width"])


def view_within(radius, height):
    """Fraction of the downward view of a level head from within a radius: r^2 / (r^2 + h^2) (equation 10).

    Parameters
    ----------
    radius : height of the head, in one unit.

    View factor of a disc below an element parallel to it (closed form).
    """
    return radius**2 / (radius**2 + height**2)


def view_within_strip(half_width, height):
    """Fraction of the downward view of a level head over the middle of a long strip that the strip fills.

    sin(arctan(half_width / height)), both in m: view factor of an endless strip below an element parallel to
    it (closed form).
    """
    return np.sin(np.arctan2(half_width, height))


def polygon_view(corners, height):
    """Fraction of the downward view of a level head that a polygon on level ground fills.

    Lambert's contour formula: the sum over the edges of the angle subtended times the cosine between the
    edge's normal and the vertical, over 2 pi.

    Parameters
    ----------
    corners : (..., n, 2), m, horizontal, from the point below the head.
    height : of the head, m; one or (...).
    """
    corners = np.asarray(corners, dtype=float)
    down = np.broadcast_to(np.asarray(height, dtype=float)[..., None, None], (*corners.shape[:-1], 1))
    rays = np.concatenate([corners, down], axis=-1)
    rays = rays / np.linalg.norm(rays, axis=-1, keepdims=True)
    following = np.roll(rays, -1, axis=-2)
    normal = np.cross(rays, following)
    sine = np.linalg.norm(normal, axis=-1)
    angle = np.arctan2(sine, np.sum(rays * following, axis=-1))
    upward = np.where(sine > 0, normal[..., 2] / np.where(sine > 0, sine, 1.0), 0.0)
    return np.abs(np.sum(angle * upward, axis=-1)) / (2.0 * np.pi)


def perpendicular_rectangle_view(height, width, distance):
    """Fraction of a level head's view that an upright rectangle fills, with its corner straight ahead at head
    level.

    [atan(w/d) - d / sqrt(h^2 + d^2) atan(w / sqrt(h^2 + d^2))] / (2 pi): element to perpendicular rectangle
    through the corner (Siegel & Howell, configuration factors).

    Parameters
    ----------
    height, width : of the rectangle, m, downward and sideways from that corner.
    distance : m.
    """
    slant = np.hypot(height, distance)
    return (np.arctan2(width, distance) - distance / slant * np.arctan2(width, slant)) / (2.0 * np.pi)


def carrier_view(height, carrier: Carrier):
    """Fraction of the downward view that the carrier's body fills at every heading.

    Only the part of the plate below the head counts. height: of the head over what it looks at, m.
    """
    if carrier.reach <= 0 or carrier.width <= 0:
        return np.zeros(np.shape(height))
    below = np.clip(np.minimum(height, carrier.height), 0.0, None)
    return 2.0 * perpendicular_rectangle_view(below, carrier.width / 2.0, carrier.reach)


def shadow_corners(phi, elevation, carrier: Carrier):
    """Corners of the carrier's shadow on level ground, m ahead along the walk and to the right of it.

    The plate's foot is `reach` behind the head. Its shadow points away from the sun and is cut off at
    LONGEST_SHADOW.

    Parameters
    ----------
    phi : the sun's azimuth minus the heading, degrees.
    elevation : of the sun, degrees: arrays of one shape.

    Returns
    -------
    (..., 4, 2), from the point below the head. The first two corners are those at the foot.
    """
    phi, elevation = np.broadcast_arrays(
        np.radians(np.asarray(phi, dtype=float)), np.asarray(elevation, dtype=float)
    )
    up = np.radians(np.clip(elevation, 0.1, 90.0))
    length = np.minimum(carrier.height / np.tan(up), LONGEST_SHADOW)
    # x ahead along the walk, y to the right, as headings turn; the sun is towards (cos phi, sin phi)
    towards = np.stack([np.cos(phi), np.sin(phi)], axis=-1)
    across = np.stack([-np.sin(phi), np.cos(phi)], axis=-1) * (carrier.width / 2.0)
    foot = np.array([-carrier.reach, 0.0])
    tip = foot - towards * length[..., None]
    return np.stack([foot - across, foot + across, tip + across, tip - across], axis=-2)


def shadow_view(phi, elevation, height, carrier: Carrier):
    """Fraction of the downward view that the carrier's shadow fills; 0 with the sun down.

    Parameters
    ----------
    phi, elevation : as for `shadow_corners`.
    height : of the head over what it looks at, m; as the carrier's, one or an array like phi.
    """
    corners = shadow_corners(phi, elevation, carrier)
    return np.where(np.asarray(elevation, dtype=float) > 0.1, polygon_view(corners, height), 0.0)


def tilt_effect(tilt, zenith, azimuth_difference):
    """Relative change of the beam on a tilted head: cos b + sin b tan Z cos(dAz) - 1 (geometry).

    Parameters, degrees: tilt, b; zenith, Z, of the sun; azimuth_difference, dAz, the sun's azimuth minus
    the direction of the tilt.
    """
    b, z, a = (np.radians(np.asarray(x, dtype=float)) for x in (tilt, zenith, azimuth_difference))
    return np.cos(b) + np.sin(b) * np.tan(z) * np.cos(a) - 1.0
