"""Reading and writing tables: what users write, what steps leave behind, what users get.

One of the three modules that touch files. Each table that a user writes or gets has a schema in `workflow/schemas`
(Table Schema, an open standard), which names its columns, their types, units and decimals; this module knows no
column by itself.
"""

from __future__ import annotations

import contextlib
import csv
import datetime
import glob
import io
import json
import math
import os
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache, partial
from pathlib import Path

import numpy as np
import pandas as pd

from headland.base.basics import UserError, UserErrors, did_you_mean, harmful
from headland.base.findings import Finding

SCHEMAS = Path(__file__).parents[2] / "schemas"
LARGEST_USER_TABLE = 50_000_000
"""Bytes: a register, notes or weather table above this is not one."""
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = {"weather": 500_000, "station": 500_000}, 200, 20_000
"""Rows by kind (others MOST_BY_HAND), columns, and characters of a cell: beyond them a file is no such table, and reading it would take hours or all memory."""
MOST_BY_HAND = 10_000
BLANK_ROWS = 100_000
"""Empty rows of a sheet that are passed over."""
LONGEST_TEXT = 300
"""Characters of a text that are kept: names and remarks stand in figures and columns."""


@cache
def schema(name: str) -> Mapping:
    """The Table Schema `workflow/schemas/<name>.json`."""
    return json.loads((SCHEMAS / f"{name}.json").read_text(encoding="utf-8"))


# Tables of the project: ours, so a fault in them is a bug --------------------------------------------------------


def read_config_table(path: Path) -> pd.DataFrame:
    """A table of the project (config/*.csv, findings.csv, quantities.csv), every cell as text."""
    return pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8", comment=None)


# Tables that users write -----------------------------------------------------------------------------------------


def read_user_table(path: Path, kind: str) -> tuple[pd.DataFrame, list[Finding]]:
    """A table that a user wrote, as text and numbers by its schema, and what is wrong with it.

    kind: the schema's name (`instruments`, `notes`, `weather`, `station`). The frame has every column of the schema
    (absent ones empty) and `line`, the line (or the sheet's row) on which each record stands. A record with a
    cell that does not fit is kept with that cell empty and named in a finding; nothing is dropped but blank lines.
    """
    fields = schema(kind)["fields"]
    required = [f["name"] for f in fields if f.get("constraints", {}).get("required")]
    allowed = [f["name"] for f in fields]
    name = path.name
    try:
        rows, findings = (_xlsx_rows if path.suffix == ".xlsx" else _csv_rows)(
            path, MOST_ROWS.get(kind, MOST_BY_HAND)
        )
    except UserErrors as problem:
        return _frame([], fields), [_unreadable(e) for e in problem.errors]
    if not rows:
        return _frame([], fields), [
            *findings,
            Finding("file-empty", "table", file=name, facts={"columns": ", ".join(required)}),
        ]
    header_line, header = rows[0]
    header = [cell.strip() for cell in header]
    missing = [column for column in required if column not in header]
    for column in missing:
        found = ", ".join(c for c in header if c) or "nothing"
        findings.append(
            Finding(
                "column-missing",
                file=name,
                line=header_line,
                channel="",
                facts={
                    "column": column,
                    "found": found,
                    "hint": did_you_mean(column, [c for c in header if c not in allowed]),
                },
            )
        )
    for column in dict.fromkeys(header):
        if column and column not in allowed:
            findings.append(
                Finding(
                    "column-unknown",
                    file=name,
                    line=header_line,
                    facts={
                        "column": column,
                        "allowed": ", ".join(allowed),
                        "hint": did_you_mean(column, [a for a in allowed if a not in header]),
                    },
                )
            )
        if column in allowed and header.count(column) > 1:
            findings.append(Finding("column-twice", file=name, line=header_line, facts={"column": column}))
    if missing:
        return _frame([], fields), findings
    records = []
    for line, cells in rows[1:]:
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) > len(header) and any(cell.strip() for cell in cells[len(header) :]):
            findings.append(
                Finding(
                    "row-too-long", file=name, line=line, facts={"cells": len(cells), "columns": len(header)}
                )
            )
        record = {
            column: cell.strip()
            for column, cell in zip(reversed(header), reversed(_padded(cells, len(header))))
        }
        records.append({"line": line, **record})
    return _typed(records, fields, name, findings), findings


def read_weather(paths: Sequence[Path]) -> tuple[pd.DataFrame, list[Finding]]:
    """The campaign's weather table with `time_utc` as times, where it has one (paths: that file, or nothing)."""
    return _read_timed(paths, "weather")


def read_station(paths: Sequence[Path]) -> tuple[pd.DataFrame, list[Finding]]:
    """The fixed station's table with `time_utc` as times, where the campaign has one (paths: that file, or nothing)."""
    return _read_timed(paths, "station")


def _read_timed(paths: Sequence[Path], kind: str) -> tuple[pd.DataFrame, list[Finding]]:
    if not paths:
        frame = _frame([], schema(kind)["fields"])
        return frame.assign(time_utc=pd.to_datetime(frame["time_utc"], utc=True)), []
    frame, findings = read_user_table(paths[0], kind)
    moments = pd.to_datetime(
        frame["time_utc"].where(frame["time_utc"] != "", None), errors="coerce", utc=True, format="ISO8601"
    )
    for row in frame[moments.isna()].to_dict("records"):
        findings.append(
            Finding(
                "value-invalid",
                file=paths[0].name,
                line=row["line"],
                facts={
                    "column": "time_utc",
                    "value": row["time_utc"][:60],
                    "allowed": "a time in UTC such as 2026-05-21T09:30:00Z",
                    "hint": "",
                },
            )
        )
    return frame.assign(time_utc=moments.astype("datetime64[us, UTC]")), findings


def no_user_table(kind: str) -> pd.DataFrame:
    """What `read_user_table` gives of a table without a row: for a campaign that has none."""
    return _frame([], schema(kind)["fields"])


def _padded(cells: list[str], length: int) -> list[str]:
    return (cells + [""] * length)[:length]


def _unreadable(error: UserError) -> Finding:
    return Finding(
        "table-unreadable",
        file=error.file,
        line=error.line,
        facts={"found": error.found, "expected": error.expected},
    )


def _typed(
    records: list[dict], fields: Sequence[Mapping], name: str, findings: list[Finding]
) -> pd.DataFrame:
    """Records with each cell read by its field's type and checked against its constraints."""
    for record in records:
        for field in fields:
            column, text = field["name"], record.get(field["name"], "")
            value, wanted = _value(text, field)
            if wanted:
                findings.append(
                    Finding(
                        "value-invalid",
                        file=name,
                        line=record["line"],
                        facts={
                            "column": column,
                            "value": text[:60],
                            "allowed": wanted,
                            "hint": did_you_mean(text, field.get("constraints", {}).get("enum", ())),
                        },
                    )
                )
            if isinstance(value, str) and (value != text and not wanted and field["type"] != "date"):
                findings.append(
                    Finding(
                        "text-changed",
                        file=name,
                        line=record["line"],
                        facts={"column": column, "most": LONGEST_TEXT},
                    )
                )
            record[column] = value
    return _frame(records, fields)


def _value(text: str, field: Mapping) -> tuple[object, str]:
    """A cell's value, and what would have been allowed where the cell does not fit (an empty text where it does)."""
    constraints = field.get("constraints", {})
    number = field["type"] in ("number", "integer")
    empty = math.nan if number else ""
    if text == "":
        return empty, (
            "a value: the column may not be empty"
            if constraints.get("required") and not field.get("sometimes_empty")
            else ""
        )
    if number:
        try:
            value = (
                float(text)
                if re.fullmatch(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d{1,2})?", text)
                else math.nan
            )
        except ValueError:
            value = math.nan
        low, high = constraints.get("minimum", -math.inf), constraints.get("maximum", math.inf)
        if not math.isfinite(value):
            return empty, "a number with a decimal point"
        if not low <= value <= high:
            return (
                empty,
                f"a number from {low:g} to {high:g}{' ' + field['unit'] if field.get('unit') else ''}",
            )
        return value, ""
    if "enum" in constraints and text not in constraints["enum"]:
        return empty, " or ".join(constraints["enum"])
    if field["type"] == "date":
        try:
            return datetime.date.fromisoformat(text).isoformat(), ""
        except ValueError:
            return empty, "a date such as 2026-05-21"
    return "".join("\ufffd" if harmful(c) else c for c in text[:LONGEST_TEXT]), ""


def _frame(records: list[dict], fields: Sequence[Mapping]) -> pd.DataFrame:
    columns = {"line": "int64"} | {
        f["name"]: "float64" if f["type"] in ("number", "integer") else "object" for f in fields
    }
    return pd.DataFrame(records, columns=list(columns)).astype(columns)


def _refuse_beyond(limits: int, name: str, line: int, cells: Sequence[str], count: int) -> None:
    """Raise UserErrors where a row is beyond what a table may have. limits: rows that it may have. count: those before this one."""
    longest = max(map(len, cells), default=0)
    for what, found, most in (
        ("rows", count, limits),
        ("columns", len(cells), MOST_COLUMNS),
        ("characters in a cell", longest, LONGEST_CELL),
    ):
        if found > most:
            raise UserErrors(
                [
                    UserError(
                        name,
                        line,
                        f"more than {most} {what}",
                        "a table such as this tool describes: leave out what is not asked for, or split the file",
                    )
                ]
            )


def _csv_rows(path: Path, most: int = MOST_BY_HAND) -> tuple[list[tuple[int, list[str]]], list[Finding]]:
    if path.stat().st_size > LARGEST_USER_TABLE:
        raise UserErrors(
            [UserError(path.name, None, "the file is larger than 50 MB", "a table written by hand")]
        )
    text, findings = decoded(path.read_bytes(), path.name)
    if "\0" in text:
        raise UserErrors(
            [UserError(path.name, None, "the file is not text", "a CSV file: save the table as CSV, UTF-8")]
        )
    delimiter = _delimiter(text)
    if delimiter != ",":
        findings.append(
            Finding(
                "wrong-delimiter",
                "table",
                file=path.name,
                line=1,
                facts={"found": {";": "semicolons", "\t": "tabs"}[delimiter]},
            )
        )
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows, start = [], 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                _refuse_beyond(most, path.name, start, cells, len(rows))
                rows.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as problem:
        raise UserErrors(
            [
                UserError(
                    path.name,
                    reader.line_num,
                    f"a line that can't be read ({problem})",
                    "cells separated by commas",
                )
            ]
        ) from None
    return rows, findings


def _delimiter(text: str) -> str:
    """What separates the names of the columns: a comma, where nothing else clearly does."""
    first = text.lstrip("\r\n ").split("\n", 1)[0]
    found = max(",;\t", key=first.count) if first.count(",") == 0 else ","
    return found if found in first else ","


def decoded(raw: bytes, name: str) -> tuple[str, list[Finding]]:
    """Text of a user's table: UTF-8 (a byte-order mark is accepted); UTF-16 and Latin-1 are read and named in a finding."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace"), [
            Finding("wrong-encoding", "table", file=name, facts={"found": "UTF-16"})
        ]
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError as problem:
        line = raw[: problem.start].count(b"\n") + 1
        return raw.decode("latin-1"), [
            Finding(
                "wrong-encoding",
                "table",
                file=name,
                line=line,
                facts={"found": "Latin-1 (a Windows encoding)"},
            )
        ]


def csv_without_remarks(path: Path, kind: str) -> bytes:
    """A user's table without its remarks and without columns that its schema lacks: their cells are empty, every line stays where it was."""
    _csv_rows(path)  # refuses what is too large or damaged
    text, other = decoded(path.read_bytes(), path.name)
    encoding = other[0].facts["found"].split()[0].lower() if other else "utf-8"
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text)))
    keep = _columns_to_keep(next((row for row in rows if any(cell.strip() for cell in row)), []), kind)
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=_delimiter(text), lineterminator="\r\n" if "\r\n" in text else "\n")
    # a remark may hold line ends, and the rows below it keep their numbers
    writer.writerows(
        [
            cell if number in keep else "".join(c for c in cell if c in "\r\n")
            for number, cell in enumerate(row)
        ]
        for row in rows
    )
    return out.getvalue().encode(encoding)


def workbook_without_remarks(path: Path, kind: str):
    """As `csv_without_remarks`, for a table in a workbook: a new one with the values of the first sheet's other columns and nothing else."""
    import openpyxl

    _xlsx_rows(path)  # refuses what is too large or damaged
    with _first_sheet(path) as sheet:
        rows = list(sheet.iter_rows(values_only=True))
    keep = _columns_to_keep(
        next(
            ([_cell_text(cell) for cell in row] for row in rows if any(_cell_text(cell) for cell in row)), []
        ),
        kind,
    )
    book = openpyxl.Workbook()
    for number, row in enumerate(rows, 1):
        for column, value in enumerate(row):
            if column in keep and value is not None:
                cell = book.active.cell(number, column + 1)
                cell.value = value
                if isinstance(value, str):
                    cell.data_type = "s"
    return book


def _columns_to_keep(header: Sequence[str], kind: str) -> set[int]:
    known = {field["name"] for field in schema(kind)["fields"]} - {"remark"}
    return {number for number, cell in enumerate(header) if cell.strip() in known}


@contextlib.contextmanager
def _first_sheet(path: Path) -> Iterator:
    """The first sheet of a workbook, read row by row. What openpyxl warns of (a lost style, a date beyond all dates) shows in the cells, where it matters."""
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with contextlib.closing(openpyxl.load_workbook(path, read_only=True, data_only=True)) as book:
            yield book.worksheets[0]


def _xlsx_rows(path: Path, most: int = MOST_BY_HAND) -> tuple[list[tuple[int, list[str]]], list[Finding]]:
    """Rows of the first sheet as text, with times and dates in ISO form."""
    fault = UserErrors(
        [
            UserError(
                path.name,
                None,
                "the file can't be read as a workbook",
                "an XLSX workbook whose first sheet is the table",
            )
        ]
    )
    try:
        with zipfile.ZipFile(path) as archive:
            if sum(item.file_size for item in archive.infolist()) > LARGEST_USER_TABLE:
                raise UserErrors(
                    [
                        UserError(
                            path.name, None, "the workbook is larger than 50 MB", "a table written by hand"
                        )
                    ]
                )
        with _first_sheet(path) as sheet:
            rows = []
            for number, cells in enumerate(sheet.iter_rows(values_only=True), 1):
                if (
                    number > BLANK_ROWS + most
                ):  # a sheet may claim a row far down, and all before it would be gone through
                    raise UserErrors(
                        [
                            UserError(
                                path.name,
                                None,
                                f"more than {most} rows",
                                "a table such as this tool describes, from the first row on",
                            )
                        ]
                    )
                texts = [_cell_text(cell) for cell in cells]
                while texts and not texts[-1]:
                    texts.pop()
                if texts:
                    _refuse_beyond(most, path.name, number, texts, len(rows))
                    rows.append((number, texts))
    except UserErrors:
        raise
    except Exception:  # openpyxl raises many kinds on a damaged workbook; each means the same to the user
        raise fault from None
    return rows, []


def _cell_text(cell: object) -> str:
    match cell:
        case None:
            return ""
        case bool():
            return str(cell).lower()
        case datetime.datetime() if cell.time() == datetime.time(0):
            return cell.date().isoformat()
        case datetime.datetime():
            return cell.isoformat(sep=" ", timespec="seconds")
        case datetime.time():
            return cell.isoformat(timespec="seconds")
        case datetime.timedelta():
            seconds = round(cell.total_seconds())
            return f"{seconds // 3600:02d}:{seconds % 3600 // 60:02d}:{seconds % 60:02d}"
        case float() if cell.is_integer():
            return str(int(cell))
        case _:
            return str(cell).strip()


# Tables that steps leave behind and users get --------------------------------------------------------------------


def time_text(times: pd.Series | pd.DatetimeIndex, decimals: int | None = None) -> list[str]:
    """Times as ISO 8601 in UTC ending in Z; NaT is empty. decimals: of a second; None: as many as these times need."""
    index = pd.DatetimeIndex(times)
    if index.tz is not None:
        index = index.tz_convert("UTC").tz_localize(None)
    decimals = time_decimals(index) if decimals is None else decimals
    texts = np.datetime_as_string(index.to_numpy(), unit="us")
    cut = 19 if decimals == 0 else 20 + decimals
    return [text[:cut] + "Z" if good else "" for text, good in zip(texts.tolist(), ~index.isna())]


def time_decimals(times: pd.Series | pd.DatetimeIndex) -> int:
    """Decimals of a second that show all of these times in full, to a microsecond."""
    index = pd.DatetimeIndex(times)
    micros = index.as_unit("us").asi8[~index.isna()]
    return next((d for d in (0, 1, 2, 3, 6) if not np.any(micros % 10 ** (6 - d))), 6)


def times(texts: pd.Series) -> pd.Series:
    """The inverse of `time_text`."""
    bare = texts.fillna("").str.rstrip("Z").replace("", None)
    return pd.to_datetime(bare, format="ISO8601", utc=True).astype("datetime64[us, UTC]")


def _column_text(values: pd.Series, field: Mapping, decimals_of_times: int | None = None) -> list[str]:
    """A column's cells as they stand in the file."""
    if field["type"] == "datetime":
        return values.tolist() if decimals_of_times is None else time_text(values, decimals_of_times)
    if field["type"] in ("number", "integer"):
        numbers = pd.to_numeric(values).to_numpy(dtype=float, na_value=np.nan)
        form = f"z.{field.get('decimals', 4) if field['type'] == 'number' else 0}f"  # z: no "-0.00"
        return [format(number, form) if number - number == 0 else "" for number in numbers.tolist()]
    if field["type"] == "boolean":
        return ["" if pd.isna(value) else ("true" if value else "false") for value in values]
    # the same words recur in most columns of text
    places, words = pd.factorize(values)
    cells = [*(_quoted(str(word)) for word in words), ""]  # the last, at place -1, is that of a missing value
    return [cells[place] for place in places.tolist()]


@contextlib.contextmanager
def whole(path: Path) -> Iterator[Path]:
    """Where to write what gets this name once it is whole: a run that is killed leaves nothing half-written under a name that people open.

    What an earlier writer of this name may have left half-written is removed.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    for left in path.parent.glob(f".{glob.escape(path.name)}.*.part"):
        left.unlink(missing_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield part
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


PIECE = 20_000
"""Rows that are read, worked on and made into text at a time: as text they take ten times the memory."""


def pieces_of(count: int) -> list[slice]:
    """So many rows in pieces; one piece without rows where there is none, so that a table gets its header."""
    return [slice(start, start + PIECE) for start in range(0, max(count, 1), PIECE)]


def write_table(path: Path, frame: pd.DataFrame, kind: str) -> None:
    """Write a table by its schema: exactly its columns in its order, its decimals; a missing value is an empty cell."""
    decimals = {
        f["name"]: time_decimals(frame[f["name"]])
        for f in schema(kind)["fields"]
        if f["type"] == "datetime" and f["name"] in frame
    }
    write_pieces(path, (frame.iloc[piece] for piece in pieces_of(len(frame))), kind, decimals)


def write_pieces(
    path: Path, pieces: Iterable[pd.DataFrame], kind: str, decimals: Mapping[str, int] | None = None
) -> int:
    """`write_table` for a table that is never held as a whole: its pieces in their order, the first of which has all columns. Returns how many rows they had.

    decimals: of a second, for each column of times that is not text already as `read_pieces` gives it; all of a table's times have the same.
    """
    fields, count = None, 0
    with whole(path) as part, part.open("w", encoding="utf-8", newline="") as stream:
        for piece in pieces:
            if fields is None:
                fields = [f for f in schema(kind)["fields"] if f["name"] in piece or not f.get("optional")]
                stream.write(",".join(f["name"] for f in fields) + "\n")
            columns = [_column_text(piece[f["name"]], f, (decimals or {}).get(f["name"])) for f in fields]
            stream.writelines(",".join(cells) + "\n" for cells in zip(*columns))
            count += len(piece)
    return count


def _quoted(cell: str) -> str:
    """A text cell of a CSV, quoted where it must be. A cell that a spreadsheet would run as a formula gets a leading apostrophe."""
    if cell[:1] in ("=", "+", "-", "@", "\t", "\r") and not re.fullmatch(r"[-+]?[\d.,:]+", cell):
        cell = "'" + cell
    return '"' + cell.replace('"', '""') + '"' if any(c in cell for c in ',"\r\n') else cell


def read_pieces(path: Path, kind: str, columns: Sequence[str] | None = None) -> Iterator[pd.DataFrame]:
    """A table that `write_table` wrote, PIECE rows at a time (one piece without rows where it has none): for a step that looks at each row by itself.

    columns: those wanted; all where None. Numbers are numbers; whatever else is the text that stands there: times go through `write_pieces` as they are.
    """
    fields = {f["name"]: f["type"] for f in schema(kind)["fields"] if columns is None or f["name"] in columns}
    numbers = [name for name, is_a in fields.items() if is_a in ("number", "integer")]
    with pd.read_csv(
        path,
        usecols=fields.__contains__,
        dtype={name: "float64" if name in numbers else "str" for name in fields},
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
    """Read a table that `write_table` wrote, with the types of its schema. columns, rows: those wanted, of the rows by a truth value each; all where None.

    texts: type of its text; as `category` (in the order of the alphabet), a row takes a byte or two of each column in which the same words recur.
    """
    types = {f["name"]: f["type"] for f in schema(kind)["fields"]}
    words: dict[str, dict[str, int]] = {}

    def numbers() -> Iterator[dict[str, np.ndarray]]:
        seen = 0
        for piece in read_pieces(path, kind, columns):
            wanted = piece if rows is None else piece[rows[seen : seen + len(piece)]]
            seen += len(piece)
            yield {
                name: _as_numbers(values, types[name], words.setdefault(name, {}))
                for name, values in wanted.items()
            }

    whole_columns = gathered(numbers(), _lines(path) if rows is None else np.count_nonzero(rows))
    return pd.DataFrame(
        {
            name: _as_typed(column, types[name], list(words[name]), texts)
            for name, column in whole_columns.items()
        },
        copy=False,
    )


def gathered(pieces: Iterable[Mapping[str, np.ndarray]], most: int) -> dict[str, np.ndarray]:
    """Columns from their pieces, filled as these come, so that none is held twice. most: rows that they have at most; of a column, what is not filled takes no memory."""
    columns: dict[str, np.ndarray] = {}
    count = 0
    for piece in pieces:
        for name, values in piece.items():
            if name not in columns:
                columns[name] = np.empty(most, values.dtype)
            columns[name][count : count + len(values)] = values
        count += len(values)
    return {name: column[:count] for name, column in columns.items()}


def beside(left: pd.DataFrame, right: pd.DataFrame, path: Path) -> pd.DataFrame:
    """Two tables of the same rows as one. path: where the second was read. UserErrors where it has not as many: a file that a step left was changed since."""
    if len(left) != len(right):
        raise UserErrors(
            [
                UserError(
                    path.name,
                    None,
                    f"{len(right)} rows in steps/{path.parent.name}",
                    f"{len(left)}, as the step before it left; delete this file and run again",
                )
            ]
        )
    return left.assign(**right)


class OnDisk:
    """A table that `write_table` wrote, of which each column is read when it is asked for, by its name or with others by a list of names, and not kept."""

    def __init__(self, path: Path, kind: str):
        self.path, self.kind, self.columns = path, kind, list(pd.read_csv(path, nrows=0))

    def __contains__(self, name: str) -> bool:
        return name in self.columns

    def __getitem__(self, names: str | list[str]) -> pd.Series | pd.DataFrame:
        frame = read_table(self.path, self.kind, [names] if isinstance(names, str) else names)
        return frame[names] if isinstance(names, str) else frame


def _lines(path: Path) -> int:
    """Line ends in a file: no fewer than a table of ours has rows."""
    with path.open("rb") as stream:
        return sum(block.count(b"\n") for block in iter(partial(stream.read, 1 << 20), b""))


def _as_numbers(values: pd.Series, is_a: str, words: dict[str, int]) -> np.ndarray:
    """A piece of a column as numbers: times as microseconds since 1970, text as its places among the column's words, to which new ones are added."""
    if is_a == "datetime":
        return times(values).astype("int64").to_numpy()
    if is_a in ("number", "integer"):
        return values.to_numpy()
    codes, some = pd.factorize(values)
    return np.array([words.setdefault(word, len(words)) for word in some], np.int32)[codes]


def _as_typed(numbers: np.ndarray, is_a: str, words: list[str], texts: str):
    """A column by its schema, from what `_as_numbers` made of its pieces."""
    if is_a == "datetime":
        return pd.DatetimeIndex(numbers.view("datetime64[us]")).tz_localize("UTC")
    if is_a in ("number", "integer"):
        return numbers
    column = pd.Series(pd.Categorical.from_codes(numbers, pd.Index(words, dtype="str")))
    if is_a == "boolean":
        return column.astype("str").map({"true": True, "false": False})
    return column.astype("str") if texts == "str" else column.cat.reorder_categories(sorted(words))


def write_findings(path: Path, findings: Sequence[Finding]) -> None:
    """Leave a step's findings as a table (`workflow/schemas/findings.json`)."""
    records = [
        {
            "code": f.code,
            "variant": f.variant,
            "set": f.set,
            "file": f.file,
            "line": f.line,
            "start_utc": f.start_utc,
            "end_utc": f.end_utc,
            "channel": f.channel,
            "facts": json.dumps(dict(f.facts), ensure_ascii=False, sort_keys=True, default=str),
        }
        for f in findings
    ]
    names = [f["name"] for f in schema("findings")["fields"]]
    write_table(path, pd.DataFrame(records, columns=names), "findings")


def read_findings(path: Path) -> list[Finding]:
    """The inverse of `write_findings`."""
    frame = read_table(path, "findings")
    return [
        Finding(
            row["code"],
            row["variant"],
            row["set"],
            row["file"],
            None if pd.isna(row["line"]) else int(row["line"]),
            row["start_utc"],
            row["end_utc"],
            row["channel"],
            json.loads(row["facts"]),
        )
        for row in frame.to_dict("records")
    ]


def write_json(path: Path, value: object) -> None:
    """Write a value as JSON that people can read."""
    write_text(path, json.dumps(value, ensure_ascii=False, indent=2) + "\n")


def write_text(path: Path, text: str) -> None:
    """Write text as UTF-8, with its line ends as they are."""
    with whole(path) as part:
        part.write_text(text, encoding="utf-8", newline="")
