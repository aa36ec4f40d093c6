"""GPS tracks in GPX. The file is untrusted: it is read as data, in full or not at all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import BinaryIO
from xml.parsers import expat

import pandas as pd

from headland.base.findings import Finding
from headland.base.times import since_1970
from headland.files.unfit import Unfit, content

NAMESPACES = ("", "http://www.topografix.com/GPX/1/1", "http://www.topografix.com/GPX/1/0")
"""Namespaces of the open standard; some devices write none."""
DEEPEST = 50
"""Levels of nesting: a track has five."""
NO_TRACK = pd.DataFrame({"seconds": [], "longitude": [], "latitude": []}, dtype=float)


def read_track(stream: BinaryIO, name: str) -> tuple[pd.DataFrame, list[Finding]]:
    """A GPX track and what is wrong with it.

    Parameters
    ----------
    stream : the file, opened for reading bytes.
    name : as findings name it.

    Returns ------- A frame with `seconds` (since 1970, UTC), `longitude` and `latitude` (degrees, WGS 84),
    ascending in time, and the findings. A document type, and so any entity, is refused before it is read.
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
        self._parser = expat.ParserCreate(namespace_separator=" ")
        self._parser.StartDoctypeDeclHandler = self._refuse
        self._parser.EntityDeclHandler = self._refuse
        self._parser.ExternalEntityRefHandler = self._refuse
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._letters

    def read(self, raw: bytes) -> None:
        """Parse the whole file. Raises Unfit where it is no GPX."""
        try:
            self._parser.Parse(raw, True)
        except expat.ExpatError as problem:
            found = f"no XML ({expat.errors.messages[problem.code]})"
            raise Unfit(problem.lineno, found, "a GPX file as the device wrote it") from None
        except (LookupError, ValueError) as problem:
            raise Unfit(None, f"an unknown encoding ({str(problem)[:60]})", "UTF-8") from None

    def _unfit(self, found: str, expected: str) -> Unfit:
        return Unfit(self._parser.CurrentLineNumber, found, expected)

    def _refuse(self, *_) -> None:
        wanted = "plain GPX without them: save it again from the device or a map program"
        raise self._unfit("a document type or entity", wanted)

    def _start(self, tag: str, attributes: Mapping[str, str]) -> None:
        space, _, local = tag.rpartition(" ")
        if not self._path and (local != "gpx" or space not in NAMESPACES):
            raise self._unfit(f"the element `{local[:40]}`", "a GPX file, which begins with `gpx`")
        self._path.append(local)
        if len(self._path) > DEEPEST:
            raise self._unfit("elements nested dozens deep", "a plain GPX track")
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
        return latitude, longitude, self._parser.CurrentLineNumber

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
