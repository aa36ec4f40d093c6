"""Step 6: what each segment, field and surface amounts to, as measured and under one common sky."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from headland.base import station
from headland.base.findings import Finding, Withheld
from headland.base.flags import has_any
from headland.base.groups import COUNTED, counted_segments
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.chain.screen import sky_state
from headland.physics import radiation, series
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.longwave import surface_temperature

MONITORED = 0.9
"""Share of a segment's used samples that a sky monitor must cover to give it its incoming terms (methods of this project)."""


MEANS = (
    "sw_in",
    "sw_out",
    "lw_in",
    "lw_out",
    "lw_in_net",
    "lw_out_net",
    "body_temperature",
    "solar_elevation",
    "solar_azimuth",
    "albedo_sw_in",
    "albedo_sw_out",
    "albedo",
    "net_radiation",
    "surface_temperature",
    "sky",
    "noise_sw_in",
    "noise_sw_out",
    "noise_lw_in",
    "noise_lw_out",
    "rate_sw_in",
    "rate_sw_out",
    "rate_lw_in",
    "rate_lw_out",
    "sw_in_memory",
    "incoming_body_temperature",
    "ground_sw_out",
    "ground_lw_out",
    "ground_correlation",
    "independent",
    "thermal_shock",
)
"""What `segment_means` gives beside the numbers of samples."""


def segment_means(
    samples: pd.DataFrame, used, interval: float, emissivity: float, height: float, speed: float
) -> dict[str, float]:
    """One segment's means and what its scatter tells, from its samples.

    samples: sw_in, sw_out, lw_in, lw_out, lw_in_net, lw_out_net, sw_in_memory (W m-2), body_temperature, incoming_body_temperature (degC), solar_elevation,
    solar_azimuth, sw_clear, seconds. used: which samples count. interval: s. height: m. speed: m s-1 (0 where nobody walks). Without a used
    sample the means are NaN; the sun is then that of all samples.
    """
    used = np.asarray(used, bool)
    count = int(used.sum())
    result = {"samples": len(samples), "samples_used": count, "weight": count * interval}
    every = {name: column.to_numpy(float) for name, column in samples.items() if column.dtype.kind in "fi"}
    every |= {f"rate_{name}": series.rate_of_change(every["seconds"], every[name]) for name in RADIATION}
    value = {name: column[used] for name, column in every.items()}
    names = (
        *RADIATION,
        "lw_in_net",
        "lw_out_net",
        "body_temperature",
        "incoming_body_temperature",
        "sw_in_memory",
        *(f"rate_{name}" for name in RADIATION),
    )
    for name in names:
        result[name] = float(np.mean(value[name])) if count else math.nan
    result |= sun_of(value if count else every)
    sunny = (value["solar_elevation"] > radiation.ALBEDO_ELEVATION) & (
        value["sw_in"] > radiation.ALBEDO_SW_IN
    )
    result["albedo_sw_in"] = float(np.sum(value["sw_in"][sunny])) * interval
    result["albedo_sw_out"] = float(np.sum(value["sw_out"][sunny])) * interval
    result["albedo"] = float(radiation.albedo(value["sw_in"][sunny], value["sw_out"][sunny]))
    result["net_radiation"] = float(radiation.net_radiation(*(result[name] for name in RADIATION)))
    result["surface_temperature"] = (
        float(surface_temperature(result["lw_out"], result["lw_in"], emissivity)) - ZERO_CELSIUS
    )
    result["sky"] = sky_state(value["sw_in"], value["sw_clear"]) if count else ""
    result["thermal_shock"] = (
        float(np.mean(has_any(samples["flags"][used], {"thermal-shock"})))
        if count and "flags" in samples
        else 0.0
    )
    for name in RADIATION:
        result[f"noise_{name}"] = series.noise_of_mean(value[name], interval)
    ratio = np.sum(value["sw_out"]) / np.sum(value["sw_in"]) if count and np.sum(value["sw_in"]) > 0 else 0.0
    shortwave = value["sw_out"] - ratio * value["sw_in"]
    longwave = series.without_trend(value["lw_out"], np.arange(count), value["sw_in"])
    result["ground_sw_out"] = float(np.std(shortwave)) if count > 1 else 0.0
    result["ground_lw_out"] = float(np.std(longwave)) if count > 1 else 0.0
    result["ground_correlation"] = _correlation(shortwave, longwave)
    result["independent"] = (
        series.independent_samples(count, count * interval * speed, height, shortwave, longwave)
        if speed > 0 and count
        else min(count, 1.0)
    )
    return result


def sun_of(samples: Mapping[str, np.ndarray]) -> dict[str, float]:
    """Mean elevation and azimuth of the sun over some samples, degrees; the azimuth as the direction of the mean unit vector."""
    if not len(samples["solar_azimuth"]):
        return {"solar_elevation": math.nan, "solar_azimuth": math.nan}
    azimuth = np.radians(samples["solar_azimuth"])
    direction = math.degrees(math.atan2(np.mean(np.sin(azimuth)), np.mean(np.cos(azimuth)))) % 360.0
    return {"solar_elevation": float(np.mean(samples["solar_elevation"])), "solar_azimuth": direction}


def _correlation(a, b) -> float:
    spread = np.std(a) * np.std(b) if len(a) > 1 else 0.0
    return float(np.mean((a - np.mean(a)) * (b - np.mean(b))) / spread) if spread > 0 else 0.0


def reference_sky(segments: pd.DataFrame) -> tuple[float, float]:
    """The campaign's common sky: SW_ref and L_ref, W m-2, the means of the incoming terms over all that was used on the surfaces."""
    rows = counted_segments(segments)
    return tuple(_mean(rows[name], rows["weight"]) for name in ("sw_in", "lw_in"))


def _mean(values: pd.Series, weights: pd.Series) -> float:
    values, weights = values.to_numpy(float), weights.to_numpy(float)
    known = ~np.isnan(values)
    return float(np.average(values[known], weights=weights[known])) if known.any() else math.nan


def groups(
    segments: pd.DataFrame, by: list[str], surfaces: Mapping[str, Mapping], sky: tuple[float, float]
) -> pd.DataFrame:
    """Means over fields or surfaces.

    segments: as `segment_means` gives them, with names. by: `["surface"]` or `["surface", "field"]`. surfaces: class properties.
    sky: SW_ref and L_ref. Segments count by their recorded time. `independent` is the number of independent looks at the
    ground: passes over the same transect see the same ground, so of each transect only the best pass counts. `sky_memory` (W m-2) is the standard
    deviation of the shortwave that a surface had adjusted to about the one measured: over the campaign, by the number of the group's visits.
    """
    records = []
    standing = counted_segments(segments)
    off = (standing["sw_in_memory"] - standing["sw_in"]).dropna().to_numpy(float)
    unsettled = math.sqrt(np.mean(off**2)) if len(off) else 0.0
    for key, rows in standing.groupby(by, sort=True):
        properties = surfaces[rows["surface"].iloc[0]]
        emissivity, response = (properties[name]["value"] for name in ("emissivity", "sky_response"))
        record = dict(zip(by, key)) | {
            "segments": len(rows),
            "samples_used": int(rows["samples_used"].sum()),
            "weight": float(rows["weight"].sum()),
        }
        record |= {
            name: _mean(rows[name], rows["weight"])
            for name in ("sw_in", "sw_out", "lw_in", "lw_out", "solar_elevation")
        }
        record["net_radiation"] = float(radiation.net_radiation(*(record[name] for name in RADIATION)))
        record["albedo"] = float(radiation.albedo(rows["albedo_sw_in"], rows["albedo_sw_out"]))
        record["surface_temperature"] = (
            float(surface_temperature(record["lw_out"], record["lw_in"], emissivity)) - ZERO_CELSIUS
        )
        record["net_radiation_common_sky"] = float(
            radiation.net_common_sky(
                record["net_radiation"],
                record["albedo"],
                record["sw_in"],
                record["lw_in"],
                *sky,
                emissivity,
                response,
            )
        )
        record |= ground_scatter(rows) | {"sky_memory": unsettled / math.sqrt(visits(rows))}
        record["start_utc"], record["end_utc"] = rows["start_utc"].min(), rows["end_utc"].max()
        records.append(record)
    return pd.DataFrame(
        records,
        columns=[
            *by,
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
        ],
    )


def visits(rows: pd.DataFrame) -> int:
    """How many times a group was visited: segments less than `SKY_MEMORY` apart, by whatever set, are one visit under one sky."""
    count, until = 0, None
    for start, end in sorted(zip(rows["start_utc"], rows["end_utc"])):
        count += until is None or (start - until).total_seconds() > series.SKY_MEMORY
        until = end if until is None else max(until, end)
    return count


def ground_scatter(rows: pd.DataFrame) -> dict[str, float]:
    """How the ground scatters under a group's walks: standard deviations of the residuals of SW_out and LW_out, W m-2, their
    correlation, and the number of independent looks at the ground."""
    mean = lambda values: (lambda m: 0.0 if math.isnan(m) else m)(_mean(values, rows["weight"]))
    sw, lw = (math.sqrt(mean(rows[name] ** 2)) for name in ("ground_sw_out", "ground_lw_out"))
    covariance = mean(rows["ground_correlation"] * rows["ground_sw_out"] * rows["ground_lw_out"])
    looks = rows.groupby(["field", "transect"], dropna=False)["independent"].max().sum()
    return {
        "independent": float(looks),
        "ground_sw_out": sw,
        "ground_lw_out": lw,
        "ground_correlation": float(np.clip(covariance / (sw * lw), -1, 1)) if sw * lw > 0 else 0.0,
    }


def with_sky_memory(samples: pd.DataFrame, excluding: set[str]) -> pd.DataFrame:
    """All samples of a set with `sw_in_memory`, W m-2: what a surface lately had of the sun (`remembered`), as far as the samples can be trusted. samples: `sw_in`, `flags`, `middle_utc`."""
    lit = ~has_any(samples["flags"], excluding) | has_any(samples["flags"], {"edge"})
    return samples.assign(
        sw_in_memory=series.remembered(_seconds(samples["middle_utc"]), samples["sw_in"].where(lit))
    )


def _seconds(times: pd.Series) -> np.ndarray:
    return since_1970(times)


def segments(
    noted: pd.DataFrame,
    samples: Mapping[str, pd.DataFrame],
    sets: Mapping[str, Mapping],
    excluding: set[str],
    surfaces: Mapping[str, Mapping],
    withheld: Sequence[Withheld] = (),
    fixed: pd.DataFrame | None = None,
    stamp: str = "end",
) -> tuple[pd.DataFrame, list[Finding]]:
    """One row a noted interval: its names and `segment_means`; and what is to be said of sky monitors.

    noted: intervals with `segment`, `height`, `speed`. samples: of each set, at least those in a segment, with `segment`, `flags`, `middle_utc`, and as
    `with_sky_memory` gives them. sets: each with its `interval`, s. excluding: flags that keep a sample out. surfaces: class properties; an interval
    without a surface is taken as black. Where another set stood as sky monitor, its incoming terms replace the segment's own (`incoming_set` says whose they are). withheld: what errors make untrustworthy; it has no value here.
    fixed, stamp: rows of a fixed station whose incoming terms replace all others, and what its times name.
    """
    records, findings, parts = [], [], {}
    for name, frame in samples.items():
        frame = frame.assign(
            used=~has_any(frame["flags"], excluding),
            seconds=_seconds(frame["middle_utc"]),
            incoming_body_temperature=frame["body_temperature"],
        )
        parts[name] = dict(list(frame[frame["segment"] != ""].groupby("segment")))
        parts[name][""] = frame.iloc[:0]
    part = lambda row: parts[row["set"]].get(row["segment"], parts[row["set"]][""])
    rows = noted.to_dict("records")
    above, step = station.incoming(fixed, stamp, series.remembered) if fixed is not None else (None, 0.0)
    replaced = 0
    for row in rows:
        frame, incoming = part(row), {"incoming_set": row["set"], "incoming_heading": row["heading"]}
        if above is not None and row["activity"] in COUNTED and len(frame):
            frame, share = with_incoming_of(frame, above, step)
            if share >= MONITORED:
                incoming, replaced = {"incoming_set": station.NAME, "incoming_heading": 0.0}, replaced + 1
            else:
                findings.append(
                    Finding(
                        "incoming-station",
                        "too-little",
                        row["set"],
                        line=row["notes_row"],
                        facts={"segment": row["segment"], "share": f"{100.0 * share:.0f}"},
                    )
                )
        for monitor in rows if row["activity"] in COUNTED and above is None else ():
            if (
                monitor["activity"] == "sky_monitor"
                and monitor["set"] != row["set"]
                and monitor["start_utc"] < row["end_utc"]
                and monitor["end_utc"] > row["start_utc"]
            ):
                frame, share = with_incoming_of(frame, part(monitor), sets[monitor["set"]]["interval"])
                if share >= MONITORED:
                    incoming = {"incoming_set": monitor["set"], "incoming_heading": monitor["heading"]}
                findings.append(
                    Finding(
                        "sky-monitor",
                        "" if share >= MONITORED else "too-little",
                        row["set"],
                        line=row["notes_row"],
                        facts={
                            "segment": row["segment"],
                            "monitor": monitor["set"],
                            "share": f"{100.0 * share:.0f}",
                        },
                    )
                )
                break
        emissivity = surfaces[row["surface"]]["emissivity"]["value"] if row["surface"] else 1.0
        means = segment_means(
            frame, frame["used"], sets[row["set"]]["interval"], emissivity, row["height"], row["speed"]
        )
        names = untrustworthy(
            withheld,
            row["set"],
            incoming["incoming_set"],
            *time_text(pd.DatetimeIndex([row["start_utc"], row["end_utc"]])),
        )
        records.append({**row, **without(means, names), **incoming, "noted_sky": row["sky"]})
    if above is not None:
        findings.append(
            Finding(
                "incoming-station",
                facts={
                    "count": replaced,
                    "segments": sum(row["activity"] in COUNTED for row in rows),
                    "stamp": stamp,
                },
            )
        )
    # the noted sky makes way for the recorded one, with or without a row
    columns = (
        None
        if records
        else list(
            dict.fromkeys(
                [
                    *noted.columns,
                    "samples",
                    "samples_used",
                    "weight",
                    *MEANS,
                    "incoming_set",
                    "incoming_heading",
                    "noted_sky",
                ]
            )
        )
    )
    return pd.DataFrame(records, columns=columns), findings


def untrustworthy(
    withheld: Sequence[Withheld], set_name: str, incoming_set: str, start: str, end: str
) -> set[str]:
    """The channels of a segment that have no trustworthy value. start, end: ISO 8601 text in UTC."""
    names = set()
    for entry in withheld:
        if (not entry.end_utc or entry.end_utc >= start) and (not entry.start_utc or entry.start_utc <= end):
            names |= {
                c
                for c in entry.channels
                if not entry.sets or (incoming_set if c in ("sw_in", "lw_in") else set_name) in entry.sets
            }
    return names


def without(means: Mapping[str, float], channels: set[str]) -> dict[str, float]:
    """A segment's means less those of channels that can't be trusted, and less what is computed from them."""
    result = dict(means)
    if channels:
        shortwave, longwave = (any(c.startswith(band) for c in channels) for band in ("sw", "lw"))
        gone = [*channels, "net_radiation"]
        gone += ["albedo", "ground_sw_out"] if shortwave else []
        gone += ["surface_temperature", "ground_lw_out"] if longwave else []
        gone += ["sw_in_memory"] if "sw_in" in channels else []
        result |= dict.fromkeys(gone, math.nan)
        result |= dict.fromkeys(("albedo_sw_in", "albedo_sw_out"), 0.0) if shortwave else {}
    return result


def with_incoming_of(
    samples: pd.DataFrame, monitor: pd.DataFrame, interval: float
) -> tuple[pd.DataFrame, float]:
    """A segment's samples with the incoming terms of a sky monitor at the same moments, and the share of its used samples that the monitor covers.

    samples, monitor: as in `segments`. interval: of the monitor, s; a moment further than that from its samples is not covered, and no longer used. Below
    `MONITORED` the samples come back as they were.
    """
    watched = monitor[monitor["used"]]
    if not len(watched) or not samples["used"].any():
        return samples, 0.0
    at, known = samples["seconds"].to_numpy(), watched["seconds"].to_numpy()
    right = (
        np.clip(np.searchsorted(known, at), 1, max(len(known) - 1, 1))
        if len(known) > 1
        else np.zeros(len(at), int)
    )
    covered = np.minimum(np.abs(at - known[right]), np.abs(at - known[right - 1])) <= interval
    share = float((covered & samples["used"]).sum() / samples["used"].sum())
    if share < MONITORED:
        return samples, share
    source = {
        "sw_in": "sw_in",
        "lw_in": "lw_in",
        "lw_in_net": "lw_in_net",
        "incoming_body_temperature": "body_temperature",
        "sw_in_memory": "sw_in_memory",
    }
    return samples.assign(
        used=samples["used"] & covered,
        **{mine: np.interp(at, known, watched[theirs]) for mine, theirs in source.items()},
    ), share


def with_common_sky(
    segments_: pd.DataFrame, surfaces: Mapping[str, Mapping], sky: tuple[float, float]
) -> pd.DataFrame:
    """The segments with `net_radiation_common_sky` beside what was measured."""
    of_class = lambda key, default: np.array(
        [surfaces[s][key]["value"] if s else default for s in segments_["surface"]], dtype=float
    )
    value = [segments_[name].to_numpy(float) for name in ("net_radiation", "albedo", "sw_in", "lw_in")]
    return segments_.assign(
        net_radiation_common_sky=radiation.net_common_sky(
            *value, *sky, of_class("emissivity", 1.0), of_class("sky_response", 0.0)
        )
    )


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
