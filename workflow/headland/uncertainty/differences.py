"""Differences between surfaces at a common moment, and their verdicts.

A verdict is given on differences at a common moment alone. It is corrected for the number of pairs (Holm
1979). Where the course between the visits decides, the verdict is `undecided`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtr

from headland.uncertainty.distributions import COVERAGE, NORMAL_95
from headland.uncertainty.draws import Errors, Source
from headland.uncertainty.intervals import interval
from headland.uncertainty.linear import Linear
from headland.uncertainty.pairs import COMPARED, Pairs

COLUMNS = [
    "surface_a",
    "surface_b",
    "quantity",
    "difference",
    "difference_low",
    "difference_high",
    "distinguishable",
    "why",
    "as_visited",
]

TRUE, FALSE, UNDECIDED = "true", "false", "undecided"

WHY = {
    "ground": "too few looks at the ground of one of them: walk more passes over it",
    "sky": "visited under too different skies: visit both again within one spell of even sky",
    "course": "visited too far apart: visit the first again after the second, go in rounds, or use both sets",
}
"""Why a pair can't be decided, and what would settle it."""


@dataclass(frozen=True)
class PairDraws:
    """What the draws say of the pairs of surfaces.

    pairs: the pairs. sources: all errors that act on them, those of the course last. values: as printed, by
    quantity. draws: by quantity (draws x pairs). parts: contribution of each source (sources x pairs).
    linear: the linear part of each quantity. unknown: pairs of which one ground is unknown. too_different:
    pairs by quantity that were visited under too different skies. course: standard uncertainty of the course
    between the visits, by quantity.
    """

    pairs: Pairs
    sources: list[Source]
    values: Errors
    draws: Errors
    parts: Errors
    linear: dict[str, Linear]
    unknown: np.ndarray
    too_different: Errors
    course: Errors


def course_sources(pairs: Pairs) -> list[Source]:
    """What stays unknown of the course between the visits: one source a pair and quantity."""
    labels = [f"{pairs.names[a]}/{pairs.names[b]}" for a, b in pairs.pairs]
    return [
        Source("course", f"{label}/{name}", {name: np.where(np.arange(len(labels)) == row, size, 0.0)})
        for name in COMPARED
        for row, (label, size) in enumerate(zip(labels, np.nan_to_num(pairs.uncertainty[name]), strict=True))
    ]


def with_course(
    draws: Errors, parts: Errors, course: list[Source], xi: np.ndarray
) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """Draws and contributions of the differences with those of the course added to them.

    draws: (draws x pairs). parts: (sources x pairs). course: as `course_sources` gives them. xi: their
    scores.
    """
    own = {
        name: np.array([s.shift.get(name, np.zeros(draws[name].shape[1])) for s in course]) for name in draws
    }
    drawn = {name: draws[name] + xi.T @ own[name] for name in draws} if course else dict(draws)
    return drawn, {name: np.vstack([parts[name], own[name]]) if course else parts[name] for name in parts}


def differences(found: PairDraws, as_visited: Errors) -> pd.DataFrame:
    """One row a pair of surfaces and quantity: the difference at a common moment, its interval, the verdict.

    Differences are in the unit of the quantity (method.md, section 9.3; JCGM 100:2008, eq. 13).

    as_visited: differences of the surfaces' values as they were visited, by quantity (pairs).
    """
    tables = []
    for name in COMPARED:
        value = found.values[name]
        low, high = interval(found.draws[name], value, found.linear[name])
        refused = found.too_different[name] | ~np.isfinite(value)
        hidden = found.unknown | refused
        distinguishable, why = verdicts(value, low, high, found, name)
        first, second = (np.array(found.pairs.names, dtype=object)[side] for side in found.pairs.pairs.T)
        tables.append(
            pd.DataFrame(
                {
                    "surface_a": first,
                    "surface_b": second,
                    "quantity": name,
                    "difference": np.where(refused, np.nan, value),
                    "difference_low": np.where(hidden, np.nan, low),
                    "difference_high": np.where(hidden, np.nan, high),
                    "distinguishable": distinguishable,
                    "why": why,
                    "as_visited": as_visited[name],
                }
            )
        )
    order = np.argsort(np.tile(np.arange(len(found.pairs.pairs)), len(COMPARED)), kind="stable")
    return pd.concat(tables, ignore_index=True).iloc[order].reset_index(drop=True)[COLUMNS]


def verdicts(value, low, high, found: PairDraws, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Whether each pair differs, `true`, `false` or `undecided`, and why not decided (Holm 1979, from
    memory).

    A pair differs where its p-value is significant among all pairs and its interval does not hold 0: the two
    can disagree where the interval is not symmetric. It is undecided where it would differ if nothing were
    unknown of the course between the visits.
    """
    course = found.course[name]
    uncertainty = (high - low) / 2.0 / NORMAL_95
    without_course = np.sqrt(np.clip(uncertainty**2 - course**2, 0.0, None))
    possible = np.isfinite(value) & np.isfinite(uncertainty) & ~found.unknown & ~found.too_different[name]
    with np.errstate(invalid="ignore"):
        holds_zero = (low <= 0.0) & (high >= 0.0)
    significant_ = significant(p_values(value, uncertainty), possible)
    hidden = significant(p_values(value, without_course), possible) & ~significant_
    result = np.where(significant_ & ~holds_zero, TRUE, np.where(hidden, UNDECIDED, FALSE)).astype(object)
    why = np.where(hidden, WHY["course"], "").astype(object)
    result[~possible], why[~possible] = UNDECIDED, WHY["ground"]
    sky = found.too_different[name] & ~found.unknown
    why[sky] = WHY["sky"]
    nothing = ~np.isfinite(value) & ~found.unknown & ~sky
    result[nothing], why[nothing] = "", ""
    return result, why


def p_values(value: np.ndarray, uncertainty: np.ndarray) -> np.ndarray:
    """Probability of a value at least so far from 0 if there were no difference (normal, two-sided)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return 2.0 * ndtr(-np.abs(value) / uncertainty)


def significant(p: np.ndarray, possible: np.ndarray) -> np.ndarray:
    """Which of several tests are significant together (Holm 1979, from memory).

    In order of size, the k-th smallest of m p-values is compared with 0.05 / (m - k + 1). The first that
    fails ends it. possible: tests that are made at all.
    """
    result = np.zeros(len(p), dtype=bool)
    places = np.flatnonzero(possible)
    for rank, place in enumerate(places[np.argsort(p[places], kind="stable")]):
        if not p[place] <= (1.0 - COVERAGE) / (len(places) - rank):
            break
        result[place] = True
    return result
