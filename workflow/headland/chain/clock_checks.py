"""The clocks of the loggers: times corrected by clock checks, and what the checks found."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.times import LARGEST_CLOCK_OFFSET, since_1970
from headland.chain.notes import clock_offset


def corrected_moments(middle: pd.Series, checks: pd.DataFrame) -> np.ndarray:
    """Times of samples in s since 1970, by the reference of the set's clock checks; as stamped where a
    check is too far off to be believed.
    """
    ahead = clock_offset(checks, middle)
    if np.any(np.abs(ahead) > LARGEST_CLOCK_OFFSET):
        ahead = np.zeros(len(middle))
    return since_1970(middle) - ahead


def span(middles) -> tuple | None:
    """First and last moment of all sets, from each set's ascending times; None where no set has a sample."""
    some = [times for times in middles if len(times)]
    return (
        (min(t.iloc[0] for t in some).to_pydatetime(), max(t.iloc[-1] for t in some).to_pydatetime())
        if some
        else None
    )


def clock_findings(checks: pd.DataFrame) -> list[Finding]:
    findings = []
    for row in checks.to_dict("records"):
        ahead = (row["logger_utc"] - row["start_utc"]).total_seconds()
        place = {
            "set": row["set"],
            "line": row["notes_row"],
            "facts": {
                "seconds": f"{abs(ahead):.0f}",
                "minutes": f"{abs(ahead) / 60:.0f}",
                "direction": "ahead" if ahead > 0 else "behind",
            },
        }
        if abs(ahead) > LARGEST_CLOCK_OFFSET:
            findings.append(Finding("clock-check-far-off", **place))
        elif abs(ahead) >= 1.0:
            findings.append(Finding("clock-corrected", **place))
    return findings


def checks_of(noted: pd.DataFrame, name: str) -> pd.DataFrame:
    """The clock checks of a set among the noted intervals."""
    return noted[(noted["activity"] == "clock_check") & (noted["set"] == name)]
