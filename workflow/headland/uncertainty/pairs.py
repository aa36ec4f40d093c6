"""Pairs of surfaces, and the segments that compare them at a common moment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from headland.base.classes import CLASS_DEFAULTS
from headland.base.groups import counted_segments
from headland.base.times import since_1970
from headland.uncertainty.course import CourseSizes, Visits, contrast, of_pair
from headland.uncertainty.draws import Errors
from headland.uncertainty.groups import Grouping
from headland.uncertainty.inputs import Surfaces

COMPARED = ("albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky")
"""The quantities that are compared between surfaces."""

COURSE_OF = {"net_radiation_common_sky": "net_radiation"}
"""Rows of course.csv that serve another quantity as well."""

SAME_VISIT = 600.0
"""s: segments of one surface that begin within this of the end of another are one visit (common practice, no
source)."""


@dataclass(frozen=True)
class Pairs:
    """All pairs of surfaces, and the segments that compare them.

    rows: places of the counted segments in the table of segments. surface: number of each one's surface.
    names: of the surfaces. pairs: their numbers, (pairs x 2). span: weights of the segments in the pair's own
    sky (pairs x counted segments, rows sum to 1). campaign: the same for the sky of the campaign (1 x counted
    segments). weights, uncertainty: of each quantity's contrasts (pairs x counted segments; pairs).
    """

    rows: np.ndarray
    surface: np.ndarray
    names: list[str]
    pairs: np.ndarray
    span: np.ndarray
    campaign: np.ndarray
    weights: Mapping[str, np.ndarray]
    uncertainty: Mapping[str, np.ndarray]


def visits_of(segments: pd.DataFrame, surface: np.ndarray, liveliness: np.ndarray) -> Visits:
    """When and where the segments were recorded. surface: number of each one's. liveliness: of each one's
    class. A field that the notes give to two surfaces is one in each.
    """
    start, end = since_1970(segments["start_utc"]), since_1970(segments["end_utc"])
    visit = np.zeros(len(segments), dtype=int)
    last: dict[int, tuple[int, float]] = {}
    count = -1
    for place in np.argsort(start, kind="stable"):
        number, until = last.get(surface[place], (-1, -np.inf))
        if start[place] > until + SAME_VISIT:
            count += 1
            number, until = count, -np.inf
        visit[place] = number
        last[surface[place]] = (number, max(until, end[place]))
    _, day = np.unique(segments["day"].to_numpy(str), return_inverse=True)
    places = [f"{where}/{name}" for where, name in zip(surface, segments["field"], strict=True)]
    _, field = np.unique(places, return_inverse=True)
    recorded = segments["weight"].to_numpy(float)
    return Visits((start + end) / 7200.0, surface, visit, day, liveliness, field, recorded)


def pairs_of(
    grouping: Grouping, values: Errors, surfaces: Surfaces, sizes: Mapping[str, CourseSizes]
) -> Pairs:
    """The pairs of surfaces of a campaign, with the contrasts that compare them.

    values: the segments' values as printed (1 x segments): a segment without a value of a quantity has no
    part in its comparison. sizes: of the course, by quantity.
    """
    names = grouping.groups["surface"].tolist()
    counted = counted_segments(grouping.segments)
    rows = grouping.segments.index.get_indexer(counted.index)
    surface = np.array([names.index(name) for name in counted["surface"]], dtype=int)
    liveliness = np.array([class_value(surfaces, name, "course") for name in counted["surface"]])
    visits = visits_of(counted, surface, liveliness)
    pairs = np.array(list(combinations(range(len(names)), 2)), dtype=int).reshape(-1, 2)
    recorded = counted["weight"].to_numpy(float)
    inside = (surface[None, :] == pairs[:, [0]]) | (surface[None, :] == pairs[:, [1]])
    span = inside * recorded
    found = {}
    for name in COMPARED:
        known = np.isfinite(values[COURSE_OF.get(name, name)][0][rows])
        found[name] = _contrasts_of(visits, known, pairs, sizes[COURSE_OF.get(name, name)])
    return Pairs(
        rows,
        surface,
        names,
        pairs,
        span / np.where(span.sum(axis=1, keepdims=True) > 0, span.sum(axis=1, keepdims=True), 1.0),
        grouping.sky[None, rows],
        {name: weights for name, (weights, _) in found.items()},
        {name: uncertainty for name, (_, uncertainty) in found.items()},
    )


def class_value(surfaces: Surfaces, name: str, key: str) -> float:
    """A property of a class that a campaign's own class may leave out."""
    return float(surfaces[name].get(key, {}).get("value", CLASS_DEFAULTS[key]))


def _contrasts_of(
    visits: Visits, known: np.ndarray, pairs: np.ndarray, sizes: CourseSizes
) -> tuple[np.ndarray, np.ndarray]:
    """Weights (pairs x segments) and standard uncertainty of the course (pairs), from the known segments.

    A pair of which one surface has no value has no contrast: nan.
    """
    weights = np.full((len(pairs), len(known)), np.nan)
    uncertainty = np.full(len(pairs), np.nan)
    of_known = Visits(*(values[known] for values in vars(visits).values()))
    places = np.flatnonzero(known)
    for row, (a, b) in enumerate(pairs):
        two, mine = of_pair(of_known, a, b)
        if len(set(two.surface)) == 2:
            found = contrast(two, sizes)
            weights[row] = 0.0
            weights[row, places[mine]] = found.weights
            uncertainty[row] = found.uncertainty
    return weights, uncertainty
