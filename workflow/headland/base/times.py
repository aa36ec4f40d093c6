"""Times as numbers, and the runs of a record."""

from __future__ import annotations

import numpy as np
import pandas as pd

LARGEST_CLOCK_OFFSET = 900.0
"""s: a logger's clock that a check finds further off than this is not corrected but questioned (common
practice, no source).
"""


def recorded_runs(seconds, interval: float):
    """The number of the uninterrupted run to which each sample belongs, from 0.

    seconds: ascending times of samples. A gap of more than two and a half intervals ends a run: the switch
    was off.
    """
    return (
        np.concatenate([[0], np.cumsum(np.diff(seconds) > 2.5 * interval)]).astype(int)
        if len(seconds)
        else np.zeros(0, int)
    )


def since_1970(times) -> np.ndarray:
    """Seconds since 1970 of times in UTC, whole to the microsecond.

    times: a DatetimeIndex, a Series of times or anything that makes a DatetimeIndex.
    """
    return pd.DatetimeIndex(times).as_unit("us").asi8 / 1e6
