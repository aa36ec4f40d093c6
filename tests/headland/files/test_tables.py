"""Tables as people write them and as steps leave them: encodings, faults by line, round trips, and the
published lists of columns.
"""

import csv
import datetime
import json
import re
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.base import findings
from headland.base.errors import UserError
from headland.base.findings import Finding
from headland.base.time_text import time_text, times
from headland.files import config_tables, tables, user_rows, user_tables, writing
from headland.files.schemas import table_schema

PROJECT = Path(__file__).parents[3]
SCHEMAS = PROJECT / "workflow/schemas"
TEXT = "time_utc,air_temperature,relative_humidity,pressure,wind_speed\n2026-05-21T09:00:00Z,19.5,50,975,2.5\n2026-05-21T10:00:00Z,20.5,,,\n"


def read(folder, content, name="weather.csv", kind="weather"):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return user_tables.read_user_table(path, kind)


def codes(found):
    return [finding.code + (f"/{finding.variant}" if finding.variant else "") for finding in found]


def register(*rows, header="set,logger_id,channel,sensor_id,factor,factor_unit,certificate_date"):
    return header + "\n" + "".join(row + "\n" for row in rows)


# What users write
# --------------------------------------------------------------------------------------------------


def test_a_plain_table(tmp_path):
    frame, found = read(tmp_path, TEXT)
    assert found == [] and frame["line"].tolist() == [2, 3]
    assert frame["air_temperature"].tolist() == [19.5, 20.5] and frame["pressure"].isna().tolist() == [
        False,
        True,
    ]


@pytest.mark.parametrize(
    "encoding, code",
    [("utf-8-sig", []), ("utf-16", ["wrong-encoding/table"]), ("latin-1", ["wrong-encoding/table"])],
)
def test_encodings(tmp_path, encoding, code):
    frame, found = read(
        tmp_path,
        "date,set,start,end,field,surface,remark\n2026-05-21,heron,09:00,09:10,Mühle,stubble,kühl\n".encode(
            encoding
        ),
        "notes.csv",
        "notes",
    )
    assert (
        codes(found) == code and frame["field"].tolist() == ["Mühle"] and frame["remark"].tolist() == ["kühl"]
    )


@pytest.mark.parametrize("delimiter, word", [(";", "semicolons"), ("\t", "tabs")])
def test_other_delimiters_are_read_and_named(tmp_path, delimiter, word):
    frame, found = read(tmp_path, TEXT.replace(",", delimiter))
    assert (
        codes(found) == ["wrong-delimiter/table"]
        and found[0].facts["found"] == word
        and frame["air_temperature"].tolist() == [19.5, 20.5]
    )


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_line_ends_and_blank_lines(tmp_path, ends):
    frame, found = read(tmp_path, ("\n" + TEXT.replace("\n", "\n\n") + ",,,,\n").replace("\n", ends))
    assert codes(found) == [] and len(frame) == 2 and frame["line"].tolist() == [4, 6]


def test_quotes_hold_commas_and_line_ends(tmp_path):
    text = 'set,start,end,field,surface,remark\nheron,09:00,09:10,"mill, ""old""",stubble,"two\nlines"\nheron,10:00,10:10,yard,paving,\n'
    frame, found = read(tmp_path, text, "notes.csv", "notes")
    assert (
        found == []
        and frame["field"].tolist() == ['mill, "old"', "yard"]
        and frame["line"].tolist() == [2, 4]
    )


def test_columns_in_any_order_and_unknown_missing_or_twice(tmp_path):
    assert read(tmp_path, "wind_speed,time_utc\n2.5,2026-05-21T09:00:00Z\n")[0]["wind_speed"].tolist() == [
        2.5
    ]
    frame, found = read(
        tmp_path, "time_utc,air_temprature,colour,wind_speed,wind_speed\n2026-05-21T09:00:00Z,1,2,3,4\n"
    )
    assert codes(found) == ["column-unknown", "column-unknown", "column-twice"]
    assert found[0].facts["hint"] == '; did you mean "air_temperature"?' and found[1].facts["hint"] == ""
    assert frame["wind_speed"].tolist() == [3.0]
    frame, found = read(
        tmp_path, "set,start,endd,field,surface\nheron,09:00,09:10,mill,stubble\n", "notes.csv", "notes"
    )
    assert (
        codes(found)[0] == "column-missing"
        and found[0].facts["column"] == "end"
        and '"endd"' in found[0].facts["hint"]
        and frame.empty
    )


@pytest.mark.parametrize(
    "cell, kept",
    [
        ("abc", False),
        ("1,2,3", False),
        ("nan", False),
        ("inf", False),
        ("1e999", False),
        ("0x10", False),
        ("1_000", False),
        ("-91", False),
        ("61", False),
        ("19.5", True),
        ("-5", True),
        ("1.95e1", True),
        (" 19.5 ", True),
        ("+3.", True),
        (".5", True),
    ],
)
def test_numbers(tmp_path, cell, kept):
    frame, found = read(tmp_path, f'time_utc,air_temperature\n2026-05-21T09:00:00Z,"{cell}"\n')
    assert (
        codes(found) == ([] if kept else ["value-invalid"])
        and frame["air_temperature"].notna().item() == kept
    )
    assert kept or (
        found[0].line == 2
        and found[0].facts["value"] == cell
        and found[0].facts["column"] == "air_temperature"
    )


@pytest.mark.parametrize(
    "row, column, hint",
    [
        ("heron,H-1,sw_inn,S,70,W m-2 per mV,2025-01-31", "channel", "sw_in"),
        ("heron,H-1,sw_in,S,70,W/m2 per mV,2025-01-31", "factor_unit", "W m-2 per mV"),
        ("heron,H-1,sw_in,S,70,W m-2 per mV,31.13.2025", "certificate_date", ""),
        ("heron,H-1,sw_in,S,70,W m-2 per mV,2025-02-30", "certificate_date", ""),
        ("heron,H-1,sw_in,S,-70,W m-2 per mV,2025-01-31", "factor", ""),
        ("heron,,sw_in,S,70,W m-2 per mV,2025-01-31", "logger_id", ""),
    ],
)
def test_a_cell_that_does_not_fit_is_emptied_and_named(tmp_path, row, column, hint):
    frame, found = read(tmp_path, register(row), "instruments.csv", "instruments")
    assert codes(found) == ["value-invalid"] and (found[0].facts["column"], found[0].line) == (column, 2)
    assert hint in found[0].facts["hint"] and bool(hint) == bool(found[0].facts["hint"])
    assert len(frame) == 1 and (frame[column].item() in ("",) or np.isnan(frame[column].item()))


def test_all_faults_of_a_table_at_once(tmp_path):
    _, found = read(
        tmp_path,
        "time_utc,air_temperature,wind_speed\n2026-05-21T09:00:00Z,x,-1\n2026-05-21T10:00:00Z,99,y,z\n",
    )
    assert codes(found) == [
        "row-too-long",
        "value-invalid",
        "value-invalid",
        "value-invalid",
        "value-invalid",
    ]
    assert [f.line for f in found] == [3, 2, 2, 3, 3]


@pytest.mark.parametrize("content", ["", "\n\n", ",,,\n"])
def test_an_empty_file(tmp_path, content):
    frame, found = read(tmp_path, content)
    assert frame.empty and codes(found) in (["file-empty/table"], ["column-missing"])


def test_a_binary_file_and_broken_quotes(tmp_path):
    assert codes(read(tmp_path, b"PK\x00\x01\x02")[1]) == ["table-unreadable"]
    assert read(tmp_path, 'time_utc,air_temperature\n"2026-05-21T09:00:00Z,1\n')[0] is not None
    assert codes(read(tmp_path, "time_utc,air_temperature\n" + '"' + "x" * 200_000 + '"\n')[1]) == [
        "table-unreadable"
    ]


def test_a_file_too_large_is_not_opened(tmp_path, monkeypatch):
    monkeypatch.setattr(user_rows, "LARGEST_USER_TABLE", 10)
    assert codes(read(tmp_path, TEXT)[1]) == ["table-unreadable"]


# Workbooks
# ---------------------------------------------------------------------------------------------------------


def workbook(path, *rows):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.create_sheet("other").append(["nothing to see"])
    book.save(path)
    return path


def test_a_workbook_with_times_dates_and_numbers_as_cells(tmp_path):
    path = workbook(
        tmp_path / "notes.xlsx",
        ["date", "set", "start", "end", "field", "surface", "heading", "pass"],
        [
            datetime.date(2026, 5, 21),
            "heron",
            datetime.time(9, 31, 20),
            datetime.datetime(2026, 5, 21, 9, 45),
            "mill",
            "stubble",
            90,
            1.0,
        ],
        [],
        [None, "heron", datetime.timedelta(hours=10), "10:10", "yard", "paving", 270.5, "b"],
    )
    frame, found = user_tables.read_user_table(path, "notes")
    assert found == [] and frame["line"].tolist() == [2, 4]
    assert frame["date"].tolist() == ["2026-05-21", ""] and frame["start"].tolist() == [
        "09:31:20",
        "10:00:00",
    ]
    assert (
        frame["end"].tolist() == ["2026-05-21 09:45:00", "10:10"]
        and frame["heading"].tolist() == [90.0, 270.5]
        and frame["pass"].tolist() == ["1", "b"]
    )


def test_formulas_of_a_workbook_are_not_evaluated(tmp_path):
    path = workbook(
        tmp_path / "weather.xlsx", ["time_utc", "air_temperature"], ["2026-05-21T09:00:00Z", "=1+1"]
    )
    frame, _ = user_tables.read_user_table(path, "weather")
    assert frame["air_temperature"].isna().all()


@pytest.mark.parametrize("content", [b"", b"not a workbook", b"PK\x03\x04" + b"\x00" * 40])
def test_a_damaged_workbook(tmp_path, content):
    assert codes(read(tmp_path, content, "notes.xlsx", "notes")[1]) == ["table-unreadable"]


def test_a_zip_bomb_is_refused_before_it_is_unpacked(tmp_path):
    path = workbook(tmp_path / "notes.xlsx", ["set"])
    with (
        zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/worksheets/sheet9.xml", "w") as stream,
    ):
        for _ in range(60):
            stream.write(b"0" * 1_000_000)
    assert path.stat().st_size < 200_000
    _, found = user_tables.read_user_table(path, "notes")
    assert codes(found) == ["table-unreadable"] and "50 MB" in found[0].facts["found"]


# The weather
# -------------------------------------------------------------------------------------------------------


def test_weather_times_become_times_or_a_finding(tmp_path):
    path = tmp_path / "weather.csv"
    path.write_text(TEXT + "yesterday,20,,,\n2026-05-21T13:00:00+02:00,21,,,\n", encoding="utf-8")
    frame, found = user_tables.read_weather([path])
    assert [(f.code, f.line, f.facts["column"]) for f in found] == [("value-invalid", 4, "time_utc")]
    assert frame["time_utc"].iloc[3] == pd.Timestamp("2026-05-21T11:00:00Z") and len(frame) == 4
    assert user_tables.read_weather([])[0].empty


# What steps leave
# --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "stamps, texts",
    [
        (["2026-05-21T09:00:00", "2026-05-21T09:00:01"], ["2026-05-21T09:00:00Z", "2026-05-21T09:00:01Z"]),
        (
            ["2026-05-21T09:00:00", "2026-05-21T09:00:00.5"],
            ["2026-05-21T09:00:00.0Z", "2026-05-21T09:00:00.5Z"],
        ),
        (["2026-05-21T09:00:00.25", None], ["2026-05-21T09:00:00.25Z", ""]),
        (["2026-05-21T09:00:00.000001"], ["2026-05-21T09:00:00.000001Z"]),
        (["2026-05-21T09:00:00.125"], ["2026-05-21T09:00:00.125Z"]),
        ([], []),
    ],
)
def test_times_have_as_many_decimals_as_they_need(stamps, texts):
    assert time_text(pd.DatetimeIndex(stamps, tz="UTC")) == texts


@given(st.lists(st.datetimes(datetime.datetime(1970, 1, 1), datetime.datetime(2100, 1, 1)), max_size=20))
def test_times_there_and_back(stamps):
    index = pd.DatetimeIndex(pd.to_datetime(stamps, utc=True)).as_unit("us")
    assert times(pd.Series(time_text(index), dtype=object)).tolist() == list(index)


def test_times_of_a_zone_are_written_in_utc():
    assert time_text(pd.DatetimeIndex(["2026-05-21T11:00:00"]).tz_localize("Europe/Zurich")) == [
        "2026-05-21T09:00:00Z"
    ]


@pytest.mark.parametrize(
    "value, text",
    [
        (-0.0, "0.00"),
        (-0.004, "0.00"),
        (-0.005, "-0.01"),
        (0.005, "0.01"),
        (np.nan, ""),
        (np.inf, ""),
        (1234.567, "1234.57"),
        (None, ""),
    ],
)
def test_numbers_as_written(value, text):
    got = tables._cells(pd.Series([value], dtype=float), {"type": "number", "decimals": 2})[0]
    assert got == text or (abs(value) == 0.005 and got.lstrip("-") in ("0.00", "0.01") and got != "-0.00")


@given(st.floats(-1e6, 1e6), st.integers(0, 6))
def test_there_is_no_negative_zero(value, decimals):
    text = tables._cells(pd.Series([value]), {"type": "number", "decimals": decimals})[0]
    assert not re.fullmatch(r"-0(\.0*)?", text) and float(text) == pytest.approx(
        value, abs=0.5000001 * 10.0**-decimals
    )


@pytest.mark.parametrize(
    "cell, written",
    [
        ("=1+1", "'=1+1"),
        ("+cmd", "'+cmd"),
        ("-x", "'-x"),
        ("@sum", "'@sum"),
        ("\tx", "'\tx"),
        ("-3.5", "-3.5"),
        ("+01:00", "+01:00"),
        ("-", "'-"),
        ("plain", "plain"),
        ("a,b", '"a,b"'),
        ('a"b', '"a""b"'),
        ("=a,b", '"\'=a,b"'),
        ("a\nb", '"a\nb"'),
    ],
)
def test_text_that_a_spreadsheet_would_run_is_disarmed(cell, written):
    assert tables.quoted(cell) == written


def test_a_table_there_and_back(tmp_path):
    frame = pd.DataFrame(
        {
            "surface_a": ["stubble", 'odd, "name"'],
            "surface_b": ["paving", "snow"],
            "quantity": ["albedo", "net_radiation"],
            "difference": [0.12, -0.0],
            "difference_low": [0.1, np.nan],
            "difference_high": [0.14, np.nan],
            "distinguishable": ["true", None],
            "why": ["", "visited too far apart"],
            "as_visited": [0.11, 1.0],
        }
    )
    tables.write_table(tmp_path / "deep/differences.csv", frame, "differences")
    back = tables.read_table(tmp_path / "deep/differences.csv", "differences")
    assert back["surface_a"].tolist() == frame["surface_a"].tolist() and back[
        "difference_low"
    ].isna().tolist() == [False, True]
    assert (
        back["distinguishable"].tolist()[0] == "true"
        and back["distinguishable"].iloc[1] == ""
        and "-0.0" not in (tmp_path / "deep/differences.csv").read_text()
    )
    tables.write_table(tmp_path / "again.csv", back, "differences")
    assert (tmp_path / "again.csv").read_bytes() == (tmp_path / "deep/differences.csv").read_bytes()


def test_segments_there_and_back_to_the_written_decimals(tmp_path):
    generator = np.random.default_rng(8)
    fields = table_schema("segments")["fields"]
    values = {
        "string": lambda: ["a", "b c", ""],
        "datetime": lambda: pd.to_datetime(
            ["2026-05-21T09:00:00.5Z", "2026-05-21T10:00:00.0Z", None], utc=True
        ),
        "integer": lambda: [3, 0, 12],
        "number": lambda: [*generator.normal(0, 300, 2), np.nan],
    }
    frame = pd.DataFrame({field["name"]: values[field["type"]]() for field in fields})
    tables.write_table(tmp_path / "segments.csv", frame, "segments")
    back = tables.read_table(tmp_path / "segments.csv", "segments")
    assert list(back) == [field["name"] for field in fields]
    for field in fields:
        if field["type"] == "number":
            assert back[field["name"]].to_numpy() == pytest.approx(
                frame[field["name"]].to_numpy(), abs=0.500001 * 10.0 ** -field["decimals"], nan_ok=True
            )
    assert back["start_utc"].iloc[0] == pd.Timestamp("2026-05-21T09:00:00.5Z") and pd.isna(
        back["start_utc"].iloc[2]
    )


def test_findings_there_and_back(tmp_path):
    found = [
        Finding(
            "value-invalid",
            "",
            "heron",
            "notes.csv",
            7,
            "2026-05-21T09:00:00Z",
            "",
            "sw_in",
            {"value": 'a, "b" é {x}', "n": 3},
        ),
        Finding("no-segment"),
    ]
    tables.write_findings(tmp_path / "f.csv", found)
    assert tables.read_findings(tmp_path / "f.csv") == found
    tables.write_findings(tmp_path / "f.csv", [])
    assert tables.read_findings(tmp_path / "f.csv") == []


def test_a_fault_as_a_plain_line():
    assert (
        str(UserError("notes.csv", 3, "x", "y")) == "notes.csv, line 3: x; expected y"
        and str(UserError("notes.csv", None, "x", "y")) == "notes.csv: x; expected y"
    )


# The project's own tables and schemas
# ------------------------------------------------------------------------------

SEVEN = ["sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation"]
ESTIMATES = [
    "net_radiation_common_sky",
    "ground_heat",
    "sensible_heat",
    "latent_heat",
    "evaporation",
    "bowen_ratio",
]


def with_ends(names):
    return [f"{name}{end}" for name in names for end in ("", "_low", "_high")]


def with_by_hand(names):
    return [f"{name}{end}" for name in names for end in ("", "_low", "_high", "_by_hand")]


COLUMNS = {
    "segments": [
        "segment",
        "set",
        "field",
        "surface",
        "activity",
        "transect",
        "pass",
        "start_utc",
        "end_utc",
        "samples",
        "samples_used",
        *with_by_hand(SEVEN),
        "body_temperature",
        "solar_elevation",
        "solar_azimuth",
        "sky",
        "notes_row",
        "state",
    ],
    "surfaces": [
        "surface",
        "segments",
        "samples_used",
        *with_by_hand(SEVEN),
        *with_ends(ESTIMATES),
        "state",
    ],
    "fields": [
        "surface",
        "field",
        "segments",
        "samples_used",
        *with_by_hand(SEVEN),
        *with_ends(ESTIMATES),
        "state",
    ],
    "differences": [
        "surface_a",
        "surface_b",
        "quantity",
        "difference",
        "difference_low",
        "difference_high",
        "distinguishable",
        "why",
        "as_visited",
    ],
    "measured": [
        "surface",
        "way",
        "quantity",
        "visits",
        "net_radiation",
        "estimated",
        "estimated_low",
        "estimated_high",
        "measured",
        "measured_low",
        "measured_high",
        "gap",
        "gap_low",
        "gap_high",
        "closure",
        "used",
        "because",
    ],
    "uncertainty_budget": ["surface", "quantity", "source", "half_width_95", "share"],
    "checks": [
        "severity",
        "code",
        "step",
        "set",
        "file",
        "line",
        "start_utc",
        "end_utc",
        "channel",
        "what",
        "remedy",
        "count",
        "places",
    ],
}
DECIMALS = {"W m-2": 2, "degC": 2, "mm h-1": 3}
FOR_PEOPLE = (*COLUMNS, "instruments", "notes", "weather", "samples_corrected", "samples_segmented")


@pytest.mark.parametrize("kind", COLUMNS)
def test_the_tables_that_users_get_have_the_columns_of_the_results_page(kind):
    assert sorted(field["name"] for field in table_schema(kind)["fields"]) == sorted(COLUMNS[kind])
    if kind != "fields":
        assert [field["name"] for field in table_schema(kind)["fields"]] == COLUMNS[kind]


@pytest.mark.parametrize("path", sorted(SCHEMAS.glob("*.json")), ids=lambda path: path.stem)
def test_schemas_are_table_schemas(path):
    schema = json.loads(path.read_text(encoding="utf-8"))
    if path.name.endswith(".schema.json"):
        import jsonschema

        return jsonschema.Draft202012Validator.check_schema(schema)
    import frictionless

    frictionless.Schema.from_descriptor(schema)
    names = [field["name"] for field in schema["fields"]]
    assert len(set(names)) == len(names) and schema["missingValues"] == [""] and schema["title"]
    for field in schema["fields"]:
        assert field["type"] in ("string", "number", "integer", "boolean", "datetime", "date"), field["name"]
        assert field["description"] or path.stem not in FOR_PEOPLE, field["name"]
        assert field["type"] != "number" or "decimals" in field, field["name"]
        if (
            field["type"] == "number"
            and path.stem in COLUMNS
            and field.get("unit") in DECIMALS
            and path.stem != "uncertainty_budget"
        ):
            assert field["decimals"] == DECIMALS[field["unit"]], field["name"]
        if field["name"].startswith("albedo") and path.stem in COLUMNS:
            assert field["decimals"] == 4, field["name"]


def quantities():
    with (PROJECT / "workflow/headland/quantities.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_every_function_of_quantities_csv_exists_and_its_step_is_its_key():
    import importlib

    rows = quantities()
    assert len({row["key"] for row in rows}) == len(rows)
    for row in rows:
        module, function = row["function"].rsplit(".", 1)
        assert callable(getattr(importlib.import_module(f"headland.{module}"), function)), row["key"]
        assert row["source"] and row["meaning"] and row["unit"] or row["key"].startswith("propagate"), row[
            "key"
        ]
        assert (
            list((SCHEMAS.parent / "headland").glob(f"*/{row['key'].split('.')[0]}.py"))
            and row["key"].split(".")[1] == row["quantity"]
        )


def test_equations_are_numbered_without_a_gap():
    numbers = sorted({int(row["equation"]) for row in quantities() if row["equation"]})
    assert numbers == list(range(1, numbers[-1] + 1))


@pytest.mark.parametrize("kind", ["segments", "surfaces", "fields"])
def test_every_printed_quantity_with_a_unit_stands_in_quantities_csv(kind):
    known = {row["quantity"]: row["unit"] for row in quantities()}
    for field in table_schema(kind)["fields"]:
        if field.get("unit") and not field["name"].endswith(("_low", "_high", "_by_hand")):
            assert known.get(field["name"]) == field["unit"], field["name"]


def test_uncertainty_csv_is_sound():
    rows = config_tables.read_config_table(PROJECT / "config/uncertainty.csv").to_dict("records")
    assert len({row["term"] for row in rows}) == len(rows)
    for row in rows:
        assert row["distribution"] in ("normal", "rectangular", "Student") and row["enabled"] in (
            "true",
            "false",
        ), row["term"]
        assert row["source"] and row["how"] and row["label"] and row["unit"], row["term"]
        if row["low"]:
            assert float(row["low"]) < float(row["high"]) and row["distribution"] == "rectangular", row[
                "term"
            ]
        if row["sigma"]:
            assert float(row["sigma"]) > 0 and row["distribution"] == "normal", row["term"]
        assert row["sigma"] or row["low"] or row["how"] in ("table", "formula"), row["term"]
    share = {row["term"]: float(row["sigma"]) for row in rows if row["term"].startswith("certificate_")}
    assert share["certificate_band"] + share["certificate_sensor"] == pytest.approx(1.0)


def test_findings_are_described_in_the_columns_of_checks():
    table = {
        (row["code"], row["variant"]): row
        for row in config_tables.read_config_table(PROJECT / "workflow/headland/checks/findings.csv").to_dict(
            "records"
        )
    }
    assert set(findings.describe(Finding("no-segment"), "segment", table)) == set(COLUMNS["checks"])


def test_a_file_gets_its_name_once_it_is_whole_and_leftovers_go(tmp_path):
    path = tmp_path / "a[1].csv"
    path.write_text("old")
    (tmp_path / ".a[1].csv.77.part").write_text("left by a killed run")
    with pytest.raises(RuntimeError), writing.whole(path) as part:
        part.write_text("half")
        assert path.read_text() == "old"
        raise RuntimeError
    assert path.read_text() == "old" and [p.name for p in tmp_path.iterdir()] == ["a[1].csv"]
    with writing.whole(path) as part:
        part.write_text("new")
    assert path.read_text() == "new" and [p.name for p in tmp_path.iterdir()] == ["a[1].csv"]


def test_a_table_written_in_pieces_has_the_same_bytes(tmp_path, monkeypatch):
    """A single time with a fraction, far from the first piece, gives every time its decimals."""
    times = pd.date_range("2025-08-20T10:00:00Z", periods=50, freq="1s").to_series(index=range(50))
    times.iloc[47] += pd.Timedelta("500ms")
    frame = pd.DataFrame(
        {
            "time_utc": times,
            "sw_in": np.arange(50.0),
            "sw_out": 1.0,
            "lw_in": 2.0,
            "lw_out": 3.0,
            "body_temperature": np.where(np.arange(50) == 30, np.nan, 20.0),
        }
    )
    tables.write_table(tmp_path / "whole.csv", frame, "samples_corrected")
    monkeypatch.setattr(tables, "PIECE", 7)
    tables.write_table(tmp_path / "pieces.csv", frame, "samples_corrected")
    assert (tmp_path / "pieces.csv").read_bytes() == (tmp_path / "whole.csv").read_bytes()
    assert (
        tables.read_table(tmp_path / "pieces.csv", "samples_corrected")["time_utc"].tolist() == times.tolist()
    )


def long_table(count=50):
    times = (
        pd.date_range("2025-08-20T10:00:00Z", periods=count, freq="1500ms")
        .to_series(index=range(count))
        .astype("datetime64[us, UTC]")
    )
    return pd.DataFrame(
        {
            "time_utc": times,
            "solar_elevation": np.arange(count) / 8.0,
            "solar_azimuth": 180.0,
            "sw_clear": np.where(np.arange(count) == 30, np.nan, 20.0),
            "flags": [("", "sun-low", "edge sun-low")[i % 3] for i in range(count)],
        }
    )


@pytest.mark.parametrize("count", [0, 1, 7, 50])
def test_a_table_goes_through_in_pieces_and_is_read_whole_by_column_by_row_and_as_categories(
    tmp_path, monkeypatch, count
):
    monkeypatch.setattr(tables, "PIECE", 7)
    table, path, again = long_table(count), tmp_path / "a.csv", tmp_path / "b.csv"
    tables.write_table(path, table, "samples_screened")
    pieces = list(tables.read_pieces(path, "samples_screened"))
    assert [len(piece) for piece in pieces] == [7] * (count // 7) + [count % 7] * (
        count % 7 > 0 or count == 0
    )
    assert (
        tables.write_pieces(again, iter(pieces), "samples_screened") == count
        and again.read_bytes() == path.read_bytes()
    )
    pd.testing.assert_frame_equal(tables.read_table(path, "samples_screened"), table.astype({"flags": "str"}))
    rows = np.arange(count) % 4 == 1
    some = tables.read_table(path, "samples_screened", ["flags", "time_utc"], "category", rows)
    assert (
        list(some) == ["time_utc", "flags"]
        and some["flags"].tolist() == table["flags"][rows].tolist()
        and some["time_utc"].tolist() == table["time_utc"][rows].tolist()
    )
    assert some["flags"].dtype == "category" and list(some["flags"].cat.categories) == sorted(
        set(table["flags"][rows])
    )


def test_a_column_stays_on_disk_until_it_is_asked_for(tmp_path):
    tables.write_table(tmp_path / "a.csv", long_table(), "samples_screened")
    table = tables.OnDisk(tmp_path / "a.csv", "samples_screened")
    assert "flags" in table and "battery" not in table
    assert table["solar_elevation"].tolist() == long_table()["solar_elevation"].tolist() and list(
        table[["solar_azimuth", "flags"]]
    ) == ["solar_azimuth", "flags"]
