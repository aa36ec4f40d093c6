"""What smaller errors would do to an interval, and to the verdicts on pairs of surfaces."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.uncertainty.differences import p_values, significant
from headland.uncertainty.distributions import NORMAL_95


def narrowed(shares: pd.DataFrame, left: Mapping[str, float]) -> pd.Series:
    """Factor on the half width of each number's interval where some sources shrink.

    Parameters
    ----------
    shares : parts of the variance, sources by numbers; each column adds up to 1
    left : what is left of a source's half width, as a factor, by source; others keep theirs

    Returns
    -------
    sqrt(1 - sum of share (1 - left^2)), by number. Source: JCGM 100:2008, eq. 10; method.md, (8.9d).
    """
    lost = pd.Series({source: 1.0 - factor**2 for source, factor in left.items()}, dtype=float)
    known = shares.reindex(lost.index).fillna(0.0)
    return np.sqrt((1.0 - known.mul(lost, axis=0).sum()).clip(lower=0.0))


def told_apart(difference: np.ndarray, half_width: np.ndarray) -> np.ndarray:
    """Which pairs would differ with these half widths of their intervals, in the unit of the difference.

    Source: Holm 1979, as for the verdicts (method.md, section 9.6).
    """
    value, uncertainty = np.asarray(difference, dtype=float), np.asarray(half_width, dtype=float) / NORMAL_95
    return significant(p_values(value, uncertainty), np.isfinite(value) & np.isfinite(uncertainty))
