"""The random numbers: what they depend on."""

import math

import numpy as np
import pytest

from headland.uncertainty.draws import Source, moved, scores, stratified


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
