"""Several people's notes of one walk: how far their starts and ends lie apart, where their labels disagree, and what that does to each surface's net radiation."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from headland.base.groups import COUNTED
from headland.course.answers import Outcome, Survey, outcome, placed, samples_of, segments_of


def values_by(survey: Survey, noted: pd.DataFrame, segments: pd.DataFrame) -> Outcome:
    """What the chain gives with another person's notes. noted, segments: as step 5 has them from those notes."""
    own = replace(survey, noted=noted, segments=segments)
    return outcome(own, segments_of(own, placed(own, samples_of(own))))


def partner(row: Mapping, others: pd.DataFrame) -> Mapping | None:
    """The interval of another person's notes that is the same one: of the same set, with the largest overlap; None where nothing overlaps.

    row: with `set`, `start_utc`, `end_utc`. others: rows with the same.
    """
    own = others[others["set"] == row["set"]]
    if not len(own):
        return None
    overlap = (
        np.minimum(own["end_utc"], row["end_utc"]) - np.maximum(own["start_utc"], row["start_utc"])
    ).dt.total_seconds()
    return own.loc[overlap.idxmax()].to_dict() if overlap.max() > 0 else None


def intervals(reference: pd.DataFrame, people: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """One row an interval of the reference notes: how many people noted it, the spread of their starts and ends (s, against the reference), and labels that disagree.

    reference: segments of the campaign's own notes that count. people: segments by name.
    """
    rows = []
    for row in reference[reference["activity"].isin(COUNTED)].to_dict("records"):
        found = {name: partner(row, segments) for name, segments in people.items()}
        there = {name: other for name, other in found.items() if other is not None}
        away = {
            end: [(other[end] - row[end]).total_seconds() for other in there.values()]
            for end in ("start_utc", "end_utc")
        }
        labels = [
            f"{name}: {other[column] or 'nothing'}"
            for name, other in there.items()
            for column in ("surface", "field")
            if other[column] != row[column]
        ]
        rows.append(
            {
                "segment": row["segment"],
                "set": row["set"],
                "surface": row["surface"],
                "field": row["field"],
                "noted_by": len(there),
                "missed_by": ", ".join(name for name in people if name not in there),
                **{
                    f"{end[:-4]}_{what}": value
                    for end, values in away.items()
                    for what, value in (
                        ("earliest", min(values, default=math.nan)),
                        ("latest", max(values, default=math.nan)),
                        ("sd", float(np.std(values, ddof=1)) if len(values) > 1 else math.nan),
                    )
                },
                "other_labels": "; ".join(labels),
            }
        )
    return pd.DataFrame(
        rows,
        columns=[
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
        ],
    )


def effects(reference: Outcome, people: Mapping[str, Outcome]) -> pd.DataFrame:
    """Net radiation of each surface by each person's notes: one row a surface and person, with what it is off from the reference, W m-2."""
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
    """How far people's notes carry each surface's net radiation apart: lowest, highest and standard deviation, W m-2, and how many have the surface at all."""
    by = effects_.dropna(subset=["net_radiation"]).groupby("surface")["net_radiation"]
    return pd.DataFrame(
        {"people": by.count(), "lowest": by.min(), "highest": by.max(), "sd": by.std()}
    ).reset_index()
