"""The pages of checked answers: one for each person or group, and one for the teacher."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

import pandas as pd

from headland.course.answers import VERDICTS
from headland.course.pairs import PAIR
from headland.course.written import kind_of
from headland.report.wording import SHOWN, number, with_interval

DECIMALS = {"flux": 1, "ratio": 4, "temperature": 2, "water": 3}


def page_names(people: Sequence[str]) -> dict[str, str]:
    """A file name for each person or group: letters and digits only, so that no name leaves the folder."""
    return {
        who: f"{count:02d}_{re.sub(r'[^a-z0-9]+', '-', who.lower()).strip('-')[:40] or 'page'}.html"
        for count, who in enumerate(people, 1)
    }


def counted(checked: pd.DataFrame) -> pd.DataFrame:
    """How many of each verdict, a row a person or group, for the teacher."""
    table = pd.crosstab(checked["who"], checked["verdict"]).reindex(columns=list(VERDICTS), fill_value=0)
    return table.reindex(list(dict.fromkeys(checked["who"])))


def shown(
    checked: pd.DataFrame, labels: Mapping[str, str], *, hide: bool, teacher: bool = False
) -> list[dict]:
    """Rows of a page in words.

    labels: what people call a surface. hide: whether the chain's numbers stay out. teacher: whether the codes
    of slips, and pairs of slips as possibilities, are shown.
    """
    return [_shown(row, labels, hide, teacher) for row in checked.to_dict("records")]


def _shown(row: Mapping, labels: Mapping[str, str], hide: bool, teacher: bool) -> dict:
    known = math.isfinite(row["reference"]) and not hide
    decimals = DECIMALS[kind_of(row["quantity"])]
    reference = with_interval(row["reference"], row["reference_low"], row["reference_high"], decimals)
    inside = row["within_uncertainty"]
    return {
        **row,
        "item": labels.get(row["item"], row["item"]),
        "quantity": SHOWN[row["quantity"]][0] if row["quantity"] in SHOWN else row["quantity"],
        "inside": "yes" if inside is True else "no" if inside is False else "–",
        "reference": reference if known else "",
        "e_n": number(row["e_n"], 2) if not hide else "",
        "codes": [code for code in (row["mistake"], *row["also_possible"].split()) if code],
        "pairs": [code.split(PAIR) for code in row["possible_pairs"].split()] if teacher else [],
    }


def contexts(
    checked: pd.DataFrame, common: Mapping, labels: Mapping[str, str], hide: bool
) -> dict[str, dict]:
    """The values of every page, by its file name. common: title, slips and verdicts for all of them."""
    people = page_names(list(dict.fromkeys(checked["who"])))
    pages = {}
    for who, file in people.items():
        rows = shown(checked[checked["who"] == who], labels, hide=hide)
        pages[file] = {**common, "hide": hide, "who": who, "rows": rows, "people": []}
    table = counted(checked)
    tally = [
        (who, people[who], list(row)) for who, row in zip(table.index, table.to_numpy().tolist(), strict=True)
    ]
    rows = shown(checked, labels, hide=hide, teacher=True)
    pages["teacher.html"] = {**common, "hide": hide, "who": "", "rows": rows, "people": tally}
    return pages


def in_one_line(checked: pd.DataFrame) -> str:
    """How many answers there are and what became of them."""
    people = checked["who"].nunique()
    tally = checked["verdict"].value_counts()
    parts = ", ".join(f"{tally[name]} {words}" for name, words in VERDICTS.items() if name in tally)
    who = "people or groups" if people > 1 else "person or group"
    return f"{len(checked)} answers of {people} {who}: {parts}."
