"""The course of surfaces between visits, and what differs at a common moment.

Surfaces are visited in turn while sun, air and ground go on. Each visit's value, corrected to one sky and one
air temperature, still contains what stays unknown of that course: a part that all surfaces share, and a part
of each surface's own. Both are random functions of time: a random slope and a random walk. The best linear
unbiased estimate of a difference at a common moment follows from them, with its standard uncertainty
(universal kriging: Cressie 1993, section 3.4, from memory). Visits in rounds or A-B-A let the course cancel.
A single visit each does not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields

import numpy as np

MOMENTS = 9
"""Moments over which a difference is averaged, evenly spread from a pair's first to its last visit."""


@dataclass(frozen=True)
class CourseSizes:
    """Standard deviations of what stays unknown of one quantity's course, in the quantity's unit.

    common_slope, own_slope: per hour, shared by all surfaces and of one surface. common_walk, own_walk: after
    one hour. visit: of a whole visit. segment: of a segment within its visit. day: of a surface from day to
    day, and of what all surfaces share from day to day.
    """

    common_slope: float
    own_slope: float
    common_walk: float
    own_walk: float
    visit: float
    segment: float
    day: float


def course_sizes(rows: Iterable[Mapping[str, str]]) -> dict[str, CourseSizes]:
    """The sizes by quantity. rows: of course.csv, every cell as text."""
    names = [item.name for item in fields(CourseSizes)]
    return {row["quantity"]: CourseSizes(*(float(row[name]) for name in names)) for row in rows}


@dataclass(frozen=True)
class Visits:
    """When segments were recorded, and where: arrays with one entry a segment.

    hours: middle of the segment, h since any origin. surface, visit, day: numbers of each. Surfaces count
    from 0. liveliness: factor on the surface's own course (1 for bare dry ground, less where water or leaves
    damp it). field: number of each one's field; a surface may have several. recorded: time that counts in the
    mean of a surface's fields, in any unit.
    """

    hours: np.ndarray
    surface: np.ndarray
    visit: np.ndarray
    day: np.ndarray
    liveliness: np.ndarray
    field: np.ndarray
    recorded: np.ndarray


@dataclass(frozen=True)
class Contrast:
    """A difference at a common moment as a weighted sum of the segments' values.

    weights: one a segment; those of the first surface sum to 1, those of the second to -1.
    uncertainty: standard uncertainty of the course between the visits, in the quantity's unit.
    """

    weights: np.ndarray
    uncertainty: float


def slope_and_walk(a: np.ndarray, b: np.ndarray, slope: float, walk: float) -> np.ndarray:
    """Covariance of a random slope plus a random walk, both 0 at time 0, between the moments `a` and `b`.

    Parameters
    ----------
    a : b in h from 0 up; slope per h; walk after 1 h.

    Returns
    -------
    (a x b): slope^2 a b + walk^2 min(a, b).
    """
    return slope**2 * a[:, None] * b[None, :] + walk**2 * np.minimum(a[:, None], b[None, :])


def covariance(visits: Visits, sizes: CourseSizes) -> np.ndarray:
    """Covariance of the unknown course between segments, in the quantity's unit squared (segments x
    segments).
    """
    since = visits.hours - visits.hours.min()
    alike = {
        name: values[:, None] == values[None, :]
        for name, values in (("day", visits.day), ("surface", visits.surface), ("visit", visits.visit))
    }
    lively = visits.liveliness[:, None] * visits.liveliness[None, :]
    common = slope_and_walk(since, since, sizes.common_slope, sizes.common_walk) + sizes.day**2
    own = lively * (slope_and_walk(since, since, sizes.own_slope, sizes.own_walk) + sizes.day**2)
    of_day = np.where(alike["day"], common + alike["surface"] * own, 0.0)
    return of_day + sizes.visit**2 * alike["visit"] + sizes.segment**2 * np.eye(len(since))


def of_pair(visits: Visits, a: int, b: int) -> tuple[Visits, np.ndarray]:
    """The visits of two surfaces alone, numbered 0 and 1, and which segments they are.

    The result for a pair depends on its own visits only, so another surface does not change it.
    """
    mine = (visits.surface == a) | (visits.surface == b)
    second = (visits.surface[mine] == b).astype(int)
    kept = {name: values[mine] for name, values in vars(visits).items()}
    return Visits(**(kept | {"surface": second})), mine


def unknown_means(visits: Visits) -> np.ndarray:
    """Design matrix of what the visits of two surfaces are free to determine (segments x unknowns).

    The unknowns are a mean of each field, and an offset of each day after the first that all share. Where
    no day has both surfaces, such offsets could not be told from them: then the days' own part of the course
    counts in full (`CourseSizes.day`).
    """
    of_fields = visits.field[:, None] == np.unique(visits.field)[None, :]
    if not days_of_both(visits):
        return of_fields.astype(float)
    days = visits.day[:, None] == np.unique(visits.day)[None, 1:]
    return np.hstack([of_fields, days]).astype(float)


def shares_of_fields(visits: Visits) -> np.ndarray:
    """What each field counts in the difference of two surfaces: by recorded time, less than 0 for the second.

    A surface is the mean of its fields (method.md, section 6.1), whichever of them was visited more often.
    """
    sign = np.where(visits.surface == 0, 1.0, -1.0)
    total = np.array([visits.recorded[visits.surface == surface].sum() for surface in (0, 1)])
    part = sign * visits.recorded / total[visits.surface]
    return np.array([part[visits.field == field].sum() for field in np.unique(visits.field)])


def days_of_both(visits: Visits) -> list:
    """The days on which both of two surfaces were visited."""
    return [day for day in np.unique(visits.day) if len(set(visits.surface[visits.day == day])) == 2]


def common_moments(visits: Visits) -> tuple[np.ndarray, np.ndarray]:
    """Moments spread over the time in which two surfaces were visited, in h, and the day number of each.

    On several days those count on which both were visited; where there is no such day, all days of either.
    """
    chosen = days_of_both(visits) or list(np.unique(visits.day))
    spans = [visits.hours[visits.day == day] for day in chosen]
    moments = [np.linspace(hours.min(), hours.max(), MOMENTS) for hours in spans]
    return np.concatenate(moments), np.repeat(chosen, MOMENTS)


def contrast(visits: Visits, sizes: CourseSizes) -> Contrast:
    """The first surface minus the second, averaged over the time in which both were visited.

    visits: of two surfaces, as `of_pair` numbers them. Universal kriging: with the covariance C of the
    segments, the design matrix X, the covariance c of the segments with the wanted difference and its row x
    of the design, the weights w solve [C X; X' 0] [w; m] = [c; x]. The variance is v - 2 w'c + w'C w, v that
    of the difference itself. Each field has the share of `shares_of_fields` in it.
    """
    between, design = covariance(visits, sizes), unknown_means(visits)
    count, unknowns = design.shape
    moments, days = common_moments(visits)
    since, at = visits.hours - visits.hours.min(), moments - visits.hours.min()
    liveliness = np.array([visits.liveliness[visits.surface == surface][0] for surface in (0, 1)])
    own = slope_and_walk(since, at, sizes.own_slope, sizes.own_walk) + sizes.day**2
    same_day = visits.day[:, None] == days[None, :]
    sign = np.where(visits.surface == 0, 1.0, -1.0)
    towards = sign * visits.liveliness**2 * np.where(same_day, own, 0.0).mean(axis=1)
    shares = shares_of_fields(visits)
    wanted = np.concatenate([towards, shares, np.zeros(unknowns - len(shares))])
    system = np.block([[between, design], [design.T, np.zeros((unknowns, unknowns))]])
    weights = (np.linalg.pinv(system) @ wanted)[:count]
    itself = slope_and_walk(at, at, sizes.own_slope, sizes.own_walk) + sizes.day**2
    of_difference = np.sum(liveliness**2) * np.where(days[:, None] == days[None, :], itself, 0.0).mean()
    variance = of_difference - 2.0 * weights @ towards + weights @ between @ weights
    return Contrast(weights, float(np.sqrt(max(variance, 0.0))))
