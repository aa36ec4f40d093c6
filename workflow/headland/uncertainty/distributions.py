"""The distributions that errors are drawn from: normal, rectangular, Student's t.

Each one is symmetric about 0 and known in two ways. Its quantiles turn probabilities into numbers, for the
draws. Its characteristic function gives the distribution of a sum of errors, for the ends of intervals.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri, ndtr, ndtri, stdtrit

COVERAGE = 0.95
"""Coverage probability of every interval."""

TAILS = np.array([(1.0 - COVERAGE) / 2.0, (1.0 + COVERAGE) / 2.0])
"""Probabilities below the two ends of a probabilistically symmetric interval (JCGM 101:2008, 7.7)."""

NORMAL_95 = 1.959964
"""Coverage factor of a normal distribution for 95 % (JCGM 100:2008, table G.1: 1.960)."""

_EVEN = (np.arange(16) + 0.5) / 16.0
_SLOPE = (_EVEN * (1.0 - _EVEN)) ** 2

NODES = _EVEN**3 * (10.0 - 15.0 * _EVEN + 6.0 * _EVEN**2)
"""Probabilities at which a quantile function is looked at to average a function of it: even steps of v in
u = v^3 (10 - 15 v + 6 v^2), which crowd where a quantile is steep."""

WEIGHTS = _SLOPE / np.sum(_SLOPE)
"""Weights of the `NODES` in such a mean, which is right to 5e-5 for t of 4 degrees of freedom."""


@dataclass(frozen=True)
class Distribution:
    """A distribution symmetric about 0.

    quantiles: the numbers at given probabilities.
    characteristic: the characteristic function, the mean of cos(x times the number); real by symmetry.
    """

    quantiles: Callable
    characteristic: Callable


def of_drawn_size(x, sizes):
    """Characteristic function of a normal number times a size that is itself drawn.

    x: any array. sizes: quantiles of the size at `NODES`.
    Returns the mean of exp(-(x size)^2 / 2), of the shape of x.
    """
    return sum(weight * np.exp(-0.5 * (x * size) ** 2) for weight, size in zip(WEIGHTS, sizes, strict=True))


def _characteristic_of_normal(x):
    return np.exp(-0.5 * x**2)


def _quantiles_of_rectangle(u):
    return math.sqrt(3.0) * (2.0 * u - 1.0)


def _characteristic_of_rectangle(x):
    return np.sinc(math.sqrt(3.0) * x / math.pi)  # sin(sqrt 3 x) / (sqrt 3 x)


NORMAL = Distribution(ndtri, _characteristic_of_normal)
"""Normal distribution of unit standard deviation."""

RECTANGULAR = Distribution(_quantiles_of_rectangle, _characteristic_of_rectangle)
"""Rectangular distribution of unit standard deviation: sqrt 3 (2 u - 1) (JCGM 101:2008, 6.4.2)."""

_SCORES = np.linspace(-7.0, 7.0, 2801)
_LOWER_SCORES = _SCORES[:1401]


def student(freedom: float) -> Distribution:
    """Student's t, scaled so that its 95 % interval is that of a normal distribution of unit deviation.

    freedom: degrees of freedom. Its quantiles are interpolated over those of the normal distribution, right
    to 1e-4 of themselves: to compute each one would take longer than the rest of the draws together. Its
    characteristic function is that of a normal number over the root of chi square by its freedom.
    """
    scale = NORMAL_95 / stdtrit(freedom, 0.5 + COVERAGE / 2.0)
    # the upper half is the lower one mirrored: there 1 - u has lost its digits
    lower = stdtrit(freedom, ndtr(_LOWER_SCORES)) * scale
    table = np.concatenate([lower, -lower[-2::-1]])
    sizes = scale * np.sqrt(freedom / chdtri(freedom, NODES))

    def quantiles(u):
        return np.interp(ndtri(u), _SCORES, table)

    def characteristic(x):
        return of_drawn_size(x, sizes)

    return Distribution(quantiles, characteristic)
