"""Rates with binomial intervals, for counts that share errors within a campaign; the width of intervals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.stats import beta


@dataclass(frozen=True)
class Rate:
    """A share with its 95 % interval. campaigns: how many of them have a trial."""

    hits: int
    trials: int
    campaigns: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Return hits over trials."""
        return self.hits / self.trials if self.trials else math.nan

    def text(self, digits: int = 2) -> str:
        """Return the share with its interval, for a table."""
        if not self.trials:
            return "–"
        return f"{self.share:.{digits}f} [{self.low:.{digits}f}, {self.high:.{digits}f}]"

    def counts(self) -> str:
        """Return hits of trials with the interval, for a table."""
        return f"{self.hits} of {self.trials}: {self.text()}" if self.trials else "–"


def clopper_pearson(hits: float, trials: float) -> tuple[float, float]:
    """Return the 95 % interval of a share (Clopper and Pearson 1934); counts may be fractions."""
    low = float(beta.ppf(0.025, hits, trials - hits + 1.0)) if hits > 0 else 0.0
    high = float(beta.ppf(0.975, hits + 1.0, trials - hits)) if hits < trials else 1.0
    return low, high


def effective_trials(hits: np.ndarray, trials: np.ndarray) -> float:
    """Return how many independent trials tell as much as those of some campaigns.

    hits, trials: one of each a campaign. Errors that a campaign's numbers share make them hit or miss
    together; the scatter from campaign to campaign shows how strongly (Cochran 1977, ratio estimate of
    clusters; from memory). Where all hit or all miss, each campaign counts once.
    """
    share, campaigns = hits.sum() / trials.sum(), len(trials)
    if campaigns < 2 or share in (0.0, 1.0):
        return float(campaigns)
    variance = campaigns / (campaigns - 1) * np.sum((hits - share * trials) ** 2) / trials.sum() ** 2
    if variance <= 0.0:
        return float(trials.sum())
    return float(np.clip(share * (1.0 - share) / variance, 1.0, trials.sum()))


def rate(hit: pd.Series, campaign: pd.Series) -> Rate:
    """Return the share of hits. hit: booleans; campaign: the number of each one's campaign."""
    if not len(hit):
        return Rate(0, 0, 0, math.nan, math.nan)
    places, known = pd.factorize(campaign)
    trials = np.bincount(places, minlength=len(known))
    hits = np.bincount(places, weights=hit.to_numpy(float), minlength=len(known))
    effective = effective_trials(hits, trials)
    low, high = clopper_pearson(hits.sum() / trials.sum() * effective, effective)
    return Rate(int(hits.sum()), int(trials.sum()), len(known), low, high)


def coverage(rows: pd.DataFrame, truth: str = "truth") -> Rate:
    """Return how often intervals hold the truth."""
    known = rows[rows[truth].notna() & rows["low"].notna() & rows["high"].notna()]
    return rate((known["low"] <= known[truth]) & (known[truth] <= known["high"]), known["campaign"])


@dataclass(frozen=True)
class Width:
    """The width of intervals beside the errors of their middles."""

    bias: float  # mean of value minus truth
    error: float  # root mean square of the middle minus truth
    half: float  # mean half-width
    factor: float  # by which half-widths must grow so that 95 % of the intervals hold the truth
    below: float  # share of truths below the interval
    above: float

    @property
    def ratio(self) -> float:
        """Return the mean half-width over 1.96 times the root mean square error."""
        return self.half / (1.96 * self.error) if self.error else math.nan


def width(rows: pd.DataFrame) -> Width | None:
    """Return how wide some intervals are beside their errors."""
    known = rows[rows["truth"].notna() & rows["low"].notna() & rows["high"].notna()]
    if known.empty:
        return None
    middle, half = 0.5 * (known["low"] + known["high"]), 0.5 * (known["high"] - known["low"])
    error = middle - known["truth"]
    wide = half > 0
    return Width(
        bias=float((known["value"] - known["truth"]).mean()),
        error=float(np.sqrt((error**2).mean())),
        half=float(half.mean()),
        factor=float((error[wide].abs() / half[wide]).quantile(0.95)) if wide.any() else math.nan,
        below=float((known["truth"] < known["low"]).mean()),
        above=float((known["truth"] > known["high"]).mean()),
    )
