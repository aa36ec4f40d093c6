"""Factors exchanged within a band show against another set side by side, and nothing else does."""

import math

import pandas as pd
import pytest

from headland.base.untold import Untold, unheard
from headland.checks.exchanged_side_by_side import factors_exchanged

TRUE = {"sw_in": 700.0, "sw_out": 150.0, "lw_in_net": -95.0, "lw_out_net": 66.0}
FACTORS = {"sw_in": 66.0, "sw_out": 78.0, "lw_in": 88.0, "lw_out": 100.0}


EMITTED = 430.0
"""What a body emits, W m-2; a body 5 K warmer emits some 31 W m-2 more."""


def visit(name, minute=0, warmer=0.0, **times):
    """A visit of a set whose body emits `warmer` W m-2 more than the other's."""
    start = pd.Timestamp("2026-05-21T09:00Z") + pd.Timedelta(minutes=minute)
    true = {term: value - warmer * term.endswith("_net") for term, value in TRUE.items()}
    terms = {term: value * times.get(term, 1.0) for term, value in true.items()}
    arriving = {f"lw_{way}": terms[f"lw_{way}_net"] + EMITTED + warmer for way in ("in", "out")}
    ends = {"start_utc": start, "end_utc": start + pd.Timedelta(minutes=5)}
    return {"set": name, "activity": "side_by_side", **ends, **terms, **arriving}


def found(*visits, factors=FACTORS, percent=3.0, tell=unheard):
    rows = [
        {"set": s, "channel": c, "factor": f, "expanded_uncertainty_percent": percent}
        for s in ("heron", "plover")
        for c, f in factors.items()
    ]
    said = factors_exchanged(pd.DataFrame(visits), pd.DataFrame(rows), tell)
    return [(f.set, f.variant, f.channel) for f in said]


def exchanged(band, ground=1.0):
    """A set whose register has each factor at the other head: in has 78 instead of 66."""
    terms = {"sw": ("sw_in", "sw_out"), "lw": ("lw_in_net", "lw_out_net")}[band]
    ratio = FACTORS[f"{band}_out"] / FACTORS[f"{band}_in"]
    return {terms[0]: ratio, terms[1]: ground / ratio}


def registered(band):
    """The factors as the wrong register has them."""
    a, b = f"{band}_in", f"{band}_out"
    return {**FACTORS, a: FACTORS[b], b: FACTORS[a]}


@pytest.mark.parametrize("band", ["sw", "lw"])
def test_exchanged_factors_are_named_with_their_set(band):
    channels = f"{band}_in {band}_out"
    said = found(visit("heron", **exchanged(band, 1.02)), visit("plover"), factors=registered(band))
    assert ("heron", "side-by-side", channels) in said and len(said) == 1


def test_a_body_of_another_temperature_changes_both_signals_and_is_none():
    """22 W m-2 more emission: N_in 23 % more and N_out a third less, near to what factors 26 % apart make."""
    factors = {**FACTORS, "lw_in": 111.0, "lw_out": 86.0}
    assert found(visit("heron", warmer=22.0), visit("plover"), factors=factors) == []


@pytest.mark.parametrize("warmer", [-20.0, 20.0])
def test_exchanged_longwave_factors_are_named_beside_a_body_of_another_temperature(warmer):
    said = found(visit("heron", warmer=warmer, **exchanged("lw")), visit("plover"), factors=registered("lw"))
    assert said == [("heron", "side-by-side", "lw_in lw_out")]


@pytest.mark.parametrize(
    "other",
    [
        {},
        {"sw_in": 1.09},  # one factor is wrong, or the head leans
        {"sw_in": 1.09, "sw_out": 1.09},  # both go the same way
        {"sw_out": 0.92},  # another ground
    ],
)
def test_other_differences_are_none(other):
    assert found(visit("heron", **other), visit("plover"), factors=registered("sw")) == []


def test_the_other_way_round_it_is_the_other_set():
    said = found(visit("heron", sw_in=0.85, sw_out=1.18), visit("plover"), factors=registered("sw"))
    assert said == [("plover", "side-by-side", "sw_in sw_out")]


def test_alike_factors_and_visits_at_different_times_show_nothing():
    alike, told = {**FACTORS, "sw_in": 66.0, "sw_out": 67.0}, []
    assert found(visit("heron", **exchanged("sw")), visit("plover"), factors=alike, tell=told.append) == []
    assert not any(one.channel == "sw_in sw_out" for one in told)  # nobody would see it in the numbers
    assert found(visit("heron", **exchanged("sw")), visit("plover", 20), factors=registered("sw")) == []


@pytest.mark.parametrize(
    "band, percent, named",
    [
        # 88 and 100 are 12.8 % apart in the logarithm, 3.6 standard uncertainties of 3.55 %
        ("lw", 7.0, True),
        ("lw", 7.2, False),
        # 66 and 78 are 16.7 % apart, 3.6 of 4.64 %, of which ground and level are 3.5 %
        ("sw", 6.0, True),
        ("sw", 6.2, False),
        ("sw", math.nan, True),
    ],
)
def test_what_certificates_and_spots_allow_between_two_sets_is_no_exchange(band, percent, named):
    told = []
    said = found(
        visit("heron", **exchanged(band)),
        visit("plover"),
        factors=registered(band),
        percent=percent,
        tell=told.append,
    )
    assert bool(said) is named
    close = Untold("factors-exchanged", "factors-close", "heron", f"{band}_in {band}_out")
    assert (close in told) is not named
