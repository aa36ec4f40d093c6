"""Ways of measuring fluxes just inside and just outside their limits, and what each error reaches."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.chain import measured, measured_ways
from headland.chain.measured_records import Records, of_place, places_found
from headland.chain.measured_ways import Wind
from headland.physics.measured_forms import CLOSURE_MIDDLE, REACH, applied, reach_of

from .test_measured import GAMMA, SETTINGS, START, heights, plates, station, table, visit

NAN = math.nan


@pytest.mark.parametrize("depth, stored", [(0.01, False), (0.011, True)])
def test_a_plate_down_to_a_centimetre_has_nothing_above_it(depth, stored):
    numbers, reason = plates(depth=depth).at(visit())
    assert reason == "" and (numbers["stored"] > 0.0) == stored == (numbers[reach_of("soil_warming")] > 0.0)
    assert (plates(depth=depth, soil_temperature=NAN).at(visit())[1] == "no-storage") == stored


def test_soil_that_nobody_measured_is_a_loam_of_a_quarter_of_water():
    """1.92 MJ m-3 K-1 of minerals for a half of it, 2.51 of humus for a 50th, 4.18 of water for a quarter."""
    numbers, _ = plates(soil_moisture=NAN).at(visit())
    capacity = 1.92e6 * 0.5 + 2.51e6 * 0.02 + 4.18e6 * 0.25
    stored = capacity * 0.05 * 1.0 / 3600.0
    assert numbers["stored"] == pytest.approx(stored) and numbers["plate"] == 40.0
    assert numbers[reach_of("soil_storage")] == pytest.approx(2.5 * stored)
    known, _ = plates().at(visit())
    assert known[reach_of("soil_storage")] == known["stored"]
    # an error of a kelvin over the hour in which the warming was taken
    assert numbers[reach_of("soil_warming")] == pytest.approx(stored)
    long, _ = plates().at(visit(minutes=90.0))
    assert long[reach_of("soil_warming")] == pytest.approx(known[reach_of("soil_warming")] / 1.5)


@pytest.mark.parametrize("minutes, hours", [(4.0, 1.0), (60.0, 1.0), (90.0, 1.5)])
def test_warming_is_taken_over_an_hour_or_the_whole_visit(minutes, hours):
    rows = [{"soil_temperature": 10.0 + (n / 6.0) ** 2} for n in range(25)]
    records = Records(table("ground", rows, first=-120.0), "middle")
    start = START.timestamp()
    rate, over = records.rate("soil_temperature", start, start + 60.0 * minutes)
    middle = 2.0 + minutes / 120.0  # h after the first record
    assert over == hours and rate == pytest.approx(2.0 * middle, abs=0.02)


@pytest.mark.parametrize("gap, known", [(119.0, True), (121.0, False)])
def test_neighbours_in_time_are_an_hour_away_at_most(gap, known):
    records = Records(table("ground", [{"soil_heat_flux": 5.0}] * 2, every=gap, first=-gap / 2.0), "middle")
    assert np.isfinite(records.at("soil_heat_flux", START.timestamp())) == known


# Two heights


@pytest.mark.parametrize("celsius, percent", [(NAN, NAN), (0.2, 3.0)])
def test_differences_are_known_as_stated_else_to_a_tenth_of_a_kelvin_and_a_percent(celsius, percent):
    way = heights(0.5, temperature_resolution=celsius, humidity_resolution=percent)
    row = way.table.iloc[0]
    warmth = (row["lower_air_temperature"] + row["upper_air_temperature"]) / 2.0
    saturated = 0.6108 * math.exp(17.27 * warmth / (warmth + 237.3))  # FAO-56, eq. 11
    assert row["temperature_resolution"] == (0.1 if math.isnan(celsius) else celsius)
    assert row["vapour_resolution"] == pytest.approx(
        saturated * (1.0 if math.isnan(percent) else percent) / 100.0
    )
    assert row["warmer"] == pytest.approx(0.5 * 0.15 / GAMMA) and row["moister"] == pytest.approx(0.15)
    numbers, reason = way.at(visit())
    assert reason == "" and numbers["coefficient"] == pytest.approx(1.0 / 1.5)
    share = numbers["coefficient"]
    wanted = (
        share**2 * GAMMA / 0.15 * row["temperature_resolution"],
        share**2 * 0.5 / 0.15 * row["vapour_resolution"],
    )
    assert (numbers[reach_of("levels_temperature")], numbers[reach_of("levels_humidity")]) == pytest.approx(
        wanted
    )


@pytest.mark.parametrize("upper, reason", [(0.5, "heights"), (0.51, "near-minus-one")])
def test_the_upper_height_must_be_the_upper_one(upper, reason):
    given = heights(-0.98, upper_height=upper)
    assert given.at(visit())[1] == reason


# A flux station


@pytest.mark.parametrize(
    "sensible, latent, reason",
    [
        (9.0, 10.0, "fluxes-small"),
        (9.0, 12.0, "closure"),
        (-100.0, 129.0, "fluxes-small"),
        (-300.0, 440.0, ""),
        (-300.0, 425.0, "fluxes-small"),
        (60.0, 59.0, "closure"),
        (60.0, 61.0, ""),
        (400.0, 399.0, ""),
        (400.0, 401.0, "closure"),
    ],
)
def test_a_station_s_fluxes_are_large_enough_and_close_to_a_third_and_to_twice(sensible, latent, reason):
    """Of 400 W m-2; H + LE is 20 W m-2 at least, and three tenths of the larger one."""
    assert station(sensible_heat=sensible, latent_heat=latent).at(visit())[1] == reason


def test_what_a_station_s_errors_reach():
    numbers = measured_ways.closed(100.0, 300.0, 0.8)
    assert numbers["bowen_ratio"] == pytest.approx(1.0 / 3.0) and numbers["coefficient"] == 0.75
    assert numbers[reach_of("station_fluxes")] == pytest.approx(0.75 * 0.25)
    assert numbers[reach_of("station_closure")] == pytest.approx(0.1)
    assert numbers[CLOSURE_MIDDLE] == pytest.approx(0.2 * -0.25)
    assert math.isnan(measured_ways.closed(100.0, 0.0, 0.8)["bowen_ratio"])


# Wind


@pytest.mark.parametrize("wind, reason", [(0.49, "no-wind"), (0.5, "")])
def test_bulk_transfer_needs_half_a_metre_a_second(wind, reason):
    assert Wind(SETTINGS).at(visit(wind_speed=wind))[1] == reason


@pytest.mark.parametrize("cover, reason", [(2.18, ""), (2.20, "low-mast")])
def test_a_mast_stands_above_the_cover_s_own_air(cover, reason):
    """Two thirds of the cover and twice 0.123 of it are 0.913 of it: 2 m stand over 2.19."""
    assert Wind(SETTINGS).at(visit(cover=cover))[1] == reason
    assert Wind({"wind_height": 10.0, "air_height": 2.0}).at(visit(cover=cover))[1] == reason


def test_what_the_errors_of_bulk_transfer_reach():
    numbers, _ = Wind(SETTINGS).at(visit())
    assert numbers[reach_of("bulk_transfer")] == -numbers["sensible_heat"] == numbers["latent_offset"]
    half, _ = Wind(SETTINGS).at(visit(surface_temperature=26.5))
    less, _ = Wind(SETTINGS).at(visit(surface_temperature=25.5))
    wanted = -(half["sensible_heat"] - less["sensible_heat"])
    assert numbers[reach_of("bulk_temperature")] == pytest.approx(wanted)


# Visits with measurements


VISITS = pd.DataFrame(
    {
        "segment": ["s1", "s2", "s3"],
        "field": ["Low meadow", "Yard", "Yard"],
        "surface": ["short_grass", "paving", "paving"],
        "net_radiation": [400.0, 300.0, NAN],
        "fraction": 0.1,
        "offset": 0.0,
        "coefficient": 1.0,
        "split": "priestley_taylor",
        "method": "class_fraction",
        "reason": "melt",
        "ground_heat": 40.0,
    }
)


def rows(*given):
    none = dict.fromkeys(measured.NUMBERS, 0.0) | {
        reach_of(term): float(n + 1) for n, term in enumerate(REACH)
    }
    return pd.DataFrame([none | row for row in given])


def test_a_measured_ground_heat_is_an_offset_with_its_own_errors_alone():
    found = applied(
        VISITS,
        rows(
            {"segment": "s1", "way": "plate", "reason": "", "ground_heat": 55.0},
            {"segment": "s2", "way": "plate", "reason": "no-depth"},
            {"segment": "s1", "way": "station_ground", "reason": "", "ground_heat": 66.0},
            {"segment": "s3", "way": "station_ground", "reason": "", "ground_heat": 77.0},
        ),
        ("plate", "station_ground"),
    )
    assert found["method"].tolist() == ["plate", "class_fraction", "station_ground"]
    assert found["offset"].tolist() == [55.0, 0.0, 77.0] and found["fraction"].tolist() == [0.0, 0.1, 0.0]
    assert found["reason"].tolist() == ["", "melt", "unknown"]
    for n, (term, makes) in enumerate(REACH.items()):
        wanted = [n + 1.0, 0.0, n + 1.0] if makes == "ground_heat_offset" else [0.0] * 3
        assert found[reach_of(term)].tolist() == wanted, term
    assert VISITS["method"].eq("class_fraction").all()


@pytest.mark.parametrize(
    "way, error",
    [
        ("two_heights", "latent_heat_fraction"),
        ("flux_station", "latent_heat_fraction"),
        ("bulk_transfer", "latent_heat_offset"),
    ],
)
def test_a_measured_split_has_its_share_offset_and_errors(way, error):
    one = {
        "segment": "s2",
        "way": way,
        "reason": "",
        "coefficient": 0.6,
        "latent_offset": -20.0,
        CLOSURE_MIDDLE: 0.05,
    }
    found = applied(VISITS, rows(one), split=way)
    assert found["split"].tolist() == ["priestley_taylor", way, "priestley_taylor"]
    assert found["coefficient"].tolist() == [1.0, 0.6, 1.0] and found["latent_offset"].tolist() == [
        0.0,
        -20.0,
        0.0,
    ]
    assert found[CLOSURE_MIDDLE].tolist() == [0.0, 0.05, 0.0]
    for n, (term, makes) in enumerate(REACH.items()):
        assert found[reach_of(term)].tolist() == [0.0, (n + 1.0) * (makes == error), 0.0], term
    assert applied(VISITS, rows(one), split="estimated")["split"].eq("priestley_taylor").all()


@pytest.mark.parametrize(
    "place, ground",
    [({}, [55.0, 40.0]), ({"surface": "paving"}, [55.0, 66.0]), ({"field": "Yard"}, [55.0, 66.0])],
)
def test_a_station_s_ground_heat_serves_other_ways_where_its_ground_is_stated(place, ground):
    given = rows(
        {"segment": "s1", "way": "plate", "reason": "", "ground_heat": 55.0},
        {"segment": "s2", "way": "station_ground", "reason": "", "ground_heat": 66.0},
    )
    assert measured.with_best_ground(VISITS[:2], given, place)["ground_heat"].tolist() == ground


def test_refusals_are_counted_by_way_surface_and_reason():
    given = pd.DataFrame(
        {
            "way": ["plate", "plate", "plate", "two_heights"],
            "surface": ["paving", "paving", "short_grass", "paving"],
            "reason": ["no-depth", "", "no-record", "heights"],
        }
    )
    found = measured._refused(given)
    assert [
        (
            one.code,
            one.variant,
            one.facts["way"],
            one.facts["surface"],
            one.facts["count"],
            one.facts["visits"],
        )
        for one in found
    ] == [
        ("measured-refused", "no-depth", "the soil heat flux plate", "paving", 1, 2),
        ("measured-refused", "no-record", "the soil heat flux plate", "short_grass", 1, 1),
        ("measured-refused", "heights", "the air at two heights", "paving", 1, 1),
    ]


def test_the_cover_under_a_mast_is_that_under_the_head_else_the_class_s():
    visits = pd.DataFrame(
        {
            "segment": ["s1", "s2", "s3"],
            "surface": ["a", "a", "b"],
            "start_utc": START,
            "end_utc": START + pd.Timedelta("10min"),
        }
    )
    segments = pd.DataFrame(
        {"segment": ["s3", "s2", "s1"], "height": [1.5, 1.5, 1.1], "surface_temperature": [30.0, 20.0, 10.0]}
    )
    made = measured._around(
        visits, segments, {"sensor_height": 1.5}, {"a": {"cover_height": {"value": 0.12}}, "b": {}}
    )
    assert [one.cover for one in made] == pytest.approx([0.4, 0.12, NAN], nan_ok=True)
    assert [one.surface_temperature for one in made] == [10.0, 20.0, 30.0]
    assert made[0].start == START.timestamp() and made[0].end - made[0].start == 600.0


def test_rows_of_a_place_and_what_is_said_of_unknown_ones():
    places = table(
        "levels",
        [
            {"field": "Low meadow", "surface": "paving"},
            {"field": "Low meadow", "surface": "short_grass"},
            {"surface": "short_grass"},
        ],
    )
    assert of_place(places, visit().row)["line"].tolist() == [3]
    assert (
        of_place(places[:1], visit().row)["line"].tolist() == []
        and len(of_place(places[:0], visit().row)) == 0
    )
    (one,) = places_found(
        table("levels", [{"surface": "pawing"}]),
        "levels.csv",
        pd.DataFrame([visit(surface="paving").row]),
        needed=True,
    )
    assert one.facts == {
        "column": "surface",
        "name": "pawing",
        "rows": 1,
        "known": "paving",
        "hint": '; did you mean "paving"?',
    }
    assert (one.file, one.line) == ("levels.csv", 2)
