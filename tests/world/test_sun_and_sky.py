"""The sun, the clear sky and the clouds."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from world.air import GRID, draw_air
from world.choices import PLACES
from world.clouds import EDGE, OVERCAST_LIGHT, PATTERN, Clouds, edges_to_knots
from world.sky import Sky, plane_normal
from world.sun import Site, Turbidity, clear_sky, extraterrestrial, sun_vector

TIMES = np.arange(0.0, 86400.0, 900.0)


def site(latitude: float = 47.0, longitude: float = 8.0, date: str = "2024-06-11") -> Site:
    return Site("plot", latitude, longitude, 400.0, "UTC", pd.Timestamp(date, tz="UTC"), latitude < 0)


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place[0])
@pytest.mark.parametrize("date", ["2022-01-15", "2024-03-29", "2025-07-02", "2026-10-20"])
def test_sun_agrees_with_pvlib(place, date):
    here = site(place[1], place[2], date)
    times = here.midnight + pd.to_timedelta(TIMES, unit="s")
    theirs = pvlib.solarposition.get_solarposition(times, here.latitude, here.longitude)
    ours = sun_vector(here, TIMES)
    height = np.radians(theirs["elevation"].to_numpy())
    azimuth = np.radians(theirs["azimuth"].to_numpy())
    vector = [np.cos(height) * np.sin(azimuth), np.cos(height) * np.cos(azimuth), np.sin(height)]
    angle = np.degrees(np.arccos(np.clip((ours * np.array(vector)).sum(axis=0), -1, 1)))
    assert angle.max() < 0.03
    assert np.allclose(np.linalg.norm(ours, axis=0), 1.0)


def test_clear_sky_agrees_with_pvlibs_bird():
    here = site()
    air = Turbidity(0.12, 0.17, 1.8)
    mu = np.sin(np.radians(np.array([5.0, 10.0, 20.0, 35.0, 50.0, 66.0])))
    beam, diffuse = clear_sky(mu, here, air)
    zenith = np.degrees(np.arccos(mu))
    mass = pvlib.atmosphere.get_relative_airmass(zenith, model="kasten1966")
    theirs = pvlib.clearsky.bird(
        zenith,
        mass,
        air.aod_380,
        air.aod_500,
        air.water,
        ozone=0.32,
        pressure=here.pressure * 100.0,
        dni_extra=extraterrestrial(here),
        asymmetry=0.84,
    )
    assert np.allclose(beam, theirs["dni"], rtol=0.01, atol=2.0)
    assert np.allclose(diffuse, theirs["dhi"], rtol=0.02, atol=5.0)


def test_no_beam_at_night():
    here = site()
    beam, diffuse = clear_sky(np.array([-0.5, -0.02, 0.0]), here, Turbidity(0.1, 0.14, 1.5))
    assert (beam == 0.0).all()
    assert diffuse[0] == 0.0
    assert 0.0 < diffuse[1] < 3.0


@pytest.mark.parametrize("kind", ["scattered", "broken"])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_clouds_reach_the_downwind_place_later(kind, seed):
    clouds = Clouds(seed, kind)
    lane = clouds.lane(0.0)
    toward = np.radians(clouds.toward)
    distance = 300.0
    delay = float(clouds.delay(distance * np.sin(toward), distance * np.cos(toward)))
    assert delay == pytest.approx(distance / clouds.speed)
    times = np.arange(36000.0, 50000.0)
    upwind = np.interp(times, PATTERN, lane.beam)
    downwind = np.interp(times - delay, PATTERN, lane.beam)
    shifts = np.arange(0, 120)
    match = [np.corrcoef(upwind[:-120], downwind[k : k + len(upwind) - 120])[0, 1] for k in shifts]
    assert abs(shifts[int(np.argmax(match))] - delay) <= 1.0


def test_cloud_edges_are_within_their_range():
    clouds = Clouds(5, "broken")
    assert clouds.width.min() >= EDGE[0]
    assert clouds.width.max() <= EDGE[1]
    knots, shade = edges_to_knots(clouds.start, clouds.end, clouds.width)
    assert (np.diff(knots) >= 0.0).all()
    assert set(np.unique(shade)) == {0.0, 1.0}


def test_gaps_and_clouds_come_in_every_size():
    clouds = Clouds(8, "broken")
    gaps = clouds.start[1:] - clouds.end[:-1]
    for sizes in (gaps, clouds.end - clouds.start):
        counts, _ = np.histogram(sizes, [0, 15, 60, 240, 4000])
        assert (counts > 3).all()


def test_overcast_keeps_to_its_transmittances():
    for seed in range(12):
        lane = Clouds(seed, "overcast").lane(0.0)
        assert lane.added.min() >= OVERCAST_LIGHT[0]
        assert lane.added.max() <= OVERCAST_LIGHT[1]
        assert (lane.beam == 0.0).all()


def test_enhancement_passes_a_third_over_the_clear_sky_but_not_three_fifths():
    here = site()
    peaks = []
    for seed in range(8):
        air = draw_air(seed, here, 0.5, 18.0)
        sky = Sky(seed, here, air, Clouds(seed, "broken"))
        t = np.arange(36000.0, 46000.0)
        seen = sky.incoming(0, t, 0.0)
        beam = np.interp(t, sky.minute, sky.beam_clear)
        clear = beam * seen.sun[2] + np.interp(t, sky.minute, sky.diffuse_clear)
        peaks.append((seen.level / clear).max())
    assert max(peaks) > 1.3
    assert max(peaks) < 1.6


def test_plane_facing_the_sun_gets_more_and_a_level_plane_gets_the_level_sum():
    here = site()
    air = draw_air(3, here, 0.0, 18.0)
    sky = Sky(3, here, air, Clouds(3, "clear"))
    seen = sky.incoming(0, GRID[3600:3700], 0.0)
    level = sky.on_plane(seen, plane_normal(0.0, 0.0)[:, None])
    assert np.allclose(level, seen.level, rtol=1e-6)
    azimuth = np.degrees(np.arctan2(seen.sun[0, 50], seen.sun[1, 50]))
    assert sky.on_plane(seen, plane_normal(4.0, azimuth)[:, None])[50] > level[50]
    assert sky.on_plane(seen, plane_normal(4.0, azimuth + 180.0)[:, None])[50] < level[50]


def test_clouds_add_longwave():
    here = site()
    air = draw_air(3, here, 0.5, 15.0)
    clear = Sky(3, here, air, Clouds(3, "clear")).incoming(0, GRID, 0.0).longwave
    overcast = Sky(3, here, air, Clouds(3, "overcast")).incoming(0, GRID, 0.0).longwave
    assert 30.0 < (overcast - clear).mean() < 110.0
    assert (overcast < 1.03 * 5.670374e-8 * (air.temperature + 273.15) ** 4).all()


def test_air_warms_in_the_morning_as_it_should():
    rises = []
    for seed in range(20):
        air = draw_air(seed, site(), 0.0, 18.0)
        hours = air.temperature[: 24 * 360].reshape(24, 360).mean(axis=1)
        rises.append((hours[10] - hours[7]) / 3.0)
    assert 1.0 < np.mean(rises) < 4.0
    assert min(rises) > 0.5
