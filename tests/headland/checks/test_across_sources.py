"""Sources checked against each other: each mistake once, and sound campaigns silent. Rates over many seeds:
`tests/study/detection.py`."""

import numpy as np
import pandas as pd
import pytest

from headland.checks import clocks, notes_and_runs
from simulate import mistakes_across as mistakes
from simulate import specs
from simulate.campaign import simulate
from study import bases, of_notes, of_sets, trial
from study import sources as study

SITE = {"latitude": 46.0, "longitude": 15.0, "elevation": 300.0}


def codes(campaign, to="segment"):
    """Codes of errors and warnings, with repetitions."""
    return trial.alarms(trial.told(campaign, to))


# What a cause leaves ----------------------------------------------------------------------


def test_a_walk_not_stored_stands_beside_shifted_notes():
    """Of the notes that have no data, the one whose walk was never stored is found beside the
    cause, and it alone."""
    campaign = simulate(bases.by_day(7, "clear", 2))
    lost = mistakes.storage_forgotten(campaign, campaign.spec.sets[0].name, 3)
    alone, both = (codes(mistakes.notes_late(c, 3600.0)) for c in (campaign, lost))
    assert (
        set(alone) == {"notes-shifted"} and "notes-shifted" in both and both.count("note-without-data") == 1
    ), both


def test_a_walk_not_stored_is_left_once_exchanged_sets_are_put_right():
    """Two sets by turns, 5 min in 20; their names exchanged in the notes; the last walk of one was never
    stored."""
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
    found = notes_and_runs.notes_against_runs(
        noted, checks, seconds, dict.fromkeys(begins, 1.0), 0.0, walks=True
    )
    cause = next(f for f in found if f.code == "notes-sets-swapped")
    assert cause.facts["left"] == [["note-without-data", "heron", "2025-06-16T11:10:00Z"]]


# What a clock makes untrustworthy ----------------------------------------------------------


def walked_all_day(tmp_path, change):
    """A set that walks for five hours by a clock that is 90 min ahead, the campaign changed otherwise, too;
    and the name of the set."""
    import chain

    campaign = change(
        mistakes.logger_late(
            simulate(of_sets.five_hours(2, "clear")), of_sets.five_hours(2, "clear").sets[0].name, 5400.0
        )
    )
    return chain.run(campaign.write(tmp_path / "campaign"), to="summarise"), campaign.spec.sets[0].name


def test_a_clock_that_the_sun_proves_wrong_withholds_its_set(tmp_path, monkeypatch):
    """Four equal fields, 75 min apart, and a clock ahead by just that: three notes lie over the samples of
    the field before. The sun alone is asked."""
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
    monkeypatch.setattr(notes_and_runs, "notes_against_runs", lambda *args, **more: [])
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


# Each mistake once -------------------------------------------------------------------------


ONCE = {
    "notes an hour late, clocks read": 0,
    "notes an hour early, clocks not read": 12,
    "a watch 4 min slow, clocks not read": 12,
    "the wrong day, clocks not read": 12,
    "sets exchanged, clocks read": 3,
    "a walk not noted": 0,
    "a walk not stored": 0,
    "a walk begins before the last one ended": 0,
    "start and end exchanged": 0,
    "an end missing": 0,
    "a surface misspelt": 0,
    "a logger's clock 90 min ahead": 28,
    "a tree over the head for 20 s": 16,
    "a head leaning by 8 degrees": 2,
    "a broad cart with the sun behind it": 0,
    "a field noted as another class": 1,
    "one set's SW_in 40 % too high": 2,
    "one set's SW_in 40 % over the station's": 2,
    "the station's radiation 30 % too low": 2,
}
"""Seeds of campaigns with few visits that show each mistake."""


@pytest.mark.parametrize("title", ONCE)
def test_a_mistake_is_named_and_nothing_else_is(title):
    result = trial.tried(next(row for row in study.ROWS if row.title == title), ONCE[title], "clear")
    assert (result["verdict"], result["wrong"]) == ("named", []), result


def test_undecided_says_so():
    said = [
        one
        for one in trial.told(mistakes.notes_late(simulate(of_notes.regular(0, "clear")), 3600.0), "segment")
        if one.severity != "note"
    ]
    assert sorted((one.severity, one.code, one.sure) for one in said) == [
        ("error", "set-unused", True),  # the data are used nowhere, whatever the cause
        ("warning", "notes-shifted", False),
    ]


def test_the_shift_to_enter_puts_the_notes_right():
    damaged = mistakes.notes_late(simulate(specs.sound(3)), 3600.0)
    damaged.settings["notes"]["shift"] = "-01:00:00"
    assert codes(damaged) == []


def test_two_mistakes_are_told_apart():
    campaign = simulate(bases.by_day(7, "clear", 2))
    names = [s.name for s in campaign.spec.sets]
    told = set(codes(mistakes.notes_late(mistakes.sets_swapped(campaign, *names), 3600.0)))
    assert {"notes-shifted"} <= told <= {"notes-shifted", "notes-sets-swapped"}, told


@pytest.mark.parametrize(
    "spec", [specs.sound(20), specs.polar_day(), specs.southern()], ids=["sound", "polar day", "south"]
)
def test_sound_campaigns_are_silent(spec):
    assert codes(simulate(spec), "diagnose") == []


def test_a_clear_day_by_the_right_clock_is_silent_and_by_a_wrong_one_is_not():
    """SW_in by another clear-sky formula and sun than the workflow's: the simulator's, in haze."""
    from simulate.sky import clear_sky, sun

    moments = np.arange(1750060800.0, 1750060800.0 + 5 * 3600, 10.0) + 4 * 3600

    def flux(ahead):
        up, _, distance = sun(moments - ahead, 46.0, 15.0)
        beam, diffuse = clear_sky(up, distance, 300.0, 0.70)
        return beam * np.sin(up) + diffuse

    heading = np.full(len(moments), np.nan)
    assert clocks.clock_against_sun("heron", moments, flux(0.0), heading, SITE) == []
    found = clocks.clock_against_sun("heron", moments, flux(3600.0), heading, SITE)
    assert (
        [f.variant for f in found] == ["far"]
        and found[0].facts["direction"] == "ahead"
        and abs(float(found[0].facts["minutes"]) - 60) <= 20
    )
