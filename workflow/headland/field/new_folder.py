"""A new campaign folder: made of a guess at the files of its loggers, and previewed."""

from __future__ import annotations

import os
import shlex
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path

from headland.base.errors import UserErrors, refuse
from headland.field import new, phone, preview
from headland.field.grouping import Group, grouped
from headland.field.notes_workbook import notes_workbook
from headland.files.name_errors import file_name_errors
from headland.files.saved_workbook import saved
from headland.files.schemas import table_schema
from headland.files.writing import write_text

NEW_SETS = ("set_a", "set_b")
TITLE = "Field practical"


def refuse_full(folder: Path, shown: str) -> None:
    """Raise UserErrors where a folder holds something, or has a name that no campaign can have."""
    if errors := list(file_name_errors(folder, ())):
        raise UserErrors(errors)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        found = "is there already, and not empty"
        raise refuse(shown, None, found, "a new folder: nothing is ever written over")


def made(folder: Path, samples: Sequence[Path], shown: str, surfaces: Mapping[str, str]) -> list[str]:
    """Make a folder to fill in, and say what to do next.

    samples: files or folders of files off the loggers. shown: the folder as the user wrote it. surfaces:
    labels by class. Raises UserErrors where a sample can't be used.
    """
    groups, left = grouped(samples) if samples else ([], [])
    found = {group.name: group.found for group in groups}
    sets = found or dict.fromkeys(NEW_SETS)
    (folder / "logger").mkdir(parents=True)
    patterns = {group.name: _copied(group, folder / "logger") for group in groups}
    write_text(folder / "campaign.yaml", new.campaign_yaml(sets, TITLE, patterns))
    register = [field["name"] for field in table_schema("instruments")["fields"]]
    loggers = {name: entry.logger_id if entry else "" for name, entry in sets.items()}
    write_text(folder / "instruments.csv", new.register_csv(loggers, register))
    notes = notes_workbook(table_schema("notes")["fields"], list(sets), list(surfaces))
    (folder / "notes.xlsx").write_bytes(saved(notes))
    plan = [field["name"] for field in table_schema("plan")["fields"]]
    write_text(folder / "plan.csv", new.plan_csv(plan))
    write_text(folder / "phone.html", phone.made(TITLE, "", list(sets), list(surfaces)))
    write_text(folder / "GUIDE.md", new.guide(list(sets), surfaces, shown))
    word = shlex.quote(shown)
    return [
        f"Made {shown} with campaign.yaml, instruments.csv, notes.xlsx, phone.html (notes on a phone), "
        "plan.csv, GUIDE.md and the folder logger.",
        *(line for group in groups for line in _said(group)),
        *(f"  Left out: {text}." for text in left),
        f"Fill in what is empty, then run: python3 scripts/headland.py new {word} --preview. "
        f"After that: python3 scripts/headland.py report {word}. GUIDE.md is the page for the field.",
    ]


def _copied(group: Group, target: Path) -> str:
    """Copy the files of a set, and the pattern that finds them in the folder."""
    names = [path.name for path in group.files]
    start = os.path.commonprefix(names)
    own = len(set(names)) == len(names) and start.startswith(group.name)
    for path, name in zip(group.files, _file_names(group, own), strict=True):
        shutil.copyfile(path, target / name)
    return f"logger/{group.name}*"


def _file_names(group: Group, own: bool) -> list[str]:
    """The names of a set's files in the folder: their own where these begin with the set's name."""
    if own:
        return [path.name for path in group.files]
    names: list[str] = []
    for path in group.files:
        name = path.name if path.name.startswith(group.name) else f"{group.name}_{path.name}"
        names.append(name if name not in names else f"{group.name}_{len(names)}_{path.name}")
    return names


def _said(group: Group) -> list[str]:
    """What was worked out of a set: what to check, and its first rows."""
    files = f"{len(group.files)} file{'s' if len(group.files) > 1 else ''}"
    checks = [f"  CHECK in campaign.yaml, {key}: {doubt}" for key, doubt in group.found.doubts.items()]
    return [f"Set {group.name}, {files}:", *preview.of_sample(group.found), *checks]
