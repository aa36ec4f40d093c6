"""Distributions: spread, quantiles, characteristic functions."""

import numpy as np
import pytest
from scipy.special import stdtrit

from headland.uncertainty.distributions import NORMAL, NORMAL_95, RECTANGULAR, student


def test_quantiles_have_unit_spread():
    u = (np.arange(200_000) + 0.5) / 200_000
    for quantiles in (NORMAL.quantiles, RECTANGULAR.quantiles):
        assert np.mean(quantiles(u)) == pytest.approx(0.0, abs=1e-9) and np.std(
            quantiles(u)
        ) == pytest.approx(1.0, abs=1e-3)
    assert NORMAL.quantiles(0.975) == pytest.approx(NORMAL_95, abs=1e-6)
    for freedom in (4.0, 7.3, 60.0):
        assert student(freedom).quantiles(u[::999]) == pytest.approx(
            stdtrit(freedom, u[::999]) * NORMAL_95 / stdtrit(freedom, 0.975), rel=1e-4, abs=1e-9
        )


@pytest.mark.parametrize("distribution", [NORMAL, RECTANGULAR, student(4.0), student(19.0)])
def test_a_characteristic_function_is_the_mean_cosine_of_the_numbers(distribution):
    x = np.array([0.1, 0.7, 1.5, 3.0])
    numbers = distribution.quantiles((np.arange(20_000) + 0.5) / 20_000)
    assert distribution.characteristic(x) == pytest.approx(
        np.cos(np.outer(x, numbers)).mean(axis=1), abs=1e-3
    )
