"""The report: what it says of anything that a campaign can hold, in one page, everything escaped and every column printed."""

import base64
import importlib
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pandas as pd
import pypdf
import pytest

from headland.files import config_tables
from headland.files.schemas import table_schema
from headland.files.surfaces import surface_classes
from headland.report import explore, report

sys.path.insert(0, str(Path(__file__).parent))
test_figures = importlib.import_module("test_figures")
sys.path.pop(0)
frame, samples, groups, NASTY = (
    test_figures.frame,
    test_figures.samples,
    test_figures.groups,
    test_figures.NASTY,
)

ROOT = Path(__file__).parents[3]
OURS = ROOT / "workflow" / "headland" / "report"
QUANTITIES = config_tables.read_config_table(ROOT / "workflow" / "headland" / "quantities.csv").to_dict(
    "records"
)
EQUATIONS = config_tables.read_config_table(OURS / "equations.csv")
TERMS = config_tables.read_config_table(ROOT / "config" / "uncertainty.csv")
PICTURE = '<svg xmlns="http://www.w3.org/2000/svg" width="10pt" height="10pt"/>'
FIGURES = (
    "answer",
    "incoming",
    "albedo_temperature",
    "balance",
    "budget",
    "pairs",
    "shared",
    "timeline_01",
    "components_heron_01",
    "sun_path",
)
VOID = {"meta", "img", "br", "wbr", "link", "hr"}


class Page(HTMLParser):
    """The page as a reader of HTML sees it: its text, its tags, and whether they nest."""

    def __init__(self, text: str):
        super().__init__()
        self.texts, self.tags, self.open, self.wrong = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data):
        self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.texts).split())


def segments(count: int = 2, **changes) -> pd.DataFrame:
    rows = []
    for n in range(count):
        row = {
            "segment": f"heron-0521-{1000 + n}",
            "set": "heron",
            "field": "Lower meadow",
            "surface": "short_grass",
            "activity": "walk",
            "transect": "1",
            "pass": str(n + 1),
            "start_utc": pd.Timestamp("2026-05-21 10:00:00", tz="UTC"),
            "end_utc": pd.Timestamp("2026-05-21 10:01:00", tz="UTC"),
            "samples": 60,
            "samples_used": 50,
            "body_temperature": 20.25,
            "solar_elevation": 51.5,
            "solar_azimuth": 153.0,
            "sky": "clear",
            "notes_row": 7 + n,
            **changes,
        }
        for q, value in {
            "sw_in": 800.0,
            "sw_out": 160.0,
            "albedo": 0.2,
            "lw_in": 340.0,
            "lw_out": 450.0,
            "surface_temperature": 25.0,
            "net_radiation": 530.0,
        }.items():
            row |= {q: changes.get(q, value), f"{q}_low": value * 0.95, f"{q}_high": value * 1.05}
        rows.append(row)
    return frame("segments", rows)


def finding(**changes) -> dict:
    return {
        "severity": "error",
        "code": "notes-reversed",
        "step": "segment",
        "set": "heron",
        "file": "notes.csv",
        "line": 4,
        "what": "The interval ends before it starts.",
        "remedy": "Mend it.",
        **changes,
    }


def certificates() -> pd.DataFrame:
    return frame(
        "certificates",
        [
            {
                "set": "heron",
                "channel": "sw_in",
                "sensor_id": "S1",
                "factor": 66.6667,
                "certificate_date": "2025-03-11",
                "age_months": 14.4,
                "response_time_95": 12.0,
                "instrument_class": "B",
            }
        ],
    )


def given(**changes) -> dict:
    surfaces = surface_classes(ROOT / "config" / "surfaces.csv", {})
    values = {
        "settings": {
            "title": "A day",
            "site": {"name": "A place", "latitude": 46.9, "longitude": 7.1, "elevation": 430.0},
            "zone": "UTC",
            "weather": {"air_temperature": 18.0},
            "draws": 16384,
            "certificate": "latest",
            "ground_heat": "class_fraction",
            "set_scale": "none",
            "one_sided": "leave",
            "sets": {"heron": {"logger_id": "L-07", "raw": ["logger/heron_1.csv"]}},
            "inputs": [["campaign.yaml", 100, "0" * 64]],
            "versions": [["Python", "3.11"]],
            "changed": [["carrying.reach", "1.5", "1.2"]],
            "seed": 1,
        },
        "samples": {"heron": samples()},
        "excluded": {"heron": np.arange(60) < 10},
        "tables": {
            "segments": segments(),
            "surfaces": groups("surfaces"),
            "fields": groups("fields"),
            "differences": test_figures.differences(),
            "uncertainty_budget": test_figures.budget(),
            "checks": frame("checks", []),
        },
        "certificates": certificates(),
        "linear": frame("linear_check", []),
        "intercomparison": frame("intercomparison", []),
        "against_station": frame("against_station", []),
        "sky": (800.0, 340.0),
        "weather": frame("weather", []).assign(time_utc=pd.Series(dtype="datetime64[us, UTC]")),
        "surfaces": surfaces,
        "terms": TERMS,
        "equation_rows": EQUATIONS,
        "quantities": QUANTITIES,
        "figures": {name: PICTURE for name in FIGURES},
        "worked": frame(
            "worked",
            [
                {
                    "set": "heron",
                    "part": "sample",
                    "item": "2026-05-21T10:00:00Z",
                    "key": key,
                    "meaning": "net radiation",
                    "working": "800.00 − 160.00",
                    "value": 530.0,
                    "unit": "W m-2",
                }
                for key in ("", "summarise.net_radiation")
            ],
        ),
        "explore": explore.data({"heron": samples()}, {"heron": 1.0}, segments(), surfaces),
        "means": frame(
            "segment_means",
            [
                {
                    "set": "heron",
                    "activity": "walk",
                    "solar_elevation": 51.5,
                    "solar_azimuth": 153.0,
                    "heading": way,
                }
                for way in (90.0, None)
            ],
        ),
        "untold": frame("untold", []),
    }
    return {**values, **changes}


@pytest.fixture(autouse=True)
def quick_equations(monkeypatch):
    """Drawing 22 equations for each page takes seconds; one test draws them."""
    monkeypatch.setattr(report, "equation", lambda text: PICTURE)


def html(**changes) -> str:
    styles = [(OURS / name).read_text(encoding="utf-8") for name in ("style.css", "screen.css")]
    return report.page(
        (OURS / "report.html.jinja").read_text(encoding="utf-8"),
        styles,
        report.context(**given(**changes)),
        (OURS / "explore.js").read_text(encoding="utf-8"),
    )


def with_tables(**changes) -> dict:
    return {**given()["tables"], **changes}


EMPTY = {
    name: frame(name, [])
    for name in ("segments", "surfaces", "fields", "differences", "uncertainty_budget", "checks")
}


# Numbers and texts -------------------------------------------------------------------------------------------------


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
    assert report.number(value, decimals) == text


def test_intervals_and_spans():
    assert report.interval(-3.0, 4.0, 0) == "[−3, 4]"
    assert report.interval(float("nan"), 4.0, 0) == ""
    assert report.span(1.0, 2.0, 1) == "1.0 to 2.0"
    assert report.span(1.01, 1.02, 1) == "1.0"


def test_units_as_people_write_them():
    assert report.units("W m-2 per mV") == "W m⁻² per mV"
    assert (
        report.units("in m s-1, in kPa K-1 and J kg-1, mm h-1") == "in m s⁻¹, in kPa K⁻¹ and J kg⁻¹, mm h⁻¹"
    )
    assert report.units("2.5-3, ASCE-EWRI, Ts-1") == "2.5-3, ASCE-EWRI, Ts-1"
    assert report.units("1") == report.units("name") == ""


def test_a_share_is_printed_without_the_unit_1():
    sizes = {row[0]["text"]: row[3]["text"] for row in report.terms_table(TERMS)["rows"]}
    assert (
        sizes["diffuse share of the shortwave"] == "σ = 0.1"
        and sizes["zero offset of the shortwave heads"] == "σ = 1 W m⁻²"
    )


def test_no_width_in_print_is_too_narrow_for_its_head():
    """`distribution` is the longest word at the head of a column with a width of its own: 12 letters of 8 pt bold want 14 % of the 176 mm."""
    width = int(
        re.search(
            r"#tab-terms th:nth-child\(3\) { width: (\d+)%", (OURS / "style.css").read_text(encoding="utf-8")
        ).group(1)
    )
    assert width >= 14


def test_a_long_word_may_break_and_stays_escaped():
    assert (
        report.soft("<b>" * 8)
        == "&lt;b&gt;&lt;b&gt;&lt;b<wbr>&gt;&lt;b&gt;&lt;b&gt;&lt;<wbr>b&gt;&lt;b&gt;&lt;b&gt;"
    )
    assert report.soft("a short <text>") == "a short &lt;text&gt;"


# The page ----------------------------------------------------------------------------------------------------------


def test_the_page_is_whole_and_the_same_each_time():
    text = html()
    page = Page(text)
    assert not page.wrong and not page.open
    assert text == html()
    assert ("html", {"lang": "en"}) in page.tags
    assert "A day" in page.text and "G, H and LE are estimated from textbook fractions" in page.text


def test_nothing_outside_is_loaded_and_every_image_has_a_text():
    text = html()
    for tag, attributes in Page(text).tags:
        for key in ("src", "href", "action", "data"):
            assert attributes.get(key, "#").startswith(("#", "data:image/svg+xml;base64,")), (tag, attributes)
        if tag == "img":
            assert len(attributes["alt"]) > 10
    assert "url(" not in text and "@import" not in text and "http" not in re.sub(r"base64,[^\"]*", "", text)


def test_figures_are_embedded_byte_for_byte():
    images = re.findall(r'base64,([^"]*)"', html())
    assert len(images) == len(FIGURES) + len(EQUATIONS)
    assert all(base64.b64decode(image).decode() == PICTURE for image in images)


def test_every_table_of_every_page_can_slide_on_a_phone():
    for template in sorted(OURS.glob("*.jinja")):
        text = template.read_text(encoding="utf-8")
        frames = re.findall(r'<div class="(scroll|times)\b', text)
        assert len(frames) == len(re.findall("<table", text)), template.name


def test_figures_and_tables_are_numbered_in_order_and_referred_to_by_number():
    text = html()
    for word in ("Figure", "Table"):
        numbers = [int(n) for n in re.findall(rf'<b class="number">{word} (\d+)\.</b>', text)]
        assert numbers == list(range(1, len(numbers) + 1)) and numbers
    ids = set(re.findall(r' id="([^"]+)"', text))
    assert len(ids) == len(re.findall(r' id="([^"]+)"', text))
    assert set(re.findall(r'href="#([^"]+)"', text)) <= ids
    number = re.search(r'id="cap-counts"><b class="number">(Table \d+)', text).group(1)
    assert f'<a class="ref" href="#tab-counts">{number}</a>' in text


def test_a_reference_to_nothing_is_our_fault_and_seen():
    with pytest.raises(KeyError):
        report.numbered('<a class="ref" href="#fig-gone"></a>')


@pytest.mark.parametrize(
    "name",
    [
        NASTY,
        "<script>alert(1)</script>",
        "</table></style></title>",
        "{{ 7 * 7 }} {% raw %}",
        '<a class="ref" href="#x"></a>',
        "\u202eabc",
        "x" * 300,
    ],
)
def test_what_users_write_stays_text(name):
    settings = {**given()["settings"], "title": name, "site": {**given()["settings"]["site"], "name": name}}
    text = html(
        settings=settings,
        tables=with_tables(
            segments=segments(field=name),
            fields=groups("fields").assign(field=name),
            checks=frame("checks", [finding(what=name, file=name)]),
        ),
    )
    page, plain = Page(text), Page(html(tables=with_tables(checks=frame("checks", [finding()]))))
    assert not page.wrong and not page.open
    assert [tag for tag, _ in page.tags if tag != "wbr"] == [tag for tag, _ in plain.tags if tag != "wbr"]
    assert " ".join(name.split()) in page.text


def test_fonts_of_the_style_sheet_survive():
    assert 'font: 15px/1.5 "DejaVu Sans"' in html()


# What it says ------------------------------------------------------------------------------------------------------


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
        assert report.number(value, report.SHOWN[quantity][2]) in text, column
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
        for row in report.untold_table(frame("untold", rows), ["heron", "curlew"])["rows"]
    ]
    assert rows == [
        ["No beam.", "factor-inverted (set heron); swing-strong (set curlew); notes-shifted", "Wait."],
        ["Under 300 W m⁻².", "sign-reversed of lw_out (set heron)", "Wait."],
    ]
    one = report.untold_table(frame("untold", [cannot("factor-inverted", "No beam.")]), ["heron"])
    assert one["rows"][0][1]["text"] == "factor-inverted"


def test_what_can_t_be_told_stands_after_the_findings_escaped():
    text = html(
        untold=frame(
            "untold",
            [{"code": "<b>", "set": NASTY, "channel": "<i>", "reason": "x", "why": "<u>", "settles": NASTY}],
        )
    )
    page, empty = Page(text), Page(html())
    assert (
        not page.wrong
        and not {"i", "u"} & {tag for tag, _ in page.tags}
        and " ".join(NASTY.split()) in page.text
    )
    assert (
        page.text.index("Everything found wrong")
        < page.text.index("What this day can't tell")
        < page.text.index("<u>")
    )
    assert "Every check could be made." in empty.text and "Every check could be made." not in page.text


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
            for n, q in enumerate(report.COMPARED)
        ],
    )
    text = Page(html(tables=with_tables(differences=table))).text
    assert "short grass less paving" in text
    for n, q in enumerate(report.COMPARED):
        d = report.SHOWN[q][2]
        assert f"{report.number(13.0 + n, d)}" in text and report.interval(3.0 + n, 29.0 + n, d) in text
    assert "albedo, net radiation, net, common sky" in text
    for words in ("heron", "L-07", "sw_in", "S1", "66.67", "2025-03-11", "14", "12", "B"):
        assert words in text, words


def test_errors_stand_first_with_what_they_concern():
    rows = [
        finding(),
        finding(code="longwave-not-corrected", step="correct_longwave", file="", line=None, channel="lw_out"),
        finding(code="file-empty", step="ingest", set="", line=None),
        finding(severity="warning", what="Only a warning."),
    ]
    page = Page(html(tables=with_tables(checks=frame("checks", rows)))).text
    box = page[: page.index("Table 1.")]
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
    page = Page(html(tables=with_tables(checks=frame("checks", rows)))).text
    box = page[: page.index("Table 1.")]
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
        figures={name: PICTURE for name in FIGURES if not name.startswith("components")},
    )
    page = Page(text)
    assert not page.wrong
    assert (
        "nothing recorded" in page.text
        and "There are no two surfaces to compare." in page.text
        and "No segment holds a sample." in page.text
    )
    assert "Concerns every number: there is none" in page.text


def test_how_many_pairs_were_compared():
    words = report.pairs_words(test_figures.differences(5))
    assert (
        "10 pairs of surfaces were compared" in words
        and "10 can be told apart" in words
        and "about 0.5" in words
    )
    assert "One pair" in report.pairs_words(test_figures.differences(2))
    assert "None of the 1 pairs" in report.pairs_words(
        test_figures.differences(2).assign(distinguishable=None)
    )


def test_samples_are_counted_from_stored_to_used():
    part = samples()
    part.loc[50:, "segment"] = ""
    excluded = np.zeros(60, bool)
    excluded[[*range(10), 30]] = True
    row = [
        cell["text"]
        for cell in report.sample_counts({"heron": part}, {"heron": excluded}, {"heron": ["a", "b"]})["rows"][
            0
        ]
    ]
    assert row == ["heron", "2", "60", "50", "10", "1", "39"]


def test_weather_of_the_recording_and_not_of_another_day():
    weather = frame("weather", [{"air_temperature": t} for t in (18.0, 21.0, -40.0)]).assign(
        time_utc=pd.to_datetime(["2026-05-21T09:30Z", "2026-05-21T10:30Z", "2026-05-23T10:00Z"]).astype(
            "datetime64[us, UTC]"
        )
    )
    text = Page(html(weather=weather)).text
    assert "air temperature 18.0 to 21.0 °C" in text and "from weather.csv" in text
    assert "weather, from campaign.yaml air temperature 18.0 °C" in Page(html()).text.replace(
        "campaign.yamlair", "campaign.yaml air"
    )


def test_overrides_are_marked_and_recalled_values_told():
    surfaces = surface_classes(ROOT / "config" / "surfaces.csv", {"short_grass": {"emissivity": 0.93}})
    rows = {
        row[1]["text"]: row
        for row in report.classes_table(surfaces, ["short_grass"], "class_fraction")["rows"]
    }
    assert rows["emissivity"][2]["text"] == "0.93" and "OVERRIDE" in rows["emissivity"][4]["text"]
    assert "(recalled)" in rows["ground heat fraction day"][4]["text"]


# Equations, quantities, the page on the method ---------------------------------------------------------------------


def test_each_equation_has_its_number_and_its_quantity():
    assert EQUATIONS["number"].tolist() == [str(n) for n in range(1, 23)]
    assert {row["equation"] for row in QUANTITIES if row["equation"]} == set(EQUATIONS["number"])
    assert (EQUATIONS[["mathtext", "spoken", "words"]] != "").all(axis=None)


def test_a_printed_number_leads_to_a_function_in_two_hops():
    keys = {row["key"]: row for row in QUANTITIES}
    for title, _, _, key in report.SHOWN.values():
        module, function = keys[key]["function"].rsplit(".", 1)
        assert callable(getattr(importlib.import_module(f"headland.{module}"), function)), title


def test_every_function_of_the_quantities_exists():
    for row in QUANTITIES:
        module, function = row["function"].rsplit(".", 1)
        assert callable(getattr(importlib.import_module(f"headland.{module}"), function)), row["key"]


def test_equations_are_drawn(monkeypatch):
    monkeypatch.undo()
    for row in report.equations(EQUATIONS, QUANTITIES):
        assert row["functions"] and row["source"] and row["width"] > 5
        assert base64.b64decode(row["image"]).decode().startswith("<?xml")


def test_the_page_on_the_method_says_the_same():
    text = (ROOT / "docs" / "method.md").read_text(encoding="utf-8")
    parts = dict(re.findall(r"^### \((\d+)\)\n(.*?)(?=^##|\Z)", text, flags=re.S | re.M))
    assert list(parts) == EQUATIONS["number"].tolist()
    for row in EQUATIONS.to_dict("records"):
        own = [q for q in QUANTITIES if q["equation"] == row["number"]]
        part = parts[row["number"]]
        assert f"$${row['mathtext']}$$" in part and report.units(row["words"]) in part, row["number"]
        assert all(f"`{q['function']}`" in part and q["source"] in part for q in own), row["number"]


# The layout --------------------------------------------------------------------------------------------------------


def laid_out(tmp_path: Path, page: str, *tables: Path) -> subprocess.CompletedProcess:
    (tmp_path / "page.html").write_text(page, encoding="utf-8")
    return subprocess.run(
        [
            sys.executable,
            str(ROOT / "scripts" / "steps" / "report_pdf.py"),
            "--page",
            str(tmp_path / "page.html"),
            "--pdf",
            str(tmp_path / "page.pdf"),
            "--tables",
            *map(str, tables),
        ],
        capture_output=True,
        text=True,
        timeout=300,
    )


def pdf(tmp_path: Path, page: str, *tables: Path):
    run = laid_out(tmp_path, page, *tables)
    assert run.returncode == 0, run.stderr
    return pypdf.PdfReader(tmp_path / "page.pdf"), (tmp_path / "page.pdf").read_bytes()


def test_the_pdf_has_the_same_bytes_each_time_and_says_what_it_is(tmp_path):
    page = html()
    reader, first = pdf(tmp_path, page)
    _, second = pdf(tmp_path, page)
    assert first == second
    assert (
        reader.metadata.title == "A day"
        and reader.trailer["/Root"]["/Lang"] == "en"
        and reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    )
    assert f"{reader.metadata.creation_date:%Y-%m-%d}" == report.dates(
        {"heron": samples()}
    )  # of the day that it tells of: the clock's would change the bytes
    assert str(ROOT).encode() not in first and str(tmp_path).encode() not in first
    width, height = (float(side) / 72 * 25.4 for side in reader.pages[0].mediabox[2:])
    assert (round(width), round(height)) == (210, 297)
    contents = reader.pages[0].extract_text()
    assert re.search(r"Appendix\D*\d+", contents)
    assert f"{len(reader.pages)} / {len(reader.pages)}" in reader.pages[-1].extract_text()


def test_the_pdf_is_tagged_and_fit_for_an_archive(tmp_path):
    """PDF/A-3 (ISO 19005-3) with the tables attached; and what PDF/UA-1 (ISO 14289-1) asks for that can be seen from outside."""
    table = tmp_path / "surfaces.csv"
    table.write_text("surface,albedo\npaving,0.2\n", encoding="utf-8")
    reader, _ = pdf(tmp_path, html(), table)
    root = reader.trailer["/Root"]
    assert (
        b"<pdfaid:part>3<" in root["/Metadata"].get_data()
        and root["/OutputIntents"][0]["/S"] == "/GTS_PDFA1"
        and root["/ViewerPreferences"]["/DisplayDocTitle"]
    )
    name, attached = root["/Names"]["/EmbeddedFiles"]["/Names"]
    attached = attached.get_object()
    assert (name, attached["/AFRelationship"], attached["/EF"]["/F"].get_object()["/Subtype"]) == (
        "surfaces.csv",
        "/Data",
        "/text/csv",
    )
    assert attached["/EF"]["/F"].get_object().get_data() == table.read_bytes()
    found, waiting, seen = [], [root["/StructTreeRoot"]], set()
    while waiting:
        item = waiting.pop()
        if getattr(item, "idnum", None) in seen:
            continue
        seen |= {item.idnum} if hasattr(item, "idnum") else set()
        item = item.get_object() if hasattr(item, "get_object") else item
        if isinstance(item, list):
            waiting += item
        elif isinstance(item, dict):
            found.append(item)
            waiting += [item[key] for key in ("/K",) if key in item]
    of = lambda kind: [item for item in found if item.get("/S") == kind]
    assert len(of("/Figure")) >= len(FIGURES) and all(item.get("/Alt") for item in of("/Figure"))
    attributes = lambda item: {
        key: value
        for part in (item["/A"] if isinstance(item["/A"], list) else [item["/A"]])
        for key, value in part.items()
    }
    heads = {
        item["/ID"] for item in of("/TH")
    }  # a cell names its headers, which serves as well as their scope
    named = [set(attributes(item)["/Headers"]) for item in of("/TD")]
    assert (
        all(names <= heads for names in named)
        and sum(map(bool, named)) > 0.9 * len(named)
        and of("/H1")
        and of("/Caption")
    )
    fonts = [
        font.get_object()
        for sheet in reader.pages
        for font in (sheet["/Resources"].get("/Font") or {}).values()
    ]
    assert fonts and all("/ToUnicode" in font for font in fonts)
    assert all("/FontFile2" in font["/DescendantFonts"][0]["/FontDescriptor"] for font in fonts)
    assert (
        b"<pdfuaid:part>1<" in root["/Metadata"].get_data()
        and "/Filter" not in root["/Metadata"].get_object()
    )  # a catalogue's metadata lie open
    assert {sheet["/Tabs"] for sheet in reader.pages} == {"/S"}
    links = [link.get_object() for sheet in reader.pages for link in sheet.get("/Annots", [])]
    assert links and all("/StructParent" in link and link.get("/Contents") for link in links)
    levels = [int(level) for level in re.findall(r"<h([1-6])", html())]
    assert levels[0] == 1 and all(after <= before + 1 for before, after in zip(levels, levels[1:]))
    for sheet in reader.pages[:4]:
        assert not outside_marks(sheet, reader)
    page_validation = pytest.importorskip(
        "page", reason="page-validation, a validator, is not among the libraries that Headland needs"
    )
    for profile in (page_validation.ValidationProfile.PDF_A_3A, page_validation.ValidationProfile.PDF_UA_1):
        outcome = page_validation.validate_pdf(tmp_path / "page.pdf", profile=profile)
        assert outcome.is_compliant, [(failure.rule_id, failure.message) for failure in outcome.failures]


def outside_marks(sheet, reader) -> list[bytes]:
    """What is painted on a page neither as part of its structure nor as an artifact."""
    from pypdf.generic import ContentStream

    depth, bare = 0, []
    for _, operator in ContentStream(sheet.get_contents(), reader).operations:
        depth += {b"BDC": 1, b"BMC": 1, b"EMC": -1}.get(operator, 0)
        if depth == 0 and operator in (b"Tj", b"TJ", b"Do", b"f", b"f*", b"B", b"B*", b"S", b"s", b"sh"):
            bare.append(operator)
    return bare


def test_a_page_that_the_layout_complains_of_fails(tmp_path):
    run = laid_out(
        tmp_path,
        '<html lang="en"><head><title>x</title></head><body><img src="data:image/svg+xml;base64,bm8="></body></html>',
    )
    assert run.returncode != 0 and not (tmp_path / "page.pdf").exists()
    assert "page.html can't be laid out as it should" in run.stderr and "Traceback" not in run.stderr


def test_names_of_any_width_stay_on_the_page(tmp_path):
    """The rightmost letters of every page lie inside the paper's margin."""
    long = "Versuchsgutsgrünlandparzellennummerdreiundzwanzig"
    reader, _ = pdf(
        tmp_path,
        html(
            tables=with_tables(
                segments=segments(field=long),
                fields=groups("fields", net_radiation=1234.5, sw_in=1300.0).assign(field=long),
            )
        ),
    )
    edges = []
    for sheet in reader.pages:
        sheet.extract_text(
            visitor_text=lambda text, cm, tm, font, size: (
                edges.append(cm[4] + cm[0] * tm[4]) if text.strip() else None
            )
        )
    assert max(edges) < 210 / 25.4 * 72 - 17 / 25.4 * 72


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
        settings={**given()["settings"], "set_scale": "heron"},
    )
    assert (
        "heron less plover" in page
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
    assert "taken out of the values" in html(settings={**given()["settings"], "one_sided": "correct"})
