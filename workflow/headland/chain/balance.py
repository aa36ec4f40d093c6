"""Step 7: an estimate of the energy balance from net radiation and textbook fractions.

Signs: ground heat is positive into the ground, sensible and latent heat are positive away from the surface, so
Q* = H + LE + G. These are estimates: what is printed from them says so.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.base.classes import SPLIT_PROPERTY
from headland.base.findings import Finding
from headland.base.frames import Made
from headland.base.groups import GROUPINGS, counted_segments
from headland.chain import weather
from headland.physics import evaporation, heat, sun

GREEN = ("priestley_taylor", "de_bruin_holtslag")

SMALLEST_ELEVATION = 20.0
"""Degrees: with the sun lower (and up) no ground heat is estimated (methods of this project)."""
SMALLEST_NET = 100.0
"""W m-2: with a net radiation between 0 and this by day no ground heat is estimated (methods of this project)."""


def why_no_ground_heat(net: float, solar_elevation: float, day: bool, mixed: bool, entry: Mapping) -> str:
    """Why the ground heat flux of a surface is not estimated: `unknown`, `melt`, `day-and-night`, `sun-low`, `net-small`; empty where it is.

    net: W m-2. solar_elevation: mean, degrees. day: whether that is above the horizon; mixed: whether some segments are on its other side.
    entry: the class's properties; one without a ground heat fraction (snow) has none because of the melt.
    """
    if not np.isfinite(net):
        return "unknown"
    if "ground_heat_fraction_day" not in entry:
        return "melt"
    if mixed:
        return "day-and-night"
    if day and solar_elevation < SMALLEST_ELEVATION:
        return "sun-low"
    if day and 0.0 <= net <= SMALLEST_NET:
        return "net-small"
    return ""


def ground_heat_terms(
    entry: Mapping[str, Mapping], method: str, day: bool, after_noon: float, rate: float
) -> tuple[float, float, str]:
    """Fraction and offset of the ground heat flux, G = fraction Q* + offset, of a surface class, and the method that gave them.

    entry: the class's properties. method: the campaign's choice. after_noon: s since solar noon. rate: dQ*/dt, W m-2 h-1 (`net_rate`).
    Where the chosen method has nothing for a class (no leaf area index, no bare soil, no 3 h, night), the class fraction serves.
    """
    number = lambda key: entry.get(key, {}).get("value", "")
    known = lambda key: isinstance(number(key), float)
    if method == "choudhury" and day and known("leaf_area_index"):
        return float(heat.choudhury_fraction(number("leaf_area_index"))), 0.0, method
    if method == "santanello" and day and number("soil_moisture") in heat.SANTANELLO:
        return (
            float(heat.santanello_fraction(after_noon, *heat.SANTANELLO[number("soil_moisture")])),
            0.0,
            method,
        )
    if method == "hysteresis" and np.isfinite(rate) and known("hysteresis_a1"):
        return (
            number("hysteresis_a1"),
            float(heat.hysteresis(0.0, rate, 0.0, number("hysteresis_a2"), number("hysteresis_a3"))),
            method,
        )
    return number("ground_heat_fraction_day" if day else "ground_heat_fraction_night"), 0.0, "class_fraction"


def split_of(entry: Mapping[str, Mapping], green_cover: str) -> tuple[str, float]:
    """How the available energy of a surface class is split, and its coefficient (NaN where the split needs none).

    green_cover: the campaign's choice for well-watered cover, `priestley_taylor` or `de_bruin_holtslag`.
    """
    split = entry["latent_method"]["value"]
    key = SPLIT_PROPERTY.get(split, "")
    coefficient = entry[key]["value"] if key else np.nan
    return (green_cover if split == "priestley_taylor" else split), coefficient


def groups(
    means: pd.DataFrame,
    segments: pd.DataFrame,
    by: list[str],
    *,
    surfaces: Mapping[str, Mapping],
    methods: Mapping[str, str],
    air: pd.DataFrame,
    after_noon,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The energy balance of each group (a surface or a field), and why terms are not estimated.

    means: step 6's means of the groups. segments: step 6's segments, for the rate of the net radiation. methods: `ground_heat` and
    `green_cover` of the campaign. air: air_temperature (degC), pressure (hPa) and wind_speed (m s-1) of each group. after_noon: s, of each group.
    """
    findings, records = [], []
    standing = counted_segments(segments)
    for index, row in enumerate(means.to_dict("records")):
        entry, name = surfaces[row["surface"]], " / ".join(str(row[column]) for column in by)
        day = bool(row["solar_elevation"] > 0)
        own = standing[np.logical_and.reduce([standing[column] == row[column] for column in by])]
        mixed = own["solar_elevation"].gt(0).nunique() > 1
        hours = (own["start_utc"] - pd.Timestamp(0, tz="UTC")).dt.total_seconds() / 3600.0
        reason = why_no_ground_heat(row["net_radiation"], row["solar_elevation"], day, mixed, entry)
        record = {
            **{column: row[column] for column in by},
            "day": day,
            "reason": reason,
            "fraction": np.nan,
            "offset": np.nan,
            "air_temperature": air["air_temperature"].iloc[index],
            "pressure": air["pressure"].iloc[index],
        }
        record["split"], record["coefficient"] = split_of(entry, methods["green_cover"])
        if reason:
            findings.append(Finding("balance-not-estimated", reason, facts={"surface": name}))
        else:
            record["fraction"], record["offset"], record["method"] = ground_heat_terms(
                entry,
                methods["ground_heat"],
                day,
                float(after_noon[index]),
                heat.net_rate(hours, own["net_radiation"]),
            )
            if record["method"] != methods["ground_heat"]:
                findings.append(
                    Finding("ground-heat-method", facts={"surface": name, "method": methods["ground_heat"]})
                )
        records.append(record)
    result = pd.DataFrame(
        records,
        columns=[
            *by,
            "day",
            "air_temperature",
            "pressure",
            "fraction",
            "offset",
            "coefficient",
            "split",
            "method",
            "reason",
        ],
    )
    none = np.zeros(len(result))
    result = result.assign(**heat.estimate(result, means["net_radiation"].to_numpy(float), none, none))
    for row, mean, wind in zip(result.to_dict("records"), means.to_dict("records"), air["wind_speed"]):
        findings += _doubts(row, mean, wind, " / ".join(str(row[column]) for column in by))
    return result, findings


def _doubts(row: Mapping, mean: Mapping, wind: float, name: str) -> list[Finding]:
    if row["reason"]:
        return []
    if np.isfinite(row["latent_heat"]):
        if heat.against_wind(row["sensible_heat"], mean["surface_temperature"], row["air_temperature"], wind):
            return [
                Finding(
                    "heat-against-wind",
                    facts={
                        "surface": name,
                        "sensible": f"{row['sensible_heat']:.0f}",
                        "surface_temperature": f"{mean['surface_temperature']:.1f}",
                        "air_temperature": f"{row['air_temperature']:.1f}",
                    },
                )
            ]
        return []
    if row["day"] and row["split"] in GREEN and not np.isfinite(row["air_temperature"]):
        return [Finding("weather-missing", facts={"surface": name})]
    reason = (
        "by night nothing is split"
        if not row["day"]
        else "too little available energy"
        if row["split"] in GREEN
        else "no textbook fraction serves this class"
    )
    return [Finding("balance-not-split", facts={"surface": name, "reason": reason})]


def run(
    segments: pd.DataFrame,
    means: Mapping[str, pd.DataFrame],
    surfaces: Mapping[str, Mapping],
    air: pd.DataFrame,
    settings: Mapping,
) -> Made:
    """The estimated energy balance of every field and surface.

    segments, means: step 6's segments, and its groups by kind (`fields`, `surfaces`). surfaces: class properties. air:
    rows of the weather table. settings: `site`, `weather` and `methods`. Makes `fields_balance` and `surfaces_balance`.
    Findings are those of the surfaces: each is spoken of once, not once more for each of its fields.
    """
    site = settings["site"]
    usual = {"pressure": 10.0 * float(evaporation.pressure_at(site["elevation"])), **settings["weather"]}
    made, findings = {}, []
    for kind, by in GROUPINGS.items():
        of_kind = means[kind]
        middle = of_kind["start_utc"] + (of_kind["end_utc"] - of_kind["start_utc"]) / 2
        made[f"{kind}_balance"], found = groups(
            of_kind,
            segments,
            by,
            surfaces=surfaces,
            methods=settings["methods"],
            air=pd.DataFrame(weather.at(middle, air, usual)),
            after_noon=sun.seconds_after_noon(middle, site["longitude"]),
        )
        findings += found if kind == "surfaces" else []
    return Made(made, findings, [])
