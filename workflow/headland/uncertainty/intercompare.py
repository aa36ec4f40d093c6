"""Several sets side by side over one surface: what each reads of the same, and how it puts them on one scale.

Errors that two sets share, and those that their difference has, come from the same draws as every interval.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.physics.constants import RADIATION
from headland.physics.radiation import ALBEDO_SW_IN
from headland.uncertainty.draws import Errors, error
from headland.uncertainty.inputs import INCOMING
from headland.uncertainty.intervals import interval

LEAST_OVERLAP = 0.8
"""Share of the longer of two side-by-side intervals that they must have in common to be compared (common
practice, no source)."""

COLUMNS = [
    "set_a",
    "set_b",
    "field",
    "start_utc",
    "end_utc",
    "channel",
    "mean_a",
    "mean_b",
    "difference",
    "difference_low",
    "difference_high",
    "ratio",
    "ratio_low",
    "ratio_high",
    "e_n",
]

Visit = Mapping[str, int]
"""One time at which sets stood side by side: the number of each set's segment."""


# Who stood beside whom --------------------------------------------------------------------------------------


def visits(segments: pd.DataFrame) -> list[dict[str, int]]:
    """The times at which sets stood side by side: for each, the number of every set's segment.

    Segments noted as `side_by_side` belong together where they are over one field and have most of their time
    in common.
    """
    found: list[dict[str, int]] = []
    rows = segments.to_dict("records")
    for number, row in enumerate(rows):
        if row["activity"] != "side_by_side" or not row["samples_used"] > 0:
            continue
        for visit in found:
            first = rows[next(iter(visit.values()))]
            if row["set"] not in visit and _together(row, first):
                visit[row["set"]] = number
                break
        else:
            found.append({row["set"]: number})
    return [visit for visit in found if len(visit) > 1]


def _together(one: Mapping, other: Mapping) -> bool:
    """Whether two segments are of one field and have most of their time in common."""
    start, end = max(one["start_utc"], other["start_utc"]), min(one["end_utc"], other["end_utc"])
    longer = max((row["end_utc"] - row["start_utc"]).total_seconds() for row in (one, other))
    return one["field"] == other["field"] and (end - start).total_seconds() >= LEAST_OVERLAP * longer


def ground_scatter(segments: pd.DataFrame, channel: str) -> dict[int, float]:
    """How much the ground may differ under sets side by side, W m-2, by number of their segments.

    It is the scatter of the walks over the same field; of all walks where that field was not walked; 0 where
    none was. channel: `sw_out` or `lw_out`.
    """
    walked = segments[(segments["activity"] == "walk") & (segments["samples_used"] > 0)]
    scatter = {}
    for visit in visits(segments):
        for number in visit.values():
            here = walked[walked["field"] == segments["field"].iloc[number]]
            rows = here if len(here) else walked
            squares = rows[f"ground_{channel}"] ** 2
            scatter[number] = float(np.sqrt(np.mean(squares))) if len(rows) else 0.0
    return scatter


# One scale --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Scale:
    """How sets are put on one scale.

    reference: a set's name, or `mean`. of_set, of_sky: whose each segment's lower and upper heads are.
    visits: the times at which sets stood side by side. sunny: which of them had sun enough to compare
    shortwave heads.
    """

    reference: str
    of_set: np.ndarray
    of_sky: np.ndarray
    visits: Sequence[Visit]
    sunny: Sequence[bool]

    def owner(self, channel: str) -> np.ndarray:
        """The set whose head measured a channel, for each segment."""
        return self.of_sky if channel in INCOMING else self.of_set

    def links(self, name: str) -> list[int]:
        """The numbers of the visits that bring a set to the reference."""
        return [number for number, visit in enumerate(self.visits) if name in visit and self._reaches(visit)]

    def _reaches(self, visit: Visit) -> bool:
        return self.reference == "mean" or self.reference in visit

    def aim(self, read: np.ndarray, number: int) -> np.ndarray:
        """What the reference read at a visit, one a draw. read: a flux (draws x segments)."""
        visit = self.visits[number]
        if self.reference == "mean":
            return np.mean([read[:, segment] for segment in visit.values()], axis=0)
        return read[:, visit[self.reference]]


def scale_of(segments: pd.DataFrame, reference: str) -> tuple[Scale | None, list[Finding]]:
    """The scale that `methods.set_scale` asks for, None for `none`, and which sets can't be put on it."""
    if reference == "none":
        return None, []
    together = visits(segments)
    sw_in = segments["sw_in"].to_numpy(float)
    sunny = [all(sw_in[number] > ALBEDO_SW_IN for number in visit.values()) for visit in together]
    scale = Scale(reference, segments["set"].to_numpy(), segments["incoming_set"].to_numpy(), together, sunny)
    return scale, [
        Finding("scale-not-known", set=name, facts={"reference": reference})
        for name in dict.fromkeys(segments["set"])
        if name != reference and not scale.links(name)
    ]


def as_side_by_side(flux: Errors, channel: str, errors: Errors) -> np.ndarray:
    """A flux as sets side by side would read it over the same ground, W m-2 (draws x segments).

    errors: `side_by_side_<channel>`, by how much the ground under one set differed.
    """
    return flux[channel] - error(errors, f"side_by_side_{channel}")


def on_one_scale(flux: Errors, scale: Scale, errors: Errors) -> dict[str, np.ndarray]:
    """The four fluxes with every set on the reference's scale (draws x segments).

    Shortwave by the ratio of what both read side by side, longwave by the difference. It is applied to each
    draw, so that what the sets shared side by side and what they did not keep their part in every interval
    (no published value).
    """
    result = {}
    for channel in RADIATION:
        read, owner = as_side_by_side(flux, channel, errors), scale.owner(channel)
        result[channel] = flux[channel].copy()
        for name in dict.fromkeys(owner):
            links = [
                number for number in scale.links(name) if channel.startswith("lw") or scale.sunny[number]
            ]
            if name == scale.reference or not links:
                continue
            own = np.mean([read[:, scale.visits[number][name]] for number in links], axis=0)
            aim = np.mean([scale.aim(read, number) for number in links], axis=0)
            mine = np.flatnonzero(owner == name)
            if channel.startswith("sw"):
                result[channel][:, mine] *= (aim / own)[:, None]
            else:
                result[channel][:, mine] += (aim - own)[:, None]
    return result


# The comparison ---------------------------------------------------------------------------------------------


def normalised_error(difference: float, *expanded: float) -> float:
    """E_n = |difference| / sqrt(U1^2 + U2^2 + ...) (ISO/IEC 17043, from memory).

    expanded: the expanded uncertainties of what is compared. Returns nan where they are all 0.
    """
    together = math.hypot(*expanded)
    return abs(difference) / together if together > 0 else math.nan


def comparison(segments: pd.DataFrame, own: pd.DataFrame, draws: Errors, errors: Errors) -> pd.DataFrame:
    """One row a side-by-side visit, pair of sets and channel: both means, their difference and ratio, E_n.

    own: values and ends of each segment before sets are put on one scale, as `intervals.with_intervals`
    gives them. draws: theirs. errors: the ground under each set. U in E_n is the half width of a set's own
    interval. The 95 % intervals of difference and ratio account for errors that the sets share, and for the
    ground.
    """
    records = []
    for a, b, i, j in _pairs(segments):
        row = segments.iloc[i]
        for channel in RADIATION:
            read = as_side_by_side(draws, channel, errors)
            mean_a, mean_b = own[channel].iloc[i], own[channel].iloc[j]
            low, high = interval(read[:, i] - read[:, j], mean_a - mean_b)
            ratio_low, ratio_high = interval(read[:, i] / read[:, j], mean_a / mean_b)
            half_widths = (own[f"{channel}_high"] - own[f"{channel}_low"]) / 2.0
            records.append(
                {
                    "set_a": a,
                    "set_b": b,
                    "field": row["field"],
                    "start_utc": row["start_utc"],
                    "end_utc": row["end_utc"],
                    "channel": channel,
                    "mean_a": mean_a,
                    "mean_b": mean_b,
                    "difference": mean_a - mean_b,
                    "difference_low": low,
                    "difference_high": high,
                    "ratio": mean_a / mean_b,
                    "ratio_low": ratio_low,
                    "ratio_high": ratio_high,
                    "e_n": normalised_error(mean_a - mean_b, *half_widths.iloc[[i, j]]),
                }
            )
    return pd.DataFrame(records, columns=COLUMNS)


def _pairs(segments: pd.DataFrame) -> Iterator[tuple[str, str, int, int]]:
    """Each pair of sets at each visit, with the numbers of their segments."""
    for visit in visits(segments):
        for a, b in combinations(visit, 2):
            yield a, b, visit[a], visit[b]
