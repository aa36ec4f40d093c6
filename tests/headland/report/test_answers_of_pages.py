"""What the pages answer: which surfaces differ, what is sure, what is withheld, where and when."""

import re
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.files.surfaces import surface_classes
from headland.report import (
    appendix,
    cells,
    differences,
    page_answer,
    page_differences,
    page_findings,
    page_methods,
    page_one_number,
    page_recorded,
)

from . import figures_made as test_figures
from .figures_made import frame, groups, samples
from .report_made import ROOT, TERMS, Page, given, html, with_tables

pytestmark = pytest.mark.usefixtures("quick_equations")


def pairs_words(table) -> str:
    return page_differences.pairs_words(differences.of_quantity(table))


def test_how_many_pairs_differ_and_how_many_would_by_chance():
    words = pairs_words(test_figures.differences(5))
    assert "10 of 10 pairs of surfaces differ" in words and "outside about 0.5 of them" in words
    two = test_figures.differences(2)
    assert "1 of 1 pair of surfaces differ" in pairs_words(two) and "one case of twenty" in pairs_words(two)
    assert "none of 1 pair" in pairs_words(two.assign(distinguishable=None))
    assert "no two surfaces" in pairs_words(test_figures.differences(1))


def test_an_interval_that_excludes_zero_and_a_verdict_are_counted_apart():
    """Among many pairs an interval may exclude zero although its pair does not pass the correction."""
    table = test_figures.differences(5)
    common = table.index[table["quantity"] == differences.COMMON]
    table.loc[common[:2], "distinguishable"] = False
    words = pairs_words(table)
    assert "8 of 10 pairs of surfaces differ, after a correction" in words
    assert "Zero lies outside 10 of the 10 intervals" in words
    table.loc[common[1:], ["difference_low", "difference_high"]] = [-1.0, 1.0]
    assert "Zero lies outside 1 of the 10 intervals" in pairs_words(table)


def test_a_pair_that_the_day_can_not_decide_is_hatched_and_says_why():
    table = test_figures.differences(3).astype({"distinguishable": object})
    why = "No visit of both under one sky in W m-2."
    first = (table["surface_a"] == "short_grass") & (table["surface_b"] == "paving")
    table.loc[first, "distinguishable"] = "undecided"
    table["why"] = ""
    table.loc[first, "why"] = why
    text = html(tables=with_tables(differences=table, surfaces=groups("surfaces", 3)))
    assert 'class="undecided"' in text and "No visit of both under one sky in W m⁻²." in Page(text).text
    assert "2 of 3 pairs of surfaces differ" in Page(text).text


def test_what_an_error_makes_doubtful_is_marked_and_what_it_makes_wrong_is_withheld():
    table = groups("surfaces").assign(state=["provisional", "withheld"])
    table.loc[1, ["net_radiation_common_sky", "albedo"]] = np.nan
    text = html(tables=with_tables(surfaces=table))
    shown = Page(text).text
    assert '<tr class="provisional">' in text and '<tr class="withheld">' in text
    assert "Grey and hollow: provisional" in shown and "Withheld: an error makes" in shown


def test_the_first_page_says_which_surface_absorbed_most_and_whether_that_is_sure():
    assert "Paving absorbed most: 541 W m⁻² under the common sky." in Page(html()).text
    same = test_figures.differences().assign(distinguishable=False)
    assert (
        "It can't be told apart from short grass at 95 %"
        in Page(html(tables=with_tables(differences=same))).text
    )


@pytest.mark.parametrize(
    ("others", "expected"),
    [
        ([], "under the common sky."),
        ([20.4], "under the common sky, 20 more than b."),
        ([20.4, 80.6], "under the common sky, 20 more than b, which is nearest."),
        ([20.4, -3.0, 80.6], "under the common sky, 20 more than b."),
    ],
)
def test_the_first_sentence_says_how_far_ahead_the_first_is(others, expected):
    names = "bcd"[: len(others)]
    rows = pd.DataFrame(
        {"surface_a": list(names), "surface_b": "a", "difference": [-other for other in others]}
    )
    ranked = pd.DataFrame({"surface": ["a", *names], differences.COMMON: 500.0})
    said = page_answer.sentence(SimpleNamespace(ranked=ranked, name=str), rows)
    assert said == f"A absorbed most: 500 W m⁻² {expected}"


def test_a_flux_without_width_is_assumed_not_known():
    row = {"latent_heat": 0.0, "latent_heat_low": 0.0, "latent_heat_high": 0.0}
    assert cells.printed(row, "latent_heat") == ("0", "assumed")
    assert cells.printed(row | {"latent_heat_high": 4.0}, "latent_heat") == ("0", "[0, 4]")
    page_4 = Page(html(tables=with_tables(surfaces=groups("surfaces").assign(**row)))).text
    assert re.search(r"\b0\s*assumed", page_4) and "[0, 0]" not in page_4


def test_local_time_is_beside_utc():
    assert "10:00 to 10:00 UTC, 12:00 to 12:00 local time (Europe/Zurich)" in Page(html()).text


def test_samples_are_counted_from_stored_to_used():
    part = samples()
    part.loc[50:, "segment"] = ""
    excluded = np.zeros(60, bool)
    excluded[[*range(10), 30]] = True
    sets = {"heron": {"logger_id": "L-07", "raw": ["a", "b"]}}
    few = given(
        samples={"heron": part}, excluded={"heron": excluded}, settings={**given().settings, "sets": sets}
    )
    assert page_recorded.sample_counts(few).to_numpy().tolist() == [["heron", 2, 60, 50, 10, 1, 39]]


def test_weather_of_the_recording_and_not_of_another_day():
    weather = frame("weather", [{"air_temperature": t} for t in (18.0, 21.0, -40.0)]).assign(
        time_utc=pd.to_datetime(["2026-05-21T09:30Z", "2026-05-21T10:30Z", "2026-05-23T10:00Z"]).astype(
            "datetime64[us, UTC]"
        )
    )
    text = Page(html(weather=weather)).text
    assert "air 18.0 to 21.0 °C (weather.csv)" in text
    assert "air 18.0 °C (campaign.yaml)" in Page(html()).text


def test_overrides_are_marked_and_recalled_values_told():
    surfaces = surface_classes(ROOT / "config" / "surfaces.csv", {"short_grass": {"emissivity": 0.93}})
    rows = {
        row[1]["text"]: row
        for row in appendix.classes_table(surfaces, ["short_grass"], "class_fraction")["rows"]
    }
    assert rows["emissivity"][2]["text"] == "0.93" and "OVERRIDE" in rows["emissivity"][4]["text"]
    assert "(recalled)" in rows["ground heat fraction day"][4]["text"]


def test_sets_side_by_side_are_shown_where_they_stood():
    assert "Sets side by side" not in html()
    row = {
        "set_a": "heron",
        "set_b": "plover",
        "field": "Moor <i>",
        "start_utc": pd.Timestamp("2026-05-21 10:00:00", tz="UTC"),
        "channel": "sw_in",
        "mean_a": 700.0,
        "mean_b": 710.0,
        "difference": -10.0,
        "difference_low": -30.0,
        "difference_high": 11.0,
        "ratio": 0.986,
        "ratio_low": 0.96,
        "ratio_high": 1.02,
        "e_n": 0.41,
    }
    page = html(
        intercomparison=frame("intercomparison", [row]),
        settings={**given().settings, "set_scale": "heron"},
    )
    assert (
        "heron − plover" in page
        and "0.41" in page
        and "on the scale of heron" in page
        and "Moor <i>" not in page
    )


def test_sets_are_shown_against_the_station():
    assert "Sets against the fixed station" not in html()
    row = {
        "set": "heron <i>",
        "channel": "sw_in",
        "records": 12,
        "start_utc": pd.Timestamp("2026-05-21 10:00:00", tz="UTC"),
        "end_utc": pd.Timestamp("2026-05-21 10:40:00", tz="UTC"),
        "ratio": 1.012,
        "ratio_low": 0.96,
        "ratio_high": 1.06,
        "e_n": 0.23,
    }
    page = html(against_station=frame("against_station", [row]))
    assert (
        "Sets against the fixed station" in page
        and "1.012 (0.960 to 1.060)" in page
        and "0.23" in page
        and "10:00 to 10:40" in page
        and "heron <i>" not in page
    )


def test_how_well_the_draws_settle_an_end_is_said():
    linear = frame(
        "linear_check",
        [
            {
                "surface": "paving",
                "quantity": "albedo",
                "half_width_linear": 1.0,
                "half_width_draws": 1.0,
                "skew": 0.0,
                "end_error": 0.004,
            }
        ],
    )
    assert "uncertain by 0.4 % of the interval" in html(linear=linear)
    assert "are corrected by the middle of their ranges" in html(
        settings={**given().settings, "one_sided": "correct"}
    )


def test_a_share_is_printed_without_the_unit_1():
    sizes = {row[0]["text"]: row[3]["text"] for row in appendix.terms_table(TERMS)["rows"]}
    assert (
        sizes["diffuse share of the shortwave"] == "σ = 0.1"
        and sizes["zero offset of the shortwave heads"] == "σ = 1 W m⁻²"
    )


@pytest.mark.parametrize(
    "column, terms, words",
    [
        (
            "temperature_coefficient",
            {"temperature_stated_sw", "temperature_stated_lw"},
            "temperature",
        ),
        ("window_coefficient", {"window_stated"}, "the sun on the window"),
    ],
)
def test_what_a_certificate_states_is_said_and_its_error_is_listed(column, terms, words):
    """Without such a cell the report says nothing of it."""
    plain = given()
    stated = given(certificates=plain.certificates.assign(**{column: 1.5}))
    listed = [set(appendix.terms_in_use(one)["term"]) for one in (plain, stated)]
    assert listed[1] - listed[0] == terms
    said = [page_findings.context(one)["certificate_words"] for one in (plain, stated)]
    assert said[1] == f"{said[0]} Coefficients of certificates correct 1 head for {words}."


def test_references_are_works_that_somebody_can_open():
    works = page_methods.references(given())
    assert "Priestley & Taylor 1972" in works and "FAO-56" in works and "JCGM 101:2008" in works
    assert not [work for work in works if "project" in work or "practice" in work]


def test_one_checksum_stands_for_all_inputs_whatever_their_order():
    inputs = [["b.csv", 1, "1" * 64], ["a.csv", 2, "0" * 64]]
    assert page_methods.checksum(inputs) == page_methods.checksum(inputs[::-1])
    assert page_methods.checksum(inputs) != page_methods.checksum(inputs[:1])


@pytest.mark.parametrize(
    ("scale", "by_hand", "expected"),
    [
        ("none", 603.39, "603.39 − 1.40 (known effects)"),
        ("mean", 600.0, "600.00 + 1.99 (known effects and scale of the sets)"),
    ],
)
def test_the_ladder_goes_from_the_mean_by_hand_to_the_best_estimate(scale, by_hand, expected):
    ranked = {"surface": ["snow"], differences.COMMON: [601.99]}
    ranked |= {f"{differences.COMMON}_low": [570.4], f"{differences.COMMON}_high": [639.6]}
    columns = ["set", "part", "item", "meaning", "working", "value", "unit", "key"]
    worked = pd.DataFrame(
        [
            ("heron", "segment", "heron-1", "m", "w", 1.0, "1", ""),
            ("heron", "surface", "snow", "mean", "w", by_hand, "W m-2", ""),
        ],
        columns=columns,
    )
    given = SimpleNamespace(
        worked=worked,
        means=pd.DataFrame({"segment": ["heron-1"], "surface": ["snow"]}),
        ranked=pd.DataFrame(ranked),
        settings={"set_scale": scale, "draws": 100},
        keys={},
        name=str,
    )
    ladder = page_one_number.context(given)["ladder"][-1]["rows"]
    assert (ladder[0]["working"], ladder[0]["value"]) == (expected, "601.99")
    assert ladder[-1]["value"] == "602 [570, 640]"
