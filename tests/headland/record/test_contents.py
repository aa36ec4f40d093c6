"""What goes into an archive, and how its tables and files are described."""

import hashlib
import io
import json

import numpy as np
import pandas as pd
import pytest

from headland.record import compare, contents, describe
from headland.record.pack import Refused, pack

CHOSEN = {
    "notes_file": "notes.xlsx",
    "weather_file": "weather.csv",
    "station_file": "",
    "ground_file": "",
    "levels_file": "",
    "outlines_file": "",
    "track_files": {"heron": "", "plover": ""},
    "sets": {"heron": {"raw": ["logger/h1.csv", "logger/h2.csv"]}, "plover": {"raw": ["logger/p1.csv"]}},
}


def test_the_inputs_are_the_files_that_went_in_each_once(tmp_path):
    names = ["campaign.yaml", "instruments.csv", "notes.xlsx", "weather.csv"]
    raw = ["logger/h1.csv", "logger/h2.csv", "logger/p1.csv"]
    found = contents.inputs(tmp_path, CHOSEN)
    assert list(found) == [*names, *raw] and found["logger/h2.csv"] == tmp_path / "logger" / "h2.csv"
    more = CHOSEN | {
        "outlines_file": "fields.geojson",
        "track_files": {"heron": "a.gpx", "plover": "a.gpx"},
        "station_file": "station.csv",
    }
    found = set(contents.inputs(tmp_path, more))
    assert found == {*names, *raw, "fields.geojson", "a.gpx", "station.csv"}


def test_what_the_chain_made_is_kept_and_what_tells_of_an_earlier_run_is_not(tmp_path):
    for name in (
        "surfaces.csv",
        "changes.csv",
        "changes.html",
        "steps/1/a.csv",
        "steps/1/.hidden",
        "old.csv",
    ):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("x")
    listed = [
        tmp_path / name for name in ("surfaces.csv", "changes.csv", "changes.html", "steps", "none.csv")
    ]
    made = contents.made(tmp_path, listed)
    assert made == {name: tmp_path / name for name in ("surfaces.csv", "steps/1/a.csv")}


def test_a_content_is_weighed_the_same_as_a_file_and_as_bytes(tmp_path):
    (tmp_path / "x").write_bytes(b"abc")
    known = (3, hashlib.sha256(b"abc").hexdigest())
    assert contents.weighed(b"abc") == contents.weighed(tmp_path / "x") == known


@pytest.mark.parametrize(
    "first, columns",
    [
        (b"surface,albedo\n1,2\n", ["surface", "albedo"]),
        (b"\xef\xbb\xbfsurface,albedo\n", []),
        (b"surface,surface\n", []),
        (b"a b,c\n", []),
        (b"\xff\xfe\n", []),
        (b'"a,b\n', []),
        (b"", []),
    ],
)
def test_the_head_of_a_table_is_read_where_it_is_one(tmp_path, first, columns):
    (tmp_path / "x.csv").write_bytes(first)
    assert contents.head(tmp_path / "x.csv") == columns


def test_json_keeps_its_letters():
    assert contents.as_json({"b": "Zürich", "a": [1]}) == '{\n "b": "Zürich",\n "a": [\n  1\n ]\n}\n'.encode()


def test_what_computes_is_named_with_the_libraries_of_the_lock():
    found = contents.versions()
    assert found["libraries"]["numpy"] == np.__version__ and found["libraries"]["pandas"] == pd.__version__
    lock = (contents.ROOT / "requirements.lock").read_text(encoding="utf-8").lower().replace("_", "-")
    assert all(f"{name}==" in lock.replace(".", "-") for name in found["libraries"])
    assert found["headland"].count(".") == 2
    assert contents.plain_name("Ruamel_yaml.Clib") == contents.plain_name("ruamel-yaml-clib")


# Tables and files of datapackage.json ---------------------------------------------------------------------


def schema(name, *columns, **more):
    fields = [{"name": one, "type": "number", "description": f"{one} of {name}"} for one in columns]
    return {"name": name, "title": name.title(), "description": f"of {name}", "fields": fields, **more}


SCHEMAS = {
    one["name"]: one
    for one in (
        schema("segments", "a", "b", "c", "d", primaryKey=["a"]),
        schema("means", "a", "b", "c"),
        schema("other", "x"),
    )
}


def entry(path, *columns):
    return describe.described_table(path, columns, digest="d" * 64, size=9, schemas=SCHEMAS, quantities={})


def described_by(path, *columns):
    """The first column's description."""
    return entry(path, *columns)["schema"]["fields"][0]["description"]


def test_a_table_has_the_schema_of_its_name_else_the_one_with_fewest_other_columns():
    assert described_by("results/segments.csv", "a", "b") == "a of segments"
    assert described_by("results/steps/6/unnamed.csv", "a", "b") == "a of means"
    assert described_by("results/steps/6/unnamed.csv", "a", "d") == "a of segments"
    assert described_by("results/means.csv", "a", "d") == "a of segments"
    none = entry("results/strange.csv", "p", "q")
    assert [one["name"] for one in none["schema"]["fields"]] == ["p", "q"]
    assert {one["type"] for one in none["schema"]["fields"]} == {"string"}


def test_a_key_is_named_where_its_columns_are_there():
    assert entry("results/segments.csv", "a", "b")["schema"]["primaryKey"] == ["a"]
    assert "primaryKey" not in entry("results/segments.csv", "b", "c")["schema"]
    made = entry("results/segments.csv", "a", "b")
    assert made["bytes"] == 9 and made["hash"].endswith("d" * 64) and made["path"] == "results/segments.csv"


def test_a_column_that_may_be_empty_is_not_required_of_each_row():
    field = {"name": "a", "type": "number", "description": "", "constraints": {"required": True}}
    for empty in (True, False):
        own = {"t": {**schema("t"), "fields": [{**field, "sometimes_empty": empty}]}}
        made = describe.described_table("t.csv", ["a"], digest="", size=1, schemas=own, quantities={})
        (column,) = made["schema"]["fields"]
        assert bool(column.get("constraints", {}).get("required")) == (not empty)


@pytest.mark.parametrize(
    "path, kind",
    [
        ("inputs/day/a.csv", "text/csv"),
        ("inputs/day/campaign.yaml", "application/yaml"),
        ("samples_and_segments.nc", "application/netcdf"),
        ("inputs/day.d/noending", "application/octet-stream"),
        ("inputs/day/a.xyz", "application/octet-stream"),
    ],
)
def test_a_file_has_its_kind(path, kind):
    made = describe.described_file(path, "d" * 64, 7)
    assert (made["mediatype"], made["bytes"], made["hash"]) == (kind, 7, "sha256:" + "d" * 64)


def test_every_table_of_the_results_and_known_tables_of_the_inputs_are_described(tmp_path):
    texts = {
        "results/surfaces.csv": "surface,albedo\nx,0.2\n",
        "results/report.html": "<p>",
        "inputs/day/weather.csv": "time_utc,air_temperature\n",
        "inputs/day/logger/h.csv": "time_utc,air_temperature\n",
        "inputs/day/notes.csv": "activity,strange\n",
        "project/Snakefile": "x",
    }
    payload = {}
    for path, text in texts.items():
        payload[path] = tmp_path / path
        payload[path].parent.mkdir(parents=True, exist_ok=True)
        payload[path].write_text(text)
    payload["samples_and_segments.nc"] = b"CDF"
    files = {path: contents.weighed(content) for path, content in payload.items()}
    about = {
        "name": "day",
        "title": "A day",
        "authors": [],
        "licence": "",
        "doi": "",
        "orcid": [],
        "dates": ("a", "b"),
    }
    made = contents.described(payload, files, about)
    tables_ = {one["path"] for one in made["resources"] if "schema" in one}
    others = {one["path"] for one in made["resources"] if "schema" not in one}
    assert tables_ == {"results/surfaces.csv", "inputs/day/weather.csv"}
    assert others == {"inputs/day/logger/h.csv", "inputs/day/notes.csv", "samples_and_segments.nc"}
    assert json.loads(contents.as_json(made)) == made and made["profile"] == "data-package"


# Comparing ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "first, again, apart, rounding",
    [
        (b"a,b\n1,2\n3,4\n", b"a,b\n1,2\n3,4,5\n", ["rows of other lengths"], []),
        (b"a,b\n1,2\n", b'a,b\n"1",2\n', [], ["the same cells in other writing"]),
        (
            b"a,b\n1,2\n3,4\n5,6\n",
            b"a,b\n1,2\n4,4\n9,7\n",
            ["column a: 2 of 3 cells, such as 3 and now 4"],
            ["column b: 1 of 3 cells, such as 6 and now 7"],
        ),
        (b"a\n1.0\n", b"a\n1.00\n", ["column a: 1 of 1 cells, such as 1.0 and now 1.00"], []),
        (b"a\n-0.1\n", b"a\n0.0\n", [], ["column a: 1 of 1 cells, such as -0.1 and now 0.0"]),
        (b"a\nx\n", b"a\ny\n", ["column a: 1 of 1 cells, such as x and now y"], []),
        (b"a\n1\n", b"a\n1\n2\n", ["rows: 1 became 2"], []),
    ],
)
def test_in_which_columns_two_tables_differ(first, again, apart, rounding):
    assert compare.columns_apart(io.BytesIO(first), io.BytesIO(again)) == (apart, rounding)


@pytest.mark.parametrize("count, shown", [(20, 20), (21, 21), (25, 21)])
def test_a_list_for_people_has_twenty_lines_and_says_how_many_more(count, shown):
    lines = compare.plain_list([str(n) for n in range(count)])
    assert len(lines) == shown and lines[:20] == [str(n) for n in range(20)]
    assert (lines[-1] == f"and {count - 20} more") == (count > 20)


def test_a_name_that_no_archive_can_have_is_refused_before_anything_is_written(tmp_path):
    with (tmp_path / "x.zip").open("wb") as stream, pytest.raises(Refused):
        pack(stream, "x", {"../evil": b""}, {}, {})
    assert (tmp_path / "x.zip").stat().st_size == 0
