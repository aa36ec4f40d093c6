"""Figures can be read without colour: in a grey print, and by readers who are colour-blind."""

from pathlib import Path

import numpy as np
import pandas as pd
from matplotlib.colors import to_rgb

from headland.files.surfaces import surface_classes
from headland.report import figures, figures_recorded, page_answer, page_differences

from .figures_made import budget, differences, drawn, frame, groups, means
from .report_made import Page, given, html, with_tables

CLASSES = surface_classes(Path(__file__).parents[3] / "config" / "surfaces.csv", {})


def contrast_with_white(colour: str) -> float:
    """Contrast by WCAG 2.2, from memory: relative luminances, each with 0.05 added."""
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in to_rgb(colour)]
    return 1.05 / (0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2] + 0.05)


def test_lines_of_every_surface_show_on_white_paper():
    for name in CLASSES:
        colour, _ = figures.look(CLASSES, name)
        assert contrast_with_white(figures.line_colour(colour)) >= 3.0, name
    assert contrast_with_white(figures.line_colour("#ffffff")) >= 3.0
    assert figures.line_colour("#0b4f2a") == "#0b4f2a"  # dark enough as it is


def test_every_surface_has_a_marker_of_its_own():
    markers = [figures.look(CLASSES, name)[1] for name in CLASSES]
    assert len(set(markers)) == len(markers)


def test_strips_of_one_row_differ_in_place_or_height_and_never_hide_each_other():
    strips = figures_recorded.STRIPS.values()
    for row in {strip.row for strip in strips}:
        shapes = [(strip.offset, strip.height) for strip in strips if strip.row == row]
        assert len(set(shapes)) == len(shapes)
    text = drawn()["record"]
    assert all(f">{strip.word}<" in text for strip in strips)


def test_each_line_of_the_sky_has_a_sample_beside_its_name():
    looks = figures.set_looks(["a", "b", "c", "d", "e"])
    assert len({str(line) for _, line in looks.values()}) == 5
    assert figures_recorded.CLEAR_SKY[1] not in [line for _, line in looks.values()]


def test_bars_that_nobody_could_tell_apart_are_one():
    start = pd.Timestamp("2026-05-21 10:00")

    def moment(seconds):
        return start + pd.Timedelta(seconds=seconds)

    spans = [(moment(0), moment(10)), (moment(11), moment(20)), (moment(60), moment(70))]
    part = (moment(0), moment(65))
    joined = figures_recorded._joined(spans, part, pd.Timedelta(seconds=5))
    assert joined == [(moment(0), moment(20)), (moment(60), moment(70))]
    assert figures_recorded._joined(spans, (moment(0), moment(30)), pd.Timedelta(0)) == spans[:2]


def test_markers_keep_their_distance():
    rows = [
        {"start_utc": pd.Timestamp(f"2026-05-21 10:00:{at:02d}", tz="UTC"),
         "end_utc": pd.Timestamp(f"2026-05-21 10:00:{at + 2:02d}", tz="UTC")}
        for at in (0, 4, 20)
    ]  # fmt: skip
    kept = figures_recorded._with_room(frame("noted", rows), pd.Timedelta(seconds=10))
    assert kept == [0, 2]


def test_many_passes_are_ticks_in_one_path():
    table, few = groups("surfaces"), means()
    many = pd.concat([few] * 40, ignore_index=True)
    assert len(many[many["surface"] == "short_grass"]) > figures_recorded.MOST_DOTS
    size = {len(own): len(figures.svg(figures_recorded.passes(table, own, CLASSES))) for own in (few, many)}
    assert size[len(many)] < 3 * size[len(few)]


def test_the_two_causes_are_beside_each_other_where_there_is_room():
    table = differences()
    rows = page_differences.causes(given(tables=with_tables(differences=table)), ["short_grass", "paving"])
    (_, albedo), (temperature, _) = (row["cells"] for row in rows)
    assert rows[0]["cells"][0] is None and rows[1]["cells"][1] is None
    assert (albedo["title"], albedo["head"]) == ("albedo", "paving")
    assert (temperature["title"], temperature["head"]) == ("surface temperature", "short grass")
    own = table[table["quantity"] == "surface_temperature"].iloc[0]
    sign = 1.0 if own["surface_a"] == "short_grass" else -1.0
    wanted = sign * own["difference"]
    assert float(temperature["text"].split()[0].replace("−", "-")) == np.round(wanted, 0)
    assert page_differences.causes(given(), ["paving"]) == []


def test_the_first_page_leaves_room_for_the_reader_where_there_is_some():
    seven = given(tables=with_tables(surfaces=groups("surfaces", 7)))
    assert page_answer.room(seven, []) == 65
    # what limits the numbers takes its lines from that: one of 40 letters and two of 150
    assert page_answer.room(seven, [("What limits", "x" * 40), ("Next time", "x" * 150)]) == 52
    assert page_answer.room(given(tables=with_tables(surfaces=groups("surfaces", 14))), []) == 0


def test_the_first_page_names_what_is_alike_and_what_limits():
    table = differences().assign(distinguishable=False)
    budgets = budget().replace({"quantity": {"albedo": "net_radiation_common_sky"}})
    budgets.loc[budgets["source"] == "source 0", "share"] = 0.3
    page_1 = Page(html(tables=with_tables(differences=table, uncertainty_budget=budgets))).text
    assert "short grass and paving (page 2)" in page_1
    assert "Net radiation ± 27 W m⁻²: mostly source 0 (± 15) and source 1 (± 9)" in page_1
    assert "no number is provisional" in page_1
    doubtful = groups("surfaces").assign(state="provisional")
    assert "no number is provisional" not in Page(html(tables=with_tables(surfaces=doubtful))).text


def test_pictures_say_their_result_in_words():
    """An alternative text that names only the kind of chart says nothing to who can't see it."""
    shown = Page(html())
    words = [attributes["alt"] for tag, attributes in shown.tags if tag == "img"]
    assert words
    for alt in words:
        assert any(letter.isdigit() for letter in alt) or alt.startswith("No "), alt
