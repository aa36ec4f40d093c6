"""Students' numbers: read as written, right or not, and the slip that gives them."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.course import answers

SLIPS = {
    code: {"what": code, "hint": f"hint of {code}"}
    for code in ("wrong-sign", "no-own-emission", "unit-mistaken")
}


@pytest.mark.parametrize(
    "text, value, half",
    [
        ("482", 482.0, 0.5),
        ("482.0", 482.0, 0.05),
        ("482,5", 482.5, 0.05),
        ("−3.20", -3.2, 0.005),
        (" 1 204.5", 1204.5, 0.05),
        ("4.8e2", 480.0, 5.0),
        (".17", 0.17, 0.005),
    ],
)
def test_numbers_as_people_write_them(text, value, half):
    assert answers.number_of(text) == pytest.approx((value, half))


@pytest.mark.parametrize("text", ["", "abc", "1,2,3", "1.234,5", "0x10", "nan", "inf", "=1+1", "٣"])
def test_what_is_no_number(text):
    assert math.isnan(answers.number_of(text)[0])


@pytest.mark.parametrize(
    "value, unit, quantity, wanted",
    [
        (500.0, "W m-2", "net_radiation", 500.0),
        (500.0, "W/m²", "net_radiation", 500.0),
        (500.0, "W·m⁻²", "sw_in", 500.0),
        (0.5, "kW m^-2", "sw_in", 500.0),
        (1.8, "MJ m-2 h-1", "net_radiation", 500.0),
        (17.0, "%", "albedo", 0.17),
        (0.17, "", "albedo", 0.17),
        (300.0, "K", "surface_temperature", 26.85),
        (80.6, "°F", "surface_temperature", 27.0),
        (27.0, "°C", "surface_temperature", 27.0),
        (0.4, "mm/h", "evaporation", 0.4),
        (9.6, "mm d-1", "evaporation", 0.4),
        (1e-4, "kg m-2 s-1", "evaporation", 0.36),
    ],
)
def test_units_are_converted(value, unit, quantity, wanted):
    """Definitions of the units."""
    assert answers.converted(value, unit, quantity) == pytest.approx(wanted)


def test_a_unit_that_a_quantity_can_not_have():
    with pytest.raises(KeyError):
        answers.converted(1.0, "K", "net_radiation")


def test_tolerance():
    """0.5 % or 1 W m-2; 1 W m-2 at 26.85 degC is 1 / (4 sigma 300^3) = 0.1633 K."""
    assert (
        answers.tolerance("net_radiation", 100.0) == 1.0 and answers.tolerance("net_radiation", -400.0) == 2.0
    )
    assert answers.tolerance("albedo", 0.2) == pytest.approx(0.001)
    assert answers.tolerance("surface_temperature", 26.85) == pytest.approx(0.1633, abs=5e-5)


def test_normalised_error_takes_the_interval_on_the_answers_side():
    assert answers.error_of_answer(110.0, 3.0, 100.0, 98.0, 104.0) == pytest.approx(10.0 / 5.0)
    assert answers.error_of_answer(90.0, 0.0, 100.0, 98.0, 104.0) == pytest.approx(10.0 / 2.0)


@pytest.mark.parametrize(
    "value, half, verdict, codes",
    [
        (500.9, 0.05, "right", []),
        (497.6, 0.05, "right", []),
        (497.0, 0.05, "other", []),
        (-500.0, 0.5, "mistake", ["wrong-sign"]),
        (93.0, 0.5, "mistake", ["no-own-emission"]),
        (503.0, 5.0, "rounded", []),
    ],
)
def test_verdicts(value, half, verdict, codes):
    assert answers.judged(
        value, half, "net_radiation", 500.0, [("wrong-sign", -500.0), ("no-own-emission", 93.5)]
    ) == (verdict, codes)


def test_two_slips_with_one_number_are_both_named_the_nearest_first():
    assert answers.judged(
        -500.4, 0.05, "net_radiation", 500.0, [("wrong-sign", -500.0), ("no-own-emission", -500.5)]
    )[1] == ["no-own-emission", "wrong-sign"]


def test_two_slips_are_named_where_no_single_one_fits():
    both = lambda *of: [
        ("no-own-emission+wrong-sign", 93.2),
        ("no-own-emission+wrong-sign", 700.0),
        ("unit-mistaken+wrong-sign", 700.4),
    ]
    one = check(pairs=both, surface="short_grass", value="93.0")
    assert (one["verdict"], one["mistake"], one["also_possible"]) == (
        "mistake",
        "no-own-emission+wrong-sign",
        "",
    ) and one["hint"] == "hint of no-own-emission hint of wrong-sign"
    two = check(pairs=both, surface="short_grass", value="700.3")
    assert (two["mistake"], two["also_possible"]) == (
        "unit-mistaken+wrong-sign",
        "no-own-emission+wrong-sign",
    )
    assert answers.shown(pd.DataFrame([two]), {}, hide=True)[0]["codes"] == [
        ["unit-mistaken", "wrong-sign"],
        ["no-own-emission", "wrong-sign"],
    ]
    assert check(pairs=both, surface="short_grass", value="-500")["mistake"] == "wrong-sign"
    assert (
        check(pairs=lambda *of: pytest.fail("asked for a right number"), surface="short_grass", value="500")[
            "verdict"
        ]
        == "right"
    )
    many = check(pairs=lambda *of: [(f"a+{n}", 93.0) for n in range(4)], surface="short_grass", value="93.0")
    assert many["verdict"] == "other" and many["hint"].startswith("4 different pairs of known slips")


def test_what_the_chain_withholds_is_not_compared_and_it_says_why():
    row = check(
        reasons=lambda *of: ["The channel lw_out of heron stood still."],
        surface="snow",
        quantity="latent_heat",
        value="300",
    )
    assert (
        row["verdict"] == "withheld"
        and "Not compared" in row["hint"]
        and "stood still" in row["hint"]
        and not row.get("mistake")
    )
    assert "textbook fractions" in check(surface="snow", quantity="latent_heat")["hint"]


def tables() -> dict[str, pd.DataFrame]:
    values = {
        f"{q}{end}": [500.0 + plus, math.nan if q == "latent_heat" else 300.0]
        for q in answers.OF_SURFACES
        for end, plus in (("", 0.0), ("_low", -10.0), ("_high", 20.0))
    }
    return {
        "segments": pd.DataFrame({"segment": ["heron-0521-0931", "heron-0521-0940"], **values}),
        "surfaces": pd.DataFrame({"surface": ["short_grass", "snow"], **values}),
    }


def check(pairs=lambda *of: [], reasons=lambda *of: [], **row) -> dict:
    asked = pd.DataFrame(
        [
            {
                "line": 2,
                "who": "",
                "segment": "",
                "surface": "",
                "quantity": "net_radiation",
                "value": "500",
                "unit": "W m-2",
                "uncertainty": "",
                **row,
            }
        ]
    )
    wrong = [
        (
            "wrong-sign",
            answers.Outcome(
                pd.DataFrame({"net_radiation": [-500.0]}, index=["heron-0521-0931"]),
                pd.DataFrame({"net_radiation": [-500.0]}, index=["short_grass"]),
            ),
        )
    ]
    return (
        answers.check(
            asked, tables(), {"short_grass": "short grass", "snow": "snow"}, wrong, SLIPS, pairs, reasons
        )
        .iloc[0]
        .to_dict()
    )


@pytest.mark.parametrize(
    "row, wanted",
    [
        ({}, "names either a segment or a surface"),
        ({"segment": "heron-0521-0931", "surface": "snow"}, "names either a segment or a surface"),
        ({"surface": "short gras"}, 'did you mean "short grass"'),
        ({"surface": "snow", "quantity": "albdo"}, 'did you mean "albedo"'),
        ({"segment": "heron-0521-0931", "quantity": "ground_heat"}, "no quantity of a segment"),
        ({"surface": "snow", "value": "many"}, "is no number"),
        ({"surface": "snow", "unit": "lx"}, "write W m-2"),
        ({"surface": "snow", "uncertainty": "-1"}, "uncertainty"),
    ],
)
def test_what_can_not_be_read_is_told_in_plain_words(row, wanted):
    result = check(**row)
    assert result["verdict"] == "unreadable" and wanted in result["hint"]


def test_right_within_and_slip_are_three_things():
    assert check(surface="Short Grass")["verdict"] == "right"
    near = check(segment="HERON-0521-0931", value="515", uncertainty="15")
    assert (near["verdict"], near["within_uncertainty"], near["e_n"]) == (
        "other",
        True,
        pytest.approx(15 / 25),
    )
    slip = check(surface="short_grass", value="-500")
    assert (slip["verdict"], slip["mistake"], slip["within_uncertainty"]) == (
        "mistake",
        "wrong-sign",
        False,
    ) and "500" not in slip["hint"]
    assert check(surface="short_grass", value="500", unit="kW m-2")["mistake"] == "unit-mistaken"
    assert check(surface="snow", quantity="latent_heat")["verdict"] == "no-reference"


def test_page_names_stay_in_the_folder():
    assert answers.page_names(["../../etc", "Anna", "!!"]) == {
        "../../etc": "01_etc.html",
        "Anna": "02_anna.html",
        "!!": "03_page.html",
    }


def test_hidden_values_are_on_no_page():
    rows = pd.DataFrame([check(surface="short_grass", value="-500")])
    assert "500.0" in answers.shown(rows, {}, hide=False)[0]["reference"]
    hidden = answers.shown(rows, {}, hide=True)[0]
    assert hidden["reference"] == "" and hidden["e_n"] == ""


def test_a_page_names_quantities_as_the_report_does_and_what_nobody_knows_as_written():
    rows = pd.DataFrame([check(surface="short_grass", quantity=name) for name in ("sw_in", "soil_flux")])
    assert [row["quantity"] for row in answers.shown(rows, {}, hide=False)] == ["shortwave in", "soil_flux"]


def test_slips_that_make_no_difference_are_no_candidates():
    values = answers.Outcome(
        pd.DataFrame(), pd.DataFrame({"albedo": [0.1702, np.nan]}, index=["short_grass", "snow"])
    )
    assert answers.candidates("surfaces", "short_grass", "albedo", 0.17, [("mean-of-ratios", values)]) == []
    assert answers.candidates("surfaces", "snow", "albedo", 0.8, [("mean-of-ratios", values)]) == []
