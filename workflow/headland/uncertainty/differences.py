"""Differences between two surfaces as visited, in which the errors that both share cancel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.uncertainty.draws import Errors, Source
from headland.uncertainty.intervals import interval
from headland.uncertainty.linear import Linear, between

COMPARED = ("albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky")
"""The quantities that are compared between surfaces."""

COLUMNS = [
    "surface_a",
    "surface_b",
    "quantity",
    "difference",
    "difference_low",
    "difference_high",
    "distinguishable",
]


@dataclass(frozen=True)
class GroupDraws:
    """What the draws say of some groups.

    groups: the table of groups. sources: all errors that act on them. values: as printed, by quantity.
    draws: by quantity (draws x groups). parts: contribution of each source, by quantity (sources x groups).
    linear: the linear part of each quantity. unknown: groups whose ground can't be known, which get no
    interval.
    """

    groups: pd.DataFrame
    sources: list[Source]
    values: Errors
    draws: Errors
    parts: Errors
    linear: dict[str, Linear]
    unknown: np.ndarray


def differences(found: GroupDraws) -> pd.DataFrame:
    """One row a pair of surfaces and quantity: the difference, its interval, whether it leaves out 0."""
    names, records = found.groups["surface"].tolist(), []
    for a in range(len(names) - 1):
        differing = {quantity: _from_first(found, quantity, a) for quantity in COMPARED}
        for b in range(a + 1, len(names)):
            known = not found.unknown[a] and not found.unknown[b]
            for quantity in COMPARED:
                value, low, high = differing[quantity][:, b - a - 1]
                record = {"surface_a": names[a], "surface_b": names[b], "quantity": quantity}
                records.append(record | _verdict(value, low, high, known))
    return pd.DataFrame(records, columns=COLUMNS)


def _from_first(found: GroupDraws, quantity: str, a: int) -> np.ndarray:
    """Difference of surface a from each later one, with the ends of its interval (3 x later surfaces)."""
    later = slice(a + 1, None)
    value, draws = found.values[quantity], found.draws[quantity]
    difference = value[a] - value[later]
    linear = between(found.linear[quantity], a, later, found.sources)
    # each draw moves both surfaces
    return np.array([difference, *interval(draws[:, [a]] - draws[:, later], difference, linear)])


def _verdict(difference: float, low: float, high: float, known: bool) -> dict:
    """What the table says of one difference; no interval and no verdict where one ground is unknown."""
    if not known or not np.isfinite(difference):
        low, high, distinguishable = np.nan, np.nan, None
    else:
        distinguishable = bool(low > 0 or high < 0)
    return {
        "difference": difference,
        "difference_low": low,
        "difference_high": high,
        "distinguishable": distinguishable,
    }
