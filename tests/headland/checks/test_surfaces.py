"""Albedo and surface temperature of fields against their classes: just inside, just outside, unknown."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.checks.surfaces import Means, surface_mislabelled

CLASSES = {
    "meadow": {"albedo": {"low": 0.15, "high": 0.25}, "surface_minus_air": {"low": -2.0, "high": 10.0}},
    "road": {"albedo": {"low": 0.05, "high": 0.12}, "surface_minus_air": {"low": 5.0, "high": 30.0}},
    "unlisted": {"albedo": {"low": "", "high": ""}},
}


def minutes(*after):
    return [pd.Timestamp("2025-06-16 10:00", tz="UTC") + pd.Timedelta(minutes=one) for one in after]


def found(surface="meadow", *, elevation=45.0, told=None, fields=None, segments=None, air=20.0, off=None):
    """Half widths of 0.0196 and 1.96 K: 3.6 standard uncertainties are 0.036 and 3.6 K, and the air is unsure
    by 2 K."""
    values = {"albedo": 0.2, "surface_temperature": 24.0} | (fields or {})
    row = {"field": "Yard", "surface": surface}
    for name, half in (("albedo", 0.0196), ("surface_temperature", 1.96)):
        row |= {name: values[name], f"{name}_low": values[name] - half, f"{name}_high": values[name] + half}
    row |= {key: value for key, value in values.items() if key.endswith(("_low", "_high"))}
    own = {
        "field": ["Yard", "Yard", "Lane"], "surface": [surface, surface, "road"], "activity": "walk",
        "set": ["heron", "plover", "teal"], "samples_used": [60, 60, 60],
        "solar_elevation": [elevation, 50.0, 5.0], "notes_row": [7, 4, 2],
        "start_utc": minutes(0, 10, 30), "end_utc": minutes(5, 15, 35),
    }  # fmt: skip
    for name in ("albedo", "surface_temperature"):
        own |= {name: values[name], f"{name}_low": values[name] - 0.1, f"{name}_high": values[name] + 0.1}
    frame = pd.DataFrame(own | (segments or {}))
    means = Means(frame, pd.DataFrame([row]), np.array([air, air, 50.0]), "notes.csv")
    return surface_mislabelled(means, CLASSES, (told if told is not None else []).append, off=off)


@pytest.mark.parametrize(
    "albedo, named", [(0.2, False), (0.115, False), (0.113, True), (0.285, False), (0.287, True)]
)
def test_an_albedo_may_be_3_6_standard_uncertainties_beyond_its_class(albedo, named):
    findings = found(fields={"albedo": albedo})
    assert [one.variant for one in findings] == ["albedo"] * named


@pytest.mark.parametrize(
    "warmer, named", [(0.0, False), (-7.5, False), (-7.7, True), (15.5, False), (15.7, True)]
)
def test_a_temperature_may_be_that_far_and_2_k_more(warmer, named):
    findings = found(fields={"surface_temperature": 20.0 + warmer})
    assert [one.variant for one in findings] == ["temperature"] * named


def test_the_finding_gives_line_value_range_and_the_classes_that_fit():
    (one,) = found(fields={"albedo": 0.08, "surface_temperature": 35.0})
    assert (one.code, one.file, one.line) == ("surface-mislabelled", "notes.csv", 4)
    facts = {"field": "Yard", "surface": "meadow", "value": "0.08", "low": "0.15", "high": "0.25"}
    assert one.facts == facts | {"width": "0.04", "fits": "road, unlisted"}
    (one,) = found(fields={"albedo": 0.2, "surface_temperature": 60.0})
    assert (one.facts["value"], one.facts["width"], one.facts["fits"]) == ("40.0", "5.6", "unlisted")


def test_what_is_unknown_is_not_outside():
    assert found(surface="unlisted", fields={"albedo": 0.9}) == []
    assert found(fields={"surface_temperature": math.nan}) == []
    assert found(air=math.nan) == []


def test_without_an_interval_of_its_own_a_field_has_the_widest_of_its_segments():
    unknown = {"albedo_low": math.nan, "albedo_high": math.nan}
    # the segments' intervals reach 0.1 either way: 3.6 standard uncertainties are 0.184
    assert found(fields=unknown | {"albedo": 0.43}) == []
    assert len(found(fields=unknown | {"albedo": 0.44})) == 1


@pytest.mark.parametrize("elevation, told", [(20.1, 0), (20.0, 1), (12.0, 1)])
def test_under_a_low_sun_the_ranges_do_not_hold(elevation, told):
    said = []
    findings = found(elevation=elevation, told=said, fields={"albedo": 0.6})
    assert (len(findings), [one.reason for one in said]) == (1 - told, ["sun-under-20"] * told)


@pytest.mark.parametrize(
    "term, fields", [("sw_in", {"albedo": 0.9}), ("lw_in", {"surface_temperature": 60.0})]
)
@pytest.mark.parametrize("name, named", [("plover", 0), ("teal", 1)])
def test_a_set_that_may_be_off_itself_calls_no_ground_mislabelled(term, fields, name, named):
    """Longwave says nothing of an albedo, and a set that was not in the field nothing of the field."""
    said = []
    assert len(found(fields=fields, off={term: {name}}, told=said)) == named
    assert [one.reason for one in said] == ["set-off"] * (1 - named)
    other = {"sw_in": "lw_in", "lw_in": "sw_in"}[term]
    assert len(found(fields=fields, off={other: {name}})) == 1


def test_a_field_without_a_counted_segment_says_nothing():
    assert found(fields={"albedo": 0.6}, segments={"activity": "side_by_side"}) == []
    assert found(fields={"albedo": 0.6}, segments={"samples_used": 0}) == []


def test_an_interval_without_an_end_is_unknown():
    """A field without an interval over segments without one: nothing is said."""
    unknown = {f"albedo_{end}": math.nan for end in ("low", "high")}
    assert found(fields=unknown | {"albedo": 0.9}, segments=unknown) == []


def beside(starts, *, there=0.2, yard=0.08):
    """Variants for a meadow as dark as a road, walked for ten minutes from 0 and 20 on, and a road as bright
    as a meadow, walked by another set from these minutes on."""
    rows = [("Yard", "meadow", "heron", yard, at) for at in (0, 20)]
    rows += [("Lane", "road", "teal", there, at) for at in starts]
    frame = pd.DataFrame(rows, columns=["field", "surface", "set", "albedo", "at"])
    frame = frame.assign(
        start_utc=minutes(*frame["at"]), end_utc=minutes(*frame["at"] + 10), activity="walk",
        samples_used=60, solar_elevation=45.0, notes_row=2, surface_temperature=26.0,
    )  # fmt: skip
    for name, half in (("albedo", 0.005), ("surface_temperature", 0.5)):
        frame = frame.assign(**{f"{name}_low": frame[name] - half, f"{name}_high": frame[name] + half})
    fields = frame.drop_duplicates(["field", "surface"])
    return [
        (one.facts["field"], one.variant)
        for one in surface_mislabelled(Means(frame, fields, np.full(len(frame), 20.0), "notes.csv"), CLASSES)
    ]


def test_two_sets_exchanged_in_the_notes_make_ground_fit_each_other_s_class():
    either = [("Yard", "albedo-either"), ("Lane", "albedo-either")]
    assert beside((0, 20)) == either and beside((4, 24)) == either
    assert beside((6, 26)) == [("Yard", "albedo"), ("Lane", "albedo")]
    assert beside((60, 80)) == [("Yard", "albedo"), ("Lane", "albedo")]


def test_where_an_exchange_does_not_mend_both_fields_the_label_is_wrong():
    assert beside((0, 20), there=0.09) == [("Yard", "albedo")]
    assert beside((0, 20), yard=0.4, there=0.2) == [("Yard", "albedo"), ("Lane", "albedo")]


BRIGHT = {"meadow": 0.4, "meadow two": 0.4, "road": 0.3}


@pytest.mark.parametrize(
    "albedos, variant",
    [
        (BRIGHT | {"meadow three": 0.2, "road two": 0.1}, "albedo-common"),  # three of five, all too bright
        (BRIGHT | {"meadow three": 0.2, "road two": 0.1, "road three": 0.1}, "albedo"),  # half of them
        (BRIGHT | {"road": 0.1, "meadow three": 0.4}, "albedo"),  # of one class
        (BRIGHT | {"road": 0.01}, "albedo"),  # one of three too dark
        ({"meadow": 0.4, "road": 0.3}, "albedo"),  # two
    ],
)
def test_where_most_fields_are_off_to_one_side_the_instruments_may_be_wrong(albedos, variant):
    names = ("albedo", "surface_temperature")
    none = dict.fromkeys([f"{name}{end}" for name in names for end in ("", "_low", "_high")], math.nan)
    walk = {"activity": "walk", "set": "heron", "samples_used": 60, "solar_elevation": 45.0, "notes_row": 2}
    walk |= dict(zip(("start_utc", "end_utc"), minutes(0, 5), strict=True))
    rows = [
        none
        | {"field": name, "surface": name.split()[0]}
        | {"albedo": albedo, "albedo_low": albedo - 0.0196, "albedo_high": albedo + 0.0196}
        for name, albedo in albedos.items()
    ]
    own = pd.DataFrame([row | walk for row in rows])
    said = surface_mislabelled(Means(own, pd.DataFrame(rows), np.full(len(own), 20.0), "notes.csv"), CLASSES)
    assert {one.variant for one in said} == {variant}


@pytest.mark.parametrize("other, named", [(0.055, True), (0.06, False), (0.026, False), (0.028, True)])
def test_where_two_sets_give_one_field_unlike_albedos_the_label_may_be_right(other, named):
    """A meadow of 0.04: 0.06 is 1.5 times as much."""
    told = []
    albedos = [0.04 - 1e-6 if other > 0.04 else 0.04 + 1e-6, other, 0.2]
    said = found(fields={"albedo": 0.04}, segments={"albedo": albedos}, told=told)
    assert [one.variant for one in said] == ["albedo"] * named
    assert ([(one.code, one.reason) for one in told] == [("surface-mislabelled", "set-off")]) != named
