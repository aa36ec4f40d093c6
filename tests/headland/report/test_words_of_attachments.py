"""Tables and sentences that go along with the pages, and the Data Package, each from its facts."""

import pandas as pd
import pytest

from headland.report import appendix, package, page_methods
from headland.report.differences import COMMON

from .test_words_of_later_pages import NAN, given, texts


def segments(**changes):
    start = pd.Timestamp("2026-05-21 23:58:30Z")
    usual = {
        "segment": "heron-1",
        "set": "heron",
        "field": "Moor",
        "surface": "a",
        "activity": "side_by_side",
        "transect": "2",
        "pass": "",
        "start_utc": start,
        "end_utc": start + pd.Timedelta(seconds=60),
        "samples": 60.0,
        "samples_used": 48.0,
        "solar_elevation": 51.26,
        "solar_azimuth": 152.6,
        "sky": "clear",
        "body_temperature": 20.26,
        "notes_row": 7.0,
    }
    return pd.DataFrame([usual | changes])


def test_a_segment_s_row_says_when_where_and_how():
    one = given(tables={"segments": segments()})
    assert texts(appendix.segments_table(one))[0] == [
        ("heron-1", "heron"),
        ("Moor", "short grass"),
        ("side by side", "transect 2"),
        ("2026-05-21", "23:58:30 to 23:59:30"),
        ("48", "of 60"),
        ("51.3°, 153°", "clear"),
        ("20.3", ""),
        ("7", ""),
    ]
    late = segments(end_utc=pd.Timestamp("2026-05-22 00:01:00Z"), field="", surface="", **{"pass": "3"})
    row = texts(appendix.segments_table(given(tables={"segments": late})))[0]
    assert (
        row[1] == ("–", "")
        and row[2][1] == "transect 2, pass 3"
        and row[3][1] == "23:58:30 to 05-22 00:01:00"
    )


def test_transects_in_words_reach_from_the_least_to_the_greatest_mean():
    table = pd.DataFrame(
        {
            "set": ["heron", "heron", "teal"],
            "sw_in": [700.4, 650.0, 1.0],
            "lw_in": NAN,
            "albedo": [0.2, 0.2, 0.9],
            "surface_temperature": [25.0, 31.26, 0.0],
        }
    )
    assert appendix.transects_words(table, "heron") == (
        "2 segments of set heron: means from shortwave in 650 to 700 W m⁻², albedo 0.200, "
        "surface temperature 25.0 to 31.3 °C. The table of segments has each."
    )
    assert (
        appendix.transects_words(table, "rail") == "0 segments of set rail. The table of segments has each."
    )
    one = given(
        settings={"sets": {"heron": {}, "a_b": {}}},
        pictures={"transects_heron_01": "", "transects_a_b_01": "", "sun_path": "", "transects_heron_02": ""},
        tables={"segments": table},
    )
    assert [(name, own) for name, own, _ in appendix.transects(one)] == [
        ("transects_heron_01", "heron"),
        ("transects_heron_02", "heron"),
        ("transects_a_b_01", "a_b"),
    ]


@pytest.mark.parametrize(
    "headings, words",
    [
        ([170.0, 100.0], "0 to 80° to the side of the heading"),
        ([350.0, 10.0], "170 to 180° to the side"),
        ([NAN, NAN], "no heading noted"),
    ],
)
def test_the_sun_s_path_in_words(headings, words):
    means = pd.DataFrame(
        {
            "set": "heron",
            "activity": ["walk", "walk"],
            "solar_elevation": [50.4, 52.0],
            "solar_azimuth": [170.0, 180.0],
            "heading": headings,
        }
    )
    said = appendix.sun_path_words(
        pd.concat([means, means.assign(activity="stand"), means.assign(solar_elevation=NAN)])
    )
    assert (
        said.startswith("Set heron, 2 walks: sun 50 to 52° high at azimuth 170 to 180°, ") and words in said
    )
    assert appendix.sun_path_words(means[:0]) == "Nobody walked."


def test_terms_in_use_are_those_of_what_the_campaign_has():
    terms = pd.DataFrame({"term": ["noise", "station_sw", "plate", "levels_humidity", "window_stated"]})

    def used(incoming, ways, window):
        one = given(
            means=pd.DataFrame({"incoming_set": incoming}),
            tables={"measured": pd.DataFrame({"way": ways})},
            terms=terms,
            certificates=pd.DataFrame({"temperature_coefficient": [NAN], "window_coefficient": [window]}),
        )
        return appendix.terms_in_use(one)["term"].tolist()

    assert used(["heron"], [], NAN) == ["noise"]
    assert used(["heron", "station.csv"], ["plate"], 1.0) == ["noise", "station_sw", "plate", "window_stated"]
    assert used(["heron"], ["two_heights"], NAN) == ["noise", "levels_humidity"]


def test_a_difference_has_a_row_a_pair_with_its_quantities_side_by_side():
    rows = [
        ("a", "b", name, value, low, high)
        for name, value, low, high in (
            ("albedo", 0.05, 0.041, 0.059),
            ("surface_temperature", -3.2, NAN, NAN),
            ("net_radiation", NAN, NAN, NAN),
            (COMMON, 30.0, 20.0, 45.0),
        )
    ]
    table = pd.DataFrame(
        rows,
        columns=["surface_a", "surface_b", "quantity", "difference", "difference_low", "difference_high"],
    )
    (row,) = texts(appendix.differences_table(given(tables={"differences": table})))
    assert row == [
        ("short grass − paving", ""),
        ("0.050", "[0.041, 0.059]"),
        ("−3.2", "no interval"),
        ("–", ""),
        ("30", "[20, 45]"),
    ]


def test_the_properties_behind_a_class_are_those_that_its_method_uses():
    entry = {"value": 0.96, "unit": "1", "low": 0.95, "high": 0.98, "how": "read", "source": "Oke 1987"}
    lai = entry | {"value": 3.0, "unit": "m2 m-2", "low": "", "high": "", "how": ""}
    surfaces = {
        "a": {
            "label": {"value": "short grass"},
            "emissivity": entry,
            "leaf_area_index": lai,
            "latent_method": entry | {"value": "priestley_taylor", "unit": ""},
        }
    }
    plain = appendix.classes_table(surfaces, ["a"], "class_fraction")["rows"]
    assert [[cell["text"] for cell in row] for row in plain] == [
        ["short grass", "emissivity", "0.96", "0.95 to 0.98", "Oke 1987 (read)"],
        ["short grass", "latent method", "priestley taylor", "0.95 to 0.98", "Oke 1987 (read)"],
    ]
    leafy = appendix.classes_table(surfaces, ["a"], "choudhury")["rows"]
    assert [cell["text"] for cell in leafy[2]] == [
        "short grass",
        "leaf area index",
        "3 m2 m⁻²",
        "",
        "Oke 1987",
    ]


def test_an_equation_has_the_size_of_its_picture():
    assert page_methods.size('<svg width="120.46pt" height="30.04pt">') == {"width": 120.5, "height": 30.0}
    assert page_methods.size("<svg>") == {}


# The Data Package


@pytest.mark.parametrize(
    "text, name",
    [("My Farm_2026!", "my-farm-2026"), ("--..", "campaign"), ("a.b-c", "a.b-c"), ("É", "campaign")],
)
def test_a_name_is_made_fit_for_the_standard(text, name):
    assert package.name_of(text) == name


def test_a_column_is_described_by_its_schema_and_its_quantity():
    quantities = {"sw_in": {"symbol": "SW", "standard_name": "", "equation": "3"}}
    field = {
        "name": "sw_in",
        "type": "number",
        "description": "d",
        "unit": "W m-2",
        "quantity": "sw_in",
        "constraints": {"required": True, "minimum": 0},
    }
    assert package._field(field, quantities) == {
        "name": "sw_in",
        "type": "number",
        "title": "sw in",
        "description": "d",
        "unit": "W m-2",
        "symbol": "SW",
        "equation": "3",
        "constraints": {"required": True},
    }
    plain = package._field({"name": "start_utc", "type": "datetime", "description": "d"}, quantities)
    assert plain == {
        "name": "start_utc",
        "type": "datetime",
        "title": "start utc",
        "description": "d",
        "format": "any",
    }
    assert package.listed("a") == ["a"] and package.listed(["a", "b"]) == ["a", "b"]


def test_what_is_not_given_of_a_credit_is_left_out():
    none = {"orcid": {}, "authors": [], "doi": "", "licence": ""}
    assert package.credited(none) == {}
    assert package.package("X y", "T", [], none) == {
        "profile": "tabular-data-package",
        "name": "x-y",
        "title": "T",
        "resources": [],
    }
    full = package.credited(
        {"orcid": {"B": "0000-1"}, "authors": ["A", "B"], "doi": "10.1/x", "licence": "CC-BY-4.0"}
    )
    assert full == {
        "id": "https://doi.org/10.1/x",
        "licenses": [{"name": "CC-BY-4.0"}],
        "contributors": [
            {"title": "A", "role": "author"},
            {"title": "B", "role": "author", "path": "https://orcid.org/0000-1"},
        ],
    }
