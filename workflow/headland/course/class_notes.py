"""Several people's notes of one walk: how far their starts and ends lie apart, where their labels disagree,
and what that does to each surface's net radiation."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from headland.base.groups import COUNTED
from headland.course.rerun import Outcome, Survey, outcome, placed, samples_of, segments_of


def values_by(survey: Survey, noted: pd.DataFrame, segments: pd.DataFrame) -> Outcome:
    """What the chain gives with another person's notes. noted, segments: those of the notes."""
    own = replace(survey, noted=noted, segments=segments)
    return outcome(own, segments_of(own, placed(own, samples_of(own))))


def partner(row: Mapping, others: pd.DataFrame) -> Mapping | None:
    """The interval of another person's notes that is the same one: of the same set, with the largest overlap;
    None where nothing overlaps.

    row: with `set`, `start_utc`, `end_utc`. others: rows with the same.
    """
    own = others[others["set"] == row["set"]]
    if not len(own):
        return None
    overlap = (
        np.minimum(own["end_utc"], row["end_utc"]) - np.maximum(own["start_utc"], row["start_utc"])
    ).dt.total_seconds()
    return own.loc[overlap.idxmax()].to_dict() if overlap.max() > 0 else None


COLUMNS = (
    "segment",
    "set",
    "surface",
    "field",
    "noted_by",
    "missed_by",
    "start_earliest",
    "start_latest",
    "start_sd",
    "end_earliest",
    "end_latest",
    "end_sd",
    "other_labels",
)


def intervals(reference: pd.DataFrame, people: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """One row an interval of the reference notes: who noted it, how starts and ends spread, labels that
    disagree.

    reference: segments of the campaign's own notes that count. people: segments by name. Starts and ends are
    in s against the reference.
    """
    counted = reference[reference["activity"].isin(COUNTED)]
    return pd.DataFrame([_interval(row, people) for row in counted.to_dict("records")], columns=COLUMNS)


def _interval(row: Mapping, people: Mapping[str, pd.DataFrame]) -> dict:
    there = {name: other for name, segments in people.items() if (other := partner(row, segments))}
    labels = [
        f"{name}: {other[column] or 'nothing'}"
        for name, other in there.items()
        for column in ("surface", "field")
        if other[column] != row[column]
    ]
    return {
        **{name: row[name] for name in ("segment", "set", "surface", "field")},
        "noted_by": len(there),
        "missed_by": ", ".join(name for name in people if name not in there),
        **_spread_of("start", row, there),
        **_spread_of("end", row, there),
        "other_labels": "; ".join(labels),
    }


def _spread_of(end: str, row: Mapping, there: Mapping[str, Mapping]) -> dict[str, float]:
    """Earliest, latest and standard deviation of people's starts or ends against the reference, s."""
    column = f"{end}_utc"
    away = [(other[column] - row[column]).total_seconds() for other in there.values()]
    return {
        f"{end}_earliest": min(away, default=math.nan),
        f"{end}_latest": max(away, default=math.nan),
        f"{end}_sd": float(np.std(away, ddof=1)) if len(away) > 1 else math.nan,
    }


def effects(reference: Outcome, people: Mapping[str, Outcome]) -> pd.DataFrame:
    """Net radiation of each surface by each person's notes: one row a surface and person, with what it is off
    from the reference, W m-2."""
    rows = []
    for who, values in people.items():
        for surface in dict.fromkeys((*reference.surfaces.index, *values.surfaces.index)):
            right, own = (
                float(table["net_radiation"].get(surface, math.nan))
                for table in (reference.surfaces, values.surfaces)
            )
            rows.append({"surface": surface, "who": who, "net_radiation": own, "difference": own - right})
    return pd.DataFrame(rows, columns=["surface", "who", "net_radiation", "difference"])


def spread(effects_: pd.DataFrame) -> pd.DataFrame:
    """How far people's notes carry each surface's net radiation apart: lowest, highest and standard
    deviation, W m-2, and how many have the surface at all."""
    by = effects_.dropna(subset=["net_radiation"]).groupby("surface")["net_radiation"]
    return pd.DataFrame(
        {"people": by.count(), "lowest": by.min(), "highest": by.max(), "sd": by.std()}
    ).reset_index()
