"""Tables that steps leave behind and users get, written and read by their schemas.

A table of samples may be long: it is written and read in pieces, so that memory holds a few columns and one
piece.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from headland.base.errors import refuse
from headland.base.findings import Finding
from headland.base.time_text import time_decimals, time_text, times
from headland.files.schemas import table_schema
from headland.files.writing import whole

PIECE = 20_000
"""Rows that are read, worked on and made into text at a time: as text they take ten times the memory."""


def pieces_of(count: int) -> list[slice]:
    """So many rows in pieces; one piece without rows where there is none, so that a table gets its header."""
    return [slice(start, start + PIECE) for start in range(0, max(count, 1), PIECE)]


# Writing


def write_table(path: Path, frame: pd.DataFrame, kind: str) -> None:
    """Write a table by its schema: exactly its columns in its order, its decimals; missing values are empty
    cells.
    """
    decimals = {
        field["name"]: time_decimals(frame[field["name"]])
        for field in table_schema(kind)["fields"]
        if field["type"] == "datetime" and field["name"] in frame
    }
    write_pieces(path, (frame.iloc[piece] for piece in pieces_of(len(frame))), kind, decimals)


def write_pieces(
    path: Path, pieces: Iterable[pd.DataFrame], kind: str, decimals: Mapping[str, int] | None = None
) -> int:
    """`write_table` for a table that is never held as a whole.

    Parameters
    ----------
    pieces : of the table in their order; the first has all columns.
    decimals : of a second, for each column of times that is not text as `read_pieces` gives it. All times of
        a column have the same.

    Returns
    -------
    The number of rows written.
    """
    fields: list[Mapping] = []
    count = 0
    with whole(path) as part, part.open("w", encoding="utf-8", newline="") as stream:
        for piece in pieces:
            if not fields:
                fields = [
                    f for f in table_schema(kind)["fields"] if f["name"] in piece or not f.get("optional")
                ]
                stream.write(",".join(field["name"] for field in fields) + "\n")
            columns = [_cells(piece[f["name"]], f, (decimals or {}).get(f["name"])) for f in fields]
            stream.writelines(",".join(cells) + "\n" for cells in zip(*columns, strict=True))
            count += len(piece)
    return count


def _cells(values: pd.Series, field: Mapping, decimals_of_times: int | None = None) -> list[str]:
    """A column's cells as they are in the file."""
    if field["type"] == "datetime":
        return values.tolist() if decimals_of_times is None else time_text(values, decimals_of_times)
    if field["type"] in ("number", "integer"):
        numbers = pd.to_numeric(values).to_numpy(dtype=float, na_value=np.nan)
        decimals = field.get("decimals", 4) if field["type"] == "number" else 0
        form = f"z.{decimals}f"  # z: no "-0.00"
        finite = np.isfinite(numbers).tolist()
        return [
            format(number, form) if known else ""
            for number, known in zip(numbers.tolist(), finite, strict=True)
        ]
    if field["type"] == "boolean":
        return ["" if pd.isna(value) else ("true" if value else "false") for value in values]
    # the same words recur in most columns of text; a missing value has the code -1, the last of the cells
    codes, words = pd.factorize(values)
    cells = [*(quoted(str(word)) for word in words), ""]
    return [cells[code] for code in codes.tolist()]


def quoted(cell: str) -> str:
    """A text cell of a CSV, quoted where it must be.

    A cell that a spreadsheet would run as a formula gets a leading apostrophe.
    """
    if cell[:1] in ("=", "+", "-", "@", "\t", "\r") and not re.fullmatch(r"[-+]?[\d.,:]+", cell):
        cell = "'" + cell
    return '"' + cell.replace('"', '""') + '"' if any(c in cell for c in ',"\r\n') else cell


# Reading


def read_pieces(path: Path, kind: str, columns: Sequence[str] | None = None) -> Iterator[pd.DataFrame]:
    """A table that `write_table` wrote, PIECE rows at a time, for a step that treats each row separately.

    A table without rows is one piece without rows. columns: those wanted; all where None. Numbers are
    numbers, all else is the text in the file: times go through `write_pieces` as they are.
    """
    types = _types(kind, columns)
    numbers = [name for name, is_a in types.items() if is_a in ("number", "integer")]
    with pd.read_csv(
        path,
        usecols=types.__contains__,
        dtype={name: "float64" if name in numbers else "str" for name in types},
        keep_default_na=False,
        na_values={name: [""] for name in numbers},
        chunksize=PIECE,
    ) as pieces:
        yield from pieces


def read_table(
    path: Path,
    kind: str,
    columns: Sequence[str] | None = None,
    texts: str = "str",
    rows: np.ndarray | None = None,
) -> pd.DataFrame:
    """Read a table that `write_table` wrote, with the types of its schema.

    Parameters
    ----------
    columns : those wanted; all where None.
    texts : the type of its text. As `category` (in the order of the alphabet), a row takes a byte or two of a
        column in which the same words recur.
    rows : those wanted, a truth value each; all where None.
    """
    types = _types(kind, columns)
    words: dict[str, dict[str, int]] = {name: {} for name in types}

    def as_numbers() -> Iterator[dict[str, np.ndarray]]:
        seen = 0
        for piece in read_pieces(path, kind, columns):
            wanted = piece if rows is None else piece[rows[seen : seen + len(piece)]]
            seen += len(piece)
            yield {name: _as_numbers(wanted[name], types[name], words[name]) for name in map(str, wanted)}

    most = _line_ends(path) if rows is None else int(np.count_nonzero(rows))
    numbers = gathered(as_numbers(), most)
    typed = {
        name: _as_typed(column, types[name], list(words[name]), texts) for name, column in numbers.items()
    }
    return pd.DataFrame(typed, copy=False)


def _types(kind: str, columns: Sequence[str] | None) -> dict[str, str]:
    """Types of a table's columns by name. columns: those wanted; all where None."""
    fields = table_schema(kind)["fields"]
    return {f["name"]: f["type"] for f in fields if columns is None or f["name"] in columns}


def gathered(pieces: Iterable[Mapping[str, np.ndarray]], most: int) -> dict[str, np.ndarray]:
    """Columns joined from their pieces, which are filled in as they come, so that none is held twice.

    most: rows that they have at most. The part of a column that is not filled takes no memory.
    """
    columns: dict[str, np.ndarray] = {}
    count = 0
    for piece in pieces:
        length = 0
        for name, values in piece.items():
            if name not in columns:
                columns[name] = np.empty(most, values.dtype)
            length = len(values)
            columns[name][count : count + length] = values
        count += length
    return {name: column[:count] for name, column in columns.items()}


def _line_ends(path: Path) -> int:
    """Line ends in a file: no fewer than a table of ours has rows."""
    with path.open("rb") as stream:
        return sum(block.count(b"\n") for block in iter(partial(stream.read, 1 << 20), b""))


def _as_numbers(values: pd.Series, is_a: str, words: dict[str, int]) -> np.ndarray:
    """A piece of a column as numbers.

    Times are microseconds since 1970. Text is its place among the column's words, to which new ones are
    added.
    """
    if is_a == "datetime":
        return times(values).astype("int64").to_numpy()
    if is_a in ("number", "integer"):
        return values.to_numpy()
    codes, some = pd.factorize(values)
    return np.array([words.setdefault(word, len(words)) for word in some], np.int32)[codes]


def _as_typed(numbers: np.ndarray, is_a: str, words: list[str], texts: str):
    """A column by its schema, from the numbers of its pieces (`_as_numbers`)."""
    if is_a == "datetime":
        return pd.DatetimeIndex(numbers.view("datetime64[us]")).tz_localize("UTC")
    if is_a in ("number", "integer"):
        return numbers
    column = pd.Series(pd.Categorical.from_codes(numbers, pd.Index(words, dtype="str")))
    if is_a == "boolean":
        return column.astype("str").map({"true": True, "false": False})
    return column.astype("str") if texts == "str" else column.cat.reorder_categories(sorted(words))


class OnDisk:
    """A table that `write_table` wrote, whose columns are read when they are asked for, and not kept.

    A column is asked for by its name, several by a list of names.
    """

    def __init__(self, path: Path, kind: str):
        self.path, self.kind, self.columns = path, kind, list(pd.read_csv(path, nrows=0))

    def __contains__(self, name: str) -> bool:
        return name in self.columns

    def __getitem__(self, names: str | list[str]) -> pd.Series | pd.DataFrame:
        frame = read_table(self.path, self.kind, [names] if isinstance(names, str) else names)
        return frame[names] if isinstance(names, str) else frame


def beside(left: pd.DataFrame, right: pd.DataFrame, path: Path) -> pd.DataFrame:
    """Two tables of the same rows as one. path: the file of the second.

    Raises UserErrors where it has another number of rows: a file that a step left was changed since.
    """
    if len(left) != len(right):
        found = f"{len(right)} rows in steps/{path.parent.name}"
        wanted = f"{len(left)}, as the step before it left; delete this file and run again"
        raise refuse(path.name, None, found, wanted)
    return left.assign(**{str(name): right[name] for name in right})


# Findings


def write_findings(path: Path, findings: Sequence[Finding]) -> None:
    """Write a step's findings as a table (`workflow/schemas/findings.json`)."""
    as_json: Callable[[object], str] = partial(json.dumps, ensure_ascii=False, sort_keys=True, default=str)
    names = [field["name"] for field in table_schema("findings")["fields"]]
    records = [
        {name: getattr(finding, name) for name in names} | {"facts": as_json(dict(finding.facts))}
        for finding in findings
    ]
    write_table(path, pd.DataFrame(records, columns=names), "findings")


def read_findings(path: Path) -> list[Finding]:
    """The inverse of `write_findings`."""
    found = []
    for row in read_table(path, "findings").to_dict("records"):
        cells: dict[str, Any] = {str(name): cell for name, cell in row.items()}
        line = None if pd.isna(cells["line"]) else int(cells["line"])
        found.append(Finding(**cells | {"line": line, "facts": json.loads(cells["facts"])}))
    return found
