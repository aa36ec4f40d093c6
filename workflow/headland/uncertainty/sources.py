"""The errors of the instruments and their carrying, and what shares each of them.

Each is one `Source`. What two numbers share moves both in every draw, and so cancels in their difference.

    shared by                          module
    all sensors of one band, a sensor  `sources_sensor`
    a set, a set's day                 `sources_set`, `directional`
    a visit of a set                   `sources_visit`
    a segment                          `sources_segment`
    a field, how it lies               `sources_field`
    a fixed station                    `sources_station`
    a surface class, a group           `sources_group`
    as the table says                  `added_sources`, below
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.base import station
from headland.base.classes import STATED_TERMS
from headland.uncertainty.draws import Source
from headland.uncertainty.heads import heads_of
from headland.uncertainty.sources_segment import segment_sources
from headland.uncertainty.sources_sensor import sensor_sources
from headland.uncertainty.sources_set import set_sources
from headland.uncertainty.sources_station import station_sources
from headland.uncertainty.sources_visit import visit_sources
from headland.uncertainty.terms import PERCENT, Rows, sources_of

KNOWN_EFFECTS = (
    "cooling",
    "window",
    "own_shade",
    "carrier_reflection",
    "carrier_lit",
    "carrier_warmth",
    "response",
    "neighbour_albedo",
    "neighbour_warmth",
    *STATED_TERMS,
)
"""Terms of one sign or with a stated coefficient, whose middle is known: `methods.one_sided` leaves it in the
values or corrects it."""


def instrument_sources(segments: pd.DataFrame, certificates: pd.DataFrame, rows: Rows) -> list[Source]:
    """All errors of the instruments and their carrying.

    segments: as `inputs.prepare` leaves them. certificates: those in force, all sets. rows: of
    uncertainty.csv.
    """
    heads = heads_of(segments)
    sources = sensor_sources(heads, certificates, rows)
    for name in heads.lower:
        if name == station.NAME:
            sources += station_sources(segments, rows)
        else:
            sources += set_sources(heads, name, certificates, rows)
    of_visits = visit_sources(heads, certificates, rows)
    return sources + of_visits + segment_sources(segments, rows) + added_sources(segments, rows)


def added_sources(segments: pd.DataFrame, rows: Rows) -> list[Source]:
    """The errors that somebody added to uncertainty.csv.

    Their column `acts_on` names an error of the model, `shared_by` what has one value of it.
    """
    shared_by = {
        "campaign": np.full(len(segments), "campaign"),
        "set": segments["set"].to_numpy(),
        "set and day": (segments["set"] + "/" + segments["day"]).to_numpy(),
        "segment": segments["segment"].to_numpy(),
        "surface": segments["surface"].to_numpy(),
    }
    sources = []
    for term, row in rows.items():
        if not row.get("acts_on"):
            continue
        scale = PERCENT if row["unit"].startswith("%") else 1.0
        units = shared_by[row["shared_by"]]
        for unit in dict.fromkeys(units):
            mine = (units == unit) * scale
            sources += sources_of(rows, term, unit, {row["acts_on"]: mine})
    return sources
