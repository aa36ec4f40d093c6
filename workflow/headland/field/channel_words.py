"""What the names of a file's columns mean, in six languages, and the units that exports write.

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
UNITS = {
    "mv": "mV",
    "millivolt": "mV",
    "uv": "uV",
    "µv": "uV",
    "μv": "uV",
    "w/m2": "W m-2",
    "w/(m2)": "W m-2",
    "wm-2": "W m-2",
    "degc": "degC",
    "deg.c": "degC",
    "°c": "degC",
    "c": "degC",
    "k": "K",
    "kelvin": "K",
    "ohm": "ohm",
    "ω": "ohm",
    "kohm": "kohm",
    "kω": "kohm",
    "v": "V",
    "volt": "V",
    "%": "%",
    "hpa": "hPa",
    "m/s": "m s-1",
    "s": "s",
    "-": "-",
}
"""Units as exports write them, in lower case, without blanks and hats."""
ENDING = re.compile(r"_(W_m-?2|mV|uV|degC|K|V|k?ohm)$", re.IGNORECASE)


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


def unit_of(text: str) -> str:
    """A unit as the project writes it; nothing where the text is no unit."""
    bare = re.sub(r"[\s^·\[\](){}]|\*\*", "", text).lower().replace("⁻²", "-2").replace("²", "2")
    return UNITS.get(bare, "")


def unit_in(name: str, below: str) -> str:
    """The unit of a column: from the line of units, from brackets in its name, or from the name's ending."""
    ending = ENDING.search(name)
    ends = ending[1].replace("W_m2", "W/m2").replace("W_m-2", "W/m2") if ending else ""
    for text in (below, *re.findall(r"[\[(]([^\])]+)[\])]", name), ends):
        unit = unit_of(text)
        if unit:
            return unit
    return ""
