"""Step 5: which sample belongs to which noted interval, where on the field it was taken, and whether it counts.

A segment is a noted interval with the samples that were stored in it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import reworded
from headland.base.time_text import time_text
from headland.base.times import LARGEST_CLOCK_OFFSET, since_1970
from headland.chain.notes import clock_offset
from headland.physics import geometry, instruments

WHOLLY_COVERED = 0.9
"""Share of a segment's samples under covers from which nothing of it is left (common practice, no source)."""

COVERED = ("dark", "channel_check")
"""Activities in which covers are on because they are meant to be."""


FLAGS = ("", "edge", "low-head", "overlap")
"""What `assign` says of a sample."""

STANDING = ("stand", "side_by_side", "sky_monitor", "dark", "channel_check")


def positions(count: int, interval: float, speed: float, length: float = np.nan):
    """Distance from the start of a transect, m, at the middle of each of its samples.

    Speed times recorded time, so that an interruption, in which one stands, does not count; scaled to the noted length (m) where there is one.
    """
    along = (np.arange(count) + 0.5) * interval * speed
    return along * (length / (count * interval * speed)) if length > 0 and count and speed > 0 else along


def edge(position, total: float, height: float, settling: float):
    """Where a sample along a transect is kept apart: nearer to either end than three heights, or the head not settled yet.

    position: m from the start. total: m, the transect's length. height: m, of the head over what it looks at. settling: m walked
    within the head's 95 % response time, added at the start.
    """
    guard = geometry.GUARD_RADIUS * height
    return (position < guard + settling) | (position > total - guard)


def identifier(set_name: str, start) -> str:
    """A segment's name: its set and its start in UTC, so that a note added elsewhere changes no other's name."""
    return f"{set_name}-{start:%m%d-%H%M}"


def _unique(names: list[str]) -> list[str]:
    seen: dict[str, int] = {}
    result = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        result.append(name if seen[name] == 1 else f"{name}.{seen[name]}")
    return result


def list_segments(
    noted: pd.DataFrame, sensor_height: float, walking_speed: float
) -> tuple[pd.DataFrame, list[Finding]]:
    """The noted intervals that may hold samples, each with its name, the head's height over its canopy and the speed in it.

    noted: as `headland.notes.intervals` returns them. Clock checks are none.
    """
    rows = noted[noted["activity"] != "clock_check"].copy().reset_index(drop=True)
    rows["segment"] = _unique([identifier(s, t) for s, t in zip(rows["set"], rows["start_utc"])])
    rows["height"] = sensor_height - rows["canopy_height"].fillna(0.0)
    standing = rows["activity"].isin(STANDING)
    rows["speed"] = np.where(standing, 0.0, rows["speed"].fillna(walking_speed) if walking_speed > 0 else 0.0)
    findings = (
        [
            Finding(
                "head-too-low",
                "",
                row["set"],
                "",
                row["notes_row"],
                facts={
                    "height": f"{row['height']:.2f}",
                    "canopy": f"{row['canopy_height']:.2f}",
                    "segment": row["segment"],
                    "field": row["field"],
                },
            )
            for row in rows[rows["height"] < geometry.SMALLEST_HEIGHT].to_dict("records")
        ]
        if walking_speed > 0
        else []
    )
    return rows, findings


def corrected_moments(middle: pd.Series, checks: pd.DataFrame) -> np.ndarray:
    """Times of samples in s since 1970, by the reference of the set's clock checks; as stamped where a check is too far off to be believed."""
    ahead = clock_offset(checks, middle)
    if np.any(np.abs(ahead) > LARGEST_CLOCK_OFFSET):
        ahead = np.zeros(len(middle))
    return since_1970(middle) - ahead


def assign(
    middle: pd.Series,
    checks: pd.DataFrame,
    segments: pd.DataFrame,
    interval: float,
    response_time: float,
    walks: bool,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Segment, position and guard flags of each sample of one set.

    middle: the middle of each sample's averaging interval by the logger's clock, in UTC, ascending. checks: the set's clock checks.
    segments: the set's own segments. interval: s. response_time: s (95 %). walks: whether anybody walks in this campaign; where
    nobody does there are no edges. Returns columns `middle_utc` (the sample's middle by the corrected clock), `segment` (empty where no note claims the sample), `position` (m) and
    `flags` (of this step) in the samples' order, and findings on the clock.
    """
    findings = _clock_findings(checks)
    moments = corrected_moments(middle, checks)
    names, flags = (
        np.zeros(len(middle), np.int32),
        np.zeros(len(middle), np.int8),
    )  # places in what they are called below
    position = np.full(len(middle), np.nan)
    called = dict(zip(["", *sorted(segments["segment"])], range(len(segments) + 1)))
    for row in segments.to_dict("records"):
        inside = (moments >= row["start_utc"].timestamp()) & (moments < row["end_utc"].timestamp())
        taken = inside & (names != 0)
        flags[taken] = FLAGS.index("overlap")
        mine = np.flatnonzero(inside & ~taken)
        names[mine] = called[row["segment"]]
        if not len(mine) or not walks:
            continue
        if row["height"] < geometry.SMALLEST_HEIGHT:
            flags[mine] = FLAGS.index("low-head")
        elif row["speed"] > 0:
            position[mine] = positions(len(mine), interval, row["speed"], row["length"])
            total = row["length"] if row["length"] > 0 else len(mine) * interval * row["speed"]
            settling = response_time * total / (len(mine) * interval)
            flags[mine[edge(position[mine], total, row["height"], settling)]] = FLAGS.index("edge")
        else:
            flags[mine[moments[mine] - moments[mine[0]] < response_time - interval / 2]] = FLAGS.index("edge")
    corrected = pd.DatetimeIndex(
        (np.round(moments * 1e3).astype("int64") * 1000).view("datetime64[us]")
    ).tz_localize("UTC")
    return pd.DataFrame(
        {
            "middle_utc": corrected,
            "segment": _texts(names, list(called)),
            "position": position,
            "flags": _texts(flags, FLAGS),
        },
        copy=False,
    ), findings


def _texts(places: np.ndarray, words: Sequence[str]) -> pd.Categorical:
    return pd.Categorical.from_codes(places, pd.Index(words, dtype="str"))


def _clock_findings(checks: pd.DataFrame) -> list[Finding]:
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


def without_meant_covers(segments: pd.DataFrame, samples: pd.DataFrame) -> pd.Series:
    """The samples' flags, without those of covers where the notes say that covers were on. samples: `segment`, `flags`."""
    meant = samples["segment"].isin(segments.loc[segments["activity"].isin(COVERED), "segment"]) & samples[
        "flags"
    ].str.contains("cover")
    return reworded(
        samples["flags"],
        meant,
        lambda text, meant: (
            " ".join(word for word in text.split() if word.split("-")[0] != "cover") if meant else text
        ),
    )


def covers(segments: pd.DataFrame, samples: pd.DataFrame) -> list[Finding]:
    """Covers that were left on in a segment: a warning, and an error where hardly a sample is free of it. samples: `time_utc`, `segment`, `flags`."""
    findings = []
    hit = samples[samples["flags"].str.contains("cover")]
    for row in segments[segments["segment"].isin(hit["segment"])].to_dict("records"):
        own = hit[hit["segment"] == row["segment"]]
        stored = int((samples["segment"] == row["segment"]).sum())
        kinds = sorted(
            {
                word.removeprefix("cover").lstrip("-")
                for text in own["flags"].unique()
                for word in text.split()
                if word.split("-")[0] == "cover"
            }
        )
        start, end = time_text(own["time_utc"].iloc[[0, -1]])
        findings.append(
            Finding(
                "cover-left-on",
                "segment" if len(own) >= WHOLLY_COVERED * stored else "",
                row["set"],
                "",
                row["notes_row"],
                start,
                end,
                " ".join(kind for kind in kinds if kind),
                {
                    "segment": row["segment"],
                    "field": row["field"],
                    "count": len(own),
                    "samples": stored,
                    "covers": "all covers were" if "" in kinds else f"the cover of {' and '.join(kinds)} was",
                },
            )
        )
    return findings


def counts(segments: pd.DataFrame, samples: pd.DataFrame, excluded) -> list[Finding]:
    """What is to be said of segments without samples, or with none left to average. excluded: a truth value a sample."""
    stored = samples["segment"].value_counts()
    used = samples.loc[~np.asarray(excluded, bool), "segment"].unique()
    told = samples.loc[
        samples["flags"].str.contains("cover|-impossible|battery-low"), "segment"
    ].unique()  # these have findings of their own
    findings = []
    for row in segments[~segments["segment"].isin(used)].to_dict("records"):
        count = int(stored.get(row["segment"], 0))
        if not count or (row["height"] >= geometry.SMALLEST_HEIGHT and row["segment"] not in told):
            start, end = time_text(pd.DatetimeIndex([row["start_utc"], row["end_utc"]]))
            findings.append(
                Finding(
                    "segment-unused" if count else "note-without-data",
                    set=row["set"],
                    line=row["notes_row"],
                    start_utc=start,
                    end_utc=end,
                    facts={
                        "segment": row["segment"],
                        "field": row["field"] or row["activity"],
                        "samples": count,
                    },
                )
            )
    return findings


def in_file(findings: Sequence[Finding], file: str) -> list[Finding]:
    """The same findings, placed in the file of the notes."""
    return [
        Finding(f.code, f.variant, f.set, file, f.line, f.start_utc, f.end_utc, f.channel, f.facts)
        for f in findings
    ]


def span(middles) -> tuple | None:
    """First and last moment over all sets, from each set's ascending times; None where no set has a sample."""
    some = [times for times in middles if len(times)]
    return (
        (min(t.iloc[0] for t in some).to_pydatetime(), max(t.iloc[-1] for t in some).to_pydatetime())
        if some
        else None
    )


def response_time(certificates: pd.DataFrame) -> float:
    """The slowest head's 95 % response time, s; the default where the register gives none."""
    known = certificates["response_time_95"].dropna()
    return float(known.max()) if len(known) else instruments.RESPONSE_TIME
