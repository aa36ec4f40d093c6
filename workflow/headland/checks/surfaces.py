"""Albedo and surface temperature of fields checked against the ranges of their noted classes."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.groups import counted_segments
from headland.base.untold import Tell, Untold, unheard
from headland.checks.sky_records import FAR_OUT
from headland.uncertainty.distributions import NORMAL_95

AIR_UNSURE = 2.0
"""K: how far the air over a field may be from the weather table's (common practice, no source)."""
AT_ONCE = 0.5
"""Share of a visit for which another set must be noted elsewhere, and of a field's visits beside which one
must be, for the two sets to be perhaps exchanged in the notes (common practice, no source)."""
MISLABEL_SUN = 20.0
"""degrees: the ranges of the table are those of a high sun; below it albedo rises (Oke 1987, from memory)."""


@dataclass(frozen=True)
class Means:
    """The means that are checked. segments, fields: step 8's, with intervals. air: degC at each segment,
    NaN where unknown. notes: name of the notes' file."""

    segments: pd.DataFrame
    fields: pd.DataFrame
    air: np.ndarray | pd.Series
    notes: str


OTHER_SET = 1.5
"""Ratio of two sets' albedos of one field from which one of them is wrong, and not the field's label: passes
over one field differ by 6 % (common practice, no source)."""
TOLD_BY = {"albedo": "sw_in", "temperature": "lw_in"}
"""The incoming term of the heads that tell a surface by its albedo, or its temperature."""
EITHER = {"albedo": "albedo-either", "temperature": "temperature-either"}
"""The variant that leaves open whether sets were exchanged in the notes instead."""
COMMON = {"albedo": "albedo-common", "temperature": "temperature-common"}
"""The variant that leaves open whether something is wrong with what all fields were measured with."""
MOST_FIELDS, FEWEST_FIELDS = 0.5, 3
"""Share of the fields above which, and number from which, too high values, or too low ones, of two classes or
more may have one cause (common practice, no source)."""


def surface_mislabelled(
    means: Means,
    surfaces: Mapping[str, Mapping],
    tell: Tell = unheard,
    *,
    off: Mapping[str, Collection[str]] | None = None,
) -> list[Finding]:
    """Fields whose albedo or surface temperature is outside its class's range by more than 3.6 standard
    uncertainties.

    Classes whose ranges hold what was found are offered. The ranges are those of the day: with the sun at 20
    degrees or lower `tell` is called instead, and so it is where a set that measured the field may be off.
    Two sets exchanged in the notes look alike where each of two fields fits the other one's class, and wrong
    factors or a wrong air temperature where most fields are off to one side.
    surfaces: of config/surfaces.csv, by class. off: as `sets.sets_off` gives it.
    """
    air = np.asarray(means.air, dtype=float)
    segments = counted_segments(means.segments.assign(air=air, weight=means.segments["samples_used"]))
    findings, judged = [], 0
    for row in means.fields.to_dict("records"):
        mine = segments[(segments["field"] == row["field"]) & (segments["surface"] == row["surface"])]
        if not len(mine):
            continue
        if not mine["solar_elevation"].min() > MISLABEL_SUN:
            tell(Untold("surface-mislabelled", "sun-under-20"))
            continue
        judged += 1
        finding = _outside(row, mine, surfaces, means.notes)
        doubted = finding and mine["set"].isin((off or {}).get(TOLD_BY[finding.variant], ())).any()
        if finding and (doubted or (finding.variant == "albedo" and _sets_differ(mine))):
            tell(Untold("surface-mislabelled", "set-off"))
        elif finding:
            findings.append(_or_exchanged(finding, mine, segments, means.fields, surfaces))
    return [_or_common(finding, findings, judged) for finding in findings]


def _sets_differ(mine: pd.DataFrame) -> bool:
    """Whether two sets give one field albedos that no ground has at once. mine: its rows of segments."""
    albedos = mine.groupby("set")["albedo"].mean()
    albedos = albedos[albedos > 0.0]
    return bool(len(albedos) > 1 and albedos.max() > OTHER_SET * albedos.min())


def _or_common(finding: Finding, findings: list[Finding], judged: int) -> Finding:
    """The finding about a field; undecided where most of the judged fields are off to the same side."""

    def side(one: Finding) -> tuple[str, bool]:
        return one.variant, float(one.facts["value"]) > float(one.facts["high"])

    alike = [one for one in findings if side(one) == side(finding)]
    classes = {one.facts["surface"] for one in alike}
    few = len(alike) < FEWEST_FIELDS or len(alike) <= MOST_FIELDS * judged
    if finding.variant not in COMMON or len(classes) < 2 or few:
        return finding
    facts = {**finding.facts, "alike": len(alike), "judged": judged}
    return replace(finding, variant=COMMON[finding.variant], facts=facts)


def _or_exchanged(
    finding: Finding,
    mine: pd.DataFrame,
    segments: pd.DataFrame,
    fields: pd.DataFrame,
    surfaces: Mapping[str, Mapping],
) -> Finding:
    """The finding about a field; undecided where exchanging two sets in the notes mends it as well.

    mine: the field's own rows of segments.
    """
    visits = pd.concat([_elsewhere(row, segments) for row in mine.to_dict("records")])
    (row,) = _of(fields, mine.to_dict("records")[0]).to_dict("records")
    for place in visits[["field", "surface"]].drop_duplicates().to_dict("records"):
        there, theirs = _of(visits, place), _of(segments, place)
        if (
            len(there) >= AT_ONCE * len(mine)
            and _fits(surfaces[place["surface"]], _measured(row, mine))
            and all(
                _fits(surfaces[row["surface"]], _measured(other, theirs))
                for other in _of(fields, place).to_dict("records")
            )
        ):
            sets = {"a": mine["set"].iloc[0], "b": there["set"].iloc[0]}
            facts = {**finding.facts, **sets, "there": place["field"], "other": place["surface"]}
            return replace(finding, variant=EITHER[finding.variant], facts=facts)
    return finding


def _of(table: pd.DataFrame, place: Mapping) -> pd.DataFrame:
    """Rows of the field and class that a row is of."""
    return table[(table["field"] == place["field"]) & (table["surface"] == place["surface"])]


def _elsewhere(row: Mapping, segments: pd.DataFrame) -> pd.DataFrame:
    """Visits of other sets to ground of another class at the time of a visit."""
    ends = segments["end_utc"].clip(upper=row["end_utc"])
    together = ends - segments["start_utc"].clip(lower=row["start_utc"])
    away = (segments["set"] != row["set"]) & (segments["surface"] != row["surface"])
    return segments[away & (together >= AT_ONCE * (row["end_utc"] - row["start_utc"]))]


def _outside(
    row: Mapping, segments: pd.DataFrame, surfaces: Mapping[str, Mapping], file: str
) -> Finding | None:
    """The finding about one field, by its albedo first. row: of the field. segments: its own."""
    measured, own = _measured(row, segments), surfaces[row["surface"]]
    key = next((key for key in measured if not _holds(own, key, *measured[key])), "")
    if not key:
        return None
    value, width = measured[key]
    digits = 2 if key == "albedo" else 1
    fits = [name for name, entry in surfaces.items() if _fits(entry, measured)]
    return Finding(
        "surface-mislabelled",
        "albedo" if key == "albedo" else "temperature",
        file=file,
        line=int(segments["notes_row"].min()),
        facts={
            "field": row["field"],
            "surface": row["surface"],
            "value": f"{value:.{digits}f}",
            "low": f"{own[key]['low']:g}",
            "high": f"{own[key]['high']:g}",
            "width": f"{width:.{digits}f}",
            "fits": ", ".join(fits) or "no class of the table",
        },
    )


def _measured(row: Mapping, segments: pd.DataFrame) -> dict[str, tuple[float, float]]:
    """What a class of the table is compared with, and by how much its range is widened for that."""
    wide = {
        name: FAR_OUT / NORMAL_95 * _half_width(row, segments, name)
        for name in ("albedo", "surface_temperature")
    }
    warmer = row["surface_temperature"] - segments["air"].mean()
    return {
        "albedo": (row["albedo"], wide["albedo"]),
        "surface_minus_air": (warmer, wide["surface_temperature"] + AIR_UNSURE),
    }


def _fits(entry: Mapping, measured: Mapping[str, tuple[float, float]]) -> bool:
    """Whether a class's ranges hold everything that was measured."""
    return all(_holds(entry, key, *value) for key, value in measured.items())


def _half_width(row: Mapping, segments: pd.DataFrame, name: str) -> float:
    """Half width of a field's interval; where it has none, the widest of its segments' intervals."""
    own = max(row[f"{name}_high"] - row[name], row[name] - row[f"{name}_low"])
    if math.isfinite(own):
        return own
    above, below = segments[f"{name}_high"] - segments[name], segments[name] - segments[f"{name}_low"]
    return float(np.max(np.maximum(above, below)))


def _holds(entry: Mapping, key: str, value: float, width: float) -> bool:
    """Whether a class's range, widened, holds a value; it does where the range or the value is unknown."""
    low, high = (entry.get(key, {}).get(end, "") for end in ("low", "high"))
    if not isinstance(low, float) or not isinstance(high, float):
        return True
    if not math.isfinite(value) or not math.isfinite(width):
        return True
    return low - width <= value <= high + width
