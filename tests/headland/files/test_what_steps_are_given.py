"""What each step gets of the settings, tables put beside each other, and a step that ends in plain lines."""

import sys

import numpy as np
import pandas as pd
import pytest

from headland.base.errors import UserError, UserErrors
from headland.files import digests, settings, step, step_settings, tables, writing
from headland.files.required import read_required, read_with_errors
from headland.files.schemas import table_schema

from .made_settings import WITH_INLINE, load


@pytest.fixture
def S(campaign):
    text = WITH_INLINE.replace("title: Spring practical", "title: Spring practical\nseed: 7")
    return load(campaign, text)


def test_figures_know_the_places_only_where_there_are_outlines_and_a_track(S):
    alone = step_settings.figures_of_samples(S)
    assert "positions" not in alone and alone["zone"] == "Europe/Zurich"
    assert alone["carrying"]["walking_speed"] == 0.8 and list(alone["sets"]) == ["heron"]
    for outlines, tracks, known in (
        ("fields.geojson", {"heron": "a.gpx"}, True),
        ("", {"heron": "a.gpx"}, False),
        ("fields.geojson", {"heron": ""}, False),
    ):
        asked = step_settings.figures_of_samples(S | {"outlines_file": outlines, "track_files": tracks})
        assert ("positions" in asked) == known


def test_each_part_of_the_report_gets_what_it_uses(S):
    overrides = {"paving": {"albedo": {"value": 0.2}}}
    S = S | {"overrides": {"surfaces": overrides}}
    assert step_settings.figures(S) == {"overrides": overrides}
    worked = step_settings.worked(S)
    assert set(worked) == {"overrides", "sets"} and worked["overrides"] == overrides
    assert worked["sets"]["heron"]["longwave"] == "net"
    assert worked["sets"]["heron"]["channels"]["sw_out"]["column"] == 3
    report = step_settings.report(S, 512)
    assert (report["title"], report["draws"], report["seed"]) == ("Spring practical", 512, 7)
    assert report["sets"] == {"heron": {"logger_id": "H-1", "raw": ["logger/heron_1.csv"], "interval": 1}}
    assert {report[key] for key in ("certificate", "set_scale")} == {"latest", "none"}
    assert report["ground_heat"] == "class_fraction" and report["one_sided"] == S["methods"]["one_sided"]
    asked = step_settings.asked(S, "1.2.3")
    assert (asked["title"], asked["version"]) == ("Spring practical", "1.2.3")
    assert asked["site"]["latitude"] == 46.9 and asked["naming"] == S["positions"]["field_name"]


def test_what_differs_from_the_defaults_is_listed_with_both(S):
    assert settings.changed(S) == []
    shifted = S | {"notes": S["notes"] | {"shift": "+01:00"}}
    assert [row[:2] for row in settings.changed(shifted)] == [["notes.shift", "+01:00"]]
    own = S | {"overrides": {"surfaces": {"paving": {"albedo": 0.2}}}}
    assert [row[0] for row in settings.changed(own)] == ["overrides.surfaces.paving.albedo"]


# Tables -----------------------------------------------------------------------------------------------------


def test_columns_of_a_second_table_go_beside_the_first(tmp_path):
    left = pd.DataFrame({"a": [1, 2]})
    both = tables.beside(left, pd.DataFrame({"b": [3.0, 4.0]}), tmp_path / "x" / "y.csv")
    assert list(both) == ["a", "b"] and both["b"].tolist() == [3.0, 4.0]
    with pytest.raises(UserErrors) as problem:
        tables.beside(left, pd.DataFrame({"b": [3.0]}), tmp_path / "6_summarise" / "y.csv")
    (one,) = problem.value.errors
    assert (one.file, one.found) == ("y.csv", "1 rows in steps/6_summarise") and one.expected.startswith("2,")


def test_truth_values_and_text_come_back_as_they_were(tmp_path):
    start = pd.Timestamp("2026-05-21T10:00Z")
    usual = {"number": 1.0, "integer": 1, "boolean": True, "datetime": start, "string": "x"}
    fields = table_schema("visit_balance")["fields"]
    visits = pd.DataFrame({field["name"]: [usual[field["type"]]] * 3 for field in fields})
    visits = visits.assign(day=[True, False, True], surface=["b", "a", "b"])
    tables.write_table(tmp_path / "visits.csv", visits, "visit_balance")
    back = tables.read_table(tmp_path / "visits.csv", "visit_balance", ["day", "surface"])
    assert back["day"].tolist() == [True, False, True] and back["day"].dtype == bool
    assert back["surface"].tolist() == ["b", "a", "b"]
    table = step.Stored(tmp_path / "visits.csv", "visit_balance")
    assert "day" in table and "albedo" not in table
    some = table.read(["surface"], np.array([True, False, False]))
    assert some["surface"].tolist() == ["b"]
    assert table.beside(pd.DataFrame({"x": [1, 2, 3]}), ["day"])["day"].tolist() == [True, False, True]
    pieces = pd.concat(table.pieces(["surface"]))
    assert pieces["surface"].tolist() == ["b", "a", "b"]


def test_a_digest_is_that_of_the_standard(tmp_path):
    """FIPS 180-2, appendix B.1: SHA-256 of `abc`."""
    (tmp_path / "x").write_bytes(b"abc")
    assert digests.digest(tmp_path / "x") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


def test_json_can_be_read_by_people(tmp_path):
    writing.write_json(tmp_path / "x.json", {"b": [1.5, None], "a": "Zürich"})
    text = (tmp_path / "x.json").read_text(encoding="utf-8")
    assert "Zürich" in text and text.count("\n") > 2 and text.endswith("\n")


def test_a_table_that_must_be_there(tmp_path):
    path = tmp_path / "plan.csv"
    table, (one,) = read_with_errors(path, "plan", "a table of fields")
    assert not len(table) and (one.found, one.expected) == ("no such file", "a table of fields")
    path.write_text("field,surface,length,headings,outline\n")
    _, (one,) = read_with_errors(path, "plan", "a table of fields")
    assert (one.file, one.found, one.expected) == ("plan.csv", "no rows in it", "a table of fields")
    with pytest.raises(UserErrors, match="no rows in it"):
        read_required(path, "plan", "a table of fields")
    path.write_text("field;surface;length;headings;outline\nYard;paving;40;80;\n")
    assert read_required(path, "plan", "a table of fields")["length"].tolist() == [40.0]


def test_a_step_ends_in_plain_lines_where_a_user_can_correct_it(monkeypatch):
    def main():
        raise UserErrors(
            [UserError("notes.csv", 4, "end is noon", "a time"), UserError("a.csv", None, "b", "c")]
        )

    with pytest.raises(SystemExit) as ended:
        step.run(main)
    assert str(ended.value) == "notes.csv, line 4: end is noon; expected a time\na.csv: b; expected c"
    ran = []
    step.run(lambda: ran.append(1))
    assert ran == [1] and "Traceback" not in str(sys.stderr)


# Settings ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "scale, hint",
    [("herom", 'did you mean "heron"?'), ("all", "none, mean, or one of the sets (heron)"), ("mean", "")],
)
def test_a_scale_is_none_the_mean_or_a_set(S, campaign, scale, hint):
    text = (campaign / "campaign.yaml").read_text() + f"methods: {{set_scale: {scale}}}\n"
    if not hint:
        assert load(campaign, text)["methods"]["set_scale"] == scale
        return
    with pytest.raises(UserErrors) as problem:
        load(campaign, text)
    (one,) = problem.value.errors
    assert one.found == f'methods.set_scale is "{scale}"' and hint in one.expected


@pytest.mark.parametrize(
    "change, found",
    [
        ("{column: 6, unit: degC, thermometer: pt100}", "a thermometer for the unit degC"),
        ("{column: 6, unit: ohm, thermometer: pt77}", 'thermometer is "pt77"'),
        ("{column: 6, unit: ohm, thermometer: pt1000}", ""),
        ("{column: 6, unit: ohm}", ""),
    ],
)
def test_a_thermometer_needs_a_resistance_and_a_curve(S, campaign, change, found):
    text = (campaign / "campaign.yaml").read_text().replace("{column: 6, unit: degC}", change)
    if not found:
        assert (
            load(campaign, text)["sets"]["heron"]["layout"]["channels"]["body_temperature"]["unit"] == "ohm"
        )
        return
    with pytest.raises(UserErrors) as problem:
        load(campaign, text)
    assert [one.found.startswith(found) for one in problem.value.errors] == [True]


@pytest.mark.parametrize("channel", ["lw_in", "lw_out"])
def test_only_a_flux_can_hold_the_sensor_s_own_emission(S, campaign, channel):
    """The message names the channel that is in another unit, and not the other one."""
    place = {"lw_in": 4, "lw_out": 5}[channel]
    text = (campaign / "campaign.yaml").read_text().replace("longwave: net", "longwave: corrected")
    text = text.replace(
        f"{channel}: {{column: {place}, unit: W m-2}}", f"{channel}: {{column: {place}, unit: mV}}"
    )
    with pytest.raises(UserErrors) as problem:
        load(campaign, text)
    assert [one.found for one in problem.value.errors] == [
        f"sets.heron.longwave is corrected, but {channel} is in mV"
    ]
