"""Bounds of class properties: what no surface has is refused, what some surface has is taken."""

from pathlib import Path

import pytest

from headland.base.errors import UserErrors
from headland.files.surfaces import surface_classes

CONFIG = Path(__file__).parents[3] / "config"


def taken(name, value):
    try:
        surface_classes(CONFIG / "surfaces.csv", {"bare_wet_soil": {name: value}})
    except UserErrors:
        return False
    return True


@pytest.mark.parametrize(
    "name, inside, outside",
    [
        # a part of a whole
        ("albedo", (0.0, 1.0), (-0.01, 1.01)),
        ("emissivity", (0.5, 1.0), (0.49, 1.01)),
        ("sky_response", (0.0, 1.0), (-0.01, 1.01)),
        # 0.1 to 0.4 for ground, 8 for water
        ("sun_height_strength", (0.0, 20.0), (-0.01, 20.1)),
        # of net radiation by day no more than half as much again goes through the ground or evaporates
        ("ground_heat_fraction_day", (0.0, 1.5), (-0.01, 1.51)),
        ("evaporative_fraction", (0.0, 1.5), (-0.01, 1.51)),
        # by night the ground may give several times what is radiated, where dew and wind give the rest
        ("ground_heat_fraction_night", (0.0, 5.0), (-0.01, 5.01)),
        # Priestley & Taylor (1972): 1.26 over water; advection takes it towards 2
        ("priestley_taylor_coefficient", (0.0, 2.0), (-0.01, 2.01)),
        # a surface follows the air, and no further than half as much again
        ("air_response", (0.0, 1.5), (-0.01, 1.51)),
        ("course", (0.0, 10.0), (-0.01, 10.1)),
        ("leaf_area_index", (0.0, 20.0), (-0.01, 20.1)),
        ("cover_height", (0.0, 50.0), (-0.01, 50.1)),
    ],
)
def test_what_a_property_may_be(name, inside, outside):
    assert [taken(name, value) for value in inside] == [True, True]
    assert [taken(name, value) for value in outside] == [False, False]


@pytest.mark.parametrize("value, is_one", [("wet", True), ("dry", True), ("moist", False), (0.3, False)])
def test_a_property_in_words(value, is_one):
    assert taken("soil_moisture", value) == is_one
