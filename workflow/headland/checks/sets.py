"""One set checked against another under the same sky."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

import pandas as pd
from scipy.special import ndtri

from headland.base.findings import Finding
from headland.base.time_text import time_text
from headland.base.untold import Tell, unheard
from headland.checks.campaign import Campaign
from headland.checks.same_sky import (
    FALSE_ALARM,
    INCOMING,
    common_windows,
    modelled,
    ratio,
    records_of,
    side,
    tell_uncompared,
)
from headland.checks.sky_records import FAR_OUT, LONGEST_STEP


@dataclass(frozen=True)
class _Off:
    """Two sets that disagree: the ratio of the first to the second, its relative standard uncertainty, and
    when."""

    a: str
    b: str
    value: float
    uncertainty: float
    rows: pd.DataFrame

    @property
    def names(self) -> tuple[str, str]:
        return self.a, self.b

    def other(self, name: str) -> str:
        """The other one of the two sets."""
        return self.b if self.a == name else self.a


def sets_disagree(campaign: Campaign, tell: Tell = unheard) -> list[Finding]:
    """Pairs of sets whose incoming terms differ by more than their own uncertainty allows, over the time of
    both.

    Where one set differs from several, it is named once. tell: called with each check that could not be made.
    """
    samples = campaign.samples
    near = [name for name in samples if campaign.intervals[name] <= LONGEST_STEP]
    near = near if len(near) > 1 else []
    step = max([1.0, *(campaign.intervals[name] for name in near)])
    records = records_of(campaign, near, step)
    chance = FALSE_ALARM / max(math.comb(len(near), 2), 1)
    limit = ndtri(1.0 - chance / 2.0)
    off: dict[str, list[_Off]] = {name: [] for name in INCOMING}
    compared: dict[str, set[str]] = {name: set() for name in INCOMING}
    for a, b in combinations(records, 2):
        rows = common_windows(records[a], records[b], step)
        if not len(rows):
            continue
        both = pd.concat([side(rows, a, "_a"), side(rows, b, "_b")], ignore_index=True)
        model, n = modelled(both, campaign), len(rows)
        for name in INCOMING:
            weights = rows[f"seconds_{name}"].to_numpy(float)
            found = ratio(name, weights, model.part(slice(n)), model.part(slice(n, None)), chance)
            compared[name] |= {a, b} if found else set()
            if found and abs(found[0] - 1.0) > limit * found[1]:
                off[name].append(_Off(a, b, *found, rows))
    tell_uncompared(
        "sets-disagree", "not-together" if len(samples) > 1 else "one-set", samples, compared, tell
    )
    return [finding for name, pairs in off.items() for finding in _disagreements(name, pairs)]


def sets_off(findings: Iterable[Finding]) -> dict[str, set[str]]:
    """Sets whose incoming terms may be off, by term, as `sets-disagree` and `station-disagrees` say it.

    Of two sets that disagree it may be either; where all disagree with the station, it is the station.
    """
    off: dict[str, set[str]] = {name: set() for name in INCOMING}
    for one in findings:
        if one.code == "sets-disagree":
            off[one.channel] |= {one.set} if one.variant == "several" else {one.set, one.facts["others"]}
        elif one.code == "station-disagrees" and one.set:
            off[one.channel].add(one.set)
    return off


def _disagreements(name: str, pairs: list[_Off]) -> list[Finding]:
    """Findings about one term: the set that is in most pairs first, then what the other pairs leave."""
    findings, left = [], list(pairs)
    while left:
        counts = pd.Series([n for pair in left for n in pair.names]).value_counts()
        one = str(counts.index[0]) if counts.iloc[0] > 1 else left[0].a
        mine = [pair for pair in left if one in pair.names]
        findings.append(_disagreement(name, one, mine))
        left = [pair for pair in left if one not in pair.names]
    return findings


def _disagreement(name: str, one: str, pairs: list[_Off]) -> Finding:
    first = pairs[0]
    value = first.value if first.a == one else 1.0 / first.value
    ends = pd.DatetimeIndex([first.rows["start_utc"].min(), first.rows["end_utc"].max()])
    start, end = time_text(ends.round("s"))
    return Finding(
        "sets-disagree",
        "several" if len(pairs) > 1 else "",
        one,
        start_utc=start,
        end_utc=end,
        channel=name,
        facts={
            "others": ", ".join(pair.other(one) for pair in pairs),
            "percent": f"{100 * abs(value - 1.0):.1f}",
            "direction": "more" if value > 1.0 else "less",
            "allowed": f"{100 * FAR_OUT * first.uncertainty:.1f}",
            "band": INCOMING[name],
        },
    )
