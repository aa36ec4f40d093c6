"""Step 6: what each segment, field and surface amounts to, as measured and under one common sky."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from headland.base.findings import Finding, Withheld, withheld
from headland.base.flags import excluding_flags
from headland.base.frames import Made, Table
from headland.base.groups import COUNTED, GROUPINGS, counted_segments, is_stand
from headland.base.time_text import time_text
from headland.chain import spots, states
from headland.chain.incoming import OfMonitors, OfStation, Parts, with_sky_memory
from headland.chain.segment import in_file
from headland.chain.segment_means import MEANS, segment_means
from headland.chain.withholding import untrustworthy, without
from headland.files import options, step
from headland.physics import longwave, radiation, series
from headland.physics.constants import RADIATION, ZERO_CELSIUS

READS = {
    "noted": step.table("noted"),
    "calibrated": step.stored_of_sets("samples_calibrated"),
    "segmented": step.stored_of_sets("samples_segmented"),
    "classes": options.CLASSES,
    "limits": options.LIMITS,
    "found": options.FINDINGS,
    "station": options.silent(options.STATION),
}
WRITES = {"segments": "segment_means", "fields": "group_means", "surfaces": "group_means"}


def reference_sky(segments: pd.DataFrame) -> tuple[float, float]:
    """The campaign's common sky: SW_ref and L_ref, W m-2.

    Means of the incoming terms over everything that was used on the surfaces.
    """
    rows = counted_segments(segments)
    return _mean(rows["sw_in"], rows["weight"]), _mean(rows["lw_in"], rows["weight"])


def _mean(values: pd.Series, weights: pd.Series) -> float:
    value, weight = values.to_numpy(float), weights.to_numpy(float)
    known = ~np.isnan(value)
    return float(np.average(value[known], weights=weight[known])) if known.any() else math.nan


GROUP_COLUMNS = (
    "segments",
    "samples_used",
    "weight",
    "sw_in",
    "sw_out",
    "albedo",
    "lw_in",
    "lw_out",
    "surface_temperature",
    "net_radiation",
    "net_radiation_common_sky",
    "solar_elevation",
    "independent",
    "ground_sw_out",
    "ground_lw_out",
    "ground_correlation",
    "sky_memory",
    "start_utc",
    "end_utc",
)
"""What `groups` gives beside the names of the groups."""


def groups(
    segments: pd.DataFrame, by: list[str], surfaces: Mapping[str, Mapping], sky: tuple[float, float]
) -> pd.DataFrame:
    """Means over fields or surfaces.

    Parameters
    ----------
    segments : their means with names.
    by : `["surface"]` or `["surface", "field"]`.
    surfaces : class properties.
    sky : SW_ref and L_ref.

    Segments count by their recorded time.

    Returns
    -------
    One row a group. `independent` is the number of independent looks at the ground: passes over the same
    transect see the same ground, so only the best pass of each transect counts. `sky_memory` (W m-2) is the
    standard deviation of the shortwave to which a surface had adjusted about the measured one: over the
    campaign, divided by the root of the number of visits to the group.
    """
    standing = counted_segments(segments)
    off = (standing["sw_in_memory"] - standing["sw_in"]).dropna().to_numpy(float)
    unsettled = math.sqrt(np.mean(off**2)) if len(off) else 0.0
    records = []
    for key, rows in standing.groupby(by, sort=True):
        record = dict(zip(by, key, strict=True)) | {
            "segments": len(rows),
            "samples_used": int(rows["samples_used"].sum()),
            "weight": float(rows["weight"].sum()),
        }
        record |= group_means(rows, surfaces[rows["surface"].iloc[0]], sky)
        record |= ground_scatter(rows) | {"sky_memory": unsettled / math.sqrt(visits(rows))}
        record |= {"start_utc": rows["start_utc"].min(), "end_utc": rows["end_utc"].max()}
        records.append(record)
    return pd.DataFrame(records, columns=[*by, *GROUP_COLUMNS])


def group_means(rows: pd.DataFrame, properties: Mapping[str, Mapping], sky: tuple[float, float]) -> dict:
    """The measured quantities of a group, from its segments.

    Parameters
    ----------
    rows : the segments.
    properties : of the class.
    sky : SW_ref and L_ref.
    """
    emissivity, response = (properties[name]["value"] for name in ("emissivity", "sky_response"))
    names = ("sw_in", "sw_out", "lw_in", "lw_out", "solar_elevation")
    mean = {name: _mean(rows[name], rows["weight"]) for name in names}
    net = float(radiation.net_radiation(*(mean[name] for name in RADIATION)))
    albedo = float(radiation.albedo(rows["albedo_sw_in"], rows["albedo_sw_out"]))
    kelvin = float(longwave.surface_temperature(mean["lw_out"], mean["lw_in"], emissivity))
    common = radiation.net_common_sky(
        net,
        albedo,
        sw_in=mean["sw_in"],
        lw_in=mean["lw_in"],
        sw_ref=sky[0],
        lw_ref=sky[1],
        emissivity=emissivity,
        sky_response=response,
    )
    return mean | {
        "net_radiation": net,
        "albedo": albedo,
        "surface_temperature": kelvin - ZERO_CELSIUS,
        "net_radiation_common_sky": float(common),
    }


def visits(rows: pd.DataFrame) -> int:
    """How many times a group was visited.

    Segments less than `series.SKY_MEMORY` apart, of any set, are one visit under one sky.
    """
    count, until = 0, None
    for start, end in sorted(zip(rows["start_utc"], rows["end_utc"], strict=True)):
        count += until is None or (start - until).total_seconds() > series.SKY_MEMORY
        until = end if until is None else max(until, end)
    return count


def ground_scatter(rows: pd.DataFrame) -> dict[str, float]:
    """How the ground scatters under a group's walks.

    Returns standard deviations of the residuals of SW_out and LW_out, W m-2, their correlation, and the
    number of independent looks at the ground. Where nobody walked the spots are compared with each other.
    """
    looks, stood = spots.looks(rows), is_stand(rows)
    if stood.all():
        return {"independent": looks, **spots.scatter(rows)}
    rows = rows[~stood]

    def mean(values: pd.Series) -> float:
        return np.nan_to_num(_mean(values, rows["weight"]))

    sw, lw = (math.sqrt(mean(rows[name] ** 2)) for name in ("ground_sw_out", "ground_lw_out"))
    covariance = mean(rows["ground_correlation"] * rows["ground_sw_out"] * rows["ground_lw_out"])
    return {
        "independent": looks,
        "ground_sw_out": sw,
        "ground_lw_out": lw,
        "ground_correlation": float(np.clip(covariance / (sw * lw), -1, 1)) if sw * lw > 0 else 0.0,
    }


def segments(
    noted: pd.DataFrame,
    samples: Mapping[str, pd.DataFrame],
    *,
    intervals: Mapping[str, float],
    excluding: set[str],
    surfaces: Mapping[str, Mapping],
    withheld: Sequence[Withheld] = (),
    fixed: pd.DataFrame | None = None,
    stamp: str = "end",
) -> tuple[pd.DataFrame, list[Finding]]:
    """One row a noted interval: its names and `segment_means`; and findings on sky monitors.

    noted: intervals with `segment`, `height`, `speed`. samples: of each set, at least those in a segment,
    with `segment`, `flags`, `middle_utc`, and as `with_sky_memory` returns them. intervals: s between the
    samples of each set. excluding: flags that keep a sample out. surfaces: class properties; an interval
    without a surface is taken as black. withheld: what errors make untrustworthy; it has no value here.
    Where another set was a sky monitor at the time, its incoming terms replace the segment's own
    (`incoming_set` says whose they are). fixed, stamp: rows of a fixed station whose incoming terms replace
    all others, and what its times name.
    """
    parts, rows = Parts(samples, excluding), noted.to_dict("records")
    others = OfMonitors(rows, parts, intervals) if fixed is None else OfStation(fixed, stamp)
    records: list[dict] = []
    findings: list[Finding] = []
    for row in rows:
        frame, incoming = parts.of(row), {"incoming_set": row["set"], "incoming_heading": row["heading"]}
        if row["activity"] in COUNTED:
            frame, whose, found = others.over(row, frame)
            incoming, findings = incoming | whose, findings + found
        means = segment_means(
            frame,
            frame["used"],
            interval=intervals[row["set"]],
            emissivity=surfaces[row["surface"]]["emissivity"]["value"] if row["surface"] else 1.0,
            height=row["height"],
            speed=row["speed"],
        )
        start, end = time_text(pd.DatetimeIndex([row["start_utc"], row["end_utc"]]))
        names = untrustworthy(withheld, row["set"], incoming["incoming_set"], start, end)
        records.append(row | without(means, names) | incoming | {"noted_sky": row["sky"]})
    table = pd.DataFrame(records, columns=None if records else columns_of(noted))
    # also without a row, as a table that was written and read again
    table = table.astype({"start_utc": "datetime64[us, UTC]", "end_utc": "datetime64[us, UTC]"})
    return table, findings + others.found(rows)


def columns_of(noted: pd.DataFrame) -> list[str]:
    """The columns of `segments` in their order. The noted sky makes way for the recorded one."""
    ours = ("samples", "samples_used", "weight", *MEANS, "incoming_set", "incoming_heading", "noted_sky")
    return list(dict.fromkeys([*noted.columns, *ours]))


def with_common_sky(
    segments_: pd.DataFrame, surfaces: Mapping[str, Mapping], sky: tuple[float, float]
) -> pd.DataFrame:
    """The segments with `net_radiation_common_sky` beside what was measured."""

    def of_class(key: str, default: float) -> np.ndarray:
        values = [surfaces[name][key]["value"] if name else default for name in segments_["surface"]]
        return np.array(values, dtype=float)

    value = {name: segments_[name].to_numpy(float) for name in ("net_radiation", "albedo", "sw_in", "lw_in")}
    common = radiation.net_common_sky(
        value["net_radiation"],
        value["albedo"],
        sw_in=value["sw_in"],
        lw_in=value["lw_in"],
        sw_ref=sky[0],
        lw_ref=sky[1],
        emissivity=of_class("emissivity", 1.0),
        sky_response=of_class("sky_response", 0.0),
    )
    return segments_.assign(net_radiation_common_sky=common)


def found(surfaces: pd.DataFrame, sky: tuple[float, float]) -> list[Finding]:
    """A note for each surface that can't be put under the common sky."""
    return [
        Finding(
            "sky-too-different",
            facts={"surface": row["surface"], "sw_in": f"{row['sw_in']:.0f}", "sw_ref": f"{sky[0]:.0f}"},
        )
        for row in surfaces.to_dict("records")
        if not math.isfinite(row["net_radiation_common_sky"]) and math.isfinite(row["net_radiation"])
    ]


# The step
# --------------------------------------------------------------------------------------------------------


class Segmented(NamedTuple):
    """A set as steps 2 and 5 leave it."""

    calibrated: Table
    segmented: Table

    def in_segments(self, excluding: set[str]) -> pd.DataFrame:
        """The samples in a segment. Of the others only their sun matters, which a surface remembers."""
        needed = ["sw_in", "flags", "segment", "middle_utc"]
        record = with_sky_memory(self.segmented.read(needed), excluding)
        inside = (record["segment"] != "").to_numpy()
        sensed = self.calibrated.read(["lw_in_net", "lw_out_net"], inside)
        return self.segmented.read(rows=inside).assign(
            **sensed, sw_in_memory=record["sw_in_memory"].to_numpy()[inside]
        )


def averaged(
    noted: pd.DataFrame,
    samples: Mapping[str, pd.DataFrame],
    settings: Mapping,
    *,
    excluding: set[str],
    surfaces: Mapping[str, Mapping],
    found_before: Sequence[Finding],
    fixed: pd.DataFrame | None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Means of every segment, and findings on sky monitors. samples: by set, as for `segments`.
    excluding: flags that keep a sample out. The rest as for `run`.
    """
    return segments(
        noted,
        samples,
        intervals={name: entry["interval"] for name, entry in settings["sets"].items()},
        excluding=excluding,
        surfaces=surfaces,
        withheld=withheld(found_before),
        fixed=fixed,
        stamp=settings.get("stamp", "end"),
    )


def under_one_sky(
    means: pd.DataFrame, surfaces: Mapping[str, Mapping], kinds: Iterable[str] = tuple(GROUPINGS)
) -> tuple[pd.DataFrame, dict[str, pd.DataFrame], tuple[float, float]]:
    """Segments under their common sky, their groups by kind, and that sky (`reference_sky`). means: of
    segments.
    """
    sky = reference_sky(means)
    made = {kind: groups(means, GROUPINGS[kind], surfaces, sky) for kind in kinds}
    return with_common_sky(means, surfaces, sky), made, sky


def run(
    noted: pd.DataFrame,
    sets: Mapping[str, Segmented],
    settings: Mapping,
    *,
    surfaces: Mapping[str, Mapping],
    limits: Mapping[str, Mapping],
    found_before: Sequence[Finding],
    fixed: pd.DataFrame | None,
) -> Made:
    """Means of every segment, field and surface.

    noted: segments of step 5. surfaces: class properties. limits: rows of quality.csv by flag.
    found_before: findings of steps 1 to 5, whose errors withhold numbers. fixed: rows of a fixed station
    that gives the incoming terms, else None. settings: `sets` with the `interval` of each, `notes` (their
    file), and `stamp` of the station's times. Makes `segments`, `fields` and `surfaces`.
    """
    excluding = excluding_flags(limits)
    samples = {name: one.in_segments(excluding) for name, one in sets.items()}
    means, findings = averaged(
        noted,
        samples,
        settings,
        excluding=excluding,
        surfaces=surfaces,
        found_before=found_before,
        fixed=fixed,
    )
    findings = in_file(findings, settings["notes"])
    means = states.with_states(means, found_before)
    means, made, sky = under_one_sky(means, surfaces)
    made = {kind: states.of_groups(table, means, kind) for kind, table in made.items()}
    findings += found(made["surfaces"], sky)
    return Made({"segments": means, **made}, findings, [])
