"""The budget by source, and linear propagation beside the draws."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pandas as pd

from headland.uncertainty.differences import PairDraws
from headland.uncertainty.distributions import NORMAL_95
from headland.uncertainty.draws import Source
from headland.uncertainty.groups import QUANTITIES, GroupDraws
from headland.uncertainty.intervals import end_error, ends
from headland.uncertainty.linear import half_width
from headland.uncertainty.pairs import COMPARED
from headland.uncertainty.terms import Rows

ROUNDING = 1e-15
"""Share of a variance below which a source has no part: what is left of rounding."""

LEAST_VARIANCE = 1e-20
"""Variance, in the quantity's unit squared, below which all of it is rounding."""


def budget(found: GroupDraws, compared: PairDraws, rows: Rows) -> pd.DataFrame:
    """One row a surface, or pair of surfaces ("a - b"), quantity and source.

    half_width_95: from this source alone. share: of the variance. Linear; the sources are independent (what
    correlates two inputs is a source of its own), so shares add up to 1. In a difference, what both surfaces
    share cancels. rows: of uncertainty.csv, whose `label` names a source.
    """
    of_groups = _labelled(found.sources, rows)
    of_pairs = _labelled(compared.sources, rows)
    records = []
    for name, quantity, part in _of_surfaces(found):
        records += _shares(name, quantity, part, of_groups)
    for name, quantity, part in _of_pairs(compared):
        records += _shares(name, quantity, part, of_pairs)
    return pd.DataFrame(records, columns=["surface", "quantity", "source", "half_width_95", "share"])


def _labelled(sources: list[Source], rows: Rows) -> dict[str, np.ndarray]:
    """Which sources belong to each label of uncertainty.csv, as 0 and 1."""
    labels = np.array([rows[source.term]["label"] for source in sources], dtype=object)
    return {label: (labels == label).astype(float) for label in dict.fromkeys(labels)}


def _shares(name: str, quantity: str, part: np.ndarray, labelled: dict[str, np.ndarray]) -> list[tuple]:
    """Rows of one surface or pair and quantity, the largest source first.

    part: contribution of each source.
    """
    variance = part**2
    total = variance.sum()
    if not total > LEAST_VARIANCE:
        return []
    by_label = {label: float(mine @ variance) for label, mine in labelled.items()}
    ranked = sorted(by_label, key=by_label.__getitem__, reverse=True)
    return [
        (name, quantity, label, NORMAL_95 * math.sqrt(by_label[label]), by_label[label] / total)
        for label in ranked
        if by_label[label] / total > ROUNDING
    ]


def _of_surfaces(found: GroupDraws) -> Iterator[tuple[str, str, np.ndarray]]:
    """Name, quantity and contributions of each surface."""
    for index, name in enumerate(found.groups["surface"]):
        for quantity in QUANTITIES:
            yield name, quantity, found.parts[quantity][:, index]


def _of_pairs(compared: PairDraws) -> Iterator[tuple[str, str, np.ndarray]]:
    """Name, quantity and contributions of each pair at a common moment."""
    names = compared.pairs.names
    for row, (a, b) in enumerate(compared.pairs.pairs):
        for quantity in COMPARED:
            yield f"{names[a]} - {names[b]}", quantity, np.nan_to_num(compared.parts[quantity][:, row])


def linear_check(found: GroupDraws) -> pd.DataFrame:
    """The two ways side by side, one row a surface and quantity.

    half_width_linear: by linear propagation. half_width_draws: half of what the draws span. skew: how much
    further the draws reach up than down from their median, as part of the span. end_error: how well the
    number of draws settles an end, as part of the span.
    """
    tables = []
    for quantity in QUANTITIES:
        draws, linear = found.draws[quantity], found.linear[quantity]
        low, high = ends(draws, linear)
        with np.errstate(invalid="ignore", divide="ignore"):
            skew = (high + low - 2.0 * np.median(draws, axis=0)) / (high - low)
            unsettled = end_error(draws, linear) / (high - low)
        tables.append(
            pd.DataFrame(
                {
                    "surface": found.groups["surface"],
                    "quantity": quantity,
                    "half_width_linear": half_width(found.parts[quantity]),
                    "half_width_draws": (high - low) / 2.0,
                    "skew": skew,
                    "end_error": unsettled,
                }
            )
        )
    return pd.concat(tables, ignore_index=True)
