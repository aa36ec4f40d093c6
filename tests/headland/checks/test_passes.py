"""A pass noted in another field, and two sets exchanged for one visit, are named; sound notes are not."""

import numpy as np
import pandas as pd
import pytest

from headland.base.findings import Finding
from headland.checks.passes import labels_doubted
from headland.checks.sets import sets_off

GROUND = {"Meadow": (0.22, 24.0), "Yard": (0.14, 33.0), "Tilth": (0.28, 30.0)}
"""Albedo and surface temperature, degC."""


def survey(rounds=2, sets=("heron", "plover"), seed=1):
    """Two sets that begin at different fields and go round them, 20 minutes each."""
    rng, rows = np.random.default_rng(seed), []
    for lap in range(rounds):
        for place in range(3):
            for k, name in enumerate(sets):
                field = list(GROUND)[(place + k) % 3]
                start = pd.Timestamp("2026-05-21T09:00Z") + pd.Timedelta(minutes=20 * (3 * lap + place))
                albedo, warmth = GROUND[field]
                rows.append(
                    {
                        "set": name,
                        "field": field,
                        "truly": field,
                        "surface": "stubble",
                        "activity": "walk",
                        "weight": 100.0,
                        "solar_elevation": 50.0,
                        "thermal_shock": 0.0,
                        "sw_in": 700.0,
                        "sw_out": 700.0 * albedo,
                        "ground_sw_out": 14.0 * albedo,
                        "albedo": albedo * np.exp(0.03 * rng.standard_normal()),
                        "surface_temperature": warmth + lap + 0.7 * rng.standard_normal(),
                        "start_utc": start,
                        "end_utc": start + pd.Timedelta(minutes=4),
                        "segment": f"{name}-{lap}-{place}",
                        "notes_row": len(rows) + 2,
                    }
                )
    return pd.DataFrame(rows)


def said(frame):
    return [(f.code, f.variant) for f in labels_doubted(frame, "notes.csv")]


@pytest.mark.parametrize("seed", range(20))
def test_sound_notes_are_silent(seed):
    assert said(survey(seed=seed)) == [] and said(survey(1, seed=seed)) == []


@pytest.mark.parametrize("seed", range(5))
def test_a_pass_noted_in_another_field_is_named_with_that_field(seed):
    frame = survey(seed=seed)
    frame.loc[4, "field"] = "Yard"
    (found,) = labels_doubted(frame, "notes.csv")
    assert (found.code, found.variant, found.line) == ("field-inconsistent", "pass", 6)
    assert found.facts["other"] == frame.loc[4, "truly"] and found.facts["segment"] == "heron-0-2"


@pytest.mark.parametrize("share, expected", [(0.9, 1), (0.85, 0), (1.2, 0)])
def test_an_albedo_in_other_light_than_the_other_set_has_names_no_field(share, expected):
    """A shadow on an upper head raises the albedo; ground that is elsewhere does not dim the sky."""
    frame = survey()
    frame["surface_temperature"] = 28.0
    frame.loc[4, "field"] = "Yard"
    frame.loc[4, "sw_in"] = 700.0 * share
    assert said(frame) == [("field-inconsistent", "pass" if expected else "pass-light")]
    assert said(frame[frame["set"] == "heron"]) == [("field-inconsistent", "pass")]


def test_the_temperature_of_a_set_out_of_a_warm_car_names_no_field():
    frame = survey()
    frame["albedo"] = 0.2
    frame["surface_temperature"] += frame["truly"].map({"Meadow": -6.0, "Yard": 12.0, "Tilth": 0.0})
    frame.loc[4, "field"] = "Yard"
    assert said(frame) == [("field-inconsistent", "pass")]
    frame.loc[4, "thermal_shock"] = 0.2
    assert said(frame) == []


def test_a_temperature_names_a_field_in_any_light():
    frame = survey()
    frame["surface_temperature"] += frame["truly"].map({"Meadow": -6.0, "Yard": 6.0, "Tilth": 0.0})
    frame.loc[4, ["field", "sw_in"]] = ["Yard", 400.0]
    assert said(frame) == [("field-inconsistent", "pass")]


@pytest.mark.parametrize("seed", range(5))
def test_sets_exchanged_for_one_visit_are_named(seed):
    frame = survey(3, seed=seed)
    frame.loc[[2, 3], "field"] = frame.loc[[3, 2], "field"].to_numpy()
    (found,) = labels_doubted(frame, "notes.csv")
    assert (found.code, found.variant) == ("notes-sets-swapped", "part")
    assert set(found.facts["segments"].split(", ")) == {"heron-0-1", "plover-0-1"}


def test_what_two_rounds_can_t_show_is_said():
    """Each field has two visits: one pair is exchanged, but which can't be seen."""
    frame = survey(2)[lambda rows: rows["field"] != "Tilth"]
    pair = frame[(frame["set"] == "heron") & (frame["field"] == "Meadow")].index[0]
    other = frame[(frame["set"] == "plover") & (frame["field"] == "Yard")].index[0]
    frame.loc[[pair, other], "field"] = ["Yard", "Meadow"]
    assert [code for code, _ in said(frame)] in (["notes-sets-swapped"], ["notes-sets-swapped"] * 2)


def test_without_a_second_pass_nothing_can_be_compared():
    told = []
    assert labels_doubted(survey(1, ("heron",)), "notes.csv", told.append) == []
    assert [(u.code, u.reason) for u in told] == [("field-inconsistent", "single-passes")]


@pytest.mark.parametrize("times", [2.0, 0.5])
def test_a_set_with_another_scale_of_shortwave_is_not_exchanged_with_the_other(times):
    """Its albedo is as far off on every field: over fields that are alike, each set's passes fit each other
    better than those of one field. The temperatures still show what is exchanged."""

    def off(frame):
        return frame.assign(albedo=frame["albedo"] / np.where(frame["set"] == "heron", times, 1.0))

    for seed in range(5):
        frame = survey(1, seed=seed)
        own = [GROUND[name] for name in frame["field"]]
        alike = frame.assign(
            albedo=0.2 * frame["albedo"] / [albedo for albedo, _ in own],
            surface_temperature=28.0 + frame["surface_temperature"] - [warmth for _, warmth in own],
        )
        assert said(alike) == []
        assert said(off(alike)) == []
        assert labels_doubted(off(alike), "notes.csv", off={"sw_in": {"heron", "plover"}}) == []
    frame = off(survey(3))
    frame["surface_temperature"] += frame["field"].map({"Meadow": -6.0, "Yard": 6.0, "Tilth": 0.0})
    frame.loc[[0, 1], "field"] = frame.loc[[1, 0], "field"].to_numpy()
    (found,) = labels_doubted(frame, "notes.csv", off={"sw_in": {"heron", "plover"}})
    assert found.code == "notes-sets-swapped" and "heron-0-0" in found.facts["segments"]


@pytest.mark.parametrize(
    "found, odd",
    [
        (("sets-disagree", "", "heron", "plover"), {"heron", "plover"}),
        (("sets-disagree", "several", "heron", "plover, teal"), {"heron"}),
        (("station-disagrees", "", "heron", ""), {"heron"}),
        (("station-disagrees", "all-sets", "", ""), set()),
        (("head-tilted", "", "heron", ""), set()),
    ],
)
@pytest.mark.parametrize("channel, other", [("sw_in", "lw_in"), ("lw_in", "sw_in")])
def test_which_sets_may_be_off(found, odd, channel, other):
    finding = Finding(*found[:3], channel=channel, facts={"others": found[3]})
    assert sets_off([finding]) == {channel: odd, other: set()}


def test_temperatures_of_a_set_that_is_off_in_longwave_are_not_compared():
    frame = of_temperatures(1.1)
    assert labels_doubted(frame, "notes.csv", off={"sw_in": {"heron"}}) != []
    assert labels_doubted(frame, "notes.csv", off={"lw_in": {"heron"}}) == []


def of_temperatures(scale, sets=("heron", "heron", "plover", "plover")):
    """Two visits to each of two fields, half an hour apart, with temperatures alone. The squared distance of
    two passes is their difference squared over 6.75 (1.5 K each, and 3 K an hour): 20 within each field and 6
    within each once two are exchanged, times scale squared."""
    inside, across = np.sqrt(20.0 * 6.75), np.sqrt(6.0 * 6.75)
    frame = survey(1)[:4].assign(
        set=list(sets),
        field=["Meadow", "Meadow", "Yard", "Yard"],
        surface_temperature=scale * np.array([inside, 0.0, across, across + inside]) + 20.0,
        solar_elevation=10.0,
    )
    start = frame["start_utc"].iloc[0] + pd.to_timedelta([0, 30, 0, 30], unit="min")
    return frame.assign(start_utc=start, end_utc=start + pd.Timedelta(minutes=4))


@pytest.mark.parametrize("seed", range(5))
def test_a_set_whose_temperatures_are_off_is_not_exchanged_with_the_other(seed):
    """As by a factor of its lower longwave head: its own passes over each field fit each other."""
    frame = survey(2, seed=seed)
    off = np.where(frame["set"] == "heron", 5.0 + 0.4 * (frame["surface_temperature"] - 24.0), 0.0)
    frame["surface_temperature"] += off
    assert said(frame) == []


@pytest.mark.parametrize("warmer, named", [(6.3, False), (6.6, True)])
def test_a_pass_must_not_fit_its_own_set_s_other_passes(warmer, named):
    """6.43 K squared over 4.5 is 9.2. The other set's passes are 8 K colder: as cold as a set that is off."""
    values = [("heron", "Meadow", warmer), ("heron", "Meadow", 0.0), ("heron", "Yard", warmer)]
    values += [("plover", "Meadow", -8.0)] * 3 + [("plover", "Yard", warmer)]
    sets, fields, warmth = zip(*values, strict=True)
    frame = survey(2)[: len(values)].assign(
        set=sets, field=fields, surface_temperature=np.array(warmth) + 20.0, solar_elevation=10.0
    )
    start = frame["start_utc"].iloc[0]
    frame = frame.assign(start_utc=start, end_utc=start + pd.Timedelta(minutes=4))
    assert said(frame) == [("field-inconsistent", "pass")] * named


def test_what_a_set_and_a_visit_explain_alike_is_not_named():
    """Each set has one pass over each field: a set that is off everywhere makes the same four values."""
    assert said(of_temperatures(1.1)) == [("notes-sets-swapped", "part-either")]
    assert said(of_temperatures(1.1, ("heron", "plover", "plover", "heron"))) == []


@pytest.mark.parametrize("gain, named", [(29.0, False), (31.0, True), (36.0, True)])
def test_an_exchange_must_make_the_fields_fit_better_by_30(gain, named):
    """From 40 to 12 it gains 28."""
    codes = [code for code, _ in said(of_temperatures(np.sqrt(gain / 28.0)))]
    assert codes == (["notes-sets-swapped"] if named else [])


def test_after_an_exchange_the_fields_must_fit():
    """No more than 4 for each of four passes: 1.3 times 12 is 15.6, 3 times 12 is 36."""
    for times, named in ((1.3, True), (3.0, False)):
        codes = {code for code, _ in said(of_temperatures(np.sqrt(times)))}
        assert ("notes-sets-swapped" in codes) == named


@pytest.mark.parametrize(
    "within, usual, variant",
    [(0.25, 0.02, "pass-part"), (0.12, 0.02, "pass"), (0.25, 0.13, "pass"), (0.25, 0.12, "pass-part")],
)
def test_a_pass_that_goes_over_an_edge_names_no_field(within, usual, variant):
    """ln 0.28 / 0.14 is 0.69, a third of it 0.23; twice the usual scatter or more."""
    frame = survey(3)
    frame["ground_sw_out"] = usual * frame["sw_out"]
    noted = (frame["field"] == "Tilth") & (frame["set"] == "heron")
    which = frame.index[noted][0]
    frame.loc[which, ["field", "ground_sw_out"]] = ["Yard", within * frame.loc[which, "sw_out"]]
    assert said(frame) == [("field-inconsistent", variant)]


def test_an_exchange_lasts_from_the_first_start_to_the_last_end_of_both_visits():
    frame = survey(3)
    swap = frame["set"].isin(["heron", "plover"]) & frame["segment"].str.endswith("1-1")
    frame.loc[swap, "field"] = frame.loc[swap, "field"].to_numpy()[::-1]
    frame.loc[swap, "end_utc"] += pd.to_timedelta([0, 3], unit="min")
    (found,) = labels_doubted(frame, "notes.csv")
    assert found.code == "notes-sets-swapped"
    own = frame[swap]
    assert pd.Timestamp(found.start_utc) == own["start_utc"].min()
    assert pd.Timestamp(found.end_utc) == own["end_utc"].max()
