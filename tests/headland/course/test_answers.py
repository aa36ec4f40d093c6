"""Students' numbers: read as written, right or not, and the slip that gives them."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.course import answers, answers_page, written
from headland.course.rerun import Outcome

SLIPS = {
    code: {"what": code, "hint": f"hint of {code}", "formula": "Q* = SW" if code == "wrong-sign" else ""}
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
        ("1'204.5", 1204.5, 0.05),
        ("1.204,5", 1204.5, 0.05),
        ("1,204.5", 1204.5, 0.05),
        ("4,8·10^2", 480.0, 5.0),
        ("≈ 482", 482.0, 0.5),
    ],
)
def test_numbers_as_people_write_them(text, value, half):
    assert written.number_of(text) == pytest.approx((value, half))


@pytest.mark.parametrize("text", ["", "abc", "1,2,3", "0x10", "nan", "inf", "=1+1", "٣"])
def test_what_is_no_number(text):
    assert math.isnan(written.number_of(text)[0])


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
    assert written.converted(value, unit, quantity) == pytest.approx(wanted)


def test_a_unit_that_a_quantity_can_not_have():
    with pytest.raises(KeyError):
        written.converted(1.0, "K", "net_radiation")


def test_tolerance():
    """0.5 % or 1 W m-2; 1 W m-2 at 26.85 degC is 1 / (4 sigma 300^3) = 0.1633 K."""
    assert (
        written.tolerance("net_radiation", 100.0) == 1.0 and written.tolerance("net_radiation", -400.0) == 2.0
    )
    assert written.tolerance("albedo", 0.2) == pytest.approx(0.001)
    assert written.tolerance("surface_temperature", 26.85) == pytest.approx(0.1633, abs=5e-5)


def test_normalised_error_takes_the_interval_on_the_answers_side():
    assert written.error_of_answer(110.0, 3.0, 100.0, 98.0, 104.0) == pytest.approx(10.0 / 5.0)
    assert written.error_of_answer(90.0, 0.0, 100.0, 98.0, 104.0) == pytest.approx(10.0 / 2.0)


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
    named = [("wrong-sign", -500.0), ("no-own-emission", 93.5)]
    judged = answers.judged(written.Number(value, half), "net_radiation", 500.0, named)
    assert (judged.verdict, list(judged.codes)) == (verdict, codes)


def test_two_slips_with_one_number_are_both_named_the_nearest_first():
    named = [("wrong-sign", -500.0), ("no-own-emission", -500.5)]
    judged = answers.judged(written.Number(-500.4, 0.05), "net_radiation", 500.0, named)
    assert judged.codes == ["no-own-emission", "wrong-sign"]


def both(*of):
    return [
        ("no-own-emission+wrong-sign", 93.2),
        ("no-own-emission+wrong-sign", 700.0),
        ("unit-mistaken+wrong-sign", 700.4),
    ]


def test_pairs_of_slips_are_possibilities_for_the_teacher_and_never_shown_to_the_student():
    one = check(pairs=both, surface="short_grass", value="93.0")
    assert (one["verdict"], one["mistake"], one["possible_pairs"]) == (
        "other",
        "",
        "no-own-emission+wrong-sign",
    )
    assert "own-emission" not in one["hint"]
    two = check(pairs=both, surface="short_grass", value="700.3")
    assert two["possible_pairs"] == "unit-mistaken+wrong-sign no-own-emission+wrong-sign"
    frame = pd.DataFrame([two])
    assert answers_page.shown(frame, {}, hide=True, teacher=True)[0]["pairs"] == [
        ["unit-mistaken", "wrong-sign"],
        ["no-own-emission", "wrong-sign"],
    ]
    assert answers_page.shown(frame, {}, hide=True)[0]["pairs"] == []
    assert check(pairs=both, surface="short_grass", value="-500")["mistake"] == "wrong-sign"


def test_pairs_are_asked_for_only_where_no_slip_fits_and_many_say_nothing():
    def refused(*of):
        pytest.fail("asked for a right number")

    assert check(pairs=refused, surface="short_grass", value="500")["verdict"] == "right"
    many = check(pairs=lambda *of: [(f"a+{n}", 93.0) for n in range(4)], surface="short_grass", value="93.0")
    assert many["verdict"] == "other" and many["possible_pairs"] == ""


def test_hints_say_more_at_the_second_attempt():
    first, second = (check(attempt=n, surface="short_grass", value="-500")["hint"] for n in (1, 2))
    assert first == "hint of wrong-sign"
    assert second.startswith(first) and "Formula: Q* = SW" in second and "0.5 % or 1 W m⁻²" in second
    other = check(attempt=2, surface="short_grass", value="123")
    assert other["verdict"] == "other" and "Formula: net = four terms" in other["hint"]


def test_none_is_an_answer():
    assert check(surface="snow", quantity="latent_heat", value="none")["verdict"] == "right"
    assert check(surface="snow", quantity="latent_heat", value="–", unit="")["verdict"] == "right"
    wrong = check(surface="snow", quantity="sw_in", value="keine")
    assert wrong["verdict"] == "other" and "There is a value here" in wrong["hint"]


@pytest.mark.parametrize(
    "row",
    [
        {"segment": "short grass"},
        {"surface": "heron-0521-0931"},
        {"segment": "short_grass", "surface": "short_grass"},
    ],
)
def test_segment_and_surface_are_told_apart_by_what_is_written(row):
    assert check(**row)["verdict"] == "right"


@pytest.mark.parametrize(
    "value, unit, uncertainty",
    [
        ("500", "", ""),
        ("500 W/m²", "", ""),
        ("500 Watt/m²", "", ""),
        ("500", "W/qm", ""),
        ("500 ± 12", "W m-2", ""),
        ("0,5 kW m^-2", "", ""),
        ("5.00e2", "[W/m²]", ""),
        ("5·10²", "W·m⁻²", ""),
        ("ca. 500", "W m⁻²", "12"),
        ("+500.0", " W / m2 ", ""),
        ("1.8", "MJ m-2 h-1", ""),
        ("5,00 x 10^2", "W m**-2", "± 12"),
    ],
)
def test_right_numbers_in_odd_writing_are_not_accused(value, unit, uncertainty):
    row = check(surface="short_grass", value=value, unit=unit, uncertainty=uncertainty)
    assert row["verdict"] == ("right" if unit or not value.replace(" ", "").isdigit() else "unreadable")


@pytest.mark.parametrize(
    "albedo, value, verdict",
    [(0.1144, "0.11", "rounded"), (0.0844, "0.08", "other"), (0.0844, "0.084", "right")],
)
def test_a_number_is_rounded_where_half_its_last_digit_is_a_twentieth_of_it_at_most(albedo, value, verdict):
    """0.005 of 0.11 is 4.5 %, of 0.08 6.3 %."""
    frames = tables()
    frames["surfaces"]["albedo"] = albedo
    asked = pd.DataFrame([{**ROW, "surface": "snow", "quantity": "albedo", "unit": "", "value": value}])
    reference = answers.Reference(frames, LABELS, [], SLIPS)
    assert answers.check(asked, reference).iloc[0]["verdict"] == verdict


def test_a_number_that_can_be_read_in_two_ways_is_right_where_one_of_them_is():
    frames = tables()
    frames["surfaces"]["net_radiation"] = 1204.0
    asked = pd.DataFrame([{**ROW, "surface": "snow", "value": "1,204"}])
    reference = answers.Reference(frames, LABELS, [], SLIPS)
    assert answers.check(asked, reference).iloc[0]["verdict"] == "right"


def test_numbers_of_the_sheet_of_questions_are_checked_by_their_label():
    key = pd.DataFrame(
        [{"question": "3b", "name": "black", "quantity": "surface_temperature", "value": 26.85}]
    )
    reference = answers.Reference({**tables(), "questions": key}, LABELS, [], SLIPS)
    asked = pd.DataFrame(
        [
            {**ROW, "question": label, "quantity": "black", "value": value, "unit": "K"}
            for label, value in (("3B", "300.0"), ("3b", "310"), ("9z", "1"))
        ]
    )
    assert answers.check(asked, reference)["verdict"].tolist() == ["right", "other", "unreadable"]


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
        for q in written.OF_SURFACES
        for end, plus in (("", 0.0), ("_low", -10.0), ("_high", 20.0))
    }
    return {
        "segments": pd.DataFrame({"segment": ["heron-0521-0931", "heron-0521-0940"], **values}),
        "surfaces": pd.DataFrame({"surface": ["short_grass", "snow"], **values}),
    }


ROW = {
    "line": 2,
    "who": "",
    "question": "",
    "segment": "",
    "surface": "",
    "quantity": "net_radiation",
    "value": "500",
    "unit": "W m-2",
    "uncertainty": "",
}
LABELS = {"short_grass": "short grass", "snow": "snow"}


def check(pairs=lambda *of: [], reasons=lambda *of: [], attempt=1, **row) -> dict:
    wrong = [
        (
            "wrong-sign",
            Outcome(
                pd.DataFrame({"net_radiation": [-500.0]}, index=["heron-0521-0931"]),
                pd.DataFrame({"net_radiation": [-500.0]}, index=["short_grass"]),
            ),
        )
    ]
    formulas = {"net_radiation": "net = four terms"}
    reference = answers.Reference(tables(), LABELS, wrong, SLIPS, formulas, pairs, reasons, attempt)
    return answers.check(pd.DataFrame([{**ROW, **row}]), reference).iloc[0].to_dict()


@pytest.mark.parametrize(
    "row, wanted",
    [
        ({}, "names either a segment or a surface"),
        ({"segment": "heron-0521-0931", "surface": "snow"}, "names either a segment or a surface"),
        ({"segment": "heron-0521-9031"}, 'did you mean "heron-0521-0931"'),
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


def test_what_can_not_be_read_is_told_in_a_sentence():
    hint = check(surface="snow", value="many")["hint"]
    assert hint == '"many" is no number; write digits with one decimal point.'
    hint = check(surface="snow", uncertainty="wide")["hint"]
    assert hint == 'The uncertainty "wide" is no number; write it in the unit of the value.'


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
    assert answers_page.page_names(["../../etc", "Anna", "!!"]) == {
        "../../etc": "01_etc.html",
        "Anna": "02_anna.html",
        "!!": "03_page.html",
    }


def test_hidden_values_are_on_no_page():
    rows = pd.DataFrame([check(surface="short_grass", value="-500")])
    assert "500 [490, 520]" in answers_page.shown(rows, {}, hide=False)[0]["reference"]
    hidden = answers_page.shown(rows, {}, hide=True)[0]
    assert hidden["reference"] == "" and hidden["e_n"] == ""


def test_a_page_names_quantities_as_the_report_does_and_what_nobody_knows_as_written():
    rows = pd.DataFrame([check(surface="short_grass", quantity=name) for name in ("sw_in", "soil_flux")])
    assert [row["quantity"] for row in answers_page.shown(rows, {}, hide=False)] == [
        "shortwave in",
        "soil_flux",
    ]


def test_slips_that_make_no_difference_are_no_candidates():
    values = Outcome(
        pd.DataFrame(), pd.DataFrame({"albedo": [0.1702, np.nan]}, index=["short_grass", "snow"])
    )
    assert answers.candidates("surfaces", "short_grass", "albedo", [0.17], [("mean-of-ratios", values)]) == []
    assert answers.candidates("surfaces", "snow", "albedo", [0.8], [("mean-of-ratios", values)]) == []


def test_the_number_by_hand_and_the_best_estimate_are_both_right():
    by_hand = pd.DataFrame(
        {"surface": ["snow"], "albedo": [0.80], "albedo_low": [0.76], "albedo_high": [0.88]}
    )
    best = by_hand.assign(albedo=0.84)
    wrong = [("mean-of-ratios", Outcome(pd.DataFrame(), pd.DataFrame({"albedo": [0.82]}, index=["snow"])))]
    reference = answers.Reference(
        {"surfaces": by_hand, "segments": pd.DataFrame({"segment": []})},
        {},
        wrong,
        {"mean-of-ratios": {"hint": "?", "formula": ""}},
        reported={"surfaces": best},
    )
    given = pd.DataFrame(
        [
            dict.fromkeys(("question", "who", "segment", "unit", "uncertainty"), "")
            | {"line": n, "surface": "snow", "quantity": "albedo", "value": value}
            for n, value in enumerate(("0.801", "0.839", "0.82", "0.7"))
        ]
    )
    got = answers.check(given, reference)
    assert list(got["verdict"]) == ["right", "right", "mistake", "other"]
    assert list(got["reference"]) == [0.80, 0.84, 0.80, 0.80]


def test_the_teacher_s_page_alone_has_the_possible_pairs():
    row = check(surface="short_grass", value="-500") | {"possible_pairs": "unit-mistaken+wrong-sign"}
    pages = answers_page.contexts(pd.DataFrame([row]), {}, {}, hide=True)
    assert pages.pop("teacher.html")["rows"][0]["pairs"] == [["unit-mistaken", "wrong-sign"]]
    assert [page["rows"][0]["pairs"] for page in pages.values()] == [[]]
