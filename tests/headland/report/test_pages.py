"""What the report says of anything that a campaign can hold."""

import importlib
import re
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from headland.files.schemas import table_schema
from headland.files.surfaces import surface_classes
from headland.report import (
    appendix,
    differences,
    page_differences,
    page_findings,
    page_methods,
    page_recorded,
    wording,
)

sys.path.insert(0, str(Path(__file__).parent))
made = importlib.import_module("report_made")
sys.path.pop(0)
test_figures = made.test_figures
EMPTY, FIGURES, NASTY, PICTURE, ROOT, TERMS = (
    made.EMPTY,
    made.FIGURES,
    made.NASTY,
    made.PICTURE,
    made.ROOT,
    made.TERMS,
)
Page, finding, frame, given, groups, html, samples, segments, with_tables = (
    made.Page,
    made.finding,
    made.frame,
    made.given,
    made.groups,
    made.html,
    made.samples,
    made.segments,
    made.with_tables,
)


@pytest.fixture(autouse=True)
def quick_equations(monkeypatch):
    """Drawing 22 equations for each page takes seconds; one test draws them."""
    monkeypatch.setattr(page_methods, "equation", lambda text: PICTURE)


def test_every_column_of_the_segments_is_printed():
    row = {
        "segment": "heron-0521-1000",
        "set": "heron",
        "field": "A field",
        "surface": "paving",
        "activity": "stand",
        "transect": "T9",
        "pass": "P8",
        "samples": 61,
        "samples_used": 43,
        "body_temperature": 21.4,
        "solar_elevation": 47.3,
        "solar_azimuth": 211.0,
        "sky": "overcast",
        "notes_row": 77,
    }
    text = Page(html(tables=with_tables(segments=segments(1, **row)))).text
    for words in (
        "heron-0521-1000",
        "heron",
        "A field",
        "paving",
        "stand",
        "transect T9",
        "pass P8",
        "2026-05-21",
        "10:00:00 to 10:01:00",
        "of 61",
        "43",
        "21.4",
        "47.3°",
        "211°",
        "overcast",
        "77",
        "800",
        "[760, 840]",
        "0.200",
        "[0.190, 0.210]",
        "25.0",
    ):
        assert words in text, words


@pytest.mark.parametrize("name", ["surfaces", "fields"])
def test_every_quantity_of_the_groups_is_printed(name):
    table = groups(name, 1)
    values = {
        f["name"]: 11.0 + 7 * n for n, f in enumerate(table_schema(name)["fields"]) if f["type"] == "number"
    }
    table = table.assign(**values, segments=421.0, samples_used=98765.0)
    text = Page(html(tables=with_tables(**{name: table}))).text
    for column, value in values.items():
        quantity = re.sub("_(low|high)$", "", column)
        assert wording.number(value, wording.SHOWN[quantity][2]) in text, column
    assert "in 421" in text and "98765" in text


def test_every_column_of_the_checks_is_printed_word_for_word():
    row = finding(
        severity="warning",
        code="a-code",
        step="screen",
        set="heron",
        file="logger/x.csv",
        line=12,
        channel="sw_out",
        what="What it is.",
        remedy="What to do.",
        start_utc=pd.Timestamp("2026-05-21 10:00:05", tz="UTC"),
        end_utc=pd.Timestamp("2026-05-21 10:07:00", tz="UTC"),
    )
    text = Page(html(tables=with_tables(checks=frame("checks", [row])))).text
    for words in (
        "warning",
        "a-code",
        "screen",
        "logger/x.csv, line 12, heron, sw_out",
        "2026-05-21 10:00:05 to 2026-05-21 10:07:00",
        "What it is.",
        "What to do.",
    ):
        assert words in text, words
    assert "ERROR" not in text


def test_what_can_t_be_told_is_a_row_a_reason_with_channels_and_sets_where_some_are_meant():
    cannot = lambda code, why, set="heron", channel="", settles="Wait.": {
        "code": code,
        "reason": "x",
        "set": set,
        "channel": channel,
        "why": why,
        "settles": settles,
    }
    rows = [
        cannot("factor-inverted", "No beam.", channel="sw_in sw_out"),
        cannot("factor-inverted", "No beam.", channel="lw_in lw_out"),
        cannot("sign-reversed", "Under 300 W m-2.", channel="lw_out"),
        cannot("swing-strong", "No beam.", "curlew"),
        cannot("notes-shifted", "No beam.", ""),
    ]
    rows = [
        [cell["text"] for cell in row]
        for row in page_findings.untold_table(frame("untold", rows), ["heron", "curlew"])["rows"]
    ]
    assert rows == [
        ["No beam.", "factor-inverted (set heron); swing-strong (set curlew); notes-shifted", "Wait."],
        ["Under 300 W m⁻².", "sign-reversed of lw_out (set heron)", "Wait."],
    ]
    one = page_findings.untold_table(frame("untold", [cannot("factor-inverted", "No beam.")]), ["heron"])
    assert one["rows"][0][1]["text"] == "factor-inverted"


def test_what_can_t_be_told_stands_after_the_findings_escaped():
    text = html(
        untold=frame(
            "untold",
            [{"code": "<b>", "set": NASTY, "channel": "<i>", "reason": "x", "why": "<u>", "settles": NASTY}],
        )
    )
    shown, empty = Page(text), Page(html())
    assert (
        not shown.wrong
        and not {"i", "u"} & {tag for tag, _ in shown.tags}
        and " ".join(NASTY.split()) in shown.text
    )
    assert (
        shown.text.index("Instruments, findings")
        < shown.text.index("What this day can't show")
        < shown.text.index("<u>")
    )
    assert "Every check could be made." in empty.text and "Every check could be made." not in shown.text


def test_every_column_of_the_differences_and_certificates_is_printed():
    table = frame(
        "differences",
        [
            {
                "surface_a": "short_grass",
                "surface_b": "paving",
                "quantity": q,
                "difference": 13.0 + n,
                "difference_low": 3.0 + n,
                "difference_high": 29.0 + n,
                "distinguishable": n != 1,
            }
            for n, q in enumerate(appendix.COMPARED)
        ],
    )
    text = Page(html(tables=with_tables(differences=table))).text
    assert "short grass − paving" in text
    for n, q in enumerate(appendix.COMPARED):
        d = wording.SHOWN[q][2]
        assert f"{wording.number(13.0 + n, d)}" in text and wording.interval(3.0 + n, 29.0 + n, d) in text
    for words in ("heron", "L-07", "sw_in", "S1", "66.67", "2025-03-11", "14", "12", "B"):
        assert words in text, words


def test_errors_stand_first_with_what_they_concern():
    rows = [
        finding(),
        finding(code="longwave-not-corrected", step="correct_longwave", file="", line=None, channel="lw_out"),
        finding(code="file-empty", step="ingest", set="", line=None),
        finding(severity="warning", what="Only a warning."),
    ]
    shown = Page(html(tables=with_tables(checks=frame("checks", rows)))).text
    box = shown[: shown.index("Table 1.")]
    assert "3 ERRORS." in box and "Only a warning." not in box
    assert "Concerns the segment of this row of the notes of set heron, its field and its surface." in box
    assert (
        "Concerns outgoing longwave, surface temperature, net radiation and what is estimated from it of set heron."
        in box
    )
    assert "Concerns every number." in box
    assert "1 ERROR." in Page(html(tables=with_tables(checks=frame("checks", [finding()])))).text


def test_many_errors_of_one_kind_leave_the_first_page_room():
    rows = [finding(line=line) for line in range(2, 24)] + [
        finding(code="file-empty", line=None, what="Another thing.")
    ]
    shown = Page(html(tables=with_tables(checks=frame("checks", rows)))).text
    box = shown[: shown.index("Table 1.")]
    assert "23 ERRORS." in box and box.count("Error,") == 5 and "Another thing." in box
    assert (
        "lines 5, 6, 7, " in box
        and "19 more like these" in box
        and "line 4," in box
        and "line 5," not in box.replace("lines 5,", "")
    )
    few = Page(html(tables=with_tables(checks=frame("checks", rows[:4])))).text
    assert "more like these" not in few and "4 ERRORS." in few


def test_a_value_without_an_interval_says_so_and_a_missing_value_has_its_reason():
    table = groups("surfaces")
    table[["albedo_low", "albedo_high"]] = np.nan
    text = Page(html(tables=with_tables(surfaces=table))).text
    assert "no interval" in text and "too little ground was walked" in text
    night = groups("surfaces").assign(
        **{f"{q}{end}": np.nan for q in ("albedo", "ground_heat") for end in ("", "_low", "_high")}
    )
    text = Page(html(tables=with_tables(surfaces=night))).text
    assert "–: no albedo with the sun under 10°" in text and "the textbook fractions don't hold" in text
    assert "no interval</span>" not in html()


def test_no_segment_at_all_still_makes_a_page():
    text = html(
        samples={"heron": frame("samples_segmented", [])},
        excluded={"heron": np.zeros(0, bool)},
        sky=(float("nan"), float("nan")),
        certificates=frame("certificates", []),
        tables={**EMPTY, "checks": frame("checks", [finding(code="no-segment", line=None)])},
        pictures={name: PICTURE for name in FIGURES if not name.startswith("transects")},
        means=frame("segment_means", []),
        balances=frame("group_balance", []),
        worked=frame("worked", []),
    )
    shown = Page(text)
    assert not shown.wrong
    assert (
        "nothing recorded" in shown.text
        and "There are no two surfaces to compare." in shown.text
        and "No segment holds a sample." in shown.text
    )
    assert "Concerns every number: there is none" in shown.text


def pairs_words(table) -> str:
    return page_differences.pairs_words(differences.of_quantity(table))


def test_how_many_pairs_differ_by_chance_and_after_a_correction():
    words = pairs_words(test_figures.differences(5))
    assert "10 of 10 pairs of surfaces differ" in words and "about 0.5 of 10" in words
    assert "0 of them differ" in words  # each at 2.6 standard uncertainties
    two = test_figures.differences(2)
    assert "1 of 1 pair of surfaces differ" in pairs_words(two) and "one case of twenty" in pairs_words(two)
    assert "none of 1 pair" in pairs_words(two.assign(distinguishable=None))
    assert "no two surfaces" in pairs_words(test_figures.differences(1))


def test_fewer_pairs_differ_after_the_correction():
    """Of 21 pairs one at 2.1 standard uncertainties differs alone, but not among 21 (0.05 / 21 needs 3.04)."""
    rows = differences.of_quantity(test_figures.differences(7))
    rows["difference"], half = 2.1, 1.96
    rows["difference_low"], rows["difference_high"] = 2.1 - half, 2.1 + half
    assert differences.differ_after_correction(rows) == 0
    rows.loc[:3, ["difference", "difference_low", "difference_high"]] = [3.1, 3.1 - half, 3.1 + half]
    assert differences.differ_after_correction(rows) == 4
    assert differences.probabilities(rows)[0] == pytest.approx(
        0.00194, abs=1e-5
    )  # table of the normal distribution


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
    text = Page(html()).text
    assert (
        "Paving absorbed most: 541 W m⁻² under the common sky, 12 more than the other surface." in text
        or ("Paving absorbed most: 541 W m⁻² under the common sky" in text)
    )
    same = test_figures.differences().assign(distinguishable=False)
    assert (
        "It can't be told apart from short grass at 95 %"
        in Page(html(tables=with_tables(differences=same))).text
    )


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
    assert "taken out of the values" in html(settings={**given().settings, "one_sided": "correct"})


def test_a_share_is_printed_without_the_unit_1():
    sizes = {row[0]["text"]: row[3]["text"] for row in appendix.terms_table(TERMS)["rows"]}
    assert (
        sizes["diffuse share of the shortwave"] == "σ = 0.1"
        and sizes["zero offset of the shortwave heads"] == "σ = 1 W m⁻²"
    )


def test_references_are_works_that_somebody_can_open():
    works = page_methods.references(given())
    assert "Priestley & Taylor 1972" in works and "FAO-56" in works and "JCGM 101:2008" in works
    assert not [work for work in works if "project" in work or "practice" in work]


def test_one_checksum_stands_for_all_inputs_whatever_their_order():
    inputs = [["b.csv", 1, "1" * 64], ["a.csv", 2, "0" * 64]]
    assert page_methods.checksum(inputs) == page_methods.checksum(inputs[::-1])
    assert page_methods.checksum(inputs) != page_methods.checksum(inputs[:1])
