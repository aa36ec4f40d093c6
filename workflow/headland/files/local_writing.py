"""Tables as people of different countries write them: names of columns, decimal commas, dates and times.

A table is read as it is written, and one finding says how. What can be read in two ways is left as it is.
"""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

from headland.base.findings import Finding
from headland.files.config_tables import config_rows

WORDS = Path(__file__).with_name("column_words.csv")
COMMA = re.compile(r"[-+]?\d*,\d+")
GROUPED = re.compile(r"[-+]?\d{1,3}(\.\d{3})+,\d+")
DATE = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})")
CLOCK = re.compile(r"(\d{1,2})\s*[.h]\s*([0-5]\d)(?:\s*[.:m]\s*([0-5]\d))?s?", re.IGNORECASE)
CENTURY = 2000
"""Years of two digits belong to it."""


@cache
def _columns(kind: str) -> dict[str, str]:
    """The columns of a table by the words that people write for them."""
    rows = (row for row in config_rows(WORDS) if row["table"] == kind)
    return {_plain(row["word"]): row["column"] for row in rows}


def _plain(text: str) -> str:
    """A name without accents, units in brackets, blanks and underscores at its ends."""
    text = re.sub(r"[\[(].*?[\])]", "", text.casefold().replace("ß", "ss"))
    text = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return " ".join(re.split(r"[\s_]+", text.strip(" :.")))


def columns_of(header: Sequence[str], kind: str, allowed: Sequence[str]) -> tuple[list[str], dict[str, str]]:
    """The columns of a table by our names, and those that were written otherwise: ours by theirs.

    A name that is ours already comes first: no other column takes it.
    """
    spelt = {_plain(name): name for name in allowed}
    words = _columns(kind)
    taken = {name for name in header if name in allowed}
    columns, renamed = [], {}
    for name in header:
        plain = _plain(name)
        meant = spelt.get(plain) or words.get(plain, "")
        if name not in allowed and meant and meant not in taken:
            taken.add(meant)
            renamed[name] = meant
            columns.append(meant)
        else:
            columns.append(name)
    return columns, renamed


def with_local_forms(records: list[dict], fields: Sequence[Mapping]) -> tuple[list[dict], dict[str, str]]:
    """Records with numbers, dates and times as our tables write them, and an example of each form that was
    read."""
    seen: dict[str, str] = {}
    day_first = _day_first([text for text in _dates(records, fields)])
    for record in records:
        for field in fields:
            text = record.get(field["name"], "")
            form, plain = _plain_cell(text, field, day_first)
            if form:
                seen.setdefault(form, text)
                record[field["name"]] = plain
    return records, seen


def _plain_cell(text: str, field: Mapping, day_first: bool | None) -> tuple[str, str]:
    """The form of a cell that is written in a local way, and the cell as our tables write it."""
    if field["type"] in ("number", "integer"):
        plain = number(text)
        return ("decimal commas", plain) if plain != text else ("", text)
    if field.get("clock"):
        plain = clock(text)
        return ("times without a colon", plain) if plain != text else ("", text)
    if field["type"] in ("date", "datetime") or field["name"].endswith("_utc"):
        plain = date(text, day_first)
        return ("local dates", plain) if plain != text else ("", text)
    return "", text


def number(text: str) -> str:
    """A number with a decimal comma as one with a point."""
    if COMMA.fullmatch(text):
        return text.replace(",", ".")
    return text.replace(".", "").replace(",", ".") if GROUPED.fullmatch(text) else text


def clock(text: str) -> str:
    """A time of day such as `9.31` or `9h31` with colons."""
    match = CLOCK.fullmatch(text.strip())
    if not match:
        return text
    return ":".join([f"{int(match[1]):02d}", match[2], *([match[3]] if match[3] else [])])


def date(text: str, day_first: bool | None) -> str:
    """A local date, and what follows it, as year, month and day.

    day_first: whether dates with slashes begin with the day; where None, such a date is left as it is.
    """
    match = DATE.match(text)
    if not match or (day_first is None and match[2] != "."):
        return text
    first, last = int(match[1]), int(match[3])
    day, month = (first, last) if match[2] == "." or day_first else (last, first)
    year = int(match[4]) + (CENTURY if len(match[4]) == 2 else 0)
    try:
        return datetime.date(year, month, day).isoformat() + text[match.end() :]
    except ValueError:
        return text


def _dates(records: Sequence[Mapping], fields: Sequence[Mapping]) -> list[str]:
    """The dates of a table that are written with slashes or hyphens and begin with no year."""
    names = [f["name"] for f in fields if f["type"] in ("date", "datetime") or f["name"].endswith("_utc")]
    texts = (record.get(name, "") for record in records for name in names)
    return [text for text in texts if (match := DATE.match(text)) and match[2] != "."]


def _day_first(texts: Sequence[str]) -> bool | None:
    """Whether dates begin with the day; None where nothing shows it."""
    parts = [(int(match[1]), int(match[3])) for text in texts if (match := DATE.match(text))]
    if any(first > 12 for first, _ in parts):
        return True
    return False if any(second > 12 for _, second in parts) else None


def said(name: str, line: int, renamed: Mapping[str, str], seen: Mapping[str, str]) -> list[Finding]:
    """One finding that says how a table was read; none where it is written as our tables are."""
    parts = [f"{form} (such as {text[:20]})" for form, text in seen.items()]
    if renamed:
        parts.append("columns " + ", ".join(f"{theirs[:30]} = {ours}" for theirs, ours in renamed.items()))
    if not parts:
        return []
    return [Finding("table-as-written", file=name, line=line, facts={"forms": "; ".join(parts)})]
