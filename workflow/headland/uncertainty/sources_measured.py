"""Errors of measured fluxes: plates, air at two heights, a flux station, bulk transfer."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from headland.physics.measured_forms import CLOSURE_MIDDLE, REACH, reach_of
from headland.uncertainty.draws import Source
from headland.uncertainty.terms import PERCENT, Rows, is_on, of_term

OF_CLASS = ("plate", "soil_storage", "soil_warming", "one_spot", "bulk_transfer")
"""Terms that the visits of a surface class share: its plate, its soil, its roughness. The others belong to
one instrument, and all visits share them.
"""

IN_PERCENT = ("plate", "soil_storage", "one_spot", "station_soil", "station_fluxes", "bulk_transfer")
"""Terms whose size is a percentage of what acts on a visit."""


def measured_sources(visits: pd.DataFrame, rows: Rows) -> list[Source]:
    """The errors of those measurements that make the balance of visits.

    visits: one row a segment, with the columns of `measured_forms.COLUMNS` where something is measured.
    rows: of uncertainty.csv.
    """
    sources = []
    for term, error in REACH.items():
        if reach_of(term) not in visits or not is_on(rows, term):
            continue
        reach, middle = visits[reach_of(term)].fillna(0.0).to_numpy(float), _middle(term, visits)
        size, scale = of_term(rows[term]), PERCENT if term in IN_PERCENT else 1.0
        for unit, inside in _shared(term, visits):
            own = np.where(inside, reach, 0.0)
            if own.any():
                off = np.where(inside, middle, 0.0) + own * size.middle * scale
                shift = {error: own * size.sigma * scale}
                sources.append(
                    Source(term, unit, shift, {error: off} if off.any() else {}, size.distribution)
                )
    return sources


def _shared(term: str, visits: pd.DataFrame) -> Iterator[tuple[str, np.ndarray]]:
    """What shares a term, and which visits that are."""
    if term not in OF_CLASS:
        yield "all", np.ones(len(visits), dtype=bool)
        return
    names = visits["surface"]
    for name in dict.fromkeys(names.dropna()):
        yield str(name), (names == name).to_numpy(bool)


def _middle(term: str, visits: pd.DataFrame) -> np.ndarray:
    """The middle of the errors by a station's closure, which is not the value itself; 0 for other terms."""
    if term != "station_closure":
        return np.zeros(len(visits))
    return visits[CLOSURE_MIDDLE].fillna(0.0).to_numpy(float)
