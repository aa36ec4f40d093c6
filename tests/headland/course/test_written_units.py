"""Units of answers against their definitions."""

import pandas as pd
import pytest

from headland.base.errors import UserErrors
from headland.course import answers, answers_page, packs
from headland.course.rerun import Outcome
from headland.course.written import UNITS, converted

# in the project's own unit (W m-2, 1, degC, mm h-1), by definition; latent heat plays no part in mm
ONE = {
    "net_radiation": {
        "W m-2": 1.0, "W/m²": 1.0, "kW m-2": 1000.0, "kW/m2": 1000.0, "mW cm-2": 10.0, "mW/cm2": 10.0,
        "MJ m-2 h-1": 277.7778, "MJ/m2/h": 277.7778, "MJ/(m2 h)": 277.7778,
        "Watt/m²": 1.0, "W/qm": 1.0, "watts per square metre": 1.0, "Watt pro Quadratmeter": 1.0,
    },
    "albedo": {"": 1.0, "%": 0.01, "percent": 0.01, "per cent": 0.01, "Prozent": 0.01},
    "evaporation": {
        "mm per hour": 1.0, "mm h-1": 1.0, "mm/hr": 1.0, "mm d-1": 1.0 / 24.0, "mm/day": 1.0 / 24.0,
        "kg m-2 s-1": 3600.0,
        "kg/m2/h": 1.0,
    },
}  # fmt: skip


@pytest.mark.parametrize(
    "quantity, unit, value", [(name, unit, value) for name, of in ONE.items() for unit, value in of.items()]
)
def test_one_of_a_unit(quantity, unit, value):
    assert converted(1.0, unit, quantity) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    "unit, freezing, boiling",
    [
        *((name, 0.0, 100.0) for name in ("degC", "ºC", "deg C", "degrees Celsius", "Grad Celsius")),
        *((name, 273.15, 373.15) for name in ("K", "kelvin")),
        *((name, 32.0, 212.0) for name in ("°F", "Fahrenheit")),
    ],
)
def test_temperatures_at_the_two_points_of_water(unit, freezing, boiling):
    assert converted(freezing, unit, "surface_temperature") == pytest.approx(0.0, abs=1e-9)
    assert converted(boiling, unit, "surface_temperature") == pytest.approx(100.0)


def test_spellings_of_one_unit_are_one_number():
    """Every spelling in the table gives a number that a plain spelling gives."""
    plain = {
        "flux": (1.0, 1000.0, 10.0, 1e6 / 3600.0),
        "ratio": (1.0, 0.01),
        "water": (1.0, 1.0 / 24.0, 3600.0),
    }
    for kind, known in plain.items():
        for unit, (factor, offset) in UNITS[kind].items():
            assert offset == 0.0 and any(factor == pytest.approx(one) for one in known), unit


def answer(**changes):
    return {
        "item": "paving", "quantity": "albedo", "reference": 0.12, "reference_low": 0.11,
        "reference_high": 0.13, "within_uncertainty": True, "e_n": 0.4, "mistake": "ratio-upside-down",
        "also_possible": "mean-of-ratios",
        "possible_pairs": "emission-twice+emissivity-one", "verdict": "mistake", "who": "A",
    } | changes  # fmt: skip


def test_pairs_of_slips_are_for_the_teacher():
    table = pd.DataFrame([answer()])
    (row,) = answers_page.shown(table, {"paving": "paving"}, hide=False)
    assert row["pairs"] == [] and row["codes"] == ["ratio-upside-down", "mean-of-ratios"]
    assert row["inside"] == "yes" and row["reference"].startswith("0.12")
    (row,) = answers_page.shown(table, {"paving": "paving"}, hide=True, teacher=True)
    assert row["pairs"] == [["emission-twice", "emissivity-one"]]
    assert row["reference"] == "" and row["e_n"] == ""


@pytest.mark.parametrize(
    "text",
    ["group,surfaces\nA,paving\nA,stubble\n", "group,surfaces\n,paving\n", "team\nA\n"],
    ids=["twice", "no name", "no group"],
)
def test_a_table_of_groups_that_can_not_be_used_is_refused(tmp_path, text):
    (tmp_path / "groups.csv").write_text(text)
    with pytest.raises(UserErrors):
        packs.read_groups(tmp_path / "groups.csv")


def test_groups_get_what_their_row_names_or_all_are_dealt_in_turn(tmp_path):
    (tmp_path / "groups.csv").write_text("group,surfaces\nA,paving; stubble\nB,gravel\n")
    table = packs.read_groups(tmp_path / "groups.csv")
    assert packs.dealt(table, ["paving", "stubble", "gravel"]) == {
        "A": ["paving", "stubble"],
        "B": ["gravel"],
    }
    (tmp_path / "groups.csv").write_text("group\nA\nB\n")
    dealt = packs.dealt(packs.read_groups(tmp_path / "groups.csv"), ["a", "b", "c", "d", "e"])
    assert sorted(sum(dealt.values(), [])) == ["a", "b", "c", "d", "e"]
    assert {len(own) for own in dealt.values()} == {2, 3}


def test_a_wrong_value_must_differ_from_every_right_one():
    """By hand 500 and by the best estimate 510: a slip that gives 510 is not told apart from being right."""
    outcomes = [
        (code, Outcome(pd.DataFrame(), pd.DataFrame({"net_radiation": {"paving": value}})))
        for code, value in (("a", 510.1), ("b", 499.8), ("c", 530.0))
    ]
    found = answers.candidates("surfaces", "paving", "net_radiation", (500.0, 510.0), outcomes)
    assert found == [("c", 530.0)]
    assert answers.candidates("questions", "paving", "net_radiation", (500.0,), outcomes) == []
