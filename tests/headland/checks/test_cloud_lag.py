"""Clouds show a clock that is off; a cloudless day, on which only the sun moves and heads lean, shows
nothing."""

import numpy as np
import pandas as pd
import pytest

from headland.checks.cloud_lag import clearness, lag_between

T = np.arange(3600.0)
RNG = np.random.default_rng(5)
EDGES = np.sort(RNG.uniform(0.0, 3600.0, 24))
SUN = 500.0 + 0.08 * T
"""W m-2: the clear sky of a morning."""


def seen(share: np.ndarray, late: float = 0.0) -> pd.Series:
    frame = pd.DataFrame({"seconds": T + late, "sw_in": SUN * share, "sw_clear": SUN})
    return clearness(frame)


def clouds(moments: np.ndarray) -> np.ndarray:
    """Full sun and shadow by turns, at irregular times."""
    return np.where(np.searchsorted(EDGES, moments) % 2, 0.3, 0.95)


@pytest.mark.parametrize("late", [-160.0, 0.0, 160.0])
def test_the_lag_of_a_clock_shows_under_broken_cloud(late):
    assert lag_between(seen(clouds(T)), seen(clouds(T), late)) == pytest.approx(late, abs=5.0)


def test_a_cloudless_day_shows_no_lag():
    """Both heads lean by 3 degrees and turn with the walks; one walks 160 s after the other."""
    turn = 1.0 + 0.05 * np.sign(np.sin(2.0 * np.pi * T / 400.0))
    later = 1.0 + 0.05 * np.sign(np.sin(2.0 * np.pi * (T - 160.0) / 400.0))
    assert np.isnan(lag_between(seen(turn), seen(later)))
    assert np.isnan(lag_between(seen(np.full(3600, 0.98)), seen(np.full(3600, 1.02))))


def test_an_even_layer_and_repeating_clouds_show_no_lag():
    layer = 0.25 * np.exp(0.2 * np.sin(2.0 * np.pi * T / 1200.0))
    assert np.isnan(lag_between(seen(layer), seen(np.roll(layer, 100))))
    regular = np.where(T // 100 % 2, 0.3, 0.95)
    assert np.isnan(lag_between(seen(regular), seen(regular, 100.0)))
