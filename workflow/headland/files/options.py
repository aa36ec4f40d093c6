"""How steps read what several of them read: the project's tables of config, and what users wrote.

An option for a table that users write also returns what is wrong with it. One step passes that on; the others
use `silent`.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

from headland.base.findings import sentences
from headland.base.flags import limits_of
from headland.files import config_tables, user_tables
from headland.files.own_numbers import course_rows, quality_rows
from headland.files.step import Option
from headland.files.surfaces import surface_classes
from headland.files.tables import read_findings, read_table
from headland.files.uncertainty_terms import uncertainty_terms

CLASSES = Option(lambda path, settings: surface_classes(path, settings["overrides"]))
LIMITS = Option(lambda path, settings: limits_of(quality_rows(path)))
TERMS = Option(lambda path, settings: uncertainty_terms(path))
ROWS = Option(lambda path, settings: config_tables.config_rows(path))
COURSE = Option(lambda path, settings: course_rows(path))
CONFIG_TABLE = Option(lambda path, settings: config_tables.read_config_table(path))

NOTES = Option(lambda path, settings: user_tables.read_user_table(path, "notes"), finds=True)
REGISTER = Option(lambda path, settings: user_tables.read_user_table(path, "instruments"), finds=True)
WEATHER = Option(lambda paths, settings: user_tables.read_weather(paths), many=True, finds=True)
STATION = Option(lambda paths, settings: user_tables.read_station(paths), many=True, finds=True)
GROUND = Option(lambda paths, settings: user_tables.read_ground(paths), many=True, finds=True)
LEVELS = Option(lambda paths, settings: user_tables.read_levels(paths), many=True, finds=True)
FINDINGS = Option(lambda paths, settings: [one for path in paths for one in read_findings(path)], many=True)
FINDINGS_OF_STEPS = Option(
    lambda paths, settings: [
        (name, one)
        for path, name in zip(paths, settings["steps"], strict=True)
        for one in read_findings(path)
    ],
    many=True,
)
"""Findings with the steps that they are of. Settings: `steps`."""
SENTENCES = Option(lambda path, settings: sentences(path))
JSON = Option(lambda path, settings: json.loads(path.read_text(encoding="utf-8")))
JSONS = Option(
    lambda paths, settings: [json.loads(path.read_text(encoding="utf-8")) for path in paths], many=True
)
TEXT = Option(lambda path, settings: path.read_text(encoding="utf-8"))
PICTURES = Option(
    lambda folder, settings: {
        path.stem: path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.svg"))
    }
)
"""The figures in a folder as SVG, by name."""
TEXTS_OF_TABLES = Option(lambda paths, settings: {p.name: rows_of_text(p) for p in paths}, many=True)
"""Rows of tables as they are written, without their header, by the name of their file."""
TABLES = Option(lambda paths, settings: {path.stem: read_table(path, path.stem) for path in paths}, many=True)
"""Tables whose schema has the name of their file, by that name."""


def rows_of_text(path: Path) -> list[list[str]]:
    """The cells of a table of ours as they are written, without its header."""
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))[1:]


def silent(option: Option) -> Option:
    """The same without its findings, which another step passes on."""
    return Option(lambda given, settings: option.read(given, settings)[0], option.many)
