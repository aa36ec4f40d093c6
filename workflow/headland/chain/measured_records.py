"""Records of plates, masts and stations at the time and the place of a visit."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.base import station
from headland.base.findings import Finding
from headland.base.words import did_you_mean
from headland.chain.weather import LARGEST_GAP

PLACES = ("field", "surface")
"""Columns that say what a record stands for."""

HALF_WINDOW = 1800.0
"""s: warming is taken over at least this much before and after the middle of a visit (common practice, no
source).
"""


class Records:
    """The records of one place in order of time, each at the middle of its averaging interval."""

    def __init__(self, table: pd.DataFrame, stamp: str):
        """table: rows with `time_utc`. stamp: what their times name."""
        rows, ends, step = station.records(table, stamp)
        self.rows = rows
        self.seconds = ends - (step / 2.0 if np.isfinite(step) else 0.0)

    def at(self, name: str, second: float) -> float:
        """A quantity at one moment, by its neighbours in time, each at most an hour away; else NaN."""
        values = self.rows[name].to_numpy(float)
        known = np.isfinite(values)
        seconds = self.seconds[known]
        before, after = seconds[seconds <= second], seconds[seconds >= second]
        if not len(before) or not len(after):
            return np.nan
        if max(second - before[-1], after[0] - second) > LARGEST_GAP:
            return np.nan
        return float(np.interp(second, seconds, values[known]))

    def over(self, name: str, start: float, end: float) -> float:
        """The mean of a quantity over a visit (s since 1970): of its records, else what `at` gives."""
        values = self.rows[name].to_numpy(float)
        inside = (self.seconds >= start) & (self.seconds <= end) & np.isfinite(values)
        return float(values[inside].mean()) if inside.any() else self.at(name, (start + end) / 2.0)

    def rate(self, name: str, start: float, end: float) -> tuple[float, float]:
        """How fast a quantity changes at a visit, per hour, and over how many hours that was taken."""
        middle = (start + end) / 2.0
        half = max((end - start) / 2.0, HALF_WINDOW)
        change = self.at(name, middle + half) - self.at(name, middle - half)
        hours = 2.0 * half / 3600.0
        return change / hours, hours


def of_place(table: pd.DataFrame, visit: Mapping) -> pd.DataFrame:
    """The rows that stand for a visit's ground: those of its field, else those of its surface class, else
    those without a place.
    """
    if not len(table):
        return table
    field, surface = table["field"], table["surface"]
    of_field = table[(field == visit["field"]) & surface.isin(("", visit["surface"]))]
    of_surface = table[(field == "") & (surface == visit["surface"])]
    return next(
        (part for part in (of_field, of_surface) if len(part)), table[(field == "") & (surface == "")]
    )


def places_found(table: pd.DataFrame, file: str, visits: pd.DataFrame, needed: bool) -> list[Finding]:
    """Findings on the places that a table names: unknown ones, and rows without one where one is needed.

    Each place is named once, at its first line.
    """
    findings = []
    for column in PLACES:
        known = sorted(set(visits[column]))
        for name, rows in table[table[column] != ""].groupby(column, sort=False):
            if name not in known:
                facts = {
                    "column": column,
                    "name": str(name),
                    "rows": len(rows),
                    "known": ", ".join(known) or "none",
                    "hint": did_you_mean(str(name), known),
                }
                line = int(rows["line"].iloc[0])
                findings.append(Finding("measured-place", "unknown", file=file, line=line, facts=facts))
    bare = table[(table["field"] == "") & (table["surface"] == "")]
    if needed and len(bare):
        facts = {"rows": len(bare)}
        line = int(bare["line"].iloc[0])
        findings.append(Finding("measured-place", "missing", file=file, line=line, facts=facts))
    return findings
