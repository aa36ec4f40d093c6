"""How far the numbers of a row can be trusted: nothing to say, provisional, or withheld."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from headland.base.findings import Finding, Withheld, doubted, withheld
from headland.base.groups import GROUPINGS, counted_segments
from headland.base.time_text import time_text
from headland.chain.withholding import untrustworthy
from headland.physics.constants import RADIATION

PROVISIONAL, WITHHELD = "provisional", "withheld"
"""An error makes some of the row's numbers doubtful; or wrong, so that these have no value."""


def with_states(segments: pd.DataFrame, found: Sequence[Finding]) -> pd.DataFrame:
    """The segments with `state`: empty, or the graver of what the findings make of any of their channels.

    segments: as `chain.summarise.segments` gives them. found: findings of steps 1 to 5.
    """
    wrong, doubtful = _concerned(segments, withheld(found)), _concerned(segments, doubted(found))
    state = np.select([wrong, doubtful], [WITHHELD, PROVISIONAL], "")
    return segments.assign(state=pd.Series(state, segments.index, dtype="str"))


def _concerned(segments: pd.DataFrame, spans: Sequence[Withheld]) -> np.ndarray:
    """Whether any channel of each segment is among those of the spans."""
    result = np.zeros(len(segments), bool)
    if not spans or not len(segments):
        return result
    starts, ends = (time_text(pd.DatetimeIndex(segments[name])) for name in ("start_utc", "end_utc"))
    for place, (own, incoming) in enumerate(zip(segments["set"], segments["incoming_set"], strict=True)):
        result[place] = bool(untrustworthy(spans, own, incoming, starts[place], ends[place]))
    return result


def of_groups(groups: pd.DataFrame, segments: pd.DataFrame, kind: str) -> pd.DataFrame:
    """The fields or surfaces with `state`, from the states of the segments that count for each.

    Withheld where a term has no value since all segments with it are withheld; provisional where any
    segment is withheld or provisional. segments: with `state`. kind: a key of GROUPINGS.
    """
    by = GROUPINGS[kind]
    counted = counted_segments(segments)
    states = {key: set(rows["state"]) for key, rows in counted.groupby(by)}
    gone = groups[list(RADIATION)].isna().any(axis=1)
    result = [
        _of_group(states.get(tuple(row), set()), bool(missing))
        for row, missing in zip(groups[by].itertuples(index=False), gone, strict=True)
    ]
    return groups.assign(state=pd.Series(result, groups.index, dtype="str"))


def _of_group(states: set[str], gone: bool) -> str:
    if WITHHELD in states and gone:
        return WITHHELD
    return PROVISIONAL if states & {WITHHELD, PROVISIONAL} else ""


def joined(groups: pd.DataFrame, states: pd.DataFrame, kind: str) -> pd.DataFrame:
    """Fields or surfaces as users get them, with `state` of the means that they were made from."""
    by = GROUPINGS[kind]
    return groups.merge(states[[*by, "state"]], on=by, how="left", validate="one_to_one")
