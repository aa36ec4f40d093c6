"""Linear propagation: examples of the GUM, and the distribution of a linear part."""

import math

import numpy as np
import pytest
from scipy.special import stdtr

from headland.uncertainty.distributions import NORMAL_95, RECTANGULAR, student
from headland.uncertainty.draws import Source, one_at_a_time, scores
from headland.uncertainty.linear import between, contributions, half_width, linear_parts

from .made import drawn


def test_correlated_inputs_of_the_gum_s_resistance_example():
    """R = V cos(phi) / I: u(R) is 0.071 with the inputs' correlations and 0.195 without (GUM H.2).

    The inputs have u 0.0032 V, 0.0095 mA, 0.00075 rad and r -0.36, 0.86, -0.65.
    """
    data = np.array(
        [
            (5.007, 19.663, 1.0456),
            (4.994, 19.639, 1.0438),
            (5.005, 19.640, 1.0468),
            (4.990, 19.685, 1.0428),
            (4.999, 19.678, 1.0433),
        ]
    )
    v, i, phi = data.mean(axis=0)
    slopes = 1000.0 * np.array([math.cos(phi) / i, -v * math.cos(phi) / i**2, -v * math.sin(phi) / i])
    covariance = np.cov(data.T) / 5.0
    shared = np.linalg.cholesky(covariance)  # three independent sources behind the three inputs
    assert half_width((slopes @ shared)[:, None]) / NORMAL_95 == pytest.approx([0.071], abs=5e-4)
    assert half_width((slopes * np.sqrt(np.diag(covariance)))[:, None]) / NORMAL_95 == pytest.approx(
        [0.195], abs=1e-3
    )


def one_by_one(model, values, sources):
    """Contribution of each source to a model of named inputs that is not the chain's."""
    errors = one_at_a_time(sources)
    inputs = {name: value + errors.get(name, np.zeros((1, 1))) for name, value in values.items()}
    return contributions({"y": model(inputs)})["y"]


GAUGE = {
    "standard": 50000623.0,
    "difference": 215.0,
    "expansion": 11.5e-6,
    "temperature": -0.1,
    "more_expansion": 0.0,
    "warmer": 0.0,
}


GAUGE_SIZES = {
    "standard": 25.0,
    "difference": 9.7,
    "expansion": 1.2e-6,
    "temperature": 0.41,
    "more_expansion": 0.58e-6,
    "warmer": 0.029,
}


def gauge_block(x):
    """Length of an end gauge at 20 degC, nm (GUM H.1, eq. H.3)."""
    expanded = x["more_expansion"] * x["temperature"] + x["expansion"] * x["warmer"]
    return x["standard"] + x["difference"] - x["standard"] * expanded


def test_the_end_gauge_of_the_gum_where_linear_and_sampled_must_disagree():
    """GUM H.1: 50 000 838 nm, terms 25, 9.7, 0, 0, 2.9, 16.6 nm, u_c 32 nm linear.

    With the second-order term it is 34 nm (H.1.7), which the draws find by themselves.
    """
    sources = [Source("x", name, {name: np.array([size])}) for name, size in GAUGE_SIZES.items()]
    parts_ = np.abs(one_by_one(gauge_block, GAUGE, sources)[:, 0])
    assert gauge_block(GAUGE) == pytest.approx(50000838.0, abs=0.5)
    assert parts_ == pytest.approx([25.0, 9.7, 0.0, 0.0, 2.9, 16.68], abs=0.05)
    assert half_width(parts_[:, None]) / NORMAL_95 == pytest.approx([31.71], abs=0.02)
    draws = gauge_block({name: GAUGE[name] + e for name, e in drawn(sources, 1, 100_000).items()})
    # printed 34; the printed inputs give sqrt(31.71^2 + 11.89^2) = 33.87
    assert draws.std() == pytest.approx(33.87, abs=0.2) and draws.std() > 1.05 * 31.71


# Calibration of a thermometer (GUM Table H.6, from memory): t_k and correction b_k, degC
THERMOMETER = np.array(
    [
        (21.521, -0.171),
        (22.012, -0.169),
        (22.512, -0.166),
        (23.003, -0.159),
        (23.507, -0.164),
        (23.999, -0.165),
        (24.513, -0.156),
        (25.002, -0.157),
        (25.503, -0.159),
        (26.010, -0.161),
        (26.511, -0.160),
    ]
)


def correction_at_30(line):
    """Correction at 30 degC by a line about 20 degC."""
    return line["intercept"] + line["slope"] * 10.0


def test_the_thermometer_of_the_gum():
    """GUM H.3 (from memory): intercept -0.1712 (0.0029), slope 0.00218 (0.00067), r -0.930.

    The correction at 30 degC is -0.1494 with u 0.0041, by sources that the two share.
    """
    t, b = THERMOMETER.T
    design = np.column_stack([np.ones(11), t - 20.0])
    fit, (rest,), *_ = np.linalg.lstsq(design, b, rcond=None)
    covariance = np.linalg.inv(design.T @ design) * rest / 9.0
    assert fit == pytest.approx([-0.1712, 0.00218], abs=5e-5) and np.sqrt(
        np.diag(covariance)
    ) == pytest.approx([0.0029, 0.00067], abs=5e-5)
    shared = np.linalg.cholesky(covariance)
    sources = [
        Source("x", str(k), {"intercept": np.array([shared[0, k]]), "slope": np.array([shared[1, k]])})
        for k in range(2)
    ]
    line = {"intercept": fit[0], "slope": fit[1]}
    at_30 = one_by_one(correction_at_30, line, sources)
    assert fit @ [1.0, 10.0] == pytest.approx(-0.1494, abs=5e-5)
    assert half_width(at_30) / NORMAL_95 == pytest.approx([0.0041], abs=5e-5)
    alone = [
        Source("x", name, {name: np.array([size])})
        for name, size in zip(("intercept", "slope"), np.sqrt(np.diag(covariance)), strict=True)
    ]
    assert half_width(one_by_one(correction_at_30, line, alone)) / NORMAL_95 > [0.0070]


def test_what_days_share_in_the_gum_s_analysis_of_variance():
    """GUM H.5 (from memory): 5 readings on each of 10 days, 43 uV between days and 85 uV within.

    The mean has 18 uV, not the 13 uV of 50 independent readings.
    """
    one, days = np.ones(50), np.repeat(np.arange(10), 5)
    within = [Source("x", f"reading {k}", {"reading": 85.0 * (np.arange(50) == k)}) for k in range(50)]
    between = [Source("x", f"day {k}", {"reading": 43.0 * one * (days == k)}) for k in range(10)]

    def mean(sources):
        readings = one_at_a_time(sources)["reading"]
        return half_width(contributions({"y": readings.mean(axis=1, keepdims=True)})["y"]) / NORMAL_95

    assert mean(between + within) == pytest.approx([18.0], abs=0.5)
    wrongly = [
        Source("x", f"reading {k}", {"reading": math.hypot(85.0, 43.0) * (np.arange(50) == k)})
        for k in range(50)
    ]
    assert mean(wrongly) == pytest.approx([13.0], abs=0.5)


def linear_of_one(sources, sizes, seed=1, count=16384):
    xi = scores(sources, seed, count)
    return linear_parts({"y": np.array(sizes, dtype=float)[:, None]}, sources, [xi])["y"]


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
        ([Source("x", "a", {}, distribution=student(4.0))], (1.0,), -NORMAL_95, 0.025, 1e-4),
        (
            [Source("x", "a", {}, distribution=student(4.0))],
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


def test_a_contribution_is_half_of_what_up_and_down_differ():
    """Two sources: the first moves the number to 13 and 9 about 10, the second to 11 and 10."""
    found = contributions({"y": np.array([[13.0], [11.0], [9.0], [10.0]])})
    assert found["y"].tolist() == [[2.0], [0.5]]


def test_a_difference_has_no_part_of_what_both_share():
    sources = [Source("x", name, {}) for name in ("shared", "first", "second")]
    xi = scores(sources, 1, 1000)
    parts = {"y": np.array([[3.0, 3.0], [1.0, 0.0], [0.0, 2.0]])}
    apart = between(linear_parts(parts, sources, [xi])["y"], 0, slice(1, None), sources)
    assert apart.parts[:, 0].tolist() == [0.0, 1.0, -2.0]
    assert apart.sizes == pytest.approx([math.sqrt(5.0)])
    assert apart.draws[:, 0] == pytest.approx(xi[1] - 2.0 * xi[2])


def test_scores_may_come_in_pieces():
    sources = [Source("x", str(k), {}) for k in range(4)]
    xi, parts = scores(sources, 1, 100), {"y": np.arange(8.0).reshape(4, 2), "z": np.ones((4, 2))}
    whole, pieces = linear_parts(parts, sources, [xi]), linear_parts(parts, sources, [xi[:3], xi[3:]])
    for name in parts:
        assert pieces[name].draws == pytest.approx(whole[name].draws)
        assert whole[name].draws == pytest.approx(xi.T @ parts[name])
