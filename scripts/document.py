"""Make docs/results.md and docs/findings.md anew from the project's own tables. No part of a run: call it when a table has changed.

Usage: python scripts/document.py
"""

from pathlib import Path

import package_path  # noqa: F401
from headland import document, tables

ROOT = Path(__file__).resolve().parents[1]
OURS = ROOT / "workflow" / "headland"


def main() -> None:
    schemas = {name: tables.schema(name) for name in (*document.TABLES, *document.STEP_TABLES)}
    quantities, findings = (tables.read_config_table(OURS / f"{name}.csv").to_dict("records") for name in ("quantities", "findings"))
    tables.write_text(ROOT / "docs" / "results.md", document.results_page(schemas, quantities))
    tables.write_text(ROOT / "docs" / "findings.md", document.findings_page(findings))


if __name__ == "__main__":
    main()
