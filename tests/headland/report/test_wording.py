"""Numbers, units and lists as people read them."""

import pytest

from headland.report import wording


@pytest.mark.parametrize(
    "value, decimals, text",
    [
        (1234.5, 0, "1234"),
        (-0.4, 0, "0"),
        (-12.34, 1, "−12.3"),
        (float("nan"), 1, "–"),
        (float("inf"), 1, "–"),
        (None, 1, "–"),
        (0.2, 3, "0.200"),
    ],
)
def test_numbers(value, decimals, text):
    assert wording.number(value, decimals) == text


def test_intervals_and_spans():
    assert wording.interval(-3.0, 4.0, 0) == "[−3, 4]"
    assert wording.interval(float("nan"), 4.0, 0) == ""
    assert wording.with_interval(1.0, float("nan"), 4.0, 0) == "1"
    assert wording.span(1.0, 2.0, 1) == "1.0 to 2.0"
    assert wording.span(1.01, 1.02, 1) == "1.0"


@pytest.mark.parametrize("value", [0.5, 1.5, 2.5, -0.5, 0.05, 12.345, 603.49999])
@pytest.mark.parametrize("decimals", [0, 1, 2])
def test_a_printed_value_is_inside_its_printed_interval(value, decimals):
    low, high = value - 1e-9, value + 1e-9
    texts = [float(wording.number(one, decimals).replace("−", "-")) for one in (low, value, high)]
    assert texts == sorted(texts)


@pytest.mark.parametrize(
    "value, low, high, most, said",
    [
        (9.0, 2.42, 132.07, 2, "9 [2, 132]"),
        (6.14, 2.10, 16.54, 2, "6.1 [2.1, 16.5]"),
        (0.41, 0.18, 1.91, 2, "0.41 [0.18, 1.91]"),
        (0.106, 0.0987, 0.1131, 3, "0.106 [0.099, 0.113]"),
        (603.3, 571.2, 641.4, 0, "603 [571, 641]"),
        (12.34, 12.34, 12.34, 1, "12.3 [12.3, 12.3]"),
        (12.34, 1.0, float("nan"), 1, "12.3"),
    ],
)
def test_a_value_has_the_digits_that_its_interval_leaves(value, low, high, most, said):
    assert wording.with_interval(value, low, high, most) == said


def test_ends_in_words_have_the_digits_that_they_leave():
    assert wording.with_ends(-3.5, -48.5, 42.3, 1) == "−4 (−48 to 42)"
    assert wording.with_ends(0.995, 0.937, 1.059, 3) == "0.995 (0.937 to 1.059)"


def test_units_as_people_write_them():
    assert wording.units("W m-2 per mV") == "W m⁻² per mV"
    assert (
        wording.units("in m s-1, in kPa K-1 and J kg-1, mm h-1") == "in m s⁻¹, in kPa K⁻¹ and J kg⁻¹, mm h⁻¹"
    )
    assert wording.units("2.5-3, ASCE-EWRI, Ts-1") == "2.5-3, ASCE-EWRI, Ts-1"
    assert wording.units("1") == wording.units("name") == ""


def test_counts_and_lists():
    assert wording.count(1, "error") == "1 error" and wording.count(0, "error") == "0 errors"
    assert wording.listed(["a", "b", "c"]) == "a, b and c" and wording.listed([]) == ""
    assert wording.opening("bare soil") == "Bare soil" and wording.opening("") == ""


def test_a_long_word_may_break_and_stays_escaped():
    assert (
        wording.soft("<b>" * 8)
        == "&lt;b&gt;&lt;b&gt;&lt;b<wbr>&gt;&lt;b&gt;&lt;b&gt;&lt;<wbr>b&gt;&lt;b&gt;&lt;b&gt;"
    )
    assert wording.soft("a short <text>") == "a short &lt;text&gt;"
