"""Statistics of a series: independent looks at the ground, trend, noise, memory."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.physics.series import (
    VIEW_LENGTH,
    autocorrelation,
    effective_samples,
    independent_samples,
    noise_of_mean,
    rate_of_change,
    remembered,
    without_trend,
)

from ..chain.made_segments import means, samples


def test_the_view_s_own_length():
    assert pytest.approx(2.776, abs=5e-4) == VIEW_LENGTH


@given(st.integers(3, 500))
def test_uncorrelated_samples_all_count(count):
    assert effective_samples(count, np.zeros(0)) == count


def test_wholly_correlated_samples_count_once():
    assert effective_samples(50, np.ones(49)) == pytest.approx(1.0)


def test_autocorrelation_against_the_definition():
    values = np.random.default_rng(3).normal(size=200).cumsum()
    d = values - values.mean()
    expected = np.array([np.dot(d[:-k], d[k:]) for k in range(1, 200)]) / np.dot(d, d)
    rho = autocorrelation(values)
    assert rho == pytest.approx(expected[: len(rho)]) and expected[len(rho)] <= 0 and (rho > 0).all()
    assert len(autocorrelation(np.full(30, 7.0))) == 0 == len(autocorrelation([1.0, 2.0]))


def test_autocorrelation_of_a_red_series():
    generator, r = np.random.default_rng(4), 0.8
    noise = generator.normal(size=200_000) * math.sqrt(1 - r * r)
    series = np.empty_like(noise)
    series[0] = 0.0
    for k in range(1, len(noise)):
        series[k] = r * series[k - 1] + noise[k]
    assert autocorrelation(series)[:3] == pytest.approx(
        [0.8, 0.64, 0.512], abs=0.02
    )  # 3 standard errors at this length


def test_a_walk_gives_no_more_looks_than_its_length_over_the_view():
    looks = independent_samples(100, 80.0, 1.5)
    assert looks == pytest.approx(80.0 / (2.776 * 1.5) / 1.5, rel=1e-3)
    patchy = np.repeat([1.0, -1.0, 1.0, -1.0], 25)
    assert independent_samples(100, 80.0, 1.5, patchy) < looks
    assert independent_samples(4, 1e6, 1.5) == pytest.approx(4 / 1.5)


def test_a_trend_is_taken_out():
    t = np.arange(50.0)
    rest = without_trend(3.0 + 0.2 * t + np.tile([1.0, -1.0], 25), t)
    assert abs(np.polyfit(t, rest, 1)[0]) < 1e-12 and np.std(rest) == pytest.approx(1.0, abs=0.01)
    assert np.abs(without_trend(3.0 + 0.2 * t, t)).max() < 1e-10
    assert without_trend([1.0, 5.0], [0.0, 1.0]).tolist() == [0.0, 0.0]


def test_noise_of_a_mean_is_that_of_the_samples():
    values = np.random.default_rng(5).normal(0.0, 2.0, 40_000)
    assert noise_of_mean(values, 1.0) == pytest.approx(2.0 / 200.0, rel=0.02)
    assert noise_of_mean([1.0], 1.0) == 0.0 == noise_of_mean(values, 10.0)
    assert noise_of_mean(np.arange(100.0), 1.0) == pytest.approx(math.sqrt(0.5) / 10.0)


def test_rate_of_change_of_a_steady_rise_and_of_one_sample():
    assert rate_of_change([0.0, 1.0, 2.0, 5.0], [10.0, 12.0, 14.0, 20.0]) == pytest.approx([2.0] * 4)
    assert rate_of_change([3.0], [7.0]).tolist() == [0.0]
    assert means(samples(sw_in=700.0 + 2.0 * np.arange(60)))["rate_sw_in"] == pytest.approx(2.0)


def test_a_surface_remembers_the_sun_it_had():
    seconds = np.cumsum(np.random.default_rng(8).uniform(0.5, 20.0, 40))
    values = np.random.default_rng(9).uniform(100.0, 900.0, 40)
    by_hand = [
        np.average(values[: k + 1], weights=np.exp((seconds[: k + 1] - seconds[k]) / 300.0))
        for k in range(40)
    ]
    assert remembered(seconds, values, 300.0) == pytest.approx(by_hand)
    assert remembered(seconds, np.where(np.arange(40) == 5, np.nan, 500.0)) == pytest.approx([500.0] * 40)
