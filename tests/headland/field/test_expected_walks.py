"""What a plan expects of a walk, by hand."""

import argparse
import dataclasses
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


def of_pair(a, b, low, high, name="albedo"):
    return {
        "surface_a": a,
        "surface_b": b,
        "quantity": name,
        "difference": (low + high) / 2.0,
        "difference_low": low,
        "difference_high": high,
    }


def test_a_row_of_the_table_of_differences_by_hand():
    """-10 with 8 to both sides, of which 3 are firm, by 4 passes: as for `passes_needed`."""
    row, firm = of_pair("paving", "gravel", -18.0, -2.0), of_pair("paving", "gravel", -13.0, -7.0)
    found = expected._difference(row, firm, 4, 1)
    assert found == {
        "surface_a": "paving",
        "surface_b": "gravel",
        "quantity": "albedo",
        "difference": -10.0,
        "half_width": 8.0,
        "half_width_firm": 3.0,
        "passes": 4,
        "passes_needed": math.ceil(55.0 * 4 / (36.55 - 9.0)),
    }
    assert expected._difference(row, firm, 4, 3)["passes_needed"] > found["passes_needed"]


def test_the_table_has_each_pair_with_the_fewer_passes_and_the_ground_s_part_falls(monkeypatch, walks, given):
    """Two surfaces, one of which has half of its walks; the chain's intervals are replaced by known ones."""
    asked = []

    def intervals(frames, balances, settings, known):
        asked.append((settings["seed"], settings["draws"], known.terms["ground"]["enabled"]))
        width = 8.0 if known.terms["ground"]["enabled"] == "true" else 3.0
        rows = [of_pair("paving", "short_grass", 10.0 - width, 10.0 + width, q) for q in QUANTITIES]
        return argparse.Namespace(differences=pd.DataFrame(rows))

    monkeypatch.setattr(expected.propagate, "intervals", intervals)
    grass = walks.index[walks["surface"] == "short_grass"]
    some = walks.drop(index=grass[: len(grass) // 2])
    none = some.index[some["surface"] == "paving"][0]
    some = some.assign(weight=some["weight"].where(some.index != none, 0.0))  # too short for a sample
    table = expected.expected_differences(some, expected.default_certificates(["plover"]), given, 5, 60)
    assert asked == [(5, 60, "true"), (5, 60, "false")]
    assert table["quantity"].tolist() == list(expected.COMPARED)
    assert set(table["passes"]) == {len(grass) - len(grass) // 2}
    assert (table["half_width"] == 8.0).all() and (table["half_width_firm"] == 3.0).all()
    needed = expected.passes_needed(10.0, (8.0, 3.0), int(table["passes"].iloc[0]), 1)
    assert set(table["passes_needed"]) == {needed} and list(table) == list(expected.DIFFERENCE_COLUMNS)


QUANTITIES = ("albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky")


@pytest.mark.parametrize("pairs, half_widths", [(1, 1.654), (3, 1.875), (10, 2.086)])
def test_the_promise_by_the_table_of_the_normal_distribution(pairs, half_widths):
    """1.960, 2.394 and 2.807 for 0.05 two-sided over 1, 3 and 10 tests, 1.282 for nine in ten; in 1.960."""
    assert expected.promise(pairs) == pytest.approx(half_widths, abs=1e-3)


def test_a_plan_asks_the_chain_for_its_own_settings(given):
    made = given.settings(5, 60)
    assert made["methods"] == {
        "ground_heat": "class_fraction",
        "green_cover": "priestley_taylor",
        "latent_heat": "estimated",
        "set_scale": "none",
        "one_sided": "correct",
    }
    assert (made["seed"], made["draws"], made["sensor_height"]) == (5, 60, 1.5)
    assert made["weather"] == {"air_temperature": 20.0} and made["site"] == SITE
    assert made["measured"] == {"stamp": "end", "wind_height": 2.0, "air_height": 2.0}


def test_a_head_that_is_levelled_does_not_lean(given):
    term = {"enabled": "true", "distribution": "normal", "sigma": "0.7"}
    leaning = dataclasses.replace(given, terms={"levelling": term})
    level = dataclasses.replace(given, terms={"levelling": term | {"enabled": "false"}})
    assert (leaning.levelling, level.levelling) == (0.7, 0.0)


def test_a_low_sun_warms_the_ground_less_and_shows_no_albedo(given):
    """Surface minus air is the table's at 800 W m-2, in proportion below, 1.3 times at most above."""
    walks = pd.DataFrame({"surface": ["paving"] * 3, "weight": 10.0})
    sky = {"sw_in": [400.0, 2000.0, 100.0], "lw_in": 330.0, "elevation": [40.0, 60.0, 8.0]}
    found = expected._expected_values(walks, pd.DataFrame(sky), given)
    warmer = given.surfaces["paving"]["surface_minus_air"]["value"]
    assert found["surface_temperature"].tolist() == pytest.approx(
        [20.0 + warmer * share for share in (0.5, 1.3, 0.125)]
    )
    assert np.isfinite(found["albedo"]).tolist() == [True, True, False]
    albedo = given.surfaces["paving"]["albedo"]["value"]
    assert found["albedo_sw_in"].tolist() == [4000.0, 20000.0, 0.0]
    assert found["albedo_sw_out"].tolist() == pytest.approx([4000.0 * albedo, 20000.0 * albedo, 0.0])
    assert found["ground_sw_out"].tolist() == pytest.approx([10.0 * albedo, 50.0 * albedo, 2.5 * albedo])
    assert found["body_temperature"] == found["incoming_body_temperature"] == 23.0


def test_a_walk_shorter_than_its_guards_has_no_samples(given):
    short = FIELDS.assign(length=[5.0, 90.0])
    table = timetable.timetable(short, ["plover"], timetable.Day(START, END, 0.8, 4.0, False, 1, 7))[0]
    found = expected.expected_segments(table, given)
    assert set(found.loc[found["surface"] == "short_grass", "weight"]) == {0.0}
    assert found["segment"].tolist() == [f"plover-{k:03d}" for k in range(len(found))]
    middle = found["start_utc"] + (found["end_utc"] - found["start_utc"]) / 2
    sky = given.sky(pd.DatetimeIndex(middle))
    np.testing.assert_allclose(found["solar_elevation"], sky["elevation"])
    np.testing.assert_allclose(found["solar_azimuth"], sky["azimuth"])
    np.testing.assert_allclose(found["sw_in"], sky["sw_in"])
    assert found["notes_row"].tolist() == list(range(len(found))) and set(found["sky"]) == {"clear"}
    assert (found["incoming_heading"] == found["heading"]).all()
