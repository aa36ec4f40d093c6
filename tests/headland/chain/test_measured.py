"""What plates, two heights, a flux station and wind give at a visit, and when they are refused."""

import numpy as np
import pandas as pd
import pytest

from headland.chain.measured_records import Records, of_place, places_found
from headland.chain.measured_ways import Plates, Station, TwoHeights, Visit, Wind
from headland.files import user_tables
from headland.physics import bulk_transfer, evaporation
from headland.physics.measured_forms import CLOSURE_MIDDLE, reach_of

START = pd.Timestamp("2026-05-21T10:00:00Z")
GAMMA = 0.665e-3 * 101.3


def visit(minutes: float = 60.0, **changes) -> Visit:
    """A visit from 10 h on over a meadow, with 400 W m-2 to split."""
    row = {
        "field": "Low meadow",
        "surface": "short_grass",
        "net_radiation": 450.0,
        "ground_heat": 50.0,
        "air_temperature": 20.0,
        "pressure": 1013.0,
        "wind_speed": 3.0,
    }
    own = {name: changes.pop(name) for name in ("surface_temperature", "cover") if name in changes}
    start = START.timestamp()
    end = start + 60.0 * minutes
    return Visit(row | changes, start, end, own.get("surface_temperature", 26.0), own.get("cover", 0.12))


def table(kind: str, rows: list[dict], every: float = 10.0, first: float = -60.0) -> pd.DataFrame:
    """A user's table with a row every so many minutes from `first` on (min after 10 h)."""
    none = user_tables.no_user_table(kind)
    words = {name: "" for name in none if none[name].dtype == object}
    records = [{**words, "line": 2 + n, **row} for n, row in enumerate(rows)]
    times = START + pd.to_timedelta(first + every * np.arange(len(rows)), unit="min")
    return (
        pd.DataFrame(records).reindex(columns=list(none)).assign(time_utc=times.astype("datetime64[us, UTC]"))
    )


# Records ----------------------------------------------------------------------------------------------------


def test_a_visit_has_the_mean_of_the_records_in_it_else_a_line_between_its_neighbours():
    records = Records(table("ground", [{"soil_heat_flux": float(n)} for n in range(19)]), "middle")
    start = START.timestamp()
    assert records.over("soil_heat_flux", start, start + 3600.0) == pytest.approx(9.0)  # records 6 to 12
    assert records.over("soil_heat_flux", start + 60.0, start + 120.0) == pytest.approx(6.15)
    assert np.isnan(records.at("soil_heat_flux", start - 3601.0))  # nothing before the first record
    wide = Records(table("ground", [{"soil_heat_flux": 1.0}] * 3, every=150.0, first=-120.0), "middle")
    assert np.isnan(wide.at("soil_heat_flux", start - 2700.0))  # neighbours 75 min away


@pytest.mark.parametrize("stamp, expected", [("start", 5.5), ("middle", 6.0), ("end", 6.5)])
def test_a_time_names_the_moment_of_the_interval_that_the_settings_say(stamp, expected):
    records = Records(table("ground", [{"soil_heat_flux": float(n)} for n in range(19)]), stamp)
    assert records.at("soil_heat_flux", START.timestamp()) == pytest.approx(expected)


def test_a_field_goes_before_its_class_and_no_place_is_the_last_choice():
    rows = [{"field": "Low meadow"}, {"surface": "short_grass"}, {"surface": "paving"}, {}]
    places = table("levels", rows)
    assert of_place(places, visit().row)["line"].tolist() == [2]
    assert of_place(places, visit(field="Other").row)["line"].tolist() == [3]
    assert of_place(places, visit(field="Other", surface="gravel").row)["line"].tolist() == [5]


def test_places_that_the_notes_lack_and_rows_without_one_are_found_once():
    rows = [{"field": "Low medow"}, {"field": "Low medow"}, {"surface": "short_grass"}, {}]
    visits = pd.DataFrame([visit().row])
    found = places_found(table("ground", rows), "ground.csv", visits, needed=True)
    assert [(one.code, one.variant, one.line) for one in found] == [
        ("measured-place", "unknown", 2),
        ("measured-place", "missing", 5),
    ]
    assert found[0].facts["rows"] == 2 and "Low meadow" in found[0].facts["hint"]
    assert len(places_found(table("levels", rows), "levels.csv", visits, needed=False)) == 1


# Ground heat ------------------------------------------------------------------------------------------------


def plates(**changes) -> Plates:
    """A plate at 5 cm that reads 40 W m-2, in soil that warms by 1 K an hour, wet to 0.2."""
    given = {"field": "Low meadow", "soil_heat_flux": 40.0, "depth": 0.05, "soil_moisture": 0.2}
    rows = [{**given, "soil_temperature": 15.0 + n / 6.0, **changes} for n in range(19)]
    return Plates(table("ground", rows), "middle")


def test_the_flux_at_the_surface_is_that_of_the_plate_and_the_storage():
    numbers, reason = plates().at(visit())
    capacity = 1.92 * 0.5 + 2.51 * 0.02 + 4.18 * 0.2
    stored = capacity * 1e6 * 0.05 / 3600.0
    assert reason == "" and numbers["stored"] == pytest.approx(stored)
    assert numbers["ground_heat"] == pytest.approx(40.0 + stored)
    assert numbers[reach_of("plate")] == 40.0 and numbers[reach_of("one_spot")] == numbers["ground_heat"]
    cooling = [{"field": "Low meadow", "soil_heat_flux": -40.0, "depth": 0.05, "soil_moisture": 0.2}] * 19
    cooling = [{**row, "soil_temperature": 15.0 - n / 6.0} for n, row in enumerate(cooling)]
    numbers, _ = Plates(table("ground", cooling), "middle").at(visit())
    assert numbers["ground_heat"] == pytest.approx(-40.0 - stored)


def test_without_moisture_the_storage_is_less_well_known():
    known, _ = plates().at(visit())
    unknown, _ = plates(soil_moisture=np.nan).at(visit())
    assert unknown["stored"] == pytest.approx(known["stored"], rel=0.15)
    assert unknown[reach_of("soil_storage")] > 2.0 * known[reach_of("soil_storage")]


@pytest.mark.parametrize(
    "changes, expected",
    [
        ({"soil_temperature": np.nan}, "no-storage"),
        ({"depth": np.nan}, "no-depth"),
        ({"soil_heat_flux": np.nan}, "no-record"),
        ({"soil_temperature": np.nan, "depth": 0.005}, ""),
    ],
)
def test_a_plate_without_what_the_storage_needs_is_refused(changes, expected):
    assert plates(**changes).at(visit())[1] == expected


def test_a_plate_elsewhere_says_nothing():
    assert plates().at(visit(field="Far meadow")) is None


# Two heights ------------------------------------------------------------------------------------------------


def heights(ratio: float, moister: float = 0.15, **changes) -> TwoHeights:
    """Air at 0.5 and 2.5 m with a Bowen ratio and a difference of vapour pressure, kPa."""
    warmer = ratio * moister / GAMMA + 0.0098 * 2.0
    given = {
        "lower_height": 0.5,
        "upper_height": 2.5,
        "lower_air_temperature": 20.0 + warmer,
        "upper_air_temperature": 20.0,
        "lower_vapour_pressure": 10.0 * (1.2 + moister),
        "upper_vapour_pressure": 12.0,
    }
    return TwoHeights(table("levels", [{**given, **changes}] * 19), "end")


@pytest.mark.parametrize("ratio", [0.2, 0.5, 2.0])
def test_two_heights_give_the_bowen_ratio_of_which_they_were_made(ratio):
    numbers, reason = heights(ratio).at(visit())
    assert reason == "" and numbers["bowen_ratio"] == pytest.approx(ratio, rel=1e-6)
    assert numbers["latent_heat"] == pytest.approx(400.0 / (1.0 + ratio), rel=1e-6)
    assert numbers["sensible_heat"] + numbers["latent_heat"] == pytest.approx(400.0)


def test_humidity_in_percent_gives_what_vapour_pressure_in_hpa_gives():
    by_pressure, _ = heights(0.5).at(visit())
    warmer = 0.5 * 0.15 / GAMMA + 0.0098 * 2.0
    percent = {
        "lower_relative_humidity": 135.0 / float(evaporation.saturation_vapour_pressure(20.0 + warmer)),
        "upper_relative_humidity": 120.0 / float(evaporation.saturation_vapour_pressure(20.0)),
        "lower_vapour_pressure": np.nan,
        "upper_vapour_pressure": np.nan,
    }
    by_humidity, _ = heights(0.5, **percent).at(visit())
    assert by_humidity["bowen_ratio"] == pytest.approx(by_pressure["bowen_ratio"], rel=1e-6)


def test_how_errors_of_the_differences_act_is_the_slope_of_the_share():
    numbers, _ = heights(0.5).at(visit())
    step, resolution = 1e-4, 0.1
    warmer, _ = heights(0.5, lower_air_temperature=20.0 + 0.5 * 0.15 / GAMMA + 0.0196 + step).at(visit())
    slope = (warmer["coefficient"] - numbers["coefficient"]) / step
    assert abs(numbers[reach_of("levels_temperature")]) == pytest.approx(abs(slope) * resolution, rel=1e-2)
    moister, _ = heights(0.5, lower_vapour_pressure=13.5 + 10.0 * step).at(visit())
    slope = (moister["coefficient"] - numbers["coefficient"]) / step
    size = float(evaporation.saturation_vapour_pressure(20.0 + (0.5 * 0.15 / GAMMA + 0.0196) / 2.0)) / 100.0
    assert abs(numbers[reach_of("levels_humidity")]) == pytest.approx(abs(slope) * size, rel=1e-2)


@pytest.mark.parametrize(
    "way, expected",
    [
        (heights(-0.95), "near-minus-one"),
        (heights(0.5, moister=-0.15), "against-differences"),
        (heights(0.5, upper_height=0.4), "heights"),
        (heights(0.5, upper_air_temperature=np.nan), "no-record"),
        (heights(0.5, moister=0.005, temperature_resolution=5.0), "near-minus-one"),
    ],
)
def test_two_heights_are_refused_where_they_give_no_fluxes(way, expected):
    assert way.at(visit())[1] == expected


def test_two_heights_need_a_ground_heat_flux():
    assert heights(0.5).at(visit(ground_heat=np.nan))[1] == "no-ground-heat"


# A flux station ---------------------------------------------------------------------------------------------


def station(place: dict | None = None, **changes) -> Station:
    given = {"sensible_heat": 100.0, "latent_heat": 200.0, "soil_heat_flux": 30.0, **changes}
    return Station(table("station", [given] * 19), {"stamp": "end", **(place or {})})


def test_a_station_s_ratio_closes_the_balance_and_its_gap_widens_the_share():
    numbers, reason = station().at(visit())
    assert reason == "" and numbers["closure"] == pytest.approx(300.0 / 400.0)
    assert numbers["coefficient"] == pytest.approx(2.0 / 3.0)
    share, half = numbers["coefficient"] + numbers[CLOSURE_MIDDLE], numbers[reach_of("station_closure")]
    assert (share - half, share + half) == pytest.approx((200.0 / 400.0, 1.0 - 100.0 / 400.0))


def test_the_closure_is_the_station_s_own_where_it_measures_radiation():
    own = {"sw_in": 700.0, "sw_out": 140.0, "lw_in": 340.0, "lw_out": 470.0}
    numbers, _ = station(**own).at(visit())
    assert numbers["closure"] == pytest.approx(300.0 / (430.0 - 30.0))
    assert station().ground_at(visit())[0]["ground_heat"] == 30.0


@pytest.mark.parametrize(
    "changes, expected",
    [
        ({"sensible_heat": 5.0, "latent_heat": 8.0}, "fluxes-small"),
        ({"sensible_heat": -150.0, "latent_heat": 180.0}, "fluxes-small"),
        ({"sensible_heat": 20.0, "latent_heat": 40.0}, "closure"),
        ({"sensible_heat": -100.0, "latent_heat": -200.0}, "closure"),
        ({"latent_heat": np.nan}, None),
    ],
)
def test_a_station_is_refused_where_it_has_no_ratio(changes, expected):
    answer = station(**changes).at(visit())
    assert (answer if answer is None else answer[1]) == expected


def test_a_station_that_goes_against_the_energy_of_the_visit_is_refused():
    own = {"sw_in": 700.0, "sw_out": 140.0, "lw_in": 340.0, "lw_out": 470.0}
    assert station(**own).at(visit(net_radiation=-50.0, ground_heat=-20.0))[1] == "against-energy"


def test_a_station_on_stated_ground_says_nothing_of_other_ground():
    assert station({"surface": "paving"}).at(visit()) is None
    assert station({"field": "Low meadow"}).at(visit()) is not None
    assert station({"surface": "paving"}).ground_at(visit()) is None


# Wind -------------------------------------------------------------------------------------------------------

SETTINGS = {"wind_height": 2.0, "air_height": 2.0}


def test_wind_gives_bulk_transfer_and_the_rest_evaporates():
    numbers, reason = Wind(SETTINGS).at(visit())
    mast = bulk_transfer.Mast(2.0, 2.0, 0.12)
    expected = float(bulk_transfer.sensible_heat(26.0, 20.0, 3.0, mast, 101.3))
    assert reason == "" and numbers["sensible_heat"] == pytest.approx(expected)
    assert numbers["latent_heat"] == pytest.approx(400.0 - expected)
    assert numbers["coefficient"] == 1.0 and numbers["latent_offset"] == pytest.approx(-expected)
    assert numbers[reach_of("bulk_temperature")] < 0.0  # a warmer surface leaves less for evaporation


@pytest.mark.parametrize(
    "changes, expected",
    [
        ({"wind_speed": 0.3}, "no-wind"),
        ({"air_temperature": np.nan}, "no-temperature"),
        ({"surface_temperature": np.nan}, "no-temperature"),
        ({"cover": np.nan}, "no-cover"),
        ({"cover": 2.5}, "low-mast"),
        ({"ground_heat": np.nan}, "no-ground-heat"),
    ],
)
def test_wind_is_refused_where_bulk_transfer_does_not_hold(changes, expected):
    assert Wind(SETTINGS).at(visit(**changes))[1] == expected
    assert Wind(SETTINGS).at(visit(wind_speed=np.nan)) is None


def test_a_station_says_nothing_where_the_energy_of_the_visit_is_unknown():
    own = {"sw_in": 700.0, "sw_out": 140.0, "lw_in": 340.0, "lw_out": 470.0}
    assert station(**own).at(visit(ground_heat=np.nan)) == ({}, "no-ground-heat")
    assert station().at(visit(net_radiation=np.nan)) == ({}, "no-ground-heat")


def test_a_station_that_lacks_some_records_still_has_its_fluxes():
    rows = [{"sensible_heat": 100.0, "latent_heat": 200.0, "soil_heat_flux": np.nan}] * 18
    rows += [dict.fromkeys(rows[0], np.nan)]
    gaps = Station(table("station", rows), {"stamp": "end"})
    assert gaps.at(visit())[1] == "" and gaps.ground_at(visit()) is None
