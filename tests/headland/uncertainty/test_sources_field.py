"""Slope and rows of a field make a course of albedo, and the common moment takes it out."""

import numpy as np
import pandas as pd
import pytest

from headland.physics.surface_response import facing
from headland.uncertainty.inputs import lie_of
from headland.uncertainty.sources_field import lie_sources

from .made import CLASSES, OFF, only, segments, whole


@pytest.mark.parametrize("elevation, azimuth, aspect", [(60.0, 170.0, 200.0), (25.0, 100.0, 300.0)])
def test_a_slope_gets_the_beam_of_an_inclined_plane(elevation, azimuth, aspect):
    """Beam on a plane of 1 degree over that on the level, by the vectors of the sun and of both planes."""
    up, turn, way, steep = np.radians([elevation, azimuth, aspect, 1.0])
    sun = np.array([np.cos(up) * np.sin(turn), np.cos(up) * np.cos(turn), np.sin(up)])
    plane = np.array([np.sin(steep) * np.sin(way), np.sin(steep) * np.cos(way), np.cos(steep)])
    lie = lie_of(pd.DataFrame({"slope": [1.0], "aspect": [aspect]}))
    by = [lie[name][0] for name in ("slope_east", "slope_north", "rows_cos", "rows_sin")]
    assert 1.0 + facing(np.sin(up), azimuth, 0.0) @ by == pytest.approx(sun @ plane / sun[2], abs=2e-4)
    # half of the light has no direction
    assert facing(np.sin(up), azimuth, 0.5) @ by == pytest.approx(
        0.5 * (sun @ plane / sun[2] - 1.0), abs=1e-4
    )


def test_rows_go_with_twice_the_azimuth():
    along, across, back = (facing(0.5, azimuth, 0.2)[2:] for azimuth in (30.0, 120.0, 210.0))
    assert along == pytest.approx(0.8 * np.array([0.5, np.sqrt(0.75)]))
    assert across == pytest.approx(-along) and back == pytest.approx(along)


def test_a_sun_under_10_degrees_is_followed_no_further():
    assert facing(0.01, 90.0, 0.0) == pytest.approx(facing(np.sin(np.radians(10.0)), 90.0, 0.0))


def test_what_the_notes_leave_open_of_a_slope():
    notes = pd.DataFrame({"slope": [np.nan, 3.0, 3.0, 0.5], "aspect": [90.0, 90.0, np.nan, np.nan]})
    lie = lie_of(notes)
    assert lie["slope_unknown"].tolist() == [1.0, 0.0, 3.0, 1.0]
    assert lie["slope_east"] == pytest.approx([0.0, np.tan(np.radians(3.0)), 0.0, 0.0])
    assert lie_of(pd.DataFrame({"set": ["a"]}))["slope_unknown"].tolist() == [1.0]


def test_one_field_lies_the_same_way_at_all_visits():
    frame = segments(2, surfaces=("stubble", "paving")).assign(field="f", slope_unknown=[1.0, 1.0])
    sources = lie_sources(frame, CLASSES, only("slope", "slope_noted", "rows"))
    assert [source.name for source in sources] == [
        "slope|f/slope_east",
        "slope|f/slope_north",
        "rows|f/rows_cos",
        "rows|f/rows_sin",
    ]
    size = np.radians(1.0) / np.sqrt(3.0)
    assert sources[0].shift["slope_east"] == pytest.approx([size, size])
    assert sources[2].shift["rows_cos"] == pytest.approx([0.07 / np.sqrt(3.0), 0.0])  # paving has no leaves
    noted = lie_sources(frame.assign(slope_unknown=0.0), CLASSES, only("slope_noted"))
    assert noted[0].shift["slope_east"] == pytest.approx([size / 2.0] * 2)
    assert lie_sources(frame, CLASSES, OFF) == []


def albedo_row(frame, terms):
    """The difference of albedo of two surfaces, with half of its interval."""
    table = whole(frame, terms).differences
    (row,) = table[table["quantity"] == "albedo"].to_dict("records")
    return row["difference"], (row["difference_high"] - row["difference_low"]) / 2.0


def test_a_noted_slope_is_taken_to_the_common_sun():
    """Visits with the sun at 100 and 200 degrees; the first field falls by 3 degrees towards 100. On average
    the sun stands less well for it than at its visit, so a part of what the slope made is left. The second
    surface is the sloping one: paving comes before stubble."""
    beam = (1.0 - segments()["diffuse_fraction"].iloc[0]) / np.tan(np.radians(50.0))
    more = beam * np.tan(np.radians(3.0))
    both = {"solar_azimuth": np.array([100.0, 200.0]), "sw_out": np.array([160.0 * (1.0 + more), 160.0])}
    noted = segments(slope=np.array([3.0, 0.0]), aspect=np.array([100.0, 0.0]), **both)
    there = -more * (1.0 + np.cos(np.radians(100.0))) / 2.0
    assert albedo_row(noted, OFF)[0] == pytest.approx(0.2 * there, abs=1e-6)
    assert albedo_row(segments(**both), OFF)[0] == pytest.approx(-0.2 * more, abs=1e-6)


def test_slope_and_rows_count_only_where_the_sun_has_moved():
    still = {"sw_out": 160.0}
    moved = {"sw_out": 160.0, "solar_azimuth": np.array([100.0, 200.0])}
    for term in ("slope", "rows"):
        assert albedo_row(segments(**still), only(term))[1] == pytest.approx(0.0, abs=1e-6)
        assert albedo_row(segments(**moved), only(term))[1] > 0.003
