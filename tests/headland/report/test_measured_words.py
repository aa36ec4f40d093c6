"""Measured beside estimated on page 4: its table, its sentence and its figure."""

import numpy as np
import pytest

from headland.report import figures, figures_balance, measured_words, page_balance

from .report_made import frame, given, html, with_tables

ROW = {
    "surface": "short_grass",
    "way": "plate",
    "quantity": "ground_heat",
    "visits": 3,
    "net_radiation": 500.0,
    "estimated": 50.0,
    "estimated_low": 20.0,
    "estimated_high": 100.0,
    "measured": 130.0,
    "measured_low": 105.0,
    "measured_high": 155.0,
    "gap": 80.0,
    "gap_low": 30.0,
    "gap_high": 120.0,
    "closure": np.nan,
    "used": True,
    "because": "a sparser cover",
}


def rows(*changes: dict):
    return frame("measured", [{**ROW, **change} for change in changes or ({},)])


def test_the_table_has_both_numbers_the_gap_and_the_reason():
    table = measured_words.measured_context(given(tables=with_tables(measured=rows())))["measured"]
    texts = [[cell["text"], cell["below"]] for cell in table["rows"][0]]
    assert texts[0] == ["short grass", "plate and storage (used)"]
    assert texts[2:5] == [["50", "[20, 100]"], ["130", "[105, 155]"], ["80", "[30, 120]"]]
    assert texts[5][0] == "a sparser cover"


def test_the_sentence_says_how_many_agree_and_which_is_furthest_off():
    words = measured_words.measured_words(given(), rows())
    assert "agrees with the estimate on 0 of 1 surface" in words and "short grass (80 W m⁻² more" in words
    agreeing = rows({"gap_low": -10.0})
    assert measured_words.measured_words(given(), agreeing).endswith(
        "Ground heat by plate and storage agrees with the estimate on 1 of 1 surface."
    )


def test_wind_alone_stays_out_of_the_page_and_goes_with_the_attached_tables():
    wind = rows({"way": "bulk_transfer", "quantity": "sensible_heat", "used": False})
    found = measured_words.measured_context(given(tables=with_tables(measured=wind)))
    assert found["measured"] is None and len(found["measured_all"]["rows"]) == 1
    assert found["lead_words"] == "Only net radiation Q* is measured."


def test_without_measurements_the_page_says_how_to_get_some():
    found = measured_words.measured_context(given())
    assert found["measured"] is None and found["measured_all"] is None
    assert "ground.csv" in found["measured_words"] and "levels.csv" in found["measured_words"]


def test_the_page_is_whole_with_a_measured_flux():
    text = html(tables=with_tables(measured=rows()))
    assert (
        "Measured beside estimated" in text
        and "Open diamonds: by plate and storage." in text
        and "a sparser cover" in text
    )
    assert "by plate and storage" in text


@pytest.mark.parametrize("used, title", [(True, "G, partly measured"), (False, "G, assumed")])
def test_the_figure_shows_a_measured_flux_under_the_estimate(used, title):
    made = given()
    table = rows({"used": used})
    with_one = figures.svg(figures_balance.balance(made.tables["surfaces"], made.surfaces, table))
    without = figures.svg(figures_balance.balance(made.tables["surfaces"], made.surfaces, table.iloc[:0]))
    assert title in with_one and with_one != without
    assert page_balance.METHODS["measured"] == "a fraction of the surface class where it is not measured"
