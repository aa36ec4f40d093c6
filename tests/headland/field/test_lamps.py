"""Lamps of the quick look: what they say where nothing is found, and of two sets together."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from headland.field import common_lamps, set_lamps
from headland.field.lamps import Lamp
from headland.field.set_lamps import Record
from simulate import sky as skies


def record(count=200, **changes):
    frame = pd.DataFrame(
        {"sw_in": 600.0, "sw_out": 120.0, "lw_in": 330.0, "lw_out": 430.0, "body_temperature": 20.0,
         "solar_elevation": 45.0, "flags": ""},
        index=range(count),
    ).assign(**changes)  # fmt: skip
    times = pd.Series(pd.date_range("2026-05-21T10:00:00Z", periods=count, freq="1s"))
    entry = {"layout": {"interval": 1.0}, "longwave": "net"}
    return Record(pd.DataFrame(index=range(count)), frame, times, pd.DataFrame(), entry)


def test_covers_are_judged_by_the_upper_shortwave_head_under_a_high_sun():
    assert set_lamps._covers(record())[1] == "green"
    assert set_lamps._covers(record(sw_out=np.nan))[1] == "green"
    assert set_lamps._covers(record(sw_in=np.nan))[1] == "grey"
    assert set_lamps._covers(record(solar_elevation=5.0))[1] == "grey"


@pytest.mark.parametrize("channel", ["lw_in", "lw_out"])
def test_the_correction_is_judged_by_both_longwave_heads_and_the_thermometer(channel):
    assert set_lamps._correction(record()) == ("longwave correction", "green", "As declared: net.")
    assert set_lamps._correction(record(**{channel: np.nan}))[1] == "grey"
    assert set_lamps._correction(record(body_temperature=np.nan))[1] == "grey"


def test_the_window_is_that_of_the_upper_longwave_head():
    assert set_lamps._window(record(lw_out=np.nan))[1] == "green"
    assert set_lamps._window(record(lw_in=np.nan))[1] == "grey"


def test_signs_are_judged_by_sun_or_by_longwave():
    assert "Signs and places" in set_lamps._signs(record())[2]
    assert "no sun" in set_lamps._signs(record(solar_elevation=3.0))[2]
    assert "no sun" in set_lamps._signs(record(sw_in=5.0, sw_out=1.0))[2]
    assert set_lamps._signs(record(solar_elevation=3.0, lw_in=np.nan))[1] == "grey"


def test_the_body_s_range_is_said():
    frame = record(body_temperature=np.linspace(18.0, 24.0, 200))
    assert set_lamps._body(frame) == [("body temperature", "green", "18.0 to 24.0 °C, steady enough.")]
    assert set_lamps._body(record(body_temperature=np.nan)) == []


def test_the_supply_s_ends_are_said():
    own = record()
    assert set_lamps._supply(own)[1] == "grey"
    own.raw["battery"] = np.linspace(12.6, 12.1, 200)
    assert set_lamps._supply(own)[2] == "12.60 V at most, 12.10 V at least."


def test_ranges_are_those_of_the_channels_that_have_values():
    text = set_lamps._ranges(record(sw_in=np.linspace(500.0, 700.0, 200), lw_out=np.nan))[2]
    assert "shortwave in 500 to 700" in text and "longwave out" not in text
    nothing = record(sw_in=np.nan, sw_out=np.nan, lw_in=np.nan, lw_out=np.nan)
    assert set_lamps._ranges(nothing)[1] == "grey"


def test_what_is_found_replaces_what_is_said_where_nothing_is_found():
    quiet = [Lamp("a", "covers", "green", "fine"), Lamp("a", "supply", "amber", "unsure")]
    lit = [Lamp("a", "covers", "red", "found"), Lamp("a", "supply", "red", "low")]
    lamps = set_lamps.together(quiet, lit)
    assert [lamp.what for lamp in lamps] == ["found", "unsure", "low"]


SITE = {"latitude": 47.0, "longitude": 8.0, "elevation": 400.0}


def course(clouds=False, start="2026-05-21T07:00:00Z", count=720):
    """SW_in of a clear morning by the simulator's own sky, a sample every 10 s, or half of it every other
    5 min; SW_out and the rest stand still."""
    own = record(count, sw_out=120.0)
    times = pd.Series(pd.date_range(start, periods=count, freq="10s"))
    seconds = (times - pd.Timestamp(0, tz="UTC")).dt.total_seconds().to_numpy()
    up, _, distance = skies.sun(seconds, SITE["latitude"], SITE["longitude"])
    beam, diffuse = skies.clear_sky(up, distance, SITE["elevation"], 0.75)
    sun = beam * np.sin(up) + diffuse
    covered = (np.arange(count) // 30 % 2 == 1) & clouds
    own.samples["sw_in"] = np.where(covered, 0.5, 1.0) * sun
    return dataclasses.replace(own, middles=times, entry={"layout": {"interval": 10.0}, "longwave": "net"})


def test_the_clock_is_judged_by_the_course_of_the_upper_shortwave_head():
    subject, state, what = set_lamps._clock(course(), SITE)
    assert (subject, state) == ("clock and sun", "green") and "fits" in what
    clouds = set_lamps._clock(course(clouds=True), SITE)
    assert clouds[1] == "grey" and "Clouds" in clouds[2] and "clock_check" in clouds[3]
    short = set_lamps._clock(course(count=150), SITE)
    assert short[1] == "grey" and "half an hour" in short[2]


def test_what_is_stored_is_counted_by_samples_runs_and_minutes():
    own = course(count=90)
    assert set_lamps._stored(own) == ("stored", "green", "90 samples in 1 run: 15 min in all.")
    later = own.middles + pd.to_timedelta(np.where(np.arange(90) < 60, 0, 600), unit="s")
    parts = dataclasses.replace(own, middles=later)
    assert set_lamps._stored(parts)[2] == "90 samples in 2 runs: 15 min in all."


def test_what_a_set_lacks_is_said():
    assert set_lamps._missing(record()) == []
    ((subject, state, what, remedy),) = set_lamps._missing(record(sw_out=np.nan, lw_in=np.nan))
    assert (subject, state) == ("factors", "amber") and "instruments.csv" in remedy
    assert what == "No certificate or no value for shortwave out, longwave in: not judged."
    ((subject, state, _, remedy),) = set_lamps._missing(record(body_temperature=np.nan))
    assert (subject, state) == ("body temperature", "red") and "plug" in remedy


@pytest.mark.parametrize("lit, enough", [(9, False), (10, True)])
def test_ten_lit_samples_are_enough_to_judge_shortwave(lit, enough):
    """Either head may be the lit one, and one upside down is lit as well."""
    light = np.where(np.arange(200) < lit, 600.0, 1.0)
    dark = {"sw_in": 1.0, "sw_out": 1.0}
    for channel, sign in (("sw_in", 1.0), ("sw_out", 1.0), ("sw_in", -1.0)):
        assert record(**dark | {channel: sign * light}).has_sun == enough
    known = np.where(np.arange(200) < lit, 330.0, np.nan)
    assert record(lw_in=known).has_longwave == record(lw_out=known).has_longwave == enough


def test_a_set_that_stored_nothing_has_one_lamp_and_another_one_each_subject_once():
    (lamp,) = set_lamps.of_set("heron", record(0), SITE)
    assert (lamp.set, lamp.subject, lamp.state) == (
        "heron",
        "stored",
        "red",
    ) and "storage switch" in lamp.remedy
    lamps = set_lamps.of_set("heron", course(), SITE)
    assert [lamp.subject for lamp in lamps] == [
        "stored", "ranges", "covers", "signs and places", "channels alive", "longwave correction",
        "body temperature", "upper window", "supply", "clock and sun",
    ]  # fmt: skip
    assert {lamp.set for lamp in lamps} == {"heron"}


# Two sets ---------------------------------------------------------------------------------------------------


def stored(minutes=20, since=0, **changes):
    seconds = 60.0 * since + np.arange(60.0 * minutes)
    frame = {"seconds": seconds, "sw_in": 600.0, "sw_clear": 700.0, "solar_elevation": 45.0, "lw_in": 330.0}
    return pd.DataFrame(frame).assign(**changes)


def of_two(a=None, b=None, lit=()):
    samples = {"a": stored() if a is None else a, "b": stored() if b is None else b}
    return {lamp.subject: lamp for lamp in common_lamps.between_sets(samples, lit)}


def test_two_sets_without_a_common_minute():
    lamps = of_two(b=stored(since=30))
    assert list(lamps) == ["clocks"] and lamps["clocks"].state == "amber"


def test_incoming_terms_agree_where_both_have_longwave_for_long_enough():
    subject = "incoming terms of both"
    assert of_two()[subject].state == "green"
    assert of_two(b=stored(lw_in=np.nan))[subject].state == "grey"
    assert of_two(a=stored(lw_in=np.nan))[subject].state == "grey"
    assert of_two(a=stored().drop(columns=[]).assign(lw_out=np.nan))[subject].state == "green"
    assert of_two(a=stored(1), b=stored(1))[subject].state == (
        "green" if common_lamps.SHORTEST_COMMON <= 60.0 else "grey"
    )


def test_sets_with_a_finding_are_not_compared():
    lit = [Lamp("b", "signs and places", "red", "reversed")]
    assert list(of_two(lit=lit)) == ["clocks and incoming terms"]
    other = [Lamp("c", "signs and places", "red", "reversed")]
    assert "incoming terms of both" in of_two(lit=other)
    apart = [Lamp("a", "sets together", "amber", "differ", code="sets-disagree")]
    assert "incoming terms of both" not in of_two(lit=apart)


def clouds(shift=0.0):
    """An hour under clouds at irregular times, a sample every 5 s, so many s late."""
    edges = np.sort(np.random.default_rng(5).uniform(0.0, 3600.0, 24))
    covered = np.searchsorted(edges, 5.0 * np.arange(720.0)) % 2 == 1
    seconds = 5.0 * np.arange(720.0) + shift
    return stored(12).assign(seconds=seconds, sw_in=np.where(covered, 200.0, 650.0))


@pytest.mark.parametrize("shift, words", [(120.0, "120 s after a"), (-120.0, "120 s before a")])
def test_clouds_that_reach_a_set_late_put_a_clock_in_doubt(shift, words):
    lamp = common_lamps._clocks("a", "b", {"a": clouds(), "b": clouds(shift)})
    assert (lamp.set, lamp.subject, lamp.state) == ("a, b", "clocks", "amber")
    assert f"Clouds reach b {words}" in lamp.what and lamp.remedy == common_lamps.READ_BOTH


def test_clouds_that_reach_both_sets_at_once_show_that_the_clocks_agree():
    lamp = common_lamps._clocks("a", "b", {"a": clouds(), "b": clouds()})
    assert lamp.state == "green" and lamp.what == "Clouds reach both within 0 s."
    still = common_lamps._clocks("a", "b", {"a": stored(), "b": stored()})
    assert still.state == "grey" and "do not show" in still.what and still.remedy == common_lamps.READ_BOTH


NOTED = pd.DataFrame({"activity": ["walk", "clock_check", "walk", "walk"], "set": ["a", "a", "b", "a"]})


def test_notes_are_counted_and_the_sets_without_a_clock_check_named():
    notes, check = common_lamps.of_notes("notes.csv", NOTED, ["a", "b"], [])
    assert (notes.state, notes.what) == ("green", "All 3 noted intervals have samples.")
    assert (check.set, check.subject, check.state) == ("b", "clock check", "amber")
    for code in ("note-without-data", "notes-shifted"):
        lit = [Lamp("a", "notes", "red", "!", code=code)]
        assert [lamp.set for lamp in common_lamps.of_notes("notes.csv", NOTED, ["a", "b"], lit)] == ["b"]
    assert common_lamps.of_notes("notes.csv", NOTED.iloc[:0], ["a", "b"], []) == []
    (checks_alone,) = common_lamps.of_notes("notes.csv", NOTED[1:2], ["a", "b"], [])
    assert checks_alone.set == "b"
    (nothing,) = common_lamps.of_notes("", NOTED, ["a", "b"], [])
    assert (nothing.subject, nothing.state) == ("notes", "grey") and "look again" in nothing.remedy
