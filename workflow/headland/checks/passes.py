"""Passes over one field against each other: which fit another one, and sets exchanged for some visits."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.groups import counted_segments
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.base.untold import Tell, Untold, unheard

SCATTER = {"albedo": 0.06, "surface_temperature": 1.5}
"""Usual scatter of ln albedo, and of the surface temperature in K, between two passes over one field at one
time, by any set (common practice, no source)."""
CHANGE = {"albedo": 0.03, "surface_temperature": 3.0}
"""How far the same change within an hour (common practice, no source)."""
ALBEDO_SUN = 15.0
"""degrees: with a lower sun the albedo is not compared (common practice, no source)."""
FAR, FITS = 25.0, 4.0
"""Squared distance, in scatters, from which a pass does not fit its field, and up to which it fits another
(two quantities: chance of the first 4e-6 for normal errors)."""
FAR_OF_SET = 9.2
"""The same from which it does not fit its own set's other passes of its field: chance of 0.01 for normal
errors, beside the one above where a set is off on every field."""
FEWEST_OTHERS = 1
"""Other passes of a field by which one is judged."""
SAME_LIGHT = 0.14
"""ln of the ratio of two sets' SW_in in the same minutes from which one was in a shadow (common practice, no
source)."""
ONE_VISIT = 900.0
"""s: passes of a set over a field that follow one another sooner are one visit (common practice, no
source)."""
TOGETHER = 840.0
"""s: visits of two sets that begin within this may have been exchanged in the notes (common practice, no
source)."""
BETTER, SOUND = 30.0, 4.0
"""How much the sum of squared distances must fall once two visits are exchanged, and what it must then be for
each pass of both fields at most (common practice, no source)."""

ACROSS, MORE_SCATTER = 3.0, 2.0
"""Standard deviations of the ground within a pass by which its own field must lie away from its mean, and how
many times that of the field's other passes it is, from which the pass crossed an edge (common practice, no
source)."""


@dataclass(frozen=True)
class _Passes:
    """Counted passes: rows, their ln albedo and surface temperature (n x 2, K, NaN unknown), and hours."""

    rows: pd.DataFrame
    values: np.ndarray
    hours: np.ndarray

    def of_one_set(self, which: int, members: np.ndarray) -> float:
        """Squared distance of a pass from others of its own set; NaN where there are too few.

        What is wrong with a set's heads or their factors is so in all of its passes, and not seen in this.
        """
        return self.distance(which, members & (self.sets == self.sets[which]))

    def spread_of_sets(self, members: np.ndarray) -> float:
        """As `spread`, of each set's passes by themselves."""
        return sum(self.spread(members & (self.sets == name)) for name in set(self.sets[members]))

    @property
    def sets(self) -> np.ndarray:
        """Whose each pass is."""
        return self.rows["set"].to_numpy()

    def spread(self, members: np.ndarray) -> float:
        """Sum of squared distances of some passes from the others among them. members: truth values."""
        places = np.flatnonzero(members)
        return float(np.nansum([self.distance(int(place), members) for place in places])) / 2.0

    def distance(self, which: int, members: np.ndarray) -> float:
        """Squared distance of a pass from others; NaN where there are too few. members: truth values.

        The others count by how near they are in time, since surfaces warm and dry meanwhile.
        """
        others = members.copy()
        others[which] = False
        if others.sum() < FEWEST_OTHERS:
            return np.nan
        hours = (self.hours[others] - self.hours[which]) ** 2
        total, known = 0.0, 0
        for column, scatter, change in zip(self.values.T, SCATTER.values(), CHANGE.values(), strict=True):
            there = np.isfinite(column[others])
            if not np.isfinite(column[which]) or not there.any():
                continue
            weight = 1.0 / (scatter**2 + change**2 * hours[there])
            centre = np.sum(weight * column[others][there]) / weight.sum()
            total += (column[which] - centre) ** 2 / (scatter**2 + 1.0 / weight.sum())
            known += 1
        return float(total) if known else np.nan

    def visits(self) -> np.ndarray:
        """The number of each pass's visit: of one set and field, without a longer pause."""
        start = since_1970(self.rows["start_utc"])
        end = since_1970(self.rows["end_utc"])
        numbers, count = np.zeros(len(self.rows), int), 0
        for _, places in (
            self.rows.reset_index(drop=True).groupby(["set", "field"], sort=False).groups.items()
        ):
            own = np.array(sorted(places, key=lambda place: start[place]))
            new = np.concatenate([[True], start[own[1:]] - end[own[:-1]] > ONE_VISIT])
            numbers[own] = count + np.cumsum(new) - 1
            count += int(new.sum())
        return numbers

    def said(self, members: np.ndarray) -> str:
        """Albedo and surface temperature of some passes, in words."""
        rows = self.rows[members]
        parts = []
        if rows["albedo"].notna().any():
            parts.append(f"albedo {rows['albedo'].mean():.2f}")
        if rows["surface_temperature"].notna().any():
            parts.append(f"{rows['surface_temperature'].mean():.1f} degC")
        return ", ".join(parts)


def labels_doubted(
    segments: pd.DataFrame,
    file: str,
    tell: Tell = unheard,
    *,
    off: Mapping[str, Collection[str]] | None = None,
) -> list[Finding]:
    """Visits of two sets that fit exchanged, and single passes that fit another field.

    segments: step 6's, with `albedo`, `surface_temperature` (degC), `solar_elevation` and `thermal_shock`.
    file: of the notes. off: as `sets.sets_off` gives it. The albedo, or the temperature, of such a set is not
    compared, since it is off on every field.
    """
    passes = _passes(segments, off or {})
    fields = passes.rows["field"].to_numpy()
    if len(set(fields)) < 2 or not np.isfinite(passes.values).any():
        return []
    if max(np.unique(fields, return_counts=True)[1]) <= FEWEST_OTHERS:
        tell(Untold("field-inconsistent", "single-passes"))
        return []
    exchanged, places = _exchanged(passes, fields, file)
    return exchanged + _misplaced(passes, fields, file, places)


def _passes(segments: pd.DataFrame, off: Mapping[str, Collection[str]]) -> _Passes:
    rows = counted_segments(segments)
    rows = rows[rows["field"] != ""].reset_index(drop=True)
    albedo = rows["albedo"].to_numpy(float)
    lit = (rows["solar_elevation"].to_numpy(float) > ALBEDO_SUN) & (albedo > 0.0)
    lit &= ~rows["set"].isin(off.get("sw_in", ())).to_numpy()
    logs = np.where(lit, np.log(np.where(lit, albedo, 1.0)), np.nan)
    # a body that is not yet as warm as its heads gives another surface temperature
    known = (rows["thermal_shock"] == 0.0) & ~rows["set"].isin(off.get("lw_in", ()))
    warmth = rows["surface_temperature"].where(known).to_numpy(float)
    hours = (since_1970(rows["start_utc"]) + since_1970(rows["end_utc"])) / 7200.0
    return _Passes(rows, np.column_stack([logs, warmth]), hours)


def _exchanged(passes: _Passes, fields: np.ndarray, file: str) -> tuple[list[Finding], set[int]]:
    """Pairs of visits that fit better exchanged; and the places of all passes of their fields."""
    visits, sets = passes.visits(), passes.sets
    start = since_1970(passes.rows["start_utc"])
    first = {number: int(np.flatnonzero(visits == number)[0]) for number in np.unique(visits)}
    found: dict[frozenset, list[tuple[float, int, int]]] = {}
    for one, two in combinations(first, 2):
        a, b = first[one], first[two]
        apart = abs(start[a] - start[b])
        if sets[a] == sets[b] or fields[a] == fields[b] or apart > TOGETHER:
            continue
        gain = _gain(passes, fields, visits, (one, two))
        if gain > 0.0:
            found.setdefault(frozenset((fields[a], fields[b])), []).append((gain, one, two))
    findings: list[Finding] = []
    places: set[int] = set()
    for pairs in found.values():
        best = max(pairs)
        readings = [pair for pair in pairs if pair[0] > 0.8 * best[0]]
        findings.append(_exchange_finding(passes, visits, readings, file))
        names = fields[[first[best[1]], first[best[2]]]]
        places |= set(np.flatnonzero(np.isin(fields, names)).tolist())
    return findings, places


def _gain(passes: _Passes, fields: np.ndarray, visits: np.ndarray, pair: tuple[int, int]) -> float:
    """How much better two fields fit once two visits are exchanged; 0 where that is no sound reading."""
    mine, theirs = (visits == number for number in pair)
    f, g = fields[mine][0], fields[theirs][0]
    swapped = fields.copy()
    swapped[mine], swapped[theirs] = g, f
    if (fields == f).sum() == mine.sum() or (fields == g).sum() == theirs.sum():
        return 0.0
    now, then = (sum(passes.spread(labels == name) for name in (f, g)) for labels in (fields, swapped))
    own, left = (
        sum(passes.spread_of_sets(labels == name) for name in (f, g)) for labels in (fields, swapped)
    )
    count = int(((fields == f) | (fields == g)).sum())
    better = min(now - then, own - left) > BETTER  # two sets that differ everywhere make the first alone
    return now - then if better and then < SOUND * count and then < now / 3.0 else 0.0


def _exchange_finding(
    passes: _Passes, visits: np.ndarray, readings: Sequence[tuple[float, int, int]], file: str
) -> Finding:
    _, one, two = max(readings)
    rows = passes.rows
    mine, theirs = visits == one, visits == two
    a, b = rows[mine].iloc[0], rows[theirs].iloc[0]
    both = rows[mine | theirs]
    start, end = time_text(pd.DatetimeIndex([both["start_utc"].min(), both["end_utc"].max()]))
    facts = {
        "a": a["set"],
        "b": b["set"],
        "field_a": a["field"],
        "field_b": b["field"],
        "said_a": passes.said(mine),
        "said_b": passes.said(theirs),
        "usual_a": passes.said((rows["field"] == a["field"]).to_numpy() & ~mine),
        "usual_b": passes.said((rows["field"] == b["field"]).to_numpy() & ~theirs),
        "segments": ", ".join(both["segment"]),
        "readings": len(readings),
    }
    line = int(both["notes_row"].min())
    variant = "part" if len(readings) == 1 else "part-either"
    return Finding(
        "notes-sets-swapped", variant, file=file, line=line, start_utc=start, end_utc=end, facts=facts
    )


def _misplaced(passes: _Passes, fields: np.ndarray, file: str, told: set[int]) -> list[Finding]:
    """Single passes that fit another field and not their own. told: places of passes that have a finding."""
    findings = []
    for which, (name, row) in enumerate(zip(fields, passes.rows.to_dict("records"), strict=True)):
        own = passes.distance(which, fields == name), passes.of_one_set(which, fields == name)
        if which in told or not (own[0] > FAR and own[1] > FAR_OF_SET):
            continue
        others = {other: passes.distance(which, fields == other) for other in set(fields) - {name}}
        fitting = {other: far for other, far in others.items() if far < FITS}
        doubted = _either(passes, which, fields) or _alone(passes, which, fields == name)
        if not fitting or doubted:
            continue
        best = min(fitting, key=lambda other: fitting[other])
        mine = np.arange(len(fields)) == which
        facts = {
            "segment": row["segment"],
            "field": name,
            "other": best,
            "said": passes.said(mine),
            "usual": passes.said((fields == name) & ~mine),
            "there": passes.said(fields == best),
        }
        variant = "pass"
        if not _by_warmth_or_one_light(passes, which, fields == name):
            variant = "pass-light"
        elif _over_an_edge(passes, which, fields == name):
            variant = "pass-part"
        findings.append(
            Finding("field-inconsistent", variant, row["set"], file, int(row["notes_row"]), facts=facts)
        )
    return findings


def _either(passes: _Passes, which: int, fields: np.ndarray) -> bool:
    """Whether a field has two passes only, and the other one fits another field as well."""
    others = np.flatnonzero(fields == fields[which])
    if len(others) != 2:
        return False
    partner = int(others[others != which][0])
    away = set(fields) - {fields[which]}
    return any(passes.distance(partner, fields == name) < FITS for name in away)


def _by_warmth_or_one_light(passes: _Passes, which: int, members: np.ndarray) -> bool:
    """Whether a pass is far from its field by its temperature, or no shadow can be behind its albedo."""
    if not any(_own_light(passes.rows, int(place)) for place in np.flatnonzero(members)):
        return True
    warmth = np.where(np.arange(passes.values.shape[1]) == 0, np.nan, passes.values)
    return _Passes(passes.rows, warmth, passes.hours).distance(which, members) > FAR


def _own_light(rows: pd.DataFrame, which: int) -> bool:
    """Whether another set had other light during a pass, as where one upper head was in a shadow."""
    mine = rows.iloc[which]
    starts = np.maximum(since_1970(rows["start_utc"]), mine["start_utc"].timestamp())
    common = np.minimum(since_1970(rows["end_utc"]), mine["end_utc"].timestamp()) - starts
    half = 0.5 * (mine["end_utc"] - mine["start_utc"]).total_seconds()
    beside = (rows["set"] != mine["set"]).to_numpy() & (common >= half)
    light = rows["sw_in"].to_numpy(float)[beside]
    light = light[light > 0.0]
    return bool(len(light) and mine["sw_in"] > 0.0 and abs(np.log(mine["sw_in"] / light.mean())) > SAME_LIGHT)


def _over_an_edge(passes: _Passes, which: int, members: np.ndarray) -> bool:
    """Whether the ground changed within a pass by so much that a part of it may be over its own field.

    So it is where a note begins before the walk over its field, or ends after it.
    """
    others = members & (np.arange(len(members)) != which)
    within = (passes.rows["ground_sw_out"] / passes.rows["sw_out"]).to_numpy(float)
    logs = passes.values[:, 0]
    away = abs(logs[which] - np.nanmean(logs[others])) if np.isfinite(logs[others]).any() else np.nan
    return bool(within[which] > max(away / ACROSS, MORE_SCATTER * np.median(within[others])))


def _alone(passes: _Passes, which: int, members: np.ndarray) -> bool:
    """Whether the other passes of a field do not fit each other either: then none of them is the odd one."""
    others = np.flatnonzero(members)
    rest = members.copy()
    rest[which] = False
    return any(passes.distance(int(other), rest) > FAR for other in others if other != which)
