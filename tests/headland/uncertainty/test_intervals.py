"""Ends of intervals: published sums, and how much of an end is chance."""

import math

import numpy as np
import pytest

from headland.uncertainty.distributions import NORMAL, RECTANGULAR, TAILS, student
from headland.uncertainty.draws import Source, moved, scores
from headland.uncertainty.intervals import end_error, ends, interval, with_intervals
from headland.uncertainty.linear import linear_parts


# JCGM 101:2008, 9.2: sums of four, 95 % intervals. Tolerances: half the last printed digit and the Monte
# Carlo error of stratified draws.
@pytest.mark.parametrize(
    "distribution, sizes, expected, tolerance",
    [
        (NORMAL, (1, 1, 1, 1), 3.92, 0.02),
        (RECTANGULAR, (1, 1, 1, 1), 3.8794, 0.015),
        (RECTANGULAR, (1, 1, 1, 10), 17.0, 0.06),
    ],
)
def test_sums_of_four_of_the_supplement_to_the_gum(distribution, sizes, expected, tolerance):
    sources = [
        Source("x", str(k), {"sum": np.array([float(size)])}, distribution=distribution)
        for k, size in enumerate(sizes)
    ]
    numbers = moved(sources, scores(sources, 5, 200_000))["sum"]
    low, high = interval(numbers, np.zeros(1))
    assert (high - low).item() / 2.0 == pytest.approx(expected, abs=tolerance)
    assert numbers.std() == pytest.approx(math.sqrt(sum(size * size for size in sizes)), rel=5e-3)


def test_an_interval_reaches_at_least_to_the_value():
    numbers = np.linspace(0.0, 1.0, 1001)[:, None]
    assert [float(end[0]) for end in interval(numbers, np.array([0.5]))] == pytest.approx([0.025, 0.975])
    assert [float(end[0]) for end in interval(numbers, np.array([2.0]))] == pytest.approx([0.025, 2.0])
    assert [float(end[0]) for end in interval(numbers, np.array([-1.0]))] == pytest.approx([-1.0, 0.975])


def mixture(seed, count=4096):
    """A nearly linear number of six sources, with its linear part."""
    sources = [
        Source("x", "a", {}),
        Source("x", "b", {}),
        Source("x", "c", {}),
        Source("x", "d", {}, distribution=RECTANGULAR),
        Source("x", "e", {}, distribution=RECTANGULAR),
        Source("x", "f", {}, distribution=student(9.0)),
    ]
    sizes = np.array([1.0, 0.8, 0.6, 1.0, 0.7, 0.5])
    xi = scores(sources, seed, count)
    numbers = (sizes @ xi + 0.03 * xi[0] * xi[3])[:, None]
    return numbers, linear_parts({"y": sizes[:, None]}, sources, [xi])["y"]


def test_a_known_linear_part_takes_most_of_the_chance_out_of_the_ends_and_moves_them_nowhere():
    made = [mixture(seed) for seed in range(60)]
    settled = np.array([ends(*one)[:, 0] for one in made])
    plain = np.array([np.quantile(numbers, TAILS) for numbers, _ in made])
    assert settled.std(axis=0).max() < 0.4 * plain.std(axis=0).min()
    true = np.quantile(mixture(1, 1_000_000)[0], TAILS)
    assert settled.mean(axis=0) == pytest.approx(true, abs=0.015)  # 0.3 % of the width
    stated = np.mean([end_error(*one) for one in made])
    assert 0.8 < stated / settled.std(axis=0).max() < 1.6


def test_a_linear_part_that_is_no_guide_leaves_the_plain_quantile():
    numbers, linear = mixture(1)
    other = np.random.default_rng(1).permutation(numbers)
    assert ends(other, linear) == pytest.approx(
        np.quantile(other, TAILS, axis=0), abs=0.02 * np.ptp(ends(other, linear))
    )
    none = linear_parts({"y": np.zeros((1, 1))}, [Source("x", "a", {})], [np.zeros((1, 4096))])["y"]
    assert ends(numbers, none) == pytest.approx(np.quantile(numbers, TAILS, axis=0))


def test_a_source_alone_needs_no_help():
    source = Source("x", "a", {}, distribution=RECTANGULAR)
    xi = scores([source], 1, 16384)
    numbers = 1.0 / (2.0 + xi.T)  # where a thousandth of a probability is far in the number
    found = ends(numbers, linear_parts({"y": np.array([[1.0]])}, [source], [xi])["y"])
    true = 1.0 / (2.0 + RECTANGULAR.quantiles(TAILS[::-1]))
    assert found[:, 0] == pytest.approx(true, abs=1e-3 * np.ptp(true))


def test_one_unknown_draw_leaves_no_end():
    numbers, linear = mixture(1)
    numbers[7] = np.nan
    assert np.isnan(ends(numbers, linear)).all() and np.isnan(end_error(numbers, linear)).all()


@pytest.mark.parametrize("count, known", [(799, False), (800, True)])
def test_an_end_s_error_is_known_with_20_draws_beyond_it(count, known):
    numbers, linear = mixture(1, count)
    assert np.isfinite(end_error(numbers, linear)).all() == known


def test_without_a_common_part_an_end_s_error_is_that_of_a_quantile():
    """sqrt(t (1 - t) / m) over the density of the normal distribution at its 2.5 % quantile."""
    numbers = np.random.default_rng(4).standard_normal((10_000, 1))
    none = linear_parts({"y": np.zeros((1, 1))}, [Source("x", "a", {})], [np.zeros((1, 10_000))])["y"]
    expected = math.sqrt(0.025 * 0.975 / 10_000) / (math.exp(-0.5 * 1.96**2) / math.sqrt(2.0 * math.pi))
    assert end_error(numbers, none) == pytest.approx([expected], rel=0.15)


def test_a_linear_number_has_the_ends_of_its_distribution_whatever_the_draws():
    """Three equal normal sources: plain quantiles of as many draws are off by 0.07."""
    sources = [Source("x", str(k), {}) for k in range(3)]
    for seed in range(5):
        xi = scores(sources, seed, 4000)
        numbers = xi.sum(axis=0)[:, None]
        found = ends(numbers, linear_parts({"y": np.ones((3, 1))}, sources, [xi])["y"])[:, 0]
        assert found == pytest.approx([-1.96 * math.sqrt(3.0), 1.96 * math.sqrt(3.0)], abs=0.03)


def test_numbers_that_get_no_interval_keep_their_value():
    xi = scores([Source("x", "a", {})], 1, 4000)
    linear = linear_parts({"y": np.ones((1, 2))}, [Source("x", "a", {})], [xi])
    draws = {"y": np.column_stack([xi[0], xi[0]])}
    table = with_intervals({"y": np.array([0.0, 0.0])}, draws, linear, {"y": np.array([False, True])})
    assert list(table) == ["y", "y_low", "y_high"] and table["y"].tolist() == [0.0, 0.0]
    assert table["y_low"].notna().tolist() == table["y_high"].notna().tolist() == [True, False]
    assert table.loc[0, ["y_low", "y_high"]].tolist() == pytest.approx([-1.96, 1.96], abs=0.03)
