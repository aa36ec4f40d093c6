"""Statistics of a series of samples: independent looks at the ground, noise, trend, and what a surface remembers of the sun."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

VIEW_LENGTH = 9.0 * math.pi**2 / 32.0
"""Heights of the head: the correlation length along the walk of what a downward head sees, 9 pi^2 / 32 = 2.776 (closed form, white ground)."""

CAUTION = 1.5
"""By this the number of independent samples is divided, since the ground's own correlation is known from one short walk (methods of this project)."""

SKY_MEMORY = 600.0
"""s over which a surface forgets the sun it had before: exponential memory, ten minutes (common practice, no source)."""

NOISE_INTERVAL = 10.0
"""s: differences between records further apart are weather, not noise (common practice, no source)."""


def effective_samples(count, autocorrelation):
    """Number of independent samples in `count` correlated ones: n / (1 + 2 sum (1 - k/n) rho_k).

    autocorrelation: rho_1, rho_2, … (general form, textbooks of statistics; exact for the mean of a stationary series).
    """
    rho = np.asarray(autocorrelation, dtype=float)
    lags = np.arange(1, len(rho) + 1)
    return count / (1.0 + 2.0 * np.sum((1.0 - lags / count) * rho))


def autocorrelation(values):
    """Autocorrelation rho_1, rho_2, … of a series up to its first zero; empty where the series does not vary."""
    values = np.asarray(values, dtype=float) - np.mean(values)
    variance = np.dot(values, values)
    if len(values) < 3 or variance <= 0:
        return np.zeros(0)
    size = 1 << (2 * len(values) - 1).bit_length()
    spectrum = np.fft.rfft(values, size)
    rho = np.fft.irfft(spectrum * np.conj(spectrum), size)[1 : len(values)] / variance
    below = np.flatnonzero(rho <= 0)
    return rho[: below[0]] if len(below) else rho


def independent_samples(count: int, length: float, height: float, *residuals) -> float:
    """How many independent looks at the ground a walk gives.

    The least of: the samples; the walk's length (m) over the view's own correlation length 2.776 h; and the effective number from
    each residual's autocorrelation; divided by a caution of 1.5.
    """
    numbers = [count, length / (VIEW_LENGTH * height)]
    numbers += [effective_samples(len(r), autocorrelation(r)) for r in residuals if len(r) >= 3]
    return max(min(numbers) / CAUTION, 0.0)


def without_trend(values, *others):
    """A series less the part that follows the given others (least squares with a constant), so that warming under the walk is no scatter."""
    values = np.asarray(values, dtype=float)
    design = np.column_stack([np.ones(len(values)), *others])
    if len(values) <= design.shape[1]:
        return np.zeros(len(values))
    return values - design @ np.linalg.lstsq(design, values, rcond=None)[0]


def rate_of_change(seconds, values):
    """Rate of change at each of a series' samples, per s: central differences. 0 for a single sample."""
    values = np.asarray(values, dtype=float)
    return np.gradient(values, np.asarray(seconds, dtype=float)) if len(values) > 1 else np.zeros(len(values))


def remembered(seconds, values, memory: float = SKY_MEMORY):
    """What a surface with an exponential memory (s) has lately had, at each sample: the mean of all samples so far, weighted by exp(-age / memory).

    seconds: ascending. NaN values count for nothing.
    """
    times = pd.to_datetime(np.asarray(seconds, dtype=float) * 1e9)
    return (
        pd.Series(np.asarray(values, dtype=float))
        .ewm(halflife=pd.Timedelta(seconds=memory * math.log(2.0)), times=times)
        .mean()
        .to_numpy()
    )


def noise_of_mean(values, interval: float) -> float:
    """Standard error of a mean by noise from sample to sample alone: from successive differences, sqrt(sum d^2 / 2 (n - 1)) / sqrt(n).

    (von Neumann's mean square successive difference.) A sky that moves within a sample counts as noise here, so this is an upper bound.
    0 for one sample, and for records 10 s (interval) or more apart: they are averages, and what differs between them is weather.
    """
    values = np.asarray(values, dtype=float)
    if len(values) < 2 or interval >= NOISE_INTERVAL:
        return 0.0
    return float(np.sqrt(np.mean(np.diff(values) ** 2) / 2.0 / len(values)))
