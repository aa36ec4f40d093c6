"""Measured beside estimated heat fluxes, for page 4 and what is attached to the report."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from headland.report.cells import cell, column, table
from headland.report.given import Given
from headland.report.wording import SHOWN, count, listed, number, opening, valued

WAYS = {
    "plate": "plate and storage",
    "station_ground": "station's soil heat flux",
    "two_heights": "air at two heights",
    "flux_station": "flux station",
    "bulk_transfer": "wind and surface temperature",
}
"""Ways of measuring, in words."""

SHOWN_FLUX = {
    "plate": "ground_heat",
    "station_ground": "ground_heat",
    "two_heights": "latent_heat",
    "flux_station": "latent_heat",
    "bulk_transfer": "sensible_heat",
}
"""The flux of each way that page 4 shows; where another one follows, the attached table has it."""

MOST_ROWS = 8
"""Rows of measured fluxes on page 4 at most."""


def measured_context(given: Given) -> dict:
    """What page 4 and the attachments print of measured fluxes."""
    rows = of_report(given)
    near = rows[rows["way"] != "bulk_transfer"]
    near = near[near["quantity"] == near["way"].map(SHOWN_FLUX)]
    return {
        "measured": beside(given, near.iloc[:MOST_ROWS]) if len(near) else None,
        "measured_all": beside(given, rows) if len(rows) else None,
        "measured_words": measured_words(given, rows),
        "lead_words": lead_words(rows),
        "diamond_words": listed([WAYS[way] for way in dict.fromkeys(rows["way"])]),
    }


def of_report(given: Given) -> pd.DataFrame:
    """Rows of measured.csv in the order of the surfaces."""
    rows = given.tables["measured"]
    places = {name: place for place, name in enumerate(given.ranked["surface"])}
    known = rows[rows["surface"].isin(places)]
    return known.sort_values("surface", key=lambda names: names.map(places), kind="stable")


def beside(given: Given, rows: pd.DataFrame) -> dict:
    """A table of measured and estimated fluxes, one row a surface, way and flux."""
    columns = [
        column("surface", text=True, second="way of measuring"),
        column("flux", text=True),
        column("estimated", "W m⁻²"),
        column("measured", "W m⁻²"),
        column("gap", "W m⁻²"),
        column("why", text=True),
    ]
    lines = []
    for row in rows.to_dict("records"):
        used = " (used)" if row["used"] in (True, "true") else ""
        numbers = [with_ends(row, part) for part in ("estimated", "measured", "gap")]
        lines.append(
            [
                cell(given.name(row["surface"]), WAYS.get(row["way"], row["way"]) + used),
                cell(SHOWN[row["quantity"]].title, count(int(row["visits"]), "visit")),
                *numbers,
                cell(row["because"]),
            ]
        )
    return table(columns, lines)


def with_ends(row: Mapping, part: str) -> dict:
    """A number with its interval below it."""
    return cell(*valued(row[part], row[f"{part}_low"], row[f"{part}_high"], 0))


def measured_words(given: Given, rows: pd.DataFrame) -> str:
    """What measurements say of the estimates, in a sentence or two."""
    if not len(rows):
        return (
            "To test the estimates, measure soil heat flux with a plate (ground.csv), air at two heights "
            "(levels.csv), or H and LE with a station (station.csv), on one of the surfaces."
        )
    parts = []
    for way in dict.fromkeys(rows["way"]):
        flux = SHOWN_FLUX[way]
        own = rows[(rows["way"] == way) & (rows["quantity"] == flux) & rows["gap_low"].notna()]
        if len(own):
            apart = own[(own["gap_low"] > 0.0) | (own["gap_high"] < 0.0)]
            parts.append(f"{opening(SHOWN[flux].title)} by {WAYS[way]} {_apart(given, apart, len(own))}.")
    return " ".join(parts)


def _apart(given: Given, apart: pd.DataFrame, every: int) -> str:
    """`agrees with the estimate on 3 of 5 surfaces, furthest off on paving (120 W m⁻² less)`."""
    words = f"agrees with the estimate on {every - len(apart)} of {count(every, 'surface')}"
    if not len(apart):
        return words
    row = apart.iloc[int(apart["gap"].abs().argmax())]
    word = "more" if row["gap"] > 0.0 else "less"
    return (
        f"{words}, furthest off on {given.name(row['surface'])} "
        f"({number(math.fabs(row['gap']), 0)} W m⁻² {word} than estimated)"
    )


def lead_words(rows: pd.DataFrame) -> str:
    """What of the balance is measured."""
    used = rows[rows["used"].isin((True, "true"))]
    if not len(used):
        return "Only net radiation Q* is measured."
    ways = listed([WAYS[way] for way in dict.fromkeys(used["way"])])
    return f"Net radiation Q* is measured, and so are some of the fluxes: by {ways}."
