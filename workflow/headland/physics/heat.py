"""Heat fluxes of a surface: ground heat, and how the available energy is split into sensible and latent heat.

Ground heat is positive into the ground. Sensible and latent heat are positive away from the surface, so that
Q* = H + LE + G.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.physics import evaporation

ESTIMATED = ("ground_heat", "sensible_heat", "latent_heat", "evaporation", "bowen_ratio")

LEAST_HOURS = 3.0
"""h on one surface that the hysteresis form needs (docs/method.md, balance)."""

SMALLEST_AVAILABLE = 50.0
"""W m-2: below this available energy well-watered green cover is not split (docs/method.md, balance)."""

SMALLEST_DIFFERENCE = 3.0
"""K between surface and air below which `against_wind` says nothing (common practice, no source)."""

SANTANELLO = {"wet": (0.31, 74000.0), "medium": (0.33, 85000.0), "dry": (0.35, 100000.0)}
"""A and B in s of Santanello & Friedl 2003 for wet, medium and dry bare soil."""


def ground_heat(net, fraction, offset=0.0):
    """Ground heat flux, W m-2, positive into the ground: G = f Q* (equation 16; FAO-56 eq. 45 and 46 for
    grass).

    Parameters: net, Q*, W m-2; fraction, f; offset, W m-2, the part of the hysteresis form without Q*, else
    0.
    """
    return fraction * net + offset


def choudhury_fraction(leaf_area_index):
    """Ground heat fraction under a canopy: 0.4 exp(-0.5 LAI) (Choudhury et al. 1987)."""
    return 0.4 * np.exp(-0.5 * np.asarray(leaf_area_index, dtype=float))


def santanello_fraction(seconds_after_noon, amplitude, period):
    """Ground heat fraction of bare soil by day: A cos(2 pi (t + 10800) / B), not under 0 (Santanello &
    Friedl 2003).

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
    """Slope of the net radiation over time, W m-2 h-1, by least squares, for `hysteresis`.

    NaN where the record is shorter than 3 h.
    """
    hours, net = np.asarray(hours, dtype=float), np.asarray(net, dtype=float)
    known = np.isfinite(net)
    if known.sum() < 3 or np.ptp(hours[known]) < LEAST_HOURS:
        return np.nan
    return float(np.polyfit(hours[known], net[known], 1)[0])


@dataclass(frozen=True)
class Split:
    """How a surface's available energy is split.

    method: `priestley_taylor`, `de_bruin_holtslag`, `evaporative_fraction`, `none` (dry: no evaporation) or
    `not_estimated`. day: at night nothing is split. celsius: air temperature. pressure: kPa. coefficient:
    of the method, NaN where it needs none; a number or an array.
    """

    method: str
    day: bool
    celsius: float
    pressure: float
    coefficient: float | np.ndarray


def latent_heat(available, split: Split):
    """Latent heat flux, W m-2, from the available energy A = Q* - G (equation 17); NaN where there is no
    estimate.

    Parameters: available, A, W m-2, a number or an array; split, of the surface.
    """
    available = np.asarray(available, dtype=float)
    enough = available > SMALLEST_AVAILABLE
    air = split.celsius, split.pressure
    match split.method if split.day else "not_estimated":
        case "priestley_taylor":
            flux = evaporation.priestley_taylor(available, *air, split.coefficient)
            return np.where(enough, flux, np.nan)
        case "de_bruin_holtslag":
            return np.where(enough, evaporation.de_bruin_holtslag(available, *air), np.nan)
        case "evaporative_fraction":
            return split.coefficient * available
        case "none":
            return 0.0 * available
    return np.full(available.shape, np.nan)


def energy_balance(net, ground_heat, split: Split) -> dict[str, np.ndarray]:
    """The estimated terms of a surface's energy balance (equations 17 to 20).

    Parameters: net, Q*, and ground_heat, G, W m-2, numbers or arrays; split, of the surface. Returns fluxes
    in W m-2, `evaporation` in mm h-1 and `bowen_ratio`. The sensible heat flux is the remainder, H = Q* - G
    - LE.
    """
    latent = latent_heat(net - ground_heat, split)
    sensible = net - ground_heat - latent
    # a dry surface evaporates nothing, also where the air's temperature is unknown
    dry = split.method == "none"
    water = 0.0 * latent if dry else evaporation.evaporation(latent, split.celsius)
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
    """Whether the estimated sensible heat has the opposite sign to that of bulk transfer.

    Bulk transfer is H = rho c_p (T_s - T_a) / r_a. The resistance r_a is positive in any wind, so only the
    sign of T_s - T_a counts. It is asked only where the two differ by more than 3 K. Temperatures in one
    unit.
    """
    difference = surface_temperature - air_temperature
    return bool(wind_speed > 0 and abs(difference) > SMALLEST_DIFFERENCE and sensible_heat * difference < 0)


def estimate(groups: pd.DataFrame, net, fraction_error, coefficient_error) -> dict[str, np.ndarray]:
    """The estimated terms of every group, for errors of its fractions.

    Parameters: groups, rows with `fraction`, `offset`, `split`, `coefficient`, `day`, `air_temperature`
    (degC), `pressure` (hPa) and `reason`, and the printed terms where there are any: a term without a
    printed value has none for any draw; net, fraction_error, coefficient_error, arrays whose last axis is
    over groups. Returns arrays of the shape of net, NaN where there is no estimate.
    """
    net, fraction_error, coefficient_error = np.broadcast_arrays(net, fraction_error, coefficient_error)
    result = {name: np.full(net.shape, np.nan) for name in ESTIMATED}
    for index, row in enumerate(groups.to_dict("records")):
        if row["reason"]:
            continue
        q = net[..., index]
        ground = ground_heat(q, row["fraction"] + fraction_error[..., index], row["offset"])
        coefficient = row["coefficient"] + coefficient_error[..., index]
        split = Split(row["split"], row["day"], row["air_temperature"], row["pressure"] / 10.0, coefficient)
        terms = energy_balance(q, ground, split)
        for name in ESTIMATED:
            if name not in row or not pd.isna(row[name]):
                result[name][..., index] = terms[name]
    return result
