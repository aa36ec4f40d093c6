"""Ways of measuring heat fluxes: each gives its numbers at a visit, or the reason why it gives none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.chain.measured_records import Records, of_place
from headland.physics import bulk_transfer, evaporation, measured_fluxes, soil_heat
from headland.physics.constants import RADIATION
from headland.physics.measured_forms import CLOSURE_MIDDLE, reach_of

MINERAL_FRACTION, ORGANIC_FRACTION = 0.5, 0.02
"""Of the soil's volume where nobody measures it: a loam with half its volume of pores (common practice, no
source).
"""
USUAL_MOISTURE, UNKNOWN_MOISTURE = 0.25, 2.5
"""Water content, m3 m-3, where it is not measured, and how much less the storage is known then (common
practice, no source)."""
THIN = 0.01
"""m: a plate no deeper has nothing above it that counts (common practice, no source)."""
RESOLUTIONS = {"temperature_resolution": 0.1, "humidity_resolution": 1.0}
"""K and %: how well differences between two heights are known where levels.csv does not say (common
practice, no source)."""
LAPSE = 0.0098
"""K m-1: dry air cools by so much where it rises (definition: gravity over the heat capacity of air)."""
SMALLEST_FLUXES = 20.0
"""W m-2: a station's H + LE that is smaller has no Bowen ratio (common practice, no source)."""
CLOSURES = (0.3, 2.0)
"""Closure of a station outside which something else is wrong (common practice, no source)."""
SLOWEST_WIND = 0.5
"""m s-1: bulk transfer needs more wind than this (FAO-56, page on missing wind, from memory)."""


@dataclass(frozen=True)
class Visit:
    """One visit with the air over it: its row of step 7, start and end in s since 1970, its surface
    temperature (degC), the height of its cover (m, NaN where unknown) and the air's pressure (kPa)."""

    row: Mapping
    start: float
    end: float
    surface_temperature: float
    cover: float

    @property
    def pressure(self) -> float:
        return self.row["pressure"] / 10.0

    @property
    def available(self) -> float:
        """Q* - G, W m-2."""
        return self.row["net_radiation"] - self.row["ground_heat"]


Numbers = dict[str, float]
Answer = tuple[Numbers, str] | None
"""What a way of measuring gives at a visit: its numbers, and the reason where it gives none; None where it
has no record for the visit's ground at all."""


# Ground heat ------------------------------------------------------------------------------------------------


class Plates:
    """Plates in the soil (ground.csv)."""

    def __init__(self, table: pd.DataFrame, stamp: str):
        self.table, self.stamp = table, stamp
        self.named = table[(table["field"] != "") | (table["surface"] != "")]

    def at(self, visit: Visit) -> Answer:
        """The ground heat at the surface of a visit."""
        own = of_place(self.named, visit.row)
        if not len(own):
            return None
        records = Records(own, self.stamp)
        plate = records.over("soil_heat_flux", visit.start, visit.end)
        depth = records.over("depth", visit.start, visit.end)
        if not np.isfinite(plate):
            return {}, "no-record"
        if not np.isfinite(depth):
            return {}, "no-depth"
        warming, hours = records.rate("soil_temperature", visit.start, visit.end)
        if depth <= THIN:
            warming = 0.0
        if not np.isfinite(warming):
            return {}, "no-storage"
        moisture = records.over("soil_moisture", visit.start, visit.end)
        return surface_flux(plate, depth, warming, moisture, hours), ""


def surface_flux(plate: float, depth: float, warming: float, moisture: float, hours: float) -> Numbers:
    """Ground heat at the surface from a plate, and how its errors act, W m-2.

    Parameters
    ----------
    plate : W m-2
    depth : m
    warming : of the soil above it, K h-1, taken over so many `hours`
    moisture : m3 m-3; NaN where it is not measured
    """
    known = np.isfinite(moisture)
    water = moisture if known else USUAL_MOISTURE
    capacity = soil_heat.heat_capacity(MINERAL_FRACTION, ORGANIC_FRACTION, water)
    stored = float(soil_heat.stored_heat(capacity, depth, warming))
    total = float(soil_heat.ground_heat_at_surface(plate, capacity, depth, warming))
    of_a_kelvin = float(soil_heat.stored_heat(capacity, depth, 1.0 / hours))
    return {
        "ground_heat": total,
        "plate": plate,
        "stored": stored,
        reach_of("plate"): plate,
        reach_of("soil_storage"): stored * (1.0 if known else UNKNOWN_MOISTURE),
        reach_of("soil_warming"): of_a_kelvin if depth > THIN else 0.0,
        reach_of("one_spot"): total,
    }


# Air at two heights -----------------------------------------------------------------------------------------


class TwoHeights:
    """Air temperature and humidity at two heights (levels.csv): a Bowen ratio."""

    def __init__(self, table: pd.DataFrame, stamp: str):
        self.table, self.stamp = table.assign(**differences(table)), stamp
        self.upside_down = not (table["upper_height"] > table["lower_height"]).any()

    def at(self, visit: Visit) -> Answer:
        """The share of the available energy that evaporates at a visit."""
        own = of_place(self.table, visit.row)
        if not len(own):
            return None
        if self.upside_down:
            return {}, "heights"
        records = Records(own, self.stamp)
        names = ("warmer", "moister", "temperature_resolution", "vapour_resolution")
        warmer, moister, of_temperature, of_vapour = (
            records.over(name, visit.start, visit.end) for name in names
        )
        if not np.isfinite(warmer) or not np.isfinite(moister):
            return {}, "no-record"
        if not np.isfinite(visit.available):
            return {}, "no-ground-heat"
        sizes = {"resolution_temperature": of_temperature, "resolution_vapour": of_vapour}
        ratio = float(measured_fluxes.bowen_from_heights(warmer, moister, visit.pressure))
        half = measured_fluxes.half_range_near_minus_one(moister, visit.pressure, **sizes)
        if not np.isfinite(ratio) or abs(ratio + 1.0) < half:
            return {}, "near-minus-one"
        if measured_fluxes.is_rejected(warmer, moister, visit.available, pressure=visit.pressure, **sizes):
            return {}, "against-differences"
        gamma = float(evaporation.psychrometric_constant(visit.pressure))
        share = 1.0 / (1.0 + ratio)
        sensible, latent = measured_fluxes.split_by_bowen(visit.available, ratio)
        return {
            "sensible_heat": float(sensible),
            "latent_heat": float(latent),
            "bowen_ratio": ratio,
            "coefficient": share,
            reach_of("levels_temperature"): share**2 * gamma / moister * of_temperature,
            reach_of("levels_humidity"): share**2 * ratio / moister * of_vapour,
        }, ""


def differences(table: pd.DataFrame) -> dict[str, np.ndarray]:
    """Lower minus upper height: potential temperature `warmer` (K) and vapour pressure `moister` (kPa), with
    their resolutions. NaN where the lower height is not the lower one.
    """
    lower, upper = (table[f"{level}_height"].to_numpy(float) for level in ("lower", "upper"))
    warmth = {level: table[f"{level}_air_temperature"].to_numpy(float) for level in ("lower", "upper")}
    vapour = {level: vapour_pressure(table, level) for level in ("lower", "upper")}
    stated = {name: table[name].fillna(usual).to_numpy(float) for name, usual in RESOLUTIONS.items()}
    saturated = evaporation.saturation_vapour_pressure((warmth["lower"] + warmth["upper"]) / 2.0)
    apart = np.where(upper > lower, upper - lower, np.nan)
    return {
        "warmer": warmth["lower"] - warmth["upper"] - LAPSE * apart,
        "moister": np.where(upper > lower, vapour["lower"] - vapour["upper"], np.nan),
        "temperature_resolution": stated["temperature_resolution"],
        "vapour_resolution": saturated * stated["humidity_resolution"] / 100.0,
    }


def vapour_pressure(table: pd.DataFrame, level: str) -> np.ndarray:
    """Vapour pressure at a height, kPa: as measured, else from the relative humidity."""
    humidity = table[f"{level}_relative_humidity"].to_numpy(float) / 100.0
    by_humidity = humidity * evaporation.saturation_vapour_pressure(table[f"{level}_air_temperature"])
    stated = table[f"{level}_vapour_pressure"].to_numpy(float) / 10.0
    return np.where(np.isfinite(stated), stated, by_humidity)


# A flux station ---------------------------------------------------------------------------------------------


class Station:
    """Turbulent fluxes and soil heat flux of a station (station.csv)."""

    def __init__(self, table: pd.DataFrame, settings: Mapping):
        """settings: `stamp`, and `surface` or `field` that the station measures."""
        self.records = Records(table, settings["stamp"])
        self.places = {name: settings[name] for name in ("field", "surface") if settings.get(name)}
        self.has = {name: table[name].notna().any() for name in ("sensible_heat", "latent_heat")}
        self.has_ground = table["soil_heat_flux"].notna().any()

    def stands_on(self, visit: Visit) -> bool:
        """Whether the station measures a visit's ground; true as well where it is not stated."""
        return all(visit.row[name] == place for name, place in self.places.items())

    def _over(self, name: str, visit: Visit) -> float:
        return self.records.over(name, visit.start, visit.end)

    def ground_at(self, visit: Visit) -> Answer:
        """The station's own ground heat at the time of a visit."""
        if not self.has_ground or not self.stands_on(visit):
            return None
        value = self._over("soil_heat_flux", visit)
        if not np.isfinite(value):
            return {}, "no-record"
        return {"ground_heat": value, reach_of("station_soil"): value}, ""

    def at(self, visit: Visit) -> Answer:
        """The share of the available energy that evaporates by the station's Bowen ratio."""
        if not all(self.has.values()) or not self.stands_on(visit):
            return None
        sensible, latent = (self._over(name, visit) for name in ("sensible_heat", "latent_heat"))
        if not np.isfinite(sensible + latent):
            return {}, "no-record"
        own = self.own_available(visit)
        if not np.isfinite(visit.available) or not np.isfinite(own):
            return {}, "no-ground-heat"
        together = sensible + latent
        if abs(together) < max(SMALLEST_FLUXES, 0.3 * max(abs(sensible), abs(latent))):
            return {}, "fluxes-small"
        share = float(measured_fluxes.closure(own, sensible, latent))
        if not CLOSURES[0] <= share <= CLOSURES[1]:
            return {}, "closure"
        if together * visit.available < 0.0:
            return {}, "against-energy"
        return closed(sensible, latent, share), ""

    def own_available(self, visit: Visit) -> float:
        """Q* - G of the station where it measures all of it; else of the visit, W m-2."""
        terms = {name: self._over(name, visit) for name in RADIATION}
        ground = self._over("soil_heat_flux", visit)
        net = terms["sw_in"] - terms["sw_out"] + terms["lw_in"] - terms["lw_out"]
        return net - ground if np.isfinite(net - ground) else visit.available


def closed(sensible: float, latent: float, closure: float) -> Numbers:
    """The share that evaporates, with the errors of a station that does not close.

    The gap may be all sensible or all latent heat: the share lies between LE / A and (A - H) / A.
    """
    share = latent / (sensible + latent)
    gap = 1.0 - closure
    return {
        "sensible_heat": sensible,
        "latent_heat": latent,
        "bowen_ratio": sensible / latent if latent else np.nan,
        "closure": closure,
        "coefficient": share,
        reach_of("station_fluxes"): share * (1.0 - share),
        reach_of("station_closure"): gap / 2.0,
        CLOSURE_MIDDLE: gap * (0.5 - share),
    }


# Wind -------------------------------------------------------------------------------------------------------


class Wind:
    """Wind, air and surface temperature: bulk transfer."""

    def __init__(self, settings: Mapping):
        """settings: `wind_height` and `air_height` of weather.csv, m."""
        self.heights = settings["wind_height"], settings["air_height"]

    def at(self, visit: Visit) -> Answer:
        """The sensible heat at a visit; the latent heat is what remains."""
        wind, air = visit.row["wind_speed"], visit.row["air_temperature"]
        if not np.isfinite(wind):
            return None
        if not np.isfinite(air) or not np.isfinite(visit.surface_temperature):
            return {}, "no-temperature"
        if wind < SLOWEST_WIND:
            return {}, "no-wind"
        if not np.isfinite(visit.cover):
            return {}, "no-cover"
        mast = bulk_transfer.Mast(*self.heights, visit.cover)
        if min(self.heights) <= mast.displacement + 2.0 * mast.roughness:
            return {}, "low-mast"
        if not np.isfinite(visit.available):
            return {}, "no-ground-heat"
        warmth = visit.surface_temperature + np.array([0.0, -0.5, 0.5])
        flux, cooler, warmer = bulk_transfer.sensible_heat(warmth, air, wind, mast, visit.pressure)
        return {
            "sensible_heat": float(flux),
            "latent_heat": float(visit.available - flux),
            "coefficient": 1.0,
            "latent_offset": -float(flux),
            reach_of("bulk_transfer"): -float(flux),
            reach_of("bulk_temperature"): -float(warmer - cooler),
        }, ""
