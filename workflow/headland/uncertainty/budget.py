"""The budget by source, and linear propagation beside the draws."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pandas as pd

from headland.uncertainty.differences import COMPARED, GroupDraws
from headland.uncertainty.distributions import NORMAL_95
from headland.uncertainty.groups import QUANTITIES
from headland.uncertainty.intervals import end_error, ends
from headland.uncertainty.linear import half_width
from headland.uncertainty.terms import Rows

ROUNDING = 1e-15
"""Share of a variance below which a source has no part: what is left of rounding."""


def budget(found: GroupDraws, rows: Rows) -> pd.DataFrame:
    """One row a surface, or pair of surfaces ("a - b"), quantity and source.

    half_width_95: from this source alone. share: of the variance. Linear; the sources are independent (what
    correlates two inputs is a source of its own), so shares add up to 1. In a difference, what both surfaces
    share cancels. rows: of uncertainty.csv, whose `label` names a source.
    """
    labels = [rows[source.term]["label"] for source in found.sources]
    distinct = list(dict.fromkeys(labels))
    belongs = np.array([[label == own for label in labels] for own in distinct], dtype=float)
    records = []
    for name, quantity, part in _rows_of(found):
        variance = part**2
        total = variance.sum()
        if not total > 0:
            continue
        by_label = zip(distinct, belongs @ variance, strict=True)
        for label, value in sorted(by_label, key=_largest_first):
            if value / total > ROUNDING:
                width = NORMAL_95 * math.sqrt(value)
                records.append((name, quantity, label, width, value / total))
    return pd.DataFrame(records, columns=["surface", "quantity", "source", "half_width_95", "share"])


def _largest_first(labelled: tuple[str, float]) -> float:
    return -labelled[1]


def _rows_of(found: GroupDraws) -> Iterator[tuple[str, str, np.ndarray]]:
    """Name, quantity and contributions of each surface, and of each pair of them."""
    names = found.groups["surface"].tolist()
    for index, name in enumerate(names):
        for quantity in QUANTITIES:
            yield name, quantity, found.parts[quantity][:, index]
    for a, b in combinations(range(len(names)), 2):
        for quantity in COMPARED:
            part = found.parts[quantity]
            yield f"{names[a]} - {names[b]}", quantity, part[:, a] - part[:, b]


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
