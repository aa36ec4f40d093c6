"""Tables that users write: register of sensors, notes, weather, station, ground, levels.

Each has a schema in workflow/schemas, which names its columns, their types, units and limits. This module
refers to no column by name, except the time of those with records in time.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Container, Mapping, Sequence
from pathlib import Path

import pandas as pd

from headland.base.errors import UserError, UserErrors
from headland.base.findings import Finding
from headland.base.words import did_you_mean, harmful
from headland.files.local_writing import columns_of, said, with_local_forms
from headland.files.schemas import table_schema
from headland.files.table_findings import Kept
from headland.files.user_rows import MOST_BY_HAND, MOST_ROWS, csv_rows
from headland.files.workbooks import workbook_rows

LONGEST_TEXT = 300
"""Characters of a text that are kept: names and remarks appear in figures and columns."""
NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d{1,2})?")


def read_user_table(path: Path, kind: str) -> tuple[pd.DataFrame, list[Finding]]:
    """A table that a user wrote, as text and numbers by its schema, and what is wrong with it.

    Parameters
    ----------
    path : a CSV file or a workbook.
    kind : the schema's name (`instruments`, `notes`, `weather`, `station`, `ground`, `levels`).

    Returns
    -------
    A frame with every column of the schema (absent ones empty) and `line`, the line (or the sheet's row) of
    each record; and the findings. A record with a cell that doesn't fit is kept, with that cell empty and
    named in a finding. Only blank lines are dropped.
    """
    fields = table_schema(kind)["fields"]
    read_rows = workbook_rows if path.suffix == ".xlsx" else csv_rows
    try:
        rows, findings = read_rows(path, MOST_ROWS.get(kind, MOST_BY_HAND))
    except UserErrors as problem:
        return _frame([], fields), [_unreadable(error) for error in problem.errors]
    if not rows:
        facts = {"columns": ", ".join(_required(fields))}
        return _frame([], fields), [*findings, Finding("file-empty", "table", file=path.name, facts=facts)]
    header_line = rows[0][0]
    written = [cell.strip() for cell in rows[0][1]]
    header, renamed = columns_of(written, kind, [field["name"] for field in fields])
    missing = [column for column in _required(fields) if column not in header]
    findings += _missing_columns(missing, header, fields, path.name, header_line)
    findings += _other_columns(header, fields, path.name, header_line)
    if missing:
        return _frame([], fields), findings
    records = []
    wrong = Kept()
    allowed = {field["name"] for field in fields}
    for line, cells in rows[1:]:
        if not any(cell.strip() for cell in cells):
            continue
        if any(cell.strip() for cell in cells[len(header) :]):
            counts = {"cells": len(cells), "columns": len(header)}
            wrong.add(Finding("row-too-long", file=path.name, line=line, facts=counts))
        records.append({"line": line, **_record(header, cells, allowed)})
    records, seen = with_local_forms(records, fields)
    findings += said(path.name, header_line, renamed, seen)
    frame = _typed(records, fields, path.name, wrong)
    return frame, [*findings, *wrong.all(path.name)]


def read_weather(paths: Sequence[Path]) -> tuple[pd.DataFrame, list[Finding]]:
    """The campaign's weather table with `time_utc` as times. paths: that file, or nothing."""
    return _read_timed(paths, "weather")


def read_station(paths: Sequence[Path]) -> tuple[pd.DataFrame, list[Finding]]:
    """The fixed station's table with `time_utc` as times. paths: that file, or nothing."""
    return _read_timed(paths, "station")


def read_ground(paths: Sequence[Path]) -> tuple[pd.DataFrame, list[Finding]]:
    """The campaign's table of plates in the soil with `time_utc` as times. paths: that file, or nothing."""
    return _read_timed(paths, "ground")


def read_levels(paths: Sequence[Path]) -> tuple[pd.DataFrame, list[Finding]]:
    """The campaign's table of air at two heights with `time_utc` as times. paths: that file, or nothing."""
    return _read_timed(paths, "levels")


def no_user_table(kind: str) -> pd.DataFrame:
    """What `read_user_table` returns for a table without a row: for a campaign that has none."""
    return _frame([], table_schema(kind)["fields"])


def _read_timed(paths: Sequence[Path], kind: str) -> tuple[pd.DataFrame, list[Finding]]:
    if not paths:
        frame = no_user_table(kind)
        return frame.assign(time_utc=pd.to_datetime(frame["time_utc"], utc=True)), []
    frame, findings = read_user_table(paths[0], kind)
    texts = frame["time_utc"].where(frame["time_utc"] != "", None)
    moments = pd.to_datetime(texts, errors="coerce", utc=True, format="ISO8601")
    wrong = Kept()
    for row in frame[moments.isna()].to_dict("records"):
        facts = {
            "column": "time_utc",
            "value": row["time_utc"][:60],
            "allowed": "a time in UTC such as 2026-05-21T09:30:00Z",
            "hint": "",
        }
        wrong.add(Finding("value-invalid", file=paths[0].name, line=row["line"], facts=facts))
    found = [*findings, *wrong.all(paths[0].name)]
    return frame.assign(time_utc=moments.astype("datetime64[us, UTC]")), found


def _required(fields: Sequence[Mapping]) -> list[str]:
    return [field["name"] for field in fields if field.get("constraints", {}).get("required")]


def _missing_columns(
    missing: Sequence[str], header: Sequence[str], fields: Sequence[Mapping], name: str, line: int
) -> list[Finding]:
    """A finding for each required column that the table lacks, with a column that may be meant."""
    allowed = [field["name"] for field in fields]
    found = ", ".join(column for column in header if column) or "nothing"
    unknown = [column for column in header if column not in allowed]
    return [
        Finding(
            "column-missing",
            file=name,
            line=line,
            facts={"column": column, "found": found, "hint": did_you_mean(column, unknown)},
        )
        for column in missing
    ]


def _other_columns(header: Sequence[str], fields: Sequence[Mapping], name: str, line: int) -> list[Finding]:
    """A finding for each column that the schema lacks or the table has twice."""
    allowed = [field["name"] for field in fields]
    unused = [column for column in allowed if column not in header]
    findings = []
    for column in dict.fromkeys(header):
        if column and column not in allowed:
            facts = {"column": column, "allowed": ", ".join(allowed), "hint": did_you_mean(column, unused)}
            findings.append(Finding("column-unknown", file=name, line=line, facts=facts))
        elif column in allowed and header.count(column) > 1:
            findings.append(Finding("column-twice", file=name, line=line, facts={"column": column}))
    return findings


def _record(header: Sequence[str], cells: Sequence[str], allowed: Container[str]) -> dict[str, str]:
    """A row's cells by column, of the allowed columns; of one that is there twice, the first."""
    padded = [*cells, *[""] * len(header)][: len(header)]
    record: dict[str, str] = {}
    for column, cell in reversed(list(zip(header, padded, strict=True))):
        if column in allowed:
            record[column] = cell.strip()
    return record


def _unreadable(error: UserError) -> Finding:
    facts = {"found": error.found, "expected": error.expected}
    return Finding("table-unreadable", file=error.file, line=error.line, facts=facts)


def _typed(records: list[dict], fields: Sequence[Mapping], name: str, wrong: Kept) -> pd.DataFrame:
    """Records with each cell read by its field's type and checked against its constraints."""
    for record in records:
        for field in fields:
            column, text = field["name"], record.get(field["name"], "")
            value, wanted = _value(text, field)
            place = {"file": name, "line": record["line"]}
            if wanted:
                facts = {
                    "column": column,
                    "value": text[:60],
                    "allowed": wanted,
                    "hint": did_you_mean(text, field.get("constraints", {}).get("enum", ())),
                }
                wrong.add(Finding("value-invalid", **place, facts=facts))
            elif isinstance(value, str) and value != text and field["type"] != "date":
                facts = {"column": column, "most": LONGEST_TEXT}
                wrong.add(Finding("text-changed", **place, facts=facts))
            record[column] = value
    return _frame(records, fields)


def _value(text: str, field: Mapping) -> tuple[object, str]:
    """A cell's value, and what would be allowed where the cell doesn't fit (an empty text where it does)."""
    constraints = field.get("constraints", {})
    is_number = field["type"] in ("number", "integer")
    if text == "":
        must_be_filled = constraints.get("required") and not field.get("sometimes_empty")
        wanted = "a value: the column may not be empty" if must_be_filled else ""
        return math.nan if is_number else "", wanted
    if is_number:
        return _number(text, constraints, field.get("unit", ""))
    if "enum" in constraints and text not in constraints["enum"]:
        return "", " or ".join(constraints["enum"])
    if field["type"] == "date":
        try:
            return datetime.date.fromisoformat(text).isoformat(), ""
        except ValueError:
            return "", "a date such as 2026-05-21"
    return "".join("\ufffd" if harmful(c) else c for c in text[:LONGEST_TEXT]), ""


def _number(text: str, constraints: Mapping, unit: str) -> tuple[float, str]:
    value = float(text) if NUMBER.fullmatch(text) else math.nan
    low, high = constraints.get("minimum", -math.inf), constraints.get("maximum", math.inf)
    if not math.isfinite(value):
        return math.nan, "a number with a decimal point"
    if not low <= value <= high:
        return math.nan, f"a number from {low:g} to {high:g} {'' if unit == '1' else unit}".rstrip()
    return value, ""


def _frame(records: list[dict], fields: Sequence[Mapping]) -> pd.DataFrame:
    types: dict[str, str] = {"line": "int64"}
    for field in fields:
        types[field["name"]] = "float64" if field["type"] in ("number", "integer") else "object"
    return pd.DataFrame(records, columns=list(types)).astype(types)
