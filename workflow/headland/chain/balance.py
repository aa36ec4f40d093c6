"""Step 7: an estimate of the energy balance from net radiation and textbook fractions.

Signs: ground heat is positive into the ground, sensible and latent heat are positive away from the surface, so
Q* = H + LE + G. These are estimates: what is printed from them says so.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.chain.classes import SPLIT_PROPERTY
from headland.chain.summarise import counted

ESTIMATED = ("ground_heat", "sensible_heat", "latent_heat", "evaporation", "bowen_ratio")
GREEN = ("priestley_taylor", "de_bruin_holtslag")
LEAST_HOURS = 3.0
"""h on one surface that the hysteresis form needs (methods of this project)."""

SMALLEST_ELEVATION = 20.0
"""Degrees: with the sun lower (and up) no ground heat is estimated (methods of this project)."""
SMALLEST_NET = 100.0
"""W m-2: with a net radiation between 0 and this by day no ground heat is estimated (methods of this project)."""
SMALLEST_AVAILABLE = 50.0
"""W m-2: the split of well-watered green cover needs more available energy than this (methods of this project)."""

DE_BRUIN_HOLTSLAG_OFFSET = 20.0
"""W m-2: the constant in De Bruin & Holtslag 1982 (from memory)."""
DE_BRUIN_HOLTSLAG_COEFFICIENT = 1.0
"""The coefficient of that form for well-watered grass: between 0.95 and 1 (De Bruin & Holtslag 1982, from memory)."""

SANTANELLO = {"wet": (0.31, 74000.0), "medium": (0.33, 85000.0), "dry": (0.35, 100000.0)}
"""A and B in s of Santanello & Friedl 2003 for wet, medium and dry bare soil."""


def saturation_vapour_pressure(celsius):
    """Saturation vapour pressure, kPa, at a temperature in degC: 0.6108 exp(17.27 T / (T + 237.3)) (FAO-56 eq. 11)."""
    t = np.asarray(celsius, dtype=float)
    return 0.6108 * np.exp(17.27 * t / (t + 237.3))


def slope_of_saturation(celsius):
    """Slope of the saturation vapour pressure, kPa K-1, at a temperature in degC: 4098 e0 / (T + 237.3)^2 (FAO-56 eq. 13)."""
    t = np.asarray(celsius, dtype=float)
    return 4098.0 * saturation_vapour_pressure(t) / (t + 237.3) ** 2


def pressure_at(elevation):
    """Air pressure, kPa, at an elevation in m: 101.3 ((293 - 0.0065 z) / 293)^5.26 (FAO-56 eq. 7)."""
    return 101.3 * ((293.0 - 0.0065 * np.asarray(elevation, dtype=float)) / 293.0) ** 5.26


def psychrometric_constant(pressure):
    """Psychrometric constant, kPa K-1, at a pressure in kPa: 0.665e-3 P (FAO-56 eq. 8)."""
    return 0.665e-3 * np.asarray(pressure, dtype=float)


def latent_heat_of_vaporisation(celsius):
    """Latent heat of vaporisation, MJ kg-1, at a temperature in degC: 2.501 - 2.361e-3 T (Harrison 1963; FAO-56 eq. 3-1)."""
    return 2.501 - 2.361e-3 * np.asarray(celsius, dtype=float)


def evaporation(latent_heat, celsius):
    """Evaporation, mm h-1, from a latent heat flux in W m-2: LE / lambda (1 kg m-2 of water is 1 mm)."""
    return latent_heat * 3600.0 / (latent_heat_of_vaporisation(celsius) * 1e6)


def ground_heat(net, fraction, offset=0.0):
    """Ground heat flux, W m-2, positive into the ground, as a fraction of net radiation: G = f Q* (FAO-56 eq. 45 and 46 for grass).

    offset: W m-2, the part of the hysteresis form that does not go with Q*; else 0.
    """
    return fraction * net + offset


def choudhury_fraction(leaf_area_index):
    """Ground heat fraction under a canopy: 0.4 exp(-0.5 LAI) (Choudhury et al. 1987)."""
    return 0.4 * np.exp(-0.5 * np.asarray(leaf_area_index, dtype=float))


def santanello_fraction(seconds_after_noon, amplitude, period):
    """Ground heat fraction of bare soil by day: A cos(2 pi (t + 10800) / B), not under 0 (Santanello & Friedl 2003).

    seconds_after_noon: t, s after solar noon. amplitude: A. period: B, s.
    """
    t = np.asarray(seconds_after_noon, dtype=float)
    return np.maximum(amplitude * np.cos(2.0 * np.pi * (t + 10800.0) / period), 0.0)


def hysteresis(net, net_rate, a1, a2, a3):
    """Storage flux with hysteresis, W m-2: a1 Q* + a2 dQ*/dt + a3 (Grimmond et al. 1991).

    net: Q*, W m-2. net_rate: dQ*/dt, W m-2 h-1. a1, a2 in h, a3 in W m-2.
    """
    return a1 * net + a2 * net_rate + a3


def priestley_taylor(available, celsius, pressure, coefficient):
    """Latent heat flux of well-watered cover, W m-2: alpha Delta / (Delta + gamma) A (Priestley & Taylor 1972).

    available: A = Q* - G, W m-2. celsius: air temperature. pressure: kPa. coefficient: alpha.
    """
    slope, gamma = slope_of_saturation(celsius), psychrometric_constant(pressure)
    return coefficient * slope / (slope + gamma) * available


def de_bruin_holtslag(available, celsius, pressure):
    """Latent heat flux of well-watered grass, W m-2: Delta / (Delta + gamma) A + 20 (De Bruin & Holtslag 1982)."""
    return (
        priestley_taylor(available, celsius, pressure, DE_BRUIN_HOLTSLAG_COEFFICIENT)
        + DE_BRUIN_HOLTSLAG_OFFSET
    )


def bowen_ratio(sensible_heat, latent_heat):
    """Bowen ratio H / LE (definition). NaN without a latent heat flux."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(np.asarray(latent_heat) != 0, np.divide(sensible_heat, latent_heat), np.nan)


def net_rate(hours, net) -> float:
    """Slope of the net radiation over time, W m-2 h-1, by least squares; NaN where it was followed for less than 3 h (needed by `hysteresis`)."""
    hours, net = np.asarray(hours, dtype=float), np.asarray(net, dtype=float)
    known = np.isfinite(net)
    if known.sum() < 3 or np.ptp(hours[known]) < LEAST_HOURS:
        return np.nan
    return float(np.polyfit(hours[known], net[known], 1)[0])


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
        return float(choudhury_fraction(number("leaf_area_index"))), 0.0, method
    if method == "santanello" and day and number("soil_moisture") in SANTANELLO:
        return float(santanello_fraction(after_noon, *SANTANELLO[number("soil_moisture")])), 0.0, method
    if method == "hysteresis" and np.isfinite(rate) and known("hysteresis_a1"):
        return (
            number("hysteresis_a1"),
            float(hysteresis(0.0, rate, 0.0, number("hysteresis_a2"), number("hysteresis_a3"))),
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


def latent_heat(available, split: str, day: bool, celsius: float, pressure: float, coefficient):
    """Latent heat flux, W m-2, from the available energy A = Q* - G of one surface; NaN where there is no estimate.

    split: `priestley_taylor`, `de_bruin_holtslag`, `evaporative_fraction` (LE = fraction A), `none` (dry: no evaporation) or
    `not_estimated`. By night nothing is split. celsius: air temperature. pressure: kPa. coefficient: as `split_of` gives it. Arrays or numbers.
    """
    available = np.asarray(available, dtype=float)
    match split if day else "not_estimated":
        case "priestley_taylor":
            return np.where(
                available > SMALLEST_AVAILABLE,
                priestley_taylor(available, celsius, pressure, coefficient),
                np.nan,
            )
        case "de_bruin_holtslag":
            return np.where(
                available > SMALLEST_AVAILABLE, de_bruin_holtslag(available, celsius, pressure), np.nan
            )
        case "evaporative_fraction":
            return coefficient * available
        case "none":
            return 0.0 * available
    return np.full(available.shape, np.nan)


def energy_balance(
    net, ground_heat, split: str, day: bool, celsius: float, pressure: float, coefficient
) -> dict[str, np.ndarray]:
    """The estimated terms of one surface's energy balance, W m-2, with evaporation in mm h-1 and the Bowen ratio. Arrays or numbers.

    net: Q*. ground_heat: G. The rest as for `latent_heat`; the sensible heat flux is what remains, H = Q* - G - LE (definition).
    """
    latent = latent_heat(net - ground_heat, split, day, celsius, pressure, coefficient)
    sensible = net - ground_heat - latent
    water = (
        0.0 * latent if split == "none" else evaporation(latent, celsius)
    )  # without water the air's temperature does not matter
    return {
        "ground_heat": ground_heat,
        "sensible_heat": sensible,
        "latent_heat": latent,
        "evaporation": water,
        "bowen_ratio": bowen_ratio(sensible, latent),
    }


def against_wind(
    sensible_heat: float, surface_temperature: float, air_temperature: float, wind_speed: float
) -> bool:
    """Whether the estimated sensible heat has the sign opposite to that of bulk transfer, H = rho c_p (T_s - T_a) / r_a, with T in one unit.

    The resistance r_a is positive in any wind, so only the sign of T_s - T_a counts; asked only where they differ by more than 3 K.
    """
    difference = surface_temperature - air_temperature
    return bool(wind_speed > 0 and abs(difference) > 3.0 and sensible_heat * difference < 0)


def estimate(groups: pd.DataFrame, net, fraction_error, coefficient_error) -> dict[str, np.ndarray]:
    """The estimated terms of every group from its net radiation, had its fractions been off by the given errors.

    groups: as step 7 leaves them (`fraction`, `offset`, `split`, `coefficient`, `day`, `air_temperature` in degC, `pressure` in hPa, `reason`; and
    its printed terms where it has them: a term that is not estimated is not estimated for any draw). net, errors: arrays whose last axis is
    over groups. Returns arrays of the shape of net, NaN where there is no estimate.
    """
    net, fraction_error, coefficient_error = np.broadcast_arrays(net, fraction_error, coefficient_error)
    result = {name: np.full(net.shape, np.nan) for name in ESTIMATED}
    for index, row in enumerate(groups.to_dict("records")):
        if row["reason"]:
            continue
        q = net[..., index]
        ground = ground_heat(q, row["fraction"] + fraction_error[..., index], row["offset"])
        terms = energy_balance(
            q,
            ground,
            row["split"],
            row["day"],
            row["air_temperature"],
            row["pressure"] / 10.0,
            row["coefficient"] + coefficient_error[..., index],
        )
        for name in ESTIMATED:
            if name not in row or row[name] == row[name]:
                result[name][..., index] = terms[name]
    return result


def groups(
    means: pd.DataFrame,
    segments: pd.DataFrame,
    by: list[str],
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
    standing = counted(segments)
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
                net_rate(hours, own["net_radiation"]),
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
    result = result.assign(**estimate(result, means["net_radiation"].to_numpy(float), none, none))
    for row, mean, wind in zip(result.to_dict("records"), means.to_dict("records"), air["wind_speed"]):
        findings += _doubts(row, mean, wind, " / ".join(str(row[column]) for column in by))
    return result, findings


def _doubts(row: Mapping, mean: Mapping, wind: float, name: str) -> list[Finding]:
    if row["reason"]:
        return []
    if np.isfinite(row["latent_heat"]):
        if against_wind(row["sensible_heat"], mean["surface_temperature"], row["air_temperature"], wind):
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
