"""Reference evapotranspiration against two independent libraries, and in its limits.

The libraries are in requirements-dev.lock, and no part of a run.
"""

import numpy as np
import pandas as pd
import pyet
import pytest
import refet

from headland.physics import evaporation
from headland.physics import reference_evaporation as station

LATITUDE, LONGITUDE, ELEVATION, DAY = 39.4575, -118.774, 1208.5, 182
HIGHEST, LOWEST, VAPOUR, SHORTWAVE, WIND = 39.3, 19.2, 1.22, 28.2, 2.0
PRESSURE = float(evaporation.pressure_at(ELEVATION))

SAME_FORM = 1e-9
"""Relative: both compute the same printed equations with the same printed constants in double precision."""
ROUNDED = 3e-4
"""Relative: the standard rounds where FAO-56 does not (a slope with 2503 for the product of the three
constants, 1.1e-5; a longwave constant of 4.901e-9 for 4.903e-9, 4e-4 of a loss that is a third of the sum).
"""


def first(values) -> float:
    """The only value of what a library returns."""
    return float(np.ravel(values)[0])


def net_of_day() -> float:
    outside = station.extraterrestrial_day(DAY, LATITUDE)
    clear = SHORTWAVE / station.clear_sky_shortwave(outside, ELEVATION)
    emission = (station.emitted(HIGHEST) + station.emitted(LOWEST)) / 2.0
    return float(station.net_shortwave(SHORTWAVE) - station.net_longwave_loss(emission, VAPOUR, clear))


def daily(surface: str, net: float) -> float:
    return station.penman_monteith(
        net,
        (HIGHEST + LOWEST) / 2.0,
        wind=WIND,
        deficit=station.mean_saturation(HIGHEST, LOWEST) - VAPOUR,
        pressure=PRESSURE,
        crop=station.CROPS[surface][0],
    )


# The library of the standard --------------------------------------------------------------------------------


@pytest.mark.parametrize("surface, name", [("short", "eto"), ("tall", "etr")])
def test_a_day_is_that_of_a_library_of_the_standard(surface, name):
    """Radiation at the top of the atmosphere, clear sky, net radiation and evapotranspiration of a day."""
    theirs = refet.Daily(
        tmin=LOWEST,
        tmax=HIGHEST,
        ea=VAPOUR,
        rs=SHORTWAVE,
        uz=WIND,
        zw=2.0,
        elev=ELEVATION,
        lat=LATITUDE,
        doy=DAY,
        method="asce",
    )
    outside = station.extraterrestrial_day(DAY, LATITUDE)
    assert outside == pytest.approx(first(theirs.ra), rel=SAME_FORM)
    assert station.clear_sky_shortwave(outside, ELEVATION) == pytest.approx(first(theirs.rso), rel=SAME_FORM)
    assert net_of_day() == pytest.approx(first(theirs.rn), rel=ROUNDED)
    assert daily(surface, net_of_day()) == pytest.approx(first(getattr(theirs, name)()), rel=ROUNDED)


@pytest.mark.parametrize("surface, name", [("short", "eto"), ("tall", "etr")])
@pytest.mark.parametrize(
    "air, hour", [((33.3, 1.2, 3.2, 2.0), 18), ((24.0, 1.5, 1.1, 4.5), 15)], ids=["noon", "morning"]
)
def test_an_hour_by_day_is_that_of_a_library_of_the_standard(surface, name, air, hour):
    """With the library's own net radiation: its clearness comes from another clear sky. hour: UTC."""
    celsius, vapour, shortwave, wind = air
    theirs = refet.Hourly(
        tmean=celsius,
        ea=vapour,
        rs=shortwave,
        uz=wind,
        zw=2.0,
        elev=ELEVATION,
        lat=LATITUDE,
        lon=LONGITUDE,
        doy=DAY,
        time=hour,
        method="asce",
    )
    middle = station.hour_angle(DAY, hour + 0.5, longitude=LONGITUDE, meridian=0.0)
    half = np.pi / 24.0
    outside = station.extraterrestrial_between(DAY, LATITUDE, middle - half, middle + half)
    assert outside == pytest.approx(first(theirs.ra), rel=SAME_FORM)
    net = first(theirs.rn)
    found = station.penman_monteith(
        (1.0 - station.GROUND_FRACTION[surface][0]) * net,
        celsius,
        wind=wind,
        deficit=evaporation.saturation_vapour_pressure(celsius) - vapour,
        pressure=PRESSURE,
        crop=station.CROPS[surface][1],
    )
    assert net > 0.0 and found == pytest.approx(first(getattr(theirs, name)()), rel=ROUNDED)


def test_an_hour_by_night_is_that_of_a_library_of_the_standard():
    """mm h-1: 2e-5, since net radiation and air nearly cancel."""
    given = dict(tmean=18.0, ea=1.1, rs=0.0, uz=1.0, zw=2.0, elev=ELEVATION, doy=DAY, time=6, method="asce")
    theirs = refet.Hourly(lat=LATITUDE, lon=LONGITUDE, **given)
    for surface, name in (("short", "eto"), ("tall", "etr")):
        found = station.penman_monteith(
            (1.0 - station.GROUND_FRACTION[surface][1]) * first(theirs.rn),
            18.0,
            wind=1.0,
            deficit=evaporation.saturation_vapour_pressure(18.0) - 1.1,
            pressure=PRESSURE,
            crop=station.CROPS[surface][2],
        )
        assert found == pytest.approx(first(getattr(theirs, name)()), abs=2e-5)


# The library of many methods --------------------------------------------------------------------------------


def series(value: float) -> pd.Series:
    return pd.Series([float(value)], pd.date_range("2015-07-01", periods=1))


@pytest.mark.parametrize("net", [3.0, 15.0])
def test_a_day_is_that_of_a_library_of_many_methods(net):
    mean = (HIGHEST + LOWEST) / 2.0
    others = dict(elevation=ELEVATION, tmax=series(HIGHEST), tmin=series(LOWEST), ea=series(VAPOUR), g=0)
    for method in (pyet.pm_fao56, pyet.pm_asce):
        theirs = first(method(series(mean), series(WIND), rn=series(net), **others))
        assert daily("short", net) == pytest.approx(theirs, rel=SAME_FORM)


def test_priestley_and_taylor_s_evaporation_is_that_of_a_library_of_many_methods():
    theirs = first(
        pyet.priestley_taylor(series(29.25), rn=series(15.0), g=0, elevation=ELEVATION, alpha=1.26)
    )
    flux = evaporation.priestley_taylor(15.0e6 / 86400.0, 29.25, PRESSURE, 1.26)
    assert 24.0 * evaporation.evaporation(flux, 29.25) == pytest.approx(theirs, rel=SAME_FORM)


@pytest.mark.parametrize("celsius", [-5.0, 8.0, 25.0, 41.0])
def test_vapour_pressure_and_latent_heat_are_those_of_a_library_of_many_methods(celsius):
    own = (
        (evaporation.saturation_vapour_pressure, pyet.calc_e0),
        (evaporation.slope_of_saturation, pyet.calc_vpc),
        (evaporation.latent_heat_of_vaporisation, pyet.calc_lambda),
    )
    for ours, theirs in own:
        assert float(ours(celsius)) == pytest.approx(float(theirs(celsius)), rel=SAME_FORM)
    assert float(pyet.calc_press(ELEVATION)) == pytest.approx(PRESSURE, rel=SAME_FORM)
    assert float(evaporation.psychrometric_constant(90.0)) == pytest.approx(
        float(pyet.calc_psy(90.0)), rel=SAME_FORM
    )


# Limits -----------------------------------------------------------------------------------------------------


def test_without_wind_it_is_the_evaporation_of_the_available_energy_in_equilibrium():
    """u = 0: 0.408 Delta / (Delta + gamma) A, Priestley-Taylor with a coefficient of 1 and 2.45 MJ kg-1."""
    for crop in (station.FAO_DAY, *station.CROPS["tall"]):
        found = station.penman_monteith(10.0, 20.0, wind=0.0, deficit=1.0, pressure=101.3, crop=crop)
        assert found == pytest.approx(0.408 * evaporation.priestley_taylor(10.0, 20.0, 101.3, 1.0))


def test_hours_of_a_day_add_up_to_its_radiation_and_the_polar_night_has_none():
    edges = np.linspace(-np.pi, np.pi, 25)
    for latitude in (-60.0, 0.0, 35.0, 80.0):
        hours = station.extraterrestrial_between(DAY, latitude, edges[:-1], edges[1:])
        assert hours.sum() == pytest.approx(station.extraterrestrial_day(DAY, latitude))
        assert (hours >= 0.0).all()
    assert station.extraterrestrial_day(355, 80.0) == pytest.approx(0.0, abs=1e-12)
    assert station.daylight_hours(172, 80.0) == pytest.approx(24.0)


def test_the_seasons_change_places_south_of_the_equator():
    north, south = (station.daylight_hours(172, latitude) for latitude in (50.0, -50.0))
    assert north + south == pytest.approx(24.0) and north > 16.0
