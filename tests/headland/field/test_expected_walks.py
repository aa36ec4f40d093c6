"""What a plan expects of a walk, by hand."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.field import expected, timetable
from headland.files.own_numbers import course_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty.course import course_sizes

from ..files.made_settings import CONFIG

SITE = {"latitude": 45.93, "longitude": 14.87, "elevation": 310.0}
CARRYING = {
    "sensor_height": 1.5,
    "reach": 1.2,
    "carrier_height": 1.8,
    "carrier_width": 0.5,
    "walking_speed": 0.8,
}
START, END = (pd.Timestamp(f"2026-05-21 {hour}:00", tz="UTC") for hour in ("09", "12"))
FIELDS = pd.DataFrame(
    [("Meadow", "short_grass", 120.0, 80.0), ("Yard", "paving", 90.0, 65.0)],
    columns=["field", "surface", "length", "heading"],
)
SIGMA = 5.670374419e-8


def visits(sets=("plover", "curlew"), monitor=False):
    return timetable.timetable(FIELDS, list(sets), timetable.Day(START, END, 0.8, 4.0, monitor, 1, 7))[0]


@pytest.fixture(scope="module")
def given():
    surfaces = surface_classes(CONFIG / "surfaces.csv", {})
    course = course_sizes(course_rows(CONFIG / "course.csv"))
    terms = uncertainty_terms(CONFIG / "uncertainty.csv")
    return expected.Circumstances(SITE, CARRYING, surfaces, terms, course, 20.0, 60.0)


@pytest.fixture(scope="module")
def walks(given):
    return expected.expected_segments(visits(), given)


def test_a_walk_lasts_its_length_without_the_guards_and_the_settling(walks):
    """120 m at 0.8 m s-1 are 150 s; guards of 3 heights at both ends take 11.25 s, settling 20 s."""
    meadow = walks[walks["surface"] == "short_grass"].iloc[0]
    assert meadow["weight"] == pytest.approx(150.0 - 2 * 4.5 / 0.8 - 20.0)
    assert meadow["samples_used"] == 118


def test_looks_are_the_metres_over_the_view_and_the_patches(walks):
    row = walks[walks["surface"] == "short_grass"].iloc[0]
    metres = row["weight"] * 0.8
    assert row["independent"] == pytest.approx(metres / (2.776 * 1.5 + 2.0 * expected.PATCH) / 1.5, rel=1e-3)


def test_fluxes_are_those_of_the_class_under_the_sky(walks, given):
    for _, row in walks.iterrows():
        entry = given.surfaces[row["surface"]]
        assert row["sw_out"] / row["sw_in"] == pytest.approx(entry["albedo"]["value"])
        kelvin, emissivity = row["surface_temperature"] + 273.15, entry["emissivity"]["value"]
        assert row["lw_out"] == pytest.approx(
            emissivity * SIGMA * kelvin**4 + (1 - emissivity) * row["lw_in"]
        )
        net = row["sw_in"] - row["sw_out"] + row["lw_in"] - row["lw_out"]
        assert row["net_radiation"] == pytest.approx(net)
        assert 20.5 < row["body_temperature"] < 30.0  # a head in the sun is warmer than the air
        body = SIGMA * (row["body_temperature"] + 273.15) ** 4
        assert row["lw_in_net"] == pytest.approx(row["lw_in"] - body)
        assert row["lw_out_net"] == pytest.approx(row["lw_out"] - body)
        assert row["albedo_sw_out"] / row["albedo_sw_in"] == pytest.approx(entry["albedo"]["value"])
        # half a kelvin of scatter is 4 eps sigma T^3 times as many W m-2
        slope = 4.0 * emissivity * SIGMA * kelvin**3
        assert row["ground_lw_out"] == pytest.approx(slope * expected.GROUND_SCATTER_K)
    paving, grass = (
        walks.loc[walks["surface"] == name, "surface_temperature"].mean()
        for name in ("paving", "short_grass")
    )
    assert paving > grass > 20.0


def test_a_sky_monitor_lends_its_sky_to_every_walk(given):
    frame = expected.expected_segments(visits(monitor=True), given)
    assert set(frame["incoming_set"]) == {"curlew"} and set(frame["incoming_heading"]) == {0.0}
    assert set(frame["set"]) == {"plover"}


def test_certificates_to_come_are_a_year_old_and_without_figures():
    table = expected.default_certificates(["plover", "curlew"])
    assert len(table) == 8 and (table["age_months"] == 12.0).all()
    figures = [name for name in expected.CERTIFICATE if name not in ("instrument_class", "reference")]
    assert table[figures].isna().all(axis=None) and set(table["set"]) == {"plover", "curlew"}


def test_visits_at_one_time_are_in_the_order_of_the_sets_names():
    table = visits()
    same = table[table.duplicated("start_utc", keep=False)]
    assert len(same)
    for _, part in same.groupby("start_utc"):
        assert part["set"].tolist() == sorted(part["set"])
    assert table["start_utc"].is_monotonic_increasing


def test_passes_that_are_needed_grow_with_the_square_of_the_width():
    """8 with 4 passes, of which 3 are firm: 55 in squares; 10 over 1.654 is 6.046, squared 36.55."""
    needed = expected.passes_needed(10.0, (8.0, 3.0), 4, 1)
    assert needed == math.ceil(55.0 * 4 / (36.55 - 9.0))
    assert (
        not np.isfinite(expected.passes_needed(4.0, (8.0, 3.0), 4, 1))
        or expected.passes_needed(4.0, (8.0, 3.0), 4, 1) > 99
    )
