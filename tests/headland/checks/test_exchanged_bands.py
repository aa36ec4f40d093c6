"""Which longwave factor an upper shortwave head may have been given: by the size of four factors."""

import pytest

from headland.checks.exchanged_factors import _partner

NAMES = ("sw_in", "sw_out", "lw_in", "lw_out")


def partner(*factors):
    return _partner(dict(zip(NAMES, factors, strict=True)))


def test_factors_that_fit_across_the_bands():
    assert partner(100.0, 70.0, 71.0, 101.0) == "lw_in"
    assert partner(100.0, 70.0, 101.0, 71.0) == "lw_out"


def test_both_must_fit_across():
    """ln 300/70 is far from 0, whether the other pair fits or not."""
    assert partner(70.0, 100.0, 101.0, 300.0) == ""
    assert partner(300.0, 100.0, 101.0, 70.0) == ""


def test_factors_of_like_heads_are_not_exchanged():
    assert partner(70.0, 71.0, 100.0, 101.0) == ""
    assert partner(100.0, 89.5, 89.5, 100.0) == ""  # ln of the ratio is 0.111, less than 0.12
    assert partner(100.0, 88.0, 88.0, 100.0) == "lw_in"  # 0.128


@pytest.mark.parametrize("last, found", [(186.0, "lw_in"), (193.0, "")])
def test_less_than_three_tenths_of_the_distance_is_left(last, found):
    """ln 1.4 within the one band and ln of last/100 within the other; ln of last/140 across: 0.284 and 0.321
    of 0.957 and 0.994."""
    assert partner(140.0, 100.0, 100.0, last) == found


def test_an_unknown_factor_has_no_partner():
    assert _partner({"sw_in": 100.0, "sw_out": 70.0, "lw_in": 71.0}) == ""
    assert partner(100.0, 70.0, 71.0, 0.0) == ""
