"""Where samples were taken, by a GPS track and outlines of the fields, and whether the notes agree with it.

A campaign may give `track.gpx` (or `track_SET.gpx` for a set of its own) and `fields.geojson`. Both are untrusted: they are read as data, in full or not at
all, and what does not fit becomes one plain error with its line. Lengths are small, so a plane that touches the ellipsoid at the fields is enough: track and
outlines go through the same projection, so no sample changes sides by it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO
from xml.parsers import expat

import numpy as np
import pandas as pd
from scipy.optimize import isotonic_regression

from headland.base.basics import did_you_mean
from headland.base.findings import Finding
from headland.base.times import since_1970
from headland.files.tables import time_text
from headland.physics.geometry import GUARD_RADIUS, SMALLEST_HEIGHT

LARGEST = 20_000_000
"""Bytes: a track of a day at one point a second has under 10 MB."""
MOST_CORNERS = 20_000
"""Corners of all outlines together."""
MOST_LINES = 500
"""Lines across a field of many corners that are tried for the longest chord."""
LONGEST_GAP = 15.0
"""s between two points of a track that a sample may lie between: some 10 m of walking (common practice, no source)."""
SPREADS = 2.0
"""Standard uncertainties of a position that are added to a guard, so that one sample in forty at its rim is on the other side of it."""
PLACED = 0.9
"""Share of a segment's samples that must have a place for the place to count (common practice, no source)."""
ELSEWHERE = 0.5
"""Share of a segment's samples clear of all guards that must lie elsewhere for the notes to be doubted (common practice, no source)."""
FEWEST = 10
"""Samples clear of all guards below which nothing is said of the notes (common practice, no source)."""
SEMI_MAJOR, FLATTENING = 6378137.0, 1.0 / 298.257223563
"""m, 1: the ellipsoid of WGS 84 (its definition)."""
GPX = ("http://www.topografix.com/GPX/1/1", "http://www.topografix.com/GPX/1/0")
"""Namespaces of the open standard."""

_NO_TRACK = pd.DataFrame({"seconds": [], "longitude": [], "latitude": []}, dtype=float)
Outlines = Mapping[str, Sequence[np.ndarray]]
"""For each field its closed rings, outer and holes alike: corners x 2."""


# Reading ---------------------------------------------------------------------------------------------------------


class _Unfit(Exception):
    """What stops a file: line, found, expected."""


def _content(stream: BinaryIO) -> bytes:
    raw = stream.read(LARGEST + 1)
    if len(raw) > LARGEST:
        raise _Unfit(
            None,
            f"the file is larger than {LARGEST // 1_000_000} MB",
            "the walks of a campaign, and nothing else",
        )
    return raw


def _stopped(name: str, problem: _Unfit) -> list[Finding]:
    line, found, expected = problem.args
    return [Finding("table-unreadable", file=name, line=line, facts={"found": found, "expected": expected})]


def read_track(stream: BinaryIO, name: str) -> tuple[pd.DataFrame, list[Finding]]:
    """A GPX track as `seconds` (since 1970, UTC), `longitude`, `latitude` (degrees, WGS 84), ascending in time, and what is wrong with it.

    stream: the file, opened for reading bytes. name: as findings name it. A document type, and so any entity, is refused before it is read.
    """
    try:
        points, untimed = _points(_content(stream))
        if not points:
            raise _Unfit(
                None,
                f"no point with a time ({untimed} without)",
                "a GPX track: points `trkpt` with `lat`, `lon` and a `time` in UTC",
            )
    except _Unfit as problem:
        return _NO_TRACK, _stopped(name, problem)
    frame = pd.DataFrame(points, columns=["time", "latitude", "longitude", "line"])
    times = pd.to_datetime(frame["time"], errors="coerce", utc=True, format="ISO8601")
    if times.isna().any():
        row = frame[times.isna()].iloc[0]
        return _NO_TRACK, _stopped(
            name,
            _Unfit(
                int(row["line"]),
                f'the time "{row["time"][:40]}"',
                "a time in UTC such as 2026-05-21T09:30:00Z",
            ),
        )
    frame["seconds"] = since_1970(times)
    frame = frame.sort_values("seconds", kind="stable").drop_duplicates("seconds").reset_index(drop=True)
    return frame[list(_NO_TRACK)], [
        Finding("track-points-dropped", file=name, facts={"count": untimed})
    ] if untimed else []


def _points(raw: bytes) -> tuple[list[tuple[str, float, float, int]], int]:
    parser = expat.ParserCreate(namespace_separator=" ")
    points, untimed, path, text = [], 0, [], []
    point: dict = {}

    def refuse(*_):
        raise _Unfit(
            parser.CurrentLineNumber,
            "a document type or entity",
            "plain GPX without them: save it again from the device or a map program",
        )

    def start(tag, attributes):
        space, _, local = tag.rpartition(" ")
        if not path and (local != "gpx" or space not in ("", *GPX)):
            raise _Unfit(
                parser.CurrentLineNumber, f"the element `{local[:40]}`", "a GPX file, which begins with `gpx`"
            )
        path.append(local)
        if len(path) > 50:
            raise _Unfit(parser.CurrentLineNumber, "elements nested dozens deep", "a plain GPX track")
        if local == "trkpt":
            point.clear()
            try:
                point.update(
                    time="",
                    line=parser.CurrentLineNumber,
                    lat=float(attributes["lat"]),
                    lon=float(attributes["lon"]),
                )
            except (KeyError, ValueError):
                point.update(lat=np.nan, lon=np.nan)
            if not (abs(point["lat"]) <= 90.0 and abs(point["lon"]) <= 180.0):
                raise _Unfit(
                    parser.CurrentLineNumber,
                    "a point without a place on Earth",
                    "`lat` from -90 to 90 and `lon` from -180 to 180, in degrees",
                )
        text.clear()

    def end(tag):
        nonlocal untimed
        local = path.pop()
        if local == "time" and path[-1:] == ["trkpt"]:
            point["time"] = "".join(text).strip()
        elif local == "trkpt" and point["time"]:
            points.append((point["time"], point["lat"], point["lon"], point["line"]))
        elif local == "trkpt":
            untimed += 1

    def letters(some):
        if path[-2:] == ["trkpt", "time"]:
            text.append(some)

    parser.StartDoctypeDeclHandler = parser.EntityDeclHandler = refuse
    parser.ExternalEntityRefHandler = refuse
    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = start, end, letters
    try:
        parser.Parse(raw, True)
    except expat.ExpatError as problem:
        raise _Unfit(
            problem.lineno,
            f"no XML ({expat.errors.messages[problem.code]})",
            "a GPX file as the device wrote it",
        ) from None
    except (LookupError, ValueError) as problem:
        raise _Unfit(None, f"an unknown encoding ({str(problem)[:60]})", "UTF-8") from None
    return points, untimed


def read_outlines(
    stream: BinaryIO, name: str, naming: str
) -> tuple[dict[str, list[np.ndarray]], list[Finding]]:
    """The fields of a GeoJSON file: for each its rings of longitude and latitude (degrees, WGS 84), and what is wrong with the file.

    stream: the file, opened for reading bytes. name: as findings name it. naming: the property that holds the field's name. Features of one name make one field.
    """
    try:
        return _rings(_content(stream), naming), []
    except _Unfit as problem:
        return {}, _stopped(name, problem)


def _rings(raw: bytes, naming: str) -> dict[str, list[np.ndarray]]:
    try:
        text = raw.decode("utf-8-sig")
        values = json.loads(text, parse_constant=lambda word: np.nan)
    except UnicodeDecodeError:
        raise _Unfit(None, "another encoding than UTF-8", "UTF-8: save it again with that encoding") from None
    except json.JSONDecodeError as problem:
        raise _Unfit(
            problem.lineno, f"no JSON ({problem.msg})", "a GeoJSON file with the outlines of the fields"
        ) from None
    except (RecursionError, ValueError):
        raise _Unfit(
            None, "values nested too deep or too long", "a GeoJSON file with the outlines of the fields"
        ) from None
    features = values.get("features") if isinstance(values, dict) else None
    if not isinstance(features, list) or not features:
        raise _Unfit(
            None, "no list of `features`", "GeoJSON of the type FeatureCollection, a feature a field"
        )
    lines = [text.count("\n", 0, match.start()) + 1 for match in re.finditer(r'"type"\s*:\s*"Feature"', text)]
    outlines: dict[str, list[np.ndarray]] = {}
    corners = 0
    for number, feature in enumerate(features):
        line = lines[number] if len(lines) == len(features) else None
        properties, geometry = (
            feature.get(key) if isinstance(feature, dict) else None for key in ("properties", "geometry")
        )
        field = properties.get(naming) if isinstance(properties, dict) else None
        if not isinstance(field, str) or not field.strip():
            raise _Unfit(
                line,
                f"feature {number + 1} without a text `{naming}` among its properties",
                "the field's name as in the notes; another property is named in campaign.yaml as positions.field_name",
            )
        kind = geometry.get("type") if isinstance(geometry, dict) else None
        if kind not in ("Polygon", "MultiPolygon"):
            raise _Unfit(line, f"feature {number + 1} ({field[:40]}) is no area", "a Polygon or MultiPolygon")
        parts = geometry.get("coordinates")
        for part in [parts] if kind == "Polygon" else parts if isinstance(parts, list) else [None]:
            for ring in part if isinstance(part, list) and part else [None]:
                try:
                    ring = np.array([corner[:2] for corner in ring], dtype=float)
                    fit = (
                        ring.shape[0] >= 4
                        and ring.shape[1:] == (2,)
                        and bool(np.all(ring[0] == ring[-1]) and np.all(np.abs(ring) <= (180.0, 90.0)))
                    )
                except (TypeError, ValueError, OverflowError):
                    fit = False
                if not fit:
                    raise _Unfit(
                        line,
                        f"feature {number + 1} ({field[:40]}) has no closed ring",
                        "longitude and latitude in degrees (WGS 84), four corners or more, the last one like the first",
                    )
                corners += len(ring)
                outlines.setdefault(field.strip(), []).append(ring)
        if corners > MOST_CORNERS:
            raise _Unfit(line, f"more than {MOST_CORNERS} corners", "simpler outlines")
    return outlines


@dataclass(frozen=True)
class Ground:
    """The fields on their plane, m, its origin (longitude, latitude), and the track of each set that has one."""

    outlines: Outlines
    origin: tuple[float, float]
    tracks: Mapping[str, pd.DataFrame]

    def located(self, name: str, moments) -> pd.DataFrame:
        """`places` of the samples of a set; moments: s since 1970, by the corrected clock."""
        return places(moments, self.tracks.get(name, _NO_TRACK), self.outlines, self.origin)


def read(
    outlines: Sequence[Path], tracks: Sequence[Path], of_set: Mapping[str, str], naming: str
) -> tuple[Ground | None, list[Finding]]:
    """What a campaign gives of places, and what is wrong with it; None where it gives nothing that can be used.

    outlines: the file, or none. tracks: the files. of_set: the name of each set's track (empty where it has none). naming: as for `read_outlines`.
    """
    findings: list[Finding] = []
    if not outlines or not tracks:
        return None, [
            Finding(
                "place-unknown",
                "one-file",
                file=path.name,
                facts={"other": "fields.geojson" if tracks else "track.gpx"},
            )
            for path in (*outlines, *tracks)
        ]
    with outlines[0].open("rb") as stream:
        fields, findings = read_outlines(stream, outlines[0].name, naming)
    read_ones = {}
    for path in tracks:
        with path.open("rb") as stream:
            read_ones[path.name], found = read_track(stream, path.name)
        findings = findings + found
    if not fields:
        return None, findings
    return Ground(
        *on_plane(fields), {name: read_ones[file] for name, file in of_set.items() if file}
    ), findings


# Geometry on the plane -------------------------------------------------------------------------------------------


def projected(longitude, latitude, origin: tuple[float, float]):
    """East and north of an origin, m, on the plane that touches the ellipsoid there. longitude, latitude, origin (longitude, latitude): degrees.

    By the two radii of curvature at the origin: N cos(latitude) a radian to the east, M to the north (any textbook of geodesy, from memory).
    """
    sine = np.sin(np.radians(origin[1]))
    eccentricity = FLATTENING * (2.0 - FLATTENING)
    normal = SEMI_MAJOR / np.sqrt(1.0 - eccentricity * sine**2)
    meridian = normal * (1.0 - eccentricity) / (1.0 - eccentricity * sine**2)
    east = (np.asarray(longitude) - origin[0] + 180.0) % 360.0 - 180.0
    return np.radians(east) * normal * np.cos(np.radians(origin[1])), np.radians(
        np.asarray(latitude) - origin[1]
    ) * meridian


def on_plane(outlines: Outlines) -> tuple[dict[str, list[np.ndarray]], tuple[float, float]]:
    """Outlines in m, and the origin of the plane: the first corner of the first field."""
    origin = tuple(next(iter(outlines.values()))[0][0])
    return {
        name: [np.column_stack(projected(ring[:, 0], ring[:, 1], origin)) for ring in rings]
        for name, rings in outlines.items()
    }, origin


def inside(x, y, rings: Sequence[np.ndarray]):
    """Where points lie in a field: a line to the east crosses its rings an odd number of times. x, y, rings: m."""
    odd = np.zeros(np.shape(x), bool)
    for ring in rings:
        for (ax, ay), (bx, by) in zip(ring, ring[1:]):
            if ay != by:
                odd ^= ((ay > y) != (by > y)) & (x < ax + (y - ay) / (by - ay) * (bx - ax))
    return odd


def edge_distance(x, y, rings: Sequence[np.ndarray]):
    """Distance of points from the nearest of a field's edges, m, on whichever side. x, y, rings: m."""
    nearest = np.full(np.shape(x), np.inf)
    for ring in rings:
        for (ax, ay), (bx, by) in zip(ring, ring[1:]):
            dx, dy = bx - ax, by - ay
            length = dx * dx + dy * dy
            along = np.clip(((x - ax) * dx + (y - ay) * dy) / length, 0.0, 1.0) if length > 0 else 0.0
            nearest = np.fmin(nearest, np.hypot(x - ax - along * dx, y - ay - along * dy))
    return nearest


def longest_chord(rings: Sequence[np.ndarray], heading: float) -> float:
    """Length of the longest straight line within a field that lies towards a heading, m. rings: m, east and north. heading: degrees from north.

    Between two corners' distances across the heading a chord's length changes evenly, so the longest one passes by a corner (tried on both sides of each; of more than
    MOST_LINES corners, lines evenly apart).
    """
    turn = np.radians(heading)
    turned = [
        np.column_stack([ring @ [np.sin(turn), np.cos(turn)], ring @ [np.cos(turn), -np.sin(turn)]])
        for ring in rings
    ]
    across = np.unique(np.concatenate([ring[:, 1] for ring in turned]))
    beside = 1e-6 * np.ptp(across)
    lines = (
        np.concatenate([across - beside, across + beside])
        if len(across) <= MOST_LINES
        else np.linspace(across[0], across[-1], MOST_LINES)
    )
    longest = 0.0
    for line in lines:
        crossings = []
        for ring in turned:
            (ax, ay), (bx, by) = ring[:-1].T, ring[1:].T
            cut = (ay > line) != (by > line)
            crossings.append(ax[cut] + (line - ay[cut]) / (by[cut] - ay[cut]) * (bx[cut] - ax[cut]))
        at = np.sort(np.concatenate(crossings))
        if len(at) > 1:
            longest = max(longest, float((at[1::2] - at[:-1:2]).max()))
    return longest


def guard(height, uncertainty: float):
    """How far from an outline a sample must lie to count, m: three heights for the view, and two standard uncertainties of the position."""
    return GUARD_RADIUS * height + SPREADS * uncertainty


def along(x, y):
    """Distance from the start of a straight transect of each of its points in their order, m.

    Along the line through the points of least squared distance, and never backwards (isotonic regression), so that the position's error does not make
    a walker step back. x, y: m.
    """
    points = np.column_stack([x, y])
    centred = points - points.mean(axis=0)
    direction = np.linalg.svd(centred, full_matrices=False)[2][0]
    progress = centred @ direction
    progress = progress if np.polyfit(np.arange(len(progress)), progress, 1)[0] >= 0 else -progress
    forward = isotonic_regression(progress).x
    return forward - forward[0]


def places(moments, track: pd.DataFrame, outlines: Outlines, origin: tuple[float, float]) -> pd.DataFrame:
    """Where each sample was taken: `east`, `north` (m, NaN where the track says nothing), `field` (empty: in none) and `edge_distance` (m).

    moments: s since 1970, by the corrected clock. track: as `read_track` gives it. outlines: m, as `on_plane` gives them with their origin.
    """
    count = len(moments)
    east = north = np.full(count, np.nan)
    if len(track) > 1:
        seconds = track["seconds"].to_numpy(float)
        right = np.clip(np.searchsorted(seconds, moments), 1, len(seconds) - 1)
        known = (
            (moments >= seconds[0])
            & (moments <= seconds[-1])
            & (seconds[right] - seconds[right - 1] <= LONGEST_GAP)
        )
        x, y = projected(track["longitude"].to_numpy(float), track["latitude"].to_numpy(float), origin)
        east, north = (np.where(known, np.interp(moments, seconds, v), np.nan) for v in (x, y))
    field, nearest = np.full(count, "", dtype=object), np.full(count, np.inf)
    for name, rings in outlines.items():
        field[inside(east, north, rings) & (field == "")] = name
        nearest = np.fmin(nearest, edge_distance(east, north, rings))
    return pd.DataFrame(
        {
            "east": east,
            "north": north,
            "field": field,
            "edge_distance": np.where(np.isfinite(east), nearest, np.nan),
        }
    )


# Against the notes -----------------------------------------------------------------------------------------------


def placed(
    assigned: pd.DataFrame,
    moments,
    located: pd.DataFrame,
    segments: pd.DataFrame,
    fields: Sequence[str],
    uncertainty: float,
    interval: float,
    response_time: float,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The samples of one set with position and guards by place instead of by speed and time, and where the notes name another field.

    assigned: as `segment.assign` gives it. moments: s. located: as `places` gives it. segments: the set's own. fields: names of the outlines. uncertainty: of a
    position, m (one standard uncertainty in each direction). interval, response_time: s. A segment with too few placed samples, or a field without an outline, stays as it was.
    """
    result, findings = assigned.copy(), []
    flags, position = (
        result["flags"].to_numpy(object, copy=True),
        result["position"].to_numpy(float, copy=True),
    )
    known = located["east"].notna().to_numpy()
    for row in segments.to_dict("records"):
        mine = (assigned["segment"] == row["segment"]).to_numpy() & (
            assigned["flags"] != "overlap"
        ).to_numpy()
        if not mine.any() or not row["field"]:
            continue
        own = np.flatnonzero(mine & known)
        spot = {
            "set": row["set"],
            "line": row["notes_row"],
            "facts": {"segment": row["segment"], "field": row["field"]},
        }
        if row["field"] not in fields:
            findings.append(
                Finding(
                    "place-unknown",
                    "no-outline",
                    **{
                        **spot,
                        "facts": {
                            **spot["facts"],
                            "allowed": ", ".join(fields),
                            "hint": did_you_mean(row["field"], fields),
                        },
                    },
                )
            )
            continue
        if len(own) < PLACED * mine.sum():
            findings.append(
                Finding(
                    "place-unknown",
                    **{**spot, "facts": {**spot["facts"], "share": f"{100.0 * len(own) / mine.sum():.0f}"}},
                )
            )
            continue
        near = located["edge_distance"].to_numpy()[own] < guard(row["height"], uncertainty)
        away = located["field"].to_numpy()[own] != row["field"]
        clear = own[~near]
        elsewhere = own[~near & away]
        doubted = len(clear) >= FEWEST and len(elsewhere) > ELSEWHERE * len(clear)
        if doubted:
            # of the samples, not of the note: the next note may begin at the minute at which this one ends
            start, end = time_text(
                pd.to_datetime(
                    np.round(moments[elsewhere[[0, -1]]] * 1e3).astype("int64"), unit="ms", utc=True
                )
            )
            place = located["field"].iloc[elsewhere].value_counts().index[0]
            findings.append(
                Finding(
                    "place-disagrees",
                    "" if place else "no-field",
                    row["set"],
                    "",
                    row["notes_row"],
                    start,
                    end,
                    "sw_out lw_out",
                    {**spot["facts"], "place": place, "count": len(elsewhere), "clear": len(clear)},
                )
            )
        if row["height"] < SMALLEST_HEIGHT:
            continue
        if row["speed"] > 0 and len(own) > 1:
            position[mine] = np.interp(
                np.flatnonzero(mine),
                own,
                along(located["east"].to_numpy()[own], located["north"].to_numpy()[own]),
            )
        unsettled = moments[own] - moments[np.flatnonzero(mine)[0]] < response_time - interval / 2
        flags[own] = np.where(near | unsettled | (away & (not doubted)), "edge", "")
    return result.assign(flags=flags, position=position), findings
