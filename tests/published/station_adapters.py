"""What a weather station would say, and measured fluxes, by the names in the tables beside this file."""

import datetime

from headland.physics import bulk_transfer, evaporation, measured_fluxes, soil_heat
from headland.physics import reference_evaporation as station


def shortwave_from_place(sunshine, **place):
    outside = station.extraterrestrial_day(**place)
    return station.shortwave_from_sunshine(sunshine, station.daylight_hours(**place), outside)


def clearness(shortwave, extraterrestrial, elevation):
    return shortwave / station.clear_sky_shortwave(extraterrestrial, elevation)


def longwave_of_day(highest, lowest, vapour_pressure, clearness):
    emission = (station.emitted(highest) + station.emitted(lowest)) / 2.0
    return station.net_longwave_loss(emission, vapour_pressure, clearness)


def longwave_of_hour(celsius, vapour_pressure, clearness):
    emission = station.emitted(celsius, station.SIGMA_HOUR)
    return station.net_longwave_loss(emission, vapour_pressure, clearness)


def net_radiation_of_day(sunshine, elevation, highest, lowest, vapour_pressure, **place):
    shortwave = shortwave_from_place(sunshine, **place)
    clear = clearness(shortwave, station.extraterrestrial_day(**place), elevation)
    loss = longwave_of_day(highest, lowest, vapour_pressure, clear)
    return station.net_radiation(station.net_shortwave(shortwave), loss)


def evapotranspiration_of_day(*, available, celsius, wind, highest, lowest, vapour_pressure, elevation):
    return station.penman_monteith(
        available,
        celsius,
        wind=wind,
        deficit=station.mean_saturation(highest, lowest) - vapour_pressure,
        pressure=evaporation.pressure_at(elevation),
        crop=station.FAO_DAY,
    )


def evapotranspiration_of_hour(*, available, celsius, wind, deficit, elevation, surface, day):
    crop = station.FAO_HOUR if surface == "fao" else station.CROPS[surface][1 if day else 2]
    pressure = evaporation.pressure_at(elevation)
    return station.penman_monteith(
        available, celsius, wind=wind, deficit=deficit, pressure=pressure, crop=crop
    )


def extraterrestrial_hour(day_of_year, latitude, longitude, meridian, clock_hour):
    ends = [
        station.hour_angle(day_of_year, clock_hour + half, longitude=longitude, meridian=meridian)
        for half in (-0.5, 0.5)
    ]
    return station.extraterrestrial_between(day_of_year, latitude, *ends)


def fallon(surface):
    """1 July 2015, 39.4575 N, 1208.5 m: 102.80 and 66.65 degF, dew point 49.84, 674.07 langley, 4.80 mph at 3
    m.
    """
    highest, lowest, dew = ((f - 32.0) / 1.8 for f in (102.80, 66.65, 49.84))
    day = datetime.date(2015, 7, 1).timetuple().tm_yday
    shortwave, elevation = 674.07 * 0.041868, 1208.5
    vapour_pressure = float(evaporation.saturation_vapour_pressure(dew))
    clear = clearness(shortwave, station.extraterrestrial_day(day, 39.4575), elevation)
    loss = longwave_of_day(highest, lowest, vapour_pressure, clear)
    return station.penman_monteith(
        station.net_radiation(station.net_shortwave(shortwave), loss),
        (highest + lowest) / 2.0,
        wind=station.wind_at_2m(4.80 * 0.44704, 3.0),
        deficit=station.mean_saturation(highest, lowest) - vapour_pressure,
        pressure=evaporation.pressure_at(elevation),
        crop=station.CROPS[surface][0],
    )


def resistance_of_air(wind, **heights):
    return bulk_transfer.resistance(wind, bulk_transfer.Mast(**heights))


ADAPTERS = {
    "station.extraterrestrial_day": station.extraterrestrial_day,
    "station.extraterrestrial_hour": extraterrestrial_hour,
    "station.daylight_hours": station.daylight_hours,
    "station.inverse_distance": station.inverse_distance,
    "station.declination": station.declination,
    "station.seasonal_correction": station.seasonal_correction,
    "station.shortwave.from_place": shortwave_from_place,
    "station.clear_sky_shortwave": station.clear_sky_shortwave,
    "station.clearness": clearness,
    "station.net_shortwave": station.net_shortwave,
    "station.emitted": station.emitted,
    "station.emitted.hour": lambda celsius: station.emitted(celsius, station.SIGMA_HOUR),
    "station.longwave.of_day": longwave_of_day,
    "station.longwave.of_hour": longwave_of_hour,
    "station.net_radiation.of_day": net_radiation_of_day,
    "station.water": lambda energy: station.WATER * energy,
    "station.soil_heat_of_month": station.soil_heat_of_month,
    "station.soil_heat_from_last_month": station.soil_heat_from_last_month,
    "station.penman_monteith.day": evapotranspiration_of_day,
    "station.penman_monteith.hour": evapotranspiration_of_hour,
    "station.vapour_from_humidities": station.vapour_from_humidities,
    "station.vapour_from_psychrometer": station.vapour_from_psychrometer,
    "station.mean_saturation": station.mean_saturation,
    "station.mean_saturation.moist": lambda highest, lowest, humidity: (
        station.mean_saturation(highest, lowest) * humidity / 100.0
    ),
    "station.wind_at_2m": station.wind_at_2m,
    "station.aerodynamic_resistance": station.aerodynamic_resistance,
    "station.resistance_ratio": lambda: 70.0 / station.aerodynamic_resistance(1.0),
    "station.crop": lambda surface, period, part: getattr(station.CROPS[surface][period], part),
    "station.ground_fraction": lambda surface, day: station.GROUND_FRACTION[surface][0 if day else 1],
    "station.fallon": fallon,
    "bulk.resistance": resistance_of_air,
    "soil.heat_capacity": soil_heat.heat_capacity,
    "soil.stored_heat": soil_heat.stored_heat,
    "measured.half_range": measured_fluxes.half_range_near_minus_one,
    "measured.usual_closure": lambda place: measured_fluxes.USUAL_CLOSURE[place],
    "measured.latent": lambda available, ratio: measured_fluxes.split_by_bowen(available, ratio)[1],
    "measured.bowen_from_heights": measured_fluxes.bowen_from_heights,
}
"""By the name in the column `function`."""
