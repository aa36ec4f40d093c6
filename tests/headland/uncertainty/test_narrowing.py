"""What smaller errors would do to intervals and verdicts."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.uncertainty.narrowing import narrowed, told_apart

SHARES = pd.DataFrame({"a": [0.64, 0.36], "b": [0.0, 1.0]}, index=["sun", "heads"])


@pytest.mark.parametrize(
    ("left", "expected"),
    [
        ({}, {"a": 1.0, "b": 1.0}),
        ({"sun": 0.0}, {"a": 0.6, "b": 1.0}),
        ({"heads": 0.5}, {"a": math.sqrt(0.64 + 0.09), "b": 0.5}),
        ({"sun": 0.5, "heads": 0.5}, {"a": 0.5, "b": 0.5}),
        ({"of nobody": 0.0}, {"a": 1.0, "b": 1.0}),
    ],
)
def test_parts_shrink_by_the_square(left, expected):
    assert narrowed(SHARES, left).to_dict() == pytest.approx(expected)


def test_pairs_are_told_apart_by_the_test_of_the_verdicts():
    """Two pairs: the nearer zero needs |d| > 1.96 u, and the other |d| > 2.24 u at the first step."""
    half = 1.96
    assert list(told_apart([2.25, 1.97], [half, half])) == [True, True]
    assert list(told_apart([2.22, 2.21], [half, half])) == [False, False]
    assert list(told_apart([9.0, 1.95, np.nan], [half, half, half])) == [True, False, False]
    assert list(told_apart([9.0], [np.nan])) == [False]
    # a pair without a value or a width is no test: 2.0 is the second of two, not of three
    assert list(told_apart([2.0, 9.0, np.nan], [half, half, half])) == [True, True, False]
    assert list(told_apart([2.0, 9.0, 5.0], [half, half, np.nan])) == [True, True, False]
