"""What an order of visits leaves unknown of a difference, before anything is measured.

However many passes are walked, a difference smaller than the course between the visits can't be decided. The
course of each order follows from the sizes in course.csv (`uncertainty.course`).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.uncertainty.course import CourseSizes, Visits, contrast
from headland.uncertainty.distributions import NORMAL_95

LIVELY = 1.0
"""Course of bare dry ground: the widest (surfaces.csv, `course`)."""


def step_of(visits: pd.DataFrame) -> float:
    """Mean time from one visit of a set to its next, in h. visits: a timetable; nan with one visit alone."""
    walks = visits[(visits["activity"] == "walk") & (visits["pass"] == "1")]
    gaps = [np.diff(np.sort(own["start_utc"].to_numpy())) for _, own in walks.groupby("set")]
    every = np.concatenate(gaps) if gaps else np.array([])
    return float(np.mean(every) / np.timedelta64(1, "h")) if len(every) else float("nan")


def orders_of(fields: int, rounds: int) -> dict[str, list[tuple[int, int]]]:
    """Orders of visits to the first and the last of some fields, as (place in the order, which of the two).

    `together` has each of two sets over one of them at the same time.
    """
    last = fields - 1
    there_and_back = [(0, 0), (last, 1), (last + 1, 1), (2 * last + 1, 0)]
    in_rounds = [(place + 2 * fields * n, which) for n in range(rounds) for place, which in there_and_back]
    return {
        "each field once": [(0, 0), (last, 1)],
        "A, B, A": [(0, 0), (1, 1), (2, 0)],
        "rounds": in_rounds,
        "two sets, each over one of the two": [(0, 0), (0, 1)],
    }


def left_open(
    visits: pd.DataFrame, fields: int, rounds: int, course: Mapping[str, CourseSizes]
) -> pd.DataFrame:
    """Half width that the course alone gives a difference, by order of visits and quantity.

    visits: the timetable, whose time from visit to visit is taken. fields, rounds: of the plan.
    Returns one row an order: `order`, and a column each quantity of course.csv in its unit. Without two
    visits there is no row.
    """
    step = step_of(visits)
    if not np.isfinite(step) or fields < 2:
        return pd.DataFrame(columns=["order", *course])
    rows = []
    for name, order in orders_of(fields, rounds).items():
        places, which = (np.array(values) for values in zip(*order, strict=True))
        count = len(order)
        day, alike = np.zeros(count, int), np.ones(count)
        planned = Visits(places * step, which, np.arange(count), day, LIVELY * alike, which, alike)
        found = {key: NORMAL_95 * contrast(planned, sizes).uncertainty for key, sizes in course.items()}
        rows.append({"order": name, **found})
    return pd.DataFrame(rows)
