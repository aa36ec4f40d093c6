"""Outlines of fields: the longest line in them, and the length that a plan takes from them."""

import json
import math

import numpy as np
import pytest

from headland.base.errors import UserErrors
from headland.field import day as days
from headland.field import plan
from headland.files import settings
from headland.files.surfaces import surface_classes
from headland.physics import plane

from .made_plan import ROOT, folder


def square(side_east, side_north):
    return np.array([(0.0, 0.0), (side_east, 0.0), (side_east, side_north), (0.0, side_north), (0.0, 0.0)])


@pytest.mark.parametrize(
    "heading, length",
    [
        (0.0, 60.0),
        (180.0, 60.0),
        (90.0, 80.0),
        (math.degrees(math.atan2(80.0, 60.0)), 100.0),
        (45.0, 60.0 * math.sqrt(2.0)),
    ],
)
def test_the_longest_line_in_a_rectangle(heading, length):
    assert plane.longest_chord([square(80.0, 60.0)], heading) == pytest.approx(length, rel=1e-4)


def test_a_pond_cuts_the_lines_and_a_bay_too():
    pond = square(80.0, 60.0)[::-1] * 0.5 + [20.0, 15.0]
    assert plane.longest_chord([square(80.0, 60.0), pond], math.degrees(math.atan2(80.0, 60.0))) < 60.0
    assert plane.longest_chord([square(80.0, 60.0), pond], 90.0) == pytest.approx(80.0, rel=1e-4)
    bay = np.array([(0, 0), (90, 0), (90, 60), (60, 60), (60, 5), (30, 5), (30, 60), (0, 60), (0, 0)], float)
    assert plane.longest_chord([bay], 90.0) == pytest.approx(90.0, rel=1e-4) and plane.longest_chord(
        [bay], 0.0
    ) == pytest.approx(60.0, rel=1e-4)


def test_many_corners_are_a_circle():
    turn = np.radians(np.arange(0.0, 360.1, 0.4))
    assert plane.longest_chord([50.0 * np.column_stack([np.sin(turn), np.cos(turn)])], 33.0) == pytest.approx(
        100.0, rel=1e-3
    )


def test_short_ways_over_a_field_are_not_chosen():
    free, lengths = days.along_outline([square(200.0, 20.0)], [0.0, 80.0, 90.0], math.nan)
    assert free == [90.0] and lengths == pytest.approx([200.0], rel=1e-4)
    assert days.along_outline([square(200.0, 20.0)], [0.0, 90.0], 25.0)[0] == [0.0, 90.0]


def test_an_outline_gives_the_length_and_faults_of_it_are_told(tmp_path):
    ring = [
        [14.87, 45.93],
        [14.8726, 45.93],
        [14.8726, 45.9303],
        [14.87, 45.9303],
        [14.87, 45.93],
    ]  # some 200 m by 33 m
    shape = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"field": "Meadow"},
                "geometry": {"type": "Polygon", "coordinates": [ring]},
            }
        ],
    }
    day = folder(tmp_path / "day", "Meadow,short_grass,,,meadow.geojson\nYard,paving,60,,\n")
    (day / "meadow.geojson").write_text(json.dumps(shape), encoding="utf-8")
    surfaces = surface_classes(ROOT / "config" / "surfaces.csv", {})
    fields = plan.fields_of(day, surfaces, "field")
    assert len(fields["free"][1]) == 36 and set(fields["lengths"][1]) == {60.0}
    assert fields["free"][0] == [80.0, 85.0, 90.0, 95.0, 100.0] and fields["lengths"][0][2] == pytest.approx(
        201.6, abs=0.5
    )
    for rows, part in (
        ("Meadows,short_grass,,,meadow.geojson\n", 'did you mean "Meadow"'),
        ("Meadow,short_grass,,,../meadow.geojson\n", "no file in the campaign folder"),
        ("Meadow,short_grass,,,campaign.yaml\n", "no JSON"),
        (f"Meadow,short_grass,,,{'x' * 290}\n", "no file in the campaign folder"),
        ("Meadow,short_grass,,,\n", "neither length nor outline"),
    ):
        (day / "plan.csv").write_text("field,surface,length,headings,outline\n" + rows, encoding="utf-8")
        with pytest.raises(UserErrors, match=part):
            plan.fields_of(day, surfaces, "field")


def test_a_plan_beyond_a_day_is_refused_before_anything_is_computed(tmp_path, monkeypatch):
    surfaces = surface_classes(ROOT / "config" / "surfaces.csv", {})
    day = folder(tmp_path / "day", "".join(f"f{n},paving,60,,gone.json\n" for n in range(9000)))
    monkeypatch.setattr(plan, "_field", None)
    with pytest.raises(UserErrors) as told:
        plan.fields_of(day, surfaces, "field")
    (error,) = map(str, told.value.errors)
    assert error.startswith("plan.csv: 9000 fields; expected at most 40")


def test_more_visits_than_a_plan_can_have_are_refused(tmp_path):
    rows = "".join(f"f{n},paving,60,80,\n" for n in range(40))
    day = folder(tmp_path / "day", rows, 'plan: {date: "2026-05-21", rounds: 20}\n')
    surfaces = surface_classes(ROOT / "config" / "surfaces.csv", {})
    with pytest.raises(UserErrors, match="2 sets, 40 fields and 20 rounds; expected at most 2000 visits"):
        plan.made(day, settings.load(day, ROOT / "config", needs=()), surfaces, {}, {})


def test_a_file_of_outlines_is_read_once(tmp_path, monkeypatch):
    calls = []

    def reads(stream, file, naming):
        calls.append(file)
        return {}, []

    monkeypatch.setattr(plan.geojson, "read_outlines", reads)
    day = folder(tmp_path / "day", "".join(f"f{n},paving,60,,x.geojson\n" for n in range(5)))
    (day / "x.geojson").write_text("{}")
    with pytest.raises(UserErrors, match="no outline named f4"):
        plan.fields_of(day, surface_classes(ROOT / "config" / "surfaces.csv", {}), "field")
    assert calls == ["x.geojson"]
