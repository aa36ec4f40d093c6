"""Clouds as a pattern that moves over the site with the wind, seen along lanes (one lane for each field).

The pattern is a function of the time at the site's origin. A place farther downwind sees it later; a lane
beside
the origin sees each edge a little earlier or later, because edges are not square to the wind.
"""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d

from .seeds import log_uniform, stream, wander

LEAD = 900.0  # s of pattern before midnight
PATTERN_STEP = 1.0  # s
PATTERN = np.arange(-LEAD, 86400.0 + LEAD, PATTERN_STEP)
KINDS = ("clear", "haze", "cirrus", "scattered", "broken", "overcast")
MEAN_COVER = {"clear": 0.0, "haze": 0.0, "cirrus": 0.15, "scattered": 0.3, "broken": 0.6, "overcast": 1.0}
EDGE = (2.0, 30.0)  # s, world.md
LENGTHS = (8.0, 1500.0)  # s, of clouds; power law of chords with exponent -1.66, Wood and Field 2011
CHORD_EXPONENT = 1.66
CLOUD_LIGHT = (0.18, 0.55)  # of clear global under a cumulus (from memory)
OVERCAST_LIGHT = (0.08, 0.50)  # world.md
ENHANCEMENT = (
    0.42  # largest gain near an edge, share of clear global: 1.3 to 1.5 seen by Gueymard 2017 (from memory)
)


@dataclass(frozen=True)
class Lane:
    """What one lane sees on PATTERN: beam transmittance, gain of clear diffuse, added diffuse and cover
    overhead."""

    beam: np.ndarray
    clear_part: np.ndarray
    added: np.ndarray  # as a share of clear global
    cover: np.ndarray  # 0 to 1, of the whole sky, for the longwave


def power_law(rng: np.random.Generator, n: int, limits: tuple[float, float]) -> np.ndarray:
    """Return lengths with density L**-CHORD_EXPONENT between two limits."""
    p = 1.0 - CHORD_EXPONENT
    low, high = limits[0] ** p, limits[1] ** p
    return (low + rng.uniform(size=n) * (high - low)) ** (1.0 / p)


def smooth(series: np.ndarray, spread: float) -> np.ndarray:
    """Return the series smoothed by three boxes, close to a bell of the given standard deviation in steps."""
    box = max(int(round(2.0 * spread)), 1)
    for _ in range(3):
        series = uniform_filter1d(series, box, mode="nearest")
    return series


class Clouds:
    """The pattern of one day."""

    def __init__(self, seed: int, kind: str):
        rng = stream(seed, "clouds")
        self.kind = kind
        self.speed = float(rng.uniform(4.0, 16.0))  # m s-1
        self.toward = float(rng.uniform(0.0, 360.0))  # degrees from north, direction the clouds move to
        self.base = float(rng.uniform(500.0, 1500.0) if kind == "overcast" else rng.uniform(900.0, 2200.0))
        if kind == "cirrus":
            self.base = float(rng.uniform(7000.0, 9500.0))
        self.seed = seed
        n = len(PATTERN)
        slow = wander(rng, n, 900.0)
        fast = wander(rng, n, rng.uniform(20.0, 120.0))
        self.texture = np.exp(0.18 * fast + 0.15 * slow)
        self.slow = slow
        self.fast = fast
        self.thickness = float(rng.uniform(0.08, 0.45))
        self.light = float(log_uniform(rng, OVERCAST_LIGHT[0] * 1.3, OVERCAST_LIGHT[1] * 0.8))
        if kind in ("scattered", "broken"):
            self._draw_field(rng)

    def _draw_field(self, rng: np.random.Generator) -> None:
        """Draw edges, edge widths, tilt and light of each cloud."""
        n = 9000
        wanted = np.clip(MEAN_COVER[self.kind] + rng.uniform(-0.12, 0.12), 0.12, 0.8)
        clouds = power_law(rng, n, LENGTHS)
        gaps = power_law(rng, n, LENGTHS)
        # Clumps: the mean length of gaps wanders from one quarter of an hour to the next.
        clump = np.exp(0.5 * wander(rng, n, 12.0))
        gaps = gaps * clump * (clouds.sum() / (gaps * clump).sum()) * (1.0 - wanted) / wanted
        gaps = np.maximum(gaps, 3.0)
        ends = np.cumsum(clouds + gaps) - LEAD - 600.0
        keep = ends < PATTERN[-1] + 3000.0
        self.end = ends[keep]
        self.start = self.end - clouds[keep]
        count = len(self.end)
        self.width = log_uniform(rng, EDGE[0], EDGE[1], 2 * count).reshape(2, count)
        self.tilt = np.clip(rng.normal(0.0, 0.8, (2, count)), -2.0, 2.0)
        self.solid = rng.uniform(0.0, 1.0, count) ** 3 * 0.5  # beam left under each cloud
        self.under = rng.uniform(CLOUD_LIGHT[0], CLOUD_LIGHT[1], count)
        self.gain = ENHANCEMENT * rng.beta(1.2, 2.0, (2, count))
        self.reach = log_uniform(rng, 8.0, 90.0, 2 * count).reshape(2, count)

    def delay(self, east: np.ndarray, north: np.ndarray) -> np.ndarray:
        """Return the seconds by which a place sees the pattern later than the origin."""
        toward = np.radians(self.toward)
        return (east * np.sin(toward) + north * np.cos(toward)) / self.speed

    def across(self, east: float, north: float) -> float:
        """Return the distance of a place from the origin's lane, m."""
        toward = np.radians(self.toward)
        return float(east * np.cos(toward) - north * np.sin(toward))

    def lane(self, across: float) -> Lane:
        """Return what the lane at a distance from the origin's sees."""
        one = np.ones_like(PATTERN)
        nothing = np.zeros_like(PATTERN)
        if self.kind in ("clear", "haze"):
            ripple = 1.0 + 0.004 * self.slow
            return Lane(ripple, 1.0 + 0.02 * self.slow, nothing, nothing)
        if self.kind == "cirrus":
            depth = self.thickness * np.exp(0.7 * self.slow + 0.25 * self.fast)
            beam = np.exp(-np.minimum(depth, 2.0))
            # Ice scatters forward: about two thirds of the lost beam arrive as diffuse (from memory).
            return Lane(beam, one, 0.66 * (1.0 - beam) * 0.8, np.minimum(0.3 * depth, 0.4))
        if self.kind == "overcast":
            level = np.clip(self.light * np.exp(0.35 * self.slow + 0.08 * self.fast), *OVERCAST_LIGHT)
            return Lane(nothing, nothing, level, one)
        return self._broken(across)

    def _broken(self, across: float) -> Lane:
        shift = self.tilt * across / self.speed
        longest = 0.45 * (self.end - self.start)
        start = self.start + np.clip(shift[0], -longest, longest)
        end = self.end + np.clip(shift[1], -longest, longest)
        end[:-1] = np.minimum(end[:-1], start[1:] - 0.5)
        knots, shade = edges_to_knots(start, end, self.width)
        mask = np.interp(PATTERN, knots, shade)
        index = np.clip(np.searchsorted(end, PATTERN), 0, len(end) - 1)
        wide = smooth(mask, 6.0)
        overhead = smooth(mask, np.clip(self.base / self.speed, 60, 400))
        past = np.maximum(index - 1, 0)
        after = self.gain[1, past] * np.exp(-np.maximum(PATTERN - end[past], 0.0) / self.reach[1, past])
        before = self.gain[0, index] * np.exp(-np.maximum(start[index] - PATTERN, 0.0) / self.reach[0, index])
        enhancement = np.minimum(after + before, ENHANCEMENT) * (1.0 - wide)
        beam = 1.0 - mask * (1.0 - self.solid[index])
        added = wide * self.under[index] * self.texture * (1.0 - 0.7 * self.solid[index]) + enhancement
        return Lane(beam, (1.0 - wide) * (1.0 + 0.5 * overhead), np.clip(added, 0.0, 0.85), overhead)


def edges_to_knots(start: np.ndarray, end: np.ndarray, width: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return times and shade (0 or 1) between which the shade runs in straight lines.

    An edge is never wider than the cloud or the gap beside it allows.
    """
    length = end - start
    room = np.concatenate([[60.0], np.maximum(start[1:] - end[:-1], 0.2)])
    into = np.minimum(np.minimum(width[0], length * 0.8), room * 0.8) / 2.0
    room_after = np.append(room[1:], 60.0)
    out = np.minimum(np.minimum(width[1], length * 0.8), room_after * 0.8) / 2.0
    knots = np.stack([start - into, start + into, end - out, end + out], axis=1).ravel()
    shade = np.tile([0.0, 1.0, 1.0, 0.0], len(start))
    return np.maximum.accumulate(knots), shade
