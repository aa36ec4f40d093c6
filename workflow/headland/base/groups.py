"""Which segments count for a field and a surface, and what the tables of groups stand for."""

from __future__ import annotations

import numpy as np
import pandas as pd

COUNTED = ("walk", "stand")
"""Activities whose segments stand for their field and surface; the others serve the instruments."""

GROUPINGS = {"surfaces": ["surface"], "fields": ["surface", "field"]}
"""What the tables of groups stand for."""


def counted_segments(segments: pd.DataFrame) -> pd.DataFrame:
    """The segments that stand for their field and surface: walked or stood, with a sample used."""
    return segments[segments["activity"].isin(COUNTED) & (segments["weight"] > 0)]


PLACE = ["field", "transect"]
"""Columns that name where somebody walked or stood: stands with the same cells are one spot."""


def is_stand(rows: pd.DataFrame) -> np.ndarray:
    """Which segments stayed over one spot: noted as a stand, or of a set that nobody walks with."""
    stood = rows["activity"].eq("stand")
    if "speed" in rows:
        stood |= rows["speed"].eq(0.0)
    return stood.to_numpy(bool)


def seen_from_spots(rows: pd.DataFrame) -> str:
    """From how many spots the ground of a group was seen, in words; empty where all of it was walked.

    rows: segments of the group.
    """
    stood = is_stand(rows)
    count = rows[stood].groupby(PLACE, dropna=False).ngroups
    if not count:
        return ""
    words = "from one spot" if count == 1 else f"from {count} spots"
    share = rows.loc[stood, "weight"].sum() / rows["weight"].sum()
    return words if stood.all() else f"{words} for {100.0 * share:.0f} % of the recorded time"
