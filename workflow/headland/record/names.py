"""Names of files in an archive: which are refused, and how they are printed. Standard library only."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from pathlib import PurePosixPath

LONGEST_NAME, LONGEST_PART, MOST_PARTS = 1000, 200, 30
"""Characters of a name, bytes of a part of it, and parts: no archive of ours comes near."""
RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)")
SHOWN = 200
"""Characters of a name that are printed."""


def shown(name: str) -> str:
    """A name as it can be printed: nothing in it controls a terminal."""
    return "".join(
        c if c.isprintable() else c.encode("unicode_escape", "surrogatepass").decode("ascii")
        for c in name[:SHOWN]
    )[:SHOWN]


def fault_of_name(name: str) -> str:
    """Why a file in an archive may not have this name; empty where it may.

    An allowed name leaves no folder and means one thing on every system.
    """
    parts = name.split("/")
    if len(name) > LONGEST_NAME or len(parts) > MOST_PARTS:
        return "a name that is too long"
    if not all(c.isprintable() for c in name):
        return "a character that does not print"
    if any(c in name for c in '\\:*?"<>|%'):
        return 'one of the characters \\ : * ? " < > | %'
    if any(part in ("", ".", "..") for part in parts):
        return "a path that climbs, or begins or ends with /"
    if any(part[-1] in " ." or RESERVED.match(part) for part in parts):
        return "a part that some systems can't hold (it ends with a blank or a dot, or is a device's name)"
    if any(len(part.encode("utf-8", "surrogatepass")) > LONGEST_PART for part in parts):
        return "a name that is too long"
    return ""


def faults_of_names(names: Sequence[str]) -> list[str]:
    """What is wrong with names, alone and together.

    Together: two names that some system takes for one, and a file where a folder must be.
    """
    faults = [f"{shown(name)}: {fault}" for name in names if (fault := fault_of_name(name))]
    if faults:
        return faults
    alike = Counter(folded(name) for name in names)
    faults = [
        f"{shown(name)}: there is another file of this name, or of one that some systems take for it"
        for name in names
        if alike[folded(name)] > 1
    ]
    folders = {folded(str(parent)) for name in names for parent in PurePosixPath(name).parents}
    inside = [name for name in names if folded(name) in folders]
    return faults + [f"{shown(name)}: a file where a folder of this name is" for name in inside]


def folded(name: str) -> str:
    """A name as the least careful file system compares it."""
    return unicodedata.normalize("NFC", name).casefold()
