"""Two hops from a printed number: to its row of quantities.csv, and to its function with source and equation.

docs/method.md is the one record of the science: what it names exists, and what the tables print is in it.
"""

import csv
import importlib
import json
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
METHOD = (ROOT / "docs" / "method.md").read_text(encoding="utf-8")
BIB = (ROOT / "docs" / "references.bib").read_text(encoding="utf-8")
SECTIONS = dict(re.findall(r"^## (\d+\.\d+) [^\n]*\n(.*?)(?=^## \d|^# \d|\Z)", METHOD, flags=re.S | re.M))
PATH = re.compile(r"`((?:base|physics|files|uncertainty|checks|chain|report|field|course|record)\.[\w.]+)`")
CITED = re.compile(r"\[([a-z]+\d*(?:[,;][^\]]*)?)\](?!\()")
UNIT_OR_SOURCE = re.compile(
    r"W m-2|degC|\bK\b|degree|percent|\bm s-1|mm h-1|, s[;,.]|\bs\b|\bm\b|relative|fraction|share|ratio|"
    r"JCGM|ISO|FAO|IEC|definition|common practice|from memory|(?:19|20)\d\d"
)
FINDINGS = "workflow/headland/checks/findings.csv"

PRINTED = [
    ("surfaces.csv", "sw_in", "calibrate.sw_in"),
    ("surfaces.csv", "lw_out", "correct_longwave.lw_out"),
    ("surfaces.csv", "albedo", "summarise.albedo"),
    ("surfaces.csv", "net_radiation", "summarise.net_radiation"),
    ("surfaces.csv", "net_radiation_low", "propagate.interval_low"),
    ("surfaces.csv", "net_radiation_high", "propagate.interval_high"),
    ("surfaces.csv", "net_radiation_common_sky", "summarise.net_radiation_common_sky"),
    ("surfaces.csv", "ground_heat", "balance.ground_heat"),
    ("surfaces.csv", "latent_heat", "balance.latent_heat"),
    ("surfaces.csv", "evaporation", "balance.evaporation"),
    ("segments.csv", "surface_temperature", "summarise.surface_temperature"),
    ("segments.csv", "solar_elevation", "screen.solar_elevation"),
    ("differences.csv", "difference", "propagate.difference"),
    ("differences.csv", "difference_low", "propagate.interval_low"),
    ("differences.csv", "distinguishable", "propagate.distinguishable"),
    ("differences.csv", "as_visited", "propagate.as_visited"),
    ("surfaces.csv", "net_radiation_by_hand", "propagate.by_hand"),
    ("uncertainty_budget.csv", "share", "propagate.share"),
    ("uncertainty_budget.csv", "half_width_95", "propagate.half_width_95"),
    ("intercomparison.csv", "ratio", "propagate.ratio"),
    ("intercomparison.csv", "e_n", "propagate.e_n"),
    ("against_station.csv", "e_n", "propagate.e_n"),
    ("own-shade", "{loss}", "diagnose.loss"),
    ("strip-narrow", "{share}", "diagnose.beside"),
    ("sets-disagree", "{percent}", "diagnose.percent"),
    ("head-tilted", "{degrees}", "diagnose.lean"),
    ("swing-strong", "{degrees}", "diagnose.swing"),
    ("clock-against-sun", "{minutes}", "diagnose.clock_against_sun"),
    ("a dash in a table", "–", "summarise.withheld"),
]
"""Where a number is printed, the column or the name in braces that holds it, its key in quantities.csv."""


def rows(path: str) -> list[dict]:
    with (ROOT / path).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


QUANTITIES = {row["key"]: row for row in rows("workflow/headland/quantities.csv")}


def schema(name: str) -> list[dict]:
    return json.loads((ROOT / "workflow" / "schemas" / f"{name}.json").read_text(encoding="utf-8"))["fields"]


def named(path: str):
    """What a dotted path below `headland` names."""
    module, name = path.rsplit(".", 1)
    return getattr(importlib.import_module(f"headland.{module}"), name)


def where_printed(page: str, item: str) -> bool:
    """Whether a page has a column or a finding has a fact of that name."""
    if page.endswith(".csv"):
        return item in {field["name"] for field in schema(page.removesuffix(".csv"))}
    if item.startswith("{"):
        return any(item in row["what"] for row in rows(FINDINGS) if row["code"] == page)
    return item == QUANTITIES["summarise.withheld"]["symbol"]


@pytest.mark.parametrize(("page", "item", "key"), PRINTED, ids=lambda value: str(value))
def test_a_printed_number_leads_to_its_function_and_its_section(page, item, key):
    assert where_printed(page, item)
    row = QUANTITIES[key]
    function = named(row["function"])
    assert callable(function)
    assert UNIT_OR_SOURCE.search(function.__doc__), row["function"]
    section = SECTIONS[row["section"]]
    assert f"`{row['function']}`" in section and "ource" in section


@pytest.mark.parametrize("row", QUANTITIES.values(), ids=lambda row: row["key"])
def test_every_quantity_has_a_section_that_names_its_function(row):
    assert f"`{row['function']}`" in SECTIONS[row["section"]]


TABLES = (
    "segments",
    "fields",
    "surfaces",
    "differences",
    "uncertainty_budget",
    "intercomparison",
    "against_station",
    "linear_check",
)


@pytest.mark.parametrize("table", TABLES)
def test_every_column_with_a_unit_has_a_row(table):
    quantities = {row["quantity"] for row in QUANTITIES.values()}
    for field in schema(table):
        name = re.sub(r"_by_hand$", "", re.sub(r"_(low|high)$", "", field["name"]))
        if field.get("unit"):
            assert name in quantities or field.get("quantity") in quantities, field["name"]


def test_every_function_of_the_method_exists():
    paths = sorted(set(PATH.findall(METHOD)))
    assert len(paths) > 90
    assert all(callable(named(path)) for path in paths)


def test_every_work_that_is_cited_has_a_full_entry_and_every_entry_is_cited():
    entries = dict(re.findall(r"^@\w+\{(\w+), (.*)\}$", BIB, flags=re.M))
    cited = {part.split(",")[0].strip() for text in CITED.findall(METHOD) for part in text.split(";")}
    cited = {key for key in cited if not key.startswith("eq.")}
    assert cited == set(entries)
    for key, entry in entries.items():
        assert all(f"{field} = " in entry for field in ("author", "title", "year", "note")), key
        assert any(f"{field} = " in entry for field in ("journal", "institution", "publisher")), key


def test_sections_that_are_cited_exist():
    texts = [*ROOT.glob("workflow/headland/**/*.py"), *ROOT.glob("workflow/headland/**/*.csv")]
    texts += [*ROOT.glob("config/*.csv"), *ROOT.glob("tests/published/*.csv"), ROOT / "docs" / "glossary.md"]
    cited = set()
    for path in texts:
        text = " ".join(path.read_text(encoding="utf-8").split())
        cited |= set(re.findall(r"(?:method\.md, |\()section (\d+\.\d+)", text))
    assert len(cited) > 15
    assert cited <= set(SECTIONS)


def test_no_number_has_this_project_as_its_source():
    """A choice is argued in a section of docs/method.md, or says "common practice, no source"."""
    for folder in ("config", "tests/published", "docs", "workflow"):
        for path in (ROOT / folder).rglob("*"):
            if path.suffix in (".py", ".csv", ".md"):
                text = " ".join(path.read_text(encoding="utf-8").split())
                for source in ("methods of this project", "choice of this project"):
                    assert source not in text, path
