"""Signs and places of channels, each limit from both sides, by a check called by itself."""

import math

import numpy as np
import pytest

from headland.checks import leads
from study.made import emission

from .made_one import facts, one, said, untold

NAN = math.nan


@pytest.mark.parametrize(
    "a, off, inverted",
    [
        (66.0, 1.0, True),
        (66.0, 1.2, True),
        (66.0, 1.24, False),
        (66.0, 1.0 / 1.24, False),
        (52.0, 1.0, False),
        (53.0, 1.0, True),
        (19.0, 1.0, True),
        (0.0, 1.0, False),
        (NAN, 1.0, False),
    ],
)
def test_two_factors_that_multiply_to_1000_and_are_unlike(a, off, inverted):
    """Within 0.2 in the logarithm, and unlike by more than 1 in it: a ratio of 2.7, as of 52.1 to 19.2."""
    made = one()
    made.factor = {"sw_in": a, "sw_out": off * 1000.0 / a if a > 0 else 15.0}
    assert leads.one_of_two_inverted(made, "sw") == inverted


@pytest.mark.parametrize("level, named", [(-4.0, False), (-6.0, True)])
def test_an_upper_signal_5_below_zero_is_reversed_and_less_is_a_zero_offset(level, named):
    made = one(sw_in=level)
    leads._find_shortwave_signs(made)
    assert said(made) == [("sign-reversed", "", "sw_in")] * named
    assert np.median(made.flux["sw_in"]) == pytest.approx(abs(level) if named else level, abs=0.1)


@pytest.mark.parametrize("level, named", [(-1.0, False), (-3.0, True)])
def test_a_lower_signal_2_below_zero_is_reversed(level, named):
    made = one(sw_out=level)
    leads._find_shortwave_signs(made)
    assert said(made) == [("sign-reversed", "", "sw_out")] * named


@pytest.mark.parametrize(
    "change, judged",
    [
        ({}, True),
        ({"elevation": 9.9}, False),
        ({"sw_in": -49.0, "sw_out": -9.0}, False),
        ({"sw_in": -51.0, "sw_out": -9.0}, True),
    ],
)
def test_signs_are_judged_with_the_sun_10_degrees_up_and_50_of_light(change, judged):
    made = one(**{"sw_in": -500.0, "sw_out": -100.0} | change)
    leads._find_shortwave_signs(made)
    assert bool(said(made)) == judged
    assert (("sign-reversed", "low-sun", "sw_in") in untold(made)) == (not judged)


@pytest.mark.parametrize("count, judged", [(9, False), (10, True)])
def test_ten_samples_are_enough(count, judged):
    made = one(seconds=count, sw_in=-500.0)
    leads._find_shortwave_signs(made)
    assert bool(said(made)) == judged


@pytest.mark.parametrize(
    "above, below, sw, reading",
    [
        (-95.0, 30.0, (780.0, 160.0), ""),
        (24.0, 0.0, (780.0, 160.0), ""),
        (26.0, 0.0, (780.0, 160.0), "sign"),
        (26.0, -24.0, (780.0, 160.0), "sign"),
        (26.0, -26.0, (780.0, 160.0), "exchanged"),
        (24.0, -10.0, (780.0, 160.0), "exchanged"),
        # snow is never as warm as that: what looks like ground above is sky
        (26.0, -60.0, (780.0, 400.0), "sign"),
        (26.0, -60.0, (780.0, 380.0), "exchanged"),
        (26.0, -60.0, (780.0, 770.0), "sign"),
        (26.0, -60.0, (780.0, 790.0), "exchanged"),  # no snow reflects more than all
        # under a dim sun a small upper signal may be a warm cloud
        (38.0, -10.0, (290.0, 60.0), "undecided"),
        (42.0, -10.0, (290.0, 60.0), "sign"),
        (38.0, -10.0, (310.0, 60.0), "sign"),
        (38.0, 5.0, (290.0, 60.0), "sign"),
        # without light
        (26.0, -60.0, (0.0, 0.0), "sign"),
        (24.0, -60.0, (0.0, 0.0), "night"),
    ],
)
def test_what_two_longwave_signals_show(above, below, sw, reading):
    made = one(lw_in=above, lw_out=below, sw_in=sw[0], sw_out=sw[1])
    day = bool(made.lit.sum() >= 10)
    assert leads._longwave_reading(made, made.lit, day, False) == reading
    upside_down = leads._longwave_reading(made, made.lit, day, True)
    assert upside_down == ("exchanged" if reading else "")


def net_of(ground, body):
    return float(emission(ground) - emission(body))


@pytest.mark.parametrize("colder, named", [(7.5, False), (8.5, True)])
def test_no_land_in_the_sun_is_8_k_colder_than_the_air(colder, named):
    made = one(body=23.0, lw_out=net_of(20.0 - colder, 23.0))
    leads._find_longwave_out_reversed(made)
    assert said(made) == [("sign-reversed", "", "lw_out")] * named
    assert (("sign-reversed", "cool-ground", "lw_out") in untold(made)) == (not named)
    if named:
        assert made.middle("lw_out") > 0.0 and facts(made)["median"] == f"{net_of(20.0 - colder, 23.0):.0f}"


@pytest.mark.parametrize(
    "change, reason",
    [
        ({"sw_in": 299.0, "sw_out": 60.0}, "weak-sun"),
        ({"lw_out": -14.0}, "small-signal"),
        ({"sw_out": 0.09 * 780.0}, "no-land"),
        ({"sw_out": 0.51 * 780.0}, "no-land"),
        ({"body": NAN}, "cool-ground"),
    ],
)
def test_where_the_sign_of_the_lower_longwave_can_t_be_told(change, reason):
    sound = {"body": 23.0, "lw_out": net_of(8.0, 23.0)}
    for near in ({"sw_in": 301.0, "sw_out": 60.0}, {"sw_out": 0.11 * 780.0}, {"sw_out": 0.49 * 780.0}):
        made = one(**sound | near)
        leads._find_longwave_out_reversed(made)
        assert said(made) == [("sign-reversed", "", "lw_out")]
    made = one(**sound | change)
    leads._find_longwave_out_reversed(made)
    assert said(made) == [] and untold(made) == {("sign-reversed", reason, "lw_out")}


@pytest.mark.parametrize("share, both", [(0.45, False), (0.55, True)])
def test_beside_exchanged_longwave_most_of_the_light_from_below_is_enough(share, both):
    """With longwave as it should be, nine tenths of the samples must show it."""
    made = one(sw_in=160.0, sw_out=780.0, lw_in=26.0, lw_out=-60.0)
    count = len(made.flux["sw_in"])
    plain = np.arange(count) >= share * count
    made.flux["sw_in"] = np.where(plain, 780.0, 160.0)
    made.flux["sw_out"] = np.where(plain, 790.0, 780.0)
    leads.find_signs_and_exchanges(made)
    expected = ("head-inverted", "") if both else ("channels-exchanged", "longwave")
    assert [found[:2] for found in said(made)] == [expected]
    made = one(sw_in=160.0, sw_out=780.0, lw_in=-95.0, lw_out=30.0)
    made.flux["sw_in"] = np.where(plain, 780.0, 160.0)
    leads.find_signs_and_exchanges(made)
    assert said(made) == []


@pytest.mark.parametrize(
    "sw_in, sw_out, factors, exchanged",
    [
        (100.0, 150.0, {"sw_in": 13.0, "sw_out": 60.0}, False),  # 1000 / 13^2 is 5.9: an albedo of 0.25
        (200.0, 420.0, {"sw_in": 13.0, "sw_out": 60.0}, True),  # exchanged, it is 0.48: no snow is needed
        (100.0, 150.0, {"sw_in": 20.0, "sw_out": 20.0}, True),  # times 2.5, it is 0.6, or 3.75
        (100.0, 150.0, {"sw_in": 5.0, "sw_out": 20.0}, False),  # times 40, it is 0.04
        (100.0, 150.0, {"sw_in": 4.0, "sw_out": 20.0}, True),  # times 62, it is darker than any ground
        (100.0, 150.0, {"sw_in": 20.0, "sw_out": 66.0}, False),  # the lower one times 0.23: 0.34
        # of 780 under a clear sky: times 24 the upper one is 625, exchanged 80
        (25.6, 80.0, {"sw_in": 6.4, "sw_out": 98.0}, False),
        (25.6, 300.0, {"sw_in": 6.4, "sw_out": 98.0}, True),  # exchanged, it is 0.38 of a clear sky
        (25.6, 80.0, {"sw_in": 9.0, "sw_out": 70.0}, True),  # times 12 it is 0.4 of one
    ],
)
def test_light_from_below_that_one_inverted_factor_explains_is_no_exchange(sw_in, sw_out, factors, exchanged):
    made = one(sw_in=sw_in, sw_out=sw_out, lw_in=-5.0, lw_out=-5.0)
    made.factor = factors
    leads.find_signs_and_exchanges(made)
    ((code, variant, channels),) = said(made)
    assert (code in ("channels-exchanged", "head-inverted")) and channels.startswith("sw_in sw_out")
    assert (variant == "undecided") != exchanged and (code == "channels-exchanged") != exchanged
