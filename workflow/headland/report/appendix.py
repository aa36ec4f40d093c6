"""What stays out of the eight pages: tables and figures that go along with the PDF and end the page on the
screen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from headland.base import station
from headland.base.classes import LIMITS, STATION_TERMS, TERMS_OF_COEFFICIENTS, TERMS_OF_WAYS
from headland.report.cells import cell, column, table, values_table, words_table
from headland.report.differences import COMMON
from headland.report.given import Given
from headland.report.wording import (
    ESTIMATED,
    MEASURED,
    SHOWN,
    count,
    number,
    opening,
    span,
    units,
    valued,
)

CLASS_VALUES = {
    "": (
        "emissivity",
        "ground_heat_fraction_day",
        "ground_heat_fraction_night",
        "latent_method",
        "evaporative_fraction",
        "priestley_taylor_coefficient",
        "sky_response",
    ),
    "choudhury": ("leaf_area_index",),
    "santanello": ("soil_moisture",),
    "hysteresis": ("hysteresis_a1", "hysteresis_a2", "hysteresis_a3"),
}
"""The properties of a class that numbers are made from: always, and by the method of the ground heat flux."""
COMPARED = ("albedo", "surface_temperature", "net_radiation", COMMON)


def context(given: Given) -> dict:
    """What the appendix shows."""
    classes, fields, segments = given.ranked, given.tables["fields"], given.tables["segments"]
    used = [name for name in given.surfaces if name in set(segments["surface"])]
    of_surfaces = {"surface": [(given.name(name), "") for name in classes["surface"]]}
    pairs = zip(fields["field"], fields["surface"], strict=True)
    of_fields = {"field/surface": [(field or "–", given.name(surface)) for field, surface in pairs]}
    of_segments = {"segment/field": list(zip(segments["segment"], segments["field"], strict=True))}
    balance = ("net_radiation", *ESTIMATED, "evaporation", "bowen_ratio")
    return {
        "segments": segments_table(given),
        "segment_values": values_table(segments, of_segments, MEASURED, given.keys),
        "surface_values": values_table(
            classes, {**of_surfaces, **_used(classes)}, (*MEASURED, COMMON), given.keys
        ),
        "field_values": values_table(fields, {**of_fields, **_used(fields)}, (*MEASURED, COMMON), given.keys),
        "field_balance": values_table(fields, of_fields, balance, given.keys),
        "difference_rows": differences_table(given),
        "transects": transects(given),
        "sun_path_words": sun_path_words(given.means),
        "headings_words": headings_words(given.means),
        "classes": classes_table(given.surfaces, used, given.settings["ground_heat"]),
        "terms": terms_table(terms_in_use(given)),
        "quantity_rows": quantities_table(given.quantities),
        "inputs": words_table(("file", "bytes", "SHA-256"), given.settings["inputs"], numeric=(1,)),
    }


def _used(frame: pd.DataFrame) -> dict[str, list[tuple[str, str]]]:
    pairs = zip(frame["samples_used"], frame["segments"], strict=True)
    return {"samples/segments": [(number(samples, 0), f"in {number(parts, 0)}") for samples, parts in pairs]}


def transects(given: Given) -> list[tuple[str, str, str]]:
    """Names of the figures of transects, with their sets and what they show in words."""
    return [
        (name, own, transects_words(given.tables["segments"], own))
        for own in given.settings["sets"]
        for name in given.pictures
        if name.startswith("transects_") and name.removeprefix("transects_").rsplit("_", 1)[0] == own
    ]


def transects_words(segments: pd.DataFrame, name: str) -> str:
    """What a set's segments hold, in numbers."""
    own = segments[segments["set"] == name]
    parts = [
        f"{SHOWN[quantity].title} {span(own[quantity].min(), own[quantity].max(), SHOWN[quantity].decimals)}"
        f" {SHOWN[quantity].unit}".rstrip()
        for quantity in ("sw_in", "lw_in", "albedo", "surface_temperature")
        if own[quantity].notna().any()
    ]
    values = f": means from {', '.join(parts)}" if parts else ""
    return f"{count(len(own), 'segment')} of set {name}{values}. The table of segments has each."


def segments_table(given: Given) -> dict:
    """What each segment is: everything of segments.csv but the quantities with intervals."""
    columns = [
        column("segment", text=True, second="set"),
        column("field", text=True, second="surface"),
        column("activity", text=True, second="transect, pass"),
        column("date", text=True, second="start to end, UTC"),
        column("used", second="of samples"),
        column("sun", second="sky"),
        column("body", "°C"),
        column("line of notes"),
    ]
    return table(columns, [_segment(given, row) for row in given.tables["segments"].to_dict("records")])


def _segment(given: Given, row: Mapping) -> list[dict]:
    passes = ", ".join(f"{name} {row[name]}" for name in ("transect", "pass") if row[name])
    same_day = row["end_utc"].date() == row["start_utc"].date()
    end = f"{row['end_utc']:{'' if same_day else '%m-%d '}%H:%M:%S}"
    sun = f"{number(row['solar_elevation'], 1)}°, {number(row['solar_azimuth'], 0)}°"
    return [
        cell(row["segment"], row["set"]),
        cell(row["field"] or "–", given.name(row["surface"]) if row["surface"] else ""),
        cell(row["activity"].replace("_", " "), passes),
        cell(f"{row['start_utc']:%Y-%m-%d}", f"{row['start_utc']:%H:%M:%S} to {end}"),
        cell(number(row["samples_used"], 0), f"of {number(row['samples'], 0)}"),
        cell(sun, row["sky"]),
        cell(number(row["body_temperature"], 1)),
        cell(number(row["notes_row"], 0)),
    ]


def differences_table(given: Given) -> dict:
    """Differences of pairs, one row a pair, the compared quantities side by side."""
    frame = given.tables["differences"]
    columns = [column("surfaces", text=True)]
    columns += [column(SHOWN[name].title, SHOWN[name].unit) for name in COMPARED]
    rows = []
    for (a, b), part in frame.groupby(["surface_a", "surface_b"], sort=False):
        own = {row["quantity"]: row for row in part.to_dict("records")}
        cells = [cell(f"{given.name(str(a))} − {given.name(str(b))}")]
        for name in COMPARED:
            value, low, high = (own[name][f"difference{end}"] for end in ("", "_low", "_high"))
            text, below = valued(value, low, high, SHOWN[name].decimals)
            cells.append(cell(text, below or ("no interval" if pd.notna(value) else "")))
        rows.append(cells)
    return table(columns, rows)


def sourced(row: Mapping) -> str:
    """Where a value is from, and whether that was read or recalled."""
    if row["how"] == "override":
        return f"OVERRIDE of this campaign: {row['source']}"
    if row["how"] in ("", row["source"]):
        return row["source"]
    return f"{row['source']} ({row['how']})" if row["source"] else row["how"]


def terms_in_use(given: Given) -> pd.DataFrame:
    """Rows of uncertainty.csv without those of a station, unless the incoming terms of a segment are the
    station's, and without those of coefficients that no certificate states and of ways of measuring fluxes
    that the campaign has not.
    """
    unused = [] if (given.means["incoming_set"] == station.NAME).any() else [*STATION_TERMS]
    ways, stated = set(given.tables["measured"]["way"]), given.certificates.notna().any()
    unused += [term for way, own in TERMS_OF_WAYS.items() if way not in ways for term in own]
    unused += [term for column, own in TERMS_OF_COEFFICIENTS.items() if not stated[column] for term in own]
    return given.terms[~given.terms["term"].isin(unused)]


def terms_table(terms: pd.DataFrame) -> dict:
    """The error sources that are sampled."""
    rows = [
        (
            row["label"],
            row["shared_by"],
            row["distribution"],
            f"{_size(row)} {units(row['unit'])}".strip(),
            sourced(row),
        )
        for row in terms[terms["enabled"] == "true"].to_dict("records")
    ]
    return words_table(("error", "shared by", "distribution", "size", "source"), rows)


def _size(row: Mapping) -> str:
    """The size of an error as its row states it; for a limit by class those of A, B and C."""
    limits = [row.get(name, "") for name in LIMITS]
    if all(limits):
        low, high = float(row["low"]), float(row["high"])
        ends = [f"{high * float(limit):g}" for limit in limits]
        return f"{'± ' if low == -high else '0 to '}{', '.join(ends)} (class A, B, C)"
    if row["low"] and row["low"] == f"-{row['high']}":
        return f"± {row['high']}"
    if row["low"]:
        return f"{row['low']} to {row['high']}"
    return f"σ = {row['sigma']}" if row["sigma"] else ""


def classes_table(surfaces: Mapping[str, Mapping], used: Sequence[str], ground_heat: str) -> dict:
    """The values behind the surface classes used. ground_heat: the campaign's method."""
    keys = (*CLASS_VALUES[""], *CLASS_VALUES.get(ground_heat, ()))
    rows = []
    for name in used:
        entries = surfaces.get(name, {})
        title = str(entries.get("label", {}).get("value") or name.replace("_", " "))
        for key in keys:
            if entry := entries.get(key):
                value = f"{_property(entry['value'])} {units(entry['unit'])}".strip()
                rows.append((title, key.replace("_", " "), value, _range(entry), sourced(entry)))
    return words_table(("surface", "property", "value", "range", "source"), rows)


def _property(value: object) -> str:
    return f"{value:g}" if isinstance(value, (int, float)) else str(value).replace("_", " ")


def _range(entry: Mapping) -> str:
    low, high = entry["low"], entry["high"]
    return f"{low:g} to {high:g}" if isinstance(low, float) and isinstance(high, float) else ""


def quantities_table(quantities: Sequence[Mapping]) -> dict:
    """quantities.csv with units as people write them."""
    rows = [
        (
            row["key"],
            row["meaning"],
            row["symbol"],
            units(row["unit"]),
            row["equation"],
            row["function"],
            row["source"],
        )
        for row in quantities
    ]
    return words_table(("key", "meaning", "symbol", "unit", "equation", "function", "source"), rows)


def sun_path_words(means: pd.DataFrame) -> str:
    """The figure of the sun's path in words. means: segments of step 6."""
    walks = means[(means["activity"] == "walk") & means["solar_elevation"].notna()]
    parts = []
    for name, own in walks.groupby("set", sort=False):
        away = ((own["solar_azimuth"] - own["heading"] + 180.0) % 360.0 - 180.0).abs()
        height = span(own["solar_elevation"].min(), own["solar_elevation"].max(), 0)
        azimuth = span(own["solar_azimuth"].min(), own["solar_azimuth"].max(), 0)
        side = (
            f"{span(away.min(), away.max(), 0)}° to the side of the heading"
            if away.notna().any()
            else "no heading noted"
        )
        parts.append(
            f"set {name}, {count(len(own), 'walk')}: sun {height}° high at azimuth {azimuth}°, {side}"
        )
    return f"{opening('; '.join(parts))}." if parts else "Nobody walked."


def headings_words(means: pd.DataFrame) -> str:
    """Which walks have no heading in the notes."""
    walks = means[means["activity"] == "walk"]
    missing = int(walks["heading"].isna().sum())
    if not missing:
        return ""
    return (
        f"For {missing} of {len(walks)} walks no heading is noted; their intervals allow for a shadow "
        "in any direction."
    )
