"""What the report prints of the tables, the findings and the certificates."""

import re

import numpy as np
import pandas as pd
import pytest

from headland.files.schemas import table_schema
from headland.report import (
    appendix,
    page_findings,
    wording,
)

from .figures_made import NASTY, frame, groups
from .report_made import EMPTY, FIGURES, PICTURE, Page, finding, html, segments, with_tables

pytestmark = pytest.mark.usefixtures("quick_equations")


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
    numbers = [field["name"] for field in table_schema(name)["fields"] if field["type"] == "number"]
    # the numbers by hand are in the attached tables; the page prints best estimates
    values = {column: 11.0 + 7 * n for n, column in enumerate(numbers) if not column.endswith("_by_hand")}
    table = table.assign(**values, segments=421.0, samples_used=98765.0)
    text = Page(html(tables=with_tables(**{name: table}))).text
    for column, value in values.items():
        quantity = re.sub("_(low|high)$", "", column)
        decimals = wording.digits(
            values[f"{quantity}_low"], values[f"{quantity}_high"], wording.SHOWN[quantity].decimals
        )
        assert wording.number(value, decimals) in text, column
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
    def cannot(code: str, why: str, set_name: str = "heron", channel: str = "") -> dict:
        row = {"code": code, "reason": "x", "set": set_name, "channel": channel}
        return {**row, "why": why, "settles": "Wait."}

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
    for n in range(len(appendix.COMPARED)):
        assert f"{wording.number(13.0 + n, 0)}" in text and wording.interval(3.0 + n, 29.0 + n, 0) in text
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
        "Concerns outgoing longwave, surface temperature, net radiation and what is estimated from it of "
        "set heron." in box
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


def test_the_lines_of_very_many_errors_are_cut_and_counted():
    rows = [finding(line=line) for line in range(2, 402)]
    shown = Page(html(tables=with_tables(checks=frame("checks", rows)))).text
    box = shown[: shown.index("Table 1.")]
    assert "397 more like these" in box and "54, and 347 more" in box and "55," not in box
