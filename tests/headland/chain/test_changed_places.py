"""Sensors of a band that changed places between two sets, by what a logger was programmed with."""

import datetime
import math

import pandas as pd
import pytest

from headland.chain.changed_places import changed_places

DAY = datetime.date(2026, 5, 21)
INVERSE, USUAL = "uV per W m-2", "W m-2 per mV"


def row(name, channel, factor, programmed=math.nan, *, unit=USUAL, date="2025-05-21"):
    return {
        "set": name,
        "channel": channel,
        "factor": factor,
        "factor_unit": unit,
        "programmed_factor": programmed,
        "certificate_date": date,
        "line": 2,
    }


def found(*rows, name="teal"):
    table = pd.DataFrame(rows)
    return [(one.code, one.variant, one.set, one.channel) for one in changed_places(name, table, DAY)]


def two_sets(teal=(86.0, 67.9), heron=(7.81, 16.05), programmed=(7.91, 16.09)):
    """The register once the rows of the shortwave heads of teal and heron are exchanged, with their units."""
    return [
        row("teal", "sw_in", teal[0], programmed[0]),
        row("teal", "sw_out", teal[1], programmed[1]),
        row("heron", "sw_in", heron[0], unit=INVERSE),
        row("heron", "sw_out", heron[1], unit=INVERSE),
    ]


def test_a_logger_with_another_set_s_factors_is_named_for_both_sets():
    for name in ("teal", "heron"):
        assert found(*two_sets(), name=name) == [("pair-broken", "two-sets", name, "sw_in sw_out")]
    assert found(*two_sets(), name="wigeon") == []


def test_a_register_in_its_order_is_silent():
    assert found(*two_sets(teal=(7.81, 16.05), heron=(86.0, 67.9))) == []
    assert found(*two_sets(teal=(1000.0 / 7.81, 1000.0 / 16.05), heron=(86.0, 67.9))) == []


def test_a_program_in_the_other_unit_is_no_change_of_places():
    """In the other unit one factor is within 3 % of its own and the second is not; both fit the other set."""
    changed = {"teal": (14.0, 12.0), "heron": (72.8, 76.4)}
    assert len(found(*two_sets(**changed, programmed=(69.5, 73.1)))) == 1
    assert found(*two_sets(**changed, programmed=(69.5, 80.0))) == []


@pytest.mark.parametrize("heron", [(7.81, 30.0), (30.0, 16.05)])
def test_both_heads_must_have_changed_places(heron):
    assert found(*two_sets(heron=heron)) == []


def test_without_what_a_logger_was_programmed_with_nothing_is_said():
    assert found(*two_sets(programmed=(math.nan, math.nan))) == []
    assert found(*two_sets()[:2]) == []


def test_the_certificate_in_force_is_compared():
    older = [row("heron", channel, 40.0, unit=INVERSE, date="2020-01-01") for channel in ("sw_in", "sw_out")]
    later = [row("heron", channel, 40.0, unit=INVERSE, date="2026-06-01") for channel in ("sw_in", "sw_out")]
    assert len(found(*older, *two_sets(), *later)) == 1
