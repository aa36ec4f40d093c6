"""Errors of incoming terms that are a fixed station's, in place of those of the upper heads."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.base import station
from headland.uncertainty.draws import Source
from headland.uncertainty.terms import Rows, is_on


def station_sources(segments: pd.DataFrame, rows: Rows) -> list[Source]:
    """The station's own errors, shared by all, and the sky that differs between it and each segment.

    Both are relative to the flux, for both bands.
    """
    above = (segments["incoming_set"] == station.NAME).to_numpy(float)
    sources = []
    for band in ("sw", "lw"):
        flux = above * np.nan_to_num(segments[f"{band}_in"].to_numpy(float))
        sources += _relative(rows, f"station_{band}", "station", flux)
        for index in np.flatnonzero(above):
            here = flux * (np.arange(len(segments)) == index)
            sources += _relative(rows, f"station_sky_{band}", segments["segment"].iloc[index], here)
    return sources


def _relative(rows: Rows, term: str, unit: str, flux: np.ndarray) -> list[Source]:
    if not is_on(rows, term):
        return []
    error = f"zero_{term[-2:]}_in"
    return [Source(term, unit, {error: flux * float(rows[term]["sigma"]) / 100.0})]
