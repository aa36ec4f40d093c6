"""Noted intervals that get no sample, or none that counts."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.time_text import time_text
from headland.physics import geometry


def counts(segments: pd.DataFrame, samples: pd.DataFrame, excluded) -> list[Finding]:
    """Findings on segments without samples, or with none left to average. excluded: one truth value each."""
    stored = samples["segment"].value_counts()
    used = samples.loc[~np.asarray(excluded, bool), "segment"].unique()
    told = samples.loc[
        samples["flags"].str.contains("cover|-impossible|battery-low"), "segment"
    ].unique()  # these have findings of their own
    findings = []
    for row in segments[~segments["segment"].isin(used)].to_dict("records"):
        count = int(stored.get(row["segment"], 0))
        if not count or (row["height"] >= geometry.SMALLEST_HEIGHT and row["segment"] not in told):
            start, end = time_text(pd.DatetimeIndex([row["start_utc"], row["end_utc"]]))
            findings.append(
                Finding(
                    "segment-unused" if count else "note-without-data",
                    set=row["set"],
                    line=row["notes_row"],
                    start_utc=start,
                    end_utc=end,
                    facts={
                        "segment": row["segment"],
                        "field": row["field"] or row["activity"],
                        "samples": count,
                    },
                )
            )
    return findings
