"""How measured fluxes enter the energy balance of a visit, in place of textbook fractions.

A measured ground heat flux is an offset without a fraction. Two heights and a flux station give the share of
the available energy that evaporates. Bulk transfer gives the sensible heat, and latent heat is the rest. So
each has the forms that `heat.Forms` has, and one code averages estimates and measurements.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

GROUND = ("plate", "station_ground")
"""Ways of measuring ground heat, the nearest to the visited ground first."""

SPLITS = ("two_heights", "flux_station", "bulk_transfer")
"""Ways of measuring how the available energy is split."""

ESTIMATE = "estimated"
"""The setting of `methods.latent_heat` that leaves the textbook's split."""

REACH = {
    "plate": "ground_heat_offset",
    "soil_storage": "ground_heat_offset",
    "soil_warming": "ground_heat_offset",
    "one_spot": "ground_heat_offset",
    "station_soil": "ground_heat_offset",
    "levels_temperature": "latent_heat_fraction",
    "levels_humidity": "latent_heat_fraction",
    "station_fluxes": "latent_heat_fraction",
    "station_closure": "latent_heat_fraction",
    "bulk_transfer": "latent_heat_offset",
    "bulk_temperature": "latent_heat_offset",
}
"""The errors of measurements, by their terms in uncertainty.csv, and the error of a visit that each makes."""

CLOSURE_MIDDLE = "middle_station_closure"
"""Column: what the middle of the errors by a station's closure adds to the share that evaporates."""


def reach_of(term: str) -> str:
    """The column that says how much of a term's error acts on a visit."""
    return f"reach_{term}"


COLUMNS = ("latent_offset", *(reach_of(term) for term in REACH), CLOSURE_MIDDLE)
"""What a visit has more where something is measured."""


def applied(
    visits: pd.DataFrame, measured: pd.DataFrame, ground: Sequence[str] = (), split: str = ESTIMATE
) -> pd.DataFrame:
    """Visits whose forms are those of measurements, where there are some.

    Parameters
    ----------
    visits : with textbook forms, as `chain.balance.visits_of` makes them.
    measured : a row a visit and way of measuring, as `chain.measured.rows` makes them.
    ground : the ways of measuring ground heat that are taken, the first that a visit has.
    split : the way of measuring the split that is taken.

    Returns
    -------
    The visits with the columns of `COLUMNS`; fluxes are not worked out anew. Source: method.md, section 7.11.
    """
    known = measured[measured["reason"] == ""] if len(measured) else measured
    table = visits.assign(**dict.fromkeys(COLUMNS, 0.0))
    for way in reversed(tuple(ground)):
        table = _with_ground(table, known[known["way"] == way], way)
    return _with_split(table, known[known["way"] == split], split) if split in SPLITS else table


def _place(table: pd.DataFrame, rows: pd.DataFrame) -> tuple[np.ndarray, pd.DataFrame]:
    """The visits that have a row, as truth values, and their rows in order."""
    rows = rows.set_index("segment")
    there = table["segment"].isin(rows.index).to_numpy(bool)
    return there, rows.loc[table.loc[there, "segment"]]


def _with_ground(table: pd.DataFrame, rows: pd.DataFrame, way: str) -> pd.DataFrame:
    there, own = _place(table, rows)
    table = table.copy()
    table.loc[there, "fraction"] = 0.0
    table.loc[there, "offset"] = own["ground_heat"].to_numpy(float)
    table.loc[there, "method"] = way
    reason = np.where(np.isfinite(table.loc[there, "net_radiation"].to_numpy(float)), "", "unknown")
    table.loc[there, "reason"] = reason
    return _with_reach(table, there, own, "ground_heat_offset")


def _with_split(table: pd.DataFrame, rows: pd.DataFrame, way: str) -> pd.DataFrame:
    there, own = _place(table, rows)
    table = table.copy()
    for column in ("coefficient", "latent_offset", CLOSURE_MIDDLE):
        table.loc[there, column] = own[column].to_numpy(float)
    table.loc[there, "split"] = way
    error = "latent_heat_offset" if way == "bulk_transfer" else "latent_heat_fraction"
    return _with_reach(table, there, own, error)


def _with_reach(table: pd.DataFrame, there: np.ndarray, own: pd.DataFrame, error: str) -> pd.DataFrame:
    """The visits with how much each measurement's error acts on them, of those terms that make an error."""
    for term, makes in REACH.items():
        if makes == error:
            table.loc[there, reach_of(term)] = own[reach_of(term)].to_numpy(float)
    return table
