"""Notes checked against recorded runs: notes shifted in time, sets exchanged, runs that nobody noted.

A shift is suggested, never applied: the campaign file decides. Where two readings fit equally well, both are
named, with what would settle it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.time_text import time_text
from headland.base.times import LARGEST_CLOCK_OFFSET
from headland.base.untold import Tell, Untold, unheard
from headland.checks.runs import agreement, close, noted_within, runs, shared, spans_of, union
from headland.checks.shifts import (
    BEST_FIT,
    CHECK_WITHIN,
    RIVAL_BY,
    Fit,
    best_fit,
    shift_text,
    shown,
    tidy,
)

UNFIT = 0.2
"""Share of their time below which notes and runs, unshifted, fit next to nothing (common practice, no
source)."""
SMALLEST_SHIFT = {"second": 15.0, "minute": 60.0}
"""s: smaller shifts are how people note, in seconds or in whole minutes (common practice, no source)."""
SMALL_SHIFT = 150.0
"""s: up to this a watch, rounding and late starts shift the notes; the samples between are few (common
practice, no source)."""
SWAPPED, PERHAPS_SWAPPED = 0.2, 0.08
"""How much better notes fit the other set's runs: from the first on the sets are named as exchanged, from the
second on that is questioned (common practice, no source)."""
WELL_FIT = 0.85
"""Where all notes share this much with the runs at one shift, exchanged sets are not tried at other shifts
(common practice, no source)."""
BY_CHECKS = 0.02
"""The least of SWAPPED where the clock checks of both sets look exchanged, too (common practice, no
source)."""
SHORTEST_RUN = 30.0
"""s: a shorter run that nobody noted is a touch of the switch (common practice, no source)."""
NOTED_SHARE = 0.1
"""Share of a run that a note must cover for it to count as noted (common practice, no source)."""


@dataclass(frozen=True)
class _Held:
    """Runs and notes of the sets that have both. names: theirs. checks: clock checks. tell: as in
    `notes_against_runs`."""

    names: Sequence[str]
    recorded: Mapping[str, np.ndarray]
    claimed: Mapping[str, np.ndarray]
    checks: pd.DataFrame
    tell: Tell


def notes_against_runs(
    noted: pd.DataFrame,
    checks: pd.DataFrame,
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    entered: float,
    *,
    walks: bool,
    tell: Tell = unheard,
) -> list[Finding]:
    """Whether the notes belong to these recordings: a shift, sets exchanged, runs that nobody noted.

    Parameters
    ----------
    noted : intervals with `set`, `start_utc`, `end_utc`.
    checks : clock checks with `set`, `start_utc`, `logger_utc`.
    moments : of each set's samples, s, ascending, by the clock as far as it is corrected.
    intervals : of each set's samples, s.
    entered : the shift that campaign.yaml has already, s.
    walks : whether anybody walks (else a set records all day, and notes what is needed).
    tell : called with each check that could not be made.
    """
    names = list(moments)
    recorded = {name: runs(moments[name], intervals[name]) for name in names}
    claimed = {name: union(spans_of(noted[noted["set"] == name])) for name in names}
    known = [name for name in names if len(recorded[name]) and len(claimed[name])]
    findings = _causes(noted, names, _Held(known, recorded, claimed, checks, tell), entered) if known else []
    for name in names if walks else []:
        findings += _without_note(name, recorded[name], claimed[name], noted_within(noted))
    return findings


def _causes(noted: pd.DataFrame, names: Sequence[str], held: _Held, entered: float) -> list[Finding]:
    """Exchanged sets and shifts, each with what would be left over once it is corrected. names: of all
    sets."""
    whole_minutes = (noted["start_utc"].dt.second == 0).all()
    smallest = SMALLEST_SHIFT["minute" if whole_minutes else "second"]
    order, swapped = _swapped(held)
    shifted = _shifted(held, [held.claimed[name] for name in order], entered, smallest)
    whose = dict(zip(names, names, strict=True)) | dict(zip(held.names, order, strict=True))
    shifts = {name: shift for finding, shift in shifted for name in ([finding.set] if finding.set else names)}
    left = unexplained(noted, held.recorded, whose, shifts)
    return [
        finding
        if finding.variant == "fits-nowhere"
        else replace(finding, facts={**finding.facts, "left": left})
        for finding in (*swapped, *(finding for finding, _ in shifted))
    ]


def unexplained(
    noted: pd.DataFrame,
    recorded: Mapping[str, np.ndarray],
    whose: Mapping[str, str],
    shifts: Mapping[str, float],
) -> list[list[str]]:
    """Notes without data and runs without a note that remain once the notes are corrected.

    Parameters
    ----------
    noted : intervals with `set`, `start_utc`, `end_utc`.
    recorded : disjoint runs of each set, s.
    whose : for each set, in whose name its runs were noted.
    shifts : s to add to the notes of a set's runs, none where a set has no entry.

    Returns
    -------
    Code, set and start (UTC) of each.
    """
    left = []
    for name, source in whose.items():
        own = noted[noted["set"] == source]
        claimed, shift = spans_of(own), shifts.get(name, 0.0)
        for interval, start, end in zip(claimed, own["start_utc"], own["end_utc"], strict=True):
            common = float(shared(recorded[name], interval[None, :], shift))
            if common < NOTED_SHARE * (interval[1] - interval[0]):
                left.append(["note-without-data", source, time_text(pd.DatetimeIndex([start, end]))[0]])
        left += [
            [finding.code, name, finding.start_utc]
            for finding in _without_note(name, recorded[name], union(claimed + shift))
        ]
    return left


def _checked(checks: pd.DataFrame, names: Sequence[str]) -> float:
    """The shift that the clock checks of these sets support, s; NaN where there is none or they differ."""
    own = checks[checks["set"].isin(names)]
    ahead = (own["logger_utc"] - own["start_utc"]).dt.total_seconds().to_numpy(float)
    if not len(ahead) or np.ptp(ahead) > CHECK_WITHIN:
        return math.nan
    middle = float(np.median(ahead))
    return middle if abs(middle) > CHECK_WITHIN else math.nan


def _shifted(
    held: _Held, noted: Sequence[np.ndarray], entered: float, smallest: float
) -> list[tuple[Finding, float]]:
    """A shift of all notes, or else of single sets' notes, each with its s. noted: of each set, in their
    order."""
    names, recorded = held.names, [held.recorded[name] for name in held.names]
    together = best_fit(recorded, noted, _checked(held.checks, names))
    large = abs(together.shift) >= smallest
    if together.decided:
        return [(_shift_finding("", names, together, entered), together.shift)] if large else []
    odd = {
        name: fit for name, fit in _alone(held, noted).items() if fit.decided and abs(fit.shift) >= smallest
    }
    if odd and not together.improves:
        return [(_shift_finding("one-set", [name], fit, entered), fit.shift) for name, fit in odd.items()]
    if together.improves and large:
        return [(_shift_finding("undecided", names, together, entered), together.shift)]
    if together.unshifted < UNFIT and (len(names) > 1 or len(recorded[0]) > 1):
        return [(_shift_finding("fits-nowhere", names, together, entered), 0.0)]
    if together.best < BEST_FIT:
        held.tell(Untold("notes-shifted", "poor-fit"))
    elif together.best - together.rival < RIVAL_BY and not set(names) <= set(held.checks["set"]):
        held.tell(Untold("notes-shifted", "alike-times"))
    return []


def _alone(held: _Held, noted: Sequence[np.ndarray]) -> dict[str, Fit]:
    """The fit of each set's notes alone, where there are several sets."""
    if len(held.names) < 2:
        return {}
    return {
        name: best_fit([held.recorded[name]], [own], _checked(held.checks, [name]))
        for name, own in zip(held.names, noted, strict=True)
    }


def _shift_finding(variant: str, names: Sequence[str], fit: Fit, entered: float) -> Finding:
    shift, other = tidy(fit.shift), tidy(fit.rival_shift)
    whose = f" of {names[0]}" if variant == "one-set" else ""
    if abs(fit.shift) <= SMALL_SHIFT and variant in ("", "one-set"):
        variant = "small"
    return Finding(
        "notes-shifted",
        variant,
        names[0] if len(names) == 1 else "",
        facts={
            "shift": shown(shift),
            "whose": whose,
            "enter": shift_text(entered + shift),
            "other": shown(other),
            "other_enter": shift_text(entered + other),
            "fit": f"{100 * fit.best:.0f}",
            "now": f"{100 * fit.unshifted:.0f}",
            "other_fit": f"{100 * fit.rival:.0f}",
        },
    )


def _swapped(held: _Held) -> tuple[list[str], list[Finding]]:
    """The order of sets in which the notes fit the runs, and a finding where that is not the order noted.

    Of a pair the statistic is (AA + BB - AB - BA) / 2, each an intersection over union, at no shift; where
    that fits badly both ways, at the best shift of each way."""
    order, pair, fits = list(held.names), None, (0.0, 0.0)
    shifted_well = None
    for a, b in combinations(held.names, 2):
        own, other = _unshifted_fits(held, a, b)
        poor = max(own, other) < BEST_FIT
        if poor and shifted_well is None:
            shifted_well = _all_fit_at_one_shift(held)
        if poor and not shifted_well:
            own, other = _shifted_fits(held, a, b)
        if abs(own - other) <= PERHAPS_SWAPPED and not (max(own, other) < BEST_FIT and shifted_well):
            reason = "in-step" if max(own, other) >= BEST_FIT else "poor-fit"
            for name in (a, b):
                held.tell(Untold("notes-sets-swapped", reason, name))
        if own - other < fits[0] - fits[1]:
            pair, fits = (a, b), (own, other)
    better = fits[1] - fits[0]
    by_checks = pair is not None and better > BY_CHECKS and _checks_exchanged(held.checks, *pair)
    if pair is None or better <= (BY_CHECKS if by_checks else PERHAPS_SWAPPED):
        return order, []
    facts = {"a": pair[0], "b": pair[1], "own": f"{100 * fits[0]:.0f}", "other": f"{100 * fits[1]:.0f}"}
    i, j = (order.index(name) for name in pair)
    order[i], order[j] = order[j], order[i]
    variant = "undecided" if better <= SWAPPED and not by_checks else ""
    return order, [Finding("notes-sets-swapped", variant, facts=facts)]


def _unshifted_fits(held: _Held, a: str, b: str) -> tuple[float, float]:
    """Mean agreement of two sets' runs with their own notes, and with each other's, without a shift."""
    recorded, claimed = held.recorded, held.claimed
    own, other = (
        np.mean(
            [float(agreement([recorded[a]], [claimed[x]])), float(agreement([recorded[b]], [claimed[y]]))]
        )
        for x, y in ((a, b), (b, a))
    )
    return float(own), float(other)


def _shifted_fits(held: _Held, a: str, b: str) -> tuple[float, float]:
    """The same at the best shift of each way; zeros where the exchanged way does not settle on one."""
    recorded, checked = [held.recorded[a], held.recorded[b]], _checked(held.checks, [a, b])
    own, other = (
        best_fit(recorded, [held.claimed[x], held.claimed[y]], checked) for x, y in ((a, b), (b, a))
    )
    return (own.best, other.best) if other.decided else (0.0, 0.0)


def _all_fit_at_one_shift(held: _Held) -> bool:
    recorded = [held.recorded[name] for name in held.names]
    return best_fit(recorded, [held.claimed[name] for name in held.names]).best >= WELL_FIT


def _checks_exchanged(checks: pd.DataFrame, a: str, b: str) -> bool:
    """Whether the clock checks of both sets are off by the same time in opposite directions.

    That is what is seen where each was read on the other's logger.
    """
    ahead = _checked(checks, [a]), _checked(checks, [b])
    return abs(ahead[0]) > LARGEST_CLOCK_OFFSET and abs(ahead[0] + ahead[1]) <= CHECK_WITHIN


def _without_note(name: str, recorded: np.ndarray, noted: np.ndarray, within: float = 0.0) -> list[Finding]:
    """Runs that no note covers; a variant of its own where a note is within some seconds."""
    findings = []
    for run in recorded:
        lasts = run[1] - run[0]
        if lasts < SHORTEST_RUN or float(shared(run[None, :], noted)) >= NOTED_SHARE * lasts:
            continue
        start, end = time_text(pd.to_datetime(run * 1e9, unit="ns", utc=True).round("s"))
        facts = {"minutes": f"{lasts / 60:.1f}"}
        variant = "near" if within and close(run, noted, within) else ""
        findings.append(
            Finding("data-without-note", variant, name, start_utc=start, end_utc=end, facts=facts)
        )
    return findings
