"""The settings of a campaign: campaign.yaml with its layouts and overrides, checked, every default filled in.

All errors of the files are reported at once, each as one plain line with file, line, key, what was found and
what is allowed.
"""

from __future__ import annotations

import zlib
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path

from headland.base.errors import UserError, UserErrors
from headland.base.words import did_you_mean
from headland.files import credit
from headland.files.campaign_files import (
    missing_folder_or_settings,
    notes_files,
    optional_files,
    own_file_errors,
    raw_files,
)
from headland.files.layouts import read_layout, with_defaults, without_nulls
from headland.files.name_errors import set_name_errors
from headland.files.schema_errors import fits, schema_errors, shown
from headland.files.schemas import settings_schema
from headland.files.surfaces import surface_classes
from headland.files.yaml_files import Document, read_yaml

NO_SHIFT = "00:00:00"
NEED_FILES = (
    ("incoming_terms", "station", ("station",), "sets"),
    ("ground_heat", "measured", ("ground", "station"), "class_fraction"),
    ("latent_heat", "two_heights", ("levels",), "estimated"),
    ("latent_heat", "flux_station", ("station",), "estimated"),
)
"""Methods that need a table of the campaign: setting, its value, tables of which one must be there, and what
to set without one."""


def load(folder: Path, config: Path, needs: Collection[str] = ("notes", "register", "raw")) -> dict:
    """The settings of a campaign, checked and with every default filled in.

    Parameters
    ----------
    folder : the campaign folder.
    config : the project's config folder (layouts/, surfaces.csv).
    needs : what else must be there: field notes, the register of sensors, a raw file. Before and during a day
        they are not, and `notes_file` is then empty.

    Returns
    -------
    The mapping of campaign.yaml. Each set has its `layout` as a mapping and `raw`, its files' names. Added
    are `notes_file`, `weather_file`, `station_file`, `ground_file`, `levels_file`, `outlines_file`,
    `track_files` (of each set) and `surfaces` (the names of the known classes).

    Raises
    ------
    UserErrors with all errors found.
    """
    _raise_if(missing_folder_or_settings(folder))
    _raise_if(own_file_errors(folder))
    document = read_yaml(folder / "campaign.yaml", "campaign.yaml")
    if not isinstance(document.values, dict):
        wanted = "at least title, site and sets, each as `key: value`"
        raise UserErrors([UserError("campaign.yaml", 1, "no keys", wanted)])
    schema = settings_schema("campaign")
    given = without_nulls(document.values)
    errors = list(schema_errors(document, schema, given))
    settings = with_defaults(given, schema) if not errors else given
    settings["sets"], found = _sets(settings.get("sets"), folder, config, document)
    errors += found
    errors += set_name_errors(settings["sets"], document)
    errors += _method_errors(settings.get("methods"), settings["sets"], folder, document)
    errors += _place_errors(settings, document)
    errors += credit.errors_of(settings, document)
    errors += _missing_tables(folder, needs)
    overrides = _overrides(given, schema)
    surfaces, found = _surfaces(config / "surfaces.csv", overrides, document)
    errors += found
    if not errors and "raw" in needs:
        errors += _no_raw_file(settings["sets"], document)
    _raise_if(errors)
    return _completed(settings, folder, surfaces, overrides)


def _raise_if(errors: list[UserError]) -> None:
    if errors:
        raise UserErrors(list(dict.fromkeys(errors)))  # a schema may complain of one key several times


def _sets(given: object, folder: Path, config: Path, document: Document) -> tuple[dict, list[UserError]]:
    """Each set with its layout as a mapping and its files, and what is wrong with them."""
    schema = settings_schema("layout")
    sets: dict = {}
    errors: list[UserError] = []
    for name, entry in given.items() if isinstance(given, dict) else ():
        if not isinstance(entry, dict):
            sets[name] = entry
            continue
        by_name = entry["layout"] if isinstance(entry.get("layout"), str) else ""
        place = ("sets", name, "layout")
        found, layout = read_layout(entry.get("layout"), config / "layouts", document, place, schema)
        errors += found
        sets[name] = entry = {**entry, "layout": layout, "layout_name": by_name}
        if not found and isinstance(layout, dict) and entry.get("longwave") == "corrected":
            errors += _units_that_cannot_be_corrected(name, layout, document)
        if isinstance(entry.get("files"), str):
            found, entry["raw"] = raw_files(folder, document, name, entry["files"])
            errors += found
    return sets, errors


def _units_that_cannot_be_corrected(name: str, layout: Mapping, document: Document) -> Iterator[UserError]:
    for channel in ("lw_in", "lw_out"):
        unit = layout["channels"][channel]["unit"]
        if unit != "W m-2":
            found = f"sets.{name}.longwave is corrected, but {channel} is in {unit}"
            wanted = "net: only a flux in W m-2 can include the sensor's own emission"
            yield document.error(("sets", name, "longwave"), found, wanted)


def _method_errors(methods: object, sets: Mapping, folder: Path, document: Document) -> Iterator[UserError]:
    """Methods that name a set or a file that is not there."""
    if not isinstance(methods, dict):
        return
    scale, allowed = methods.get("set_scale"), ("none", "mean", *sets)
    if isinstance(scale, str) and scale not in allowed:
        wanted = f"none, mean, or one of the sets ({', '.join(sets)}){did_you_mean(scale, allowed)}"
        yield document.error(("methods", "set_scale"), f"methods.set_scale is {shown(scale)}", wanted)
    for method, value, kinds, other in NEED_FILES:
        there = any((folder / f"{kind}.{end}").is_file() for kind in kinds for end in ("csv", "xlsx"))
        if methods.get(method) == value and not there:
            names = " or ".join(f"{kind}.csv" for kind in kinds)
            found = f'methods.{method} is "{value}", but the folder holds no {names}'
            yield document.error(("methods", method), found, f'a file {names}, or "{other}"')


def _place_errors(settings: Mapping, document: Document) -> Iterator[UserError]:
    """A flux station whose fluxes are used must stand on a stated ground."""
    station, methods = settings.get("station"), settings.get("methods")
    if not isinstance(station, dict) or not isinstance(methods, dict):
        return
    if methods.get("latent_heat") == "flux_station" and not (station.get("surface") or station.get("field")):
        found = 'methods.latent_heat is "flux_station", but nothing says what the station measures'
        yield document.error(("methods", "latent_heat"), found, "station.surface or station.field")


def _missing_tables(folder: Path, needs: Collection[str]) -> Iterator[UserError]:
    notes = notes_files(folder)
    if "notes" in needs and len(notes) != 1:
        found = "both are there" if notes else "no such file"
        wanted = "exactly one file of field notes, notes.csv or notes.xlsx"
        wanted += ": delete the one that you did not fill in" if notes else ""
        yield UserError(" and ".join(notes) or "notes.csv", None, found, wanted)
    if "register" in needs and not (folder / "instruments.csv").is_file():
        wanted = "the register of sensors: one row for each sensor and certificate"
        yield UserError("instruments.csv", None, "no such file", wanted)


def _overrides(given: Mapping, schema: Mapping) -> dict:
    """The overrides of surface classes, where they have the right form."""
    overrides = given.get("overrides", {})
    return overrides.get("surfaces", {}) if fits(schema["properties"]["overrides"], overrides) else {}


def _surfaces(table: Path, overrides: Mapping, document: Document) -> tuple[list[str], list[UserError]]:
    """Names of the surface classes, and what is wrong with the overrides."""
    try:
        return list(surface_classes(table, overrides, document)), []
    except UserErrors as problem:
        return [], problem.errors


def _no_raw_file(sets: Mapping, document: Document) -> list[UserError]:
    if any(entry["raw"] for entry in sets.values()):
        return []
    first = next(iter(sets))
    wanted = f"raw files that match the globs, such as {shown(sets[first]['files'])} for {first}"
    found = "no set has a file: the folder holds no logger files"
    return [document.error(("sets", first, "files"), found, wanted)]


def _completed(settings: dict, folder: Path, surfaces: list[str], overrides: Mapping) -> dict:
    """The settings with those defaults that depend on other settings, and with the names of the campaign's
    files.
    """
    notes = settings["notes"]
    notes["timezone"] = notes.get("timezone") or settings["site"]["timezone"]
    notes["shift"] = notes.get("shift") or NO_SHIFT
    settings.setdefault("seed", zlib.crc32(settings["title"].encode("utf-8")))
    settings["notes_file"] = next(iter(notes_files(folder)), "")
    settings |= optional_files(folder, list(settings["sets"]))
    settings["surfaces"] = surfaces
    settings["overrides"] = {"surfaces": overrides}
    return settings


def changed(settings: Mapping) -> list[list[str]]:
    """What a campaign chose other than the defaults, as [key, value, default]. settings: as `load` returns
    them.
    """
    found = []
    for part, inner in settings_schema("campaign")["properties"].items():
        if part not in settings or part == "plan":  # a plan changes no result
            continue
        for key, entry in inner.get("properties", {}).items():
            if "default" in entry and settings[part][key] != entry["default"]:
                found.append([f"{part}.{key}", shown(settings[part][key]), shown(entry["default"])])
    if settings["notes"]["shift"] != NO_SHIFT:
        found.append(["notes.shift", settings["notes"]["shift"], NO_SHIFT])
    for surface, values in settings["overrides"]["surfaces"].items():
        for key, value in values.items():
            found.append([f"overrides.surfaces.{surface}.{key}", shown(value), "config/surfaces.csv"])
    return found
