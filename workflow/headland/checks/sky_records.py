"""Records of a sky in steps of time, as shade and sets are compared in them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import pandas as pd

from headland.base.times import since_1970
from headland.files.tables import PIECE

SHADE_LEAST, SHADE_LEVEL = 0.10, 1.0
"""Relative drop of SW_in that a shadow causes at least, and degrees to which a head is levelled (one standard
uncertainty; common practice, no source)."""
FAR_OUT = 3.6
"""Standard uncertainties beyond which a normal error is in 0.03 % of cases (two-sided chance of 3.2e-4)."""
LONGEST_STEP = 10.0
"""s: records further apart are averages, in which a shadow and a cloud look alike (common practice, no
source)."""


def shadow_limit(elevation) -> np.ndarray:
    """Relative drop of SW_in that two heads at odds in level can't explain: 0.10 + 3.6 sqrt 2 tan 1 deg tan
    Z.

    elevation: of the sun, degrees; Z is its zenith angle.
    """
    up = np.radians(np.clip(np.asarray(elevation, dtype=float), 1.0, 90.0))
    return SHADE_LEAST + FAR_OUT * math.sqrt(2.0) * math.radians(SHADE_LEVEL) / np.tan(up)


def smoothed(values: pd.Series, seconds: float, how: str = "mean") -> pd.Series:
    """Running mean, max or min over so many seconds around each sample of a series in time; gaps are
    ignored."""
    return getattr(values.rolling(pd.Timedelta(seconds=seconds), center=True, min_periods=1), how)()


def binned(moments, frame: pd.DataFrame, step: float) -> pd.DataFrame:
    """Means over steps of so many seconds, by the step's middle. moments: s. frame: numbers, a row a
    moment."""
    return pd.concat(list(binned_pieces(moments, frame, list(frame.columns), step)))


def binned_pieces(
    moments, frame: pd.DataFrame, columns: Sequence[str], step: float
) -> Iterator[pd.DataFrame]:
    """`binned` for some columns of a long record, piece by piece; no step is split between two pieces.

    Times that do not ascend are in one piece.
    """
    number = np.floor(np.asarray(moments, dtype=float) / step)
    ascending = np.all(number[1:] >= number[:-1])
    cuts = np.unique(np.searchsorted(number, number[PIECE::PIECE])) if ascending else np.zeros(0, int)
    for start, end in pairwise([0, *cuts[cuts > 0].tolist(), len(number)]):
        means = frame.iloc[start:end][list(columns)].groupby(number[start:end]).mean()
        means.index = pd.to_datetime((means.index.to_numpy() + 0.5) * step * 1e9, unit="ns", utc=True)
        yield means


def stretches_of(times: pd.DatetimeIndex, step: float) -> Iterator[tuple[float, float]]:
    """Start and end, s, of the uninterrupted stretches in ascending middles of steps."""
    seconds = since_1970(times)
    if not len(seconds):
        return
    for part in np.split(seconds, np.flatnonzero(np.diff(seconds) > 1.5 * step) + 1):
        yield part[0] - step / 2, part[-1] + step / 2
