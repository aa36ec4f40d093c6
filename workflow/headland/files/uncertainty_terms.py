"""The rows of config/uncertainty.csv: which there must be, and what an added one may act on."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from pathlib import Path

from headland.base.classes import ACTS_ON, LIMITS, SHARED_BY, TERMS
from headland.base.words import did_you_mean
from headland.files.config_tables import number_of
from headland.files.own_numbers import named_rows
from headland.files.schema_errors import shown

SIZES = {"normal": ("sigma",), "rectangular": ("low", "high")}
"""Columns that give the size of a term, by its distribution."""


def uncertainty_terms(path: Path) -> dict[str, dict]:
    """The rows of uncertainty.csv by term.

    Raises UserErrors where it is no table, or a row is missing, has no size, or acts on an error that the
    model lacks.
    """
    wanted = "every row that comes with the project; `enabled` false switches one off"
    rows = named_rows(path, "term", TERMS, _faults, wanted)
    return {row["term"]: {"acts_on": "", **row} for row in rows}


def _faults(row: Mapping) -> Iterator[tuple[str, str]]:
    """What is wrong with a row: found, expected."""
    name = row["term"]
    if row.get("enabled") not in ("true", "false"):
        yield f"enabled of {name} is {shown(row.get('enabled'))}", "true or false"
    distribution = row.get("distribution", "")
    filled = [end for end in ("sigma", "low", "high") if row.get(end)]
    if distribution not in (*SIZES, "Student"):
        wanted = "normal (with sigma) or rectangular (with low and high)"
        yield f"distribution of {name} is {shown(row.get('distribution'))}", wanted
    elif any(row.get(name) for name in LIMITS) and not all(_is_limit(row.get(name)) for name in LIMITS):
        found = ", ".join(f"{limit} {shown(row.get(limit))}" for limit in LIMITS)
        yield f"limits by class of {name} are {found}", "three numbers above 0, or three empty cells"
    elif filled and not _is_size(row, distribution):
        found = ", ".join(f"{end} {shown(row[end])}" for end in filled)
        yield f"size of {name} is {found}", "a number not under 0 as sigma, or low and high in this order"
    if name not in TERMS:
        yield from _faults_of_added(name, row, filled)


def _is_limit(cell: str | None) -> bool:
    return number_of(cell or "") > 0


def _is_size(row: Mapping, distribution: str) -> bool:
    numbers = [number_of(row.get(end, "")) for end in SIZES.get(distribution, ())]
    ordered = not any(map(math.isnan, numbers)) and sorted(numbers) == numbers
    return ordered and not (distribution == "normal" and numbers[0] < 0)


def _faults_of_added(name: str, row: Mapping, filled: list[str]) -> Iterator[tuple[str, str]]:
    for column, allowed in (("acts_on", ACTS_ON), ("shared_by", SHARED_BY)):
        value = row.get(column, "")
        if value not in allowed:
            wanted = f"one of {', '.join(allowed)}{did_you_mean(value, allowed)}"
            yield f"{column} of {name} is {shown(value)}", wanted
    if not filled:
        yield f"{name} has no size", "sigma, or low and high"
