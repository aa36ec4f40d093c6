"""Faults in plan.csv and in `plan:` of campaign.yaml: each error names its line and the remedy."""

import json

import pandas as pd
import pytest

from headland.base.errors import UserErrors
from headland.field import day, plan

SURFACES = {"paving": {}, "short_grass": {}}
HEAD = "field,surface,length,headings,outline\n"


def asked(folder, *rows):
    (folder / "plan.csv").write_text(HEAD + "".join(row + "\n" for row in rows))
    return plan.fields_of(folder, SURFACES, "name")


def told(folder, *rows):
    """Line, what was found and what was expected, of each fault."""
    with pytest.raises(UserErrors) as problem:
        asked(folder, *rows)
    return [(one.line, one.found, one.expected) for one in problem.value.errors]


def outlined(folder, name="Yard", east=0.001):
    ring = [[7.0, 47.0], [7.0 + east, 47.0], [7.0 + east, 47.0005], [7.0, 47.0005], [7.0, 47.0]]
    feature = {
        "type": "Feature",
        "properties": {"name": name},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    text = json.dumps({"type": "FeatureCollection", "features": [feature]})
    (folder / "fields.geojson").write_text(text)


def test_a_sound_row_has_a_length_in_each_of_its_directions(tmp_path):
    table = asked(tmp_path, "Yard,paving,40,80 100,", "Lawn,short_grass,30,,")
    assert table["free"].iloc[0] == [80.0, 100.0] and table["lengths"].iloc[0] == [40.0, 40.0]
    assert len(table["free"].iloc[1]) > 10 and set(table["lengths"].iloc[1]) == {30.0}


@pytest.mark.parametrize(
    "row, found, expected",
    [
        ("Yard,pavin,40,80,", "surface is pavin", 'one of paving, short_grass; did you mean "paving"?'),
        ("Yard,paving,40,eighty,", "headings has eighty", "degrees from north such as 80"),
        ("Yard,paving,,80,", "neither length nor outline", "the length in m that can be walked"),
        ("Yard,paving,,80,none.geojson", "outline is none.geojson, which is no file", "a GeoJSON file there"),
        ("Yard,paving,,80,../plan.csv", "outline is ../plan.csv, which is no file", "a GeoJSON file there"),
        ("Lawn,paving,,80,fields.geojson", "fields.geojson has no outline named Lawn", "one of Yard"),
    ],
)
def test_each_fault_of_a_row_is_told_with_its_line(tmp_path, row, found, expected):
    outlined(tmp_path)
    (one,) = told(tmp_path, "Tilth,paving,40,80,", row)
    assert one[0] == 3 and one[1].startswith(found) and one[2].startswith(expected), one


def test_faults_are_told_all_at_once_and_a_field_only_once(tmp_path):
    said = told(tmp_path, "Yard,pavement,40,eighty,", "Yard,paving,40,80,")
    assert [line for line, _, _ in said] == [2, 2, None]
    assert said[2][1:] == ("the field Yard is there twice", "each field once")


def test_a_length_follows_from_the_outline(tmp_path):
    """0.001 degrees of longitude at 47 degrees north are 76 m, 0.0005 degrees of latitude 56 m."""
    outlined(tmp_path)
    row = asked(tmp_path, "Yard,paving,,0 90,fields.geojson").iloc[0]
    assert row["free"] == [0.0, 90.0] and row["lengths"] == pytest.approx([55.6, 76.0], rel=0.01)
    shorter = asked(tmp_path, "Yard,paving,30,0 90,fields.geojson").iloc[0]
    assert max(shorter["lengths"]) <= 30.0


SITE = {"timezone": "Europe/Zurich"}


@pytest.mark.parametrize(
    "entry, found",
    [
        (None, "plan is missing"),
        ({"date": "2026-02-30", "start": "10:00", "end": "15:00"}, "plan.date is 2026-02-30"),
        ({"date": "2026-05-21", "start": "15:00", "end": "10:00"}, "plan.end is 10:00, not after plan.start"),
        ({"date": "2026-05-21", "start": "10:00", "end": "10:00"}, "plan.end is 10:00, not after plan.start"),
        # the clocks of Zurich go from 2:00 to 3:00 in March, and from 3:00 back to 2:00 in October
        (
            {"date": "2026-03-29", "start": "02:30", "end": "15:00"},
            "plan.start is 02:30, which the change of clocks makes impossible",
        ),
        (
            {"date": "2026-10-25", "start": "01:30", "end": "02:30"},
            "plan.end is 02:30, which the change of clocks makes ambiguous",
        ),
    ],
)
def test_hours_that_can_t_be_planned_are_refused(entry, found):
    with pytest.raises(UserErrors) as problem:
        plan.hours_of({"plan": entry, "site": SITE})
    (one,) = problem.value.errors
    assert one.found.startswith(found) and one.file == "campaign.yaml" and one.expected


def test_hours_are_local_and_the_day_is_whole():
    entry = {"date": "2026-05-21", "start": "10:00", "end": "15:30"}
    start, end, moments = plan.hours_of({"plan": entry, "site": SITE})
    assert (start, end) == (pd.Timestamp("2026-05-21T08:00Z"), pd.Timestamp("2026-05-21T13:30Z"))
    assert moments[0] == pd.Timestamp("2026-05-20T22:00Z")
    step = moments[1] - moments[0]
    assert moments[-1] + step == pd.Timestamp("2026-05-21T22:00Z") and step <= pd.Timedelta(minutes=10)


def test_a_field_must_be_longer_than_its_guards_and_the_way_while_the_head_settles():
    """Guards of 3 x 1.5 m at both ends and 20 s at 0.8 m/s: 25 m."""
    fields = pd.DataFrame({"field": ["Yard", "Lawn"], "length": [24.9, 25.1], "lengths": [[24.9], [25.1]]})
    said = day.too_short(fields, {"sensor_height": 1.5, "walking_speed": 0.8})
    assert "Yard" in str(said) and "Lawn" not in str(said)
