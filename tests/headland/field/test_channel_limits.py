"""Limits of the channel check, just inside and just outside."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.field import channel_check as cc


def course(lost, opened=None):
    """By channel, the share lost in the first window."""
    opened = {"sw_in": 800.0, "sw_out": 160.0, "lw_in": -100.0, "lw_out": 25.0} | (opened or {})
    flux = {c: np.array([1.0, 2.0]) for c in opened}
    return SimpleNamespace(
        order=list(opened), opened=opened, flux=flux, lost={c: [lost.get(c, 0.0)] for c in opened}
    )


@pytest.mark.parametrize("share, state", [(0.51, "green"), (0.49, "red")])
def test_a_covered_channel_must_lose_half(share, state):
    assert cc._place(course({"sw_in": share}), 0, "sw_in")[0] == state


@pytest.mark.parametrize("share, words", [(0.51, "fell instead"), (0.49, "did not fall")])
def test_another_channel_that_loses_half_is_named(share, words):
    assert words in cc._place(course({"lw_in": share}), 0, "sw_in")[1]


@pytest.mark.parametrize("more, state", [(0.29, "green"), (0.31, "red")])
def test_another_that_falls_much_further_is_the_covered_one(more, state):
    assert cc._place(course({"sw_in": 0.6, "lw_in": 0.6 + more}), 0, "sw_in")[0] == state


def test_a_faint_channel_is_no_mover():
    assert cc._place(course({"sw_in": 0.6, "lw_out": 1.0}, {"lw_out": 7.9}), 0, "sw_in")[0] == "green"
    assert cc._place(course({"sw_in": 0.6, "lw_out": 1.0}, {"lw_out": 8.1}), 0, "sw_in")[0] == "red"


@pytest.mark.parametrize(
    "channel, level, sun, state",
    [("sw_in", 20.0, True, "red"), ("sw_in", 20.0, False, "grey"), ("lw_in", 2.9, True, "amber"),
     ("lw_in", 3.1, True, "grey"), ("sw_out", 2.0, False, "amber")],
)  # fmt: skip
def test_what_a_faint_signal_means(channel, level, sun, state):
    assert cc._faint(channel, level, sun)[0] == state


@pytest.mark.parametrize(
    "channel, level, sw_in, state",
    [("sw_in", 5.0, 5.0, "green"), ("sw_in", -5.0, -5.0, "red"), ("lw_in", -90.0, 800.0, "green"),
     ("lw_in", 90.0, 800.0, "red"), ("lw_out", 10.0, 800.0, "green"), ("lw_out", -16.0, 800.0, "red"),
     ("lw_out", -14.0, 800.0, "amber"), ("lw_out", -16.0, 299.0, "amber")],
)  # fmt: skip
def test_signs(channel, level, sw_in, state):
    assert cc._sign(channel, level, True, {"sw_in": sw_in})[0] == state


def inside(clear=800.0):
    return pd.DataFrame({"sw_clear": [clear] * 3, "body_temperature": [20.0] * 3})


@pytest.mark.parametrize(
    "channel, level, clear, state",
    [("sw_out", 17.0, 800.0, "green"), ("sw_out", 15.0, 800.0, "amber"), ("sw_out", 801.0, 800.0, "amber"),
     ("sw_in", 700.0, 49.0, "grey"), ("lw_in", -250.0, 800.0, "green"), ("lw_in", -252.0, 800.0, "amber")],
)  # fmt: skip
def test_levels(channel, level, clear, state):
    """A head at 20 degC emits 418.8 W m-2: six tenths are 251.3. The ground reflects 2 % of 800 at least."""
    assert cc._level(channel, level, inside(clear), {"sw_in": 800.0})[0] == state
    assert cc._level("sw_out", 100.0, inside(), {"sw_in": 29.0})[0] == "grey"
