"""Tests of a series of samples that need no knowledge of what was measured."""

from __future__ import annotations

import numpy as np

RUN_FEWEST = 5
"""Fewest consecutive samples of which a state can be said to last (common practice, no source)."""


def lasting(count, interval: float, shortest: float, fewest: int):
    """Whether consecutive samples are enough, and last long enough, to count.

    Parameters
    ----------
    count : number or array of samples.
    interval : s between samples.
    shortest : s.
    fewest : samples.

    Returns
    -------
    A truth value, or an array of them shaped like `count`.
    """
    return (count >= fewest) & (count * interval >= shortest)


def stretches(hit) -> list[tuple[int, int]]:
    """First index and index after the last of each uninterrupted stretch of true values."""
    edges = np.flatnonzero(np.diff(np.asarray(hit, bool).astype(np.int8), prepend=0, append=0))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def long_runs(hit, interval: float, shortest: float, fewest: int = RUN_FEWEST) -> np.ndarray:
    """Where a truth value holds for at least `shortest` s and `fewest` consecutive samples.

    Parameters
    ----------
    hit : one value a sample.
    interval : s between samples.

    Returns
    -------
    One truth value a sample.
    """
    hit = np.asarray(hit, bool)
    kept = np.zeros(len(hit), bool)
    for start, end in stretches(hit):
        kept[start:end] = lasting(end - start, interval, shortest, fewest)
    return kept


def running_mean(values: np.ndarray, width: int) -> np.ndarray:
    """Means over each `width` neighbours in a row, without those cut off at the ends.

    Parameters
    ----------
    values : rows x n.

    Returns
    -------
    Rows x (n - width + 1).
    """
    sums = np.cumsum(np.pad(values, ((0, 0), (1, 0))), axis=1)
    return (sums[:, width:] - sums[:, :-width]) / width


def resolution(values) -> float:
    """The smallest step between successive values of a series; 0 where it never changes."""
    steps = np.abs(np.diff(np.asarray(values, float)))
    steps = steps[np.isfinite(steps) & (steps > 0)]
    return float(steps.min()) if len(steps) else 0.0
