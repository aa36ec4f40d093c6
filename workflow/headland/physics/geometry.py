"""What the person who carries the set does to what it sees: shadow and body in the downward view, tilt of the head.

The carrier is an upright plate, always broadside to the sun, standing at the horizontal distance `reach` behind the head, which points
ahead along the walk.
"""

from __future__ import annotations

import numpy as np

LONGEST_SHADOW = 100.0
"""m: a shadow is cut off here, where it fills next to nothing of the view."""


def polygon_view(corners, height):
    """Fraction of the downward view of a level head that a polygon on level ground fills.

    corners: (..., n, 2), m, horizontal, relative to the point below the head. height: of the head, m. Lambert's contour formula: the sum over
    the edges of the angle subtended times the cosine between the edge's normal and the vertical, over 2 pi.
    """
    corners = np.asarray(corners, dtype=float)
    rays = np.concatenate([corners, np.full((*corners.shape[:-1], 1), float(height))], axis=-1)
    rays = rays / np.linalg.norm(rays, axis=-1, keepdims=True)
    following = np.roll(rays, -1, axis=-2)
    normal = np.cross(rays, following)
    sine = np.linalg.norm(normal, axis=-1)
    angle = np.arctan2(sine, np.sum(rays * following, axis=-1))
    upward = np.where(sine > 0, normal[..., 2] / np.where(sine > 0, sine, 1.0), 0.0)
    return np.abs(np.sum(angle * upward, axis=-1)) / (2.0 * np.pi)


def perpendicular_rectangle_view(height, width, distance):
    """Fraction of a level head's view that an upright rectangle fills, whose corner lies straight ahead at the head's own level.

    height, width: m, of the rectangle, downward and sideways from that corner. distance: m. Element to perpendicular rectangle
    through the corner (Siegel & Howell, configuration factors): [atan(w/d) - d / sqrt(h^2 + d^2) atan(w / sqrt(h^2 + d^2))] / (2 pi).
    """
    slant = np.hypot(height, distance)
    return (np.arctan2(width, distance) - distance / slant * np.arctan2(width, slant)) / (2.0 * np.pi)


def carrier_view(sensor_height, reach, carrier_height, carrier_width):
    """Fraction of the downward view that the carrier's body fills, at every heading: what of the plate is below the head. All in m."""
    if reach <= 0 or carrier_width <= 0:
        return 0.0
    return 2.0 * float(
        perpendicular_rectangle_view(min(sensor_height, carrier_height), carrier_width / 2.0, reach)
    )


def shadow_corners(phi, elevation, reach, carrier_height, carrier_width):
    """Corners of the carrier's shadow on level ground, m ahead along the walk and to the right of it, from the point below the head: (..., 4, 2).

    phi: the sun's azimuth less the heading, degrees; elevation of the sun, degrees: arrays of one shape. The plate's foot is `reach` behind the
    head; its shadow points away from the sun and is cut off at LONGEST_SHADOW. The first two corners are those at the foot.
    """
    phi, elevation = np.broadcast_arrays(
        np.radians(np.asarray(phi, dtype=float)), np.asarray(elevation, dtype=float)
    )
    up = np.radians(np.clip(elevation, 0.1, 90.0))
    length = np.minimum(carrier_height / np.tan(up), LONGEST_SHADOW)
    # x ahead along the walk, y to the right, as headings turn; the sun stands towards (cos phi, sin phi)
    towards = np.stack([np.cos(phi), np.sin(phi)], axis=-1)
    across = np.stack([-np.sin(phi), np.cos(phi)], axis=-1) * (carrier_width / 2.0)
    foot = np.array([-reach, 0.0])
    tip = foot - towards * length[..., None]
    return np.stack([foot - across, foot + across, tip + across, tip - across], axis=-2)


def shadow_view(phi, elevation, height, reach, carrier_height, carrier_width):
    """Fraction of the downward view that the carrier's shadow fills; 0 with the sun down.

    phi: the sun's azimuth less the heading, degrees; elevation of the sun, degrees: arrays of one shape. height: of the head over the
    ground, m. The shadow is that of `shadow_corners`.
    """
    corners = shadow_corners(phi, elevation, reach, carrier_height, carrier_width)
    return np.where(np.asarray(elevation, dtype=float) > 0.1, polygon_view(corners, height), 0.0)


def tilt_effect(tilt, zenith, azimuth_difference):
    """Relative change of the beam on a head tilted by `tilt` degrees: cos b + sin b tan Z cos(dAz) - 1 (geometry).

    zenith: of the sun, degrees. azimuth_difference: sun's azimuth less that towards which the head is tilted, degrees.
    """
    b, z, a = (np.radians(np.asarray(x, dtype=float)) for x in (tilt, zenith, azimuth_difference))
    return np.cos(b) + np.sin(b) * np.tan(z) * np.cos(a) - 1.0


GUARD_RADIUS = 3.0
"""Heights of the head: within this radius lie 90 % of the downward view, r^2 / (r^2 + h^2) (view factor of a disc)."""

SMALLEST_HEIGHT = 0.1
"""m: closer to what it looks at, a head is in it: heights of canopies are noted to 0.1 m (common practice, no source)."""

NEAR_HEIGHT = 1.0
"""m: closer to what it looks at, a head sees more of its own carrier and little ground (methods of this project)."""


def view_within(radius, height):
    """Fraction of the downward view of a level head at a height that comes from within a radius: r^2 / (r^2 + h^2).

    radius, height in m (same unit). View factor of a disc below an element parallel to it (closed form).
    """
    return radius**2 / (radius**2 + height**2)


def view_within_strip(half_width, height):
    """Fraction of the downward view of a level head over the middle of a long strip that the strip fills.

    half_width, height in m: sin(arctan(half_width / height)). View factor of an endless strip below an element
    parallel to it (closed form).
    """
    return np.sin(np.arctan2(half_width, height))
