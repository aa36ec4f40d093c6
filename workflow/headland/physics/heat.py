"""Heat fluxes of a surface: ground heat, and how the available energy is split into sensible and latent heat.

Signs: ground heat is positive into the ground, sensible and latent heat are positive away from the surface,
so Q* = H + LE + G.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd

from headland.physics import evaporation
from headland.physics.measured_forms import SPLITS

ESTIMATED = ("ground_heat", "sensible_heat", "latent_heat", "evaporation", "bowen_ratio")

GREEN = ("priestley_taylor", "de_bruin_holtslag")
"""The splits of well-watered green cover."""

LEAST_HOURS = 3.0
"""h on one surface that the hysteresis form needs (docs/method.md, section 7.1: common practice, no
source)."""

SMALLEST_AVAILABLE = 50.0
"""W m-2: the split of well-watered green cover needs more available energy than this (docs/method.md,
section 7.2: common practice, no source).
"""

SANTANELLO = {"wet": (0.31, 74000.0), "medium": (0.33, 85000.0), "dry": (0.35, 100000.0)}
"""A and B in s of Santanello & Friedl 2003 for wet, medium and dry bare soil."""


def ground_heat(net, fraction, offset=0.0):
    """Ground heat flux, W m-2, positive into the ground, as a fraction of net radiation: G = f Q* (FAO-56 eq.
    45 and 46 for grass).

    offset: W m-2, the part of the hysteresis form that does not go with Q*; else 0.
    """
    return fraction * net + offset


def choudhury_fraction(leaf_area_index):
    """Ground heat fraction under a canopy: 0.4 exp(-0.5 LAI) (Choudhury et al. 1987)."""
    return 0.4 * np.exp(-0.5 * np.asarray(leaf_area_index, dtype=float))


def santanello_fraction(seconds_after_noon, amplitude, period):
    """Ground heat fraction of bare soil by day: A cos(2 pi (t + 10800) / B), not under 0 (Santanello & Friedl
    2003).

    seconds_after_noon: t, s after solar noon. amplitude: A. period: B, s.
    """
    t = np.asarray(seconds_after_noon, dtype=float)
    return np.maximum(amplitude * np.cos(2.0 * np.pi * (t + 10800.0) / period), 0.0)


def hysteresis(net, net_rate, a1, a2, a3):
    """Storage flux with hysteresis, W m-2: a1 Q* + a2 dQ*/dt + a3 (Grimmond et al. 1991).

    net: Q*, W m-2. net_rate: dQ*/dt, W m-2 h-1. a1, a2 in h, a3 in W m-2.
    """
    return a1 * net + a2 * net_rate + a3


def bowen_ratio(sensible_heat, latent_heat):
    """Bowen ratio H / LE (definition). NaN without a latent heat flux."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(np.asarray(latent_heat) != 0, np.divide(sensible_heat, latent_heat), np.nan)


def net_rate(hours, net) -> float:
    """Slope of the net radiation over time, W m-2 h-1, by least squares; NaN where it was followed for less
    than 3 h (needed by `hysteresis`).
    """
    hours, net = np.asarray(hours, dtype=float), np.asarray(net, dtype=float)
    known = np.isfinite(net)
    if known.sum() < 3 or np.ptp(hours[known]) < LEAST_HOURS:
        return np.nan
    return float(np.polyfit(hours[known], net[known], 1)[0])


def latent_form(split: str, celsius: float, pressure: float) -> tuple[float, float]:
    """How the latent heat flux follows from the available energy A: LE = coefficient * slope * A + constant.

    Parameters
    ----------
    split : `priestley_taylor` (Priestley & Taylor 1972), `de_bruin_holtslag` (De Bruin & Holtslag 1982),
        `evaporative_fraction` (LE = fraction A, definition), `none` (a dry surface), `not_estimated`, or a
        way of measuring (`measured_forms.SPLITS`).
    celsius, pressure : of the air, degC and kPa.

    Returns
    -------
    The slope (1) and the constant (W m-2); NaN where nothing is estimated.
    """
    match split:
        case "priestley_taylor":
            return float(evaporation.priestley_taylor(1.0, celsius, pressure, 1.0)), 0.0
        case "de_bruin_holtslag":
            slope = float(evaporation.priestley_taylor(1.0, celsius, pressure, 1.0))
            return slope, evaporation.DE_BRUIN_HOLTSLAG_OFFSET
        case "evaporative_fraction":
            return 1.0, 0.0
        case "two_heights" | "flux_station" | "bulk_transfer":
            return 1.0, 0.0
        case "none":
            return 0.0, 0.0
    return np.nan, np.nan


def latent_heat(
    available, *, split: str, day: bool, celsius: float, pressure: float, coefficient, offset: float = 0.0
):
    """Latent heat flux, W m-2, from the available energy A = Q* - G; NaN where there is no estimate.

    Parameters
    ----------
    available : A, W m-2; array or number.
    split, celsius, pressure : as in `latent_form`.
    day : by night nothing is split but by a measurement.
    coefficient : Priestley-Taylor coefficient or evaporative fraction, or the share that was measured.
    offset : W m-2, what bulk transfer adds.
    """
    available = np.asarray(available, dtype=float)
    slope, constant = latent_form(split if day or split in SPLITS else "not_estimated", celsius, pressure)
    constant += offset
    if split in ("none", "de_bruin_holtslag"):
        coefficient = evaporation.DE_BRUIN_HOLTSLAG_COEFFICIENT
    latent = coefficient * slope * available + constant
    return np.where(available > SMALLEST_AVAILABLE, latent, np.nan) if split in GREEN else latent


def energy_balance(
    net,
    ground_heat,
    *,
    split: str,
    day: bool,
    celsius: float,
    pressure: float,
    coefficient,
    offset: float = 0.0,
) -> dict[str, np.ndarray]:
    """The estimated terms of one surface's energy balance, W m-2, with evaporation in mm h-1 and the Bowen
    ratio.

    net: Q*. ground_heat: G. The rest as for `latent_heat`; the sensible heat flux is what remains, H = Q* - G
    - LE (definition). Arrays or numbers.
    """
    latent = latent_heat(
        net - ground_heat,
        split=split,
        day=day,
        celsius=celsius,
        pressure=pressure,
        coefficient=coefficient,
        offset=offset,
    )
    sensible = net - ground_heat - latent
    return {
        "ground_heat": ground_heat,
        "sensible_heat": sensible,
        "latent_heat": latent,
        "evaporation": latent * water_of(split, celsius),
        "bowen_ratio": bowen_ratio(sensible, latent),
    }


def water_of(split: str, celsius: float) -> float:
    """Evaporation, mm h-1, of 1 W m-2 of latent heat; a dry surface in unknown air has 0 all the same."""
    if split == "none" and math.isnan(celsius):
        return 0.0
    return float(evaporation.evaporation(1.0, celsius))


LEAST_SENSIBLE = 50.0
"""W m-2: an estimate of sensible heat nearer to 0 has no sure sign, since available energy and its split are
known to a tenth of some hundred W m-2 each (common practice, no source)."""
LEAST_SHARE = 0.2
"""The same as a share of available energy: a class's evaporative fraction, or Priestley-Taylor coefficient,
is known to about that (ranges in config/surfaces.csv; common practice, no source)."""


def against_wind(
    sensible_heat: float,
    latent_heat: float,
    *,
    surface_temperature: float,
    air_temperature: float,
    wind_speed: float,
) -> bool:
    """Whether the estimated sensible heat has the sign opposite to that of bulk transfer, H = rho c_p (T_s -
    T_a) / r_a, with T in one unit.

    The resistance r_a is positive in any wind, so only the sign of T_s - T_a counts; asked only where they
    differ by more than 3 K, and where the estimate is further from 0 than LEAST_SENSIBLE and than LEAST_SHARE
    of H + LE.
    """
    difference = surface_temperature - air_temperature
    least = max(LEAST_SENSIBLE, LEAST_SHARE * abs(sensible_heat + latent_heat))
    plain = abs(difference) > 3.0 and abs(sensible_heat) > least
    return bool(wind_speed > 0 and plain and sensible_heat * difference < 0)


@dataclass(frozen=True)
class Forms:
    """What the balance of each visit follows from its net radiation by; each an array over visits.

    fraction, offset: G = fraction Q* + offset. coefficient, slope, constant: LE = coefficient slope A +
    constant. water: mm h-1 per W m-2.
    """

    fraction: np.ndarray
    offset: np.ndarray
    coefficient: np.ndarray
    slope: np.ndarray
    constant: np.ndarray
    water: np.ndarray

    def at(self, inside: np.ndarray) -> Forms:
        """Those of some visits."""
        return Forms(*(getattr(self, one.name)[inside] for one in fields(self)))

    def off_by(self, errors: Mapping[str, np.ndarray], inside: np.ndarray) -> Forms:
        """Had the fractions been off by errors, (draws x visits): see `ERRORS`."""
        changed = {
            own: getattr(self, own) + errors[name][..., inside]
            for name, own in ERRORS.items()
            if name in errors
        }
        return replace(self, **changed)

    def terms(self, net) -> dict[str, np.ndarray]:
        """Ground heat, latent heat and evaporation of visits (... x visits) from their net radiation."""
        ground = ground_heat(net, self.fraction, self.offset)
        latent = self.coefficient * self.slope * (net - ground) + self.constant
        return {"ground_heat": ground, "latent_heat": latent, "evaporation": latent * self.water}


ERRORS = {
    "ground_heat_fraction": "fraction",
    "ground_heat_offset": "offset",
    "latent_heat_fraction": "coefficient",
    "latent_heat_offset": "constant",
}
"""Errors of visits, and which part of `Forms` each is added to."""


def forms_of(visits: pd.DataFrame) -> Forms:
    """The forms of visits, as step 7 leaves them: `fraction`, `offset`, `split`, `coefficient`, `day`,
    `air_temperature` (degC), `pressure` (hPa) and, where something is measured, `latent_offset` (W m-2). By
    night nothing is split but by a measurement."""
    slopes, constants, water = [], [], []
    for row in visits.to_dict("records"):
        by_day = row["day"] == 1  # True and 1.0 alike; not NaN
        split = row["split"] if by_day or row["split"] in SPLITS else "not_estimated"
        slope, constant = latent_form(split, row["air_temperature"], row["pressure"] / 10.0)
        slopes.append(slope)
        constants.append(constant + row.get("latent_offset", 0.0))
        water.append(water_of(split, row["air_temperature"]))
    coefficient = visits["coefficient"].where(visits["split"] != "none", 0.0)
    given = (visits["fraction"], visits["offset"], coefficient, slopes, constants, water)
    return Forms(*(np.asarray(one, dtype=float) for one in given))


def estimate(
    groups: pd.DataFrame,
    visits: pd.DataFrame,
    members: np.ndarray,
    *,
    visit_net,
    net,
    errors: Mapping[str, np.ndarray] | None = None,
) -> dict[str, np.ndarray]:
    """The estimated terms of groups: the balance of each visit, averaged by recorded time.

    Parameters
    ----------
    groups : `reason` of each; and its printed terms where it has them: a term that is not estimated is not
        estimated for any draw.
    visits : as `forms_of` takes them.
    members : weight of each visit in each group (groups x visits); a visit without net radiation has none.
    visit_net : net radiation of the visits, W m-2 (... x visits).
    net : of the groups (... x groups). Its difference from the mean of its visits is added to each visit.
    errors : of visits, by the names of `ERRORS`.

    Returns
    -------
    The terms of `ESTIMATED`, each of the shape of net; NaN where there is no estimate.
    """
    visit_net, net = np.asarray(visit_net, dtype=float), np.asarray(net, dtype=float)
    known = np.isfinite(visit_net).all(axis=tuple(range(visit_net.ndim - 1)))
    forms = forms_of(visits)
    result = {name: np.full(net.shape, np.nan) for name in ESTIMATED}
    for index, row in enumerate(groups.to_dict("records")):
        inside = np.flatnonzero((members[index] > 0) & known)
        if row["reason"] or not len(inside):
            continue
        share = members[index, inside] / members[index, inside].sum()
        own = visit_net[..., inside]
        own = own + (net[..., index] - own @ share)[..., None]
        of_visits = forms.at(inside).off_by(errors or {}, inside).terms(own)
        terms = {name: values @ share for name, values in of_visits.items()}
        terms["sensible_heat"] = net[..., index] - terms["ground_heat"] - terms["latent_heat"]
        terms["bowen_ratio"] = bowen_ratio(terms["sensible_heat"], terms["latent_heat"])
        for name in ESTIMATED:
            if name not in row or row[name] == row[name]:
                result[name][..., index] = terms[name]
    return result
