"""Air and sun of the common moment: what is known of their course."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.uncertainty import common_moment


def test_the_air_s_course_is_the_weather_s_where_it_has_one():
    frame = pd.DataFrame({"air_temperature": [20.0, 21.0, 22.0], "body_temperature": [25.0, 26.0, 24.0]})
    assert common_moment.air_course(frame).tolist() == [20.0, 21.0, 22.0]


def test_one_value_for_the_campaign_has_no_course_so_the_heads_show_it():
    frame = pd.DataFrame({"air_temperature": [20.0] * 3, "body_temperature": [25.0, 26.0, 24.0]})
    assert common_moment.air_course(frame).tolist() == [25.0, 26.0, 24.0]
    assert common_moment.air_course(frame.iloc[:0]).tolist() == []


def test_the_sun_that_a_surface_had_lately_over_the_one_it_has():
    frame = pd.DataFrame({"sw_in_memory": [400.0, np.nan, 300.0], "sw_in": [800.0, 800.0, 0.0]})
    assert common_moment.memory_ratio(frame).tolist() == [0.5, 1.0, 1.0]


# Differences under one sky and in one air -------------------------------------------------------------------


def state(**changes):
    """Two segments, one over each of two surfaces, with the sun at 30 degrees under a diffuse sky: the albedo
    does not follow the sun there."""
    albedo = np.array([[0.2, 0.3]])
    flux = {
        "sw_in": np.array([[800.0, 700.0]]),
        "lw_in": np.array([[340.0, 330.0]]),
        "lw_out": np.array([[470.0, 440.0]]),
        "surface_temperature": np.array([[30.0, 24.0]]),
    }
    flux |= {key: np.array([value]) for key, value in changes.items() if key in flux}
    usual = {
        "emissivity": np.array([[0.97, 0.95]]),
        "sky_response": np.array([[0.05, 0.10]]),
        "air_response": np.array([[0.6, 0.4]]),
        "strength": np.array([[0.2, 0.2]]),
        "known": np.ones((1, 2), bool),
        "slope": np.array([[6.0, 5.5]]),
        "air": np.array([[20.0, 22.0]]),
        "mu": np.full(2, 0.5),
        "diffuse": np.ones(2),
        "facing": np.zeros((2, 4)),
    }
    usual |= {key: np.array([value]) for key, value in changes.items() if key in usual}
    flux["sw_out"] = albedo * flux["sw_in"]
    usual |= {"reflected": albedo, "absorbed": 1.0 - albedo, "remembered": flux["sw_in"]}
    usual["lie"] = [np.zeros((1, 2))] * 4
    return common_moment.State(flux, **usual)


def under(sw_in, lw_in, air):
    """One sky and one air for both, with the sun at 30 degrees."""
    return SimpleNamespace(sw_in=sw_in, lw_in=lw_in, air=air, mu=0.5, diffuse=1.0, facing=np.zeros((1, 4)))


PAIR = SimpleNamespace(names=["a", "b"], surface=np.array([0, 1]), rows=np.array([0, 1]))
APART = np.array([[1.0, -1.0]])
SAME = {"sw_in": [750.0, 750.0], "lw_in": [335.0, 335.0], "air": [21.0, 21.0]}


def temperature(of, *sky):
    return common_moment.temperature_difference(of, under(*sky), APART)[0, 0]


def net(of, *sky):
    return common_moment.net_difference(of, under(*sky), PAIR, APART)[0, 0]


def test_under_the_sky_that_both_had_the_differences_are_those_measured():
    of = state(**SAME)
    assert temperature(of, 750.0, 335.0, 21.0) == pytest.approx(30.0 - 24.0)
    measured = (0.8 - 0.7) * 750.0 - (470.0 - 440.0)
    assert net(of, 750.0, 335.0, 21.0) == pytest.approx(measured)
    albedo = common_moment.albedo_difference(of, under(750.0, 335.0, 21.0), PAIR, APART)
    assert albedo[0, 0] == pytest.approx(0.2 - 0.3)


def test_a_surface_that_follows_neither_sky_nor_air_keeps_its_temperature():
    of = state(sky_response=[0.0, 0.0], air_response=[0.0, 0.0])
    for sky in ((750.0, 335.0, 21.0), (300.0, 400.0, 0.0)):
        assert temperature(of, *sky) == pytest.approx(6.0)
    # and then the net radiation changes with what is absorbed of the sky alone
    change = net(of, 850.0, 335.0, 21.0) - net(of, 750.0, 335.0, 21.0)
    assert change == pytest.approx(100.0 * (0.8 - 0.7))
    change = net(of, 750.0, 345.0, 21.0) - net(of, 750.0, 335.0, 21.0)
    assert change == pytest.approx(10.0 * (0.97 - 0.95))


@pytest.mark.parametrize(
    "sky, by, kelvin",
    [
        # 100 W m-2 more of the sun: 5 % of 80 emitted at 6 W m-2 K-1, and 10 % of 70 at 5.5
        ((850.0, 335.0, 21.0), 0.05 * 80.0 - 0.10 * 70.0, 0.05 * 80.0 / 6.0 - 0.10 * 70.0 / 5.5),
        # 10 W m-2 more from the sky
        ((750.0, 345.0, 21.0), 0.05 * 9.7 - 0.10 * 9.5, 0.05 * 9.7 / 6.0 - 0.10 * 9.5 / 5.5),
        # air warmer by 1 K: 0.6 and 0.4 K
        ((750.0, 335.0, 22.0), 0.6 * 6.0 - 0.4 * 5.5, 0.6 - 0.4),
    ],
)
def test_each_surface_follows_sky_and_air_in_its_own_part(sky, by, kelvin):
    """What one of the two emits more than the other is missing in its net radiation."""
    of, before = state(**SAME), (750.0, 335.0, 21.0)
    assert temperature(of, *sky) - temperature(of, *before) == pytest.approx(kelvin)
    more = 0.1 * (sky[0] - 750.0) + 0.02 * (sky[1] - 335.0)
    assert net(of, *sky) - net(of, *before) == pytest.approx(more - by)


def test_what_is_under_another_sky_is_brought_under_the_same():
    """The same two surfaces visited under other skies and airs give the same differences under one."""
    at_once = state(**SAME)
    later = state(
        sw_in=[750.0, 550.0],
        lw_in=[335.0, 315.0],
        air=[21.0, 26.0],
        # 200 W m-2 less of sun and 20 less of sky, air warmer by 5 K
        surface_temperature=[30.0, 24.0 - 0.10 * (140.0 + 19.0) / 5.5 + 0.4 * 5.0],
        lw_out=[470.0, 440.0 - 0.05 * 20.0 - 0.10 * (140.0 + 19.0) + 0.4 * 5.5 * 5.0],
    )
    for sky in ((750.0, 335.0, 21.0), (400.0, 380.0, 15.0)):
        assert temperature(later, *sky) == pytest.approx(temperature(at_once, *sky))
        assert net(later, *sky) == pytest.approx(net(at_once, *sky))


def test_by_night_the_shortwave_stays_as_it_was_measured():
    of = state(**SAME, known=[False, False])
    of.reflected[:], of.absorbed[:] = 0.0, 0.0
    night = {"sw_in": np.array([[2.0, 1.0]]), "sw_out": np.array([[0.5, 0.5]])}
    of.flux.update(night)
    assert net(of, 0.0, 335.0, 21.0) == pytest.approx((1.5 - 0.5) - 30.0)
