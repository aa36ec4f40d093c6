"""A broken lead is named; a logger of whole W m-2, whose sound values repeat for minutes, is not."""

import numpy as np
import pytest

from headland.checks import dead_channels
from study.made import diagnosed, found, unmade

T = np.arange(1800.0)
MORNING = 400.0 + 0.05 * T
"""W m-2: the sun climbs by 90 W m-2 within half an hour."""


def frozen(said) -> set[str]:
    return {channel for code, _, channel in found(said) if code == "channel-frozen"}


@pytest.mark.parametrize("albedo", [0.02, 0.2])
def test_a_logger_of_whole_watts_on_a_clear_morning_is_sound(albedo):
    said = diagnosed(seconds=1800, step=1.0, sw_in=MORNING, sw_out=np.round(albedo * MORNING), lw_out=30.02)
    assert not frozen(said) and not said.flags["frozen"].any()
    assert ("channel-frozen", "coarse-steps") in unmade(said)


def test_whole_watts_while_the_head_turns_in_the_sun_are_sound():
    turning = 700.0 + 30.0 * np.sin(2.0 * np.pi * T / 7.0)
    assert not frozen(
        diagnosed(seconds=1800, step=1.0, sw_in=turning, lw_in=np.full(1800, -95.02), lw_out=30.02)
    )


@pytest.mark.parametrize("channel, value", [("sw_out", 90.0), ("lw_in", -80.0), ("lw_out", 20.0)])
def test_a_broken_lead_is_named(channel, value):
    """From the first sample on, and from the middle of the record on."""
    assert frozen(diagnosed(seconds=1800, sw_in=MORNING, held={channel: (0, value)})) == {channel}
    assert frozen(diagnosed(seconds=1800, sw_in=MORNING, held={channel: (900, value)})) == {channel}


@pytest.mark.parametrize(
    "interval, count, is_frozen", [(5.0, 29, False), (5.0, 30, True), (1.0, 119, False), (1.0, 120, True)]
)
def test_thirty_samples_and_two_minutes_make_a_frozen_channel(interval, count, is_frozen):
    """At 5 s thirty samples take longer than two minutes; at 1 s two minutes are more than thirty samples."""
    moving = np.arange(300.0)
    values = moving.copy()
    values[100 : 100 + count] = 100.0
    hit, doubtful = dead_channels.frozen(values, [moving], interval, 120.0)
    assert hit.sum() == (count if is_frozen else 0) and not doubtful.any()
