"""Which segments count for a field and a surface, and what the tables of groups stand for."""

from __future__ import annotations

import pandas as pd

COUNTED = ("walk", "stand")
"""Activities whose segments stand for their field and surface; the others serve the instruments."""

GROUPINGS = {"surfaces": ["surface"], "fields": ["surface", "field"]}
"""What the tables of groups stand for."""


def counted_segments(segments: pd.DataFrame) -> pd.DataFrame:
    """The segments that stand for their field and surface: walked or stood, with a sample used."""
    return segments[segments["activity"].isin(COUNTED) & (segments["weight"] > 0)]
