"""What one made record of a set shows, just inside and just outside each limit of method.md, 10.2."""

import dataclasses
import math

import numpy as np
import pytest

from headland.checks import instruments
from study.made import diagnosed, emission, found, record, unmade

NAN = math.nan
COUNT = 900


def part(value: float, samples: int, usual: float, since: int = 100) -> np.ndarray:
    """A channel that has a value for so many samples, and its usual one otherwise."""
    series = np.full(COUNT, usual)
    series[since : since + samples] = value
    return series


# Channels without values ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "series, said",
    [
        ({"sw_in": NAN}, [("channel-empty", "", "sw_in")]),
        ({"sw_in": NAN, "lw_out": NAN}, [("channel-empty", "", "sw_in lw_out")]),
        ({"body": NAN}, [("channel-empty", "body", "lw_in lw_out")]),
        ({"lw_in": NAN, "body": NAN}, [("channel-empty", "", "lw_in"), ("channel-empty", "body", "lw_out")]),
        ({"sw_in": part(NAN, 899, 780.0, 0)}, []),
        ({"body": part(NAN, 899, 23.0, 0)}, []),
    ],
)
def test_a_channel_without_a_single_value_is_named(series, said):
    assert found(diagnosed(**series)) == said


# Signs and places -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "series, said",
    [
        ({"sw_in": -780.0}, [("sign-reversed", "", "sw_in")]),
        ({"sw_out": -160.0}, [("sign-reversed", "", "sw_out")]),
        ({"sw_in": -780.0, "sw_out": -160.0}, [("sign-reversed", "", c) for c in ("sw_in", "sw_out")]),
        ({"lw_in": 95.0}, [("sign-reversed", "", "lw_in")]),
        ({"sw_in": 160.0, "sw_out": 780.0}, [("channels-exchanged", "shortwave", "sw_in sw_out")]),
        ({"lw_in": 30.0, "lw_out": -95.0}, [("channels-exchanged", "longwave", "lw_in lw_out")]),
        (
            {"sw_in": 160.0, "sw_out": 780.0, "lw_in": 30.0, "lw_out": -95.0},
            [("head-inverted", "", "sw_in sw_out lw_in lw_out")],
        ),
        # where the longwave signals are too alike to show it, either may have happened
        (
            {"sw_in": 160.0, "sw_out": 780.0, "lw_in": -12.0, "lw_out": 10.0},
            [("head-inverted", "either", "sw_in sw_out lw_in lw_out")],
        ),
        (
            {"sw_in": 160.0, "sw_out": 780.0, "lw_in": -18.0, "lw_out": 10.0},
            [("channels-exchanged", "shortwave", "sw_in sw_out")],
        ),
        # nine in ten samples must show it: of the lit ones 91 and 89 of 100
        ({"sw_out": part(160.0, 81, -160.0)}, [("sign-reversed", "", "sw_out")]),
        ({"sw_out": part(160.0, 99, -160.0)}, []),
    ],
)
def test_signs_and_places_of_the_channels(series, said):
    assert found(diagnosed(**series)) == said


def test_more_light_from_below_than_snow_gives_is_an_exchange():
    """ln of the ratio is over 0.2: 1.22 to 1."""
    # an inverted factor of the lower head would make an albedo of 0.3 of it
    assert ("channels-exchanged", "undecided", "sw_in sw_out") in found(diagnosed(sw_in=600.0, sw_out=740.0))
    assert ("channels-exchanged", "shortwave", "sw_in sw_out") in found(diagnosed(sw_in=300.0, sw_out=740.0))
    alike = diagnosed(sw_in=600.0, sw_out=725.0)
    assert not {code for code, _, _ in found(alike)} & {"channels-exchanged", "head-inverted"}
    assert unmade(alike) >= {("channels-exchanged", "alike-shortwave"), ("head-inverted", "alike-shortwave")}
    assert not unmade(diagnosed()) & {("head-inverted", "alike-shortwave"), ("head-inverted", "low-sun")}


@pytest.mark.parametrize("below, alike", [(-118.0, True), (-122.0, False)])
def test_longwave_signals_within_25_are_alike(below, alike):
    said = diagnosed(lw_in=-95.0, lw_out=below)
    assert (("channels-exchanged", "alike-longwave") in unmade(said)) == alike
    assert (("channels-exchanged", "longwave", "lw_in lw_out") in found(said)) == (not alike)


@pytest.mark.parametrize("above, small", [(-24.0, True), (-27.0, False)])
def test_a_small_upper_signal_has_no_sign(above, small):
    untold = diagnosed(lw_in=above, lw_out=0.0).untold
    assert (("small-signal", "lw_in") in {(one.reason, one.channel) for one in untold}) == small


# Covers -----------------------------------------------------------------------------------------------------


def covered(samples, **values):
    """A record whose channels have these values for so many samples; its flags, as counts."""
    usual = {"sw_in": 780.0, "sw_out": 160.0, "lw_in": -95.0, "lw_out": 30.0}
    said = diagnosed(**{name: part(value, samples, usual[name]) for name, value in values.items()})
    return {name: int(hit.sum()) for name, hit in said.flags.items() if name.startswith("cover")}


NONE = {"cover": 0, "cover-sw_in": 0, "cover-sw_out": 0}
ALL = {"sw_in": 0.0, "sw_out": 0.0, "lw_in": 0.0, "lw_out": 0.0}


@pytest.mark.parametrize("samples", [59, 60, 200])
def test_covers_count_from_a_minute_on(samples):
    count = samples if samples >= 60 else 0
    assert covered(samples, **ALL) == NONE | {"cover": count}
    assert covered(samples, sw_in=0.0) == NONE | {"cover-sw_in": count}
    assert covered(samples, sw_out=0.0) == NONE | {"cover-sw_out": count}


@pytest.mark.parametrize(
    "values, hit",
    [
        # 2 % of the top of the atmosphere: 1300 W m-2 times the sine of 45 degrees is 919, and 2 % 18.4
        (ALL | {"sw_in": 17.0, "sw_out": 17.0}, "cover"),
        (ALL | {"sw_in": 20.0, "sw_out": 17.0}, ""),
        (ALL | {"sw_in": 17.0, "sw_out": 20.0}, ""),
        # both longwave signals alike within 10 W m-2, and within 60 of 0: covers 10 K cooler than the heads
        (ALL | {"lw_in": 4.3, "lw_out": -4.3}, "cover"),
        (ALL | {"lw_in": 11.5}, ""),
        (ALL | {"lw_out": -11.5}, ""),
        (ALL | {"lw_in": -58.0, "lw_out": -58.0}, "cover"),
        (ALL | {"lw_in": -62.0, "lw_out": -62.0}, ""),
        # the lower head lit, the upper one darker than a third of it, and than 3 % of it
        ({"sw_in": 4.0, "sw_out": 160.0}, "cover-sw_in"),
        ({"sw_in": 6.0, "sw_out": 160.0}, ""),
        # under 1.5 % of more than 100 W m-2
        ({"sw_in": 780.0, "sw_out": 10.5}, "cover-sw_out"),
        ({"sw_in": 780.0, "sw_out": 13.0}, ""),
        ({"sw_in": 102.0, "sw_out": 0.0}, "cover-sw_out"),
        ({"sw_in": 98.0, "sw_out": 0.0}, ""),
    ],
)
def test_how_dark_a_cover_is(values, hit):
    assert covered(300, **values) == NONE | ({hit: 300} if hit else {})


def test_covers_are_not_judged_by_a_low_sun():
    for elevation, hit in ((11.0, True), (9.0, False)):
        said = diagnosed(sw_in=0.0, sw_out=0.0, lw_in=0.0, lw_out=0.0, elevation=elevation)
        assert said.flags["cover"].all() == hit and said.flags["cover"].any() == hit
        assert (("cover-left-on", "low-sun") in unmade(said)) == (not hit)


# Water on the window ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("signal, samples, wet", [(3.5, 180, True), (3.5, 179, False), (6.5, 300, False)])
def test_a_wet_window_sees_its_own_warmth_for_three_minutes(signal, samples, wet):
    said = diagnosed(lw_in=part(signal, samples, -95.0))
    assert found(said) == ([("dome-wet", "", "lw_in")] if wet else [])
    assert said.flags["dome-wet"].sum() == (samples if wet else 0)
    assert [one.facts["minutes"] for one in said.findings] == (["3"] if wet else [])


def test_without_a_beam_it_may_be_a_low_cloud():
    said = diagnosed(sw_in=90.0, sw_out=18.0, lw_in=part(2.0, 400, -20.0))
    assert ("dome-wet", "undecided", "lw_in") in found(said) and not said.flags["dome-wet"].any()


# The supply -------------------------------------------------------------------------------------------------


def supplied(volts, lost="", minutes=90):
    """A record of half-minutes with a supply, and a channel that has no values in the last third of it."""
    made = record(minutes * 60, interval=30.0)
    count = 2 * minutes
    sensed = made.sensed
    if lost:
        sensed = sensed.assign(**{lost: sensed[lost].where(np.arange(count) < count * 2 // 3)})
    course = np.interp(np.arange(count), np.linspace(0, count - 1, len(volts)), volts)
    return instruments.diagnosed(
        dataclasses.replace(made, raw=made.raw.assign(battery=course), sensed=sensed)
    )


@pytest.mark.parametrize(
    "volts, low",
    [
        ([12.6, 12.6], False),
        ([11.05, 11.05], False),
        ([10.95, 10.95], True),
        # by more than half a volt within an hour, and under 12 V
        ([12.3, 11.9], False),
        ([12.4, 11.4], True),
        ([13.4, 12.1], False),
        # another battery: a tenth of its highest voltage
        ([6.0, 5.45], False),
        ([6.0, 5.0], True),
    ],
)
def test_a_supply_is_low_or_falls(volts, low):
    said = supplied(volts, minutes=50)
    assert [one[:2] for one in found(said)] == ([("battery-low", "")] if low else [])
    assert said.flags["battery-low"].any() == low and said.wrong == set()


def test_an_hour_is_what_a_fall_is_counted_over():
    """The same volt, spread over four hours and over one."""
    slowly, fast = supplied([12.7, 11.7], minutes=240), supplied([12.7, 11.7], minutes=60)
    assert found(slowly) == [] and [one[0] for one in found(fast)] == ["battery-low"]


def test_a_single_reading_is_no_low_supply():
    """One record of ten a minute, as where a radio sends."""
    made = record(900, interval=6.0)
    volts = np.where(np.arange(150) % 10 == 5, 0.5, 12.6)
    said = instruments.diagnosed(dataclasses.replace(made, raw=made.raw.assign(battery=volts)))
    assert found(said) == []


def test_a_channel_that_fails_with_the_supply_is_named():
    said = supplied([12.6, 12.6, 10.0, 10.0], lost="sw_out")
    (one,) = [one for one in said.findings if one.code == "battery-low"]
    assert (one.variant, one.channel, one.facts["volts"], one.facts["highest"]) == (
        "channels", "sw_out", "10.0", "12.6")  # fmt: skip
    assert said.wrong == {"sw_out"}
    # one that has no values at other times either has not failed with it
    assert found(supplied([10.0, 12.6, 12.6, 12.6], lost="sw_out"))[0] == ("battery-low", "", "")


# States of the longwave signals -----------------------------------------------------------------------------


OWN = float(emission(23.0))
"""W m-2 of a head of 23 degC: 436."""


@pytest.mark.parametrize(
    "add, declared, said",
    [
        ((0, 0), "net", []),
        ((1, 1), "net", [("longwave-corrected-twice", "by-the-declaration", "lw_in lw_out")]),
        ((1, 0), "net", [("longwave-corrected-one-channel", "", "lw_in")]),
        ((0, 1), "net", [("longwave-corrected-one-channel", "", "lw_out")]),
        ((2, 2), "net", [("longwave-corrected-twice", "in-the-file", "lw_in lw_out")]),
        # the chain has taken the own emission from what is declared as corrected
        ((0, 0), "corrected", []),
        ((-1, -1), "corrected", [("longwave-not-corrected", "", "lw_in lw_out")]),
        ((-1, 0), "corrected", [("longwave-corrected-one-channel", "", "lw_in")]),
        ((1, 1), "corrected", [("longwave-corrected-twice", "in-the-file", "lw_in lw_out")]),
    ],
)
def test_states_of_the_longwave_signals(add, declared, said):
    series = {"lw_in": -60.0 + add[0] * OWN, "lw_out": 30.0 + add[1] * OWN}
    made = record(step=0.01, **series)
    result = instruments.diagnosed(dataclasses.replace(made, longwave=declared))
    codes = [one for one in found(result) if one[0].startswith("longwave-")]
    assert codes == said
