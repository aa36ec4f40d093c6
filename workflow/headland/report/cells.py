"""Tables of a page as plain values for a template.

A table has `columns` (title, second title, unit, whether it holds text, its equation), `rows` of cells
(text, the smaller text below it, severity or state) and `notes` under it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import pandas as pd

from headland.report.wording import ESTIMATED, SHOWN, WITHHELD, WITHOUT, valued

NO_INTERVAL = (
    "No interval: too little ground was walked to say how the rest of it differs, "
    "or what the value is made from has none."
)


def cell(text: object, below: str = "", severity: str = "") -> dict:
    """One cell."""
    return {"text": str(text), "below": below, "severity": severity}


def column(title: str, unit: str = "", *, text: bool = False, equation: str = "", second: str = "") -> dict:
    """The head of a column. equation: the place on the page of the equation that gives its numbers."""
    return {"title": title, "unit": unit, "text": text, "equation": equation, "second": second}


def table(columns: list[dict], rows: list[list[dict]], notes: Sequence[str] = ()) -> dict:
    """A table of columns and rows."""
    headed = any(one["title"] for one in columns)
    return {"columns": columns, "rows": rows, "notes": list(notes), "headed": headed}


def words_table(titles: Sequence[str], rows: Sequence[Sequence[object]], numeric: Sequence[int] = ()) -> dict:
    """A table of texts. numeric: places of the columns that are aligned to the right."""
    columns = [column(title, text=place not in numeric) for place, title in enumerate(titles)]
    return table(columns, [[cell(text) for text in row] for row in rows])


ASSUMED = "assumed"
"""Printed instead of an interval without width: a flux that is zero for its class is no measurement."""


def printed(row: Mapping, quantity: str) -> tuple[str, str]:
    """A value and its interval as texts; `withheld` where an error keeps it back."""
    value, low, high = (row[f"{quantity}{end}"] for end in ("", "_low", "_high"))
    if not math.isfinite(value) and row.get("state") == WITHHELD:
        return WITHHELD, ""
    if quantity in (*ESTIMATED, "evaporation") and value == low == high == 0.0:
        return "0", ASSUMED
    return valued(value, low, high, SHOWN[quantity].decimals)


def value_cell(row: Mapping, quantity: str) -> dict:
    """A value with its interval below it."""
    text, below = printed(row, quantity)
    known = math.isfinite(row[quantity])
    state = str(row.get("state") or "") if known else ""
    return cell(text, below or ("no interval" if known else ""), state)


def values_table(
    frame: pd.DataFrame,
    heads: Mapping[str, Sequence[tuple[str, str]]],
    quantities: Sequence[str],
    keys: Mapping[str, Mapping],
) -> dict:
    """A table of quantities with intervals.

    Parameters
    ----------
    frame : rows with each quantity and the ends of its interval
    heads : titles of the columns before them, a second title after a slash, with their texts and the smaller
        texts below
    quantities : names of the quantities
    keys : rows of quantities.csv by key
    """
    columns = [column(title.split("/")[0], text=True, second=title.partition("/")[2]) for title in heads]
    for name in quantities:
        shown = SHOWN[name]
        equation = keys[shown.key]["equation"]
        columns.append(column(shown.title, shown.unit, equation=f"eq-{equation}" if equation else ""))
    rows = []
    for index, row in enumerate(frame.to_dict("records")):
        before = [cell(*texts[index]) for texts in heads.values()]
        rows.append([*before, *(value_cell(row, name) for name in quantities)])
    return table(columns, rows, _notes(frame, quantities))


def _notes(frame: pd.DataFrame, quantities: Sequence[str]) -> list[str]:
    """Why a value or an interval is missing."""
    bare = any((frame[name].notna() & frame[f"{name}_low"].isna()).any() for name in quantities)
    absent = [name for name in quantities if frame[name].isna().any()]
    notes = [NO_INTERVAL] if bare else []
    if absent:
        reasons = dict.fromkeys(WITHOUT.get(name, "nothing measured (see the findings)") for name in absent)
        notes.append(f"–: {'; '.join(reasons)}.")
    return notes


def with_keys(keys: Mapping[str, Mapping], key: str) -> dict:
    """What quantities.csv says of a key: symbol, equation and function, all empty without a key."""
    row = keys.get(key, {})
    return {"key": key, **{name: row.get(name, "") for name in ("symbol", "equation", "function")}}
