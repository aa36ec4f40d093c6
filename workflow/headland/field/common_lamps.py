"""The lamps of all sets together: clocks against each other by the clouds, incoming terms, and the notes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
import pandas as pd

from headland.checks.same_sky import SHORTEST_COMMON
from headland.field.lamps import OF_HEADS, Lamp

LAG_BIN = 5.0
"""s: the samples of two sets are compared in bins of this width."""
LONGEST_LAG, SMALLEST_LAG, SURE_LAG = 900.0, 60.0, 0.8
"""s, s and correlation.

Clouds reach neighbouring fields within a minute; a larger lag between two sets comes from a clock (common
practice, no source).
"""
FEWEST_BINS = 60
"""Bins that two sets must have in common for a lag: 5 min."""
EVEN_SKY = 0.03
"""Relative standard deviation of the incoming shortwave below which the sky is too even to show a lag."""
READ_BOTH = "Read both clocks against one time and note it (clock_check)."


def between_sets(samples: Mapping[str, pd.DataFrame], lit: Sequence[Lamp]) -> list[Lamp]:
    """What two sets stored at the same time: their clocks by the clouds, and their incoming terms.

    samples: with `seconds`, by set. lit: lamps of findings.
    """
    lamps = []
    for a, b in combinations([name for name, frame in samples.items() if len(frame)], 2):
        lamps += _of_pair(a, b, samples, lit)
    return lamps


def _of_pair(a: str, b: str, samples: Mapping[str, pd.DataFrame], lit: Sequence[Lamp]) -> list[Lamp]:
    both = f"{a}, {b}"
    common = np.intersect1d(*(np.floor(samples[n]["seconds"].to_numpy() / 60.0) for n in (a, b)))
    if not len(common):
        remedy = "Check both clocks and utc_offset; let both store side by side for 5 min."
        return [Lamp(both, "clocks", "amber", "The two sets have no minute of storage in common.", remedy)]
    if any(lamp.set in (a, b) and lamp.subject in OF_HEADS for lamp in lit):
        what = "To be compared once the findings of single heads are corrected."
        return [Lamp(both, "clocks and incoming terms", "grey", what)]
    lamps = [_clocks(a, b, samples)]
    if not any(lamp.code == "sets-disagree" and lamp.set in (a, b) for lamp in lit):
        long_enough = len(common) * 60.0 >= SHORTEST_COMMON
        known = all(np.isfinite(samples[n]["lw_in"].to_numpy(float)).any() for n in (a, b))
        lamps.append(_incoming(both, long_enough and known))
    return lamps


def _clocks(a: str, b: str, samples: Mapping[str, pd.DataFrame]) -> Lamp:
    both = f"{a}, {b}"
    lag, sure = lag_between(*(samples[n].set_index("seconds")["sw_in"].dropna() for n in (a, b)))
    if not sure >= SURE_LAG:
        what = "The sky was too even, or the fields too far apart, to compare the clocks."
        return Lamp(both, "clocks", "grey", what, READ_BOTH)
    if abs(lag) >= SMALLEST_LAG:
        order = "after" if lag > 0 else "before"
        what = f"Clouds reach {b} {abs(lag):.0f} s {order} {a}: a clock is off, or the fields are far apart."
        return Lamp(both, "clocks", "amber", what, READ_BOTH)
    return Lamp(both, "clocks", "green", f"Clouds reach both within {abs(lag):.0f} s.")


def _incoming(both: str, compared: bool) -> Lamp:
    subject = "incoming terms of both"
    if compared:
        return Lamp(both, subject, "green", "They agree within their uncertainties.")
    return Lamp(
        both, subject, "grey", "Nothing in common to compare.", "Let both stand side by side for 5 min."
    )


def of_notes(file: str, noted: pd.DataFrame, sets: Sequence[str], lit: Sequence[Lamp]) -> list[Lamp]:
    """Whether there are notes, whether each has samples, and whether each set's clock was read.

    file: of the notes, empty where there is none. lit: lamps of findings.
    """
    if not file:
        remedy = "Type them in while everybody remembers, and look again."
        return [Lamp("", "notes", "grey", "No notes in the folder yet.", remedy)]
    counted = noted[noted["activity"] != "clock_check"]
    lamps = []
    if len(counted) and not any(lamp.code in ("note-without-data", "notes-shifted") for lamp in lit):
        lamps.append(Lamp("", "notes", "green", f"All {len(counted)} noted intervals have samples."))
    read = set(noted.loc[noted["activity"] == "clock_check", "set"])
    remedy = "Read the logger's clock and the time and note both (clock_check), before you switch it off."
    return lamps + [
        Lamp(name, "clock check", "amber", "No clock check is noted.", remedy)
        for name in sets
        if len(noted) and name not in read
    ]


def lag_between(a: pd.Series, b: pd.Series) -> tuple[float, float]:
    """The lag by which one set's incoming shortwave runs behind another's.

    Parameters: SW in of two sets over seconds by their own clocks. Returns: the lag of b in s, in steps of
    LAG_BIN up to LONGEST_LAG, and the correlation at that lag; NaN where they have no 5 min in common or the
    sky was too even.
    """
    first, second = (
        s.groupby(np.floor(s.index.to_numpy() / LAG_BIN).astype(np.int64)).mean() for s in (a, b)
    )
    best = (math.nan, math.nan)
    most = int(LONGEST_LAG / LAG_BIN)
    for step in sorted(range(-most, most + 1), key=abs):
        _, of_a, of_b = np.intersect1d(
            first.index, second.index - step, assume_unique=True, return_indices=True
        )
        pair = np.stack([first.to_numpy()[of_a], second.to_numpy()[of_b]])
        if pair.shape[1] < FEWEST_BINS or (pair.std(axis=1) < EVEN_SKY * pair.mean(axis=1)).any():
            continue
        found = float(np.corrcoef(pair)[0, 1])
        if not best[1] >= found:
            best = (step * LAG_BIN, found)
    return best
