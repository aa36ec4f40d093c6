"""What differs between two runs of one campaign: what went in, what came out, and which of the first explains
the second.

The report knows nothing of a run before; only this does. A run is remembered as a `Run`: its inputs as names
and texts, its tables as they are printed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from headland.files.schemas import table_schema
from headland.report.wording import SHOWN

TABLES = {
    "segments": ("segment", ["segment"]),
    "fields": ("field", ["surface", "field"]),
    "surfaces": ("surface", ["surface"]),
}
"""The tables that are compared: what a row is called, and the columns that name it."""
COMMON_SKY = "net_radiation_common_sky"
REDRAWN = 0.01
"""Share of its width by which an interval's end may move without its value: another seed or number of draws
moves them, by about 0.5 % of the width (config/config.yaml).
"""
KINDS = {
    "settings": "setting",
    "weather": "weather",
    "files": "file",
    "tables": "table",
    "program": "program",
}
"""Inputs that are compared by name: how each is called in changes.csv."""


Row = Mapping[str, str]
"""A row of a user's table: column to text, with `line`."""


Pair = tuple[Row | None, Row | None]
"""One row in two runs; None where a run lacks it."""


@dataclass(frozen=True)
class Run:
    """One run.

    inputs: by sort (`settings`, `weather`, `files`, `tables`, `program`) names with their values or digests
    as text, and as lists of rows `notes` and `instruments`. tables: what users get, every cell as text.
    """

    inputs: Mapping[str, Any]
    tables: Mapping[str, pd.DataFrame]


def flat(values: object, path: str = "") -> dict[str, str]:
    """Nested settings as dotted keys with their values as text."""
    if isinstance(values, Mapping):
        return {
            key: text
            for name, inner in values.items()
            for key, text in flat(inner, f"{path}.{name}" if path else str(name)).items()
        }
    return {path: "" if values is None else str(values)}


def of_mappings(kind: str, before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[dict]:
    """Entries that were added, removed or edited."""
    for name in dict.fromkeys((*before, *after)):
        old, new = before.get(name), after.get(name)
        if old != new:
            change = "added" if old is None else "removed" if new is None else "edited"
            yield {"kind": kind, "item": name, "change": change, "before": old or "", "after": new or ""}


def _without_line(row: Row) -> tuple:
    """What a row holds, wherever it is."""
    return tuple(sorted((column, text) for column, text in row.items() if column != "line" and text))


def matched(before: Sequence[Row], after: Sequence[Row], keys: Sequence[str]) -> list[Pair]:
    """Rows of a table in two runs that are one row edited, or added, or removed; equal rows are left out.

    keys: columns that identify a row where others were edited. Rows that only moved to another line are
    equal.
    """

    def same_keys(one: Row, other: Row) -> bool:
        return all(one.get(key) == other.get(key) for key in keys)

    def same_line(one: Row, other: Row) -> bool:
        return one["line"] == other["line"]

    old, new = list(before), list(after)
    for row in before:
        twin = next((other for other in new if _without_line(other) == _without_line(row)), None)
        if twin is not None:
            old.remove(row)
            new.remove(twin)
    pairs: list[Pair] = []
    for same in (same_keys, same_line):
        for row in list(old):
            twin = next((other for other in new if same(row, other)), None)
            if twin is not None:
                pairs.append((row, twin))
                old.remove(row)
                new.remove(twin)
    removed: list[Pair] = [(row, None) for row in old]
    added: list[Pair] = [(None, row) for row in new]
    return [*pairs, *removed, *added]


def of_rows(kind: str, pairs: Sequence[Pair]) -> Iterator[dict]:
    """Rows of a user's table that were added, removed or edited, one row for each cell."""
    for old, new in pairs:
        if old is not None and new is not None:
            for column in dict.fromkeys((*old, *new)):
                if column != "line" and old.get(column, "") != new.get(column, ""):
                    yield {
                        "kind": kind,
                        "item": f"line {new['line']}",
                        "change": "edited",
                        "quantity": column,
                        "before": old.get(column, ""),
                        "after": new.get(column, ""),
                    }
            continue
        yield {
            "kind": kind,
            "item": f"line {_line_of(old, new)}",
            "change": "added" if old is None else "removed",
            "before": _in_words(old),
            "after": _in_words(new),
        }


def _line_of(old: Row | None, new: Row | None) -> str:
    """The line of a row, where it is now or was."""
    row = new if new is not None else old
    return row["line"] if row is not None else ""


def _in_words(row: Row | None) -> str:
    return ", ".join(text for column, text in (row or {}).items() if column != "line" and text)


def _by_names(table: pd.DataFrame, names: Sequence[str]) -> dict[tuple, dict]:
    return {tuple(row[name] for name in names): row for row in table.to_dict("records")}


def of_table(kind: str, names: Sequence[str], before: pd.DataFrame, after: pd.DataFrame) -> Iterator[dict]:
    """Segments, fields or surfaces that were gained or lost, and each of their values that changed."""
    old, new = _by_names(before, names), _by_names(after, names)
    quantities = [name.removesuffix("_low") for name in after.columns if name.endswith("_low")]
    # a segment under another label may keep all its values
    labels = [name for name in ("field", "surface") if name in after.columns and name not in names]
    for key in dict.fromkeys((*old, *new)):
        row = {"kind": kind, "item": " / ".join(part for part in reversed(key) if part), "key": key}
        if key not in old or key not in new:
            yield {**row, "change": "gained" if key not in old else "lost"}
            continue
        for name in (*labels, "samples_used", *quantities):
            values = [
                [table[key].get(name + end, "") for end in ("", "_low", "_high")] for table in (old, new)
            ]
            if values[0] == values[1] or _redrawn(*values):
                continue
            ends = [f"[{low}, {high}]" if low and high else "" for _, low, high in values]
            yield {
                **row,
                "change": "changed",
                "quantity": name,
                "before": values[0][0],
                "after": values[1][0],
                "interval_before": ends[0],
                "interval_after": ends[1],
            }


def _redrawn(before: Sequence[str], after: Sequence[str]) -> bool:
    """Whether two values with their intervals differ only because new draws move the ends of the interval."""
    if before[0] != after[0] or not all((*before, *after)):
        return False
    (_, low, high), (_, new_low, new_high) = (map(float, values) for values in (before, after))
    return max(abs(new_low - low), abs(new_high - high)) <= max(
        REDRAWN * (high - low), 10.0 ** -len(before[0].partition(".")[2])
    )


def compared(before: Run, after: Run) -> pd.DataFrame:
    """The rows of changes.csv: inputs first, then segments, fields and surfaces with what their change comes
    from.
    """
    inputs = [
        row
        for sort, kind in KINDS.items()
        for row in of_mappings(kind, before.inputs[sort], after.inputs[sort])
    ]
    notes = matched(before.inputs["notes"], after.inputs["notes"], ("set", "start", "date", "activity"))
    inputs += of_rows("note", notes)
    inputs += of_rows(
        "instrument",
        matched(
            before.inputs["instruments"],
            after.inputs["instruments"],
            ("set", "channel", "sensor_id", "certificate_date"),
        ),
    )
    causes = list(dict.fromkeys(_cause(row) for row in inputs))
    rows = list(inputs)
    by_segment: dict[str, str] = {}
    for row in of_table("segment", ["segment"], before.tables["segments"], after.tables["segments"]):
        name = row["key"][0]
        by_segment.setdefault(name, _cause_of_segment(name, before, after, notes, causes))
        rows.append({**row, "cause": by_segment[name]})
    places = {name: _places(name, before, after) for name in by_segment}
    for table in ("fields", "surfaces"):
        kind, names = TABLES[table]
        for row in of_table(kind, names, before.tables[table], after.tables[table]):
            own = [by_segment[name] for name, where in places.items() if where[: len(names)] == row["key"]]
            sky = row.get("quantity") == COMMON_SKY and by_segment
            cause = "; ".join(dict.fromkeys(own)) or (
                "the common sky, which is a mean over all segments" if sky else _one_of(causes)
            )
            rows.append({**row, "cause": cause})
    columns = (
        "kind",
        "item",
        "change",
        "quantity",
        "before",
        "after",
        "interval_before",
        "interval_after",
        "cause",
    )
    return pd.DataFrame([{name: row.get(name, "") for name in columns} for row in rows], columns=columns)


def run(before: Run | None, now: Run) -> tuple[pd.DataFrame, str]:
    """What differs, none where there was no run before; and what there is to say of it in a sentence."""
    found = compared(before, now) if before is not None else None
    names = [field["name"] for field in table_schema("changes")["fields"]]
    return found if found is not None else pd.DataFrame(columns=names), summary(found)


def _cause(row: Mapping) -> str:
    kind = {
        "setting": "campaign.yaml",
        "note": "notes",
        "instrument": "instruments.csv",
        "program": "the program",
    }.get(row["kind"], "")
    return f"{kind}, {row['item']}" if kind else row["item"]


def _one_of(causes: Sequence[str]) -> str:
    if not causes:
        return ""
    return causes[0] if len(causes) == 1 else f"one of: {'; '.join(causes)}"


def _segment(name: str, run: Run) -> dict:
    """A segment's row in a run; empty where it has none."""
    rows = run.tables["segments"].to_dict("records")
    return next((row for row in rows if row["segment"] == name), {})


def _cause_of_segment(
    name: str, before: Run, after: Run, notes: Sequence[Pair], causes: Sequence[str]
) -> str:
    """The edited notes that a segment depends on: its own line, or a clock check of its set; else the changed
    inputs.
    """
    old, new = _segment(name, before), _segment(name, after)
    own_set = (new or old).get("set", "")
    edited = []
    for pair in notes:
        is_own = any(
            row and row["line"] == segment.get("notes_row")
            for row, segment in zip(pair, (old, new), strict=True)
        )
        is_check = any(
            row and row.get("set") == own_set and row.get("activity") == "clock_check" for row in pair
        )
        if is_own or is_check:
            edited.append((not is_own, f"notes, line {_line_of(*pair)}"))
    if not edited:
        return _one_of(causes)
    own_first = [cause for _, cause in sorted(edited, key=lambda item: item[0])]
    others = [cause for cause in causes if not cause.startswith("notes, line")]
    return "; ".join(dict.fromkeys(own_first)) + (f"; or {_one_of(others)}" if others else "")


def _places(name: str, before: Run, after: Run) -> tuple[str, str]:
    """Surface and field of a segment, as it is now, or was."""
    for run in (after, before):
        for row in run.tables["segments"].to_dict("records"):
            if row["segment"] == name:
                return row["surface"], row["field"]
    return "", ""


def _different_items(frame: pd.DataFrame, **where: str) -> int:
    """The number of items whose rows have these values."""
    chosen = np.ones(len(frame), bool)
    for column, value in where.items():
        chosen &= (frame[column] == value).to_numpy()
    return int(frame.loc[chosen, "item"].nunique())


def summary(changes: pd.DataFrame | None) -> str:
    """What changed, in a sentence. None: there was no run before."""
    if changes is None:
        return "This is the first run: there is none before it to compare with."
    if not len(changes):
        return "Nothing differs from the run before."
    is_result = changes["kind"].isin(("segment", "field", "surface"))
    results, inputs = changes[is_result], changes[~is_result]
    count = inputs[["kind", "item"]].drop_duplicates().shape[0]
    parts = [f"{count} input{'' if count == 1 else 's'} differ{'s' if count == 1 else ''}"]
    for change in ("gained", "lost", "changed"):
        count = _different_items(results, kind="segment", change=change)
        if count:
            parts.append(f"{count} segment{'s' if count > 1 else ''} {change}")
    own = results[results["quantity"] != COMMON_SKY]
    count = _different_items(own, kind="surface")
    parts.append(
        f"{count} surface{'' if count == 1 else 's'} concerned" if len(results) else "no number changed"
    )
    return "; ".join(parts) + "."


def shown(changes: pd.DataFrame) -> list[dict]:
    """Rows of the page in words: quantities by the names that the report has for them, with `unit`, and
    surface classes without underscores.
    """
    rows = []
    for record in changes.to_dict("records"):
        row = {str(name): value for name, value in record.items()}
        title, unit = (
            SHOWN[row["quantity"]][:2]
            if row["quantity"] in SHOWN
            else (row["quantity"].replace("_", " "), "")
        )
        field, between, surface = row["item"].rpartition(" / ")
        classes = (
            {"item": f"{field}{between}{surface.replace('_', ' ')}"}
            if row["kind"] in ("field", "surface")
            else {}
        )
        if row["quantity"] == "surface":
            for name in ("before", "after"):
                classes[name] = row[name].replace("_", " ")
        rows.append({**row, **classes, "quantity": title, "unit": unit})
    return rows
