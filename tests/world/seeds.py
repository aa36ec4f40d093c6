"""Random streams: one seed, split by stable names, so that a new draw in one part leaves the others as they
were."""

import zlib

import numpy as np


def stream(seed: int, *names: object) -> np.random.Generator:
    """Return the generator of a named part of the world.

    Parameters: seed, the day's only random number; names, the path of the part (texts or whole numbers).
    """
    keys = [zlib.crc32(str(name).encode()) for name in names]
    return np.random.default_rng(np.random.SeedSequence([int(seed), *keys]))


def wander(rng: np.random.Generator, n: int, memory: float) -> np.ndarray:
    """Return a first-order autoregressive series with unit variance; memory is counted in steps."""
    from scipy.signal import lfilter

    phi = float(np.exp(-1.0 / max(memory, 1e-6)))
    noise = rng.standard_normal(n) * np.sqrt(1.0 - phi * phi)
    start = rng.standard_normal() * phi
    return lfilter([1.0], [1.0, -phi], noise, zi=[start])[0]


def log_uniform(rng: np.random.Generator, low: float, high: float, size: int | None = None):
    """Return values with an even spread of their logarithm between two limits."""
    return np.exp(rng.uniform(np.log(low), np.log(high), size))
