"""What the register's optional cells of certificates mean, and those that mean nothing where they are."""

from __future__ import annotations

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
