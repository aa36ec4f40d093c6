"""Shadows on an upper head, against another set under the same clear sky; steps and stretches of time."""

import numpy as np
import pandas as pd
import pytest

from headland.base.findings import sentences
from headland.checks import shade, sky_records

COUNT = 1800
NO_TURNS = {"turns": dict.fromkeys("ab", np.zeros((0, 2)))}


def sky(sw_in, elevation=45.0):
    return pd.DataFrame({"sw_in": sw_in, "sw_clear": 750.0, "solar_elevation": elevation}, index=range(COUNT))


def flagged(drop=0.5, seconds=20, both=False, told=None, *, elevation=45.0, turns=(), **frozen):
    """Set a under a shadow from second 900 on; set b beside it in the sun."""
    light = np.full(COUNT, 740.0)
    shaded = light.copy()
    shaded[900 : 900 + seconds] *= 1.0 - drop
    skies = {"a": sky(shaded, elevation), "b": sky(shaded if both else light, elevation)}
    flags = {name: pd.Series([frozen.get(name, "")] * COUNT) for name in skies}
    moments = {name: 1.75e9 + np.arange(float(COUNT)) for name in skies}
    said = told if told is not None else []
    around = 1.75e9 + np.array(turns, float)[:, None] + [-30.0, 30.0]
    noted = {"turns": NO_TURNS["turns"] | {"a": around}}
    return shade.upward_shaded(
        skies.get, flags, moments, dict.fromkeys(skies, 1.0), tell=said.append, **noted
    )


def beside(light, told=None):
    """Set a in this light beside set b in the sun; no heading changes."""
    skies = {"a": sky(light), "b": sky(np.full(COUNT, 740.0))}
    flags = {name: pd.Series([""] * COUNT) for name in skies}
    moments = {name: 1.75e9 + np.arange(float(COUNT)) for name in skies}
    tell = (told if told is not None else []).append
    return shade.upward_shaded(skies.get, flags, moments, dict.fromkeys(skies, 1.0), tell, **NO_TURNS)


def test_a_shadow_is_flagged_where_it_falls_and_until_the_head_has_settled():
    found = flagged()
    assert not found["b"].any()
    hit = np.flatnonzero(found["a"])
    assert hit[0] in (898, 899, 900) and 932 <= hit[-1] <= 938 and len(hit) == hit[-1] - hit[0] + 1


@pytest.mark.parametrize("elevation, limit", [(45.0, 0.189), (20.0, 0.344)])
def test_a_drop_must_be_more_than_two_heads_off_level_can_explain(elevation, limit):
    """0.10 + 3.6 sqrt 2 tan 1 degree tan Z."""
    assert float(sky_records.shadow_limit(elevation)) == pytest.approx(limit, abs=5e-4)
    assert flagged(limit + 0.01, elevation=elevation)["a"].any()
    assert not flagged(limit - 0.01, elevation=elevation)["a"].any()


def test_a_drop_from_turn_to_turn_must_be_more_than_a_lean_explains():
    """A head that leans by 12 degrees gets 0.65 of the light on the way back, the sun 45 degrees high."""
    assert float(shade.lean_leaves(45.0, 12.0)) == pytest.approx(0.6494, abs=1e-4)
    lasting = {"seconds": 120, "turns": (880, 1045)}
    assert not flagged(0.34, **lasting)["a"].any()
    assert flagged(0.36, **lasting)["a"].any()
    assert flagged(0.34, seconds=120, turns=(880,))["a"].any()
    assert flagged(0.34, seconds=120, turns=(880, 1055))["a"].any()


@pytest.mark.parametrize(
    "minutes, heading, anywhere", [(5.1, 90.0, True), (4.9, 90.0, False), (2.0, np.nan, True)]
)
def test_in_a_long_note_and_in_one_without_a_heading_the_set_may_turn_at_any_time(minutes, heading, anywhere):
    start = pd.Timestamp("2026-05-21T10:00:00Z")
    end = start + pd.Timedelta(minutes=minutes)
    noted = pd.DataFrame({"set": "heron", "start_utc": [start], "end_utc": [end], "heading": [heading]})
    turns = shade.turns_of(noted, ["heron", "plover"])
    assert turns["plover"].shape == (0, 2)
    seconds = [start.timestamp(), end.timestamp()]
    expected = [[moment - 75.0, moment + 75.0] for moment in seconds]  # noted in whole minutes
    expected += [[seconds[0] - 75.0, seconds[1] + 75.0]] if anywhere else []
    assert turns["heron"].tolist() == expected


def test_a_head_that_gets_dark_under_its_cover_is_in_no_shadow_meanwhile():
    covered = np.full(COUNT, 740.0)
    covered[900:960] = 740.0 * np.maximum(1.0 - np.arange(60) / 15.0, 0.01)
    assert not beside(covered)["a"].any()


@pytest.mark.parametrize("usual, seen", [(1.38, True), (1.42, False), (0.72, True), (0.7, False)])
def test_a_set_that_usually_has_other_light_shows_no_shadow(usual, seen):
    other = np.full(COUNT, usual * 740.0)
    other[900:960] *= 0.4
    told = []
    found = beside(other, told)
    assert (
        found["a"].any() == seen and (("a", "no-clear-witness") in [(t.set, t.reason) for t in told]) != seen
    )


def test_short_drops_covers_and_clouds_are_no_shadow():
    assert not flagged(seconds=2)["a"].any()
    assert not flagged(drop=0.99)["a"].any()
    assert not flagged(both=True)["a"].any()


def test_sets_with_other_intervals_are_compared_in_steps_of_the_longer_one():
    """The witness stores a record every 5 s; a set that stores one every 20 s is too slow for one."""
    light, every = np.full(COUNT, 740.0), np.arange(0, COUNT, 5)
    shaded = light.copy()
    shaded[900:925] *= 0.5
    skies = {"a": sky(shaded), "b": sky(light).iloc[every].reset_index(drop=True)}
    moments = {"a": 1.75e9 + np.arange(float(COUNT)), "b": 1.75e9 + every.astype(float)}
    flags = {name: pd.Series([""] * len(frame)) for name, frame in skies.items()}
    for interval, seen in ((5.0, True), (20.0, False)):
        found = shade.upward_shaded(skies.get, flags, moments, {"a": 1.0, "b": interval}, **NO_TURNS)
        hit = np.flatnonzero(found["a"])
        assert (len(hit) > 0) == seen and not found["b"].any()
        assert not seen or (890 <= hit[0] <= 905 and 925 <= hit[-1] <= 950)


def test_a_frozen_set_is_no_witness_and_one_set_alone_can_not_tell():
    told = []
    assert not flagged(told=told, b="frozen")["a"].any()
    assert {(one.reason, one.set) for one in told} == {("no-clear-witness", "a"), ("no-clear-witness", "b")}
    told.clear()
    frame, moments = sky(np.full(COUNT, 740.0)), 1.75e9 + np.arange(float(COUNT))
    shade.upward_shaded(
        {"a": frame}.get,
        {"a": pd.Series([""] * COUNT)},
        {"a": moments},
        {"a": 1.0},
        tell=told.append,
        **NO_TURNS,
    )
    assert [(one.reason, one.set) for one in told] == [("one-set", "a")]


def test_one_finding_for_each_segment_in_the_shadow():
    moments = 1.75e9 + np.arange(100.0)
    shaded = np.zeros(100, bool)
    shaded[[10, 11, 12, 50, 51, 80]] = True
    labels = ["x"] * 40 + ["y"] * 30 + [""] * 30
    found = shade.shaded_findings("a", labels, shaded, moments)
    assert [(one.facts["segment"], one.facts["count"]) for one in found] == [("x", 3), ("y", 2)]
    start = pd.Timestamp(1.75e9 + 10.0, unit="s", tz="UTC")
    assert pd.Timestamp(found[0].start_utc) == start
    assert pd.Timestamp(found[0].end_utc) == start + pd.Timedelta(seconds=2)


def test_stretches_end_where_a_step_is_missing():
    seconds = np.array([5.0, 15.0, 25.0, 55.0, 65.0, 125.0])
    times = pd.DatetimeIndex(pd.to_datetime(seconds * 1e9, unit="ns", utc=True))
    assert list(sky_records.stretches_of(times, 10.0)) == [(0.0, 30.0), (50.0, 70.0), (120.0, 130.0)]
    assert list(sky_records.stretches_of(times[:0], 10.0)) == []


def test_means_over_steps_stand_at_the_middle_of_each_step():
    frame = pd.DataFrame({"x": np.arange(60.0)})
    steps = sky_records.binned(1.75e9 + np.arange(60.0), frame, 20.0)
    assert steps["x"].tolist() == [9.5, 29.5, 49.5]
    middles = pd.to_datetime((1.75e9 + np.array([10.0, 30.0, 50.0])) * 1e9, unit="ns", utc=True)
    assert list(steps.index) == list(middles)


def own_shade_of(away, back=0.2):
    """Losses said of four walks over one ground, two with the sun behind, by their albedos."""
    start = pd.date_range("2025-06-16 10:00", periods=4, freq="5min", tz="UTC")
    walks = pd.DataFrame(
        {
            "set": "a", "activity": "walk", "segment": ["1", "2", "3", "4"], "surface": "grass",
            "field": "Meadow", "transect": "", "heading": [0.0, 180.0, 0.0, 180.0],
            "solar_azimuth": 180.0, "solar_elevation": 45.0, "diffuse_fraction": 0.1,
            "albedo": [away, back, away, back], "weight": 60,
            "start_utc": start, "end_utc": start + pd.Timedelta(minutes=4),
        }
    )  # fmt: skip
    found = shade.own_shade(walks, lambda phi: np.where(np.abs(phi) > 90.0, 0.2, 0.0))
    return [(one.variant, one.facts["loss"], one.facts.get("measured")) for one in found]


@pytest.mark.parametrize("away, named", [(0.169, True), (0.171, False)])
def test_a_measured_own_shade_decides_over_a_computed_one(away, named):
    """Straight ahead a head would lose 18 %; one held towards the sun loses less."""
    assert own_shade_of(away) == [("", "18", "16")] * named  # 1 - 0.169 / 0.2 is 15.5 %


def test_where_no_own_shade_is_measured_the_computed_one_is_a_note():
    """A plate's shadow is the most that a carrier casts."""
    assert own_shade_of(np.nan) == [("unmeasured", "18", None)]
    assert sentences()["own-shade", "unmeasured"]["severity"] == "note"


# The carrier's shadow in the downward view ------------------------------------------------------------------


def passes(*rows):
    """Albedo, loss, surface, field and transect of walks of one set."""
    return pd.DataFrame(rows, columns=["albedo", "loss", "surface", "field", "transect"])


DARK, LIT = 0.25, 0.01


def test_what_the_shadow_took_is_measured_on_one_transect():
    """0.16 in the shadow, 0.20 in the light: 20 % lost. Other ground of the field is another transect."""
    same = [(0.16, DARK, "paving", "yard", "1")] * 2 + [(0.20, LIT, "paving", "yard", "1")] * 2
    assert shade._measured_loss(passes(*same)) == pytest.approx(0.2)
    other = [(0.40, LIT, "paving", "yard", "2")] * 2
    assert shade._measured_loss(passes(*same, *other)) == pytest.approx(0.2)
    for place in (("paving", "yard", "2"), ("paving", "court", "1"), ("gravel", "yard", "1")):
        apart = same[:2] + [(0.20, LIT, *place)] * 2
        assert np.isnan(shade._measured_loss(passes(*apart)))


def test_what_the_shadow_took_needs_two_passes_each_way_and_is_a_mean_of_logarithms():
    """Of two transects: 0.9 and 0.4 of the light are left, 0.6 in their middle."""
    one = [(0.18, DARK, "paving", "yard", "1")] * 2 + [(0.20, LIT, "paving", "yard", "1")] * 2
    assert np.isnan(shade._measured_loss(passes(*one[:3])))
    assert np.isnan(shade._measured_loss(passes(*one[1:])))
    other = [(0.08, DARK, "paving", "yard", "2")] * 2 + [(0.20, LIT, "paving", "yard", "2")] * 2
    assert shade._measured_loss(passes(*one, *other)) == pytest.approx(0.4)
    unknown = [(np.nan, DARK, "paving", "yard", "1"), (0.0, LIT, "paving", "yard", "1")]
    assert shade._measured_loss(passes(*one, *unknown)) == pytest.approx(0.1)
    spread = [(0.18, DARK, "paving", "yard", "1")] * 2 + [
        (albedo, LIT, "paving", "yard", "1") for albedo in (0.1, 0.1, 0.8)
    ]  # the mean logarithm of the light passes is that of 0.2
    assert shade._measured_loss(passes(*spread)) == pytest.approx(0.1)
    nowhere = [(a, loss, "paving", np.nan, np.nan) for a, loss, *_ in one]
    assert shade._measured_loss(passes(*nowhere)) == pytest.approx(0.1)
