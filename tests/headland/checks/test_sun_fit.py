"""A clear sky fitted to SW_in: what it shows of a clock, and what it leaves open.

The sky is the simulator's, by another formula and another sun than the package's.
"""

import dataclasses
import math

import numpy as np
import pandas as pd
import pytest

from headland.checks.sun_fit import SunFit, fit_to_sun, headings_of
from simulate.sky import clear_sky, sun

SITE = {"latitude": 46.0, "longitude": 15.0, "elevation": 300.0}
NOON = pd.Timestamp("2026-05-21T11:00:00Z").timestamp()
"""s: the sun is at 15 degrees east."""
FIT = SunFit(-1500.0, 1.0, 5.0, 5.0, 0.01, 0.05, pd.Timestamp("2026-05-21"), pd.Timestamp("2026-05-22"))
"""A clock 25 min ahead under a cloudless sky."""


def record(start: float, end: float, ahead: float = 0.0, step: float = 10.0):
    """Moments by a clock that is so many s ahead, and SW_in."""
    moments = np.arange(start, end, step)
    up, _, distance = sun(moments - ahead, SITE["latitude"], SITE["longitude"])
    beam, diffuse = clear_sky(up, distance, SITE["elevation"], 0.75)
    return moments, beam * np.sin(np.maximum(up, 0.0)) + diffuse


def fitted(moments, sw_in, noted=None):
    return fit_to_sun(moments, sw_in, np.zeros(len(moments)), SITE, noted)


@pytest.mark.parametrize("minutes", [-90.0, -30.0, 0.0, 45.0])
def test_the_shift_is_that_of_the_clock(minutes):
    fit = fitted(*record(NOON - 5 * 3600.0, NOON + 5 * 3600.0, 60.0 * minutes))
    assert fit.shift == pytest.approx(-60.0 * minutes, abs=240.0)
    assert fit.clear and fit.tells and fit.off == (minutes != 0.0)
    # the best fit is no worse than the clock as it is, and by another 50 minutes it is far worse
    assert fit.best <= fit.now and fit.rms <= fit.rms_now and fit.beside > 2.5 * fit.best


def test_the_fit_is_of_the_minutes_with_light():
    moments, sw_in = record(NOON - 5 * 3600.0, NOON + 5 * 3600.0)
    dark = sw_in < 150.0
    fit = fitted(moments, np.where(dark, 49.0, sw_in))
    assert fit.start.timestamp() // 60 == moments[~dark][0] // 60
    assert fit.end.timestamp() // 60 == moments[~dark][-1] // 60


def test_around_noon_the_course_is_too_flat_to_show_a_clock():
    fit = fitted(*record(NOON - 1000.0, NOON + 1000.0))
    assert fit.clear and not fit.tells and not fit.off


def test_clouds_leave_no_clear_sky():
    moments, sw_in = record(NOON - 5 * 3600.0, NOON + 5 * 3600.0)
    fit = fitted(moments, sw_in * np.where(moments // 1800 % 2, 0.4, 1.0))
    assert not fit.clear and not fit.tells and not fit.off


@pytest.mark.parametrize("hours, known", [(0.49, False), (0.55, True), (9 * 24, True), (241, False)])
def test_half_an_hour_to_ten_days_are_fitted(hours, known):
    fit = fitted(*record(NOON - 1800.0, NOON - 1800.0 + 3600.0 * hours, step=60.0))
    assert (fit is not None) == known


@pytest.mark.parametrize("count, known", [(5, False), (6, True)])
def test_six_minutes_of_light_are_needed(count, known):
    moments, sw_in = record(NOON - 3600.0, NOON + 3600.0, step=60.0)
    lit = np.linspace(0, len(moments) - 1, count).astype(int)
    only = np.full(len(moments), np.nan)
    only[lit] = sw_in[lit]
    assert (fitted(moments, only) is not None) == known
    assert fitted(moments[:1], sw_in[:1]) is None and fitted(moments, np.full(len(moments), np.nan)) is None


@pytest.mark.parametrize(
    "changes, off",
    [
        ({}, True),
        ({"shift": 1200.0}, True),
        ({"shift": -1199.0}, False),
        ({"rms": 0.02}, True),
        ({"rms": 0.021}, False),
        ({"now": 2.5}, True),
        ({"now": 2.49}, False),
        ({"best": 2.5, "now": 6.25}, True),
        ({"best": 2.5, "now": 6.2}, False),
        ({"best": 2.51, "now": math.inf}, False),
    ],
)
def test_a_clock_is_off_by_20_minutes_without_cloud_and_where_its_own_time_fits_far_worse(changes, off):
    assert dataclasses.replace(FIT, **changes).off == off


@pytest.mark.parametrize(
    "changes, tells",
    [({}, True), ({"beside": 2.49}, False), ({"best": 2.6, "beside": 9.0}, False), ({"rms": 0.04}, True)],
)
def test_the_sun_would_show_a_clock_where_50_minutes_more_fit_far_worse(changes, tells):
    assert dataclasses.replace(FIT, **changes).tells == tells


def test_headings_are_those_of_the_notes_and_unknown_between_them():
    start = pd.to_datetime(["2026-05-21T10:10Z", "2026-05-21T10:00Z"])
    noted = pd.DataFrame(
        {"start_utc": start, "end_utc": start + pd.Timedelta(minutes=5), "heading": [90.0, 270.0]}
    )
    at = headings_of(noted)
    seconds = start[1].timestamp() + 60.0 * np.array([-1.0, 0.0, 4.9, 5.0, 10.0, 15.0])
    assert at(seconds).tolist() == pytest.approx(
        [math.nan, 270.0, 270.0, math.nan, 90.0, math.nan], nan_ok=True
    )
    assert np.isnan(headings_of(noted.iloc[:0])(seconds)).all()


def test_the_headings_of_the_notes_are_tried_as_well():
    """A head leans by 1.5 degrees and turns round now and then. The notes were kept by the true time, the
    clock is an hour ahead."""
    ahead = 3600.0
    moments, sw_in = record(NOON - 5 * 3600.0, NOON + 4 * 3600.0, ahead)
    turns = np.arange(NOON - 6 * 3600.0, NOON + 4 * 3600.0, 1800.0)
    noted = pd.DataFrame(
        {
            "start_utc": pd.to_datetime(turns, unit="s", utc=True),
            "end_utc": pd.to_datetime(turns + 1800.0, unit="s", utc=True),
            "heading": np.resize([90.0, 90.0, 270.0, 90.0, 270.0, 270.0, 270.0], len(turns)),
        }
    )
    up, azimuth, _ = sun(moments - ahead, SITE["latitude"], SITE["longitude"])
    way = np.radians(headings_of(noted)(moments - ahead))
    leaning = sw_in * (1.0 + np.tan(np.radians(1.5)) / np.tan(up) * np.cos(azimuth - way))
    by_data = fit_to_sun(moments, leaning, headings_of(noted)(moments), SITE)
    by_notes = fit_to_sun(moments, leaning, headings_of(noted)(moments), SITE, noted)
    assert by_notes.shift == pytest.approx(-ahead, abs=240.0) and by_notes.off
    assert by_notes.best < by_data.best
