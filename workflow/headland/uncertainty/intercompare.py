"""The field intercomparison: what several sets read side by side over one surface, and how it puts them on one scale.

Part of step 8: errors that two sets share, and those that their difference has, come from the same draws as every interval.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.physics.constants import RADIATION
from headland.uncertainty.draws import interval

SKY = ("sw_in", "lw_in")
"""Channels that may be another set's, where one stood as sky monitor."""

LEAST_OVERLAP = 0.8
"""Share of the longer of two side-by-side intervals that they must have in common to be compared (common practice, no source)."""

LEAST_SHORTWAVE = 50.0
"""W m-2: with less, the ratio of two shortwave heads says nothing of them (common practice, no source)."""

Errors = Mapping[str, np.ndarray]


@dataclass(frozen=True)
class Scale:
    """How sets are put on one scale. reference: a set's name, or `mean`. of_set, of_sky: whose each segment's lower and upper heads are. visits: for each time
    that sets stood side by side, {set: number of its segment}. sunny: which of the visits had sun enough to compare shortwave heads."""

    reference: str
    of_set: np.ndarray
    of_sky: np.ndarray
    visits: Sequence[Mapping[str, int]]
    sunny: Sequence[bool]


def visits(segments: pd.DataFrame) -> list[dict[str, int]]:
    """The times at which sets stood side by side: for each, the number of every set's segment.

    Segments noted as `side_by_side` belong together where they are over one field and have most of their time in common.
    """
    found: list[dict[str, int]] = []
    rows = [
        (i, row)
        for i, row in enumerate(segments.to_dict("records"))
        if row["activity"] == "side_by_side" and row["samples_used"] > 0
    ]
    for i, row in rows:
        for visit in found:
            first = segments.iloc[next(iter(visit.values()))]
            common = (
                min(row["end_utc"], first["end_utc"]) - max(row["start_utc"], first["start_utc"])
            ).total_seconds()
            longer = max((r["end_utc"] - r["start_utc"]).total_seconds() for r in (row, first))
            if (
                row["set"] not in visit
                and row["field"] == first["field"]
                and common >= LEAST_OVERLAP * longer
            ):
                visit[row["set"]] = i
                break
        else:
            found.append({row["set"]: i})
    return [visit for visit in found if len(visit) > 1]


def scale_of(segments: pd.DataFrame, reference: str) -> tuple[Scale | None, list[Finding]]:
    """The scale that `methods.set_scale` asks for (None for `none`), and which sets can't be put on it."""
    if reference == "none":
        return None, []
    together = visits(segments)
    sunny = [all(segments["sw_in"].iloc[i] > LEAST_SHORTWAVE for i in visit.values()) for visit in together]
    scale = Scale(reference, segments["set"].to_numpy(), segments["incoming_set"].to_numpy(), together, sunny)
    return scale, [
        Finding("scale-not-known", set=name, facts={"reference": reference})
        for name in dict.fromkeys(segments["set"])
        if name != reference and not _with_reference(scale, name)
    ]


def _with_reference(scale: Scale, name: str) -> list[int]:
    """The numbers of the visits that bring a set to the reference."""
    return [
        k
        for k, visit in enumerate(scale.visits)
        if name in visit and (scale.reference == "mean" or scale.reference in visit)
    ]


def on_one_scale(flux: Mapping[str, np.ndarray], scale: Scale, errors: Errors) -> dict[str, np.ndarray]:
    """The four fluxes with every set on the reference's scale: shortwave by the ratio of what both read side by side, longwave by the difference.

    flux: (draws x segments). errors over segments: `side_by_side_sw_out`, `side_by_side_lw_out`, by how much the ground under one set differed (W m-2). Applied to each
    draw, so that what the sets shared side by side and what they did not keep their part in every interval (no published value).
    """
    result = {}
    for channel in RADIATION:
        owner = scale.of_sky if channel in SKY else scale.of_set
        read = flux[channel] - errors.get(f"side_by_side_{channel}", 0.0)
        result[channel] = flux[channel].copy()
        for name in dict.fromkeys(owner):
            together = [k for k in _with_reference(scale, name) if channel.startswith("lw") or scale.sunny[k]]
            if name == scale.reference or not together:
                continue
            own = np.mean([read[:, scale.visits[k][name]] for k in together], axis=0)
            aim = np.mean([_aim(read, scale, k) for k in together], axis=0)
            mine = np.flatnonzero(owner == name)
            if channel.startswith("sw"):
                result[channel][:, mine] *= (aim / own)[:, None]
            else:
                result[channel][:, mine] += (aim - own)[:, None]
    return result


def _aim(read: np.ndarray, scale: Scale, visit: int) -> np.ndarray:
    members = scale.visits[visit]
    return (
        np.mean([read[:, i] for i in members.values()], axis=0)
        if scale.reference == "mean"
        else read[:, members[scale.reference]]
    )


def comparison(
    segments: pd.DataFrame, own: pd.DataFrame, draws: Mapping[str, np.ndarray], errors: Errors
) -> pd.DataFrame:
    """One row a side-by-side visit, pair of sets and channel: both means, their difference and ratio with 95 % intervals, and E_n.

    E_n = |difference| / sqrt(U_a^2 + U_b^2), U the half widths of the two sets' own intervals (ISO/IEC 17043, from memory). own: values and ends of
    each segment before sets are put on one scale, as `propagate.with_intervals` gives them; draws: theirs.
    The difference's interval knows what the sets share, and the ground under them.
    """
    records = []
    for visit in visits(segments):
        for a, b in combinations(visit, 2):
            i, j = visit[a], visit[b]
            row = segments.iloc[i]
            for channel in RADIATION:
                read = draws[channel] - errors.get(f"side_by_side_{channel}", 0.0)
                va, vb = own[channel].iloc[i], own[channel].iloc[j]
                low, high = interval(read[:, i] - read[:, j], va - vb)
                ratio_low, ratio_high = interval(read[:, i] / read[:, j], va / vb)
                spans = ((own[f"{channel}_high"] - own[f"{channel}_low"]) / 2.0).iloc[[i, j]]
                records.append(
                    {
                        "set_a": a,
                        "set_b": b,
                        "field": row["field"],
                        "start_utc": row["start_utc"],
                        "end_utc": row["end_utc"],
                        "channel": channel,
                        "mean_a": va,
                        "mean_b": vb,
                        "difference": va - vb,
                        "difference_low": low,
                        "difference_high": high,
                        "ratio": va / vb,
                        "ratio_low": ratio_low,
                        "ratio_high": ratio_high,
                        "e_n": abs(va - vb) / np.hypot(*spans) if np.hypot(*spans) > 0 else np.nan,
                    }
                )
    return pd.DataFrame(
        records,
        columns=[
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
        ],
    )


def ground_scatter(segments: pd.DataFrame, channel: str) -> dict[int, float]:
    """How much the ground may differ under sets that stand side by side, W m-2: for each such segment, the scatter of its field's walks; of all walks where that
    field was not walked; none where none was. channel: `sw_out` or `lw_out`."""
    walked = segments[(segments["activity"] == "walk") & (segments["samples_used"] > 0)]
    result = {}
    for visit in visits(segments):
        for i in visit.values():
            here = walked[walked["field"] == segments["field"].iloc[i]]
            rows = here if len(here) else walked
            result[i] = float(np.sqrt(np.mean(rows[f"ground_{channel}"] ** 2))) if len(rows) else 0.0
    return result
