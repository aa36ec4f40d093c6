"""Inputs without what could name people or devices: nothing of it stays, and what is used keeps its value."""

import io

import numpy as np
import pytest
import yaml

from headland.base.errors import UserErrors
from headland.files import private, remarks
from headland.files.geojson import read_outlines
from headland.files.gpx import read_track

SECRET = "Robin Mustermann"
TRACK = f"""<?xml version="1.0"?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" creator="{SECRET} device" version="1.1">
<metadata><name>{SECRET}</name><author><name>{SECRET}</name></author><link href="http://{SECRET}"/></metadata>
<wpt lat="46.9" lon="7.1"><name>{SECRET}'s home</name></wpt>
<trk><name>{SECRET}</name><desc>{SECRET}</desc><trkseg>
<trkpt lat="46.90001" lon="7.10002"><ele>430</ele><time>2026-05-21T09:30:00Z</time>
<extensions><device>{SECRET}</device></extensions></trkpt>
<trkpt lat="46.90003" lon="7.10004"><time>2026-05-21T09:30:01Z</time></trkpt>
</trkseg></trk><!-- {SECRET} --></gpx>
"""
OUTLINES = f"""{{"type": "FeatureCollection", "name": "{SECRET}", "crs": {{"a": "{SECRET}"}}, "features": [
{{"type": "Feature", "id": "{SECRET}", "properties": {{"field": "north", "owner": "{SECRET}"}},
"geometry": {{"type": "Polygon", "owner": "{SECRET}",
"coordinates": [[[7.1, 46.9, 430], [7.2, 46.9], [7.2, 47.0], [7.1, 46.9, 430]]]}}}}]}}
"""


def test_a_track_keeps_place_and_time_alone(tmp_path):
    (tmp_path / "track.gpx").write_text(TRACK)
    made = private.track_alone(tmp_path / "track.gpx")
    assert b"Robin" not in made and b"430" not in made
    before, after = (read_track(io.BytesIO(raw), "t")[0] for raw in (TRACK.encode(), made))
    assert len(after) == 2 and before.equals(after)


def test_outlines_keep_names_and_corners_alone(tmp_path):
    (tmp_path / "fields.geojson").write_text(OUTLINES)
    made = private.outlines_alone(tmp_path / "fields.geojson", "field")
    assert b"Robin" not in made and b"owner" not in made and b"430" not in made
    before, after = (read_outlines(io.BytesIO(raw), "f", "field")[0] for raw in (OUTLINES.encode(), made))
    assert list(before) == list(after) and np.array_equal(before["north"][0], after["north"][0])


@pytest.mark.parametrize("name", ["track.gpx", "fields.geojson"])
def test_a_file_that_can_t_be_read_is_not_copied(tmp_path, name):
    (tmp_path / name).write_text(f"<kml>{SECRET}</kml>")
    with pytest.raises(UserErrors, match="private"):
        if name == "track.gpx":
            private.track_alone(tmp_path / name)
        else:
            private.outlines_alone(tmp_path / name, "field")


def test_comments_go_and_values_and_lines_stay(tmp_path):
    text = (
        f'# {SECRET}\ntitle: "a # b"  # {SECRET}\nsite:\n  name: a#b # {SECRET}\n'
        f"  # {SECRET}\nnote: |\n  # a text, no comment\nlast: 'it''s # one'\n#{SECRET}"
    )
    (tmp_path / "campaign.yaml").write_text(text)
    made = private.without_comments(tmp_path / "campaign.yaml").decode()
    assert "Robin" not in made and yaml.safe_load(made) == yaml.safe_load(text)
    assert made.count("\n") == text.count("\n")


@pytest.mark.parametrize("kind", ["weather", "station", "notes", "instruments"])
def test_columns_that_are_not_used_go(tmp_path, kind):
    from headland.files.schemas import table_schema

    name = table_schema(kind)["fields"][0]["name"]
    (tmp_path / f"{kind}.csv").write_text(f"{name},observer\nx,{SECRET}\n")
    assert b"Robin" not in remarks.csv_without_remarks(tmp_path / f"{kind}.csv", kind)


def test_a_workbook_goes_without_remarks_and_never_with_a_formula(tmp_path):
    """Rows, kinds of cells and other columns stay; text that looks like a formula stays text."""
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in (
        ("activity", "set", "remark", "field", "observer"),
        ("walk", "heron", SECRET, "Yard", SECRET),
        (None, None, SECRET, None, None),
        ("stand", "heron", None, "+1", SECRET),
    ):
        book.active.append(row)
    book.active["D4"].data_type = "s"
    book.save(tmp_path / "notes.xlsx")
    made = remarks.workbook_without_remarks(tmp_path / "notes.xlsx", "notes")
    cells = [[cell.value for cell in row] for row in made.active.iter_rows()]
    assert [row[:2] for row in cells] == [
        ["activity", "set"], ["walk", "heron"], [None, None], ["stand", "heron"]
    ]  # fmt: skip
    assert [row[3] for row in cells] == ["field", "Yard", None, "+1"]
    assert "Robin" not in str(cells) and made.active["D4"].data_type == "s"
    assert all(row[2] is None for row in cells)


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_lines_keep_their_numbers_where_a_remark_has_several(tmp_path, ends):
    text = f'activity,remark,set{ends}walk,"{SECRET}{ends}and more",heron{ends}stand,,plover{ends}'
    (tmp_path / "notes.csv").write_bytes(text.encode())
    made = remarks.csv_without_remarks(tmp_path / "notes.csv", "notes").decode()
    assert made.count("\n") == text.count("\n") and made.count("\r") == text.count("\r")
    assert "Robin" not in made and "and more" not in made
    assert made.split(ends)[-2] == "stand,,plover" and made.endswith(ends)
