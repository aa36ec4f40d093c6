"""The reason for the gap between a measured and an estimated heat flux, in words."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.physics import heat
from headland.physics.measured_forms import GROUND, SPLITS

WELL_CLOSED = 0.9
"""Closure of a flux station below which its gap is spoken of (common practice, no source)."""


def with_reasons(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> pd.DataFrame:
    """A table of measured beside estimated fluxes with the column `because`. surfaces: class properties."""
    return table.assign(because=[because(row, surfaces) for row in with_other_flux(table)])


def with_other_flux(table: pd.DataFrame) -> list[dict]:
    """Rows with the Bowen ratio of estimate and measurement, which two rows of one visit or surface give."""
    rows = table.to_dict("records")
    place = "segment" if "segment" in table else "surface"
    fluxes = {(row[place], row["way"], row["quantity"]): row for row in rows}
    for row in rows:
        pair = [fluxes.get((row[place], row["way"], name)) for name in ("sensible_heat", "latent_heat")]
        for part in ("estimated", "measured"):
            both = [np.nan if one is None else one[part] for one in pair]
            row[f"bowen_{part}"] = float(heat.bowen_ratio(*both))
    return rows


def because(row: Mapping, surfaces: Mapping[str, Mapping]) -> str:
    """Why a measured flux differs from the estimated one.

    row: of a table of both, with the Bowen ratios of `with_other_flux`.
    """
    parts = [_of_gap(row, surfaces)]
    if row["way"] == "flux_station" and row["closure"] < WELL_CLOSED:
        parts.append(
            f"the station's H + LE is only {row['closure']:.2f} of its net radiation minus ground heat, and "
            "both were enlarged in their ratio"
        )
    return "; ".join(parts)


def _of_gap(row: Mapping, surfaces: Mapping[str, Mapping]) -> str:
    if not np.isfinite(row["estimated"]):
        return "nothing is estimated at these visits, because no textbook fraction holds"
    if not np.isfinite(row["gap_low"]):
        return "the gap has no interval"
    if row["gap_low"] <= 0.0 <= row["gap_high"]:
        return "no gap beyond the two intervals"
    if row["way"] in GROUND:
        return _of_ground(row)
    if row["way"] == "bulk_transfer":
        return _of_wind(row)
    if row["way"] in SPLITS:
        return _of_split(row)
    return ""


def _of_ground(row: Mapping) -> str:
    more = row["gap"] * np.sign(row["net_radiation"]) > 0.0
    taken, assumed = (100.0 * row[part] / row["net_radiation"] for part in ("measured", "estimated"))
    why = (
        "a sparser or moister cover, or hours before noon, when the ground takes up most"
        if more
        else "a denser cover, drier ground, or hours after noon, when the ground takes up least"
    )
    return f"{taken:.0f} % of net radiation goes through the ground, and not {assumed:.0f} %: {why}"


def _of_split(row: Mapping) -> str:
    found, assumed = row["bowen_measured"], row["bowen_estimated"]
    word = "drier" if found > assumed else "moister"
    return (
        f"the measured Bowen ratio is {found:.2f}, and the fractions give {assumed:.2f}: the surface is "
        f"{word} than its class"
    )


def _of_wind(row: Mapping) -> str:
    more = row["gap"] > 0.0
    if row["quantity"] == "sensible_heat":
        word = "more" if more else "less"
        return (
            f"surface and air are so different in temperature that the wind carries {word} heat than the "
            "fractions leave: dryness differs from the class's, or the roughness does"
        )
    word = "more" if more else "less"
    return (
        f"what the wind does not carry as sensible heat leaves {word} for evaporation than the fractions give"
    )
