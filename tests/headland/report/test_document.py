"""The pages: made ones equal what the tables give, links lead somewhere, and the manual leaves no setting
out.
"""

import json
import re
from pathlib import Path

import pytest

from headland.files import config_tables
from headland.files.schemas import table_schema
from headland.report import document

ROOT = Path(__file__).parents[3]
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    ROOT / "config" / "README.md",
    *sorted((ROOT / "docs").glob("*.md")),
]


def rows(name: str) -> list[dict]:
    return config_tables.read_config_table(ROOT / "workflow" / "headland" / f"{name}.csv").to_dict("records")


def test_the_page_of_results_is_what_the_schemas_give():
    schemas = {name: table_schema(name) for name in (*document.TABLES, *document.STEP_TABLES)}
    assert (ROOT / "docs" / "results.md").read_text(encoding="utf-8") == document.results_page(
        schemas, rows("quantities")
    )


def test_the_page_of_findings_is_what_the_table_gives():
    assert (ROOT / "docs" / "findings.md").read_text(encoding="utf-8") == document.findings_page(
        rows("checks/findings")
    )


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_to_files_that_are_there(page):
    for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), target


def keys(schema: dict) -> set[str]:
    found = set(schema.get("properties", {}))
    for part in (
        *schema.get("properties", {}).values(),
        *schema.get("anyOf", []),
        *schema.get("$defs", {}).values(),
    ):
        found |= keys(part)
    for name in ("additionalProperties", "items"):
        if isinstance(schema.get(name), dict):
            found |= keys(schema[name])
    return found


@pytest.mark.parametrize("name", ["campaign", "layout"])
def test_the_manual_names_every_setting(name):
    manual = (ROOT / "config" / "README.md").read_text(encoding="utf-8")
    schema = json.loads((ROOT / "workflow" / "schemas" / f"{name}.schema.json").read_text(encoding="utf-8"))
    assert len(keys(schema)) > 20
    missing = {
        key for key in keys(schema) if not re.search(rf"(?<![a-z_]){re.escape(key)}(?![a-z_])", manual)
    }
    assert not missing


def test_the_gallery_of_mistakes_names_pictures_and_codes_that_are_there():
    page = (ROOT / "docs" / "mistakes.md").read_text(encoding="utf-8")
    entries = re.findall(
        r"\]\(mistakes/([^)]+)\.png\)\n\n.*\*\*How it is found\*\* \(`([^`]+)`, (\w+)\)", page
    )
    pictures, codes = {picture for picture, _, _ in entries}, {code for _, code, _ in entries}
    known = {(row["code"], row["severity"]) for row in rows("checks/findings")}
    assert len(entries) == len(pictures) == page.count("](mistakes/") >= 20
    assert all(picture == code and (code, severity) in known for picture, code, severity in entries)
    assert {path.name for path in (ROOT / "docs" / "mistakes").iterdir()} == {
        f"{picture}.png" for picture in pictures
    }
    listed = page.partition("## Without a picture")[2].partition("*Code: commit")[0]
    without = set(re.findall(r"`([^`]+)`", listed))
    assert without | codes == {code for code, _ in known} and not without & codes


def test_the_gallery_s_pictures_are_small_and_differ():
    pictures = [path.read_bytes() for path in (ROOT / "docs" / "mistakes").iterdir()]
    assert (
        max(map(len, pictures)) < 300_000
        and sum(map(len, pictures)) < 1_500_000
        and len(set(pictures)) == len(pictures)
    )
