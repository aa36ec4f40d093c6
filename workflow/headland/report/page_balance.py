"""Page 4: what net radiation becomes, estimated, and where each fraction is from."""

from __future__ import annotations

import math
from collections.abc import Mapping

from headland.base.classes import SPLIT_PROPERTY
from headland.report.cells import cell, column, table, value_cell
from headland.report.given import Given
from headland.report.measured_words import WAYS, measured_context
from headland.report.wording import ESTIMATED, WITHOUT, in_short, listed, number, opening

METHODS = {
    "class_fraction": "a fraction of the surface class",
    "choudhury": "a fraction that falls with the leaf area",
    "santanello": "a fraction that follows the hour and the soil's moisture",
    "hysteresis": "a fraction that leads net radiation in time",
    "measured": "a fraction of the surface class where it is not measured",
}
"""Settings of `methods.ground_heat`, in words."""
SPLITS = {
    "priestley_taylor": "Priestley-Taylor coefficient",
    "de_bruin_holtslag": "De Bruin-Holtslag form",
    "evaporative_fraction": "evaporative fraction",
    "none": "nothing evaporates",
    "not_estimated": "not estimated",
    **WAYS,
}
"""Ways of splitting the available energy, in words."""


def context(given: Given) -> dict:
    """What the fourth page prints."""
    return {
        "fluxes": fluxes(given),
        "fractions": fractions(given),
        "balance_words": balance_words(given),
        "ground_words": METHODS.get(given.settings["ground_heat"], given.settings["ground_heat"]),
        "closes_words": closes_words(given),
        **measured_context(given),
    }


def fluxes(given: Given) -> dict:
    """Net radiation as visited and the three estimated fluxes, one row a surface."""
    columns = [column("surface", text=True), column("Q*, net radiation", "W m⁻²", equation="eq-12")]
    columns += [
        column(title, "W m⁻²", equation=equation)
        for title, equation in (
            ("G, ground heat", "eq-16"),
            ("H, sensible heat", "eq-18"),
            ("LE, latent heat", "eq-17"),
        )
    ]
    columns += [column("evaporation", "mm h⁻¹", equation="eq-19"), column("Bowen ratio", equation="eq-20")]
    quantities = ("net_radiation", *ESTIMATED, "evaporation", "bowen_ratio")
    rows = [
        [cell(given.name(row["surface"])), *(value_cell(row, name) for name in quantities)]
        for row in given.ranked.to_dict("records")
    ]
    absent = [name for name in quantities if given.ranked[name].isna().any()]
    reasons = dict.fromkeys(WITHOUT[name] for name in absent if name in WITHOUT)
    return table(columns, rows, [f"–: {'; '.join(reasons)}."] if reasons else [])


def fractions(given: Given) -> dict:
    """The fraction and the coefficient of each surface: value in force, range and source."""
    balances = given.balances.set_index("surface").to_dict("index")
    rows = []
    for name in given.ranked["surface"]:
        group = balances.get(name, {})
        ground, split = _ground(given, name, group), _split(given, name, group)
        rows.append([cell(given.name(name)), *ground, *split])
    columns = [
        column("surface", text=True),
        column("G / Q*", second="range"),
        column("source", text=True),
        column("LE from", text=True, second="coefficient, range"),
        column("source", text=True),
    ]
    return table(columns, rows)


def _ground(given: Given, name: str, group: Mapping) -> list[dict]:
    ways = [WAYS[way] for way in str(group.get("method") or "").split("; ") if way in WAYS]
    if ways and not group.get("reason"):
        return [cell("–"), cell(f"measured: {listed(ways)}")]
    if group.get("reason") or not math.isfinite(group.get("fraction", math.nan)):
        return [cell("–"), cell("no estimate (see the findings)" if group.get("reason") else "")]
    time = "day" if group["day"] in (True, "true") else "night"
    entry = given.surfaces.get(name, {}).get(f"ground_heat_fraction_{time}", {})
    return [cell(number(group["fraction"], 2), ends(entry)), cell(in_short(entry.get("source", "")))]


def _split(given: Given, name: str, group: Mapping) -> list[dict]:
    split = str(group.get("split") or "not_estimated")
    entry = given.surfaces.get(name, {}).get(SPLIT_PROPERTY.get(split, ""), {})
    coefficient = group.get("coefficient", math.nan)
    words = listed([SPLITS.get(one, one.replace("_", " ")) for one in split.split("; ")])
    if not entry:
        return [cell(words), cell("")]
    return [cell(words, f"{number(coefficient, 2)}, {ends(entry)}"), cell(in_short(entry.get("source", "")))]


def ends(entry: Mapping) -> str:
    """The range of a property of a surface class, where it has one."""
    low, high = entry.get("low"), entry.get("high")
    return f"{low:g} to {high:g}" if isinstance(low, float) and isinstance(high, float) else ""


def closes_words(given: Given) -> str:
    """What closing means here."""
    known = given.ranked[given.ranked["latent_heat"].notna()]
    if not len(known):
        return "For no surface is a whole balance estimated."
    row = known.iloc[0]
    return (
        f"{opening(given.name(row['surface']))}: {number(row['net_radiation'], 0)} = "
        f"{number(row['ground_heat'], 0)} + "
        f"{number(row['sensible_heat'], 0)} + {number(row['latent_heat'], 0)} W m⁻². The balance always "
        "closes, because sensible heat is what remains, so its closing proves nothing."
    )


def balance_words(given: Given) -> str:
    """The figure in words."""
    parts = [
        f"{given.name(row['surface'])}: net radiation {number(row['net_radiation'], 0)}, ground "
        f"{number(row['ground_heat'], 0)}, "
        f"sensible {number(row['sensible_heat'], 0)}, latent {number(row['latent_heat'], 0)}"
        for row in given.ranked.to_dict("records")
    ]
    return f"Fluxes in W m⁻². {'; '.join(parts)}." if parts else "No energy balance."
