"""How large each error is: the rows of uncertainty.csv and the ranges of surfaces.csv as sizes of sources."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from headland.base.classes import GRADES, UNKNOWN_GRADE
from headland.uncertainty.distributions import NORMAL, RECTANGULAR, Distribution
from headland.uncertainty.draws import Source

PERCENT = 0.01

Rows = Mapping[str, Mapping[str, str]]
"""Rows of uncertainty.csv by term."""


@dataclass(frozen=True)
class Size:
    """How large an error is: its middle, its standard uncertainty and its distribution about the middle."""

    middle: float
    sigma: float
    distribution: Distribution


def standard_uncertainty(half_width: float) -> float:
    """Standard uncertainty of a rectangular distribution: a / sqrt 3 (JCGM 100:2008, 4.3.7)."""
    return half_width / math.sqrt(3.0)


def of_range(low: float, high: float) -> Size:
    """Size of an error that may lie anywhere from low to high."""
    return Size((low + high) / 2.0, standard_uncertainty((high - low) / 2.0), RECTANGULAR)


def of_term(row: Mapping[str, str], grade: str = "") -> Size:
    """Size of the error in a row of uncertainty.csv: a normal sigma, or a range from low to high.

    grade: class of the head. Where the row has limits by class (`class_A` to `class_C`), low and high are in
    parts of the limit. A head without a known class has the widest limits.
    """
    if row["distribution"] == "normal":
        return Size(0.0, float(row["sigma"]), NORMAL)
    limit = float(row.get(f"class_{grade if grade in GRADES else UNKNOWN_GRADE}") or 1.0)
    return of_range(float(row["low"]) * limit, float(row["high"]) * limit)


def is_on(rows: Rows, term: str) -> bool:
    """Whether an error is drawn at all."""
    return rows[term]["enabled"] == "true"


def sources_of(
    rows: Rows, term: str, unit: str, reach: Mapping[str, np.ndarray], scale: float = 1.0, *, grade: str = ""
) -> list[Source]:
    """The source of one term, or none where the term is switched off.

    unit: what shares it. reach: errors of the model that it makes, each with how much of it acts on each
    segment. scale: from the unit of the table to that of the model, such as `PERCENT`. grade: class of the
    head, where the term has limits by class.
    """
    if not is_on(rows, term):
        return []
    size = of_term(rows[term], grade)
    shift = {name: part * size.sigma * scale for name, part in reach.items()}
    middle = {name: part * size.middle * scale for name, part in reach.items()} if size.middle else {}
    return [Source(term, unit, shift, middle, size.distribution)]


def around(known: Mapping[str, np.ndarray], sources: list[Source]) -> list[Source]:
    """Sources about a known effect, in place of a middle of 0. known: errors of the model that it makes."""
    return [replace(source, middle=known) for source in sources]
