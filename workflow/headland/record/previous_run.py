"""The memory of a run for the next one: the folder steps/previous_run of the results."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from headland.files import user_tables, writing, yaml_files
from headland.record import changes

REMEMBERED = ("segments", "fields", "surfaces")


def this_run(campaign: Path, results: Path, settings: Mapping) -> changes.Run:
    """The run that has just ended. settings: `inputs` by sort, and the notes' file."""
    yaml = yaml_files.read_yaml(campaign / "campaign.yaml", "campaign.yaml")
    inputs = {
        **settings["inputs"],
        "settings": changes.flat(yaml.values),
        "notes": _rows_of(campaign / settings["notes_file"], "notes"),
        "instruments": _rows_of(campaign / "instruments.csv", "instruments"),
    }
    return changes.Run(inputs, _tables(results))


def before(results: Path) -> changes.Run | None:
    """The run before; None where there was none, or its memory can't be read."""
    memory = _memory(results)
    try:
        inputs = json.loads((memory / "inputs.json").read_text(encoding="utf-8"))
        return changes.Run(inputs, _tables(memory))
    except (OSError, ValueError, KeyError):
        return None


def is_same(one: changes.Run, other: changes.Run) -> bool:
    """Whether nothing went in or came out that differs."""
    return one.inputs == json.loads(json.dumps(other.inputs)) and all(
        one.tables[name].equals(other.tables[name]) for name in REMEMBERED
    )


def keep_time(results: Path) -> None:
    """Mark the memory as younger than the report."""
    (_memory(results) / "inputs.json").touch()


def remember(results: Path, run: changes.Run) -> None:
    """Keep this run for the next."""
    memory = _memory(results)
    memory.mkdir(parents=True, exist_ok=True)
    for name in REMEMBERED:
        shutil.copyfile(results / f"{name}.csv", memory / f"{name}.csv")
    writing.write_json(memory / "inputs.json", run.inputs)


def _memory(results: Path) -> Path:
    return results / "steps" / "previous_run"


def _tables(folder: Path) -> dict[str, pd.DataFrame]:
    """The remembered tables in a folder, every cell as text."""
    return {
        name: pd.read_csv(folder / f"{name}.csv", dtype=str, keep_default_na=False) for name in REMEMBERED
    }


def _rows_of(path: Path, kind: str) -> list[dict[str, str]]:
    """Rows of a table that a user wrote, as text."""
    frame, _ = user_tables.read_user_table(path, kind)
    return [{str(key): _text(value) for key, value in row.items()} for row in frame.to_dict("records")]


def _text(value: object) -> str:
    if value != value:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)
