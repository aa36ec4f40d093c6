"""Flags of samples: words separated by spaces, one text a sample, kept as a category because few of all
combinations occur.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

import numpy as np
import pandas as pd


def limits_of(rows: Iterable[Mapping[str, str]]) -> dict[str, dict]:
    """The rows of quality.csv by flag, with their limits as numbers (NaN where there is none)."""
    numeric = ("low", "scale", "power", "offset")
    return {row["flag"]: {**row, **{key: float(row[key] or "nan") for key in numeric}} for row in rows}


def excluding_flags(limits: Mapping[str, Mapping]) -> set[str]:
    """The flags that keep a sample out of the averages."""
    return {flag for flag, row in limits.items() if row["excludes"] == "true"}


def joined(found: Mapping[str, np.ndarray]) -> pd.Categorical:
    """The names of each sample's flags, separated by spaces, as a category: few of all combinations occur."""
    combined = np.zeros(len(next(iter(found.values()), ())), np.int64)
    for place, hit in enumerate(found.values()):
        combined |= np.left_shift(hit, place, dtype=np.int64)
    codes, some = pd.factorize(combined)
    return pd.Categorical.from_codes(
        codes,
        pd.Index(
            [
                " ".join(name for place, name in enumerate(found) if number >> place & 1)
                for number in some.tolist()
            ],
            dtype="str",
        ),
    )


def _refuse_missing(places: np.ndarray) -> None:
    """A missing text has the place -1, which would be that of the last word."""
    if places.min(initial=0) < 0:
        raise ValueError("a sample has no flags, not even an empty text")


def reworded(texts: pd.Series, marks, rule: Callable) -> pd.Series:
    """A text a sample from its text and a mark (text or truth value) of it: `rule(text, mark)`, worked out
    once for each pair that occurs. The result is a category, a byte or two a sample.
    """
    text, mark = pd.Categorical(texts), pd.Categorical(marks)
    _refuse_missing(text.codes)
    _refuse_missing(mark.codes)
    pairs, found = pd.factorize(text.codes.astype(np.int32) * len(mark.categories) + mark.codes)
    words = [
        rule(text.categories[i], mark.categories[j])
        for i, j in (divmod(pair, len(mark.categories)) for pair in found.tolist())
    ]
    known = {word: place for place, word in enumerate(sorted(set(words)))}
    return pd.Series(
        pd.Categorical.from_codes(
            np.array([known[word] for word in words], np.int32)[pairs], pd.Index(known, dtype="str")
        ),
        texts.index,
    )


def merged(texts: pd.Series, more: pd.Series) -> pd.Series:
    """The samples' flags from two steps as one text."""
    return reworded(texts, more, lambda some, others: f"{some} {others}".strip())


def also_flagged(texts: pd.Series, name: str, hit: np.ndarray) -> pd.Series:
    """The samples' flags with one more name where it hit."""
    return reworded(texts, hit, lambda text, hit: f"{text} {name}".strip() if hit else text)


def has_any(texts: pd.Series, names: set[str]) -> np.ndarray:
    """Where a sample carries at least one of the named flags."""
    places, known = pd.factorize(texts)
    _refuse_missing(places)
    return np.array([bool(names & set(text.split())) for text in known], dtype=bool)[places]
