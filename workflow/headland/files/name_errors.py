"""Names that a run can't work with: of the campaign's folder, of its files, of its sets. Refused before it
starts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from headland.base.errors import UserError
from headland.base.words import harmful
from headland.files.yaml_files import Document

NOT_IN_NAMES = "{}<>\t\n\r"
"""Characters that Snakemake or a page would read as their own, and ends of lines."""
LONGEST_PATH = 180
"""Characters of a file's name within its campaign folder: results are deeper, and systems end paths at 260 or
4096.
"""
PLAIN_NAME = "a name without braces, angle brackets and characters that don't print: rename it"
OUR_NAMES = ("all", "noted_intervals")
OUR_ENDINGS = ("_findings", "_certificates", "_untold", "_places")
"""Names and endings of the files that steps write beside those of the sets (workflow/rules)."""


def file_name_errors(folder: Path, names: Iterable[str]) -> Iterator[UserError]:
    """Errors in the names of the campaign's folder and of its files. names: relative to the folder."""
    if fault := _fault(str(folder.absolute())):
        yield UserError(folder.name, None, f"the path of the campaign folder holds {fault}", PLAIN_NAME)
    yield from errors_of_names(names)


def errors_of_names(names: Iterable[str]) -> Iterator[UserError]:
    """Errors in names of files that are, or will be, in a campaign folder."""
    for name in names:
        if fault := _fault(name):
            yield UserError(name, None, f"the file's name holds {fault}", PLAIN_NAME)
        elif len(name) > LONGEST_PATH:
            found = f"a name of {len(name)} characters"
            yield UserError(name, None, found, f"at most {LONGEST_PATH}: rename it, or use fewer folders")


def _fault(name: str) -> str:
    """The first character that a name may not hold; empty where there is none."""
    if code := harmful(name):
        return f"the character {code}" if code < "U+D800" or code > "U+DFFF" else "bytes that are not UTF-8"
    found = next((c for c in name if c in NOT_IN_NAMES), "")
    return f"the character {found!r}" if found else ""


def link_errors(
    folder: Path, names: Iterable[str], which: str = "the campaign folder"
) -> Iterator[UserError]:
    """An error for each file that is a link out of a folder. names: relative to it. which: how to call it."""
    root = folder.resolve()
    for name in names:
        path = folder / name
        if path.exists() and not path.resolve().is_relative_to(root):
            yield UserError(name, None, f"a link that leads out of {which}", "the file itself")


def set_name_errors(sets: Mapping, document: Document) -> Iterator[UserError]:
    """Errors for sets whose files would have the names of other files."""
    seen: dict[str, str] = {}
    for name in map(str, sets):
        path, lower = ("sets", name), name.lower()
        if lower in OUR_NAMES or lower.endswith(OUR_ENDINGS):
            wanted = (
                f"another name: {', '.join(OUR_NAMES)} and endings such as {OUR_ENDINGS[0]} are for our files"
            )
            yield document.error(path, f"the set {name} has a name of our own files", wanted)
        elif lower in seen:
            wanted = "names that differ in more than capitals: some systems take them for one"
            yield document.error(path, f"the set {name} is named like the set {seen[lower]}", wanted)
        seen.setdefault(lower, name)
