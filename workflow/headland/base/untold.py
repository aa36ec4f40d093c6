"""Checks that could not be made: why, and what would settle it.

A check that lacks what it needs reports that itself, by a code and a reason (`Untold`). `untold.csv` has
the words. A check that is silent and not among these found nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from headland.base.findings import Finding


@dataclass(frozen=True)
class Untold:
    """A check that could not be made.

    code: of the finding that it would have given. reason: the row of `untold.csv`. set: the set concerned,
    empty for all. channel: the channels concerned, empty for all."""

    code: str
    reason: str
    set: str = ""
    channel: str = ""


Tell = Callable[[Untold], None]
"""What a check calls for each check that could not be made."""


def unheard(untold: Untold) -> None:
    """For callers that do not list checks that could not be made."""


def frame(untold: Sequence[Untold]) -> pd.DataFrame:
    """A step's table of checks that could not be made, each once."""
    return pd.DataFrame([vars(one) for one in dict.fromkeys(untold)], columns=[*Untold.__dataclass_fields__])


def described(
    table: pd.DataFrame, found: Sequence[Finding], reasons: Sequence[Mapping[str, str]]
) -> pd.DataFrame:
    """The rows of all steps in words, in the order of the reasons, except those that a finding already
    covers.

    Parameters
    ----------
    table : as `frame` gives it.
    reasons : rows of `untold.csv`.
    """
    order = {row["reason"]: number for number, row in enumerate(reasons)}
    unmade = [Untold(*row) for row in table[[*Untold.__dataclass_fields__]].itertuples(index=False)]
    spoken = [any(_concerns(finding, one) for finding in found) for one in unmade]
    left = table[[not said for said in spoken]].sort_values(
        "reason", key=lambda column: column.map(order), kind="stable"
    )
    return left.assign(
        **{name: [reasons[order[reason]][name] for reason in left["reason"]] for name in ("why", "settles")}
    )


def _concerns(finding: Finding, unmade: Untold) -> bool:
    """Whether a finding covers what a check that could not be made would have found."""
    ours, theirs = set(unmade.channel.split()), set(finding.channel.split())
    return (
        finding.code == unmade.code
        and finding.set in ("", unmade.set)
        and (not ours or not theirs or bool(ours & theirs))
    )
