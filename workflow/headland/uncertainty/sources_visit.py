"""Errors that are new at each visit of a set: what the wind changes from one field to the next.

Each has a part that stays the same all day (`sources_set`, `sources_sensor`) and this part.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.uncertainty.draws import Source
from headland.uncertainty.heads import Heads, has_two_thermometers
from headland.uncertainty.sources_sensor import NET_LONGWAVE_STEP
from headland.uncertainty.sources_set import light_of_side
from headland.uncertainty.terms import Rows, of_term, sources_of


def visits_of_sets(segments: pd.DataFrame) -> np.ndarray:
    """A name for the visit of each segment: a set's segments in one field that follow each other."""
    names = np.full(len(segments), "", dtype=object)
    order = np.argsort(segments["start_utc"].to_numpy(), kind="stable")
    set_, field, segment = (segments[name].to_numpy(str) for name in ("set", "field", "segment"))
    last: dict[str, tuple[str, str]] = {}
    for place in order:
        where, first = last.get(set_[place], ("", ""))
        if not first or where != field[place]:
            first = segment[place]
        last[set_[place]] = (field[place], first)
        names[place] = f"{set_[place]}/{first}"
    return names


def visit_sources(heads: Heads, certificates: pd.DataFrame, rows: Rows) -> list[Source]:
    """All errors of instruments and carrying that are one visit's own. certificates: those in force."""
    visits = visits_of_sets(heads.segments)
    own = certificates["set"].isin(heads.lower) & certificates["channel"].isin(("sw_in", "sw_out"))
    shortwave = certificates[own].to_dict("records")
    grades = {(row["set"], row["channel"]): str(row["instrument_class"]) for row in shortwave}
    sources, side = [], -light_of_side(heads.segments) * of_term(rows["carrier_reflection"]).middle
    for name in dict.fromkeys(visits):
        here = (visits == name).astype(float)
        sunlit = here * heads.segments["window_heating"].to_numpy(float)
        sources += sources_of(rows, "window_visit", name, {"window_lw_in": sunlit, "window_lw_out": sunlit})
        sources += _gradient(heads, name, here, certificates, rows)
        for (set_name, channel), grade in grades.items():
            mine = {f"cooling_{channel}": here * heads.of(set_name, channel)}
            if mine[f"cooling_{channel}"].any():
                unit, scale = f"{name}/{set_name}/{channel}", 1.0 / NET_LONGWAVE_STEP
                sources += sources_of(rows, "cooling_visit", unit, mine, scale, grade=grade)
        walked = here * (heads.segments["carrier_view"] > 0).to_numpy(float)
        if walked.any():
            sources += sources_of(rows, "carrier_warmth_visit", name, {"carrier_warmth": walked})
            sources += sources_of(rows, "carrier_lit_visit", name, {"carrier_dark": walked * side})
    return sources


def _gradient(
    heads: Heads, name: str, here: np.ndarray, certificates: pd.DataFrame, rows: Rows
) -> list[Source]:
    """What the wind of a visit changes between the longwave heads and their thermometers.

    name, here: of the visit. Heads with one thermometer have one such error, in the upper head; heads with
    their own have one each.
    """
    own = [entry for entry in heads.sets if has_two_thermometers(entry, certificates)]
    upper, lower = (heads.segments[by].isin(own).to_numpy(float) for by in ("incoming_set", "set"))
    parts = {
        name: {"body_lw_in": here * (1.0 - upper)},
        f"{name}/lw_in": {"body_lw_in": here * upper},
        f"{name}/lw_out": {"body_lw_out": here * lower},
    }
    sources = []
    for unit, reach in parts.items():
        if any(part.any() for part in reach.values()):
            sources += sources_of(rows, "body_gradient_visit", unit, reach)
    return sources
