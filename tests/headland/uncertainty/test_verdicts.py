"""The table of differences: which verdict each pair gets and why, what is hidden, the order of the rows."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from headland.uncertainty import differences
from headland.uncertainty.differences import WHY, PairDraws, course_sources, verdicts, with_course
from headland.uncertainty.draws import Source
from headland.uncertainty.pairs import COMPARED

NAN = np.nan
U = 1.959964


def one(value, half, course=0.0, unknown=False, too_different=False):
    """Verdict and reason of a single pair, with a symmetric interval. course: its standard uncertainty."""
    found = SimpleNamespace(
        course={"albedo": np.array([course])},
        unknown=np.array([unknown]),
        too_different={"albedo": np.array([too_different])},
    )
    value, half = np.array([value]), np.array([half])
    said, why = verdicts(value, value - half, value + half, found, "albedo")
    return said[0], why[0]


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_pair_differs_beyond_its_half_width(sign):
    assert one(sign * 2.01, 2.0) == ("true", "")
    assert one(sign * 1.99, 2.0) == ("false", "")


def test_what_the_course_alone_hides_is_undecided():
    """5 units in all, 4 of the course, so 3 without it: told apart from 5.88 without, from 9.80 with."""
    assert one(5.8, 5.0 * U, course=4.0) == ("false", "")
    assert one(6.0, 5.0 * U, course=4.0) == ("undecided", WHY["course"])
    assert one(-9.7, 5.0 * U, course=4.0) == ("undecided", WHY["course"])
    assert one(9.9, 5.0 * U, course=4.0) == ("true", "")
    # sampling noise can leave less than the course: nothing is unknown then without it
    assert one(1.0, 5.0 * U, course=5.01) == ("undecided", WHY["course"])


def test_an_unknown_ground_comes_before_the_sky_and_both_before_any_number():
    assert one(9.0, 1.0, unknown=True) == ("undecided", WHY["ground"])
    assert one(9.0, 1.0, too_different=True) == ("undecided", WHY["sky"])
    assert one(9.0, 1.0, unknown=True, too_different=True) == ("undecided", WHY["ground"])
    assert one(9.0, NAN) == ("undecided", WHY["ground"])
    assert one(NAN, NAN) == ("", "")
    assert one(NAN, NAN, unknown=True) == ("undecided", WHY["ground"])
    assert one(NAN, NAN, too_different=True) == ("undecided", WHY["sky"])


def test_each_reason_says_what_would_settle_it():
    assert "more passes" in WHY["ground"] and "even sky" in WHY["sky"] and "both sets" in WHY["course"]


def test_pairs_that_can_t_be_tested_make_no_test_stricter():
    """2.1 of 1: enough for one test and for the last of several, not for the first of two (2.24)."""
    found = SimpleNamespace(
        course={"albedo": np.zeros(3)},
        unknown=np.array([False, True, False]),
        too_different={"albedo": np.array([False, False, True])},
    )
    value = np.array([2.1, 1.0, 1.0])
    low, high = value - U, value + U
    assert verdicts(value, low, high, found, "albedo")[0].tolist() == ["true", "undecided", "undecided"]
    every = SimpleNamespace(
        course=found.course, unknown=np.zeros(3, bool), too_different={"albedo": np.zeros(3, bool)}
    )
    assert verdicts(value, low, high, every, "albedo")[0].tolist() == ["false"] * 3


def named_pairs():
    """Three surfaces, in the order of the table of surfaces."""
    uncertainty = {name: np.array([1.0, 2.0, NAN]) + k for k, name in enumerate(COMPARED)}
    pairs = np.array([[0, 1], [0, 2], [1, 2]])
    return SimpleNamespace(names=["gravel", "paving", "stubble"], pairs=pairs, uncertainty=uncertainty)


def test_each_pair_and_quantity_has_a_course_of_its_own():
    sources = course_sources(named_pairs())
    assert len(sources) == len({one.unit for one in sources}) == 3 * len(COMPARED)
    assert {one.term for one in sources} == {"course"}
    found = {one.unit: one.shift for one in sources}
    assert found["gravel/stubble/albedo"]["albedo"].tolist() == [0.0, 2.0, 0.0]
    assert found["gravel/paving/net_radiation"]["net_radiation"].tolist() == [3.0, 0.0, 0.0]
    assert list(found["gravel/paving/net_radiation"]) == ["net_radiation"]
    assert found["paving/stubble/albedo"]["albedo"].tolist() == [0.0, 0.0, 0.0]  # nothing to compare


def test_the_course_is_added_to_draws_and_parts():
    """Two sources, of the first and of the second pair; two draws with scores of their own."""
    shift = [{"albedo": np.array([2.0, 0.0])}, {"albedo": np.array([0.0, 3.0])}]
    course = [Source("course", str(k), one) for k, one in enumerate(shift)]
    xi = np.array([[1.0, -1.0], [0.5, 0.0]])
    draws = {"albedo": np.array([[10.0, 20.0], [11.0, 21.0]]), "net_radiation": np.ones((2, 2))}
    parts = {"albedo": np.array([[7.0, 8.0]]), "net_radiation": np.array([[5.0, 6.0]])}
    drawn, more = with_course(draws, parts, course, xi)
    assert drawn["albedo"].tolist() == [[12.0, 21.5], [9.0, 21.0]]
    assert drawn["net_radiation"].tolist() == [[1.0, 1.0]] * 2
    assert more["albedo"].tolist() == [[7.0, 8.0], [2.0, 0.0], [0.0, 3.0]]
    assert more["net_radiation"].tolist() == [[5.0, 6.0], [0.0, 0.0], [0.0, 0.0]]
    same, before = with_course(draws, parts, [], np.zeros((0, 2)))
    assert same == draws and before == parts


def table(**changes):
    """Three pairs, whose draws are even between -9 and 9 around 20, 5 and NaN; the linear part is theirs."""
    even = np.linspace(-9.0, 9.0, 4001)[:, None]
    value = np.array([20.0, 5.0, NAN])
    empty = {name: np.zeros(3) for name in COMPARED}
    found = PairDraws(
        pairs=named_pairs(),
        sources=[],
        values=dict.fromkeys(COMPARED, value),
        draws=dict.fromkeys(COMPARED, value + even),
        parts={},
        linear=dict.fromkeys(COMPARED),
        unknown=np.zeros(3, bool),
        too_different={name: np.zeros(3, bool) for name in COMPARED},
        course=empty,
    )
    visited = {name: np.arange(3.0) + 10.0 * k for k, name in enumerate(COMPARED)}
    return differences.differences(replace(found, **changes), visited)


def test_rows_are_in_the_order_of_the_pairs_and_in_each_of_the_quantities():
    rows = table()
    assert rows["surface_a"].tolist() == ["gravel"] * 8 + ["paving"] * 4
    assert rows["surface_b"].tolist() == ["paving"] * 4 + ["stubble"] * 8
    assert rows["quantity"].tolist() == list(COMPARED) * 3
    assert rows["as_visited"].tolist() == [
        0.0,
        10.0,
        20.0,
        30.0,
        1.0,
        11.0,
        21.0,
        31.0,
        2.0,
        12.0,
        22.0,
        32.0,
    ]
    assert list(rows) == differences.COLUMNS and rows.index.tolist() == list(range(12))


def test_an_interval_holds_the_middle_19_of_20_draws():
    rows = table()
    first = rows.iloc[0]
    assert (first["difference"], first["distinguishable"]) == (20.0, "true")
    assert first["difference_low"] == pytest.approx(20.0 - 0.95 * 9.0, abs=0.05)
    assert first["difference_high"] == pytest.approx(20.0 + 0.95 * 9.0, abs=0.05)
    assert rows["distinguishable"].tolist() == ["true"] * 4 + ["false"] * 4 + [""] * 4


def test_an_unknown_ground_hides_the_interval_and_other_skies_the_value_too():
    skies = {name: np.zeros(3, bool) for name in COMPARED} | {"albedo": np.array([False, True, False])}
    rows = table(unknown=np.array([True, False, False]), too_different=skies).set_index(
        ["surface_a", "surface_b", "quantity"]
    )
    ground = rows.loc[("gravel", "paving", "albedo")]
    assert (
        ground["difference"] == 20.0 and np.isnan([ground["difference_low"], ground["difference_high"]]).all()
    )
    sky = rows.loc[("gravel", "stubble", "albedo")]
    assert np.isnan([sky["difference"], sky["difference_low"], sky["difference_high"]]).all()
    assert rows.loc[("gravel", "stubble", "net_radiation"), "difference"] == 5.0
    assert (ground["why"], sky["why"]) == (WHY["ground"], WHY["sky"])
