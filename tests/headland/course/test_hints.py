"""What stands beside a student's number: verdict, other slips, normalised error in any unit, and hints."""

import math

import pandas as pd
import pytest

from headland.course import answers
from headland.course.answers import Reference, Verdict
from headland.course.rerun import Outcome

SLIPS = {f"slip-{n}": {"hint": f"Hint {n}.", "formula": f"F{n}" if n < 3 else ""} for n in range(1, 6)}


def outcome(value):
    return Outcome(pd.DataFrame(), pd.DataFrame({"net_radiation": [value]}, index=["paving"]))


def checked(value, unit="W m-2", wrong=(), **more):
    """An answer about 500 W m-2 in [480, 530]; wrong: values of slip-1, slip-2 …; more: of the reference."""
    surfaces = pd.DataFrame(
        {
            "surface": ["paving"],
            "net_radiation": 500.0,
            "net_radiation_low": 480.0,
            "net_radiation_high": 530.0,
        }
    )
    row = {"line": 7, "question": "", "segment": "", "surface": "paving", "quantity": "net radiation"}
    row |= {"who": "", "value": value, "unit": unit, "uncertainty": ""}
    row |= {key: more.pop(key) for key in ("who", "uncertainty") if key in more}
    slips = [(f"slip-{n}", outcome(one)) for n, one in enumerate(wrong, 1)]
    tables = {"surfaces": surfaces, "segments": pd.DataFrame({"segment": []})}
    reference = Reference(tables, {"paving": "pavement"}, slips, SLIPS, {"net_radiation": "sum"}, **more)
    return answers.check(pd.DataFrame([row]), reference).iloc[0].to_dict()


def test_the_nearest_slip_is_the_mistake_and_the_others_are_possible():
    """2.1 W m-2 are the tolerance of 420."""
    one = checked("420", wrong=(421.5, 300.0, 420.4, 418.1, 423.0))
    assert (one["verdict"], one["mistake"], one["also_possible"]) == ("mistake", "slip-3", "slip-1 slip-4")
    assert one["hint"] == "More than one slip gives this number. Hint 3. Hint 1. Hint 4."
    assert (one["reference"], one["difference"]) == (500.0, -80.0)
    assert (one["line"], one["who"], one["item"], one["quantity"]) == (
        7,
        "everybody",
        "paving",
        "net_radiation",
    )
    assert checked("420", who="Anna")["who"] == "Anna"


def test_a_slip_that_comes_twice_is_named_once_by_its_nearest_value():
    near = answers.fitting(
        answers.Number(420.0, 0.05), "net_radiation", [("a", 421.0), ("b", 420.5), ("a", 420.1), ("c", 430.0)]
    )
    assert list(near) == ["a", "b"] and near == pytest.approx({"a": 0.1, "b": 0.5})


def test_no_more_than_three_hints_and_at_the_second_attempt_their_formulas():
    five = checked("420", wrong=(420.1, 420.2, 420.3, 420.4, 420.5), attempt=2)["hint"]
    hints, formulas = "Hint 1. Hint 2. Hint 3.", "Formula: F1. Formula: F2. Formula: sum."
    wanted = f"More than one slip gives this number. {hints} {formulas}"
    assert five.startswith(f"{wanted} Right is a number within 0.5 % or 1 W m⁻²")
    assert "Formula" not in checked("420", wrong=(420.1,))["hint"]
    assert answers.hint(Verdict("rounded"), "albedo", 0.2, None) == (
        "One more digit would show that it is the same number."
    )
    assert answers.hint(Verdict("right"), "albedo", 0.2, None) == ""
    other = checked("300")
    assert other["hint"] == answers.BY_HAND and other["also_possible"] == other["mistake"] == ""


@pytest.mark.parametrize("value, unit, uncertainty", [("515", "W m-2", "15"), ("0.515", "kW m-2", "0.015")])
def test_the_uncertainty_is_in_the_unit_of_the_value(value, unit, uncertainty):
    """15 above, where the interval reaches 30 and the answer's own 15: 15 / sqrt(30^2 + 15^2)."""
    one = checked(value, unit, uncertainty=uncertainty)
    assert one["e_n"] == pytest.approx(15.0 / math.hypot(30.0, 15.0)) and one["within_uncertainty"]
    below = checked("485", uncertainty="± 15")
    assert below["e_n"] == pytest.approx(15.0 / math.hypot(20.0, 15.0))
    assert math.isnan(checked("515")["e_n"])  # nothing is known of the answer's own uncertainty


@pytest.mark.parametrize("value, inside", [("480", True), ("479", False), ("530", True), ("531", False)])
def test_an_answer_is_within_the_uncertainty_from_end_to_end(value, inside):
    assert checked(value)["within_uncertainty"] == inside


@pytest.mark.parametrize("count, shown", [(3, "p0 p1 p2"), (4, "")])
def test_three_pairs_of_slips_are_shown_and_four_say_nothing(count, shown):
    def pairs(kind, item, quantity, right):
        assert (kind, item, quantity, right) == ("surfaces", "paving", "net_radiation", 500.0)
        return [(f"p{n}", 300.0 + 0.1 * n) for n in range(count)]

    assert checked("300", pairs=pairs)["possible_pairs"] == shown


def test_a_slip_as_good_as_right_is_none_and_one_nearer_than_the_rounding_is():
    """500 and 501 are one number within 2.5 W m-2. 5.1e2 may be 505 to 515: a slip of 509 is nearer."""
    assert checked("500", wrong=(501.0,))["verdict"] == "right"
    assert answers.candidates("surfaces", "paving", "net_radiation", [500.0], [("a", outcome(502.6))]) == [
        ("a", 502.6)
    ]
    assert answers.candidates("surfaces", "paving", "net_radiation", [500.0], [("a", outcome(502.4))]) == []
    assert answers.candidates("questions", "1a", "net_radiation", [500.0], [("a", outcome(400.0))]) == []
    rounded = answers.Number(505.0, 5.0)
    assert answers.judged(rounded, "net_radiation", 500.0, []).verdict == "rounded"
    assert answers.judged(rounded, "net_radiation", 500.0, [("a", 507.0)]).verdict == "mistake"
    assert answers.judged(rounded, "net_radiation", 500.0, [("a", 511.0)]).verdict == "rounded"


def test_where_there_is_no_value_saying_so_is_right_and_why_is_said():
    assert answers.without_reference(["Stood still.", "Wet."], "lw_out") == (
        "withheld",
        "Not compared: the chain withholds this number, because it would be wrong. Stood still. Wet.",
    )
    assert answers.without_reference([], "no_such")[1].endswith("(nothing measured; see the findings).")


def test_a_number_in_another_unit_of_its_quantity_is_a_mistaken_unit():
    assert answers._fits_another_unit(0.5, "net_radiation", 500.0)
    assert not answers._fits_another_unit(0.6, "net_radiation", 500.0)
    assert answers._fits_another_unit(300.0, "surface_temperature", 26.85)


@pytest.mark.parametrize("nearest, verdict", [(512.0, "mistake"), (514.6, "rounded"), (493.0, "rounded")])
def test_a_rounded_number_is_judged_by_the_nearest_slip(nearest, verdict):
    """Written as 510 by tens it may be 505 to 515; the right one, 505.5, is 4.5 away, another slip 4.8."""
    rounded = answers.Number(510.0, 5.0)
    said = answers.judged(rounded, "net_radiation", 505.5, [("a", 514.8), ("b", nearest)])
    assert said.verdict == verdict
