"""Where samples were taken, by a GPS track and outlines of the fields, and whether the notes agree with it.

A campaign may give `track.gpx` (or `track_SET.gpx` for a set of its own) and `fields.geojson`. Track and
outlines go through the same projection, so no sample changes sides by it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.time_text import time_text
from headland.base.words import did_you_mean
from headland.files.geojson import Outlines, read_outlines
from headland.files.gpx import NO_TRACK, read_track
from headland.physics.geometry import GUARD_RADIUS, SMALLEST_HEIGHT
from headland.physics.plane import along, edge_distance, inside, on_plane, projected

LONGEST_GAP = 15.0
"""s between two points of a track that a sample may lie between: some 10 m of walking (common practice, no
source).
"""


SPREADS = 2.0
"""Standard uncertainties of a position that are added to a guard, so that one sample in forty at its rim is
on the other side of it.
"""


PLACED = 0.9
"""Share of a segment's samples that must have a place for the place to count (common practice, no source)."""


ELSEWHERE = 0.5
"""Share of a segment's samples clear of all guards that must lie elsewhere for the notes to be doubted
(common practice, no source).
"""


FEWEST = 10
"""Fewest samples clear of all guards for a check of the notes (common practice, no source)."""


@dataclass(frozen=True)
class Ground:
    """Fields on their plane, m, its origin (longitude, latitude), and the tracks of sets that have one."""

    outlines: Outlines
    origin: tuple[float, float]
    tracks: Mapping[str, pd.DataFrame]

    def located(self, name: str, moments) -> pd.DataFrame:
        """`places` of the samples of a set; moments: s since 1970, by the corrected clock."""
        return places(moments, self.tracks.get(name, NO_TRACK), self.outlines, self.origin)


def read(
    outlines: Sequence[Path], tracks: Sequence[Path], of_set: Mapping[str, str], naming: str
) -> tuple[Ground | None, list[Finding]]:
    """What a campaign gives of places, and what is wrong with it; None where nothing can be used.

    Parameters
    ----------
    outlines : the file, or none.
    tracks : the files.
    of_set : the name of each set's track (empty where it has none).
    naming : as for `read_outlines`.
    """
    if not outlines or not tracks:
        other = "fields.geojson" if tracks else "track.gpx"
        return None, [
            Finding("place-unknown", "one-file", file=path.name, facts={"other": other})
            for path in (*outlines, *tracks)
        ]
    with outlines[0].open("rb") as stream:
        fields, findings = read_outlines(stream, outlines[0].name, naming)
    by_file = {}
    for path in tracks:
        with path.open("rb") as stream:
            by_file[path.name], found = read_track(stream, path.name)
        findings = findings + found
    if not fields:
        return None, findings
    of_sets = {name: by_file[file] for name, file in of_set.items() if file}
    return Ground(*on_plane(fields), of_sets), findings


def guard(height, uncertainty: float):
    """How far from an outline a sample must be to count, m.

    Three heights for the view, and two standard uncertainties of the position.
    """
    return GUARD_RADIUS * height + SPREADS * uncertainty


def places(moments, track: pd.DataFrame, outlines: Outlines, origin: tuple[float, float]) -> pd.DataFrame:
    """Where each sample was taken.

    Parameters
    ----------
    moments : s since 1970, by the corrected clock.
    track : as `read_track` returns it.
    outlines, origin : m, as `on_plane` returns them.

    Returns
    -------
    `east` and `north` (m, NaN where the track says nothing), `field` (empty: in none) and `edge_distance`
    (m).
    """
    count = len(moments)
    east = north = np.full(count, np.nan)
    if len(track) > 1:
        seconds = track["seconds"].to_numpy(float)
        right = np.clip(np.searchsorted(seconds, moments), 1, len(seconds) - 1)
        within = (moments >= seconds[0]) & (moments <= seconds[-1])
        known = within & (seconds[right] - seconds[right - 1] <= LONGEST_GAP)
        x, y = projected(track["longitude"].to_numpy(float), track["latitude"].to_numpy(float), origin)
        east, north = (np.where(known, np.interp(moments, seconds, v), np.nan) for v in (x, y))
    field, nearest = np.full(count, "", dtype=object), np.full(count, np.inf)
    for name, rings in outlines.items():
        field[inside(east, north, rings) & (field == "")] = name
        nearest = np.fmin(nearest, edge_distance(east, north, rings))
    distance = np.where(np.isfinite(east), nearest, np.nan)
    return pd.DataFrame({"east": east, "north": north, "field": field, "edge_distance": distance})


def placed(
    assigned: pd.DataFrame,
    moments,
    located: pd.DataFrame,
    segments: pd.DataFrame,
    fields: Sequence[str],
    *,
    uncertainty: float,
    interval: float,
    response_time: float,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The samples of one set with position and guards by place instead of by speed and time.

    Parameters
    ----------
    assigned : as `segment.assign` returns it.
    moments : s.
    located : as `places` returns it.
    segments : the set's own.
    fields : names of the outlines.
    uncertainty : of a position, m (one standard uncertainty in each direction).
    interval, response_time : s.

    Returns
    -------
    The samples, and the findings where the notes name another field. A segment with too few placed samples,
    or a field without an outline, stays as it was.
    """
    result, findings = assigned.copy(), []
    flags = result["flags"].to_numpy(object, copy=True)
    position = result["position"].to_numpy(float, copy=True)
    known = located["east"].notna().to_numpy()
    usable = (assigned["flags"] != "overlap").to_numpy()
    for row in segments.to_dict("records"):
        mine = (assigned["segment"] == row["segment"]).to_numpy() & usable
        if not mine.any() or not row["field"]:
            continue
        own = np.flatnonzero(mine & known)
        if unknown := _unknown(row, fields, len(own) / mine.sum()):
            findings.append(unknown)
            continue
        near = located["edge_distance"].to_numpy()[own] < guard(row["height"], uncertainty)
        away = located["field"].to_numpy()[own] != row["field"]
        doubted = _doubt(row, own[~near], own[~near & away], moments, located)
        findings += doubted
        if row["height"] < SMALLEST_HEIGHT:
            continue
        if row["speed"] > 0 and len(own) > 1:
            distance = along(located["east"].to_numpy()[own], located["north"].to_numpy()[own])
            position[mine] = np.interp(np.flatnonzero(mine), own, distance)
        since_start = moments[own] - moments[np.flatnonzero(mine)[0]]
        unsettled = since_start < response_time - interval / 2
        elsewhere = away & (not doubted)
        flags[own] = np.where(near | unsettled | elsewhere, "edge", "")
    return result.assign(flags=flags, position=position), findings


def _unknown(row: Mapping, fields: Sequence[str], share: float) -> Finding | None:
    """A finding where a segment can't be placed: its field has no outline, or too few of its samples have a
    place.
    """
    spot = {"set": row["set"], "line": row["notes_row"]}
    facts = {"segment": row["segment"], "field": row["field"]}
    if row["field"] not in fields:
        hint = did_you_mean(row["field"], fields)
        facts = {**facts, "allowed": ", ".join(fields), "hint": hint}
        return Finding("place-unknown", "no-outline", **spot, facts=facts)
    if share < PLACED:
        return Finding("place-unknown", **spot, facts={**facts, "share": f"{100.0 * share:.0f}"})
    return None


def _doubt(row: Mapping, clear, elsewhere, moments, located: pd.DataFrame) -> list[Finding]:
    """A finding where most of a segment's samples clear of all guards are in another field than the noted
    one.

    clear, elsewhere: places of those samples, and of those among them that are elsewhere.
    """
    if len(clear) < FEWEST or len(elsewhere) <= ELSEWHERE * len(clear):
        return []
    # times of the samples, not of the note: the next note may begin at the minute at which this one ends
    ends = np.round(moments[elsewhere[[0, -1]]] * 1e3).astype("int64")
    start, end = time_text(pd.to_datetime(ends, unit="ms", utc=True))
    place = located["field"].iloc[elsewhere].value_counts().index[0]
    return [
        Finding(
            "place-disagrees",
            "" if place else "no-field",
            set=row["set"],
            line=row["notes_row"],
            start_utc=start,
            end_utc=end,
            channel="sw_out lw_out",
            facts={
                "segment": row["segment"],
                "field": row["field"],
                "place": place,
                "count": len(elsewhere),
                "clear": len(clear),
            },
        )
    ]
