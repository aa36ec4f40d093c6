"""Course of air temperature, humidity and wind over one day, with fluctuations of minutes."""

from dataclasses import dataclass

import numpy as np

from .seeds import stream, wander
from .sun import Site, sun_vector

STEP = 10.0  # s, of the day's grid
DAY = 86400.0
GRID = np.arange(0.0, DAY + STEP, STEP)


def saturation(celsius: np.ndarray) -> np.ndarray:
    """Return the saturation vapour pressure over water, Pa (Tetens; Allen et al. 1998, FAO 56, eq. 11)."""
    return 610.8 * np.exp(17.27 * celsius / (celsius + 237.3))


@dataclass(frozen=True)
class Air:
    """Air at 2 m over the whole site, on GRID: degC, Pa, m s-1."""

    temperature: np.ndarray
    vapour: np.ndarray
    wind: np.ndarray

    def at(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return temperature, vapour pressure and wind at times t."""
        return tuple(np.interp(t, GRID, series) for series in (self.temperature, self.vapour, self.wind))


def day_shape(site: Site) -> np.ndarray:
    """Return 0 at the coldest and 1 at the warmest moment: sine by day, exponential by night (Parton and
    Logan 1981)."""
    height = sun_vector(site, GRID)[2]
    up = np.flatnonzero(height > 0.0)
    if len(up) < 60:
        return np.full_like(GRID, 0.3)
    rise, fall = GRID[up[0]], GRID[up[-1]]
    lag = 1.8 * 3600.0  # warmest hour after noon, s: Parton and Logan 1981, a = 1.86 h at 1.5 m (from memory)
    day = np.sin(np.pi * (GRID - rise) / (fall - rise + 2.0 * lag))
    at_fall = np.sin(np.pi * (fall - rise) / (fall - rise + 2.0 * lag))
    after = np.where(fall < GRID, GRID - fall, GRID + DAY - fall)
    night = at_fall * np.exp(-2.2 * after / (DAY - fall + rise))
    return np.where((rise <= GRID) & (fall >= GRID), np.maximum(day, night.min()), night)


def draw_air(seed: int, site: Site, cloudiness: float, warmth: float) -> Air:
    """Return the air of one day.

    Parameters: cloudiness 0 to 1 (damps the course of the day); warmth, degC, the day's mean.
    """
    rng = stream(seed, "air")
    shape = day_shape(site)
    height = np.maximum(sun_vector(site, GRID)[2], 0.0)
    swing = rng.uniform(8.0, 17.0) * (1.0 - 0.65 * cloudiness) * (0.45 + 0.55 * min(1.0, height.max() / 0.8))
    drift = rng.normal(0.0, 1.0) * (GRID / DAY - 0.5)
    n = len(GRID)
    minutes = wander(rng, n, rng.uniform(3, 8)) + 0.7 * wander(rng, n, rng.uniform(15, 40))
    restless = rng.uniform(0.08, 0.30) * (0.3 + height * (1.0 - 0.6 * cloudiness))
    temperature = warmth + swing * (shape - shape.mean()) + drift + minutes * restless
    calm = rng.uniform(0.4, 1.5)
    by_day = rng.uniform(0.5, 4.0)
    gust = np.exp(rng.uniform(0.15, 0.30) * wander(rng, n, rng.uniform(2, 6)) - 0.05)
    slow = np.exp(0.25 * wander(rng, n, rng.uniform(60, 200)))
    wind = np.clip((calm + by_day * shape) * gust * slow, 0.3, 14.0)
    coldest = temperature.min()
    dryness = rng.uniform(-0.5, 6.0)
    vapour = saturation(coldest - dryness) * (1.0 + 0.06 * wander(rng, n, 400) + 0.015 * wander(rng, n, 12))
    return Air(temperature, np.minimum(vapour, 0.985 * saturation(temperature)), wind)
