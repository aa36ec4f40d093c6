"""More readers of untrusted input: thermometers, a plan's outlines, two archives, settings with every key."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import yaml

from headland.base.errors import refuse
from headland.field import plan
from headland.files import settings
from headland.physics import thermometers
from headland.record import bag, intact, two
from study import mutate_text
from study.fuzz_guard import ROOT, plain
from study.fuzz_inputs import classes, folders
from study.fuzz_readers import (
    PLACES,
    PLANNED,
    READERS,
    Reader,
    archives,
    of_archive,
    of_places,
    read_settings,
)
from study.fuzz_tables import TABLES
from study.mutate import Case, of_kind

THERMOMETERS = b"""pt100
pt1000
beta 10000 3950
steinhart-hart 1.13e-3 2.34e-4 8.8e-8
table -40 336500; -20 97080; 0 32650; 25 10000; 50 3602
"""
RESISTANCES = np.array([-1.0, 0.0, 1e-300, 1.0, 100.0, 1e4, 3e5, 1e300, np.inf, np.nan])
EVERY_KEY = {
    "authors": ["A. B."],
    "weather": {"air_temperature": 18.0, "relative_humidity": 60, "pressure": 980, "wind_speed": 2.5},
    "methods": {
        "certificate": "interpolate",
        "ground_heat": "measured",
        "latent_heat": "bulk_transfer",
        "green_cover": "de_bruin_holtslag",
        "set_scale": "mean",
        "one_sided": "leave",
        "incoming_terms": "station",
    },
    "measured": {"stamp": "middle", "wind_height": 2.0, "air_height": 2.0},
    "station": {"stamp": "start", "surface": "short_grass"},
    "positions": {"uncertainty": 2.5, "field_name": "name"},
    "overrides": {"surfaces": {"short_grass": {"albedo": {"value": 0.2, "low": 0.1, "high": 0.3}}}},
    "plan": {"date": "2026-05-21", "start": "10:00", "end": "15:00", "rounds": 2, "sky_monitor": True},
    "seed": 7,
}


def read_thermometers(folder: Path) -> int:
    """Each line as the text of a thermometer, and temperatures at resistances that a logger may give."""
    faults = 0
    text = (folder / "thermometers.txt").read_bytes().decode("utf-8", "replace")
    for line in text.splitlines()[:200]:
        try:
            known = thermometers.read_thermometer(line[:300])  # as much as a table's cell keeps
        except ValueError as problem:
            plain(str(problem), "what is wrong with a thermometer")
            faults += 1
            continue
        celsius = np.asarray(known.celsius(RESISTANCES))
        assert celsius.shape == RESISTANCES.shape and not np.isinf(celsius).any(), line
    return faults


def read_outlines(folder: Path) -> int:
    """Fields of a plan whose lengths come from outlines."""
    chosen = settings.load(folder, ROOT / "config", needs=())
    plan.fields_of(folder, classes(), chosen["positions"]["field_name"])
    return 0


def outlined() -> list[Case]:
    rows = b"field,surface,length,headings,outline\nLower meadow,short_grass,,60-120,fields.geojson\n"
    chosen = PLANNED["campaign.yaml"] + b"positions: {field_name: name}\n"
    more = b"Dry tilth,bare_dry_soil,60,any,fields.geojson\n"
    return [
        {
            "campaign.yaml": chosen,
            "plan.csv": rows + more,
            "fields.geojson": PLACES["fields.geojson"],
        }
    ]


def read_two_archives(folder: Path) -> int:
    """What `verify A B` says of two archives, of which one is sound."""
    with (folder / "run.zip").open("rb") as stream:
        sound, archive = bag.opened(io.BytesIO(archives()[0]["run.zip"])), bag.opened(stream)
        if faults := intact.faults(archive):
            raise refuse("run.zip", None, faults[0], "an archive")
        said = two.differences(sound, archive), two.differences(archive, sound)
    for lines in said:
        for line in (line for about in lines.values() for line in about):
            plain(line, "a difference")
    return len(said[0])


def settings_with_every_key() -> list[Case]:
    own = yaml.safe_load(folders()[1]["campaign.yaml"])
    written = yaml.safe_dump(own | EVERY_KEY, sort_keys=False, allow_unicode=True).encode()
    return [{"campaign.yaml": written, "station.csv": b"", "ground.csv": b""}]


def of_text(name: str) -> Sequence:
    return (mutate_text.table,) * 3 + (mutate_text.bits, mutate_text.cut, mutate_text.inserted)


def of_outlines(name: str) -> Sequence:
    return of_places(name) if name.endswith("json") else of_kind(name)


MORE: dict[str, Reader] = {
    "thermometers": Reader(lambda: [{"thermometers.txt": THERMOMETERS}], read_thermometers, of_text),
    "outlines": Reader(outlined, read_outlines, of_outlines, fixed=("campaign.yaml",)),
    "two-archives": Reader(archives, read_two_archives, of_archive),
    "every-key": Reader(settings_with_every_key, read_settings, fixed=("station.csv", "ground.csv")),
}
ALL = READERS | MORE | TABLES
"""Every reader by its name."""
