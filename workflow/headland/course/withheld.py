"""Why the chain withholds a number: the errors that concern the samples it is made from."""

from __future__ import annotations

import pandas as pd

from headland.base import findings
from headland.base.time_text import time_text
from headland.chain import withholding as rules
from headland.course.rerun import Survey
from headland.physics.constants import RADIATION

NEEDS = {
    "sw_in": {"sw_in"},
    "sw_out": {"sw_out"},
    "albedo": {"sw_in", "sw_out"},
    "lw_in": {"lw_in"},
    "lw_out": {"lw_out"},
    "surface_temperature": {"lw_in", "lw_out"},
}
"""The channels that a quantity is made from; the others need all."""


def withholding(
    survey: Survey, segments: pd.DataFrame, kind: str, item: str, quantity: str
) -> list[findings.Finding]:
    """The errors for which the chain withholds a quantity of a segment or surface.

    segments: the chain's own, by name, with `incoming_set`.
    """
    rows = segments.loc[[item]] if kind == "segments" else segments[segments["surface"] == item]
    needed = NEEDS.get(quantity, set(RADIATION))
    spans = [
        (row["set"], row["incoming_set"], *time_text(pd.DatetimeIndex([row["start_utc"], row["end_utc"]])))
        for row in rows.to_dict("records")
    ]
    return [
        finding
        for finding in survey.found
        if any(needed & rules.untrustworthy(findings.withheld([finding]), *span) for span in spans)
    ]
