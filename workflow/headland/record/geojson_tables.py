"""The table of fields as GeoJSON (RFC 7946), for who asks for it: a feature a field, with all its numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

import pandas as pd

from headland.files import options, step
from headland.files.geojson import features_of, read_outlines
from headland.files.schemas import table_schema

READS = {"tables": options.TABLES, "outlines": step.PATHS}


def of_files(files: step.Files) -> dict:
    """The collection from the files of its step. Settings: title, site, naming, credit."""
    given = files.settings
    shapes = geometries(files["outlines"], given["naming"])
    licence = given["credit"]["licence"]
    about = {"title": given["title"], **({"licence": licence} if licence else {})}
    return collection(files["tables"]["fields"], shapes, given["site"], about)


def geometries(paths: Sequence[Path], naming: str) -> dict[str, dict]:
    """The outline of each field as it is in the campaign's file; none where that file can't be used.

    paths: that file, or nothing. naming: the property that holds a field's name.
    """
    shapes: dict[str, list] = {}
    for path in paths:
        with path.open("rb") as stream:
            _, wrong = read_outlines(stream, path.name, naming)
        if wrong:  # the chain has said so
            return {}
        for feature in features_of(path.read_bytes()):
            shape = feature["geometry"]
            parts = [shape["coordinates"]] if shape["type"] == "Polygon" else shape["coordinates"]
            plane = [[[corner[:2] for corner in ring] for ring in part] for part in parts]
            shapes.setdefault(str(feature["properties"][naming]).strip(), []).extend(plane)
    return {
        name: {"type": "Polygon", "coordinates": parts[0]}
        if len(parts) == 1
        else {"type": "MultiPolygon", "coordinates": parts}
        for name, parts in shapes.items()
    }


def collection(fields: pd.DataFrame, shapes: Mapping[str, dict], site: Mapping, about: Mapping) -> dict:
    """The fields as a feature collection.

    Parameters
    ----------
    fields : the table of fields
    shapes : geometry by field; a field without one is at the site's point, which its property `place` says
    site : latitude and longitude, degrees (WGS 84)
    about : further members, such as the title
    """
    schema = {field["name"]: field for field in table_schema("fields")["fields"]}
    units = {name: schema[name]["unit"] for name in fields.columns if "unit" in schema.get(name, {})}
    point = {"type": "Point", "coordinates": [site["longitude"], site["latitude"]]}
    features = [
        {
            "type": "Feature",
            "geometry": shapes.get(row["field"], point),
            "properties": {name: _plain(value) for name, value in row.items()}
            | {"place": "outline" if row["field"] in shapes else "site"},
        }
        for row in fields.to_dict("records")
    ]
    return {"type": "FeatureCollection", **about, "units": units, "features": features}


def _plain(value: object) -> object:
    """A cell as JSON can hold it: nothing where it is empty."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return None
    return value.item() if hasattr(value, "item") else value
