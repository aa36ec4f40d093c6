"""The sun: interpolation against direct calls, polar days, both hemispheres, plausible clear skies.
Published values stand in tests/published.
"""

import numpy as np
import pandas as pd
import pvlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headland.physics import sun
from simulate.sky import sun as almanac

latitudes, longitudes = st.floats(-89.9, 89.9), st.floats(-180.0, 180.0)
days = st.integers(0, 20000)


def second_by_second(day, samples=1800, start="12:00"):
    return pd.date_range(f"{day}T{start}", periods=samples, freq="1s", tz="UTC")


def directions(elevation, azimuth):
    up, azimuth = np.radians(elevation), np.radians(azimuth)
    return np.array([np.cos(up) * np.sin(azimuth), np.cos(up) * np.cos(azimuth), np.sin(up)])


@settings(max_examples=40)
@given(latitudes, longitudes, days, st.integers(0, 86399))
def test_interpolated_position_is_within_a_thousandth_of_a_degree_of_the_direct_one(
    latitude, longitude, day, second
):
    """Away from the horizon: there pvlib switches refraction off at once, which no interpolation follows
    (see below).
    """
    times = pd.Timestamp("1990-01-01", tz="UTC") + pd.to_timedelta(
        day * 86400 + second + np.arange(0, 600, 1), unit="s"
    )
    elevation, azimuth = sun.position(times, latitude, longitude, 300.0)
    direct = pvlib.solarposition.spa_python(
        times, latitude, longitude, 300.0, float(pvlib.atmosphere.alt2pres(300.0)), 12.0
    )
    expected = directions(direct["apparent_elevation"].to_numpy(), direct["azimuth"].to_numpy())
    clear = np.abs(direct["elevation"].to_numpy()) > 1.5
    got = directions(elevation, azimuth)
    distance = np.degrees(2.0 * np.arcsin(np.clip(np.linalg.norm(got - expected, axis=0) / 2.0, 0.0, 1.0)))
    assert (distance[clear] < 1e-3).all()


@pytest.mark.parametrize("place", [(46.9, 7.1), (-33.0, 151.0), (0.5, -78.0)])
def test_the_sun_is_where_the_almanac_s_short_formulas_have_it_in_any_order(place):
    """They are right to 0.01 degrees and know no refraction, which is 0.03 degrees at 30 degrees."""
    moments = ["2026-05-21T15:00:07", "2026-05-21T09:00:31", "2027-12-01T19:10:00", "2027-12-01T02:10:00"]
    times = pd.DatetimeIndex(moments, tz="UTC")
    elevation, azimuth = sun.position(times, *place, 430.0)
    up, around, _ = almanac(times.as_unit("s").asi8, *place)
    high = np.degrees(up) > 25.0
    assert high.any()
    assert elevation[high] == pytest.approx(np.degrees(up)[high], abs=0.05)
    assert (elevation[high] > np.degrees(up)[high] - 0.012).all()
    assert azimuth[high] == pytest.approx(np.degrees(around)[high] % 360.0, abs=0.05)


def test_times_without_zone_are_utc_and_zones_are_converted():
    plain = sun.position(np.array(["2026-05-21T09:00:00"], dtype="datetime64[s]"), 46.9, 7.1, 430.0)
    local = sun.position(
        pd.DatetimeIndex(["2026-05-21T11:00:00"]).tz_localize("Europe/Zurich"), 46.9, 7.1, 430.0
    )
    assert plain[0] == pytest.approx(local[0], abs=1e-12) and plain[1] == pytest.approx(local[1], abs=1e-12)


def test_polar_day_and_night():
    hours = pd.date_range("2026-06-21", periods=1440, freq="60s", tz="UTC")
    assert sun.position(hours, 78.2, 15.6, 0.0)[0].min() > 0
    assert sun.position(hours, -78.2, 15.6, 0.0)[0].max() < 0


def test_at_noon_the_sun_stands_south_in_the_north_and_north_in_the_south():
    noon = pd.DatetimeIndex(["2026-03-20T12:07:00"], tz="UTC")
    assert sun.position(noon, 45.0, 0.0, 0.0)[1][0] == pytest.approx(180.0, abs=1.0)
    azimuth = sun.position(noon, -45.0, 0.0, 0.0)[1][0]
    assert min(azimuth, 360.0 - azimuth) < 1.0


def test_east_is_positive():
    """In the morning of UTC the sun is higher in the east. FAO counts west positive: the wrong sign turns
    this round.
    """
    morning = pd.DatetimeIndex(["2026-05-21T07:00:00"], tz="UTC")
    assert sun.position(morning, 45.0, 30.0, 0.0)[0][0] > sun.position(morning, 45.0, -30.0, 0.0)[0][0] + 30.0
    assert sun.seconds_after_noon(morning, 30.0)[0] == pytest.approx(
        sun.seconds_after_noon(morning, 0.0)[0] + 7200.0
    )


def test_solar_noon_is_where_the_sun_is_due_south():
    times = pd.date_range("2026-11-03T10:00", periods=14400, freq="1s", tz="UTC")
    azimuth = sun.position(times, 46.9, 7.1, 430.0)[1]
    south = times[np.argmin(np.abs(azimuth - 180.0))]
    assert abs(sun.seconds_after_noon([south], 7.1)[0]) < 60.0


def test_no_times_give_no_values():
    none = pd.DatetimeIndex([], tz="UTC")
    assert [len(part) for part in sun.position(none, 46.9, 7.1, 430.0)] == [0, 0] and len(
        sun.top_of_atmosphere(none)
    ) == 0


def test_a_hundred_thousand_samples_are_worked_out_at_few_nodes(monkeypatch):
    worked_out, direct = [], pvlib.solarposition.spa_python

    def counting(times, *place):
        worked_out.append(len(times))
        return direct(times, *place)

    monkeypatch.setattr(pvlib.solarposition, "spa_python", counting)
    sun.position(second_by_second("2026-05-21", 100_000, "00:00"), 46.9, 7.1, 430.0)
    assert sum(worked_out) <= 100_000 / 60 + 3


def test_clear_sky_knows_the_elevation_of_the_site():
    times = pd.DatetimeIndex(["2026-06-21T12:00:00"], tz="UTC")
    low, high = (sun.clear_sky_global(np.array([60.0]), times, z)[0] for z in (0.0, 2300.0))
    assert 1.03 < high / low < 1.15
    assert 0.6 < low / (sun.top_of_atmosphere(times)[0] * np.sin(np.radians(60.0))) < 0.85


@pytest.mark.parametrize("up, site", [(60.0, 0.0), (20.0, 0.0), (45.0, 430.0), (60.0, 2000.0)])
def test_clear_sky_is_that_of_a_depth_of_0_1_and_1_cm_of_water_above_the_sea(up, site):
    """Simplified Solis (Ineichen 2008, from memory), written out here; haze and vapour fall by e in 2 km."""
    times = pd.DatetimeIndex(["2026-06-21T12:00:00"], tz="UTC")
    depth, water = 0.1 * np.exp(-site / 2000.0), 1.0 * np.exp(-site / 2000.0)
    pressure = np.log((1.0 - 2.25577e-5 * site) ** 5.25588)  # of the standard atmosphere over that at the sea
    log = np.log(water)
    outside = 0.12 * water**0.56 * depth**2 + 0.97 * water**0.032 * depth + 1.08 * water**0.0051
    outside = sun.top_of_atmosphere(times)[0] * (outside + 0.071 * pressure)
    optical = (1.24 + 0.047 * log + 0.0061 * log**2) * depth + 0.27 + 0.043 * log + 0.0090 * log**2
    optical += (0.0079 * water + 0.1) * pressure
    power = -0.0147 * log - 0.3079 * depth**2 + 0.2846 * depth + 0.3798
    height = np.sin(np.radians(up))
    expected = outside * np.exp(-optical / height**power) * height
    got = sun.clear_sky_global(np.array([up]), times, site)[0]
    assert got == pytest.approx(expected, rel=2e-3)


def test_clear_sky_is_zero_by_night_and_grows_with_the_sun():
    up = np.array([-30.0, -0.1, 0.0, 1.0, 5.0, 20.0, 45.0, 90.0])
    sky = sun.clear_sky_global(up, pd.DatetimeIndex(["2026-06-21T12:00:00"] * len(up), tz="UTC"), 430.0)
    assert (sky[:3] == 0).all() and (np.diff(sky[2:]) > 0).all()


@given(st.floats(0.0, 1.2))
def test_the_diffuse_fraction_is_a_fraction(clearness):
    """The least value of the polynomial is 0.1645, just under the 0.165 above 0.80."""
    assert 0.164 < sun.diffuse_fraction(clearness) <= 1.0


@given(st.floats(2.0, 35.0), st.floats(263.15, 308.15))
def test_two_clear_sky_emissivities_agree_roughly_and_grow_with_humidity(vapour_pressure, temperature):
    brutsaert, prata = (
        f(vapour_pressure, temperature)
        for f in (sun.clear_sky_emissivity_brutsaert, sun.clear_sky_emissivity_prata)
    )
    assert abs(brutsaert - prata) < 0.10 and 0.55 < brutsaert < 1.0 and 0.66 < prata < 1.0
    assert sun.clear_sky_emissivity_brutsaert(vapour_pressure + 1, temperature) > brutsaert
    assert sun.clear_sky_emissivity_prata(vapour_pressure + 1, temperature) > prata


@pytest.mark.parametrize("step", ["1s", "1h"])
def test_a_course_looked_at_in_pieces_is_that_of_the_whole(step):
    """To the last bit: nodes are those of all times, and so is the choice to do without them."""
    times = pd.date_range("2026-05-21T03:00:00Z", periods=500, freq=step)
    at = sun.course(times, 46.9, 7.1, 430.0)
    whole, pieces = sun.position(times, 46.9, 7.1, 430.0), [at(times[i : i + 7]) for i in range(0, 500, 7)]
    assert all(
        np.array_equal(np.concatenate(some), every)
        for some, every in zip(zip(*pieces, strict=True), whole, strict=True)
    )


def test_no_times_have_no_sun():
    """Few or many others: computed at each, or between nodes."""
    for count in (2, 2000):
        times = pd.date_range("2026-05-21T08:00", periods=count, freq="s", tz="UTC")
        up, azimuth = sun.course(times, 46.9, 7.1, 430.0)(times[:0])
        assert len(up) == len(azimuth) == 0
