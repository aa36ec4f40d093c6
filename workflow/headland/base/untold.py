"""Checks that could not be made: what the data at hand can't tell, why, and what would settle it.

A check that gives up tells so where it gives up, by a code and a reason (`Untold`); the words stand once, in
`untold.csv`. Silence of a check that is not among these means that nothing was found.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from headland.base.findings import Finding


@dataclass(frozen=True)
class Untold:
    """A check that could not be made.

    code: of the finding that it would have raised. reason: the row of `untold.csv`. set: that it concerns,
    empty for all. channel: those that it could not be made for, empty where that is all of it.
    """

    code: str
    reason: str
    set: str = ""
    channel: str = ""


Tell = Callable[[Untold], None]
"""What a check calls with each thing that it can't tell."""


def unheard(untold: Untold) -> None:
    """For callers that don't ask what can't be told."""


def frame(untold: Sequence[Untold]) -> pd.DataFrame:
    """A step's table of what it can't tell, each once."""
    return pd.DataFrame([vars(one) for one in dict.fromkeys(untold)], columns=[*Untold.__dataclass_fields__])


def described(
    table: pd.DataFrame, found: Sequence[Finding], reasons: Sequence[Mapping[str, str]]
) -> pd.DataFrame:
    """The rows of all steps in words, in the order of the reasons, without those of whose code a finding
    stands all the same.

    table: as `frame` gives it. reasons: rows of `untold.csv`.
    """
    order = {row["reason"]: number for number, row in enumerate(reasons)}
    spoken = [any(_concerns(finding, row) for finding in found) for row in table.to_dict("records")]
    left = table[[not said for said in spoken]].sort_values(
        "reason", key=lambda column: column.map(order), kind="stable"
    )
    return left.assign(
        **{name: [reasons[order[reason]][name] for reason in left["reason"]] for name in ("why", "settles")}
    )


def _concerns(finding: Finding, row: Mapping[str, str]) -> bool:
    """Whether a finding says something of what a row says can't be told."""
    ours, theirs = set(row["channel"].split()), set(finding.channel.split())
    return (
        finding.code == row["code"]
        and finding.set in ("", row["set"])
        and (not ours or not theirs or bool(ours & theirs))
    )
