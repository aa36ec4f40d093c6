"""The certificate in force on a day, what the register's optional cells mean, and those that mean nothing."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence

import pandas as pd

from headland.base.findings import Finding
from headland.chain.crossed_factors import REGISTER
from headland.physics.constants import RADIATION
from headland.physics.instruments import COVERAGE_FACTOR

MEANT_FOR: dict[str, tuple[Sequence[str], str]] = {
    "calibration_temperature": (RADIATION, "an empty cell: a body thermometer has no factor"),
    "temperature_coefficient": (RADIATION, "an empty cell: a body thermometer has no factor"),
    "window_coefficient": (("lw_in", "lw_out"), "an empty cell: only longwave heads have such a window"),
}
"""Channels that a cell is meant for, and what is allowed on the others."""


def certificate_in_force(certificates: pd.DataFrame, day: datetime.date, method: str = "latest") -> dict:
    """The certificate to use on a day, from the rows of the register of one channel of one set.

    certificates: rows with `factor` in W m-2 per mV and `certificate_date` (text, ISO). Default: the newest
    row not later than the day; where all are later, the oldest. `interpolate`: the factor runs linearly
    between the certificates before and after. Returns that row as a mapping with the factor in force and
    `later`, whether it is dated after the day.
    """
    rows = certificates.sort_values("certificate_date", kind="stable")
    earlier = rows[rows["certificate_date"] <= day.isoformat()]
    later = rows[rows["certificate_date"] > day.isoformat()]
    chosen = (earlier.iloc[-1] if len(earlier) else rows.iloc[0]).to_dict()
    if method == "interpolate" and len(earlier) and len(later):
        before, after = chosen, later.iloc[0]
        start, end = (datetime.date.fromisoformat(row["certificate_date"]) for row in (before, after))
        weight = (day - start).days / (end - start).days
        chosen["factor"] = before["factor"] + weight * (after["factor"] - before["factor"])
    chosen["later"] = not len(earlier)
    return chosen


def at_usual_coverage(register: pd.DataFrame) -> pd.DataFrame:
    """The register with every expanded uncertainty at k = 2, whichever coverage factor the certificate
    states.

    U(2) = U(k) 2 / k, in % (JCGM 100:2008, 6.2.1).
    """
    stated = register["coverage_factor"].fillna(COVERAGE_FACTOR)
    expanded = register["expanded_uncertainty_percent"] * (COVERAGE_FACTOR / stated)
    return register.assign(expanded_uncertainty_percent=expanded)


def without_misplaced(own: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """A set's rows of the register without cells that mean nothing in their row, and a finding for each."""
    findings, own = [], own.copy()
    for index, row in zip(own.index, own.to_dict("records"), strict=True):
        wrong = {
            column: allowed
            for column, (channels, allowed) in MEANT_FOR.items()
            if row["channel"] not in ("", *channels)
        }
        if math.isnan(row["expanded_uncertainty_percent"]):
            wrong["coverage_factor"] = "an empty cell, or expanded_uncertainty_percent filled in as well"
        for column, allowed in wrong.items():
            if not math.isnan(row[column]):
                own.loc[index, column] = math.nan
                facts = {"column": column, "value": f"{row[column]:g}", "allowed": allowed, "hint": ""}
                line = int(row["line"])
                findings.append(Finding("value-invalid", "", row["set"], REGISTER, line, facts=facts))
    return own, findings
