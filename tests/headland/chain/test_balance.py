"""The energy balance: identities, signs, rules where nothing is estimated, the table of surface classes."""

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.base.classes import SPLIT_PROPERTY
from headland.chain import balance
from headland.physics import evaporation, heat

SURFACES = Path(__file__).parents[3] / "config" / "surfaces.csv"
CLASSES = (
    "short_grass",
    "tall_crop",
    "bare_dry_soil",
    "bare_wet_soil",
    "stubble",
    "paving",
    "gravel",
    "shallow_water",
    "deep_water",
    "snow",
)
EVERY = (
    "label",
    "colour",
    "marker",
    "albedo",
    "emissivity",
    "latent_method",
    "sky_response",
    "surface_minus_air",
)
SPLITS = ("priestley_taylor", "de_bruin_holtslag", "evaporative_fraction", "none", "not_estimated")
fluxes = st.floats(-300.0, 1000.0)


def terms(net, ground, split, *, day=True, celsius=20.0, pressure=101.3, coefficient=1.0):
    found = heat.energy_balance(
        net, ground, split=split, day=day, celsius=celsius, pressure=pressure, coefficient=coefficient
    )
    return {name: float(value) for name, value in found.items()}


conditions = st.fixed_dictionaries(
    {
        "day": st.booleans(),
        "celsius": st.floats(-10.0, 40.0),
        "pressure": st.floats(60.0, 105.0),
        "coefficient": st.floats(0.1, 1.26),
    }
)


@given(fluxes, st.floats(0.0, 1.0), st.sampled_from(SPLITS), conditions)
def test_the_balance_closes_or_is_not_estimated(net, fraction, split, given_):
    row = terms(net, float(heat.ground_heat(net, fraction)), split, **given_)
    total = row["sensible_heat"] + row["latent_heat"] + row["ground_heat"]
    assert total == pytest.approx(net, abs=1e-9) or np.isnan(total)
    assert np.isnan(row["latent_heat"]) == np.isnan(row["sensible_heat"]) == np.isnan(row["evaporation"])


@pytest.mark.parametrize("split", SPLITS)
def test_nothing_is_split_by_night(split):
    assert np.isnan(terms(-60.0, -30.0, split, day=False)["latent_heat"])


@pytest.mark.parametrize("split", heat.GREEN)
@pytest.mark.parametrize("available, estimated", [(49.9, False), (50.0, False), (50.1, True), (400.0, True)])
def test_green_cover_needs_more_than_50_of_available_energy(split, available, estimated):
    assert np.isfinite(terms(available, 0.0, split)["latent_heat"]) == estimated


def test_dry_paving_evaporates_nothing_even_without_an_air_temperature():
    row = terms(400.0, 200.0, "none", celsius=np.nan)
    assert (row["latent_heat"], row["sensible_heat"], row["evaporation"]) == (0.0, 200.0, 0.0) and np.isnan(
        row["bowen_ratio"]
    )


def test_evaporative_fraction():
    row = terms(500.0, 100.0, "evaporative_fraction", coefficient=0.65)
    assert (row["latent_heat"], row["sensible_heat"]) == pytest.approx((260.0, 140.0)) and row[
        "bowen_ratio"
    ] == pytest.approx(140.0 / 260.0)


def test_not_estimated_keeps_the_ground_heat():
    row = terms(500.0, 400.0, "not_estimated")
    assert row["ground_heat"] == 400.0 and np.isnan(row["sensible_heat"])


@given(st.floats(60.0, 900.0), st.floats(-5.0, 40.0), st.floats(70.0, 105.0))
def test_de_bruin_holtslag_is_equilibrium_evaporation_and_20(available, celsius, pressure):
    equilibrium = evaporation.priestley_taylor(available, celsius, pressure, 1.0)
    assert evaporation.de_bruin_holtslag(available, celsius, pressure) - equilibrium == pytest.approx(20.0)
    assert 0 < equilibrium < available


@given(fluxes, fluxes, st.floats(0.0, 1.5))
def test_ground_heat_follows_the_sign_of_net_radiation(net, offset, fraction):
    assert heat.ground_heat(-net, fraction) == pytest.approx(-heat.ground_heat(net, fraction))
    assert heat.ground_heat(net, fraction, offset) == pytest.approx(fraction * net + offset)


@given(st.floats(-5.0, 45.0))
def test_the_slope_is_the_derivative_of_the_saturation_vapour_pressure(celsius):
    step = 1e-4
    numeric = (
        evaporation.saturation_vapour_pressure(celsius + step)
        - evaporation.saturation_vapour_pressure(celsius - step)
    ) / (2 * step)
    assert evaporation.slope_of_saturation(celsius) == pytest.approx(
        numeric, rel=2e-4
    )  # 4098 is 17.27 x 237.3 rounded


@given(st.floats(-43200.0, 43200.0), st.sampled_from(sorted(heat.SANTANELLO)))
def test_santanello_lies_between_0_and_its_amplitude(seconds, moisture):
    amplitude, period = heat.SANTANELLO[moisture]
    assert 0.0 <= heat.santanello_fraction(seconds, amplitude, period) <= amplitude


ENTRY = {"ground_heat_fraction_day": {"value": 0.1}, "ground_heat_fraction_night": {"value": 0.5}}


@pytest.mark.parametrize(
    "net, up, day, fraction, reason",
    [
        (400.0, 45.0, True, 0.1, ""),
        (np.nan, 45.0, True, 0.1, "unknown"),
        (400.0, 45.0, True, np.nan, "melt"),
        (400.0, 19.9, True, 0.1, "sun-low"),
        (400.0, 20.0, True, 0.1, ""),
        (100.0, 45.0, True, 0.1, "net-small"),
        (100.1, 45.0, True, 0.1, ""),
        (0.0, 45.0, True, 0.1, "net-small"),
        (-0.1, 45.0, True, 0.1, ""),
        (-60.0, -20.0, False, 0.5, ""),
        (50.0, -20.0, False, 0.5, ""),
    ],
)
def test_where_no_ground_heat_is_estimated(net, up, day, fraction, reason):
    assert balance.why_no_ground_heat(net, up, day, fraction) == reason


def test_a_method_without_values_falls_back_on_the_class_fraction_and_says_so():
    for method in ("choudhury", "santanello", "hysteresis"):
        assert balance.ground_heat_terms(ENTRY, method, True, 0.0, np.nan) == (0.1, 0.0, "class_fraction")
    leafy = ENTRY | {"leaf_area_index": {"value": 3.0}}
    assert balance.ground_heat_terms(leafy, "choudhury", True, 0.0, np.nan)[::2] == (
        pytest.approx(0.0893, abs=5e-5),
        "choudhury",
    )
    assert balance.ground_heat_terms(leafy, "choudhury", False, 0.0, np.nan) == (0.5, 0.0, "class_fraction")
    wet = ENTRY | {"soil_moisture": {"value": "wet"}}
    assert balance.ground_heat_terms(wet, "santanello", True, 0.0, np.nan)[::2] == (
        pytest.approx(0.1885, abs=5e-5),
        "santanello",
    )


def test_hysteresis_terms_are_the_form_itself():
    entry = ENTRY | {
        "hysteresis_a1": {"value": 0.32},
        "hysteresis_a2": {"value": 0.54},
        "hysteresis_a3": {"value": -27.4},
    }
    fraction, offset, method = balance.ground_heat_terms(entry, "hysteresis", True, 0.0, 50.0)
    assert method == "hysteresis" and heat.ground_heat(500.0, fraction, offset) == pytest.approx(
        heat.hysteresis(500.0, 50.0, 0.32, 0.54, -27.4)
    )


def test_the_rate_of_net_radiation_needs_3_hours():
    hours = np.linspace(0.0, 4.0, 9)
    assert heat.net_rate(hours, 100.0 + 50.0 * hours) == pytest.approx(50.0)
    assert np.isnan(heat.net_rate(hours[:6], 100.0 + 50.0 * hours[:6])) and np.isnan(
        heat.net_rate(hours, np.full(9, np.nan))
    )


@pytest.mark.parametrize(
    "sensible, surface, air, wind, against",
    [
        (100.0, 15.0, 20.0, 2.0, True),
        (-100.0, 25.0, 20.0, 2.0, True),
        (100.0, 25.0, 20.0, 2.0, False),
        (-100.0, 15.0, 20.0, 2.0, False),
        (100.0, 17.0, 20.0, 2.0, False),
        (100.0, 16.9, 20.0, 2.0, True),
        (100.0, 15.0, 20.0, np.nan, False),
        (100.0, 15.0, np.nan, 2.0, False),
    ],
)
def test_sign_of_the_sensible_heat_against_the_wind(sensible, surface, air, wind, against):
    given = {"surface_temperature": surface, "air_temperature": air, "wind_speed": wind}
    assert heat.against_wind(sensible, 0.0, **given) is against


def table():
    with SURFACES.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def classes():
    result = {}
    for row in table():
        assert row["property"] not in result.setdefault(row["surface"], {}), (
            f"{row['surface']} {row['property']} twice"
        )
        result[row["surface"]][row["property"]] = row
    return result


def test_the_table_has_the_ten_classes():
    assert tuple(classes()) == CLASSES


@pytest.mark.parametrize("name", CLASSES)
def test_a_class_has_all_it_needs(name):
    entry = classes()[name]
    needed = set(EVERY) | (
        set() if name == "snow" else {"ground_heat_fraction_day", "ground_heat_fraction_night"}
    )
    method = entry["latent_method"]["value"]
    assert method in ("priestley_taylor", "evaporative_fraction", "none", "not_estimated")
    needed |= {SPLIT_PROPERTY[method]} if method in SPLIT_PROPERTY else set()
    needed |= {"leaf_area_index"} if name in ("short_grass", "tall_crop", "stubble") else set()
    needed |= {"soil_moisture"} if name.startswith("bare_") else set()
    assert needed <= set(entry)
    assert len({"hysteresis_a1", "hysteresis_a2", "hysteresis_a3"} & set(entry)) in (0, 3)


def test_every_row_has_a_source_and_an_ordered_range():
    for row in table():
        where = f"{row['surface']} {row['property']}"
        assert row["source"] and row["how"] in ("read", "recalled", "common practice"), where
        assert bool(row["low"]) == bool(row["high"]), where
        if row["low"]:
            assert row["unit"], where
            assert float(row["low"]) <= float(row["value"]) <= float(row["high"]), where
    for name in ("colour", "marker", "label"):
        values = [entry[name]["value"] for entry in classes().values()]
        assert len(set(values)) == len(values), name
    assert {row["value"] for row in table() if row["property"] == "soil_moisture"} <= set(heat.SANTANELLO)


@pytest.mark.parametrize("ground_heat, known", [(49.0, True), (51.0, False)])
def test_what_is_available_is_net_radiation_less_ground_heat(ground_heat, known):
    """Of a net radiation of 100 W m-2; dry ground is split all the same."""
    table = pd.DataFrame(
        {"split": ["priestley_taylor", "none"], "net_radiation": 100.0, "ground_heat": ground_heat}
        | dict.fromkeys(("sensible_heat", "latent_heat", "bowen_ratio", "evaporation"), 1.0)
    )
    found = balance.with_enough_energy(table)
    assert found["latent_heat"].notna().tolist() == [known, True]
    assert found["ground_heat"].tolist() == [ground_heat] * 2
