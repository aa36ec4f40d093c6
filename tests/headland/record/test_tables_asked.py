"""GeoJSON and NetCDF beside the tables: what they hold is what the tables hold."""

import io
import json

import numpy as np
import pandas as pd
from scipy.io import netcdf_file

from headland.files.schemas import table_schema
from headland.record import geojson_tables, netcdf_tables

SITE = {"latitude": 45.9, "longitude": 14.8, "elevation": 310.0}
RING = [[14.8, 45.9], [14.9, 45.9], [14.9, 46.0], [14.8, 45.9]]


def table(name: str, rows: list[dict]) -> pd.DataFrame:
    fields = table_schema(name)["fields"]
    frame = pd.DataFrame(rows, columns=[field["name"] for field in fields])
    numbers = [field["name"] for field in fields if field["type"] in ("number", "integer")]
    return frame.assign(**{column: frame[column].astype(float) for column in numbers})


FIELDS = table(
    "fields",
    [
        {"surface": "paving", "field": "Yard", "albedo": 0.16, "albedo_low": 0.15, "albedo_high": 0.17},
        {"surface": "short_grass", "field": "Wiese Süd", "albedo": np.nan},
    ],
)
SURFACES = table("surfaces", [{"surface": "paving", "segments": 3, "albedo": 0.16}])


def outlines(folder, *features):
    path = folder / "fields.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": list(features)}), encoding="utf-8")
    return path


def feature(name, kind="Polygon", coordinates=None):
    shape = {"type": kind, "coordinates": coordinates or [RING]}
    return {"type": "Feature", "properties": {"name": name}, "geometry": shape}


def test_a_field_has_its_outline_or_the_sites_point_and_says_which(tmp_path):
    shapes = geojson_tables.geometries([outlines(tmp_path, feature("Yard"))], "name")
    made = json.loads(json.dumps(geojson_tables.collection(FIELDS, shapes, SITE, {"title": "A day"})))
    yard, meadow = made["features"]
    assert yard["geometry"] == {"type": "Polygon", "coordinates": [RING]}
    assert meadow["geometry"] == {"type": "Point", "coordinates": [14.8, 45.9]}
    assert [one["properties"]["place"] for one in made["features"]] == ["outline", "site"]
    assert yard["properties"]["albedo"] == 0.16 and meadow["properties"]["albedo"] is None
    assert made["units"]["surface_temperature"] == "degC" and made["title"] == "A day"


def test_several_outlines_of_one_field_are_one_shape_and_heights_are_left_out(tmp_path):
    high = [[[*corner, 300.0] for corner in RING]]
    path = outlines(tmp_path, feature("Yard", coordinates=high), feature("Yard", "MultiPolygon", [[RING]]))
    shapes = geojson_tables.geometries([path], "name")
    assert shapes["Yard"] == {"type": "MultiPolygon", "coordinates": [[RING], [RING]]}


def test_outlines_that_cannot_be_used_are_left_out(tmp_path):
    path = outlines(tmp_path, feature("Yard", coordinates=[RING[:2]]))
    assert geojson_tables.geometries([path], "name") == {} == geojson_tables.geometries([], "name")


def test_the_netcdf_file_holds_the_tables_with_units_and_ends():
    tables = {"surfaces": SURFACES, "fields": FIELDS}
    made = netcdf_tables.dataset(tables, {"albedo": "surface_albedo"}, SITE, {"title": "A day"})
    file = netcdf_file(io.BytesIO(made), mmap=False)
    albedo = file.variables["field_albedo"]
    assert albedo[:].tolist()[0] == 0.16 and albedo[:].tolist()[1] == albedo._FillValue
    assert albedo.ancillary_variables == b"field_albedo_low field_albedo_high field_albedo_by_hand"
    assert albedo.standard_name == b"surface_albedo" and albedo.units == b"1"
    names = [row.tobytes().decode("utf-8").strip() for row in file.variables["field_name"][:]]
    assert names == ["Yard", "Wiese Süd"] and file.dimensions["surface"] == 1
    assert file.variables["surface_segments"][:].tolist() == [3.0] and file.title == b"A day"
    assert made == netcdf_tables.dataset(tables, {"albedo": "surface_albedo"}, SITE, {"title": "A day"})
