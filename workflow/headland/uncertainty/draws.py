"""Error sources and their random numbers.

Every error that could have had another value is a `Source`. Its numbers follow from the seed and its own name
alone, so that another source, segment or surface changes none of them. Numbers that depend on their own name
cannot be chosen to fill many dimensions evenly together; `intervals` corrects the ends for that.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from headland.uncertainty.distributions import NORMAL, RECTANGULAR, Distribution

Errors = Mapping[str, np.ndarray]
"""Errors of the model by name, each over (draws x segments) or (draws x groups)."""


@dataclass(frozen=True)
class Source:
    """One error that could have had another value.

    term: its row in uncertainty.csv.
    unit: what shares it, such as `curlew/sw_in`. Term and unit name its random numbers.
    shift: what one standard uncertainty of it does to the errors of the model, as
        {name of the error: array over segments or groups}.
    middle: what it does to them on average; effects of one sign have such a middle.
    distribution: of its number of standard uncertainties.
    amplitude: name of a rectangular factor of unit mean square that several normal sources share, or "".
    around: the middle of that factor over its standard deviation.
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
    """Random numbers in (0, 1), one at a random place in each equal part of it, in random order.

    seed, name: the same two give the same numbers, whatever else is drawn. draws: how many.
    Returns an array of that length.
    """
    generator = np.random.default_rng([seed, zlib.crc32(name.encode("utf-8"))])
    return (generator.permutation(draws) + generator.random(draws)) / draws


def scores(sources: Sequence[Source], seed: int, draws: int) -> np.ndarray:
    """How many of its standard uncertainties each source is off in each draw (sources x draws)."""
    result = np.empty((len(sources), draws))
    for row, source in zip(result, sources, strict=True):
        row[:] = source.distribution.quantiles(stratified(seed, source.name, draws))
        if source.amplitude:
            row *= source.factor(stratified(seed, source.amplitude, draws))
    return result


def middles(sources: Sequence[Source]) -> dict[str, np.ndarray]:
    """Errors of the model with all sources in their middle (1 x segments or groups)."""
    errors: dict[str, np.ndarray] = {}
    for source in sources:
        for name, size in source.middle.items():
            errors[name] = errors.get(name, 0.0) + np.asarray(size, dtype=float)[None, :]
    return errors


def moved(sources: Sequence[Source], xi: np.ndarray) -> dict[str, np.ndarray]:
    """Errors of the model that all sources make together.

    xi: how many standard uncertainties each source is off (sources x draws).
    Returns each error over (draws x segments or groups).
    """
    errors, draws = middles(sources), xi.shape[1]
    for source, row in zip(sources, xi, strict=True):
        for name, size in source.shift.items():
            if name not in errors or len(errors[name]) != draws:
                # the draws of one segment are neighbours in memory: they are used together
                errors[name] = np.zeros((len(size), draws)).T + errors.get(name, 0.0)
            for index in np.flatnonzero(size):
                errors[name][:, index] += row * size[index]
    return errors


def one_at_a_time(sources: Sequence[Source]) -> dict[str, np.ndarray]:
    """Errors of the model with one source off at a time and all others in their middle.

    The first half of the rows moves each source up by one standard uncertainty, the second half down.
    """
    one = np.eye(len(sources))
    return moved(sources, np.hstack([one, -one]))


def error(errors: Errors, name: str):
    """One error of the model; 0 where no source makes it."""
    return errors.get(name, 0.0)
