"""The project's own tables and schemas."""

import csv
import json

import pytest

from columns import COLUMNS
from headland.base import findings
from headland.base.findings import Finding
from headland.files import config_tables
from headland.files.schemas import table_schema

from .made_tables import PROJECT, SCHEMAS

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
