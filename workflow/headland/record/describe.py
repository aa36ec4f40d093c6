"""The description of an archive's tables and files, datapackage.json."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from headland.report import package

MEDIA = {
    ".csv": "text/csv",
    ".json": "application/json",
    ".html": "text/html",
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".yaml": "application/yaml",
    ".md": "text/markdown",
    ".txt": "text/plain",
    ".py": "text/x-python",
    ".nc": "application/netcdf",
    ".cff": "application/yaml",
    ".smk": "text/plain",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


UNSTATED = "not stated: ask the authors"


def described_table(
    path: str,
    columns: Sequence[str],
    *,
    digest: str,
    size: int,
    schemas: Mapping[str, Mapping],
    quantities: Mapping[str, Mapping],
) -> dict:
    """A table's entry in datapackage.json.

    Parameters
    ----------
    path, columns, digest, size : of the file.
    schemas : the project's Table Schemas by name.
    quantities : rows of quantities.csv by quantity.

    Its schema is the one that holds its columns; columns that none holds are described by their names alone.
    """
    stem = path.rsplit("/", 1)[-1].removesuffix(".csv")
    fitting = [
        schema for schema in schemas.values() if set(columns) <= {field["name"] for field in schema["fields"]}
    ]
    schema: Mapping = {"name": stem, "title": stem, "description": "", "fields": ()}
    if fitting:  # of several, the one of its name; else the one with the fewest other columns
        schema = min(fitting, key=lambda schema: (schema["name"] != stem, len(schema["fields"])))
    fields = {field["name"]: field for field in schema["fields"]}
    own = [fields.get(column, {"name": column, "type": "string", "description": ""}) for column in columns]
    # a column that may be empty is required of the table, not of each row
    own = [{**field, "constraints": {}} if field.get("sometimes_empty") else field for field in own]
    described = {**{key: schema[key] for key in ("name", "title", "description")}, "fields": own}
    if "primaryKey" in schema and set(package.listed(schema["primaryKey"])) <= set(columns):
        described["primaryKey"] = schema["primaryKey"]
    entry = package.resource(path, digest, size, described, quantities)
    return {**entry, "name": package.name_of(path.removesuffix(".csv"))}


def described_file(path: str, digest: str, size: int) -> dict:
    """An entry of datapackage.json for a file that is no table of one head and rows."""
    ending = path[path.rfind(".") :] if "." in path else ""
    return {
        "profile": "data-resource",
        "type": "file",
        "name": package.name_of(path),
        "path": path,
        "bytes": size,
        "hash": f"sha256:{digest}",
        "mediatype": MEDIA.get(ending, "application/octet-stream"),
    }
