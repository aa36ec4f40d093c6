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
