"""Reference evapotranspiration against two independent libraries, where installed, and in its limits.

The libraries are no dependency of the project: `pip install refet pyet` in an environment of one's own.
"""

import numpy as np
import pytest

from headland.physics import evaporation
from headland.physics import reference_evaporation as station

LATITUDE, ELEVATION, DAY = 39.4575, 1208.5, 182
HIGHEST, LOWEST, VAPOUR, SHORTWAVE, WIND = 39.3, 19.2, 1.22, 28.2, 2.0


def daily(surface):
    outside = station.extraterrestrial_day(DAY, LATITUDE)
    clear = SHORTWAVE / station.clear_sky_shortwave(outside, ELEVATION)
    emission = (station.emitted(HIGHEST) + station.emitted(LOWEST)) / 2.0
    net = station.net_shortwave(SHORTWAVE) - station.net_longwave_loss(emission, VAPOUR, clear)
    return station.penman_monteith(
        net,
        (HIGHEST + LOWEST) / 2.0,
        wind=WIND,
        deficit=station.mean_saturation(HIGHEST, LOWEST) - VAPOUR,
        pressure=evaporation.pressure_at(ELEVATION),
        crop=station.CROPS[surface][0],
    )


@pytest.mark.parametrize("surface, name", [("short", "eto"), ("tall", "etr")])
def test_a_day_is_that_of_a_library_of_the_standard(surface, name):
    """0.5 %: the library rounds the psychrometric constant and the solar constant otherwise."""
    refet = pytest.importorskip("refet")
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
    assert daily(surface) == pytest.approx(float(np.ravel(getattr(theirs, name)())[0]), rel=5e-3)


def test_a_day_is_that_of_a_library_of_many_methods():
    """1 %: the library takes its own net longwave and rounding."""
    pyet = pytest.importorskip("pyet")
    pandas = pytest.importorskip("pandas")
    at = pandas.date_range("2015-07-01", periods=1)
    highest, lowest, mean, wind, shortwave, vapour = (
        pandas.Series([one], at)
        for one in (HIGHEST, LOWEST, (HIGHEST + LOWEST) / 2.0, WIND, SHORTWAVE, VAPOUR)
    )
    theirs = pyet.pm_fao56(
        mean,
        wind,
        rs=shortwave,
        elevation=ELEVATION,
        lat=np.radians(LATITUDE),
        tmax=highest,
        tmin=lowest,
        ea=vapour,
    )
    assert daily("short") == pytest.approx(float(theirs.iloc[0]), rel=1e-2)


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
