"""What the differences between surfaces say: verdicts, and how many would seem different by chance."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

COMMON = "net_radiation_common_sky"
"""The quantity on which surfaces are compared."""
TRUE, FALSE, UNDECIDED, NONE = "differ", "same", "undecided", "none"


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


def by_chance(pairs: int, level: float = 0.05) -> float:
    """How many of so many intervals would exclude zero if all surfaces were the same."""
    return level * pairs


def leads(rows: pd.DataFrame, first: str) -> pd.Series:
    """By how much one surface exceeds each of the others, by their names, the least first."""
    above = {
        row["surface_b"] if row["surface_a"] == first else row["surface_a"]: (
            row["difference"] if row["surface_a"] == first else -row["difference"]
        )
        for row in rows.to_dict("records")
        if first in (row["surface_a"], row["surface_b"]) and math.isfinite(row["difference"])
    }
    return pd.Series(above, dtype=float).sort_values()
