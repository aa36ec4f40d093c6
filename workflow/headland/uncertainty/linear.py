"""Linear propagation: what each source contributes to a number, and the distribution of their sum.

The sum of the contributions is the linear part of the number. Its distribution follows from those of its
sources, so it needs no draws: `intervals` uses it to take chance out of the ends.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from headland.uncertainty.distributions import NODES, NORMAL, NORMAL_95, of_drawn_size
from headland.uncertainty.draws import Errors, Source

STEP = 0.5
"""Step of the frequencies in the Fourier series of a distribution function, in 1 over the standard deviation.
The series repeats itself after 12 standard deviations."""

WAVES = 96
"""Number of those frequencies. They reach 48: a rectangle alone is right to 3e-4."""

LEAST_PART = 1e-3
"""Part of the whole, in standard deviations, below which a distribution's shape does not matter: 400 such
sources are 4e-4 of a variance."""

ALONE = 0.995
"""Part of the whole, in standard deviations, above which a source is as good as alone. Its draws fill its
distribution evenly by themselves, better than the series describes it."""


def contributions(results: Errors) -> dict[str, np.ndarray]:
    """What each source contributes to each number, per standard uncertainty (sources x numbers).

    results: the model's results for `draws.one_at_a_time`. A contribution is half the difference between the
    source moved up and moved down (JCGM 100:2008, 5.1.3, note 2).
    """
    found = {}
    for name, rows in results.items():
        sources = len(rows) // 2
        found[name] = (rows[:sources] - rows[sources:]) / 2.0
    return found


def half_width(parts: np.ndarray) -> np.ndarray:
    """Half width of the linear 95 % interval: 1.96 sqrt(sum u^2) (JCGM 100:2008, eq. 10).

    parts: independent contributions along the first axis.
    """
    return NORMAL_95 * np.sqrt(np.sum(parts**2, axis=0))


@dataclass(frozen=True)
class Linear:
    """The linear part of some numbers, about 0.

    parts: contribution of each source (sources x numbers), independent once the amplitudes are given.
    draws: the linear part in each draw (draws x numbers).
    sizes: standard deviations of the linear parts.
    spectrum: characteristic function of the part over its size, at the frequencies of the series
        (numbers x WAVES).
    """

    parts: np.ndarray
    draws: np.ndarray
    sizes: np.ndarray
    spectrum: np.ndarray

    def below(self, ends) -> np.ndarray:
        """Probability that each linear part lies below its end. ends: one a number.

        1/2 + h z / (2 pi) + sum over k of phi(k h) sin(k h z) / (k pi), with z the end over the size and h
        the step: the inversion of the characteristic function phi (Gil-Pelaez, from memory) by the
        trapezoidal rule.
        """
        k = np.arange(1, WAVES + 1)
        z = np.asarray(ends) / self.sizes
        waves = self.spectrum * np.sin(STEP * k * z[:, None]) / (k * math.pi)
        return 0.5 + STEP * z / (2.0 * math.pi) + np.sum(waves, axis=1)


def linear_of(parts: np.ndarray, sources: Sequence[Source], draws: np.ndarray) -> Linear:
    """The linear part of some numbers with its distribution; arguments as in `Linear`."""
    size = np.sqrt(np.sum(parts**2, axis=0))
    size = np.where(size > 0.0, size, 1.0)
    relative = np.abs(parts) / size
    alone = relative.max(axis=0, initial=0.0) > ALONE
    guide = np.where(alone, 0.0, draws) if alone.any() else draws
    return Linear(parts, guide, size, _spectrum(relative, sources))


def _spectrum(relative: np.ndarray, sources: Sequence[Source]) -> np.ndarray:
    """Characteristic function of a sum of independent sources: the product of theirs (numbers x WAVES).

    relative: part of each source in the standard deviation of the sum (sources x numbers).
    """
    spectrum = np.ones((relative.shape[1], WAVES))
    frequencies = STEP * np.arange(1, WAVES + 1)

    def times(characteristic, part: np.ndarray) -> None:
        there = np.flatnonzero(part > LEAST_PART)
        spectrum[there] *= characteristic(part[there, None] * frequencies)

    normal = np.array([source.distribution is NORMAL for source in sources], dtype=bool)
    for row in np.flatnonzero(~normal & (relative > LEAST_PART).any(axis=1)).tolist():
        times(sources[row].distribution.characteristic, relative[row])
    # normal numbers with one amplitude add up to one normal number with that amplitude
    for amplitude in dict.fromkeys(source.amplitude for source in sources):
        rows = [row for row in np.flatnonzero(normal).tolist() if sources[row].amplitude == amplitude]
        together = np.sqrt(np.sum(relative[rows] ** 2, axis=0))
        times(_of_normals(sources[rows[0]]) if amplitude else NORMAL.characteristic, together)
    return spectrum


def _of_normals(source: Source) -> Callable:
    """Characteristic function of a normal number times the amplitude that its source shares with others."""
    sizes = source.factor(NODES)

    def characteristic(x):
        return of_drawn_size(x, sizes)

    return characteristic


def linear_parts(parts: Errors, sources: Sequence[Source], xi: Sequence[np.ndarray]) -> dict[str, Linear]:
    """The linear part of each quantity.

    parts: contributions by quantity (sources x numbers). sources: one a row of them. xi: what `draws.scores`
    gives, in one piece or in several that follow each other. A source that is the amplitude of others has no
    part of its own, and neither has an unknown number.
    """
    amplitudes = {source.amplitude for source in sources}
    kept = np.array([source.name not in amplitudes for source in sources], dtype=bool)
    all_parts = np.where(kept[:, None], np.nan_to_num(np.hstack(list(parts.values()))), 0.0)
    pieces = np.split(all_parts, np.cumsum([len(piece) for piece in xi])[:-1])
    # one product for all quantities, so that each draw is read once
    draws = sum(part.T @ piece for part, piece in zip(pieces, xi, strict=True)).T
    parts_of = np.split(all_parts, len(parts), axis=1)
    draws_of = np.split(draws, len(parts), axis=1)
    return {
        name: linear_of(part, sources, drawn)
        for name, part, drawn in zip(parts, parts_of, draws_of, strict=True)
    }


def between(linear: Linear, one: int, others: slice, sources: Sequence[Source]) -> Linear:
    """The linear part of the differences between one number and some others: shared sources cancel."""
    parts = linear.parts[:, [one]] - linear.parts[:, others]
    return linear_of(parts, sources, linear.draws[:, [one]] - linear.draws[:, others])
