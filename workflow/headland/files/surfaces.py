"""Surface classes: the project's table (config/surfaces.csv) with a campaign's overrides."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from headland.base.classes import BOUNDS, CHOICES, SPLIT_PROPERTY, TOGETHER
from headland.base.errors import UserError, UserErrors
from headland.base.words import did_you_mean
from headland.files.config_tables import config_rows, number_of
from headland.files.schema_errors import shown
from headland.files.yaml_files import Document, dotted

NEEDED = ("albedo", "emissivity", "latent_method", "sky_response", "surface_minus_air")
"""Properties that each class must have. The others are for display, or have a default."""
IN_WORDS = ("label", "colour", "marker", *CHOICES)
ENDS = ("value", "low", "high")
WITHOUT_LINES = Document("campaign.yaml", None, {})
EMPTY = {"low": "", "high": "", "unit": ""}


def surface_classes(table: Path, overrides: Mapping, document: Document = WITHOUT_LINES) -> dict[str, dict]:
    """Surface classes as {class: {property: {value, low, high, unit, source, how}}}.

    Parameters
    ----------
    table : config/surfaces.csv.
    overrides : of a campaign, by class and property. A number keeps the table's range, widened to include it;
        {value, low, high} sets all three. A class of the campaign's own needs every property that each class
        has.
    document : campaign.yaml, for the lines of errors.
    """
    classes = _from_table(table)
    properties = {name for entry in classes.values() for name in entry}
    in_words = {name for name in properties if any(_is_text(entry, name) for entry in classes.values())}
    errors = []
    for surface, given in overrides.items():
        if not isinstance(given, Mapping):
            continue
        path = ("overrides", "surfaces", surface)
        new = surface not in classes
        entry = classes.setdefault(surface, {})
        for name, value in given.items():
            error, value = _override((*path, name), value, entry.get(name, {}), properties, in_words)
            if error:
                errors.append(document.error((*path, str(name)), *error))
            else:
                entry[name] = value
        missing = _missing(entry, set(NEEDED) if new else set())
        if missing:
            guess = did_you_mean(surface, set(classes) - {surface}) if new else ""
            found = f"the class {surface} lacks {', '.join(missing)}"
            errors.append(document.error(path, found, f"every value of a class{guess}"))
        if new:
            label = {
                "value": surface.replace("_", " "),
                **EMPTY,
                "source": "campaign.yaml",
                "how": "override",
            }
            entry.setdefault("label", label)
    if errors:
        raise UserErrors(errors)
    return classes


def _from_table(table: Path) -> dict[str, dict]:
    """The classes of surfaces.csv. Raises UserErrors with all that is wrong in it."""
    file = f"{table.parent.name}/{table.name}"
    classes: dict[str, dict] = {}
    errors = []
    for line, row in enumerate(config_rows(table), start=2):
        surface, name = row.get("surface", ""), row.get("property", "")
        entry = classes.setdefault(surface, {})
        if not surface or not name or name in entry:
            found = f"property {shown(name)} of surface {shown(surface)}"
            errors.append(UserError(file, line, found, "both names in each row, and each pair once"))
        elif fault := _fault(name, [row.get(end, "") for end in ENDS]):
            errors.append(UserError(file, line, f"{name} of {surface}: {fault[0]}", fault[1]))
        entry[name] = {
            **{end: number_or_text(row.get(end, "")) for end in ENDS},
            **{key: row.get(key, "") for key in ("unit", "source", "how")},
        }
    for surface, entry in classes.items():
        if missing := _missing(entry, {"label", *NEEDED}):
            errors.append(UserError(file, None, f"{surface} lacks {', '.join(missing)}", "a row for each"))
    if not classes:
        errors.append(UserError(file, None, "no rows", "the classes that come with the project"))
    if errors:
        raise UserErrors(errors)
    return classes


def _fault(name: str, cells: list[str]) -> tuple[str, str] | None:
    """What is wrong with value, low and high of a property: found, expected."""
    value, *_ = cells
    if name in IN_WORDS:
        fits = value in CHOICES.get(name, (value,)) and isinstance(number_or_text(value), str)
        wanted = " or ".join(CHOICES.get(name, ("text",)))
        return None if value and fits else (f"value is {shown(value)}", wanted)
    numbers = [number_of(cell) for cell in cells if cell]
    least, most = BOUNDS.get(name, (-math.inf, math.inf))
    if not value or not all(least <= one <= most for one in numbers):
        return (
            f"value, low and high are {', '.join(map(shown, cells))}",
            f"numbers from {least:g} to {most:g}",
        )
    low, high = (cell or value for cell in cells[1:])
    ordered = number_of(low) <= numbers[0] <= number_of(high)
    return None if ordered else ("value outside low and high", "low <= value <= high")


def _is_text(entry: Mapping, name: str) -> bool:
    return name in entry and isinstance(entry[name]["value"], str)


def _override(
    path: tuple, given: object, before: Mapping, properties: set[str], in_words: set[str]
) -> tuple[tuple[str, str] | None, dict]:
    """What is wrong with one override (found, expected; or None), and the property that it gives.

    before: the property in the table, empty where the class has none.
    """
    name, key = path[-1], dotted(path)
    if name not in properties:
        wanted = f"one of {', '.join(sorted(properties))}{did_you_mean(name, properties)}"
        return (f"unknown key {key}", wanted), {}
    value: dict[str, Any] = dict(given) if isinstance(given, Mapping) else {"value": given}
    text = name in in_words
    if isinstance(value["value"], str) != text:
        return (f"{key} is {shown(value['value'])}", "text" if text else "a number"), {}
    if text:
        choices = CHOICES.get(name, (value["value"],))
        if value["value"] not in choices:
            wanted = f"{' or '.join(choices)}{did_you_mean(value['value'], choices)}"
            return (f"{key} is {shown(value['value'])}", wanted), {}
    else:
        least, most = BOUNDS.get(name, (-math.inf, math.inf))
        if not all(least <= value[end] <= most for end in ENDS if end in value):
            return (f"{key} is {shown(given)}", f"a number from {least:g} to {most:g}"), {}
        value = _with_range(value, before)
        if not value["low"] <= value["value"] <= value["high"]:
            return (f"{key}: value outside low and high", "low <= value <= high"), {}
    whole = {**EMPTY, "unit": before.get("unit", ""), "source": "campaign.yaml", **value, "how": "override"}
    return None, whole


def _with_range(value: dict, before: Mapping) -> dict:
    """A number with its range: the given one, or the table's, widened to include the number."""
    low, high = (
        [x for x in (before.get(end), value["value"]) if x not in ("", None)] for end in ("low", "high")
    )
    return {"low": min(low), "high": max(high), **value}


def _missing(entry: Mapping, needed: set[str]) -> list[str]:
    """Properties that a class lacks: needed ones, its method's coefficient, one of two that go together."""
    wanted = set(needed)
    method = entry.get("latent_method", {}).get("value")
    if method in SPLIT_PROPERTY:
        wanted.add(SPLIT_PROPERTY[method])
    if set(TOGETHER) & set(entry):
        wanted |= set(TOGETHER)
    return sorted(wanted - set(entry))


def number_or_text(text: str) -> float | str:
    """A table's cell as a number where it is one."""
    try:
        return float(text)
    except ValueError:
        return text
