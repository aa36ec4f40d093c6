"""Heat fluxes of a surface: ground heat, and how the available energy is split into sensible and latent heat.

Signs: ground heat is positive into the ground, sensible and latent heat are positive away from the surface, so Q* = H + LE + G.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.physics import evaporation

ESTIMATED = ("ground_heat", "sensible_heat", "latent_heat", "evaporation", "bowen_ratio")

LEAST_HOURS = 3.0
"""h on one surface that the hysteresis form needs (methods of this project)."""

SMALLEST_AVAILABLE = 50.0
"""W m-2: the split of well-watered green cover needs more available energy than this (methods of this project)."""

SANTANELLO = {"wet": (0.31, 74000.0), "medium": (0.33, 85000.0), "dry": (0.35, 100000.0)}
"""A and B in s of Santanello & Friedl 2003 for wet, medium and dry bare soil."""


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
                evaporation.priestley_taylor(available, celsius, pressure, coefficient),
                np.nan,
            )
        case "de_bruin_holtslag":
            return np.where(
                available > SMALLEST_AVAILABLE,
                evaporation.de_bruin_holtslag(available, celsius, pressure),
                np.nan,
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
        0.0 * latent if split == "none" else evaporation.evaporation(latent, celsius)
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
