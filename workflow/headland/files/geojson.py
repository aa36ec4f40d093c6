"""Outlines of the fields in GeoJSON. The file is untrusted: it is read as data, in full or not at all."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, BinaryIO

import numpy as np

from headland.base.findings import Finding
from headland.files.unfit import Unfit, content

LARGEST = 5_000_000
"""Bytes: the outlines of a campaign have under 1 MB; as values they take up to thirty times the memory."""
MOST_CORNERS = 20_000
"""Corners of all outlines together."""
FEWEST_CORNERS = 4
"""Corners of a closed ring, the last one like the first."""

Outlines = Mapping[str, Sequence[np.ndarray]]
"""For each field its closed rings, outer and holes alike: corners x 2."""


def read_outlines(
    stream: BinaryIO, name: str, naming: str
) -> tuple[dict[str, list[np.ndarray]], list[Finding]]:
    """The fields of a GeoJSON file and what is wrong with it.

    Parameters
    ----------
    stream : the file, opened for reading bytes.
    name : as findings name it.
    naming : the property that holds the field's name. Features of one name make one field.

    Returns
    -------
    For each field its rings of longitude and latitude (degrees, WGS 84); and the findings.
    """
    try:
        return _fields(content(stream, LARGEST), naming), []
    except Unfit as problem:
        return {}, [problem.finding(name)]


def _fields(raw: bytes, naming: str) -> dict[str, list[np.ndarray]]:
    text = _text(raw)
    features = _features(text)
    lines = _lines_of_features(text, len(features))
    outlines: dict[str, list[np.ndarray]] = {}
    corners = 0
    for number, (feature, line) in enumerate(zip(features, lines, strict=True), 1):
        field = _name(feature, naming, number, line)
        for ring in _rings_as_given(feature, number, field, line):
            outlines.setdefault(field.strip(), []).append(_ring(ring, number, field, line))
            corners += len(ring)
        if corners > MOST_CORNERS:
            raise Unfit(line, f"more than {MOST_CORNERS} corners", "simpler outlines")
    return outlines


def features_of(raw: bytes) -> list:
    """The features of a GeoJSON file as values. Raises Unfit."""
    return _features(_text(raw))


def _text(raw: bytes) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Unfit(None, "another encoding than UTF-8", "UTF-8: save it again with that encoding") from None


def _features(text: str) -> list:
    wanted = "a GeoJSON file with the outlines of the fields"
    try:
        values = json.loads(text, parse_constant=lambda word: math.nan)
    except json.JSONDecodeError as problem:
        raise Unfit(problem.lineno, f"no JSON ({problem.msg})", wanted) from None
    except (RecursionError, ValueError):
        raise Unfit(None, "values nested too deep or too long", wanted) from None
    features = values.get("features") if isinstance(values, dict) else None
    if not isinstance(features, list) or not features:
        wanted = "GeoJSON of the type FeatureCollection, one feature for each field"
        raise Unfit(None, "no list of `features`", wanted)
    return features


def _lines_of_features(text: str, count: int) -> list[int | None]:
    """The line on which each feature begins; None for each where they can't be told apart."""
    beginnings = re.finditer(r'"type"\s*:\s*"Feature"', text)
    lines: list[int | None] = []
    line, before = 1, 0
    for match in beginnings:
        line += text.count("\n", before, match.start())
        before = match.start()
        lines.append(line)
    return lines if len(lines) == count else [None] * count


def _name(feature: object, naming: str, number: int, line: int | None) -> str:
    properties = feature.get("properties") if isinstance(feature, dict) else None
    field = properties.get(naming) if isinstance(properties, dict) else None
    if not isinstance(field, str) or not field.strip():
        found = f"feature {number} without a text `{naming}` among its properties"
        wanted = (
            "the field's name as in the notes; "
            "another property is named in campaign.yaml as positions.field_name"
        )
        raise Unfit(line, found, wanted)
    return field


def _rings_as_given(feature: Mapping, number: int, field: str, line: int | None) -> Iterator:
    """The rings of a feature, as the file has them."""
    geometry = feature.get("geometry")
    geometry = geometry if isinstance(geometry, dict) else {}
    kind = geometry.get("type")
    if kind not in ("Polygon", "MultiPolygon"):
        raise Unfit(line, f"feature {number} ({field[:40]}) is no area", "a Polygon or MultiPolygon")
    parts = geometry.get("coordinates")
    polygons = [parts] if kind == "Polygon" else parts if isinstance(parts, list) else [None]
    for polygon in polygons:
        yield from polygon if isinstance(polygon, list) and polygon else [None]


def _ring(given: Any, number: int, field: str, line: int | None) -> np.ndarray:
    """A closed ring as corners x 2, degrees."""
    try:
        ring = np.array([list(corner[:2]) for corner in given], dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        ring = np.empty(0)
    shape_fits = ring.ndim == 2 and ring.shape[0] >= FEWEST_CORNERS and ring.shape[1] == 2
    if not (shape_fits and np.all(ring[0] == ring[-1]) and np.all(np.abs(ring) <= (180.0, 90.0))):
        found = f"feature {number} ({field[:40]}) has no closed ring"
        wanted = (
            "longitude and latitude in degrees (WGS 84), four corners or more, the last one like the first"
        )
        raise Unfit(line, found, wanted)
    return ring
