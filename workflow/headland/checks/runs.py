"""Runs of a logger and intervals of the notes as spans of time, and how much of it they share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from headland.base.times import recorded_runs, since_1970

SHORTEST_GAP = 2.0
"""s: intervals shorter than this count as this long, so that gaps under 5 s are lost rows (common practice,
no source)."""


def runs(moments, interval: float) -> np.ndarray:
    """Start and end of each uninterrupted run of samples, s: (runs x 2).

    Parameters
    ----------
    moments : ascending middles of samples, s.
    interval : s.
    """
    moments = np.asarray(moments, dtype=float)
    if not len(moments):
        return np.zeros((0, 2))
    numbers = recorded_runs(moments, max(interval, SHORTEST_GAP))
    first = np.flatnonzero(np.diff(numbers, prepend=-1))
    last = np.append(first[1:], len(moments)) - 1
    return np.column_stack([moments[first], moments[last]]) + np.array([-0.5, 0.5]) * interval


def spans_of(noted: pd.DataFrame) -> np.ndarray:
    """Start and end of each noted interval, s since 1970: (intervals x 2). noted: with `start_utc`,
    `end_utc`."""
    ends = [since_1970(noted[name]) for name in ("start_utc", "end_utc")]
    return np.column_stack(ends)


NOTED_WITHIN = {"second": 30.0, "minute": 75.0}
"""s: by so much a note in seconds, or in whole minutes, may miss its run: rounding, late starts, a watch
(common practice, no source)."""


def noted_within(noted: pd.DataFrame) -> float:
    """How far notes may be from their runs, s. noted: with `start_utc`."""
    whole = len(noted) > 0 and bool((noted["start_utc"].dt.second == 0).all())
    return NOTED_WITHIN["minute" if whole else "second"]


def close(span, others: np.ndarray, within: float) -> bool:
    """Whether a span of time is within some seconds of one of others. span: start and end, s; others:
    (n x 2)."""
    start, end = span
    return bool(len(others) and ((others[:, 0] < end + within) & (others[:, 1] > start - within)).any())


def union(intervals) -> np.ndarray:
    """The same time without overlaps, ascending: (n x 2)."""
    merged: list[list[float]] = []
    for start, end in sorted(map(tuple, np.asarray(intervals, dtype=float).reshape(-1, 2))):
        if merged and start <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], end)
        else:
            merged.append([start, end])
    return np.array(merged, dtype=float).reshape(-1, 2)


def duration(intervals: np.ndarray) -> float:
    """Total length of disjoint intervals, s."""
    return float(np.sum(intervals[:, 1] - intervals[:, 0]))


def shared(recorded: np.ndarray, noted: np.ndarray, shift=0.0) -> np.ndarray:
    """Seconds that disjoint runs and notes have in common once the notes' times are shifted.

    Parameters
    ----------
    recorded, noted : (n x 2), s.
    shift : s to add to the notes' times, array or number.

    Returns
    -------
    An array shaped like `shift`.
    """
    shift = np.asarray(shift, dtype=float)
    if not len(recorded) or not len(noted):
        return np.zeros(shift.shape)
    edges = recorded.ravel()
    within_run = np.arange(len(edges) - 1) % 2 == 0
    passed = np.concatenate([[0.0], np.cumsum(np.diff(edges) * within_run)])
    until = np.interp(np.add.outer(noted, shift), edges, passed)
    return (until[:, 1] - until[:, 0]).sum(axis=0)


def agreement(recorded: Sequence[np.ndarray], noted: Sequence[np.ndarray], shift=0.0) -> np.ndarray:
    """Intersection over union of runs and notes, over all sets together, with the notes shifted by `shift`
    s."""
    pairs = list(zip(recorded, noted, strict=True))
    common = sum(shared(r, n, shift) for r, n in pairs)
    total = sum(duration(r) + duration(n) for r, n in pairs)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(total - common > 0, common / (total - common), 0.0)
