"""The lamps of all sets together: clocks against each other by the clouds, incoming terms, and the notes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
import pandas as pd

from headland.checks.cloud_lag import SMALLEST_LAG, clearness, lag_between
from headland.checks.same_sky import SHORTEST_COMMON
from headland.field.lamps import OF_HEADS, Lamp

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
    minutes = [np.floor(samples[n]["seconds"].to_numpy() / 60.0) for n in (a, b)]
    common = np.intersect1d(minutes[0], minutes[1])
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
    lag = lag_between(clearness(samples[a]), clearness(samples[b]))
    if not math.isfinite(lag):
        what = "The clouds, or their absence, do not show whether the clocks agree."
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
