"""The description of the result tables as a Data Package (an open standard for tabular data)."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from headland.files import options, step
from headland.files.digests import digest
from headland.files.schemas import table_schema

READS = {"quantities": options.ROWS, "tables": step.PATHS}


def of_tables(
    paths: Sequence[Path], quantities: Sequence[Mapping[str, str]], settings: Mapping
) -> dict[str, Any]:
    """The Data Package of a campaign's tables. settings: `name`, `title`, `credit`, and the schemas of the
    `tables`."""
    by_quantity = {row["quantity"]: row for row in quantities}
    described = [
        resource(path.name, digest(path), path.stat().st_size, table_schema(name), by_quantity)
        for path, name in zip(paths, settings["tables"], strict=True)
    ]
    return package(settings["name"], settings["title"], described, settings.get("credit"))


ORCID, DOI = "https://orcid.org/", "https://doi.org/"
"""Addresses before an identifier."""


def credited(credit: Mapping) -> dict:
    """Authors, licence and DOI as the standard writes them; what is not given is left out.

    credit: as `files.credit.of` gives it.
    """
    codes = credit["orcid"]
    people = [
        {"title": name, "role": "author", **({"path": ORCID + codes[name]} if name in codes else {})}
        for name in credit["authors"]
    ]
    return {
        **({"id": DOI + credit["doi"]} if credit["doi"] else {}),
        **({"licenses": [{"name": credit["licence"]}]} if credit["licence"] else {}),
        **({"contributors": people} if people else {}),
    }


def package(name: str, title: str, resources: Sequence[Mapping], credit: Mapping | None = None) -> dict:
    """The Data Package of one campaign.

    name: of the campaign folder, made fit for the standard's names. credit: authors, ORCID iDs, DOI, licence.
    """
    return {
        "profile": "tabular-data-package",
        "name": name_of(name),
        "title": title,
        **(credited(credit) if credit else {}),
        "resources": list(resources),
    }


def resource(path: str, sha256: str, size: int, schema: Mapping, quantities: Mapping[str, Mapping]) -> dict:
    """One table's description: its file with digest and size, and each column with title, unit and meaning.

    schema: the project's own Table Schema of it. quantities: rows of quantities.csv by quantity, for symbols
    and CF standard names.
    """
    return {
        "profile": "tabular-data-resource",
        "name": name_of(schema["name"]),
        "path": path,
        "title": schema["title"],
        "description": schema["description"],
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": size,
        "hash": f"sha256:{sha256}",
        "dialect": {"delimiter": ",", "lineTerminator": "\n", "header": True},
        "schema": {
            "fields": [_field(field, quantities) for field in schema["fields"]],
            "missingValues": [""],
            **({"primaryKey": schema["primaryKey"]} if "primaryKey" in schema else {}),
        },
    }


def _field(field: Mapping, quantities: Mapping[str, Mapping]) -> dict:
    result = {
        "name": field["name"],
        "type": field["type"],
        "title": field["name"].replace("_", " "),
        "description": field["description"],
    }
    if "unit" in field:
        result["unit"] = field["unit"]
    row = quantities.get(field.get("quantity", ""))
    if row:
        result |= {
            key: row[source]
            for key, source in (
                ("symbol", "symbol"),
                ("standardName", "standard_name"),
                ("equation", "equation"),
            )
            if row[source]
        }
    if field["type"] == "datetime":
        result["format"] = "any"  # ISO 8601, with or without decimals of a second
    constraints = {
        key: value for key, value in field.get("constraints", {}).items() if key in ("required", "enum")
    }
    return result | ({"constraints": constraints} if constraints else {})


def listed(key: str | Sequence[str]) -> list[str]:
    """A primary key as the list of its columns."""
    return [key] if isinstance(key, str) else list(key)


def name_of(text: str) -> str:
    """A text as the standard allows it for a name: small letters, digits, points and dashes."""
    return re.sub(r"[^a-z0-9._-]+", "-", text.lower().replace("_", "-")).strip("-.") or "campaign"
