"""Every row of the tables beside this file, against the function that the workflow uses for it."""

import csv
import datetime
import json
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from headland.chain import calibrate, segment
from headland.files.surfaces import surface_classes
from headland.physics import (
    constants,
    evaporation,
    geometry,
    heat,
    instruments,
    longwave,
    radiation,
    series,
    sun,
)
from headland.physics.constants import ZERO_CELSIUS
from published import counted
from published.number_adapters import ADAPTERS as OF_NUMBERS
from published.other_adapters import ADAPTERS as OTHERS
from published.sky_adapters import ADAPTERS as OF_SKY
from published.station_adapters import ADAPTERS as OF_STATION
from published.works import WORKS

HERE = Path(__file__).parent
PROJECT = HERE.parents[1]
COLUMNS = [
    "id",
    "quantity",
    "function",
    "inputs",
    "expected",
    "tolerance",
    "tolerance_reason",
    "source",
    "how",
]
MARKS = ("verified: ", "recomputed", "anchor", "from memory", "common practice, no source", counted.AGAIN)


def elevation(time, latitude, longitude, **others):
    return sun.position(
        [np.datetime64(time.rstrip("Z"))], latitude, longitude, others.pop("elevation"), **others
    )[0][0]


def azimuth(time, latitude, longitude, **others):
    return sun.position(
        [np.datetime64(time.rstrip("Z"))], latitude, longitude, others.pop("elevation"), **others
    )[1][0]


def bowen_ratio(**given):
    return heat.energy_balance(**given)["bowen_ratio"]


def incidence(tilt, towards, **place):
    zenith = 90.0 - elevation(**place)
    change = geometry.tilt_effect(tilt, zenith, azimuth(**place) - towards)
    return np.degrees(np.arccos(np.cos(np.radians(zenith)) * (1.0 + change)))


def top_of_atmosphere(time):
    return sun.top_of_atmosphere([np.datetime64(time.rstrip("Z"))])[0]


def after_noon(time, longitude):
    return sun.seconds_after_noon([np.datetime64(time.rstrip("Z"))], longitude)[0]


def emission(celsius):
    return longwave.own_emission(celsius + ZERO_CELSIUS)


def irradiance_from_voltage(raw_mv, responsivity, body_celsius):
    net = calibrate.net_signal(raw_mv, instruments.factor_from_responsivity(responsivity))
    return longwave.irradiance(net, body_celsius + ZERO_CELSIUS)


def surface_temperature_from_raw(lw_in_net, lw_out_net, body_celsius, emissivity):
    lw_in, lw_out = (longwave.irradiance(net, body_celsius + ZERO_CELSIUS) for net in (lw_in_net, lw_out_net))
    return longwave.surface_temperature(lw_out, lw_in, emissivity) - ZERO_CELSIUS


def class_value(surface, property, end):
    return surface_classes(PROJECT / "config/surfaces.csv", {})[surface][property][end]


def clear_sky(emissivity):
    return lambda vapour_pressure, temperature: (
        emissivity(vapour_pressure, temperature) * longwave.own_emission(temperature)
    )


def correlated(count, r):
    return series.effective_samples(count, r ** np.arange(1.0, min(count, 2000)))


def factor_ratio(set, band):
    register = calibrate.register_factors(pd.read_csv(PROJECT / "demo_inputs/instruments.csv"))
    own = register[register["set"] == set]
    up, down = (
        calibrate.certificate_in_force(own[own["channel"] == channel], datetime.date(2025, 8, 20))["factor"]
        for channel in (f"{band}_in", f"{band}_out")
    )
    return up / down


ADAPTERS = {
    "constants.SIGMA": lambda: constants.SIGMA,
    "constants.SOLAR_CONSTANT": lambda: constants.SOLAR_CONSTANT,
    "sun.position.elevation": elevation,
    "sun.position.zenith": lambda **place: 90.0 - elevation(**place),
    "sun.position.azimuth": azimuth,
    "sun.top_of_atmosphere": top_of_atmosphere,
    "sun.top_of_atmosphere.distance": lambda time: np.sqrt(
        constants.SOLAR_CONSTANT / top_of_atmosphere(time)
    ),
    "sun.seconds_after_noon": after_noon,
    "sun.seconds_after_noon.minutes": lambda **at: after_noon(**at) / 60.0,
    "sun.diffuse_fraction": sun.diffuse_fraction,
    "sun.clear_sky_emissivity_brutsaert": sun.clear_sky_emissivity_brutsaert,
    "sun.clear_sky_emissivity_brutsaert.flux": clear_sky(sun.clear_sky_emissivity_brutsaert),
    "sun.clear_sky_emissivity_prata": sun.clear_sky_emissivity_prata,
    "sun.clear_sky_emissivity_prata.flux": clear_sky(sun.clear_sky_emissivity_prata),
    "geometry.tilt_effect.incidence": incidence,
    "calibrate.net_signal+correct_longwave.irradiance": irradiance_from_voltage,
    "calibrate.certificate_in_force.ratio": factor_ratio,
    "correct_longwave.own_emission": emission,
    "correct_longwave.own_emission.slope": lambda celsius: (
        (emission(celsius + 0.01) - emission(celsius - 0.01)) / 0.02
    ),
    "correct_longwave.own_emission.tenth": lambda celsius: (
        emission(celsius + 0.05) - emission(celsius - 0.05)
    ),
    "correct_longwave.irradiance": lambda net, body_celsius: longwave.irradiance(
        net, body_celsius + ZERO_CELSIUS
    ),
    "segment.positions.spacing": lambda **walk: np.ptp(segment.positions(**walk)) / (walk["count"] - 1),
    "surfaces.surface_classes": class_value,
    "summarise.albedo": radiation.albedo,
    "summarise.net_radiation": radiation.net_radiation,
    "summarise.surface_temperature.from_raw": surface_temperature_from_raw,
    "summarise.effective_samples": correlated,
    "summarise.effective_samples.error_factor": lambda count, r: np.sqrt(count / correlated(count, r)),
    "balance.saturation_vapour_pressure": evaporation.saturation_vapour_pressure,
    "balance.saturation_vapour_pressure.deficit": lambda celsius, humidity: (
        evaporation.saturation_vapour_pressure(celsius) * (1.0 - humidity / 100.0)
    ),
    "balance.slope_of_saturation": evaporation.slope_of_saturation,
    "balance.pressure_at": evaporation.pressure_at,
    "balance.psychrometric_constant.at_elevation": lambda elevation: evaporation.psychrometric_constant(
        evaporation.pressure_at(elevation)
    ),
    "balance.psychrometric_constant.from_latent_heat": lambda pressure, celsius: (
        0.00163
        * pressure
        / evaporation.latent_heat_of_vaporisation(celsius)
        / evaporation.psychrometric_constant(pressure)
    ),
    "balance.latent_heat_of_vaporisation": evaporation.latent_heat_of_vaporisation,
    "balance.evaporation": evaporation.evaporation,
    "balance.evaporation.a_day": lambda **given: 24.0 * evaporation.evaporation(**given),
    "balance.ground_heat": heat.ground_heat,
    "balance.choudhury_fraction": heat.choudhury_fraction,
    "balance.santanello_fraction": lambda soil, seconds_after_noon: heat.santanello_fraction(
        seconds_after_noon, *heat.SANTANELLO[soil]
    ),
    "balance.hysteresis": heat.hysteresis,
    "balance.priestley_taylor": evaporation.priestley_taylor,
    "balance.energy_balance.bowen_ratio": bowen_ratio,
    **OF_STATION,
    **OTHERS,
    **OF_SKY,
    **OF_NUMBERS,
}


def rows():
    for path in sorted(HERE.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            for row in csv.DictReader(stream):
                yield pytest.param(row, id=f"{path.stem}:{row['id']}")


@pytest.mark.parametrize("row", list(rows()))
def test_published_value(row):
    got = float(np.asarray(ADAPTERS[row["function"]](**json.loads(row["inputs"]))))
    expected, tolerance = float(row["expected"]), float(row["tolerance"])
    assert abs(got - expected) <= tolerance * (1.0 + 1e-9), (
        f"{row['quantity']}: {got!r} instead of {expected} +/- {tolerance} ({row['source']})"
    )


@pytest.mark.parametrize("path", sorted(HERE.glob("*.csv")), ids=lambda path: path.stem)
def test_each_value_has_its_source_and_a_justified_tolerance(path):
    with path.open(encoding="utf-8", newline="") as stream:
        reader = csv.DictReader(stream)
        table = list(reader)
    assert reader.fieldnames == COLUMNS
    assert len({row["id"] for row in table}) == len(table)
    for row in table:
        assert all(row[column] for column in COLUMNS), row["id"]
        assert row["how"].startswith(MARKS), row["id"]
        assert row["tolerance_reason"] and float(row["tolerance"]) >= 0.0


def test_each_text_that_verifies_a_value_is_described():
    described = (HERE / "README.md").read_text(encoding="utf-8")
    for row in counted.rows():
        if row["how"].startswith("verified"):
            keys = re.findall(r"V-\w+", row["how"])
            assert keys and all(re.search(rf"^\| (V-\w+, )*{key}\b", described, re.M) for key in keys), row[
                "id"
            ]


def test_no_adapter_is_left_without_a_value():
    assert set(ADAPTERS) == {row.values[0]["function"] for row in rows()}


def test_each_row_is_of_one_kind():
    for row in counted.rows():
        assert counted.kind(row) in counted.KINDS, row["id"]


def test_each_work_in_the_list_prints_a_value():
    assert {name for name, _, _ in WORKS} == set(map(counted.work, counted.published(counted.rows())))


def test_at_least_350_values_from_40_works_are_published():
    printed = counted.published(counted.rows())
    assert len(printed) >= 350
    assert len(set(map(counted.work, printed))) >= 40


def test_a_published_value_is_not_an_entry_of_our_own_tables():
    by_function = {row["function"] for row in counted.published(counted.rows())}
    assert not by_function & counted.TABLES
    for name in counted.TABLES | counted.LIMITS:
        assert name in ADAPTERS


def test_no_published_value_is_counted_twice():
    """No computation is counted in two rows, whichever work prints its result."""
    calls = [(row["function"], row["inputs"]) for row in counted.published(counted.rows())]
    assert len(set(calls)) == len(calls), [call for call, times in Counter(calls).items() if times > 1]


def test_a_row_that_counts_no_value_again_names_the_row_that_does():
    printed = {row["id"]: row for row in counted.published(counted.rows())}
    for row in counted.rows():
        if row["how"].startswith(counted.AGAIN):
            first = printed[row["how"].removeprefix(counted.AGAIN)]
            assert counted.work(first) == counted.work(row), row["id"]


def test_the_page_counts_what_the_tables_hold():
    told = "run PYTHONPATH=tests:workflow python -m published.counted"
    assert counted.PAGE.read_text(encoding="utf-8") == counted.page(), told


def test_the_energy_balance_has_at_least_120_published_values_of_its_own():
    own = [row for row in counted.rows() if row["file"] in counted.BALANCE]
    assert len(counted.published(own)) - counted.BEFORE >= 120
