"""Who made the data and under which names it is known: authors with ORCID iDs, a DOI, a licence."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from headland.base.errors import UserError
from headland.base.words import did_you_mean
from headland.files.yaml_files import Document

KEYS = ("authors", "orcid", "doi", "licence")
"""Keys of campaign.yaml that give credit; no number depends on them."""
FORM = re.compile(r"\d{4}-\d{4}-\d{4}-\d{3}[\dX]")


def of(settings: Mapping) -> dict:
    """The credit of a campaign, with nothing where a key is not given."""
    empty: dict = {"authors": [], "orcid": {}, "doi": "", "licence": ""}
    return {key: settings.get(key, empty[key]) for key in KEYS}


def check_character(digits: str) -> str:
    """The last character of an ORCID iD.

    Parameters
    ----------
    digits : the fifteen digits before it

    Returns
    -------
    A digit, or X for ten (ISO/IEC 7064, MOD 11-2; from memory).
    """
    total = 0
    for digit in digits:
        total = (total + int(digit)) * 2
    rest = (12 - total % 11) % 11
    return "X" if rest == 10 else str(rest)


def errors_of(settings: Mapping, document: Document) -> Iterator[UserError]:
    """ORCID iDs that are mistyped, and those of people who are not among the authors."""
    given, authors = settings.get("orcid"), settings.get("authors", [])
    if not isinstance(given, dict) or not isinstance(authors, list):
        return
    for name, code in given.items():
        place = ("orcid", name)
        if name not in authors:
            wanted = f"a name of authors, such as {authors[0]}" if authors else "that name in authors as well"
            found = f"orcid has {str(name)[:60]}, who is not in authors"
            yield document.error(place, found, wanted + did_you_mean(str(name), map(str, authors)))
        if isinstance(code, str) and FORM.fullmatch(code):
            bare = code.replace("-", "")
            if check_character(bare[:15]) != bare[15]:
                found = f"orcid of {str(name)[:60]} is {code}, whose last character does not fit the others"
                yield document.error(place, found, "the iD as its owner's page shows it: a digit is mistyped")
