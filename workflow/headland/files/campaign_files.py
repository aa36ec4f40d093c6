"""Which files a campaign folder holds. No pattern, and no link, leads out of the folder."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from headland.base.errors import UserError
from headland.files.name_errors import file_name_errors, link_errors
from headland.files.schema_errors import shown
from headland.files.yaml_files import Document

LARGEST_LOGGER_FILE = 2_000_000_000
"""Bytes of a logger's file: a week at 10 Hz has a fifth of it."""
MOST_FILES = 5_000
"""Files of a set."""


def files_inside(folder: Path, pattern: str) -> list[str]:
    """Names, relative to `folder` and in sorted order, of the files that a glob matches, links included.

    Only plain files: devices and pipes are never opened.
    """
    return [path.relative_to(folder).as_posix() for path in sorted(folder.glob(pattern)) if path.is_file()]


def raw_files(folder: Path, document: Document, name: str, pattern: str) -> tuple[list[UserError], list[str]]:
    """The errors of a set's glob and of the files that it matches, and the files. name: of the set."""
    path, given = ("sets", name, "files"), f"sets.{name}.files"
    try:
        found = None if _leads_outside(pattern) else files_inside(folder, pattern)
    except (OSError, ValueError):  # an empty pattern, or a name that no file can have
        found = None
    if found is None:
        wanted = 'a glob inside the campaign folder, such as "logger/heron_*.csv"'
        return [document.error(path, f"{given} is {shown(pattern)}", wanted)], []
    closed = [
        part for part in Path(pattern).parents if (folder / part).is_dir() and not _opens(folder / part)
    ]
    if closed:
        return [not_yours(f"{closed[-1]}/", "folder")], []
    if len(found) > MOST_FILES:
        wanted = f"at most {MOST_FILES}: join the files, or narrow the glob"
        return [document.error(path, f"{given} matches {len(found)} files", wanted)], []
    wanted = f"at most {LARGEST_LOGGER_FILE}: the files of one campaign, exported by the day"
    if errors := [*file_name_errors(folder, found), *link_errors(folder, found), *_unread(folder, found)]:
        return errors, []
    sizes = {file: (folder / file).stat().st_size for file in found}
    return [
        UserError(file, None, f"the file has {size} bytes", wanted)
        for file, size in sizes.items()
        if size > LARGEST_LOGGER_FILE
    ], found


def not_yours(name: str, kind: str) -> UserError:
    """The error of a file or folder that the user may not read. kind: `file` or `folder`."""
    return UserError(name, None, f"you may not read this {kind}", f"a {kind} that you may: check who owns it")


def _opens(folder: Path) -> bool:
    """Whether the user may list a folder and open what it holds."""
    return os.access(folder, os.R_OK | os.X_OK)


def _leads_outside(pattern: str) -> bool:
    return bool(
        pattern.startswith(("/", "~", "\\"))
        or ".." in re.split(r"[/\\]", pattern)
        or re.match(r"^[A-Za-z]:", pattern)
        or "**" in pattern
    )


TIMED = ("weather", "station", "ground", "levels")
"""Tables of records in time that a campaign may have, each as CSV or as a workbook."""

OWN_FILES = (
    "campaign.yaml",
    "instruments.csv",
    "notes.csv",
    "notes.xlsx",
    *(f"{kind}.{ending}" for kind in TIMED for ending in ("csv", "xlsx")),
    "fields.geojson",
)


def own_file_errors(folder: Path) -> list[UserError]:
    """Errors in the path of the folder, and links out of it among the files that it holds by name."""
    names = (*OWN_FILES, *sorted(path.name for path in folder.glob("track*.gpx")))
    return [*file_name_errors(folder, ()), *link_errors(folder, names), *_unread(folder, names)]


def _unread(folder: Path, names: Sequence[str]) -> Iterator[UserError]:
    """An error for each name that can't be read: a folder, a pipe, a device, a broken link, or a file that
    the user may not open.
    """
    for name in names:
        path = folder / name
        if os.path.lexists(path) and not path.is_file():
            found = "no plain file, but a folder, a pipe, a device or a broken link"
            yield UserError(name, None, found, "a file, or nothing of this name")
        elif path.is_file() and not os.access(path, os.R_OK):
            yield not_yours(name, "file")


def missing_folder_or_settings(folder: Path) -> list[UserError]:
    """An error where the folder or its campaign.yaml is not there."""
    if not folder.is_dir():
        wanted = "the path of a campaign folder, which holds campaign.yaml"
        return [UserError(str(folder), None, "no such folder", wanted)]
    if not _opens(folder):
        return [not_yours(str(folder), "folder")]
    if unread := list(_unread(folder, ["campaign.yaml"])):
        return unread
    if not (folder / "campaign.yaml").is_file():
        others = [path for path in sorted(folder.iterdir()) if path.suffix in (".yml", ".yaml")]
        other = next((path.name for path in others if path.name != "campaign.yaml"), "")
        found = f"no such file{f' (there is {other})' if other else ''}"
        wanted = "each campaign folder holds a file campaign.yaml"
        return [UserError(f"{folder.name}/campaign.yaml", None, found, wanted)]
    return []


def notes_files(folder: Path) -> list[str]:
    """Names of the files of field notes; a campaign should have one."""
    return [name for name in ("notes.csv", "notes.xlsx") if (folder / name).is_file()]


def optional_files(folder: Path, sets: list[str]) -> dict:
    """Names of the files that a campaign may have, empty where it has none, and of each set's track."""

    def there(*names: str) -> str:
        return next((name for name in names if (folder / name).is_file()), "")

    return {
        **{f"{kind}_file": there(f"{kind}.csv", f"{kind}.xlsx") for kind in TIMED},
        "outlines_file": there("fields.geojson"),
        "track_files": {name: there(f"track_{name}.gpx", "track.gpx") for name in sets},
    }
