"""Words for people: one printable line, the nearest name, breaks in long words. Standard library only."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable

JOINERS = "\u200c\u200d\u200e\u200f\u00ad\t\n\r"
"""Characters that do not print and yet belong in names of some scripts, or in a remark of two lines."""
LONGEST_LINE = 1500
"""Characters of a line for people: the parts that come from a file may have any length."""
LONGEST_UNBROKEN = 14
"""Letters of a word that fits a narrow column without a break."""


def word_parts(word: str) -> list[str]:
    """A word in parts between which a line may break.

    A short word is one part. A longer one breaks after the punctuation of names, and else after every 8
    letters.
    """
    if len(word) <= LONGEST_UNBROKEN:
        return [word]
    return re.findall(r"[^-_./]{1,8}[-_./]*|[-_./]{1,8}", word)


def plain(text: str) -> str:
    """Text on one line of bounded length, with characters that don't print written as their codes.

    Nothing in it can control a terminal or change the direction of reading.
    """
    one_line = " ".join(text.split())[: LONGEST_LINE + 1]
    text = "".join(c if c.isprintable() else _code(c) for c in one_line)
    return text if len(text) <= LONGEST_LINE else text[: LONGEST_LINE - 3] + "..."


def _code(character: str) -> str:
    return character.encode("unicode_escape", "surrogatepass").decode("ascii")


def harmful(text: str) -> str:
    """The code (U+202E) of the first character that must not be in a text; empty where there is none.

    Such characters control a terminal, change the direction of reading or are no characters at all.
    """
    for character in text:
        separates = unicodedata.category(character) == "Zs"
        if not (character.isprintable() or character in JOINERS or separates):
            return f"U+{ord(character):04X}"
    return ""


def nearest(name: str, allowed: Iterable[str]) -> str:
    """The allowed name most like `name`, or an empty text where none is like it (for "did you mean")."""
    lower = {str(candidate).lower(): str(candidate) for candidate in allowed}
    match = difflib.get_close_matches(str(name).lower(), lower, n=1, cutoff=0.6)
    return lower[match[0]] if match else ""


def did_you_mean(name: str, allowed: Iterable[str]) -> str:
    """A part of a sentence that offers the nearest allowed name, or nothing: `; did you mean "walk"?`."""
    guess = nearest(name, allowed)
    return f'; did you mean "{guess}"?' if guess else ""
