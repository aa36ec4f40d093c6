"""What the channel check says of responses, levels and lamps, on courses that are exponentials."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.field import channel_check as cc
from headland.physics.instruments import RESPONSE_TIME

TIME = np.arange(20.0)
GREEN = ("green", "fell by 99 %")


def falling(seconds_95, level=500.0, rest=0.0):
    """A signal that falls under a cover, 95 % of it in so many seconds."""
    return rest + (level - rest) * np.exp(-3.0 * TIME / seconds_95)


@pytest.mark.parametrize("seconds", [6.0, 12.0, 30.0])
@pytest.mark.parametrize("level, rest", [(500.0, 0.0), (500.0, 6.0), (-100.0, -6.0)])
def test_the_response_is_that_of_the_exponential_whatever_remains(seconds, level, rest):
    """Time constants are tried 5 % apart."""
    assert cc.response_95(TIME, falling(seconds, level, rest), level) == pytest.approx(seconds, rel=0.03)


def test_more_than_a_cover_leaves_is_a_slow_head():
    """8 W m-2 may remain; 40 can only be a signal that still falls."""
    assert cc.response_95(TIME, falling(12.0, 500.0, 40.0), 500.0) > 13.0


def test_what_falls_at_once_is_too_fast_and_what_does_not_fall_has_no_response():
    at_once = np.where(TIME < 3, 500.0, 0.0)
    assert math.isnan(cc.response_95(TIME, at_once, 500.0))
    late = np.where(TIME < 16, 500.0, 300.0)  # four samples are left
    assert math.isnan(cc.response_95(TIME, late, 500.0))
    assert cc.response_95(TIME, np.full(20, 451.0), 500.0) == math.inf
    assert math.isfinite(cc.response_95(TIME, np.full(20, 449.0), 500.0))
    delayed = np.concatenate([np.full(5, 500.0), falling(9.0)[:15]])  # a watch off by 5 s is no slow head
    assert cc.response_95(TIME, delayed, 500.0) == pytest.approx(9.0, rel=0.06)


@pytest.mark.parametrize(
    "stated, right, slow",
    [(12.0, 17.0, 19.5), (4.0, 8.4, 9.6), (math.nan, RESPONSE_TIME * 1.4, RESPONSE_TIME * 1.6)],
)
def test_a_head_is_slow_beyond_half_as_much_again_and_5_s(stated, right, slow):
    known = RESPONSE_TIME if math.isnan(stated) else stated
    state, text = cc._response(TIME, falling(right), 500.0, stated, GREEN)
    assert state == "green" and text.startswith("95 % in ")
    state, text = cc._response(TIME, falling(slow), 500.0, stated, GREEN)
    assert state == "red" and text.startswith("slow: 95 % in ") and text.endswith(f"stated {known:.0f} s")


def test_a_response_that_can_t_be_told():
    still = np.full(20, 500.0)
    assert cc._response(TIME, still, 500.0, 12.0, ("red", "longwave in fell instead")) == (
        "grey",
        "not to be told",
    )
    said = cc._response(TIME, still, 500.0, 12.0, ("red", "did not fall"))
    assert said == ("red", "slow: hardly any, stated 12 s")
    assert cc._response(TIME, np.where(TIME < 2, 500.0, 0.0), 500.0, 12.0, GREEN) == ("green", "fast")


def level(channel, value, sw_in=800.0):
    inside = pd.DataFrame({"sw_clear": [100.0, 800.0, 900.0], "body_temperature": [0.0, 20.0, 21.0]})
    return cc._level(channel, value, inside, {"sw_in": sw_in})


@pytest.mark.parametrize(
    "value, state",
    [(23.0, "amber"), (25.0, "green"), (1039.0, "green"), (1041.0, "amber"), (-500.0, "green")],
)
def test_shortwave_in_is_believed_from_dark_cloud_to_beside_a_bright_one(value, state):
    """3 % to 130 % of 800 W m-2, the middle of the clear sky's."""
    found, text = level("sw_in", value)
    assert found == state and (", while a clear sky gives 800" in text) == (state == "amber")


@pytest.mark.parametrize("sw_in, sign", [(31.0, 1.0), (800.0, -1.0)])
def test_the_ground_reflects_2_percent_to_all_of_what_comes_in(sw_in, sign):
    for share, state in ((0.019, "amber"), (0.021, "green"), (0.99, "green"), (1.01, "amber")):
        found, text = level("sw_out", share * sw_in, sign * sw_in)
        assert found == state and ("out of proportion" in text) == (state == "amber")


def test_levels_are_said_with_their_sign():
    assert level("lw_in", -95.4) == ("green", "−95 W m⁻²")
    assert level("lw_out", 300.0)[1].endswith("the head's own emission seems to be in it")
    assert level("sw_out", 5.0, 20.0) == ("grey", "5 W m⁻², no shortwave in to compare with")


def test_a_lamp_has_the_worst_of_its_parts_and_all_doubts():
    fine = {"sign": ("green", "right"), "level": ("grey", "too little")}
    lamp = cc._lamp("heron", "lw_in", fine)
    assert (lamp.set, lamp.subject) == ("heron", "channel check, longwave in")
    assert (lamp.state, lamp.remedy) == ("green", "")
    assert lamp.what == "sign, place, response and level are right"
    bad = {"sign": ("red", "reversed"), "place": ("green", "fell by 99 %"), "level": ("amber", "high")}
    lamp = cc._lamp("heron", "lw_in", bad)
    assert (lamp.state, lamp.what) == ("red", "sign reversed; level high")
    assert "repeat the check before leaving" in lamp.remedy


def test_response_times_are_those_of_the_certificates():
    table = pd.DataFrame({"channel": ["sw_in", "lw_in"], "response_time_95": [12.0, np.nan]})
    found = cc._stated(table, ["sw_in", "sw_out", "lw_in"])
    assert found["sw_in"] == 12.0 and math.isnan(found["sw_out"]) and math.isnan(found["lw_in"])
    assert math.isnan(cc._stated(table[["channel"]], ["sw_in"])["sw_in"])


# A whole check ----------------------------------------------------------------------------------------------


def covered(order=("sw_in", "sw_out", "lw_in", "lw_out"), step=1.0, width=20.0, late=0.0, **changes):
    """Heads of 9 s covered one after the other from second 60 on; by channel, W m-2 with nothing on it."""
    open_ = {"sw_in": 800.0, "sw_out": 160.0, "lw_in": -100.0, "lw_out": 25.0} | changes
    time = np.arange(0.0, 100.0 + 4 * width, step)
    frame = {"seconds": time, "body_temperature": 20.0, "solar_elevation": 50.0, "sw_clear": 820.0}
    for channel, value in open_.items():
        begins = 60.0 + late + width * order.index(channel) if channel in order else np.inf
        since, after = time - begins, time - begins - width
        under = np.where(since > 0, np.exp(-since / 3.0), 1.0)
        left = np.exp(-width / 3.0)
        course = np.where(after > 0, 1.0 - (1.0 - left) * np.exp(-np.clip(after, 0, None) / 3.0), under)
        frame[channel if channel.startswith("sw") else f"{channel}_net"] = value * course
    return pd.DataFrame(frame)


def said(frame, order=("sw_in", "sw_out", "lw_in", "lw_out"), width=20.0):
    return cc.check(frame, 60.0, 60.0 + width * len(order), order, {})


def test_another_order_and_fewer_heads_are_checked_as_noted():
    order = ("lw_out", "sw_in")
    found = said(covered(order), order)
    assert list(found) == ["lw_out", "sw_in"]
    assert {state for parts in found.values() for state, _ in parts.values()} == {"green"}
    assert found["sw_in"]["level"][1] == "800 W m⁻²" and found["lw_out"]["level"][1] == "25 W m⁻²"


@pytest.mark.parametrize("step, enough", [(2.5, True), (2.9, False)])
def test_eight_samples_of_a_covered_head_are_enough(step, enough):
    found = said(covered(step=step))
    assert all(("response" in parts) == enough for parts in found.values())


@pytest.mark.parametrize("late", [14.0, -14.0])
def test_the_first_cover_is_sought_15_s_around_the_note(late):
    states = {state for parts in said(covered(late=late)).values() for state, _ in parts.values()}
    assert states == {"green"}


@pytest.mark.parametrize("late, begins", [(3.0, 60.0), (11.0, 67.0), (-12.0, 51.0)])
def test_windows_are_moved_as_far_as_needed(late, begins):
    """Heads of 9 s have lost half within 3 s: windows may lie about 4 s off their falls."""
    frame = covered(late=late)
    found = cc._where_it_fell(frame, 60.0, 140.0, ["sw_in", "sw_out", "lw_in", "lw_out"])
    assert found.rows["seconds"].iloc[0] == pytest.approx(begins, abs=2.0)


def test_a_faint_channel_is_judged_by_its_level_alone():
    """29 and 31 W m-2 of shortwave in under a sun; 7.9 and 8.1 of the others."""
    assert list(said(covered(sw_in=29.0))["sw_in"]) == ["level"]
    assert said(covered(sw_in=29.0))["sw_in"]["level"][0] == "red"
    assert "place" in said(covered(sw_in=31.0))["sw_in"]
    for channel in ("sw_out", "lw_out"):
        assert list(said(covered(**{channel: 7.9}))[channel]) == ["level"]
        assert "place" in said(covered(**{channel: 8.1}))[channel]
    assert list(said(covered(lw_in=-9.9))["lw_in"]) == ["level"]
    night = covered(sw_in=1.0).assign(solar_elevation=9.0)
    assert said(night)["sw_in"]["level"][0] == "amber"
    overcast = covered(sw_in=20.0).assign(sw_clear=99.0)
    assert said(overcast)["sw_in"]["level"][0] == "grey"


def test_a_dead_channel_is_said_with_its_value():
    frame = covered().assign(sw_out=160.0)
    assert said(frame)["sw_out"] == {"place": ("red", "dead: one value (160.0 W m⁻²) all the time")}
