"""What is needed before any library is loaded: words for faults that a user can mend, the project's own small tables as text, digests.

The Snakefile reads a campaign's settings on each run, also where there is nothing to do: what it imports is paid each time.
"""

from __future__ import annotations

import csv
import difflib
import hashlib
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

JOINERS = "\u200c\u200d\u200e\u200f\u00ad\t\n\r"
"""What does not print and yet belongs into names in some scripts, or into a remark of two lines."""
LONGEST_LINE = 1500
"""Characters of a line for people: what a file brings into it may be of any length."""


def word_parts(word: str) -> list[str]:
    """A word in parts between which a line may break: where it has more than 14 letters, after what parts a name, else every 8."""
    return re.findall(r"[^-_./]{1,8}[-_./]*|[-_./]{1,8}", word) if len(word) > 14 else [word]


@dataclass(frozen=True)
class UserError:
    """A fault that a user can mend: where it is, what was found there, what was expected."""

    file: str
    line: int | None
    found: str
    expected: str

    def __str__(self) -> str:
        where = self.file + (f", line {self.line}" if self.line else "")
        return plain(f"{where}: {self.found}; expected {self.expected}")


class UserErrors(Exception):
    """All the faults of one reading, reported together."""

    def __init__(self, errors: Sequence[UserError]):
        super().__init__("\n".join(map(str, errors)))
        self.errors = list(errors)


def plain(text: str) -> str:
    """Text on one line of bounded length, in which nothing steers a terminal or turns the direction of reading: such characters are written as their codes."""
    text = "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in " ".join(text.split())
    )
    return text if len(text) <= LONGEST_LINE else text[: LONGEST_LINE - 3] + "..."


def harmful(text: str) -> str:
    """The first character of a text that steers a terminal, turns the direction of reading or is none at all, as its code (U+202E); empty where there is none."""
    return next(
        (
            f"U+{ord(c):04X}"
            for c in text
            if not c.isprintable() and c not in JOINERS and unicodedata.category(c) != "Zs"
        ),
        "",
    )


def nearest(name: str, allowed: Iterable[str]) -> str:
    """The allowed name most like `name`, or an empty text where none is like it (for "did you mean")."""
    lower = {str(candidate).lower(): str(candidate) for candidate in allowed}
    match = difflib.get_close_matches(str(name).lower(), lower, n=1, cutoff=0.6)
    return lower[match[0]] if match else ""


def did_you_mean(name: str, allowed: Iterable[str]) -> str:
    """A sentence part that offers the nearest allowed name, or nothing: `; did you mean "walk"?`."""
    guess = nearest(name, allowed)
    return f'; did you mean "{guess}"?' if guess else ""


def digest(path: Path) -> str:
    """SHA-256 of a file's content, in hexadecimal."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def digest_of(content: bytes) -> str:
    """SHA-256 of a content in memory, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def config_rows(path: Path) -> list[dict[str, str]]:
    """The rows of a table of the project (config/*.csv), every cell as text. ValueError where the file is no such table."""
    with path.open(encoding="utf-8", newline="") as stream:
        try:
            head, *rows = list(csv.reader(stream, strict=True)) or [[]]
        except csv.Error as problem:
            raise ValueError(str(problem)) from None
    if not head:
        raise ValueError("it is empty")
    for number, row in enumerate(rows, start=2):
        if len(row) > len(head):
            raise ValueError(f"row {number} has {len(row)} cells, more than the {len(head)} columns")
    return [dict(zip(head, row + [""] * (len(head) - len(row)))) for row in rows if any(row)]
