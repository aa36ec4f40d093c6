"""Clock checks beside notes and runs, runs that nobody noted, sets whose notes are exchanged."""

import numpy as np
import pandas as pd
import pytest

from headland.checks.notes_and_runs import (
    _checked,
    _checks_exchanged,
    _Held,
    _shifted,
    _swapped,
    _without_note,
)
from headland.checks.shifts import CHECK_WITHIN

START = pd.Timestamp("2026-05-21T10:00:00Z")


def checks(**ahead):
    """By set, how many seconds its logger's clock showed too much at each check."""
    rows = [(name, START, START + pd.Timedelta(seconds=s)) for name, of in ahead.items() for s in of]
    return pd.DataFrame(rows, columns=["set", "start_utc", "logger_utc"])


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_the_checks_support_their_middle_value_with_its_sign(way):
    """Of 120, 130 and 200 s that is 130, not the mean of 150."""
    table = checks(a=[way * 120.0, way * 130.0, way * 200.0], b=[0.0])
    assert _checked(table, ["a"]) == way * 130.0


def test_checks_that_differ_or_are_missing_support_nothing():
    assert np.isnan(_checked(checks(a=[120.0, 120.0 + CHECK_WITHIN + 1.0]), ["a"]))
    assert _checked(checks(a=[120.0, 120.0 + CHECK_WITHIN]), ["a"]) == 120.0 + CHECK_WITHIN / 2.0
    assert np.isnan(_checked(checks(b=[120.0]), ["a"]))
    assert np.isnan(_checked(checks(a=[CHECK_WITHIN - 1.0]), ["a"]))


def test_checks_look_exchanged_where_they_are_off_in_opposite_directions():
    assert _checks_exchanged(checks(a=[3600.0], b=[-3600.0]), "a", "b")
    assert _checks_exchanged(checks(a=[3600.0], b=[-3600.0 - CHECK_WITHIN]), "a", "b")
    assert not _checks_exchanged(checks(a=[3600.0], b=[3600.0]), "a", "b")
    assert not _checks_exchanged(checks(a=[3600.0], b=[-3500.0 + CHECK_WITHIN]), "a", "b")


# Runs


def run(*spans):
    return np.array(spans, float)


@pytest.mark.parametrize("lasts, said", [(29.0, 0), (31.0, 1)])
def test_a_run_of_half_a_minute_lacks_a_note(lasts, said):
    assert len(_without_note("a", run((1000.0, 1000.0 + lasts)), run((0.0, 10.0)))) == said


@pytest.mark.parametrize("noted, said", [(11.0, 0), (9.0, 1)])
def test_a_run_is_noted_where_a_tenth_of_it_is(noted, said):
    assert len(_without_note("a", run((1000.0, 1100.0)), run((950.0, 1000.0 + noted)))) == said


# Exchanged sets


def held(share, clock=None, offset=500.0):
    """Two sets whose runs share so much of their time with the other's notes, and the rest with their own."""
    a = np.array([(1000.0 * k, 1000.0 * k + 100.0) for k in range(20)])
    b = a + offset
    exchanged = round(20 * share)
    claimed = {
        "a": np.concatenate([b[:exchanged], a[exchanged:]]),
        "b": np.concatenate([a[:exchanged], b[exchanged:]]),
    }
    claimed = {name: spans[np.argsort(spans[:, 0])] for name, spans in claimed.items()}
    table = checks(**(clock or {"a": [0.0]}))
    return _Held(["a", "b"], {"a": a, "b": b}, claimed, table, lambda told: None)


def test_notes_that_fit_the_other_set_are_exchanged():
    order, (found,) = _swapped(held(1.0))
    assert order == ["b", "a"] and found.variant == ""
    assert (found.facts["own"], found.facts["other"]) == ("0", "100")


def test_notes_that_fit_their_own_set_are_not():
    assert _swapped(held(0.0)) == (["a", "b"], [])
    assert _swapped(held(0.3)) == (["a", "b"], [])


@pytest.mark.parametrize("offset, variant", [(10.0, "undecided"), (12.0, "")])
def test_a_small_gain_is_questioned_unless_the_clock_checks_say_the_same(offset, variant):
    """Runs so many seconds apart share 90 of 110 or 88 of 112 s with the other set's: 0.18 and 0.21 less than
    all."""
    order, (found,) = _swapped(held(1.0, offset=offset))
    assert order == ["b", "a"] and found.variant == variant
    order, (found,) = _swapped(held(1.0, {"a": [3600.0], "b": [-3600.0]}, offset))
    assert order == ["b", "a"] and found.variant == ""


def test_a_gain_of_less_than_a_twelfth_is_how_people_note():
    """4 s apart: 96 of 104. With exchanged clock checks it is named all the same."""
    assert _swapped(held(1.0, offset=4.0)) == (["a", "b"], [])
    order, (found,) = _swapped(held(1.0, {"a": [3600.0], "b": [-3600.0]}, 4.0))
    assert order == ["b", "a"] and found.variant == ""


IRREGULAR = np.array(
    [[0, 90], [130, 250], [700, 800], [900, 1100], [2000, 2070], [2500, 2700], [3300, 3390], [4000, 4200]],
    dtype=float,
)
OTHER = np.array(
    [[50, 120], [300, 420], [1300, 1380], [1500, 1640], [2200, 2290], [2900, 3000], [3600, 3750]], dtype=float
)


def shifted(smallest=30.0, told=None, **ahead):
    """Variants, sets and shifts of two sets whose notes are so many seconds ahead of their runs."""
    recorded = {"a": IRREGULAR, "b": OTHER}
    noted = [recorded[name] + ahead.get(name, 0.0) for name in ("a", "b")]
    tell = (told if told is not None else []).append
    held_ = _Held(["a", "b"], recorded, dict(zip(("a", "b"), noted, strict=True)), checks(c=[0.0]), tell)
    found = _shifted(held_, noted, 0.0, smallest)
    return [(one.variant, one.set, round(shift)) for one, shift in found]


def test_notes_of_all_sets_shifted_alike_are_one_finding():
    assert shifted(a=3600.0, b=3600.0) == [("", "", -3600)]
    assert shifted(a=-900.0, b=-900.0) == [("", "", 900)]
    assert shifted() == []


def test_notes_of_one_set_shifted_are_that_set_s():
    assert shifted(a=3600.0) == [("one-set", "a", -3600)]
    assert shifted(b=3600.0) == [("one-set", "b", -3600)]
    assert shifted(a=3600.0, b=-1800.0) == [("one-set", "a", -3600), ("one-set", "b", 1800)]


def test_a_shift_of_a_minute_is_small_and_one_below_the_least_is_none():
    assert shifted(a=60.0, b=60.0) == [("small", "", -60)]
    assert shifted(a=60.0, b=60.0, smallest=90.0) == []
    assert shifted(a=200.0, b=200.0, smallest=90.0) == [("", "", -200)]


def test_equal_walks_at_equal_times_are_told_as_such():
    regular = np.array([[150.0 * k, 150.0 * k + 100.0] for k in range(20)])
    told = []
    held_ = _Held(["a"], {"a": regular}, {"a": regular}, checks(c=[0.0]), told.append)
    assert _shifted(held_, [regular], 0.0, 30.0) == []
    assert [(one.code, one.reason) for one in told] == [("notes-shifted", "alike-times")]
