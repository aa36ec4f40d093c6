"""From draws to the ends of 95 % intervals.

An end is a quantile of the draws. Chance puts too many or too few draws beyond it; for the linear part of the
number it is known how many, and that much is corrected.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.uncertainty.distributions import TAILS
from headland.uncertainty.draws import Errors
from headland.uncertainty.linear import Linear

LEAST_BEYOND = 20.0
"""Draws beyond an end below which nothing is said of how much it owes to chance (common practice, no
source)."""

ROUNDS = 3
"""Steps towards the share of draws below a true end. Share and probability differ by chance alone, and each
step leaves a small part of that."""


@dataclass(frozen=True)
class Guide:
    """The linear part of some numbers with its draws in order of size."""

    linear: Linear
    ordered: np.ndarray


def _at(ordered: np.ndarray, shares) -> np.ndarray:
    """Quantiles of sorted columns, each at its own share, by linear interpolation."""
    place = shares * (len(ordered) - 1)
    below = np.minimum(place.astype(int), len(ordered) - 2)
    columns = np.arange(ordered.shape[1])
    lower, upper = ordered[below, columns], ordered[below + 1, columns]
    return lower + (place - below) * (upper - lower)


def _sorted(draws: np.ndarray) -> np.ndarray:
    """Columns sorted; a column with one unknown draw is unknown."""
    # a table of no segments at all has no type of number, hence float
    ordered = np.sort(np.asarray(draws, dtype=float), axis=0)  # puts nan last
    return np.where(np.isnan(ordered[-1]), np.nan, ordered)


def _common_part(draws: np.ndarray, ordered: np.ndarray, guide: Guide, tail: int) -> np.ndarray:
    """Share of the draws beyond an end that are also beyond the linear part's end, one a number.

    tail: 0 for the lower end, 1 for the upper one. ordered: the draws, sorted.
    """
    plain = np.full(draws.shape[1], TAILS[tail])
    end, end_of_linear = _at(ordered, plain), _at(guide.ordered, plain)
    if tail == 0:
        both = (draws < end) & (guide.linear.draws < end_of_linear)
    else:
        both = (draws > end) & (guide.linear.draws > end_of_linear)
    return np.minimum(np.mean(both, axis=0) / TAILS[0], 1.0)


def _share_below_true_end(guide: Guide, probability: float) -> np.ndarray:
    """Share of the linear part's draws that lie below its true end at a probability, one a number."""
    share = np.full(guide.ordered.shape[1], probability)
    for _ in range(ROUNDS):
        below = guide.linear.below(_at(guide.ordered, share))
        share = np.clip(share + probability - below, 0.0, 1.0)
    return share


def _shares(draws: np.ndarray, ordered: np.ndarray, linear: Linear) -> tuple[np.ndarray, np.ndarray]:
    """Where the quantiles of `ends` are taken, and the common part of the tails there (both 2 x numbers)."""
    guide = Guide(linear, np.sort(linear.draws, axis=0))
    common = np.array([_common_part(draws, ordered, guide, tail) for tail in (0, 1)])
    true = np.array([_share_below_true_end(guide, probability) for probability in TAILS])
    plain = TAILS[:, None]
    return plain + common * (true - plain), common


def ends(draws: np.ndarray, linear: Linear) -> np.ndarray:
    """Ends of the 95 % interval of numbers (2 x numbers).

    draws: (draws x numbers). linear: their linear part in the same draws.

    The true end of the linear part is known, and so is the share s of its draws below that end, which by
    chance is not p. As far as the two tails are the same draws, this holds for the number itself: its
    quantile is taken at p + b (s - p), with b the tails' common part. This is a control variate for a
    quantile (common practice of simulation, from memory). Without a common part it is the plain quantile
    (JCGM 101:2008, 7.7).
    """
    ordered = _sorted(draws)
    shares, _ = _shares(draws, ordered, linear)
    return np.array([_at(ordered, share) for share in shares])


def interval(draws: np.ndarray, value, linear: Linear | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Ends of the 95 % coverage interval, reaching at least to the value itself (JCGM 101:2008, 7.7).

    draws: along the first axis. linear: the linear part of the numbers, where it is known.
    """
    low, high = np.quantile(draws, TAILS, axis=0) if linear is None else ends(draws, linear)
    return np.minimum(low, value), np.maximum(high, value)


def end_error(draws: np.ndarray, linear: Linear) -> np.ndarray:
    """Standard error of the ends of `ends` by the finite number m of draws, the larger of the two.

    draws: (draws x numbers). linear: their linear part.
    Returns one value a number; nan with fewer than 20 draws beyond an end.

    Beyond an end lie draws with the probability t, beyond the linear part's end too, beyond both b t. The
    share of the first minus b times that of the second has the standard error
    sqrt((t (1 - b^2) - t^2 (1 - b)^2) / m). Without a common part this is the binomial sqrt(t (1 - t) / m).
    The quantile is taken further out or in by as much. It is an estimate from one set of draws: these fill
    each source's distribution evenly, which makes it too large, and b is itself uncertain.
    """
    t = TAILS[0]
    if not t * len(draws) >= LEAST_BEYOND:
        return np.full(draws.shape[1], np.nan)
    ordered = _sorted(draws)
    shares, b = _shares(draws, ordered, linear)
    error = np.sqrt((t * (1.0 - b**2) - t**2 * (1.0 - b) ** 2) / len(draws))
    further = [_at(ordered, np.clip(share, 0.0, 1.0)) for share in shares + error]
    nearer = [_at(ordered, np.clip(share, 0.0, 1.0)) for share in shares - error]
    return np.max(np.subtract(further, nearer), axis=0) / 2.0


def with_intervals(
    values: Errors, draws: Errors, linear: Mapping[str, Linear], without: Mapping[str, np.ndarray]
) -> pd.DataFrame:
    """Columns Q, Q_low, Q_high of each quantity Q.

    values: as printed, one a number. draws: (draws x numbers). linear: the linear part of each quantity.
    without: numbers that get no interval, by quantity; all others get one.
    """
    columns: dict[str, np.ndarray] = {}
    for name, value in values.items():
        low, high = interval(draws[name], value, linear[name])
        if name in without:
            low = np.where(without[name], np.nan, low)
            high = np.where(without[name], np.nan, high)
        columns |= {name: value, f"{name}_low": low, f"{name}_high": high}
    return pd.DataFrame(columns)
