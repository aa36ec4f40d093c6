"""The schemas in workflow/schemas: of tables (Table Schema) and of settings (JSON Schema)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path

SCHEMAS = Path(__file__).parents[2] / "schemas"


@cache
def table_schema(name: str) -> Mapping:
    """The Table Schema of a table: its columns with their types, units, decimals and constraints."""
    return json.loads((SCHEMAS / f"{name}.json").read_text(encoding="utf-8"))


def settings_schema(name: str) -> dict:
    """The JSON Schema of campaign.yaml (`campaign`) or of a layout (`layout`)."""
    return json.loads((SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8"))
