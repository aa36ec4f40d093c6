"""Stored runs as rows of the look's page."""

import numpy as np
import pandas as pd

from headland.field.look_page import MOST_RUNS, runs_table


def stored(*starts, lasts=60, **changes):
    seconds = np.concatenate([1779357600.0 + start + np.arange(float(lasts)) for start in starts])
    times = pd.DatetimeIndex(pd.to_datetime(seconds * 1e9, unit="ns", utc=True))
    frame = {"seconds": seconds, "time_utc": times, "sw_in": 600.0, "sw_out": 120.4, "lw_in": 330.0,
             "lw_out": np.nan, "body_temperature": 21.26}  # fmt: skip
    return pd.DataFrame(frame | changes)


def test_a_row_a_run_in_local_time_with_its_means():
    rows = runs_table(stored(0, 600), 1.0, "Europe/Zurich")
    assert [(row["start"], row["end"], row["utc"]) for row in rows] == [
        ("12:00:00", "12:00:59", "10:00:00"),
        ("12:10:00", "12:10:59", "10:10:00"),
    ]
    assert rows[0]["date"] == "2026-05-21" and rows[0]["samples"] == "60"
    assert [rows[0][c] for c in ("sw_in", "sw_out", "lw_in", "lw_out", "body")] == [
        "600",
        "120",
        "330",
        "–",
        "21.3",
    ]


def test_nothing_stored_is_no_row_and_very_many_runs_are_cut():
    assert runs_table(stored(0).iloc[:0], 1.0, "Europe/Zurich") == []
    assert runs_table(pd.DataFrame(), 1.0, "Europe/Zurich") == []
    assert len(runs_table(stored(*(10 * k for k in range(MOST_RUNS + 5)), lasts=3), 1.0, "UTC")) == MOST_RUNS
