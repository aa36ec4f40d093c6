"""Covers over all heads are known by the dark and by one temperature, whatever that is."""

import numpy as np
import pytest

from study.made import diagnosed, found

ON = slice(300, 400)


def covered(lw_in: float, lw_out: float, sw_in: float = 0.0) -> int:
    """Samples flagged as covered, of 100 with these signals, W m-2, within a sound record."""
    series = {}
    for name, usual, there in (
        ("sw_in", 780.0, sw_in),
        ("sw_out", 160.0, 0.0),
        ("lw_in", -95.0, lw_in),
        ("lw_out", 30.0, lw_out),
    ):
        values = np.full(900, usual)
        values[ON] = there
        series[name] = values
    flags = diagnosed(**series).flags["cover"]
    assert not flags[: ON.start].any() and not flags[ON.stop :].any()
    return int(flags.sum())


@pytest.mark.parametrize(
    "lw_in, lw_out, expected",
    [
        (0.0, 0.0, 100),
        (-35.0, -33.0, 100),  # covers as cool as the air, on heads 6 K warmer
        (-58.0, -58.0, 100),
        (-62.0, -62.0, 0),  # colder than any cover
        (-20.0, -11.5, 100),
        (-20.0, -8.5, 0),  # two temperatures: a sky over its ground
        (-95.0, 5.0, 0),  # a night's sky, by a clock that says noon
    ],
)
def test_covers_are_of_one_temperature(lw_in, lw_out, expected):
    assert covered(lw_in, lw_out) == expected


def test_what_is_lit_is_not_covered():
    assert covered(-20.0, -20.0, sw_in=40.0) == 0


def test_shortwave_from_below_alone_is_an_exchange_or_a_set_upside_down():
    """Under a dense cloud the two longwave signals are too alike to tell."""
    dull = {"sw_in": 40.0, "sw_out": 180.0}
    for lw_in, expected in (
        (-19.0, ("head-inverted", "either", "sw_in sw_out lw_in lw_out")),
        (-21.0, ("channels-exchanged", "shortwave", "sw_in sw_out")),
    ):
        said = found(diagnosed(**dull, lw_in=lw_in, lw_out=5.0))
        assert [one for one in said if one[0] != "dome-wet"] == [expected]


@pytest.mark.parametrize(
    "sw_in, sw_out, expected",
    [
        (0.0, 160.0, 100),
        (-15.0, 160.0, 100),  # the zero offset of a covered head under a cold sky
        (-15.0, 16.0, 100),
        (-15.0, 14.0, 0),  # as far from 0 as SW_out: leads reversed under a dense cloud
        (4.0, 160.0, 100),
        (6.0, 160.0, 0),  # a set upside down under a dense cloud
    ],
)
def test_a_cover_on_the_upper_shortwave_head_alone(sw_in, sw_out, expected):
    usual = {"sw_in": 780.0, "sw_out": 160.0, "lw_in": -95.0, "lw_out": 30.0}
    series = {name: np.full(900, value) for name, value in usual.items()}
    series["sw_in"][ON], series["sw_out"][ON] = sw_in, sw_out
    assert diagnosed(**series).flags["cover-sw_in"].sum() == expected


def test_a_dull_day_of_factors_entered_the_wrong_way_is_no_cover():
    """All channels an eighth of what they are, under broken cloud: dark, but never darker than the day."""
    clouds = np.where(np.arange(900) % 300 < 200, 140.0, 18.0)
    small = {"sw_in": clouds, "sw_out": 0.2 * clouds, "lw_in": -7.0, "lw_out": 1.5}
    flags = diagnosed(**small).flags
    assert not flags["cover"].any() and not flags["cover-sw_in"].any()


def test_covers_on_all_day_are_found_without_any_light():
    assert diagnosed(sw_in=0.0, sw_out=0.0, lw_in=-2.0, lw_out=-2.0).flags["cover"].all()


def test_a_head_that_still_follows_its_cover_is_covered():
    """With 12 s to 95 % it falls from 780 to under 5 W m-2 in 20 s, and is back at 95 % after 12 s."""
    seconds = np.arange(900.0)
    falling, rising = (np.exp(-3.0 * np.clip(seconds - start, 0.0, None) / 12.0) for start in (300, 400))
    light = np.where(seconds < 400, falling, 1.0 - (1.0 - falling[399]) * rising)
    flags = diagnosed(sw_in=780.0 * light).flags["cover-sw_in"]
    assert flags[301:411].all() and not flags[:300].any() and not flags[414:].any()


@pytest.mark.parametrize("dark, covered_", [(2.4, True), (3.6, False), (-15.5, True), (-16.5, False)])
def test_a_cover_on_one_head_all_day_leaves_its_zero_offset(dark, covered_):
    """A head of class C reads up to 15 W m-2 below 0 under a cold sky."""
    sw_in = np.full(900, dark)
    sw_in[::2] += 0.1
    said = diagnosed(sw_in=sw_in, sw_out=160.0)
    assert said.flags["cover-sw_in"].all() == covered_
    assert (not {code for code, _, _ in found(said)} & {"channels-exchanged", "sign-reversed"}) == covered_
