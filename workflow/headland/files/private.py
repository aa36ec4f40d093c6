"""Files of a campaign without what could name people or devices: tracks, outlines, comments in campaign.yaml.

The tables are in `remarks`. What Headland uses keeps its value, so that the numbers stay the same.
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from xml.sax.saxutils import escape

import yaml

from headland.base.errors import refuse
from headland.base.findings import Finding
from headland.files.geojson import features_of, read_outlines
from headland.files.gpx import points_of, read_track

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="">\n'
)


def track_alone(path: Path) -> bytes:
    """A track with the place and the time of each point and nothing else: no author, device, name or
    extension.
    """
    raw = path.read_bytes()
    _refuse_unreadable(read_track(io.BytesIO(raw), path.name)[1], path)
    lines = [
        f'<trkpt lat="{latitude!r}" lon="{longitude!r}"><time>{escape(time)}</time></trkpt>\n'
        for time, latitude, longitude, _ in points_of(raw)
    ]
    return "".join([HEAD, "<trk><trkseg>\n", *lines, "</trkseg></trk>\n</gpx>\n"]).encode("utf-8")


def outlines_alone(path: Path, naming: str) -> bytes:
    """Outlines with the name and the corners of each field and nothing else: no owner, no other property."""
    raw = path.read_bytes()
    _refuse_unreadable(read_outlines(io.BytesIO(raw), path.name, naming)[1], path)
    features = [
        {
            "type": "Feature",
            "properties": {naming: feature["properties"][naming]},
            "geometry": {
                "type": feature["geometry"]["type"],
                "coordinates": _in_two_dimensions(feature["geometry"]["coordinates"]),
            },
        }
        for feature in features_of(raw)
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, indent=1)
    return (text + "\n").encode("utf-8")


def _in_two_dimensions(coordinates: list) -> list:
    """Coordinates without heights, at whatever depth the corners are."""
    if isinstance(coordinates[0], list):
        return [_in_two_dimensions(part) for part in coordinates]
    return coordinates[:2]


def _refuse_unreadable(findings: list[Finding], path: Path) -> None:
    unreadable = [finding for finding in findings if finding.code == "table-unreadable"]
    if unreadable:
        found = f"{unreadable[0].facts['found']}, so what is private in it can't be left out"
        raise refuse(path.name, unreadable[0].line, found, str(unreadable[0].facts["expected"]))


def without_comments(path: Path) -> bytes:
    """A YAML file without its comments; each line keeps its number. Raises UserErrors where it is no YAML."""
    text = path.read_bytes().decode("utf-8-sig")
    covered = bytearray(len(text) + 1)
    try:
        for token in yaml.scan(text, Loader=yaml.SafeLoader):
            start, end = token.start_mark.index, token.end_mark.index
            covered[start:end] = b"\1" * (end - start)
    except yaml.YAMLError:
        raise refuse(path.name, None, "not readable as YAML", "a campaign's settings") from None
    kept, place = [], 0
    for line in text.splitlines(keepends=True):
        comment = next((i for i, c in enumerate(line) if c == "#" and not covered[place + i]), None)
        end = line[len(line.rstrip("\r\n")) :]
        kept.append(line if comment is None else line[:comment].rstrip() + end)
        place += len(line)
    return "".join(kept).encode("utf-8")
