"""Make docs/results.md, docs/findings.md and docs/channel-check.svg again from the project's own tables.

No part of a run: call it when a table has changed.

Usage: python scripts/verbs/document.py
"""

from pathlib import Path

from headland.field import channel_drawing
from headland.field.timetable import COVER_SECONDS
from headland.files import config_tables, writing
from headland.files.schemas import table_schema
from headland.report import document

ROOT = Path(__file__).resolve().parents[2]
OURS = ROOT / "workflow" / "headland"


def main() -> None:
    schemas = {name: table_schema(name) for name in (*document.TABLES, *document.STEP_TABLES)}
    quantities, findings = (
        config_tables.read_config_table(OURS / f"{name}.csv").to_dict("records")
        for name in ("quantities", "checks/findings")
    )
    writing.write_text(ROOT / "docs" / "results.md", document.results_page(schemas, quantities))
    writing.write_text(ROOT / "docs" / "findings.md", document.findings_page(findings))
    writing.write_text(ROOT / "docs" / "channel-check.svg", channel_drawing.drawing(COVER_SECONDS) + "\n")


if __name__ == "__main__":
    main()
