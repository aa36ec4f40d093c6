"""The random numbers: what they depend on."""

import math

import numpy as np
import pytest
from scipy.special import ndtri

from headland.uncertainty.distributions import RECTANGULAR
from headland.uncertainty.draws import Source, middles, moved, one_at_a_time, scores, stratified


def test_an_amplitude_has_unit_mean_square_about_its_middle():
    factor = Source("x", "a", {}, amplitude="y", around=2.0).factor((np.arange(1000) + 0.5) / 1000)
    assert np.mean(factor**2) == pytest.approx(1.0, abs=1e-5) and np.mean(factor) / np.std(
        factor
    ) == pytest.approx(2.0, abs=1e-5)


def test_draws_are_one_in_each_part_and_depend_on_seed_and_name_alone():
    u = stratified(3, "a|b", 500)
    assert (
        sorted((u * 500).astype(int)) == list(range(500)) and u.tolist() == stratified(3, "a|b", 500).tolist()
    )
    assert (
        u.tolist() != stratified(4, "a|b", 500).tolist() and u.tolist() != stratified(3, "a|c", 500).tolist()
    )
    assert abs(np.corrcoef(u, stratified(3, "a|c", 500))[0, 1]) < 0.15


def test_an_error_that_is_added_changes_no_other_s_numbers():
    a, b = (
        Source("x", "a", {"zero_sw_in": np.array([1.0, 0.0])}),
        Source("x", "b", {"zero_lw_in": np.array([1.0, 1.0])}),
    )
    alone, beside = ([a], [b, a])
    errors, others = (moved(sources, scores(sources, 1, 100)) for sources in (alone, beside))
    assert (errors["zero_sw_in"] == others["zero_sw_in"]).all()


def test_sources_are_not_correlated():
    xi = scores([Source("x", str(k), {}) for k in range(200)], 1, 16384)
    apart = np.corrcoef(xi)[np.triu_indices(200, 1)]
    assert np.abs(apart).max() < 5.0 / math.sqrt(16384) and np.std(apart) == pytest.approx(
        1.0 / math.sqrt(16384), rel=0.05
    )


def test_the_place_in_each_part_is_random_and_so_is_the_order():
    u = stratified(3, "a|b", 20_000)
    place = u * 20_000 % 1.0
    assert (u > 0.0).all() and (u < 1.0).all()
    assert np.mean(place) == pytest.approx(0.5, abs=0.01)
    assert np.std(place) == pytest.approx(1.0 / math.sqrt(12.0), abs=0.005)  # midpoints would have 0
    assert np.histogram(place, 10, (0.0, 1.0))[0] == pytest.approx(np.full(10, 2000), abs=200)
    part = (u * 20_000).astype(int)
    assert abs(np.corrcoef(part, np.arange(20_000))[0, 1]) < 0.03
    assert abs(np.corrcoef(part[:-1], part[1:])[0, 1]) < 0.03


def test_scores_are_the_quantiles_of_the_source_s_own_numbers_times_its_amplitude():
    plain = Source("x", "a", {}, distribution=RECTANGULAR)
    sized = Source("x", "b", {}, amplitude="size|1", around=2.0)
    xi = scores([plain, sized], 7, 64)
    assert xi[0] == pytest.approx(math.sqrt(3.0) * (2.0 * stratified(7, "x|a", 64) - 1.0))
    size = (2.0 + math.sqrt(3.0) * (2.0 * stratified(7, "size|1", 64) - 1.0)) / math.sqrt(5.0)
    assert xi[1] == pytest.approx(ndtri(stratified(7, "x|b", 64)) * size)


def test_errors_are_the_middles_and_the_shifts_of_all_sources():
    sources = [
        Source(
            "x", "a", {"e": np.array([1.0, 2.0])}, {"e": np.array([10.0, 0.0]), "there": np.array([1.0, 0])}
        ),
        Source("x", "b", {"e": np.array([0.0, 5.0]), "f": np.array([3.0, 0.0])}, {"e": np.array([0.5, 0.5])}),
    ]
    assert {name: rows.tolist() for name, rows in middles(sources).items()} == {
        "e": [[10.5, 0.5]],
        "there": [[1.0, 0.0]],
    }
    errors = moved(sources, np.array([[1.0, -1.0, 0.0], [2.0, 0.0, 1.0]]))
    assert errors["e"].tolist() == [[11.5, 12.5], [9.5, -1.5], [10.5, 5.5]]
    assert errors["f"].tolist() == [[6.0, 0.0], [0.0, 0.0], [3.0, 0.0]]
    assert errors["there"].tolist() == [[1.0, 0.0]]
    one = one_at_a_time(sources)
    assert one["e"].tolist() == [[11.5, 2.5], [10.5, 5.5], [9.5, -1.5], [10.5, -4.5]]
