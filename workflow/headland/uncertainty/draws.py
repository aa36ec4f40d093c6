"""The random numbers of step 8, and the ends of intervals from them.

Every error that could have had another value is a `Source`. Its numbers follow from the seed and its own name alone, so that another source, segment or surface changes none of
them. That leaves no room for points that fill many dimensions evenly together: they would have to know of each other. The chance that is left in an end is taken out afterwards
instead, with what is known exactly: the distribution of the result's linear part (`ends`).
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.special import chdtri, ndtr, ndtri, stdtrit

COVERAGE = 0.95
TAILS = np.array([(1.0 - COVERAGE) / 2.0, (1.0 + COVERAGE) / 2.0])
"""Probabilities below the two ends of a probabilistically symmetric interval (JCGM 101:2008, 7.7)."""

NORMAL_95 = 1.959964
"""Coverage factor of a normal distribution for 95 % (JCGM 100:2008, table G.1: 1.960)."""

_EVEN = (np.arange(16) + 0.5) / 16.0
NODES, WEIGHTS = (
    _EVEN**3 * (10.0 - 15.0 * _EVEN + 6.0 * _EVEN**2),
    (_EVEN * (1.0 - _EVEN)) ** 2 / np.sum((_EVEN * (1.0 - _EVEN)) ** 2),
)
"""Probabilities and weights for the mean of a function of a quantile: even steps of v in u = v^3 (10 - 15 v + 6 v^2), which crowd where a quantile is steep. Right to 5e-5 for t of 4 degrees of
freedom."""

STEP, TERMS = 0.5, 96
"""Of the Fourier series of a distribution function: step of its frequencies, in 1 over the standard deviation (so it repeats itself after 12 of them), and their number (up to 48: a
rectangle alone is right to 3e-4)."""

LEAST_PART = 1e-3
"""Part of the whole, in standard deviations, below which a distribution's shape is not looked at: 400 such sources are 4e-4 of a variance."""

ALONE = 0.995
"""Part of the whole, in standard deviations, above which a source is as good as alone: its draws fill its distribution evenly by themselves, better than the series knows it."""

LEAST_BEYOND = 20.0
"""Draws beyond an end below which nothing is said of how much it owes to chance (common practice, no source)."""

Errors = Mapping[str, np.ndarray]
"""Errors by name, each over (draws x segments) or (draws x groups)."""


# Distributions ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Distribution:
    """A distribution symmetric about 0. quantiles: of probabilities. characteristic: the mean of cos(x times its number), its characteristic function (real, since symmetric)."""

    quantiles: Callable
    characteristic: Callable


def of_drawn_size(x, sizes):
    """Characteristic function, at any array x, of a normal number times a size that is drawn: mean of exp(-(x size)^2 / 2). sizes: quantiles of the size at `NODES`."""
    return sum(weight * np.exp(-0.5 * (x * size) ** 2) for weight, size in zip(WEIGHTS, sizes))


NORMAL = Distribution(ndtri, lambda x: np.exp(-0.5 * x**2))
"""Normal, of unit standard deviation."""

RECTANGULAR = Distribution(
    lambda u: math.sqrt(3.0) * (2.0 * u - 1.0), lambda x: np.sinc(math.sqrt(3.0) * x / math.pi)
)
"""Rectangular, of unit standard deviation: sqrt 3 (2 u - 1) (JCGM 101:2008, 6.4.2); sin(sqrt 3 x) / (sqrt 3 x)."""


_SCORES = np.linspace(-7.0, 7.0, 2801)


def student(freedom: float) -> Distribution:
    """Student's t, scaled so that its 95 % interval is that of a normal distribution of unit standard deviation: a normal number over the root of chi square by its degrees of freedom.

    Its quantiles are interpolated over those of the normal distribution, to 1e-4 of themselves: worked out one by one they would take longer than all else of the draws.
    """
    scale = NORMAL_95 / stdtrit(freedom, 0.5 + COVERAGE / 2.0)
    lower = (
        stdtrit(freedom, ndtr(_SCORES[:1401])) * scale
    )  # the upper half mirrored: there 1 - u has lost its digits
    table = np.concatenate([lower, -lower[-2::-1]])
    return Distribution(
        lambda u: np.interp(ndtri(u), _SCORES, table),
        lambda x: of_drawn_size(x, scale * np.sqrt(freedom / chdtri(freedom, NODES))),
    )


# Sources ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Source:
    """One error that could have had another value.

    term: its row in uncertainty.csv. unit: what shares it, such as `curlew/sw_in`; term and unit name its random numbers. shift: what one
    standard uncertainty of it does to the errors of the model, as {name: array over segments or groups}. middle: what it does to them
    on average (effects of one sign). amplitude: name of a rectangular factor, of unit mean square, that normal sources may share, or nothing. around: the
    factor's middle over its standard deviation.
    """

    term: str
    unit: str
    shift: Errors
    middle: Errors = field(default_factory=dict)
    distribution: Distribution = NORMAL
    amplitude: str = ""
    around: float = 0.0

    @property
    def name(self) -> str:
        return f"{self.term}|{self.unit}"

    def factor(self, u):
        """The amplitude at probabilities u."""
        return (self.around + RECTANGULAR.quantiles(u)) / math.sqrt(1.0 + self.around**2)


def stratified(seed: int, name: str, draws: int) -> np.ndarray:
    """As many numbers in (0, 1) as draws, one in each equal part of it, in random order; the same for the same seed and name, whatever else is drawn."""
    generator = np.random.default_rng([seed, zlib.crc32(name.encode("utf-8"))])
    return (generator.permutation(draws) + generator.random(draws)) / draws


def scores(sources: Sequence[Source], seed: int, draws: int) -> np.ndarray:
    """How many of its standard uncertainties each source is off in each draw: (sources x draws)."""
    result = np.empty((len(sources), draws))
    for row, source in zip(result, sources):
        row[:] = source.distribution.quantiles(stratified(seed, source.name, draws))
        if source.amplitude:
            row *= source.factor(stratified(seed, source.amplitude, draws))
    return result


def middles(sources: Sequence[Source]) -> dict[str, np.ndarray]:
    """Errors of the model with all sources in their middle, of one draw."""
    errors: dict[str, np.ndarray] = {}
    for source in sources:
        for name, size in source.middle.items():
            errors[name] = errors.get(name, 0.0) + np.asarray(size, dtype=float)[None, :]
    return errors


def moved(sources: Sequence[Source], xi: np.ndarray) -> dict[str, np.ndarray]:
    """Errors of the model, from all sources together. xi: how many standard uncertainties each is off (sources x draws)."""
    errors, draws = middles(sources), xi.shape[1]
    for source, row in zip(sources, xi):
        for name, size in source.shift.items():
            if name not in errors or len(errors[name]) != draws:
                # the draws of one segment lie side by side in memory: they are added to, sorted and averaged together
                errors[name] = np.zeros((len(size), draws)).T + errors.get(name, 0.0)
            for index in np.flatnonzero(size):
                errors[name][:, index] += row * size[index]
    return errors


def one_at_a_time(sources: Sequence[Source]) -> dict[str, np.ndarray]:
    """Errors with each source in turn moved up by one standard uncertainty (first half of the rows) and down (second half), all others in their middle."""
    one = np.eye(len(sources))
    return moved(sources, np.hstack([one, -one]))


# Ends of intervals -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Linear:
    """The linear part of some numbers, about 0. parts: contribution of each source (sources x numbers), of which those that count are independent once the amplitudes are given.
    draws: (draws x numbers). sizes: standard deviations. spectrum: characteristic function of the part over its size, at the frequencies of the series (numbers x TERMS)."""

    parts: np.ndarray
    draws: np.ndarray
    sizes: np.ndarray
    spectrum: np.ndarray

    def below(self, ends) -> np.ndarray:
        """Probability that the linear part lies below some ends, one a number.

        1/2 + h z / (2 pi) + sum over k of phi(k h) sin(k h z) / (k pi), z the end over the size, h the step: Gil-Pelaez's inversion of the characteristic function phi (from
        memory), by the trapezoidal rule.
        """
        k = np.arange(1, TERMS + 1)
        z = np.asarray(ends) / self.sizes
        return (
            0.5
            + STEP * z / (2.0 * math.pi)
            + np.sum(self.spectrum * np.sin(STEP * k * z[:, None]) / (k * math.pi), axis=1)
        )


def linear_of(parts: np.ndarray, sources: Sequence[Source], draws: np.ndarray) -> Linear:
    """The linear part with its distribution, from what it is made of; all as in `Linear`."""
    size = np.sqrt(np.sum(parts**2, axis=0))
    size = np.where(size > 0.0, size, 1.0)
    relative, spectrum = np.abs(parts) / size, np.ones((len(size), TERMS))

    def times(characteristic: Callable, part: np.ndarray) -> None:
        there = np.flatnonzero(part > LEAST_PART)
        spectrum[there] *= characteristic(part[there, None] * STEP * np.arange(1, TERMS + 1))

    normal = np.array([source.distribution is NORMAL for source in sources], dtype=bool)
    for row in np.flatnonzero(~normal & (relative > LEAST_PART).any(axis=1)):
        times(sources[row].distribution.characteristic, relative[row])
    for amplitude in dict.fromkeys(
        source.amplitude for source in sources
    ):  # given their amplitude, normal numbers add up to one
        rows = [row for row in np.flatnonzero(normal) if sources[row].amplitude == amplitude]
        factor = sources[rows[0]].factor(NODES) if amplitude else None
        times(
            (lambda x: of_drawn_size(x, factor)) if amplitude else NORMAL.characteristic,
            np.sqrt(np.sum(relative[rows] ** 2, axis=0)),
        )
    alone = relative.max(axis=0, initial=0.0) > ALONE
    return Linear(parts, np.where(alone, 0.0, draws) if alone.any() else draws, size, spectrum)


def linear_parts(parts: Errors, sources: Sequence[Source], xi: Sequence[np.ndarray]) -> dict[str, Linear]:
    """The linear part of each quantity. parts: contributions by quantity (sources x numbers). xi: as `scores` gives it, in one piece or several that follow each other.

    A source that is the amplitude of others has no part of its own in it, and an unknown number none at all.
    """
    factors = {source.amplitude for source in sources}
    kept = np.array([source.name not in factors for source in sources], dtype=bool)
    all_parts = np.where(kept[:, None], np.nan_to_num(np.hstack(list(parts.values()))), 0.0)
    pieces = np.split(all_parts, np.cumsum([len(piece) for piece in xi])[:-1])
    draws = sum(
        part.T @ piece for part, piece in zip(pieces, xi)
    ).T  # one product for all: each draw is read once
    by_quantity = zip(parts, *(np.split(array, len(parts), axis=1) for array in (all_parts, draws)))
    return {name: linear_of(part, sources, drawn) for name, part, drawn in by_quantity}


def _at(ordered: np.ndarray, shares) -> np.ndarray:
    """Quantiles of sorted columns, each at its own share, by linear interpolation."""
    place = shares * (len(ordered) - 1)
    below, columns = np.minimum(place.astype(int), len(ordered) - 2), np.arange(ordered.shape[1])
    return ordered[below, columns] + (place - below) * (ordered[below + 1, columns] - ordered[below, columns])


def _sorted(draws: np.ndarray) -> np.ndarray:
    """Columns sorted; nothing but nan where one draw is."""
    ordered = np.sort(
        np.asarray(draws, dtype=float), axis=0
    )  # which puts nan last; of no segments at all, a table has no type
    return np.where(np.isnan(ordered[-1]), np.nan, ordered)


def _shares(ordered: np.ndarray, draws: np.ndarray, linear: Linear) -> tuple[np.ndarray, np.ndarray]:
    """Where the quantiles of `ends` are taken (2 x numbers), and the common part of the tails there. ordered: the draws, sorted."""
    of_linear, shares, common = np.sort(linear.draws, axis=0), [], []
    for p, beyond in zip(TAILS, (np.less, np.greater)):
        plain = share = np.full(draws.shape[1], p)
        together = beyond(draws, _at(ordered, plain)) & beyond(linear.draws, _at(of_linear, plain))
        common.append(np.minimum(np.mean(together, axis=0) / TAILS[0], 1.0))
        for _ in range(
            3
        ):  # share and probability differ by chance alone: each step leaves a small part of that
            share = np.clip(share + p - linear.below(_at(of_linear, share)), 0.0, 1.0)
        shares.append(p + common[-1] * (share - p))
    return np.array(shares), np.array(common)


def ends(draws: np.ndarray, linear: Linear) -> np.ndarray:
    """Ends of the 95 % interval of numbers (2 x numbers), from their draws (draws x numbers) and their linear part in the same draws.

    Chance puts too many or too few draws beyond an end. For the linear part it is known how many, s instead of p, since its distribution and so its true end are. As far as the two
    tails are the same draws, this goes for the number itself: its quantile is taken at p + b (s - p), b the tails' common part. A control variate for a quantile (common practice of
    simulation, from memory); without a common part it is the plain quantile (JCGM 101:2008, 7.7).
    """
    ordered = _sorted(draws)
    return np.array([_at(ordered, share) for share in _shares(ordered, draws, linear)[0]])


def interval(draws: np.ndarray, value, linear: Linear | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Ends of the 95 % coverage interval of draws along the first axis (JCGM 101:2008, 7.7), reaching at least to the value itself. linear: the linear part, where it is known."""
    low, high = np.quantile(draws, TAILS, axis=0) if linear is None else ends(draws, linear)
    return np.minimum(low, value), np.maximum(high, value)


def end_error(draws: np.ndarray, linear: Linear) -> np.ndarray:
    """Standard error of the ends of `ends` by the finite number m of draws, the larger of the two; nan with fewer than 20 draws beyond an end.

    Beyond an end lie the draws with the probability t, beyond the linear part's with the same, beyond both with b t. The share of the first less b times that of the second has the
    standard error sqrt((t (1 - b^2) - t^2 (1 - b)^2) / m), without a common part sqrt(t (1 - t) / m) of the binomial distribution; by as much the quantile is taken further out or in. An
    estimate from one set of draws: that they fill each source's distribution evenly makes it too large, and b is itself uncertain.
    """
    t, ordered = TAILS[0], _sorted(draws)
    if not t * len(draws) >= LEAST_BEYOND:
        return np.full(draws.shape[1], np.nan)
    shares, b = _shares(ordered, draws, linear)
    error = np.sqrt((t * (1.0 - b**2) - t**2 * (1.0 - b) ** 2) / len(draws))
    out, back = (
        [_at(ordered, np.clip(share, 0.0, 1.0)) for share in shares + sign * error] for sign in (1.0, -1.0)
    )
    return np.max(np.subtract(out, back), axis=0) / 2.0
