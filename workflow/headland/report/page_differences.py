"""Page 2: which surfaces differ, and for which pairs that can't be decided."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from headland.report.differences import (
    COMMON,
    FALSE,
    NONE,
    TRUE,
    UNDECIDED,
    between,
    by_chance,
    of_quantity,
)
from headland.report.given import Given
from headland.report.wording import SHOWN, count, listed, number, opening, units, valued

WIDEST = 9
"""Surfaces up to which the cells of the matrix have room for their intervals."""
MARKS = {TRUE: "", FALSE: "(no)", UNDECIDED: "?", NONE: "–"}
"""What a cell says beside its number, so that a grey print says the same."""
ROOM = 9
"""Surfaces, and twice the reasons for what can't be decided, up to which the page has room for the table of
causes.
"""
COMPARED = ("albedo", "surface_temperature", "net_radiation", COMMON)
WORDS = {TRUE: "differ", FALSE: "can't be told apart", UNDECIDED: "can't be decided", NONE: "no interval"}


def context(given: Given) -> dict:
    """What the second page prints."""
    rows = of_quantity(given.tables["differences"])
    names = [name for name in given.ranked["surface"] if _compared(rows, name)]
    reasons = undecided(given, rows)
    return {
        "matrix": matrix(given, rows, names),
        "pairs_words": pairs_words(rows),
        "undecided": reasons,
        "causes": causes(given, names) if len(names) + 2 * len(reasons) <= ROOM else [],
        "other_quantities": other_quantities(given),
        "scatter_words": scatter_words(given),
    }


def _compared(rows: pd.DataFrame, name: str) -> bool:
    return bool(((rows["surface_a"] == name) | (rows["surface_b"] == name)).any())


def matrix(given: Given, rows: pd.DataFrame, names: list[str]) -> dict:
    """Half a matrix: the surface at the head of the column minus the surface of the row."""
    lines = []
    for place, below in enumerate(names[1:], 1):
        cells = [_cell(given, between(rows, above, below), above, COMMON) for above in names[:place]]
        lines.append({"name": given.name(below), "cells": cells, "empty": len(names) - 1 - place})
    return {"heads": [given.name(name) for name in names[:-1]], "rows": lines, "wide": len(names) <= WIDEST}


def causes(given: Given, names: list[str]) -> list[dict]:
    """A row a surface: the surface at the head of the column minus that of the row, in albedo right of the
    empty cell, in surface temperature left of it.
    """
    if len(names) < 2:
        return []
    table = given.tables["differences"]
    albedo, temperature = (of_quantity(table, name) for name in ("albedo", "surface_temperature"))
    lines = []
    for place, own in enumerate(names):
        left = [
            _cell(given, between(temperature, one, own), one, "surface_temperature") for one in names[:place]
        ]
        right = [_cell(given, between(albedo, one, own), one, "albedo") for one in names[place + 1 :]]
        lines.append({"name": given.name(own), "cells": [*left, None, *right]})
    return lines


def _cell(given: Given, row: Mapping | None, above: str, quantity: str) -> dict:
    common = {"head": given.name(above), "title": SHOWN[quantity].title}
    if row is None or not math.isfinite(row["difference"]):
        return {**common, "text": "–", "below": "", "kind": NONE, "words": WORDS[NONE]}
    kind = row["verdict"]
    decimals = SHOWN[quantity].decimals
    text, below = valued(row["difference"], row["difference_low"], row["difference_high"], decimals)
    return {
        **common,
        "text": f"{text} {MARKS[kind]}".strip(),
        "below": below,
        "kind": kind,
        "words": WORDS[kind],
    }


def pairs_words(rows: pd.DataFrame) -> str:
    """How many pairs differ, how many intervals exclude zero, and how many would do so by chance."""
    if not len(rows):
        return "There are no two surfaces to compare."
    known = rows[rows["verdict"] != NONE]
    if not len(known):
        return f"No difference has an interval, so none of {count(len(rows), 'pair')} can be judged."
    amount, differ = len(known), int((known["verdict"] == TRUE).sum())
    undecided = int((known["verdict"] == UNDECIDED).sum())
    first = f"{differ} of {count(amount, 'pair')} of surfaces differ."
    if amount > 1:
        first = first.removesuffix(".") + ", after a correction for the number of tests (Holm 1979)."
    if undecided:
        first += f" For {count(undecided, 'pair')} this day can't decide."
    if amount == 1:
        return f"{first} Such a verdict at 95 % is wrong in one case of twenty."
    beyond = int(((known["difference_low"] > 0) | (known["difference_high"] < 0)).sum())
    chance = number(by_chance(amount), 1)
    return (
        f"{first} Zero lies outside {beyond} of the {amount} intervals; if all surfaces were the same, it "
        f"would by chance lie outside about {chance} of them."
    )


def undecided(given: Given, rows: pd.DataFrame) -> list[tuple[str, str]]:
    """Pairs for which the day can't decide, and why; several pairs with one reason together."""
    if "why" not in rows:
        return []
    own = rows[rows["verdict"] == UNDECIDED]
    result = []
    for why, part in own.groupby("why", sort=False):
        pairs = [
            f"{given.name(a)} − {given.name(b)}"
            for a, b in zip(part["surface_a"], part["surface_b"], strict=True)
        ]
        result.append((listed(pairs), units(str(why))))
    return result


def other_quantities(given: Given) -> str:
    """By which other quantities the surfaces differ."""
    parts = []
    for quantity, title in (("albedo", "albedo"), ("surface_temperature", "surface temperature")):
        rows = of_quantity(given.tables["differences"], quantity)
        known = rows[rows["verdict"] != NONE]
        if len(known):
            parts.append(
                f"by {title} {int((known['verdict'] == TRUE).sum())} of {count(len(known), 'pair')} differ"
            )
    return f"{opening(listed(parts))}." if parts else ""


def scatter_words(given: Given) -> str:
    """What the figure of albedo against surface temperature shows, in numbers."""
    rows = given.tables["fields"].dropna(subset=["albedo", "surface_temperature"])
    parts = [
        f"{row['field'] or given.name(row['surface'])} ({given.name(row['surface'])}): albedo "
        f"{number(row['albedo'], 2)}, "
        f"{number(row['surface_temperature'], 1)} °C"
        for row in rows.to_dict("records")
    ]
    return (
        "Albedo across, surface temperature up. " + "; ".join(parts) + "."
        if parts
        else "No field has both values."
    )
