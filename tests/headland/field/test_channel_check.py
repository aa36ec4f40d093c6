"""The channel check: each mistake on a made-up course of covering is found, and a sound one is silent; 20
courses, by turns under a clear and a dull sky."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.chain.calibrate import RADIATION
from headland.field import channel_check as cc

OPEN = (
    {"sw_in": 800.0, "sw_out": 160.0, "lw_in": -100.0, "lw_out": 25.0},
    {"sw_in": 180.0, "sw_out": 36.0, "lw_in": -25.0, "lw_out": 14.0},
)
"""W m-2 with nothing on the heads, under a clear sky and under a dull one."""


def course(seed, *, slow=(), dead=(), covered=(), reversed_=(), exchanged=(), rest=1.0):
    """A set at 1 sample/s, each head covered for 20 s in the usual order from second 60 on; 95 % response
    12 s."""
    generator = np.random.default_rng(seed)
    t = np.arange(160.0)
    flux = {}
    for i, c in enumerate(RADIATION):
        tau = (45.0 if c in slow else 12.0) / 3.0
        value, level = np.empty(len(t)), OPEN[seed % 2][c] * generator.uniform(0.8, 1.1)
        aim = np.where(
            (t >= 60 + 20 * i) & (t < 80 + 20 * i),
            generator.uniform(-rest, rest) if c.startswith("lw") else 0.0,
            level,
        )
        now = level
        for k, target in enumerate(aim):
            now += (target - now) * (1.0 - math.exp(-1.0 / tau))
            value[k] = now
        value = value + 0.1 * generator.standard_normal(len(t))
        flux[c] = (
            np.full(len(t), level)
            if c in dead
            else 0.01 * value
            if c in covered
            else -value
            if c in reversed_
            else value
        )
    if exchanged:
        a, b = exchanged
        flux[a], flux[b] = flux[b], flux[a]
    return pd.DataFrame(
        {
            "seconds": t,
            "sw_in": flux["sw_in"],
            "sw_out": flux["sw_out"],
            "lw_in_net": flux["lw_in"],
            "lw_out_net": flux["lw_out"],
            "body_temperature": 20.0,
            "solar_elevation": 50.0,
            "sw_clear": 820.0,
        }
    )


def worst(said):
    return {c: max((state for state, _ in parts.values()), key=cc.WORST.index) for c, parts in said.items()}


def check(frame, order=RADIATION):
    return cc.check(frame, 60.0, 140.0, order, dict.fromkeys(RADIATION, 12.0))


SEEDS = range(20)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_sound_set_is_silent(seed):
    said = check(course(seed))
    assert set(worst(said).values()) == {"green"}
    assert said["lw_in"]["level"][1].startswith("−") and all(
        parts["level"][1].split(",")[0].endswith(" W m⁻²") for parts in said.values()
    )


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("channel", RADIATION)
def test_each_mistake_of_a_channel_is_found_at_that_channel(seed, channel):
    for mistake in ("reversed_", "dead", "covered", "slow"):
        said = worst(check(course(seed, **{mistake: (channel,)})))
        assert said[channel] in ("red", "amber"), mistake
        assert all(state in ("green", "grey") for c, state in said.items() if c != channel), mistake
    assert (
        "slow" in check(course(seed, slow=(channel,)))[channel]["response"][1]
        and "dead" in check(course(seed, dead=(channel,)))[channel]["place"][1]
    )


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(
    "pair", [("sw_in", "sw_out"), ("lw_in", "lw_out"), ("sw_in", "lw_in"), ("sw_out", "lw_out")]
)
def test_exchanged_channels_are_found_at_both(seed, pair):
    said = worst(check(course(seed, exchanged=pair)))
    assert all(said[c] == "red" for c in pair)


def test_the_order_is_read_from_the_remark():
    assert cc.order_of("covered lw_in, sw_in then lw_out sw_out") == ["lw_in", "sw_in", "lw_out", "sw_out"]
    assert cc.order_of("all fine") == list(RADIATION)
    assert "red" in worst(check(course(1), ["sw_out", "sw_in", "lw_in", "lw_out"])).values()


def test_response_is_that_of_an_exponential():
    t = np.arange(20.0)
    assert cc.response_95(t, 500.0 * np.exp(-t / 4.0), 500.0) == pytest.approx(12.0, rel=0.03)
    assert cc.response_95(t, np.full(20, 500.0), 500.0) == math.inf


@pytest.mark.parametrize("channel", RADIATION)
def test_a_head_s_response_is_counted_from_when_it_was_covered_itself(channel):
    said = check(course(0, rest=0.0))[channel]["response"][1]
    assert said.startswith("95 % in ") and 9 <= int(said.split()[3]) <= 15


def test_too_few_samples_are_said():
    said = check(course(1).iloc[::5])
    assert all("cover it for 20 s" in parts["place"][1] for parts in said.values())


@pytest.mark.parametrize("seconds", [-10.0, -3.0, 3.0, 8.0])
@pytest.mark.parametrize("seed", range(4))
def test_a_logger_some_seconds_off_makes_no_head_dead(seed, seconds):
    frame = course(seed)
    said = check(frame.assign(seconds=frame["seconds"] + seconds))
    assert set(worst(said).values()) == {"green"}, said


def test_a_logger_some_seconds_off_hides_no_mistake():
    late = course(2, dead=("sw_out",))
    assert worst(check(late.assign(seconds=late["seconds"] - 3.0)))["sw_out"] == "red"
    crossed = course(2, exchanged=("lw_in", "lw_out"))
    said = worst(check(crossed.assign(seconds=crossed["seconds"] - 3.0)))
    assert said["lw_in"] == said["lw_out"] == "red" and said["sw_in"] == "green"


def test_clock_checks_are_applied():
    """The logger is 40 s behind, more than the falls are sought for."""
    moment = pd.Timestamp("2025-06-16 10:00", tz="UTC")
    shown = moment + pd.Timedelta(seconds=20)
    check_, later = ({"set": "heron", "activity": "clock_check"} for _ in range(2))
    covered = {
        "set": "heron",
        "activity": "channel_check",
        "remark": "",
        "start": "10:01:00",
        "end": "10:02:20",
    }
    ends = {"start_utc": moment + pd.Timedelta(seconds=60), "end_utc": moment + pd.Timedelta(seconds=140)}
    noted = pd.DataFrame(
        [
            {**check_, "start_utc": moment + pd.Timedelta(seconds=60), "logger_utc": shown},
            {
                **later,
                "start_utc": moment + pd.Timedelta(seconds=660),
                "logger_utc": shown + pd.Timedelta(seconds=600),
            },
            {**covered, **ends},
        ]
    )
    noted["logger_utc"] = pd.to_datetime(noted["logger_utc"], utc=True)
    frame = course(2)
    samples = {"heron": frame.assign(seconds=moment.timestamp() + frame["seconds"] - 40.0)}
    certificates = {"heron": pd.DataFrame({"channel": RADIATION, "response_time_95": 12.0})}
    found = cc.checks(noted, samples, certificates)
    assert [lamp.state for lamp in found[0]["lamps"]] == ["green"] * 4
