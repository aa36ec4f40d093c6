"""Errors that a user adds or switches off, and those of classes and of options of the balance."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.physics.constants import RADIATION
from headland.uncertainty.distributions import NORMAL_95
from headland.uncertainty.linear import half_width
from headland.uncertainty.sources import instrument_sources
from headland.uncertainty.sources_group import class_sources

from .made import (
    CLASSES,
    OFF,
    TERMS,
    at_work,
    certificates,
    four_walks,
    half_widths,
    only,
    segments,
)

ROOT3 = math.sqrt(3.0)


# Added in the table -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "shared_by, units",
    [
        ("campaign", {"campaign": [1, 1, 1, 1]}),
        ("set", {"heron": [1, 1, 1, 0], "curlew": [0, 0, 0, 1]}),
        (
            "set and day",
            {
                "heron/2026-05-21": [1, 1, 0, 0],
                "heron/2026-05-22": [0, 0, 1, 0],
                "curlew/2026-05-21": [0, 0, 0, 1],
            },
        ),
        ("segment", {f"s{k}": [int(k == j) for j in range(4)] for k in range(4)}),
        ("surface", {"stubble": [1, 1, 0, 1], "paving": [0, 0, 1, 0]}),
    ],
)
def test_an_added_term_has_one_value_for_all_that_share_it(shared_by, units):
    row = {
        "term": "dirt",
        "shared_by": shared_by,
        "distribution": "rectangular",
        "low": "-2",
        "high": "6",
        "unit": "%",
        "enabled": "true",
        "acts_on": "factor_sw_in",
    }
    frame = four_walks().assign(surface=["stubble", "stubble", "paving", "stubble"])
    sources = instrument_sources(frame, certificates(("heron", "curlew")), OFF | {"dirt": row})
    added = {source.unit: source for source in sources if source.term == "dirt"}
    assert set(added) == set(units)
    for unit, where in units.items():
        assert added[unit].middle["factor_sw_in"].tolist() == pytest.approx([0.02 * w for w in where])
        assert added[unit].shift["factor_sw_in"].tolist() == pytest.approx([0.04 / ROOT3 * w for w in where])


def test_an_added_term_in_other_units_is_taken_as_it_is_and_can_be_switched_off():
    row = {
        "term": "dew",
        "shared_by": "campaign",
        "distribution": "normal",
        "sigma": "1.5",
        "unit": "W m-2",
        "enabled": "true",
        "acts_on": "zero_lw_out",
    }
    assert half_widths(OFF | {"dew": row}, "lw_out") == pytest.approx([1.5, 1.5])
    assert half_widths(OFF | {"dew": row | {"enabled": "false"}}, "lw_out") == pytest.approx([0.0, 0.0])


# Switches ---------------------------------------------------------------------------------------------------


def test_each_term_of_the_instruments_can_be_switched_off():
    frame = four_walks(heading=np.nan, **{f"{k}_{c}": 0.5 for k in ("rate", "noise") for c in RADIATION})
    frame["incoming_set"] = ["heron", "heron", "heron", "station.csv"]
    register = certificates(("heron", "curlew")).assign(expanded_uncertainty_percent=[3.0, np.nan] * 4)
    every = {source.term for source in instrument_sources(frame, register, TERMS)}
    assert {"certificate_band", "certificate_sensor", "default_sensor_sw", "heading", "noise"} <= every
    for term in every - {"certificate_band"}:
        switched = TERMS | {term: {**TERMS[term], "enabled": "false"}}
        left = {source.term for source in instrument_sources(frame, register, switched)}
        assert left == every - {term}
    none = instrument_sources(frame, register, OFF)
    assert not any(size.any() for source in none for size in source.shift.values())


def test_the_ranges_of_a_class_are_rectangular_about_their_middle_and_shared_by_the_class():
    frame = four_walks().assign(surface=["stubble", "stubble", "paving", "stubble"])
    groups = pd.DataFrame({"surface": ["stubble", "paving"]})
    visits = at_work(frame).assign(day=[True, True, False, False])
    sources = {source.name: source for source in class_sources(frame, groups, CLASSES, TERMS, visits)}
    stubble = sources["emissivity|stubble"]
    assert stubble.shift["emissivity"].tolist() == pytest.approx([0.025 / ROOT3 * w for w in (1, 1, 0, 1)])
    assert stubble.middle["emissivity"].tolist() == pytest.approx([-0.005 * w for w in (1, 1, 0, 1)])
    assert stubble.shift["emissivity_group"].tolist() == pytest.approx([0.025 / ROOT3, 0.0])
    expected = {
        "sky_response|stubble": ("sky_response", 0.085, 0.015, [1, 0]),
        "sky_response|paving": ("sky_response", 0.085, 0.015, [0, 1]),
        "ground_heat_fraction|stubble": ("ground_heat_fraction", 0.075, 0.005, [1, 1, 0, 0]),
        "ground_heat_fraction|stubble_night": ("ground_heat_fraction", 0.2, 0.0, [0, 0, 0, 1]),
        "ground_heat_fraction|paving_night": ("ground_heat_fraction", 0.3, 0.0, [0, 0, 1, 0]),
        "ground_heat_hour|stubble": ("ground_heat_offset", 35.0, 0.0, [1, 1, 0, 0]),
        "ground_heat_storage|stubble": ("ground_heat_fraction", 0.06, 0.06, [1, 1, 0, 0]),
        "latent_heat_fraction|stubble": ("latent_heat_fraction", 0.275, -0.025, [1, 1, 0, 1]),
    }
    for name, (error, half, middle, where) in expected.items():
        assert sources[name].shift[error].tolist() == pytest.approx([half / ROOT3 * w for w in where]), name
        found = sources[name].middle.get(error, np.zeros(len(where)))
        assert found.tolist() == pytest.approx([middle * w for w in where], abs=1e-12), name
    # by day no fraction of the night, and by night dry paving has no latent heat to be unsure of
    of_common_moment = {
        f"{term}|{name}" for term in ("air_response", "sun_height_strength") for name in ("stubble", "paving")
    }
    assert set(sources) == {*expected, *of_common_moment, "emissivity|stubble", "emissivity|paving"}


def test_heat_goes_into_a_cover_where_there_is_one_and_dry_paving_may_be_damp():
    """Paving: a tenth of the available energy, 0.9 of the net radiation with the fraction 0.1."""
    frame = four_walks().assign(surface=["stubble", "paving", "paving", "paving"])
    groups = pd.DataFrame({"surface": ["stubble", "paving"]})
    visits = at_work(frame).assign(day=[True, True, True, False])
    sources = {source.name: source for source in class_sources(frame, groups, CLASSES, TERMS, visits)}
    assert "ground_heat_storage|stubble" in sources and "ground_heat_storage|paving" not in sources
    net = frame["net_radiation"].to_numpy() * np.array([0.0, 1.0, 1.0, 0.0])
    damp = sources["latent_heat_none|paving"]
    assert damp.middle["latent_heat_offset"] == pytest.approx(0.05 * 0.9 * net)
    assert damp.shift["latent_heat_offset"] == pytest.approx(0.05 * 0.9 * net / ROOT3)


@pytest.mark.parametrize(
    "method, shifts",
    [
        ("choudhury", {"ground_heat_fraction": 0.6 * 0.1 / ROOT3, "ground_heat_offset": 0.6 * -20.0 / ROOT3}),
        ("santanello", {"ground_heat_fraction": 0.08 / ROOT3}),
        (
            "hysteresis",
            {"ground_heat_fraction": 0.45 * 0.1 / ROOT3, "ground_heat_offset": 0.45 * -20.0 / ROOT3},
        ),
    ],
)
def test_an_option_has_its_own_error_and_not_the_range_of_the_class(method, shifts):
    frame, groups = four_walks(), pd.DataFrame({"surface": ["stubble"]})
    visits = at_work(frame).assign(method=method, offset=-20.0)
    sources = {source.name: source for source in class_sources(frame, groups, CLASSES, TERMS, visits)}
    assert not any(name.startswith("ground_heat_fraction") for name in sources)
    found = sources[f"ground_heat_{method}|stubble"].shift
    assert {name: size[0] for name, size in found.items()} == pytest.approx(shifts)


def test_de_bruin_and_holtslag_has_an_error_in_w_m2_and_no_range_of_the_coefficient():
    frame, groups = four_walks().assign(surface="short_grass"), pd.DataFrame({"surface": ["short_grass"]})
    visits = at_work(frame).assign(split="de_bruin_holtslag")
    sources = {source.name: source for source in class_sources(frame, groups, CLASSES, TERMS, visits)}
    assert "latent_heat_fraction|short_grass" not in sources
    found = sources["latent_heat_de_bruin_holtslag|short_grass"].shift
    assert found["latent_heat_offset"].tolist() == [25.0] * 4


def test_half_widths_of_all_terms_add_up_in_squares():
    """The linear standard uncertainty of all sources is the root of the sum of each term's squares."""
    names = ("zero", "noise", "levelling", "certificate_sensor")
    frame = segments(noise_sw_in=0.5)
    together = half_widths(only(*names), "sw_in", frame)
    assert together == pytest.approx(
        np.sqrt(sum(half_widths(only(name), "sw_in", frame) ** 2 for name in names))
    )
    assert half_width(np.array([[3.0], [4.0]])) == pytest.approx([5.0 * NORMAL_95])
