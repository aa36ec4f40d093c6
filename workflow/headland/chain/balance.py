"""Step 7: an estimate of the energy balance from net radiation and textbook fractions.

Ground heat is positive into the ground. Sensible and latent heat are positive away from the surface, so that
Q* = H + LE + G. The report says that these are estimates.
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
"""Splits of well-watered green cover."""

FRACTIONS = ("day", "fraction", "offset", "coefficient", "split", "method", "reason")
"""What is kept of how a group's balance was estimated."""

SMALLEST_ELEVATION = 20.0
"""Degrees: with the sun lower (and up) no ground heat is estimated (docs/method.md, balance)."""

SMALLEST_NET = 100.0
"""W m-2: by day no ground heat is estimated from a net radiation between 0 and this (docs/method.md,
balance).
"""


def why_no_ground_heat(net: float, solar_elevation: float, day: bool, mixed: bool, entry: Mapping) -> str:
    """Why the ground heat flux of a surface is not estimated; empty where it is.

    Parameters: net, Q*, W m-2; solar_elevation, mean, degrees; day, whether that is above the horizon;
    mixed, whether some segments are on its other side; entry, the class's properties. Returns `unknown`,
    `melt` (snow has no ground heat fraction), `day-and-night`, `sun-low` or `net-small`.
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
    """Fraction and offset of the ground heat flux of a surface class, G = fraction Q* + offset, and their
    method.

    Where the chosen method has nothing for a class (no leaf area index, no bare soil, no 3 h, night), the
    class fraction is taken.

    Parameters: entry, the class's properties; method, the campaign's choice; after_noon, s since solar
    noon; rate, dQ*/dt, W m-2 h-1 (`heat.net_rate`). Returns fraction, offset in W m-2, method.
    """
    value = {key: properties["value"] for key, properties in entry.items()}
    if method == "choudhury" and day and is_number(value.get("leaf_area_index")):
        return float(heat.choudhury_fraction(value["leaf_area_index"])), 0.0, method
    if method == "santanello" and day and value.get("soil_moisture") in heat.SANTANELLO:
        amplitude, period = heat.SANTANELLO[value["soil_moisture"]]
        return float(heat.santanello_fraction(after_noon, amplitude, period)), 0.0, method
    if method == "hysteresis" and np.isfinite(rate) and is_number(value.get("hysteresis_a1")):
        offset = heat.hysteresis(0.0, rate, 0.0, value["hysteresis_a2"], value["hysteresis_a3"])
        return value["hysteresis_a1"], float(offset), method
    return value["ground_heat_fraction_day" if day else "ground_heat_fraction_night"], 0.0, "class_fraction"


def is_number(value: object) -> bool:
    """Whether a property of a class is known as a number."""
    return isinstance(value, float)


def split_of(entry: Mapping[str, Mapping], green_cover: str) -> tuple[str, float]:
    """How the available energy of a surface class is split, and its coefficient (NaN where the split needs
    none).

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

    Parameters: means, step 6's means of the groups; segments, step 6's, for the rate of the net radiation;
    by, the columns that name a group; surfaces, class properties; methods, `ground_heat` and `green_cover`
    of the campaign; air, air_temperature (degC), pressure (hPa) and wind_speed (m s-1) of each group;
    after_noon, s, of each group.
    """
    findings: list[Finding] = []
    records = []
    standing = counted_segments(segments)
    for index, row in enumerate(means.to_dict("records")):
        own = standing[np.logical_and.reduce([standing[column] == row[column] for column in by])]
        around = {
            "air_temperature": air["air_temperature"].iloc[index],
            "pressure": air["pressure"].iloc[index],
        }
        record, found = _fractions(row, own, surfaces[row["surface"]], methods, float(after_noon[index]))
        records.append({column: row[column] for column in by} | around | record)
        facts = {"surface": _name(row, by)}
        findings += [Finding(code, variant, facts=facts | more) for code, variant, more in found]
    result = pd.DataFrame(records, columns=[*by, "air_temperature", "pressure", *FRACTIONS])
    none = np.zeros(len(result))
    result = result.assign(**heat.estimate(result, means["net_radiation"].to_numpy(float), none, none))
    rows = zip(result.to_dict("records"), means.to_dict("records"), air["wind_speed"], strict=True)
    for row, mean, wind in rows:
        findings += _doubts(row, mean, wind, _name(row, by))
    return result, findings


def _name(row: Mapping, by: list[str]) -> str:
    return " / ".join(str(row[column]) for column in by)


def _fractions(
    row: Mapping, own: pd.DataFrame, entry: Mapping, methods: Mapping[str, str], after_noon: float
) -> tuple[dict, list[tuple[str, str, dict]]]:
    """Fraction, offset and split of a group, and what is found: code, variant and facts.

    row: the group's means. own: its segments. entry: the properties of its class.
    """
    day = bool(row["solar_elevation"] > 0)
    up = own["solar_elevation"] > 0
    reason = why_no_ground_heat(
        row["net_radiation"], row["solar_elevation"], day, mixed=bool(up.any() and not up.all()), entry=entry
    )
    split, coefficient = split_of(entry, methods["green_cover"])
    record = {"day": day, "reason": reason, "split": split, "coefficient": coefficient}
    if reason:
        return record | {"fraction": np.nan, "offset": np.nan}, [("balance-not-estimated", reason, {})]
    hours = (own["start_utc"] - pd.Timestamp(0, tz="UTC")).dt.total_seconds() / 3600.0
    rate = heat.net_rate(hours, own["net_radiation"])
    fraction, offset, method = ground_heat_terms(entry, methods["ground_heat"], day, after_noon, rate)
    other = method != methods["ground_heat"]
    found = [("ground-heat-method", "", {"method": methods["ground_heat"]})] if other else []
    return record | {"fraction": fraction, "offset": offset, "method": method}, found


def _doubts(row: Mapping, mean: Mapping, wind: float, name: str) -> list[Finding]:
    """What is to be said of a group's split. row: its balance. mean: its means."""
    if row["reason"]:
        return []
    temperatures = mean["surface_temperature"], row["air_temperature"]
    if np.isfinite(row["latent_heat"]):
        if not heat.against_wind(row["sensible_heat"], *temperatures, wind):
            return []
        facts = {
            "surface": name,
            "sensible": f"{row['sensible_heat']:.0f}",
            "surface_temperature": f"{temperatures[0]:.1f}",
            "air_temperature": f"{temperatures[1]:.1f}",
        }
        return [Finding("heat-against-wind", facts=facts)]
    if row["day"] and row["split"] in GREEN and not np.isfinite(row["air_temperature"]):
        return [Finding("weather-missing", facts={"surface": name})]
    return [Finding("balance-not-split", facts={"surface": name, "reason": _why_not_split(row)})]


def _why_not_split(row: Mapping) -> str:
    if not row["day"]:
        return "by night nothing is split"
    if row["split"] in GREEN:
        return "too little available energy"
    return "no textbook fraction serves this class"


def run(
    segments: pd.DataFrame,
    means: Mapping[str, pd.DataFrame],
    surfaces: Mapping[str, Mapping],
    air: pd.DataFrame,
    settings: Mapping,
) -> Made:
    """The estimated energy balance of every field and surface.

    segments, means: step 6's segments, and its groups by kind (`fields`, `surfaces`). surfaces: class
    properties. air: rows of the weather table. settings: `site`, `weather` and `methods`. Makes
    `fields_balance` and `surfaces_balance`. Findings are those of the surfaces: each is spoken of once, not
    once more for each of its fields.
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
