"""Statistics of a series of samples: independent looks at the ground, noise, trend, memory of the sun."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

VIEW_LENGTH = 9.0 * math.pi**2 / 32.0
"""Correlation length along the walk of what a downward head sees, in heights of the head.

9 pi^2 / 32 = 2.776 (closed form, white ground)."""

CAUTION = 1.5
"""Divisor of the number of independent samples: one short walk tells little of the ground's own correlation
(docs/method.md, summarise)."""

SKY_MEMORY = 600.0
"""s: time constant with which a surface forgets the sun it had before (common practice, no source)."""

NOISE_INTERVAL = 10.0
"""s: differences between records further apart are weather, not noise (common practice, no source)."""


def effective_samples(count, autocorrelation):
    """Number of independent samples in `count` correlated ones: n / (1 + 2 sum (1 - k/n) rho_k).

    autocorrelation: rho_1, rho_2, …. General form of textbooks of statistics, exact for the mean of a
    stationary series.
    """
    rho = np.asarray(autocorrelation, dtype=float)
    lags = np.arange(1, len(rho) + 1)
    return count / (1.0 + 2.0 * np.sum((1.0 - lags / count) * rho))


def autocorrelation(values):
    """Autocorrelation rho_1, rho_2, … of a series up to its first zero; empty where the series does not
    vary.
    """
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

    Equation 15. The smallest of three numbers, divided by a caution of 1.5: the samples, the walk's length
    over the view's correlation length 2.776 h, and the effective number from the autocorrelation of each
    residual.

    Parameters
    ----------
    count : of samples.
    length : of the walk, m.
    height : of the head, m; residuals, series of samples.
    """
    numbers = [count, length / (VIEW_LENGTH * height)]
    numbers += [effective_samples(len(r), autocorrelation(r)) for r in residuals if len(r) >= 3]
    return max(min(numbers) / CAUTION, 0.0)


def without_trend(values, *others):
    """A series minus the part that follows the given others, so that warming during the walk is no scatter.

    Least squares with a constant. Too few samples for it give zeros.
    """
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
    """Mean of all samples so far at each sample, weighted by exp(-age / memory): what a surface has lately
    received.

    Parameters
    ----------
    seconds : ascending.
    values : of which NaN has no weight.
    memory : s.
    """
    times = pd.to_datetime(np.asarray(seconds, dtype=float) * 1e9)
    half_life = f"{round(memory * math.log(2.0) * 1e9)}ns"
    series = pd.Series(np.asarray(values, dtype=float))
    weighted = series.ewm(halflife=half_life, times=times.to_numpy())  # type: ignore[arg-type]
    return weighted.mean().to_numpy()


def noise_of_mean(values, interval: float) -> float:
    """Standard error of a mean from noise between samples: sqrt(sum d^2 / 2 (n - 1)) / sqrt(n), d
    successive differences.

    Mean square successive difference after von Neumann. It is an upper bound, since a sky that changes
    within a sample counts as noise. 0 for one sample, and for records 10 s or more apart: these are
    averages that differ by the weather.

    Parameters
    ----------
    values : equally spaced in time.
    interval : between samples, s.
    """
    values = np.asarray(values, dtype=float)
    if len(values) < 2 or interval >= NOISE_INTERVAL:
        return 0.0
    return float(np.sqrt(np.mean(np.diff(values) ** 2) / 2.0 / len(values)))
