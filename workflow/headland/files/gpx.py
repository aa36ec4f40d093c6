"""GPS tracks in GPX. The file is untrusted: it is read as data, in full or not at all."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import BinaryIO

import pandas as pd

from headland.base.findings import Finding
from headland.base.times import since_1970
from headland.files.unfit import Unfit, content
from headland.files.xml_limits import BeyondLimits, LimitedParser

NAMESPACES = ("", "http://www.topografix.com/GPX/1/1", "http://www.topografix.com/GPX/1/0")
"""Namespaces of the open standard; some devices write none."""
MOST_ELEMENTS = 2_000_000
"""A track of a day at one point a second has under 500,000."""
NO_TRACK = pd.DataFrame({"seconds": [], "longitude": [], "latitude": []}, dtype=float)


def read_track(stream: BinaryIO, name: str) -> tuple[pd.DataFrame, list[Finding]]:
    """A GPX track and what is wrong with it.

    Parameters
    ----------
    stream : the file, opened for reading bytes.
    name : as findings name it.

    Returns
    -------
    A frame with `seconds` (since 1970, UTC), `longitude` and `latitude` (degrees, WGS 84), ascending in time,
    and the findings. A document type, and so any entity, is refused before it is read.
    """
    points = _Points()
    try:
        points.read(content(stream))
        if not points.found:
            found = f"no point with a time ({points.untimed} without)"
            raise Unfit(None, found, "a GPX track: points `trkpt` with `lat`, `lon` and a `time` in UTC")
        frame = _with_seconds(pd.DataFrame(points.found, columns=["time", "latitude", "longitude", "line"]))
    except Unfit as problem:
        return NO_TRACK, [problem.finding(name)]
    frame = frame.sort_values("seconds", kind="stable").drop_duplicates("seconds").reset_index(drop=True)
    dropped = Finding("track-points-dropped", file=name, facts={"count": points.untimed})
    return frame[list(NO_TRACK)], [dropped] if points.untimed else []


def points_of(raw: bytes) -> list[tuple[str, float, float, int]]:
    """Time, latitude, longitude and line of each point with a time, in the file's order. Raises Unfit."""
    points = _Points()
    points.read(raw)
    return points.found


def _with_seconds(frame: pd.DataFrame) -> pd.DataFrame:
    times = pd.to_datetime(frame["time"], errors="coerce", utc=True, format="ISO8601")
    if times.isna().any():
        row = frame[times.isna()].iloc[0]
        found = f'the time "{row["time"][:40]}"'
        raise Unfit(int(row["line"]), found, "a time in UTC such as 2026-05-21T09:30:00Z")
    return frame.assign(seconds=since_1970(times))


class _Points:
    """Collects the points of a track while the file is parsed.

    found: time, latitude, longitude and line of each point with a time. untimed: the number of those without.
    """

    def __init__(self) -> None:
        self.found: list[tuple[str, float, float, int]] = []
        self.untimed = 0
        self._path: list[str] = []
        self._text: list[str] = []
        self._point: tuple[float, float, int] = (0.0, 0.0, 0)
        self._time = ""
        self._parser = LimitedParser(MOST_ELEMENTS, self._start, self._end, self._letters, namespaces=True)

    def read(self, raw: bytes) -> None:
        """Parse the whole file. Raises Unfit where it is no GPX."""
        try:
            self._parser.read(io.BytesIO(raw))
        except BeyondLimits as problem:
            wanted = "a plain GPX track: save it again from the device or a map program"
            raise Unfit(problem.line, problem.found, wanted) from None

    def _unfit(self, found: str, expected: str) -> Unfit:
        return Unfit(self._parser.line, found, expected)

    def _start(self, tag: str, attributes: Mapping[str, str]) -> None:
        space, _, local = tag.rpartition(" ")
        if not self._path and (local != "gpx" or space not in NAMESPACES):
            raise self._unfit(f"the element `{local[:40]}`", "a GPX file, which begins with `gpx`")
        self._path.append(local)
        if local == "trkpt":
            self._time = ""
            self._point = self._place(attributes)
        self._text.clear()

    def _place(self, attributes: Mapping[str, str]) -> tuple[float, float, int]:
        try:
            latitude, longitude = float(attributes["lat"]), float(attributes["lon"])
        except (KeyError, ValueError):
            latitude = longitude = float("nan")
        if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0):
            wanted = "`lat` from -90 to 90 and `lon` from -180 to 180, in degrees"
            raise self._unfit("a point without a place on Earth", wanted)
        return latitude, longitude, self._parser.line

    def _end(self, tag: str) -> None:
        local = self._path.pop()
        if local == "time" and self._path[-1:] == ["trkpt"]:
            self._time = "".join(self._text).strip()
        elif local == "trkpt" and self._time:
            self.found.append((self._time, *self._point))
        elif local == "trkpt":
            self.untimed += 1

    def _letters(self, some: str) -> None:
        if self._path[-2:] == ["trkpt", "time"]:
            self._text.append(some)
