"""The person as an obstacle: trunk, legs, head and pole in the views, shadows, and the swing of the heads."""

import numpy as np

from .fields import view_points
from .path import Path
from .people import Carrier
from .seeds import stream, wander
from .sky import KELVIN, SIGMA, Incoming

RAYS = 1500
SHADOW_POINTS = 400
AZIMUTHS = np.arange(0.0, 361.0, 10.0)
HEIGHTS = np.array([0.0, 2.0, 5.0, 8.0, 12.0, 17.0, 23.0, 30.0, 40.0, 50.0, 65.0, 90.0])
SWING_BAND = (0.3, 2.0)  # Hz, world.md
CLOTHES_EMISSIVITY = 0.95


def half_width(carrier: Carrier, z: np.ndarray) -> np.ndarray:
    """Return half of the person's mean width at heights z, m: legs, trunk with arms, neck and hat."""
    part = z / carrier.height
    legs, trunk, cap = 0.32 * carrier.shoulder, 0.46 * carrier.shoulder, 0.5 * carrier.cap
    width = np.select([part < 0.0, part < 0.48, part < 0.83, part < 1.0], [0.0, legs, trunk, cap], 0.0)
    return width


class Obstacle:
    """What one person hides, by ray tracing; distances from the instrument, which is `reach` away."""

    def __init__(self, carrier: Carrier):
        self.carrier = carrier
        right, forward = view_points(RAYS)
        self.lower_share = float(self._hides(right, forward).mean())
        radius, angle = np.hypot(right, forward), np.arctan2(right, forward)
        along, lateral = carrier.reach * np.cos(angle), np.abs(carrier.reach * np.sin(angle))
        # A cosine-weighted ray rises by 1/radius for each metre.
        up = carrier.head_height + along / np.maximum(radius, 1e-9)
        self.upper_share = float(((along > 0.0) & (lateral < half_width(carrier, up))).mean())
        self.shadow = self._shadow_table()

    def _hides(self, right: np.ndarray, forward: np.ndarray) -> np.ndarray:
        """Return whether the person is before places on the ground, given in heights of the instrument."""
        h, reach = self.carrier.head_height, self.carrier.reach
        distance, angle = h * np.hypot(right, forward), np.arctan2(right, forward)
        along, lateral = reach * np.cos(angle), np.abs(reach * np.sin(angle))
        z = h * (1.0 - along / np.maximum(distance, 1e-9))
        return (along > 0.0) & (distance > along) & (lateral < half_width(self.carrier, z))

    def _shadow_table(self) -> np.ndarray:
        """Return the share of the lower view in the person's shadow, (relative azimuth, sun's height).

        The azimuth is from the person's direction, seen from the instrument, to the sun.
        """
        right, forward = view_points(SHADOW_POINTS)
        h = self.carrier.head_height
        gx, gy = h * right, h * forward
        azimuth = np.radians(AZIMUTHS)[:, None, None]
        tangent = np.tan(np.radians(np.maximum(HEIGHTS, 0.5)))[None, :, None]
        away_x, away_y = -gx, self.carrier.reach - gy
        along = away_x * np.sin(azimuth) + away_y * np.cos(azimuth)
        lateral = np.abs(away_x * np.cos(azimuth) - away_y * np.sin(azimuth))
        z = along * tangent
        hidden = self._hides(right, forward)  # the person is before these places
        dark = (along > 0.0) & (lateral < half_width(self.carrier, z)) & ~hidden
        return dark.mean(axis=2)

    def shadow_share(self, relative: np.ndarray, height: np.ndarray) -> np.ndarray:
        """Return the share of the lower view in shadow, for the sun's azimuth from the person and height,
        degrees."""
        across = np.clip(relative % 360.0, 0.0, 359.999) / 10.0
        column = np.interp(np.clip(height, 0.0, 90.0), HEIGHTS, np.arange(len(HEIGHTS)))
        i, j = across.astype(int), np.minimum(column.astype(int), len(HEIGHTS) - 2)
        a, b = across - i, column - j
        table = self.shadow
        low = table[i, j] * (1 - a) + table[i + 1, j] * a
        high = table[i, j + 1] * (1 - a) + table[i + 1, j + 1] * a
        return low * (1 - b) + high * b

    def shades_beam(self, relative: np.ndarray, height: np.ndarray) -> np.ndarray:
        """Return the share of the beam that the person keeps from the upper head; edges are 5 cm soft."""
        angle = np.radians(relative)
        along, lateral = self.carrier.reach * np.cos(angle), np.abs(self.carrier.reach * np.sin(angle))
        z = self.carrier.head_height + along * np.tan(np.radians(np.clip(height, 0.0, 85.0)))
        width = half_width(self.carrier, z)
        soft = np.clip((width - lateral) / 0.05 + 0.5, 0.0, 1.0)
        return np.where((along > 0.0) & (height > 0.0) & (width > 0.0), soft, 0.0)


def swing(seed: int, name: str, *, carrier: Carrier, times: np.ndarray, moving: np.ndarray) -> np.ndarray:
    """Return tilt forward and right, degrees, shape (2, n): lean, pass and swing, standing a fifth of the
    swing.

    The spectrum has lines at the stride and twice the stride (people walk at 1.6 to 2.1 steps a second),
    and a
    slow sway; all within SWING_BAND.
    """
    rng = stream(seed, "swing", name)
    step = times[1] - times[0]
    n = len(times)
    tilt = np.zeros((2, n))
    strength = carrier.swing * np.where(moving, 1.0, 0.2)
    for axis in range(2):
        main = carrier.stride * (1.0 if axis == 1 else 2.0)
        lines = ((min(main, SWING_BAND[1]), 0.75), (carrier.stride, 0.4), (rng.uniform(0.3, 0.6), 0.5))
        for frequency, share in lines:
            phase = 2 * np.pi * frequency * times + np.cumsum(rng.standard_normal(n)) * 0.15 * np.sqrt(step)
            size = share * np.exp(0.3 * wander(rng, n, 8.0 / step) - 0.1)
            tilt[axis] += strength * size * np.cos(phase + rng.uniform(0, 2 * np.pi))
    return tilt


def lean(seed: int, name: str, carrier: Carrier, path: Path) -> np.ndarray:
    """Return the slow part of the tilt, degrees, shape (2, n): the person's own and another one for each
    pass."""
    rng = stream(seed, "lean", name)
    spread = rng.normal(0.0, carrier.lean_spread, (2, path.leg.max() + 2))
    slow = 0.3 * carrier.lean_spread * np.stack([wander(rng, len(path.t), 40.0) for _ in range(2)])
    return np.array(carrier.lean)[:, None] + spread[:, path.leg + 1] + slow


def normal_of(tilt: np.ndarray, heading: np.ndarray) -> np.ndarray:
    """Return the head's axis (east, north, up) from tilt forward and right, degrees, and the heading."""
    along = np.radians(heading)
    forward, right = np.tan(np.radians(tilt))
    axis = np.stack(
        [
            forward * np.sin(along) + right * np.cos(along),
            forward * np.cos(along) - right * np.sin(along),
            np.ones_like(forward),
        ]
    )
    return axis / np.sqrt((axis**2).sum(axis=0))


def sun_angles(sky: Incoming) -> tuple[np.ndarray, np.ndarray]:
    """Return height and azimuth of the sun, degrees."""
    height = np.degrees(np.arcsin(np.clip(sky.sun[2], -1.0, 1.0)))
    return height, np.degrees(np.arctan2(sky.sun[0], sky.sun[1]))


def body_light(carrier: Carrier, sky: Incoming, toward: np.ndarray, reflected: np.ndarray) -> np.ndarray:
    """Return the light that the person's side towards the instrument gives off, W m-2.

    toward: azimuth from the person to the instrument, degrees.
    """
    height, azimuth = sun_angles(sky)
    facing = np.maximum(np.cos(np.radians(azimuth - toward)), 0.0) * np.cos(np.radians(height))
    return carrier.clothes_albedo * (sky.beam * facing + 0.5 * sky.diffuse + 0.5 * reflected)


def body_warmth(carrier: Carrier, air: np.ndarray, sky: Incoming) -> np.ndarray:
    """Return the longwave that the person gives off, W m-2: clothes warm up in the sun, and are 3 K over
    the air at least."""
    warm = air + KELVIN + 3.0 + carrier.clothes_warmth * np.minimum(sky.level / 900.0, 1.2)
    return CLOTHES_EMISSIVITY * SIGMA * warm**4 + (1.0 - CLOTHES_EMISSIVITY) * sky.longwave


def passer(path: Path, other: Path | None, height: float) -> np.ndarray:
    """Return the share of the lower view that the other set's person hides when one overtakes the other.

    A person 0.4 m wide at a distance d hides 0.4 / (2 pi d) of the directions, of what lies beyond d.
    """
    if other is None:
        return np.zeros(len(path.t))
    distance = np.maximum(np.hypot(path.east - other.east, path.north - other.north), 0.8)
    return 0.4 / (2 * np.pi * distance) * height**2 / (height**2 + distance**2)
