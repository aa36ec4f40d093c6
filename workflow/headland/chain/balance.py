"""Step 7: an estimate of the energy balance from net radiation and textbook fractions.

Weather, the sun's hour, day or night, ground heat and the split are those of each visit; a field or a surface
has their means by recorded time. Signs: ground heat is positive into the ground, sensible and latent heat are
positive away from the surface, so Q* = H + LE + G. These are estimates: what is printed from them says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from headland.base.classes import SPLIT_PROPERTY
from headland.base.findings import Finding
from headland.base.frames import Made
from headland.base.groups import COUNTED, GROUPINGS
from headland.base.times import since_1970
from headland.chain import measured, weather, weather_station
from headland.files import options, step
from headland.physics import evaporation, heat, measured_forms, sun

READS = {
    "segments": step.table("segment_means"),
    "fields": step.table("group_means"),
    "surfaces": step.table("group_means"),
    "classes": options.CLASSES,
    "weather": options.WEATHER,
    "ground": options.GROUND,
    "levels": options.LEVELS,
    "station": options.silent(options.STATION),
}
WRITES = {
    "fields_balance": "group_balance",
    "surfaces_balance": "group_balance",
    "visits_balance": "visit_balance",
    "visits_estimated": "visit_balance",
    "measured_fluxes": "measured_fluxes",
    "weather_station": "weather_station",
}

OF_SEGMENT = (
    "segment",
    "set",
    "surface",
    "field",
    "start_utc",
    "end_utc",
    "weight",
    "net_radiation",
    "solar_elevation",
)
"""What a visit has of its segment."""

OVER_VISITS = (
    "day",
    "air_temperature",
    "air_source",
    "pressure",
    "fraction",
    "offset",
    "coefficient",
    "split",
    "method",
)
"""What a group has of its visits beside the estimated terms."""

MEASURED = "measured"
"""The setting of `methods.ground_heat` that takes what plates or a station measured."""

SMALLEST_ELEVATION = 20.0
"""Degrees: with the sun lower (and up) no ground heat is estimated (common practice, no source)."""
SMALLEST_NET = 100.0
"""W m-2: with a net radiation between 0 and this by day no ground heat is estimated (common practice, no
source).
"""


def why_no_ground_heat(net: float, solar_elevation: float, day: bool, fraction: float) -> str:
    """Why no ground heat flux is estimated: `unknown`, `melt`, `sun-low`, `net-small`; empty where it is.

    net: W m-2. solar_elevation: mean, degrees. day: whether the sun is above the horizon. fraction: of the
    class; one without a fraction (snow) has none because of the melt.
    """
    if not np.isfinite(net):
        return "unknown"
    if not np.isfinite(fraction):
        return "melt"
    if day and solar_elevation < SMALLEST_ELEVATION:
        return "sun-low"
    if day and 0.0 <= net <= SMALLEST_NET:
        return "net-small"
    return ""


def ground_heat_terms(
    entry: Mapping[str, Mapping], method: str, day: bool, after_noon: float, rate: float
) -> tuple[float, float, str]:
    """Fraction and offset of the ground heat flux, G = fraction Q* + offset, at a visit, and the method that
    gave them.

    entry: the class's properties. method: the campaign's choice. after_noon: s since solar noon. rate:
    dQ*/dt, W m-2 h-1 (`net_rate`). Where the chosen method has nothing for a class (no leaf area index, no
    bare soil, no 3 h, night), the class fraction serves. NaN for a class that has none.
    """

    def number(key: str):
        return entry.get(key, {}).get("value", "")

    if method == "choudhury" and day and isinstance(number("leaf_area_index"), float):
        return float(heat.choudhury_fraction(number("leaf_area_index"))), 0.0, method
    if method == "santanello" and day and number("soil_moisture") in heat.SANTANELLO:
        form = heat.SANTANELLO[number("soil_moisture")]
        return float(heat.santanello_fraction(after_noon, *form)), 0.0, method
    if method == "hysteresis" and np.isfinite(rate) and isinstance(number("hysteresis_a1"), float):
        offset = heat.hysteresis(0.0, rate, 0.0, number("hysteresis_a2"), number("hysteresis_a3"))
        return number("hysteresis_a1"), float(offset), method
    fraction = number("ground_heat_fraction_day" if day else "ground_heat_fraction_night")
    return (fraction if isinstance(fraction, float) else np.nan), 0.0, "class_fraction"


def split_of(entry: Mapping[str, Mapping], green_cover: str) -> tuple[str, float]:
    """How the available energy of a surface class is split, and its coefficient (NaN where the split needs
    none).

    green_cover: the campaign's choice for well-watered cover, `priestley_taylor` or `de_bruin_holtslag`.
    """
    split = entry["latent_method"]["value"]
    if split == "priestley_taylor" and green_cover == "de_bruin_holtslag":
        return green_cover, evaporation.DE_BRUIN_HOLTSLAG_COEFFICIENT
    key = SPLIT_PROPERTY.get(split, "")
    return split, entry[key]["value"] if key else np.nan


# Visits
# ------------------------------------------------------------------------------------------------------


def visits_of(
    segments: pd.DataFrame,
    *,
    surfaces: Mapping[str, Mapping],
    methods: Mapping[str, str],
    air: pd.DataFrame,
    after_noon,
) -> pd.DataFrame:
    """The energy balance of each visit, a row a segment that was walked or stood.

    segments: step 6's. surfaces: class properties. methods: `ground_heat` and `green_cover` of the campaign.
    air: `air_temperature` (degC), `pressure` (hPa) and `wind_speed` (m s-1) in the middle of each segment,
    and where the temperature is from (`air_source`). after_noon: s, of each segment. Whether it is day is
    decided for each visit.
    """
    inside = np.flatnonzero(segments["activity"].isin(COUNTED))
    chosen = segments.iloc[inside].reset_index(drop=True)
    own_air = air.iloc[inside].reset_index(drop=True)
    seconds = np.asarray(after_noon, dtype=float)[inside]
    rates = rates_of(chosen)
    records = []
    for row, noon, rate in zip(chosen.to_dict("records"), seconds, rates, strict=True):
        entry, day = surfaces[row["surface"]], bool(row["solar_elevation"] > 0)
        fraction, offset, method = ground_heat_terms(entry, methods["ground_heat"], day, noon, rate)
        split, coefficient = split_of(entry, methods["green_cover"])
        reason = why_no_ground_heat(row["net_radiation"], row["solar_elevation"], day, fraction)
        records.append((day, fraction, offset, coefficient, split, method, reason))
    names = ("day", "fraction", "offset", "coefficient", "split", "method", "reason")
    table = chosen[list(OF_SEGMENT)].join(own_air)
    table = table.assign(after_noon=seconds / 3600.0).join(pd.DataFrame(records, columns=names))
    table = table.astype({"day": bool})
    return with_terms(table)


def with_terms(table: pd.DataFrame) -> pd.DataFrame:
    """Visits with the fluxes that follow from their forms."""
    net = table["net_radiation"].to_numpy(float)
    terms = heat.estimate(table[["reason"]], table, np.eye(len(table)), visit_net=net, net=net)
    return with_enough_energy(table.assign(**terms))


def as_chosen(
    visits: pd.DataFrame, rows: pd.DataFrame, methods: Mapping[str, str]
) -> tuple[pd.DataFrame, list[Finding]]:
    """Visits with measurements in place of estimates, as far as `methods` asks for them, and where there are
    none.

    visits: with textbook forms. rows: of `measured.measured`.
    """
    ground = measured_forms.GROUND if methods["ground_heat"] == MEASURED else ()
    split = methods["latent_heat"]
    if not ground and split == measured_forms.ESTIMATE:
        return visits, []
    chosen = with_terms(measured_forms.applied(visits, rows, ground, split))
    findings = []
    without = chosen[chosen["split"] != split] if split != measured_forms.ESTIMATE else chosen.iloc[:0]
    for surface, part in without.groupby("surface", sort=False):
        facts = {"surface": surface, "method": split, "count": len(part)}
        findings.append(Finding("latent-heat-method", facts=facts))
    return chosen, findings


def rates_of(segments: pd.DataFrame) -> list[float]:
    """dQ*/dt at each segment, W m-2 h-1: the slope over the segments of its surface within 3 h of it
    (`heat.net_rate`).
    """
    middle = segments["start_utc"] + (segments["end_utc"] - segments["start_utc"]) / 2
    hours, net = since_1970(middle) / 3600.0, segments["net_radiation"].to_numpy(float)
    surface = segments["surface"].to_numpy()
    rates = []
    for own, hour in zip(surface, hours, strict=True):
        near = (surface == own) & (np.abs(hours - hour) <= heat.LEAST_HOURS)
        rates.append(heat.net_rate(hours[near], net[near]))
    return rates


def with_enough_energy(table: pd.DataFrame) -> pd.DataFrame:
    """The table without a split of green cover where its available energy is too small."""
    available = table["net_radiation"] - table["ground_heat"]
    none = table["split"].isin(heat.GREEN) & ~(available > heat.SMALLEST_AVAILABLE)
    return table.assign(**{name: table[name].mask(none) for name in heat.ESTIMATED if name != "ground_heat"})


# Fields and surfaces
# -------------------------------------------------------------------------------------------


def members_of(groups_: pd.DataFrame, visits: pd.DataFrame, by: Sequence[str]) -> np.ndarray:
    """Recorded time of each visit in each group, s (groups x visits)."""
    weight = visits["weight"].to_numpy(float)
    rows = [
        np.logical_and.reduce([(visits[column] == row[column]).to_numpy() for column in by]) * weight
        for row in groups_.to_dict("records")
    ]
    return np.array(rows).reshape(len(groups_), len(visits))


def groups(
    means: pd.DataFrame, visits: pd.DataFrame, by: list[str], methods: Mapping[str, str]
) -> tuple[pd.DataFrame, list[Finding]]:
    """The energy balance of each group (a surface or a field): its visits' by recorded time, and why terms
    are not estimated.

    means: step 6's means of the groups. visits: as `visits_of` makes them. methods: `ground_heat` of the
    campaign.
    """
    members, findings, records = members_of(means, visits, by), [], []
    for row, weights in zip(means.to_dict("records"), members, strict=True):
        name = " / ".join(str(row[column]) for column in by)
        own = visits[weights > 0]
        reason = why_no_ground_heat_of_group(row["net_radiation"], own)
        record = {column: row[column] for column in by} | {"reason": reason, **over_visits(own)}
        if reason:
            record |= {"fraction": np.nan, "offset": np.nan, "method": ""}
            findings.append(Finding("balance-not-estimated", reason, facts={"surface": name}))
        elif not own["method"].isin(as_methods(methods["ground_heat"])).all():
            facts = {"surface": name, "method": methods["ground_heat"]}
            findings.append(Finding("ground-heat-method", facts=facts))
        records.append(record)
    columns = [*by, *OVER_VISITS, "reason"]
    table = pd.DataFrame(records, columns=columns).astype({"day": bool})
    net = means["net_radiation"].to_numpy(float)
    visit_net = visits["net_radiation"].to_numpy(float)
    table = table.assign(**heat.estimate(table, visits, members, visit_net=visit_net, net=net))
    table = with_enough_energy(table.assign(net_radiation=net)).drop(columns="net_radiation")
    for row, mean, weights in zip(table.to_dict("records"), means.to_dict("records"), members, strict=True):
        findings += _doubts(row, mean, visits[weights > 0], " / ".join(str(row[column]) for column in by))
    return table, findings


def as_methods(setting: str) -> tuple[str, ...]:
    """What the column `method` of a visit may be where a setting of `methods.ground_heat` is met."""
    return measured_forms.GROUND if setting == MEASURED else (setting,)


def why_no_ground_heat_of_group(net: float, visits: pd.DataFrame) -> str:
    """Why a group has no ground heat flux: the limits hold for the means of its visits by day and of those by
    night.

    A single visit beyond a limit adds little to a mean, so it does not take the estimate from its group. The
    limits are those of fractions: a measured ground heat flux has none.
    """
    if not np.isfinite(net) or not len(visits):
        return "unknown"
    for day, part in visits[~visits["method"].isin(measured_forms.GROUND)].groupby("day"):
        means = {
            name: averaged(part[name], part["weight"])
            for name in ("net_radiation", "solar_elevation", "fraction")
        }
        reason = why_no_ground_heat(
            means["net_radiation"], means["solar_elevation"], bool(day), means["fraction"]
        )
        if reason:
            return reason
    return ""


def averaged(values: pd.Series, weights: pd.Series) -> float:
    """Mean of what is known, by weight; NaN where nothing is."""
    known = np.isfinite(values.to_numpy(float))
    if not known.any():
        return np.nan
    return float(np.average(values.to_numpy(float)[known], weights=weights.to_numpy(float)[known]))


def over_visits(visits: pd.DataFrame) -> dict:
    """Means over a group's visits of what their balance follows from; `day` where most of the time was by
    day.
    """
    record = {
        name: averaged(visits[name], visits["weight"])
        for name in ("air_temperature", "pressure", "fraction", "offset", "coefficient")
    }
    by_day = visits.loc[visits["day"], "weight"].sum()
    named = {name: "; ".join(sorted(set(visits[name]) - {""})) for name in ("air_source", "split", "method")}
    return {"day": bool(2.0 * by_day > visits["weight"].sum()), **record, **named}


def _doubts(row: Mapping, mean: Mapping, visits: pd.DataFrame, name: str) -> list[Finding]:
    """Findings on a group whose ground heat flux is estimated."""
    if row["reason"]:
        return []
    if set(row["split"].split("; ")) & set(measured_forms.SPLITS):
        return []
    if np.isfinite(row["latent_heat"]):
        wind = averaged(visits["wind_speed"], visits["weight"])
        return _against_wind(row, mean["surface_temperature"], wind, name)
    if row["split"] in heat.GREEN and not np.isfinite(visits.loc[visits["day"], "air_temperature"]).all():
        return [Finding("weather-missing", facts={"surface": name})]
    if not visits["day"].all():
        reason = "by night nothing is split"
    elif row["split"] in heat.GREEN:
        reason = "too little available energy"
    else:
        reason = "no textbook fraction serves this class"
    return [Finding("balance-not-split", facts={"surface": name, "reason": reason})]


def _against_wind(row: Mapping, surface_temperature: float, wind: float, name: str) -> list[Finding]:
    air = row["air_temperature"]
    given = {"surface_temperature": surface_temperature, "air_temperature": air, "wind_speed": wind}
    if not heat.against_wind(row["sensible_heat"], row["latent_heat"], **given):
        return []
    facts = {
        "surface": name,
        "sensible": f"{row['sensible_heat']:.0f}",
        "surface_temperature": f"{surface_temperature:.1f}",
        "air_temperature": f"{air:.1f}",
    }
    return [Finding("heat-against-wind", facts=facts)]


# The step
# ------------------------------------------------------------------------------------------------------


def run(
    segments: pd.DataFrame,
    means: Mapping[str, pd.DataFrame],
    surfaces: Mapping[str, Mapping],
    outside: measured.Outside,
    settings: Mapping,
) -> Made:
    """The energy balance of every visit, field and surface, estimated or, where asked for, measured.

    segments, means: step 6's segments, and its groups by kind (`fields`, `surfaces`). surfaces: class
    properties. outside: the campaign's tables of weather and measured fluxes. settings: `site`, `weather`,
    `methods`, `measured`, `station` and `sensor_height`. Makes `visits_balance` (as used),
    `visits_estimated` (by fractions alone), `measured_fluxes`, `weather_station`, `fields_balance` and
    `surfaces_balance`. Findings on groups are those of the surfaces: each is spoken of once, not once more
    for each of its fields.
    """
    site, methods, air = settings["site"], settings["methods"], outside.air
    usual = {"pressure": 10.0 * float(evaporation.pressure_at(site["elevation"])), **settings["weather"]}
    middle = segments["start_utc"] + (segments["end_utc"] - segments["start_utc"]) / 2
    estimated = visits_of(
        segments,
        surfaces=surfaces,
        methods=methods,
        air=weather.air_of(middle, air, usual),
        after_noon=sun.seconds_after_noon(middle, site["longitude"]),
    )
    rows, findings = measured.measured(estimated, segments, outside, settings, surfaces)
    visits, found = as_chosen(estimated, rows, methods)
    findings += found
    made = {"visits_balance": visits, "visits_estimated": estimated, "measured_fluxes": rows}
    made["weather_station"] = weather_station.beside(segments, visits, air, settings)
    for kind, by in GROUPINGS.items():
        made[f"{kind}_balance"], found = groups(means[kind], visits, by, methods)
        findings += found if kind == "surfaces" else []
    return Made(made, findings, [])
