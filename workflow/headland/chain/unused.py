"""Noted intervals that get no sample, or none that counts."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import has_any
from headland.base.time_text import time_text
from headland.chain.notes import WITHOUT_SURFACE
from headland.checks.runs import close, spans_of
from headland.physics import geometry


def counts(
    segments: pd.DataFrame, samples: pd.DataFrame, excluded, recorded=(), within: float = 0.0
) -> list[Finding]:
    """Findings on segments without samples, or with none left to average. excluded: one truth value each.

    recorded, within: runs of the set, s (n x 2), and how far notes may be from them, s. A note that misses
    its run by less is no walk without storage, and a lost pass is a small loss where others of its field
    count: these are variants of their own.
    """
    stored = samples["segment"].value_counts()
    used = samples.loc[~np.asarray(excluded, bool), "segment"].unique()
    told = samples.loc[
        samples["flags"].str.contains("cover|-impossible|battery-low"), "segment"
    ].unique()  # these have findings of their own
    if len(samples) and has_any(samples["flags"], {"missing"}).all():
        told = segments["segment"].to_numpy()  # a channel is empty, which has a finding of its own
    ground = ["field", "surface"]
    counting = set(segments[segments["segment"].isin(used)][ground].itertuples(index=False, name=None))
    spans = dict(zip(segments["segment"], spans_of(segments), strict=True))
    findings = []
    for row in segments[~segments["segment"].isin(used)].to_dict("records"):
        count = int(stored.get(row["segment"], 0))
        if not count or (row["height"] >= geometry.SMALLEST_HEIGHT and row["segment"] not in told):
            start, end = time_text(pd.DatetimeIndex([row["start_utc"], row["end_utc"]]))
            others = (row["field"], row["surface"]) in counting
            near = close(spans[row["segment"]], np.asarray(recorded, float).reshape(-1, 2), within)
            findings.append(
                Finding(
                    "segment-unused" if count else "note-without-data",
                    ("others" if others else "") if count else ("near" if near and within else ""),
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


def set_unused(name: str, segments: pd.DataFrame, placed: pd.Series, excluded) -> list[Finding]:
    """A finding where a set has samples and rows in the notes, and none of its samples serves anything: no
    walk, no sky monitor, no comparison side by side.

    placed: the segment of each sample. excluded: one truth value each.
    """
    serving = ~segments["activity"].isin(WITHOUT_SURFACE)
    counted = placed.isin(segments.loc[serving, "segment"]).to_numpy()
    if not serving.any() or not len(placed) or (counted & ~np.asarray(excluded, bool)).any():
        return []
    return [Finding("set-unused", set=name, facts={"count": len(placed)})]
