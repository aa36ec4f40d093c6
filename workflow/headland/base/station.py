"""A fixed station's record: the time that each row covers, and its incoming terms as those of the sky
over the walks.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.base.times import since_1970

NAME = "station.csv"
"""The value of `incoming_set` where the incoming terms are the station's; no set can have this name."""

STAMP_TO_END = {"start": 1.0, "middle": 0.5, "end": 0.0}
"""Intervals from the stamp to the end of the averaging interval, by what a stamp names."""


def records(station: pd.DataFrame, stamp: str) -> tuple[pd.DataFrame, np.ndarray, float]:
    """The rows in order of time, the end of each one's averaging interval (s since 1970) and the interval (s,
    the median step; NaN for fewer than two rows).

    station: rows of station.csv. stamp: `start`, `middle` or `end` of the interval, as the station's times
    are meant.
    """
    rows = (
        station[station["time_utc"].notna()]
        .sort_values("time_utc", kind="stable")
        .drop_duplicates("time_utc")
        .reset_index(drop=True)
    )
    stamps = since_1970(rows["time_utc"])
    step = float(np.median(np.diff(stamps))) if len(rows) > 1 else np.nan
    return rows, stamps + STAMP_TO_END[stamp] * step, step


def incoming(station: pd.DataFrame, stamp: str, remembered) -> tuple[pd.DataFrame, float]:
    """The station's incoming terms as a sky monitor's samples (`summarise.with_incoming_of`), at the middle
    of each interval, and the interval (s).

    remembered: `summarise.remembered`. The station's own errors are in terms of the flux, so it has no body
    temperature and no net longwave.
    """
    rows, ends, step = records(station, stamp)
    seconds = ends - step / 2.0
    sw_in = rows["sw_in"].to_numpy(float)
    return pd.DataFrame(
        {
            "seconds": seconds,
            "sw_in": sw_in,
            "lw_in": rows["lw_in"].to_numpy(float),
            "lw_in_net": 0.0,
            "body_temperature": 0.0,
            "sw_in_memory": remembered(seconds, sw_in) if len(rows) else sw_in,
            "used": rows[["sw_in", "lw_in"]].notna().all(axis=1),
        }
    ), step
