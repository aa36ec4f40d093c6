"""What the differences between surfaces say: verdicts, how many would seem different by chance, and a
correction for that.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from scipy.special import ndtr

COMMON = "net_radiation_common_sky"
"""The quantity on which surfaces are compared."""
TRUE, FALSE, UNDECIDED, NONE = "differ", "same", "undecided", "none"
COVERAGE_FACTOR = 1.96
"""Standard uncertainties in half a 95 % interval of a normal distribution."""


def verdict(value: object) -> str:
    """A cell of `distinguishable` as a word: differ, same, undecided, or none without an interval."""
    if isinstance(value, (bool, np.bool_)):
        return TRUE if value else FALSE
    words = {"true": TRUE, "false": FALSE, "undecided": UNDECIDED}
    return words.get(str(value), NONE)


def of_quantity(table: pd.DataFrame, quantity: str = COMMON) -> pd.DataFrame:
    """The rows of one quantity, with the column `verdict`."""
    rows = table[table["quantity"] == quantity].reset_index(drop=True)
    return rows.assign(verdict=[verdict(value) for value in rows["distinguishable"]])


def between(rows: pd.DataFrame, a: str, b: str) -> dict | None:
    """The difference a − b with its interval, whichever way its row is written; None where there is none."""
    for row in rows[(rows["surface_a"] == a) & (rows["surface_b"] == b)].to_dict("records"):
        return row
    for row in rows[(rows["surface_a"] == b) & (rows["surface_b"] == a)].to_dict("records"):
        turned = {
            "surface_a": a,
            "surface_b": b,
            "difference": -row["difference"],
            "difference_low": -row["difference_high"],
            "difference_high": -row["difference_low"],
        }
        return row | turned
    return None


def probabilities(rows: pd.DataFrame) -> np.ndarray:
    """How probable a difference this far from zero is if there is none.

    Each arm of an interval is taken for 1.96 standard uncertainties of a normal distribution.

    Returns
    -------
    One two-sided probability a row, NaN without an interval.
    """
    value = rows["difference"].to_numpy(float)
    towards_zero = np.where(
        value >= 0,
        value - rows["difference_low"].to_numpy(float),
        rows["difference_high"].to_numpy(float) - value,
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = np.abs(value) * COVERAGE_FACTOR / np.maximum(towards_zero, 0.0)
    return 2.0 * ndtr(-distance)


def differ_after_correction(rows: pd.DataFrame, level: float = 0.05) -> int:
    """How many pairs differ if the chance of one false verdict among all pairs is kept to `level`.

    The step-down procedure of Holm (1979), Scandinavian Journal of Statistics 6, 65-70: the smallest of m
    probabilities is held against level / m, the next against level / (m - 1), and so on up to the first
    failure.
    """
    known = np.sort(probabilities(rows[rows["verdict"] != NONE]))
    known = known[np.isfinite(known)]
    limits = level / np.arange(len(known), 0, -1)
    failed = np.flatnonzero(known > limits)
    return int(failed[0]) if len(failed) else len(known)


def by_chance(pairs: int, level: float = 0.05) -> float:
    """How many of so many pairs would seem different if all surfaces were the same."""
    return level * pairs


def leads(rows: pd.DataFrame, first: str) -> tuple[float, float]:
    """By how much one surface exceeds each of the others: the least and the greatest, NaN without others."""
    above = [
        row["difference"] if row["surface_a"] == first else -row["difference"]
        for row in rows.to_dict("records")
        if first in (row["surface_a"], row["surface_b"]) and math.isfinite(row["difference"])
    ]
    return (min(above), max(above)) if above else (math.nan, math.nan)
