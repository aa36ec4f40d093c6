"""Errors of how a field lies: its slope and its rows, which turn the sun's course into a course of albedo.

They are the same at all visits of a field, so they matter where the sun has moved between visits.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from headland.uncertainty.draws import Source
from headland.uncertainty.inputs import Surfaces
from headland.uncertainty.sources_group import COVER
from headland.uncertainty.terms import Rows, sources_of

DEGREE = math.radians(1.0)


def lie_sources(segments: pd.DataFrame, surfaces: Surfaces, rows: Rows) -> list[Source]:
    """What the notes leave open of each field's slope, and the rows of those with a cover of leaves or straw.

    segments: as `inputs.prepare` leaves them.
    """
    sources = []
    for field in dict.fromkeys(segments["field"][segments["surface"] != ""]):
        here = (segments["field"] == field).to_numpy(float)
        unknown = here * segments["slope_unknown"].to_numpy(float)
        term, reach = ("slope", unknown) if unknown.any() else ("slope_noted", here)
        for way in ("slope_east", "slope_north"):
            sources += sources_of(rows, term, f"{field}/{way}", {way: reach}, DEGREE)
        covered = here * np.array([COVER in surfaces.get(name, {}) for name in segments["surface"]])
        if covered.any():
            for part in ("rows_cos", "rows_sin"):
                sources += sources_of(rows, "rows", f"{field}/{part}", {part: covered})
    return sources
