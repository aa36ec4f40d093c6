"""Wet windows, batteries, shocks, units and states: limits from both sides, each check called by itself."""

import math

import numpy as np
import pytest

from headland.checks import field_conditions, longwave_states
from study.made import CLEAR, emission

from .made_one import SECOND, facts, one, said, untold

NAN = math.nan


@pytest.mark.parametrize(
    "net, lasts, named", [(4.0, 181, True), (-4.0, 181, True), (6.0, 181, False), (4.0, 179, False)]
)
def test_a_window_is_wet_within_5_of_zero_for_three_minutes(net, lasts, named):
    made = one(lw_in=np.where(lasts > SECOND, net, -95.0))
    field_conditions.find_wet_dome(made)
    assert said(made) == [("dome-wet", "", "lw_in")] * named
    assert made.result.flags["dome-wet"].sum() == (lasts if named else 0)
    if named:
        assert facts(made)["minutes"] == "3"


@pytest.mark.parametrize("share, named", [(0.29, False), (0.31, True)])
def test_a_window_is_wet_where_the_sun_shone_for_three_tenths_of_it(share, named):
    """Of 300 s; in the rest of them SW_in is that of a cloud. Sunshine is 0.7 of the clear sky."""
    for sun, shines in ((0.71, named), (0.69, False)):
        lit = share * 300 > SECOND
        made = one(lw_in=np.where(SECOND < 300, 0.0, -95.0), sw_in=np.where(lit, sun, 0.3) * CLEAR)
        field_conditions.find_wet_dome(made)
        assert said(made) == [("dome-wet", "" if shines else "undecided", "lw_in")]


def with_battery(volts, **changes):
    made = one(**changes)
    made.raw = made.raw.assign(battery=volts)
    field_conditions.find_low_battery(made)
    return made


@pytest.mark.parametrize(
    "first, last, low",
    [
        (12.6, 11.05, True),
        (12.6, 10.9, True),
        (11.9, 11.45, False),
        (11.9, 11.35, True),
        (12.6, 12.05, False),
        (12.8, 11.95, True),
        (11.0, 11.0, False),
        (10.9, 10.9, True),
        (9.0, 8.2, False),
        (9.0, 8.0, True),
        (4.1, 3.75, False),
        (4.1, 3.6, True),
        (10.6, 10.55, True),
        (10.4, 10.3, False),
    ],
)
def test_a_battery_is_low_by_its_voltage_or_its_fall(first, last, low):
    """A battery of 12 V: under 11 V, or under 12 V after a fall of more than half a volt. Another one: after
    a fall by more than a tenth."""
    made = with_battery(np.where(SECOND < 450, first, last))
    assert bool(said(made)) == low
    if low:
        assert facts(made) == {"volts": f"{last:.1f}", "highest": f"{first:.1f}"}
        assert said(made) == [("battery-low", "", "")]


@pytest.mark.parametrize(
    "lost, before, failed", [(0.25, 0.0, True), (0.15, 0.0, False), (0.25, 0.08, False), (0.25, 0.03, True)]
)
def test_a_channel_fails_with_the_battery_by_what_is_missing(lost, before, failed):
    place = np.arange(900) % 100
    sw_in = np.where((SECOND >= 480) & (place < 100 * lost), NAN, 780.0)
    sw_in = np.where((SECOND < 450) & (place < 100 * before), NAN, sw_in)
    made = with_battery(np.where(SECOND < 450, 12.6, 10.5), sw_in=sw_in)
    assert said(made) == [("battery-low", "channels" if failed else "", "sw_in" if failed else "")]
    assert made.result.wrong == ({"sw_in"} if failed else set())


def test_without_a_voltage_nothing_is_said_of_a_battery():
    assert ("battery-low", "no-voltage", "") in untold(with_battery(NAN))


def shock(body, seconds=3600, **changes):
    made = one(seconds=seconds, body=body, **changes)
    del made.result.flags["thermal-shock"]
    field_conditions.find_thermal_shock(made)
    return made


HOUR = np.arange(3600.0)


@pytest.mark.parametrize("rate, named", [(11.0, False), (13.0, True), (-11.0, False), (-13.0, True)])
def test_12_k_an_hour_are_a_shock(rate, named):
    """For ten minutes, in the middle of an hour of an even sun."""
    body = 23.0 + rate * np.clip(HOUR - 1500.0, 0.0, 600.0) / 3600.0
    made = shock(body)
    assert said(made) == [("thermal-shock", "weather", "body_temperature")] * named
    if named:
        assert facts(made)["rate"] == "13" and made.result.flags["thermal-shock"][1600:2000].all()
        assert not made.result.flags["thermal-shock"][:1100].any()


@pytest.mark.parametrize("change, named", [(90.0, True), (110.0, False)])
def test_a_change_of_the_sun_warms_by_5_k_an_hour_for_100(change, named):
    """17 K an hour are 5 more than the limit; the sun changed by so much a quarter of an hour before."""
    body = 23.0 + 17.0 * np.clip(HOUR - 1500.0, 0.0, 600.0) / 3600.0
    made = shock(body, sw_in=np.where(HOUR < 700, 780.0 - change, 780.0))
    assert bool(said(made)) == named
    assert ("thermal-shock", "changing-sun", "") in untold(made)
    # 20 minutes before the trend it is forgotten
    earlier = shock(body, sw_in=np.where(HOUR < 120, 500.0, 780.0))
    assert said(earlier) and ("thermal-shock", "changing-sun", "") not in untold(earlier)


def test_what_is_needed_for_a_shock():
    assert untold(shock(NAN)) == {("thermal-shock", "no-body-temperature", "")}
    assert ("thermal-shock", "short-record", "") in untold(shock(23.0, seconds=240))
    apart = one(seconds=7200, interval=121.0)
    field_conditions.find_thermal_shock(apart)
    assert untold(apart) == {("thermal-shock", "records-apart", "")}
    near = one(seconds=7200, interval=120.0)
    field_conditions.find_thermal_shock(near)
    assert untold(near) == set()


@pytest.mark.parametrize(
    "start, later, air, car",
    [
        (3.5, 0.0, 20.0, True),
        (2.5, 0.0, 20.0, False),
        (-8.0, -4.5, 20.0, True),
        (-8.0, -5.5, 20.0, False),
        (-3.5, 1.0, 20.0, False),
        (-4.5, 1.0, 20.0, True),
        (-8.0, -4.0, NAN, False),
        (3.5, 0.0, NAN, True),
    ],
)
def test_a_body_out_of_a_car_begins_3_k_beyond_its_usual_warmth(start, later, air, car):
    """Over the air, in K; within minutes it reaches what it has for the rest of two hours. A cold one must
    begin 4 K below the air, and the air must be known."""
    at = 60.0 * np.arange(120.0)
    made = one({"air": air}, seconds=7200, interval=60.0)
    warmth = 20.0 + np.where(
        at <= 300.0, start + (later - start) * np.clip(at - 60.0, 0.0, 240.0) / 240.0, later
    )
    assert field_conditions._out_of_a_car(made, made.seconds[0] + at, warmth) == car


@pytest.mark.parametrize("response, kept", [(9.0, 20.0 ** (-1.0 / 9.0)), (NAN, 0.0), (0.0, 0.0)])
def test_a_step_behind_a_slow_head_comes_back(response, kept):
    given = np.array([[100.0, 100.0 + 50.0 * (1.0 - kept)]])
    assert field_conditions.undone(given, 1.0, response)[0] == pytest.approx([150.0])
    assert field_conditions.spread(np.array([[3.0, -3.0]])) == pytest.approx([4.5 * math.pi])


# Units and states


@pytest.mark.parametrize(
    "celsius, air, verdict",
    [
        (34.9, 20.0, "sound"),
        (4.9, 20.0, "sound"),
        (45.0, 32.0, "sound"),
        (86.0, 22.5, "wrong"),
        (86.0, 21.0, "undecided"),
        (60.0, NAN, "sound"),
        (-60.0, NAN, "sound"),
        (60.5, NAN, "wrong"),
    ],
)
def test_a_body_is_within_15_k_of_the_air_or_another_unit_brings_it_within_8(celsius, air, verdict):
    """86 degF are 30 degC; 60.5 degF are 16 degC."""
    assert longwave_states.body_unit(celsius, "degC", air)[0] == verdict


def test_a_body_beyond_15_k_of_the_air_is_doubted_only_where_another_unit_fits():
    """59 degC or degF, which are 15 degC."""
    assert longwave_states.body_unit(59.0, "degC", 22.9) == ("wrong", ["degF"])
    assert longwave_states.body_unit(59.0, "degC", 23.1) == ("sound", [])
    assert longwave_states.body_unit(59.0, "degC", 44.1) == ("sound", [])
    assert longwave_states.body_unit(59.0, "degC", 43.9)[0] == "sound"


@pytest.mark.parametrize("count, told", [(9, True), (10, False)])
def test_ten_samples_are_needed_for_units_and_states(count, told):
    made = one(seconds=count)
    longwave_states.find_longwave_states(made)
    codes = {code for code, reason, _ in untold(made) if reason == "short-record"}
    assert codes == ({"body-temperature-unit", *longwave_states.STATE_CODES} if told else set())


@pytest.mark.parametrize(
    "times, declared, found",
    [
        ((0, 0), "corrected", ("longwave-not-corrected", "")),
        ((2, 2), "corrected", ("longwave-corrected-twice", "in-the-file")),
        ((1, 1), "net", ("longwave-corrected-twice", "by-the-declaration")),
        ((0, 1), "corrected", ("longwave-corrected-one-channel", "")),
        ((1, 1), "corrected", None),
        ((0, 0), "net", None),
    ],
)
def test_how_often_the_own_emission_is_in_what_was_logged(times, declared, found):
    """The record says what is sensed once the declared state is taken off."""
    own = float(emission(23.0))
    off = int(declared == "corrected")
    made = one(
        {"longwave": declared},
        step=0.001,
        lw_in=-95.0 + (times[0] - off) * own,
        lw_out=30.0 + (times[1] - off) * own,
    )
    longwave_states.find_longwave_states(made)
    assert [one_[:2] for one_ in said(made)] == ([found] if found else [])
    # what follows goes on with the net signal
    assert (made.middle("lw_in"), made.middle("lw_out")) == pytest.approx((-95.0, 30.0), abs=0.5)
