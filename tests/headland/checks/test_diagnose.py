"""Sources held against each other: each mistake once, and sound campaigns silent. Rates over many seeds: `tests/study/detection.py`."""

import numpy as np
import pandas as pd
import pytest

from headland.base import findings
from headland.base.findings import Finding
from headland.checks import compare, diagnose
from simulate import mistakes_across as mistakes
from simulate import specs
from simulate.campaign import simulate
from study import sources as study
from study import trial

SITE = {"latitude": 46.0, "longitude": 15.0, "elevation": 300.0}


def codes(campaign, to="segment"):
    """Codes of errors and warnings, with repetitions."""
    return trial.alarms(trial.told(campaign, to))


# Formulas --------------------------------------------------------------------------------------------------------


def test_runs_bridge_a_lost_row_and_end_at_a_gap():
    moments = np.array([0.5, 1.5, 2.5, 4.5, 5.5, 20.5, 21.5])
    assert diagnose.runs(moments, 1.0).tolist() == [[0.0, 6.0], [20.0, 22.0]]
    assert diagnose.runs([], 1.0).shape == (0, 2)


def test_agreement_is_intersection_over_union():
    recorded, noted = np.array([[0.0, 100.0], [200.0, 300.0]]), np.array([[50.0, 150.0], [200.0, 300.0]])
    assert diagnose.shared(recorded, noted) == pytest.approx(150.0)
    assert diagnose.agreement([recorded], [noted]) == pytest.approx(150.0 / 250.0)
    assert diagnose.agreement([recorded], [recorded - 7.0], [0.0, 7.0]).tolist() == pytest.approx(
        [186 / 214, 1.0]
    )


def test_union_leaves_no_overlap():
    assert diagnose.union([[5, 9], [0, 3], [2, 6]]).tolist() == [[0, 9]]


IRREGULAR = np.array(
    [[0, 90], [130, 250], [700, 800], [900, 1100], [2000, 2070], [2500, 2700], [3300, 3390], [4000, 4200]],
    dtype=float,
)


@pytest.mark.parametrize("shift", [-46800.0, -3600.0, -200.0, 47.0, 3600.0, 86400.0, -172800.0])
def test_the_shift_is_found_to_the_second(shift):
    fit = diagnose.best_fit([IRREGULAR], [IRREGULAR - shift])
    assert (
        fit.decided
        and fit.shift == pytest.approx(shift, abs=1.0)
        and fit.best == pytest.approx(1.0, abs=0.01)
    )


def test_equal_walks_at_equal_times_are_undecided_until_a_clock_check_speaks():
    regular = np.array([[150.0 * k, 150.0 * k + 100.0] for k in range(20)])
    fit = diagnose.best_fit([regular], [regular - 3600.0])
    assert fit.improves and not fit.decided
    assert diagnose.best_fit([regular], [regular - 3600.0], checked=3610.0).decided


@pytest.mark.parametrize(
    "seconds, text, words",
    [
        (-3600.0, "-01:00:00", "1 h is taken from"),
        (86400.0, "24:00:00", "1 day is added to"),
        (75.0, "00:01:15", "1 min 15 s is added to"),
    ],
)
def test_a_shift_as_it_is_entered_and_said(seconds, text, words):
    assert diagnose.shift_text(seconds) == text and diagnose.shown(seconds) == words


@pytest.mark.parametrize(
    "found, entered", [(3563.0, 3600.0), (-5421.0, -5400.0), (300.0, 300.0), (86390.0, 86400.0), (20.4, 20.0)]
)
def test_zones_differ_by_half_hours(found, entered):
    assert diagnose.tidy(found) == entered


def test_shadow_limit_by_hand():
    """At 45 degrees: 0.10 + 3.6 sqrt 2 pi / 180 = 0.1889 (computed by hand)."""
    assert diagnose.shadow_limit(45.0) == pytest.approx(0.1889, abs=5e-5)


def test_scatter_of_a_constant_ratio_is_the_usual_one_alone():
    """Ten equal windows without scatter: 0.02 sqrt(5 / 14) t_14 / z_norm / sqrt 10 with t and z at 3.2e-4 two-sided (4.78 and 3.60)."""
    u = compare.sky_scatter("sw_in", np.zeros(10), np.ones(10), compare.FALSE_ALARM)
    assert u == pytest.approx(0.02 * np.sqrt(5 / 14) * 4.78 / 3.60 / np.sqrt(10), rel=0.02)


# What follows from what ------------------------------------------------------------------------------------------


def test_what_follows_is_folded_under_its_cause_and_counted():
    found = [
        ("segment", Finding("note-without-data", set="heron")),
        ("segment", Finding("notes-shifted", facts={"x": 1})),
        ("diagnose", Finding("surface-mislabelled")),
        ("segment", Finding("notes-overlap", set="heron")),
    ]
    folded = findings.folded(found)
    assert [f.code for _, f in folded] == ["notes-shifted", "notes-overlap"]
    assert folded[0][1].facts == {"x": 1, "follows": "note-without-data (1), surface-mislabelled (1)"}


def test_a_cause_of_one_set_leaves_the_other_s_findings():
    found = [
        ("segment", Finding("notes-shifted", "one-set", "heron")),
        ("segment", Finding("note-without-data", set="plover")),
    ]
    assert findings.folded(found) == found


def test_a_cause_that_follows_itself_takes_its_own_with_it():
    found = [
        ("segment", Finding("note-without-data", set="heron")),
        ("segment", Finding("notes-shifted", set="heron")),
        ("diagnose", Finding("clock-against-sun", "far", "heron")),
    ]
    folded = findings.folded(found)
    assert [f.code for _, f in folded] == ["clock-against-sun"] and folded[0][1].facts[
        "follows"
    ] == "note-without-data (1), notes-shifted (1)"


def test_what_a_cause_does_not_explain_stands():
    left = [["note-without-data", "heron", "2025-06-16T10:00:00Z"]]
    shifted = ("segment", Finding("notes-shifted", facts={"left": left}))
    stands = ("segment", Finding("note-without-data", set="heron", start_utc="2025-06-16T10:00:00Z"))
    follows = ("segment", Finding("note-without-data", set="heron", start_utc="2025-06-16T11:00:00Z"))
    folded = findings.folded([shifted, stands, follows])
    assert [f for _, f in folded][1:] == [stands[1]] and folded[0][1].facts[
        "follows"
    ] == "note-without-data (1)"


@pytest.mark.parametrize(
    "cause, channel, folds",
    [
        ("sw_in", "sw_in", True),
        ("sw_in", "lw_in", False),
        ("sw_out", "sw_in", False),
        ("body_temperature", "lw_in", True),
        ("", "lw_in", True),
    ],
)
def test_a_head_explains_what_its_own_channels_show(cause, channel, folds):
    found = [
        ("screen", Finding("sign-reversed", set="heron", channel=cause)),
        ("diagnose", Finding("sets-disagree", set="heron", channel=channel)),
    ]
    assert len(findings.folded(found)) == (1 if folds else 2)


@pytest.mark.parametrize(
    "variant, others, folds", [("", "heron", True), ("", "rail", False), ("several", "heron, rail", False)]
)
def test_either_of_two_sets_may_be_the_one_that_is_off(variant, others, folds):
    found = [
        ("screen", Finding("sign-reversed", set="heron", channel="sw_in")),
        ("diagnose", Finding("sets-disagree", variant, "teal", channel="sw_in", facts={"others": others})),
    ]
    assert len(findings.folded(found)) == (1 if folds else 2)


def test_a_cause_explains_its_own_time_only():
    cover = (
        "segment",
        Finding(
            "cover-left-on", set="heron", start_utc="2025-06-16T10:00:00Z", end_utc="2025-06-16T10:05:00Z"
        ),
    )
    shade = lambda start, end: (
        "segment",
        Finding("upward-shaded", set="heron", start_utc=start, end_utc=end, channel="sw_in"),
    )
    within, after = (
        shade("2025-06-16T10:01:00Z", "2025-06-16T10:02:00Z"),
        shade("2025-06-16T11:01:00Z", "2025-06-16T11:02:00Z"),
    )
    assert [f.start_utc for _, f in findings.folded([cover, within, after])] == [
        "2025-06-16T10:00:00Z",
        "2025-06-16T11:01:00Z",
    ]


def test_where_the_notes_fit_a_wrong_clock_it_explains_no_label():
    found = [
        ("segment", Finding("clock-against-sun", "noted", "heron", facts={"labels_hold": True})),
        ("diagnose", Finding("surface-mislabelled", "albedo")),
        ("diagnose", Finding("head-tilted", set="heron")),
    ]
    assert [f.code for _, f in findings.folded(found)] == ["clock-against-sun", "surface-mislabelled"]


def test_a_walk_not_stored_stands_beside_shifted_notes():
    """Of the notes that have no data as they stand, the one whose walk was never stored is told beside the cause, and it alone."""
    campaign = simulate(study.by_day(7, "clear", 2))
    lost = mistakes.storage_forgotten(campaign, campaign.spec.sets[0].name, 3)
    alone, both = (codes(mistakes.notes_late(c, 3600.0)) for c in (campaign, lost))
    assert (
        set(alone) == {"notes-shifted"} and "notes-shifted" in both and both.count("note-without-data") == 1
    ), both


def test_a_walk_not_stored_is_left_once_exchanged_sets_are_put_right():
    """Two sets by turns, 5 min in 20; their names exchanged in the notes; the last walk of one was never stored."""
    day = pd.Timestamp("2025-06-16 10:00:00", tz="UTC")
    begins = {"heron": (0, 1200, 2400), "teal": (600, 1800, 3000, 4200)}
    noted = pd.DataFrame(
        [
            {
                "set": other,
                "start_utc": day + pd.Timedelta(seconds=b),
                "end_utc": day + pd.Timedelta(seconds=b + 300),
            }
            for name, other in (("heron", "teal"), ("teal", "heron"))
            for b in begins[name]
        ]
    )
    seconds = {
        name: day.timestamp() + np.concatenate([b + np.arange(300.0) + 0.5 for b in begins[name] if b < 4200])
        for name in begins
    }
    checks = pd.DataFrame(
        {"set": [], "start_utc": pd.to_datetime([], utc=True), "logger_utc": pd.to_datetime([], utc=True)}
    )
    found = diagnose.notes_against_runs(noted, checks, seconds, dict.fromkeys(begins, 1.0), 0.0, True)
    cause = next(f for f in found if f.code == "notes-sets-swapped")
    assert cause.facts["left"] == [["note-without-data", "heron", "2025-06-16T11:10:00Z"]]


# What a clock makes untrustworthy --------------------------------------------------------------------------------


def walked_all_day(tmp_path, change):
    """A set that walks for five hours by a clock that is 90 min ahead, the campaign changed otherwise, too; and the name of the set."""
    import chain

    campaign = change(
        mistakes.logger_late(
            simulate(study.five_hours(2, "clear")), study.five_hours(2, "clear").sets[0].name, 5400.0
        )
    )
    return chain.run(campaign.write(tmp_path / "campaign"), to="summarise"), campaign.spec.sets[0].name


def test_a_clock_that_the_sun_proves_wrong_withholds_its_set(tmp_path, monkeypatch):
    """Four equal fields, 75 min apart, and a clock ahead by just that: three notes lie over the samples of the field before. The sun alone is asked."""
    import chain

    sets = specs.two_sets()
    fields = tuple(
        specs.field(f"Field {k}", surface)
        for k, surface in enumerate(("short_grass", "bare_dry_soil", "stubble", "gravel"))
    )
    visits = specs.rounds(sets, fields, between=4200.0)
    begins = sorted(v.at for v in visits if v.set == "curlew" and v.field)
    campaign = simulate(
        specs.minimal(start="2025-08-20 11:00:00", sets=sets, fields=fields, visits=visits, seed=12)
    )
    monkeypatch.setattr(diagnose, "notes_against_runs", lambda *args, **named: [])
    late = mistakes.logger_late(campaign, "curlew", begins[2] - begins[0])
    outcome = chain.run(late.write(tmp_path / "campaign"), to="summarise")
    assert [f.variant for _, f in outcome.found if f.code == "clock-against-sun"] == ["far"]
    terms = ["sw_in", "sw_out", "lw_in", "lw_out", "net_radiation", "albedo", "surface_temperature"]
    mine = (outcome.segments["set"] == "curlew") & (outcome.segments["samples_used"] > 0)
    assert mine.sum() >= 4 and outcome.segments.loc[mine, terms].isna().all(axis=None)
    others = (outcome.segments["set"] == "lapwing") & (outcome.segments["samples_used"] > 0)
    assert outcome.segments.loc[others, terms].notna().all(axis=None)


def test_where_the_watch_is_wrong_with_the_clock_the_terms_stand(tmp_path):
    outcome, name = walked_all_day(tmp_path, lambda c: mistakes.notes_late(c, 5400.0, (c.spec.sets[0].name,)))
    assert [f.variant for _, f in outcome.found if f.code == "clock-against-sun"] == ["noted"]
    assert (
        outcome.segments.loc[outcome.segments["set"] == name, ["sw_in", "lw_out", "net_radiation"]]
        .notna()
        .all(axis=None)
    )


# Each mistake once -----------------------------------------------------------------------------------------------

ONCE = {
    "notes an hour late, clocks read": 3,
    "notes an hour early, clocks not read": 7,
    "a watch 4 min slow, clocks not read": 5,
    "the wrong day, clocks not read": 6,
    "sets exchanged, clocks read": 2,
    "a walk not noted": 1,
    "a walk not stored": 1,
    "a walk begins before the last one ended": 4,
    "start and end exchanged": 4,
    "an end missing": 4,
    "a surface misspelt": 4,
    "a logger's clock 90 min ahead": 2,
    "a tree over the head for 20 s": 4,
    "a head leaning by 8 degrees": 2,
    "a broad cart with the sun behind it": 0,
    "a field noted as another class": 1,
    "one set's SW_in 40 % too high": 2,
    "one set's SW_in 40 % over the station's": 2,
    "the station's radiation 30 % too low": 2,
}


@pytest.mark.parametrize("title", ONCE)
def test_a_mistake_is_named_and_nothing_else_is(title):
    result = trial.tried(next(row for row in study.ROWS if row.title == title), ONCE[title], "clear")
    assert (result["verdict"], result["wrong"]) == ("named", []), result


def test_undecided_says_so():
    said = [
        one
        for one in trial.told(mistakes.notes_late(simulate(study.regular(0, "clear")), 3600.0), "segment")
        if one.severity != "note"
    ]
    assert [(one.severity, one.code, one.sure) for one in said] == [("warning", "notes-shifted", False)]


def test_the_shift_to_enter_puts_the_notes_right():
    damaged = mistakes.notes_late(simulate(specs.sound(3)), 3600.0)
    damaged.settings["notes"]["shift"] = "-01:00:00"
    assert codes(damaged) == []


def test_two_mistakes_are_told_apart():
    campaign = simulate(study.by_day(7, "clear", 2))
    names = [s.name for s in campaign.spec.sets]
    told = set(codes(mistakes.notes_late(mistakes.sets_swapped(campaign, *names), 3600.0)))
    assert {"notes-shifted"} <= told <= {"notes-shifted", "notes-sets-swapped"}, told


@pytest.mark.parametrize(
    "spec", [specs.sound(2), specs.polar_day(), specs.southern()], ids=["sound", "polar day", "south"]
)
def test_sound_campaigns_are_silent(spec):
    assert codes(simulate(spec), "propagate") == []


def test_a_clear_day_by_the_right_clock_is_silent_and_by_a_wrong_one_is_not():
    """SW_in by another clear-sky formula and sun than the workflow's: the simulator's, in haze."""
    from simulate.sky import clear_sky, sun

    moments = np.arange(1750060800.0, 1750060800.0 + 5 * 3600, 10.0) + 4 * 3600

    def flux(ahead):
        up, _, distance = sun(moments - ahead, 46.0, 15.0)
        beam, diffuse = clear_sky(up, distance, 300.0, 0.70)
        return beam * np.sin(up) + diffuse

    heading = np.full(len(moments), np.nan)
    assert diagnose.clock_against_sun("heron", moments, flux(0.0), heading, SITE) == []
    found = diagnose.clock_against_sun("heron", moments, flux(3600.0), heading, SITE)
    assert (
        [f.variant for f in found] == ["far"]
        and found[0].facts["direction"] == "ahead"
        and abs(float(found[0].facts["minutes"]) - 60) <= 20
    )
