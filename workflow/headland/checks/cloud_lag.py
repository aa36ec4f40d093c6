"""Clocks of two sets checked against each other by the clouds that both saw."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

LAG_BIN = 5.0
"""s: the samples of two sets are compared in bins of this width (common practice, no source)."""
LONGEST_LAG, SMALLEST_LAG = 900.0, 60.0
"""s: the longest lag that is tried, and the smallest that is a clock's: clouds reach neighbouring fields
within a minute (common practice, no source)."""
SURE_LAG, RIVAL_LAG = 0.8, 0.1
"""Correlation from which a lag is sure, and by which it must exceed that of lags more than SMALLEST_LAG away
(common practice, no source)."""
FEWEST_BINS = 60
"""Bins that two sets must have in common: 5 min (common practice, no source)."""
EDGE, EDGE_BINS, FEWEST_EDGES = 0.2, 6, 4
"""Change of ln(SW_in / clear sky) within so many bins that is the edge of a cloud, and edges that each set
must have seen: a head that turns or leans changes less (common practice, no source)."""


def clearness(samples: pd.DataFrame) -> pd.Series:
    """ln(SW_in / clear sky) over seconds, by a set's own clock, where the sun is up and SW_in is positive.

    samples: `seconds`, `sw_in`, `sw_clear` (W m-2).
    """
    up = samples[(samples["sw_clear"] > 50.0) & (samples["sw_in"] > 0.0)]
    return pd.Series(
        np.log(up["sw_in"].to_numpy(float) / up["sw_clear"].to_numpy(float)), up["seconds"].to_numpy()
    )


def lag_between(a: pd.Series, b: pd.Series) -> float:
    """The lag by which clouds reach one set after another, s; NaN where the clouds don't show it.

    They do not on a cloudless day, under an even layer, and where another lag fits nearly as well.

    Parameters
    ----------
    a, b : `clearness` of two sets.

    Returns
    -------
    The lag of b, in steps of LAG_BIN up to LONGEST_LAG.
    """
    first, second = (
        s.groupby(np.floor(s.index.to_numpy() / LAG_BIN).astype(np.int64)).mean() for s in (a, b)
    )
    most = int(LONGEST_LAG / LAG_BIN)
    steps = np.arange(-most, most + 1)
    fits = np.array([_correlation(first, second, int(step)) for step in steps])
    if not np.isfinite(fits).any():
        return math.nan
    best = min(np.flatnonzero(fits == np.nanmax(fits)), key=lambda k: abs(steps[k]))
    away = np.abs(steps - steps[best]) * LAG_BIN > SMALLEST_LAG
    rival = np.nanmax(np.append(fits[away], -1.0))
    sure = fits[best] >= SURE_LAG and fits[best] - rival >= RIVAL_LAG
    return float(steps[best] * LAG_BIN) if sure else math.nan


def _correlation(first: pd.Series, second: pd.Series, step: int) -> float:
    """Correlation of two binned series, the second one earlier by so many bins; NaN without clouds in
    both."""
    common, of_a, of_b = np.intersect1d(
        first.index, second.index - step, assume_unique=True, return_indices=True
    )
    if len(common) < FEWEST_BINS:
        return math.nan
    pair = np.stack([first.to_numpy()[of_a], second.to_numpy()[of_b]])
    if min(_edges(values, common) for values in pair) < FEWEST_EDGES:
        return math.nan
    return float(np.corrcoef(pair)[0, 1])


def _edges(values: np.ndarray, bins: np.ndarray) -> int:
    """Edges of clouds in a series. values: ln(SW_in / clear sky). bins: their numbers, ascending."""
    near = bins[EDGE_BINS:] - bins[:-EDGE_BINS] == EDGE_BINS
    steep = near & (np.abs(values[EDGE_BINS:] - values[:-EDGE_BINS]) > EDGE)
    return int(np.sum(np.diff(steep.astype(np.int8), prepend=0) > 0))
