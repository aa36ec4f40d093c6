"""The random numbers of step 8 and the ends of intervals: what they depend on, what is known of a linear part, and how much of an end is chance."""

import math

import numpy as np
import pytest
from scipy.special import stdtr, stdtrit

from headland.uncertainty import draws
from headland.uncertainty.draws import NORMAL, NORMAL_95, RECTANGULAR, Source, interval

# Distributions -----------------------------------------------------------------------------------------------------


def test_quantiles_have_unit_spread():
    u = (np.arange(200_000) + 0.5) / 200_000
    for quantiles in (NORMAL.quantiles, RECTANGULAR.quantiles):
        assert np.mean(quantiles(u)) == pytest.approx(0.0, abs=1e-9) and np.std(
            quantiles(u)
        ) == pytest.approx(1.0, abs=1e-3)
    assert NORMAL.quantiles(0.975) == pytest.approx(NORMAL_95, abs=1e-6)
    for freedom in (4.0, 7.3, 60.0):
        assert draws.student(freedom).quantiles(u[::999]) == pytest.approx(
            stdtrit(freedom, u[::999]) * NORMAL_95 / stdtrit(freedom, 0.975), rel=1e-4, abs=1e-9
        )


@pytest.mark.parametrize("distribution", [NORMAL, RECTANGULAR, draws.student(4.0), draws.student(19.0)])
def test_a_characteristic_function_is_the_mean_cosine_of_the_numbers(distribution):
    x = np.array([0.1, 0.7, 1.5, 3.0])
    numbers = distribution.quantiles((np.arange(20_000) + 0.5) / 20_000)
    assert distribution.characteristic(x) == pytest.approx(
        np.cos(np.outer(x, numbers)).mean(axis=1), abs=1e-3
    )


def test_an_amplitude_has_unit_mean_square_about_its_middle():
    factor = Source("x", "a", {}, amplitude="y", around=2.0).factor((np.arange(1000) + 0.5) / 1000)
    assert np.mean(factor**2) == pytest.approx(1.0, abs=1e-5) and np.mean(factor) / np.std(
        factor
    ) == pytest.approx(2.0, abs=1e-5)


# Numbers -----------------------------------------------------------------------------------------------------------


def test_draws_are_one_in_each_part_and_depend_on_seed_and_name_alone():
    u = draws.stratified(3, "a|b", 500)
    assert (
        sorted((u * 500).astype(int)) == list(range(500))
        and u.tolist() == draws.stratified(3, "a|b", 500).tolist()
    )
    assert (
        u.tolist() != draws.stratified(4, "a|b", 500).tolist()
        and u.tolist() != draws.stratified(3, "a|c", 500).tolist()
    )
    assert abs(np.corrcoef(u, draws.stratified(3, "a|c", 500))[0, 1]) < 0.15


def test_an_error_that_is_added_changes_no_other_s_numbers():
    a, b = (
        Source("x", "a", {"zero_sw_in": np.array([1.0, 0.0])}),
        Source("x", "b", {"zero_lw_in": np.array([1.0, 1.0])}),
    )
    errors = lambda sources: draws.moved(sources, draws.scores(sources, 1, 100))
    assert (errors([a])["zero_sw_in"] == errors([b, a])["zero_sw_in"]).all()


def test_sources_are_not_correlated():
    xi = draws.scores([Source("x", str(k), {}) for k in range(200)], 1, 16384)
    apart = np.corrcoef(xi)[np.triu_indices(200, 1)]
    assert np.abs(apart).max() < 5.0 / math.sqrt(16384) and np.std(apart) == pytest.approx(
        1.0 / math.sqrt(16384), rel=0.05
    )


# Ends --------------------------------------------------------------------------------------------------------------


# JCGM 101:2008, 9.2: sums of four, 95 % intervals (half the last printed digit, and the Monte Carlo error of stratified draws)
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
    numbers = draws.moved(sources, draws.scores(sources, 5, 200_000))["sum"]
    low, high = interval(numbers, np.zeros(1))
    assert (high - low).item() / 2.0 == pytest.approx(expected, abs=tolerance)
    assert numbers.std() == pytest.approx(math.sqrt(sum(size * size for size in sizes)), rel=5e-3)


def test_an_interval_reaches_at_least_to_the_value():
    numbers = np.linspace(0.0, 1.0, 1001)[:, None]
    assert [float(end[0]) for end in interval(numbers, np.array([0.5]))] == pytest.approx([0.025, 0.975])
    assert [float(end[0]) for end in interval(numbers, np.array([2.0]))] == pytest.approx([0.025, 2.0])
    assert [float(end[0]) for end in interval(numbers, np.array([-1.0]))] == pytest.approx([-1.0, 0.975])


def linear_of_one(sources, sizes, seed=1, count=16384):
    xi = draws.scores(sources, seed, count)
    return draws.linear_parts({"y": np.array(sizes, dtype=float)[:, None]}, sources, [xi])["y"]


@pytest.mark.parametrize(
    "sources, sizes, end, expected, within",
    [
        (
            [Source("x", "a", {}), Source("x", "b", {})],
            (3.0, 4.0),
            -NORMAL_95 * 5.0,
            0.025,
            1e-6,
        ),  # normal: 3, 4, 5
        (
            [Source("x", "a", {}, distribution=RECTANGULAR)],
            (2.0,),
            0.95 * 2.0 * math.sqrt(3.0),
            0.975,
            3e-4,
        ),  # the series ends at 48 over the size
        (
            [Source("x", str(k), {}, distribution=RECTANGULAR) for k in range(4)],
            (1.0, 1.0, 1.0, 1.0),
            3.8794,
            0.975,
            1e-5,
        ),  # JCGM 101:2008, 9.2.3: analytical
        ([Source("x", "a", {}, distribution=draws.student(4.0))], (1.0,), -NORMAL_95, 0.025, 1e-4),
        (
            [Source("x", "a", {}, distribution=draws.student(4.0))],
            (1.0,),
            0.5,
            stdtr(4.0, 0.5 / NORMAL_95 * 2.776445),
            1e-4,
        ),
    ],
)
def test_the_distribution_of_a_linear_part_is_known(sources, sizes, end, expected, within):
    assert linear_of_one(sources, sizes).below([end]) == pytest.approx([expected], abs=within)


def test_numbers_that_share_an_amplitude_and_the_amplitude_itself():
    """Two of one amplitude, one of another, a plain one; what is an amplitude has no part of its own."""
    sources = [
        Source("x", "a", {}, amplitude="s|1"),
        Source("x", "b", {}, amplitude="s|1"),
        Source("x", "c", {}, amplitude="s|2", around=1.5),
        Source("x", "d", {}),
        Source("s", "1", {}, distribution=RECTANGULAR),
    ]
    linear = linear_of_one(sources, (1.0, 2.0, 1.5, 0.5, 9.0), count=400_000)
    for end in (-5.0, -1.0, 2.0, 6.0):
        assert linear.below([end]) == pytest.approx(
            np.mean(linear.draws < end), abs=4.0 * 0.5 / math.sqrt(400_000)
        )
    assert linear.sizes == pytest.approx([linear.draws.std()], rel=5e-3)


def mixture(seed, count=4096):
    """A nearly linear number of six sources, with its linear part."""
    sources = [
        Source("x", "a", {}),
        Source("x", "b", {}),
        Source("x", "c", {}),
        Source("x", "d", {}, distribution=RECTANGULAR),
        Source("x", "e", {}, distribution=RECTANGULAR),
        Source("x", "f", {}, distribution=draws.student(9.0)),
    ]
    sizes = np.array([1.0, 0.8, 0.6, 1.0, 0.7, 0.5])
    xi = draws.scores(sources, seed, count)
    numbers = (sizes @ xi + 0.03 * xi[0] * xi[3])[:, None]
    return numbers, draws.linear_parts({"y": sizes[:, None]}, sources, [xi])["y"]


def test_a_known_linear_part_takes_most_of_the_chance_out_of_the_ends_and_moves_them_nowhere():
    made = [mixture(seed) for seed in range(60)]
    settled = np.array([draws.ends(*one)[:, 0] for one in made])
    plain = np.array([np.quantile(numbers, draws.TAILS) for numbers, _ in made])
    assert settled.std(axis=0).max() < 0.4 * plain.std(axis=0).min()
    true = np.quantile(mixture(1, 1_000_000)[0], draws.TAILS)
    assert settled.mean(axis=0) == pytest.approx(true, abs=0.015)  # 0.3 % of the width
    stated = np.mean([draws.end_error(*one) for one in made])
    assert 0.8 < stated / settled.std(axis=0).max() < 1.6


def test_a_linear_part_that_is_no_guide_leaves_the_plain_quantile():
    numbers, linear = mixture(1)
    other = np.random.default_rng(1).permutation(numbers)
    assert draws.ends(other, linear) == pytest.approx(
        np.quantile(other, draws.TAILS, axis=0), abs=0.02 * np.ptp(draws.ends(other, linear))
    )
    none = draws.linear_parts({"y": np.zeros((1, 1))}, [Source("x", "a", {})], [np.zeros((1, 4096))])["y"]
    assert draws.ends(numbers, none) == pytest.approx(np.quantile(numbers, draws.TAILS, axis=0))


def test_a_source_alone_needs_no_help():
    source = Source("x", "a", {}, distribution=RECTANGULAR)
    xi = draws.scores([source], 1, 16384)
    numbers = 1.0 / (2.0 + xi.T)  # where a thousandth of a probability is far in the number
    found = draws.ends(numbers, draws.linear_parts({"y": np.array([[1.0]])}, [source], [xi])["y"])
    true = 1.0 / (2.0 + RECTANGULAR.quantiles(draws.TAILS[::-1]))
    assert found[:, 0] == pytest.approx(true, abs=1e-3 * np.ptp(true))


def test_one_unknown_draw_leaves_no_end():
    numbers, linear = mixture(1)
    numbers[7] = np.nan
    assert np.isnan(draws.ends(numbers, linear)).all() and np.isnan(draws.end_error(numbers, linear)).all()
