"""Clock checks beside notes and runs, runs that nobody noted, sets whose notes are exchanged."""

import numpy as np
import pandas as pd
import pytest

from headland.checks.notes_and_runs import _checked, _checks_exchanged, _Held, _swapped, _without_note
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
