"""What several checks of a set share, dead channels and factors: each limit from both sides."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.checks import dead_channels, exchanged_factors, factors, series
from headland.checks.one_set import scatter_about_line
from study.made import CLEAR

from .made_one import SECOND, facts, one, said, untold

NAN = math.nan


def test_blocks_overlap_by_half_and_hold_no_pause():
    made = one(seconds=200)
    assert made.blocks(np.ones(200, bool))[:, 0].tolist() == [0, 30, 60, 90, 120, 140]
    assert made.blocks(np.ones(200, bool)).shape == (6, 60)
    assert made.blocks(np.arange(200) != 65)[:, 0].tolist() == [0, 90, 120, 140]
    slow = one(seconds=2000, interval=10.0)
    assert slow.blocks(np.ones(200, bool)).shape[1] == 12
    apart = one(seconds=200)
    for gap, whole in ((2.4, True), (2.6, False)):
        apart.time = made.time + pd.to_timedelta(np.where(np.arange(200) >= 100, gap - 1.0, 0.0), unit="s")
        firsts = apart.blocks(np.ones(200, bool))[:, 0].tolist()
        assert firsts == ([0, 30, 60, 90, 120, 140] if whole else [0, 30, 40, 100, 130, 140])
    assert one(seconds=59).blocks(np.ones(59, bool)).shape == (0, 60)


@pytest.mark.parametrize("low, state", [(0.62, "steady"), (0.58, "broken")])
def test_a_sky_is_broken_where_the_sun_falls_by_a_half_in_the_logarithm_within_a_block(low, state):
    made = one(sw_in=np.where(SECOND // 120 % 2, 780.0, 780.0 * low))
    assert made.sky(made.lit)[0] == state
    assert made.sky(made.lit)[1] == pytest.approx(780.0 / CLEAR, abs=0.01)


@pytest.mark.parametrize("scatter, state", [(0.003, "steady"), (0.006, "")])
def test_a_sky_is_steady_by_its_scatter_about_a_line(scatter, state):
    wave = np.sqrt(2.0) * scatter * np.sin(2.0 * np.pi * SECOND / 10.0)
    made = one(sw_in=780.0 * np.exp(wave))
    assert made.sky(made.lit)[0] == state
    assert scatter_about_line(np.array([[1.0, 2.0, 3.0], [0.0, 1.0, 0.0]])) == pytest.approx(
        [0.0, math.sqrt(2.0) / 3.0]
    )


def test_a_middle_is_a_median_of_ten_usable_samples():
    made = one(seconds=20, lw_in=np.where(np.arange(20) < 15, -50.0, 400.0))
    assert made.middle("lw_in") == pytest.approx(-50.0, abs=0.5)
    made.usable["lw_in"] = np.arange(20) < 10
    assert made.middle("lw_in") == pytest.approx(-50.0, abs=0.5)
    assert math.isnan(made.middle("lw_in", np.arange(20) > 0))
    assert made.ratio(slice(None)) == pytest.approx(160.0 / 780.0, abs=0.001)


@pytest.mark.parametrize(
    "hit, seconds, reason", [(60, 900, None), (59, 900, "low-sun"), (59, 59, "short-record"), (60, 60, None)]
)
def test_too_few_samples_are_told_by_their_reason(hit, seconds, reason):
    made = one(seconds=seconds)
    made.needs("x", np.arange(seconds) < hit, 60.0, 5, "sw_in")
    assert untold(made) == ({("x", reason, "sw_in")} if reason else set())


@pytest.mark.parametrize(
    "count, interval, lasts", [(5, 12.0, True), (4, 60.0, False), (5, 11.9, False), (60, 1.0, True)]
)
def test_a_state_lasts_a_minute_and_five_samples(count, interval, lasts):
    assert bool(series.lasting(count, interval, 60.0, 5)) == lasts
    hit = np.arange(100) < count
    assert series.long_runs(hit, interval, 60.0).sum() == count * lasts
    assert series.resolution([1.0, 1.0, 1.5, 3.0, NAN, 3.1]) == 0.5 and series.resolution([2.0, 2.0]) == 0.0
    assert series.running_mean(np.array([[1.0, 2.0, 6.0, 1.0]]), 3).tolist() == [[3.0, 3.0]]


# Dead channels


@pytest.mark.parametrize("step, hit", [(0.9, False), (1.1, True)])
def test_another_channel_must_move_by_ten_of_its_steps(step, hit):
    """Steps of 0.1 over 200 samples, to and fro over so much."""
    places = np.round(step / 0.1)
    other = 0.1 * np.abs(np.arange(200) % (2 * places) - places)
    sure, doubtful = dead_channels.frozen(np.full(200, 3.0), [other], 1.0, 120.0)
    assert bool(sure.any()) == hit and not doubtful.any()


@pytest.mark.parametrize("equal, sure", [(0.45, True), (0.55, False)])
def test_a_logger_of_coarse_steps_repeats_half_of_its_values(equal, sure):
    rng = np.random.default_rng(2)
    values = np.cumsum(rng.random(400) >= equal).astype(float)
    values[200:] = values[200]
    hit, doubtful = dead_channels.frozen(values, [np.arange(400.0)], 1.0, 120.0)
    assert (hit.sum() >= 200, doubtful.sum() >= 200) == (sure, not sure)
    assert dead_channels.repeated_share(np.array([1.0])) == 1.0
    assert dead_channels.repeated_share(np.array([1.0, 1.0, 2.0])) == 0.5


@pytest.mark.parametrize("elevation, named", [(2.9, set()), (3.1, {"sw_in"})])
def test_in_twilight_a_steady_zero_is_no_broken_lead(elevation, named):
    made = one(elevation=elevation, held={"sw_in": (100, 0.0)}, sw_out=np.linspace(0.0, 20.0, 900))
    dead_channels.find_frozen(made)
    assert {channel for code, _, channel in said(made)} == named
    if named:
        assert facts(made) == {"count": 800, "value": "0"} and not made.usable["sw_in"][100:].any()
        assert made.usable["sw_in"][:100].all() and made.result.flags["frozen"].sum() == 800


# Factors


@pytest.mark.parametrize(
    "factor, seen",
    [(66.0, True), (38.8, True), (38.6, False), (25.9, False), (25.7, True), (NAN, False), (0.0, False)],
)
def test_an_inverted_factor_shows_where_it_changes_a_flux_by_half(factor, seen):
    """1000 / c^2 beyond 1.5 or below 1 / 1.5: factors over 38.7 or under 25.8."""
    made = one()
    made.factor["sw_in"] = factor
    found = factors.correction(made, "sw_in")
    assert np.isfinite(found) == seen and (not seen or found == pytest.approx(1000.0 / factor**2))


@pytest.mark.parametrize(
    "net, beam, cold",
    [(-58.0, "steady", False), (-62.0, "steady", True), (-168.0, "steady", True), (-172.0, "steady", False)],
)
def test_a_sky_without_cloud_takes_60_from_a_head(net, beam, cold):
    assert factors._sky_is_cold(one(lw_in=net), beam) == cold
    share = np.where(SECOND % 100 < 12, net, -10.0)
    assert factors._sky_is_cold(one(lw_in=share), "broken") == cold
    assert not factors._sky_is_cold(one(lw_in=np.where(SECOND % 100 < 8, net, -10.0)), "broken")
    assert not factors._sky_is_cold(one(seconds=9, lw_in=net), beam)


@pytest.mark.parametrize(
    "seconds, drift, follows",
    [(1300, 0.0, True), (1150, 0.0, False), (1800, 0.05, True), (1800, 0.08, False)],
)
def test_no_layer_of_cloud_is_as_even_as_a_clear_sky_for_20_minutes(seconds, drift, follows):
    course = np.exp(drift * (np.arange(seconds) / seconds - 0.5))
    made = one(seconds=seconds, sw_in=200.0 * course)
    made.flux["sw_in"] = 200.0 * course
    assert factors._follows_the_sun(made, np.ones(seconds, bool)) == follows


@pytest.mark.parametrize(
    "share, beam, net, out",
    [
        (1.31, "steady", 0.0, True),
        (1.55, "broken", 0.0, False),
        (1.65, "broken", 0.0, True),
        (0.5, "steady", -80.0, True),
        (0.5, "broken", 0.0, False),
    ],
)
def test_whether_a_share_of_the_clear_sky_is_the_factor_s(share, beam, net, out):
    made = one(lw_in=net, seconds=600)
    assert factors.sun_is_out(made, np.ones(600, bool), beam, share) == out


@pytest.mark.parametrize("level, named", [(249.0, False), (255.0, True)])
def test_no_longwave_head_senses_more_than_250(level, named):
    """66 uV per W m-2 taken as a factor: what is sensed is 4.4 times too large."""
    made = one(lw_out=level, lw_in=-95.0, sw_in=300.0, sw_out=60.0)
    factors._find_inverted_longwave(made)
    assert (("factor-inverted", "", "lw_out") in said(made)) == named


@pytest.mark.parametrize("size, ten", [(245.0, False), (255.0, True), (1690.0, True), (1710.0, False)])
def test_a_longwave_factor_with_its_point_in_the_wrong_place(size, ten):
    made = one(lw_in=-size)
    assert factors._tenfold(made, "lw_in") == ten


@pytest.mark.parametrize(
    "values, partner",
    [
        ((66.0, 90.0, 91.0, 67.0), "lw_in"),
        ((66.0, 90.0, 67.0, 91.0), "lw_out"),
        ((91.0, 66.0, 67.0, 90.0), "lw_in"),
        ((66.0, 90.0, 67.0, 89.0), "lw_out"),
        # the two of a band are alike within 0.12 in the logarithm, or not
        ((66.0, 73.0, 74.0, 67.0), ""),
        ((66.0, 75.0, 76.0, 67.0), "lw_in"),
        ((66.0, 75.0, 74.0, 67.0), ""),
        # across the bands 0.3 of what is within them is left, or more
        ((66.0, 90.0, 98.5, 72.2), "lw_in"),
        ((66.0, 90.0, 99.5, 73.0), ""),
        ((66.0, NAN, 91.0, 67.0), ""),
    ],
)
def test_a_shortwave_factor_that_is_a_longwave_head_s(values, partner):
    """Each shortwave head's factor is that of one longwave head, and its fellow's that of the other."""
    given = dict(zip(("sw_in", "sw_out", "lw_in", "lw_out"), values, strict=True))
    assert exchanged_factors._partner(given) == partner
