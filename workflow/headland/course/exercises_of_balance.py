"""Questions about the energy balance, with the numbers that common slips give."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np
import pandas as pd

from headland.chain.weather_station import AN_HOUR
from headland.course.questions import Part, Question
from headland.physics import bulk_transfer, evaporation, measured_fluxes
from headland.physics import reference_evaporation as station
from headland.report.wording import number, opening

Called = Callable[[str], str]
"""What people call a surface, from its class."""

SURFACE_RESISTANCE = 70.0
"""s m-1: of the leaves of the reference grass to vapour (FAO-56, box 5)."""


def of_balance(surfaces: pd.DataFrame, called: Called) -> Iterator[Question]:
    """The split of the available energy by a Bowen ratio, without ground heat, and upside down."""
    if "bowen_ratio" not in surfaces:
        return
    known = surfaces[surfaces["bowen_ratio"].notna() & (surfaces["bowen_ratio"] > 0.0)]
    if not len(known):
        return
    row = known.iloc[int((known["bowen_ratio"] - 1.0).abs().argmax())]
    net, ground, ratio = (float(row[name]) for name in ("net_radiation", "ground_heat", "bowen_ratio"))
    right, without, inverted = (
        float(measured_fluxes.split_by_bowen(available, beta)[1])
        for available, beta in ((net - ground, ratio), (net, ratio), (net - ground, 1.0 / ratio))
    )
    yield Question(
        f"{opening(called(row['surface']))} had a net radiation of {number(net, 1)} W m⁻², a ground heat "
        f"flux of {number(ground, 1)} W m⁻² and a Bowen ratio of {number(ratio, 3)}. How large is the "
        "latent heat flux? "
        "What comes out if the minus of ground heat is forgotten, and what if the Bowen ratio is used upside "
        "down?",
        f"LE = (Q* − G) / (1 + β) = {number(right, 1)} W m⁻². Without minus G: {number(without, 1)}, as if "
        "the "
        f"ground took up nothing. Upside down: {number(inverted, 1)}, which is the sensible heat flux.",
        (
            Part("latent heat", "latent_heat", right),
            Part("without minus G", "latent_heat", without),
            Part("upside down", "latent_heat", inverted),
        ),
    )


def of_visits(visits: pd.DataFrame | None, called: Called) -> Iterator[Question]:
    """What a weather station and the wind say of a visit, with the slips of units and resistances.

    visits: step 7's with the columns of `weather_station.csv` and `surface_temperature`, degC.
    """
    if visits is None:
        return
    lit = visits[visits["reference_evapotranspiration"].notna() & (visits["net_radiation_station"] > 0.0)]
    if len(lit):
        yield _of_station(lit.iloc[len(lit) // 2].to_dict(), called)
    windy = visits[(visits["wind_speed"] > 0.0) & visits["surface_temperature"].notna()]
    windy = windy[windy["air_temperature"].notna()]
    if len(windy):
        apart = (windy["surface_temperature"] - windy["air_temperature"]).abs()
        yield _of_wind(windy.iloc[int(apart.argmax())].to_dict(), called)


def _evapotranspiration(row: Mapping, crop: station.Crop, pressure: float) -> float:
    """mm h-1 by day. pressure: as it is put into the formula, which wants kPa."""
    celsius = row["air_temperature"]
    deficit = evaporation.saturation_vapour_pressure(celsius) * (1.0 - row["relative_humidity"] / 100.0)
    available = (1.0 - station.GROUND_FRACTION["short"][0]) * row["net_radiation_station"] * AN_HOUR
    found = station.penman_monteith(
        available, celsius, wind=row["wind_speed"], deficit=deficit, pressure=pressure, crop=crop
    )
    return float(found)


def _of_station(row: Mapping, called: Called) -> Question:
    hectopascal = float(row["pressure"])
    right = _evapotranspiration(row, station.SHORT_HOUR_DAY, hectopascal / 10.0)
    of_day = _evapotranspiration(row, station.SHORT_DAY, hectopascal / 10.0)
    in_hectopascal = _evapotranspiration(row, station.SHORT_HOUR_DAY, hectopascal)
    estimated = row["evaporation"]
    beside = (
        f" Estimated for {called(row['surface'])}: {number(estimated, 2)} mm h⁻¹."
        if np.isfinite(estimated)
        else ""
    )
    return Question(
        f"While {called(row['surface'])} was visited, a weather station had a net radiation of "
        f"{number(row['net_radiation_station'], 1)} W m⁻² over grass, air of "
        f"{number(row['air_temperature'], 1)} °C "
        f"and {number(row['relative_humidity'], 0)} % humidity, a wind of {number(row['wind_speed'], 1)} m "
        "s⁻¹ at "
        f"2 m, and {number(hectopascal, 0)} hPa. How much does reference grass evaporate in an hour "
        "(Penman-Monteith, "
        "hourly form, a tenth of net radiation into the ground)? What comes out with the constants of a "
        "day, and "
        "what with the pressure in hPa where the formula wants kPa?",
        f"{number(right, 3)} mm h⁻¹. With 900 and 0.34 of a day in place of 37 and 0.24 of an hour: "
        f"{number(of_day, 2)}. With hPa as kPa the psychrometric constant is ten times too large: "
        f"{number(in_hectopascal, 3)}.{beside}",
        (
            Part("evapotranspiration", "evaporation", right),
            Part("constants of a day", "evaporation", of_day),
            Part("hPa as kPa", "evaporation", in_hectopascal),
        ),
    )


def _of_wind(row: Mapping, called: Called) -> Question:
    warmer = row["surface_temperature"] - row["air_temperature"]
    density = float(bulk_transfer.air_density(row["air_temperature"], row["pressure"] / 10.0))
    of_air = float(station.aerodynamic_resistance(row["wind_speed"]))
    right, wrong = (
        density * bulk_transfer.HEAT_CAPACITY * warmer / resistance
        for resistance in (of_air, SURFACE_RESISTANCE)
    )
    return Question(
        f"{opening(called(row['surface']))} was at {number(row['surface_temperature'], 1)} °C under air of "
        f"{number(row['air_temperature'], 1)} °C and {number(row['pressure'], 0)} hPa, in a wind of "
        f"{number(row['wind_speed'], 1)} m s⁻¹. How large is the sensible heat flux with the resistance of "
        "the air "
        "over reference grass, r_a = 208 / u? What comes out with the 70 s m⁻¹ of the leaves? Why is "
        "neither quite "
        "right over another surface?",
        f"r_a = {number(of_air, 0)} s m⁻¹, so H = ρ c_p (T_s − T_a) / r_a = {number(right, 0)} W m⁻². With "
        "70 s m⁻¹, "
        f"which is the resistance of leaves to vapour: {number(wrong, 0)}. Another surface has another "
        "roughness, and "
        "warm ground makes the air above it mix better.",
        (Part("sensible heat", "sensible_heat", right), Part("70 s m⁻¹", "sensible_heat", wrong)),
    )
