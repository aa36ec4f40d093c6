"""What the names of a file's columns mean, in six languages.

The words are in channel_words.csv: `corta*` is the beginning of a word, `*globalstrahl*` any part of one, and
the others are whole words.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from pathlib import Path

from headland.files.config_tables import config_rows

WORDS = Path(__file__).with_name("channel_words.csv")


def plain_words(text: str) -> str:
    """A name as words in lower case, without accents, with blanks around each: `LangwelligOben` is `
    langwellig oben `."""
    text = re.sub(r"(?<=[a-zß-ÿ])(?=[A-Z])", " ", text)
    text = unicodedata.normalize("NFKD", text.casefold().replace("ß", "ss"))
    text = "".join(c for c in text if not unicodedata.combining(c))
    return f" {' '.join(re.findall(r'[a-z0-9°/]+', text))} "


@cache
def patterns() -> dict[str, re.Pattern]:
    """What finds a meaning in a name as `plain_words` gives it, by meaning."""
    words: dict[str, list[str]] = {}
    for row in config_rows(WORDS):
        words.setdefault(row["meaning"], []).append(_pattern(row["word"]))
    return {meaning: re.compile("|".join(parts)) for meaning, parts in words.items()}


def _pattern(word: str) -> str:
    core = re.escape(plain_words(word.strip("*")).strip())
    before = "" if word.startswith("*") else r"(?<=[ ])"
    after = "" if word.endswith("*") else r"(?=[ 0-9])"
    return f"{before}{core}{after}"


def means(name: str, meaning: str) -> bool:
    """Whether a name holds a word of a meaning."""
    return bool(patterns()[meaning].search(plain_words(name)))
