"""The files of a folder as sets: files of one logger and one way of writing belong together."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from headland.base.errors import UserError, UserErrors, refuse
from headland.field.sample import Found, found_in
from headland.files.campaign_files import not_yours
from headland.files.name_errors import errors_of_names, link_errors

MOST_FILES = 2000
"""Files and folders within a folder that is given."""
LETTERS = "abcdefghijklmnopqrstuvwxyz"
NO_ROWS = (
    "the data exported from the logger as delimited text: a row a record, columns separated by one character"
)


@dataclass
class Group:
    """The files of one set. found: their common layout."""

    name: str
    found: Found
    files: list[Path]


def files_of(paths: Sequence[Path]) -> list[Path]:
    """The files given, those of folders included.

    Raises UserErrors for what is not there, for a folder of too many files, for names that a campaign can't
    have, and for links out of a folder: a folder from elsewhere must not bring in other files of this
    computer.
    """
    files: list[Path] = []
    missing = [
        UserError(str(path), None, "no such file or folder", "a file, or a folder of files, off the logger")
        for path in paths
        if not path.exists()
    ]
    if missing:
        raise UserErrors(missing)
    for path in paths:
        inside = _inside(path)
        files += inside if path.is_dir() else [path]
        names = [str(file.relative_to(path)) for file in inside]
        missing += link_errors(path, names, "its folder")
    missing += errors_of_names([file.name for file in files])
    missing += [not_yours(str(file), "file") for file in files if not os.access(file, os.R_OK)]
    if missing:
        raise UserErrors(missing)
    return files


def _inside(path: Path) -> list[Path]:
    """The files in a folder and the folders below it. Raises UserErrors where there are none, or too many."""
    entries = list(islice(path.rglob("*"), MOST_FILES + 1))
    if len(entries) > MOST_FILES:
        wanted = "a folder of the files of one campaign"
        raise refuse(str(path), None, f"more than {MOST_FILES} files and folders in it", wanted)
    files = sorted(p for p in entries if p.is_file() and not p.name.startswith("."))
    if path.is_dir() and not files:
        wanted = "a folder of files off the logger, which you may read"
        raise refuse(str(path), None, "no files found in it", wanted)
    return files


def grouped(paths: Sequence[Path]) -> tuple[list[Group], list[str]]:
    """Sets by what their files hold, and the names of the files that hold no rows of numbers.

    Files belong to one set where logger and columns are the same and, where no file names a logger, the
    beginnings of their names. Raises UserErrors where no file holds rows of numbers.
    """
    groups: dict[tuple, Group] = {}
    left: list[UserError] = []
    for path in files_of(paths):
        try:
            found = found_in(path)
        except UserErrors as problem:
            left += problem.errors
            continue
        if found is None:
            left.append(UserError(path.name, None, "no rows of numbers found in it", NO_ROWS))
            continue
        key = (found.logger_id or stem_of(path), tuple(found.columns), found.layout["delimiter"])
        if key in groups:
            _add(groups[key], path, found)
        else:
            groups[key] = Group(set_name(path, [group.name for group in groups.values()]), found, [path])
    if not groups or (left and all(path.is_file() for path in paths)):
        raise UserErrors(left)
    return list(groups.values()), [f"{error.file}: {error.found}" for error in left]


def _add(group: Group, path: Path, found: Found) -> None:
    """One more file of a set. Files in different encodings are read each by its own."""
    group.files.append(path)
    if found.layout["encoding"] != group.found.layout["encoding"]:
        group.found.layout["encoding"] = "auto"
    # what one sample leaves open, another may show
    for key in [key for key in group.found.doubts if key.startswith("time") and key not in found.doubts]:
        group.found.layout["time"] = found.layout["time"]
        del group.found.doubts[key]
    missing = group.found.layout["missing"]
    missing += [text for text in found.layout["missing"] if text not in missing]


def stem_of(path: Path) -> str:
    """The beginning of a file's name, without digits and what follows them."""
    return re.split(r"[\W_]*\d", path.stem)[0].strip("_-. ")


def set_name(path: Path, taken: Sequence[str]) -> str:
    """A name for a set from the name of its file: letters, digits and hyphens.

    No name begins with another one: the files of a set are found by the beginning of their names.
    """
    name = re.sub(r"[^A-Za-z0-9-]+", "-", stem_of(path)).strip("-")[:30]
    others = (*taken, "set_")
    apart = not any(name.startswith(other) or other.startswith(name) for other in others)
    if re.match(r"[A-Za-z]", name) and apart:
        return name
    count = len(taken)
    return f"set_{LETTERS[count] if count < len(LETTERS) else count + 1}"
