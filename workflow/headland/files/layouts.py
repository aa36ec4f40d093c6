"""Layouts: how a logger's file is written. Given by name (config/layouts) or inside campaign.yaml."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from headland.base.errors import UserError, UserErrors
from headland.base.words import did_you_mean
from headland.files.schema_errors import schema_errors, shown
from headland.files.yaml_files import Document, dotted, read_yaml
from headland.physics.thermometers import EXAMPLES, OHMS, USUAL, read_thermometer


def read_layout(
    layout: object, folder: Path, document: Document, path: tuple, schema: Mapping
) -> tuple[list[UserError], object]:
    """The errors of a layout, and the layout with its defaults.

    Parameters
    ----------
    layout : a name, or the keys of a layout.
    folder : of the layouts by name.
    document, path : where campaign.yaml gives it.
    schema : of layouts.
    """
    if isinstance(layout, str):
        errors, named = _by_name(layout, folder, document, path)
        if named is None:
            return errors, layout
        document, path, layout = named, (), named.values
    if not isinstance(layout, dict):
        return [], layout  # its type was already found wrong
    given = without_nulls(layout)
    errors = list(schema_errors(document, schema, given, path))
    if errors:
        return errors, given
    whole = with_defaults(given, schema)
    whole["missing"] = [str(marker) for marker in whole["missing"]]
    return _column_errors(whole, document, path) + _thermometer_errors(whole, document, path), whole


def _by_name(
    name: str, folder: Path, document: Document, path: tuple
) -> tuple[list[UserError], Document | None]:
    """The errors of a layout's own file, and that file; None where it is no layout."""
    known = sorted(file.stem for file in folder.glob("*.yaml"))
    if name not in known:
        guess = did_you_mean(name, known)
        wanted = f"a layout in config/layouts ({', '.join(known)}), or one written here{guess}"
        return [document.error(path, f"{dotted(path)} is {shown(name)}", wanted)], None
    try:
        named = read_yaml(folder / f"{name}.yaml", f"config/layouts/{name}.yaml")
    except UserErrors as problem:
        return problem.errors, None
    if not isinstance(named.values, dict):
        wanted = "a layout: at least interval, time, stamp and channels, each as `key: value`"
        return [UserError(named.name, 1, "no keys", wanted)], None
    return [], named


def _column_errors(layout: Mapping, document: Document, path: tuple) -> list[UserError]:
    """Columns named where the file has no names, and columns given to two channels."""
    errors = []
    columns = {key: channel["column"] for key, channel in layout["channels"].items()}
    names = [column for column in columns.values() if isinstance(column, str)]
    if not layout["names"] and names:
        found = f"columns by name ({', '.join(names)}) with names: false"
        wanted = "positions from 1, since the file has no line of column names"
        errors.append(document.error((*path, "channels"), found, wanted))
    taken: dict = {}
    for key, column in columns.items():
        if column in taken:
            found = f"{key} has the same column {shown(column)} as {taken[column]}"
            errors.append(
                document.error((*path, "channels", key), found, "a column of its own for each channel")
            )
        taken[column] = key
    return errors


def _thermometer_errors(layout: Mapping, document: Document, path: tuple) -> list[UserError]:
    """Thermometers that can't be read, and those of a column that is no resistance."""
    errors = []
    for key, channel in layout["channels"].items():
        text = channel.get("thermometer", "")
        where = (*path, "channels", key, "thermometer")
        if text and channel["unit"] not in OHMS:
            wanted = "the unit ohm or kohm, or no thermometer: only a resistance needs its curve"
            errors.append(document.error(where, f"a thermometer for the unit {channel['unit']}", wanted))
            continue
        try:
            read_thermometer(text or USUAL)
        except ValueError as problem:
            found = f"thermometer is {shown(text)}, and {problem}"
            errors.append(document.error(where, found, f"a text such as {EXAMPLES}"))
    return errors


def without_nulls(values: Any) -> Any:
    """The values without keys that were left empty: an empty key gets its default."""
    if isinstance(values, dict):
        return {key: without_nulls(value) for key, value in values.items() if value is not None}
    return values


def with_defaults(values: Mapping, schema: Mapping) -> dict:
    """Values with the schema's defaults where a key is absent, at every level that has properties."""
    filled = dict(values)
    for key, inner in schema.get("properties", {}).items():
        if "default" in inner and filled.get(key) is None:
            filled[key] = inner["default"]
        has_keys = inner.get("type") == "object" and inner.get("properties")
        may_be_absent = not inner.get("required")
        if has_keys and (isinstance(filled.get(key), Mapping) or may_be_absent):
            filled[key] = with_defaults(filled.get(key) or {}, inner)
    return filled
