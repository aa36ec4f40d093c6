"""Text files as loggers leave them, for any layout."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile

import numpy as np
import openpyxl
import pandas as pd

SECONDS = {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0, "d": 86400.0}


def number(value: float, digits: int | None, decimal: str, missing: str) -> str:
    if not np.isfinite(value):
        return missing
    text = f"{value:.{7 if digits is None else digits}f}"
    return text if decimal == "." else text.replace(".", decimal)


def time_columns(layout: dict, stamps: pd.DatetimeIndex) -> list[tuple[str | int, list[str]]]:
    """Every column that the layout's `time` names, as text."""
    time = layout["time"]
    if "format" in time and "column" in time:
        return [(time["column"], list(stamps.strftime(time["format"])))]
    if "columns" in time:
        parts = time["format"].split(" ")
        if len(parts) != len(time["columns"]):
            raise ValueError(f"time format {time['format']!r} has not one part for each of {time['columns']}")
        return [
            (column, list(stamps.strftime(part)))
            for column, part in zip(time["columns"], parts, strict=False)
        ]
    if "unit" in time:
        since = pd.Timestamp(time["since"])
        value = (stamps - since).total_seconds().to_numpy() / SECONDS[time["unit"]]
        return [(time["column"], [f"{v:.7f}".rstrip("0").rstrip(".") for v in value])]
    out = []
    for key, column in time.items():
        values = stamps.hour * 100 + stamps.minute if key == "hhmm" else getattr(stamps, key)
        out.append((column, [str(int(v)) for v in values]))
    return out


def head_lines(layout: dict, logger_id: str) -> list[str]:
    """The free lines before the column names, the one that names the logger among them."""
    lines = ["field logger, records switched by hand"] * layout["skip_lines"]
    identity = layout.get("identity", {}).get("logger_id")
    if identity:
        text = re.sub(r"\([^)]*\)", lambda _: logger_id, identity["pattern"], count=1)
        found = re.search(identity["pattern"], text)
        if not found or found.group(1) != logger_id or identity["line"] > layout["skip_lines"]:
            raise ValueError(f"no line can be written for the identity {identity}")
        lines[identity["line"] - 1] = text
    return lines


def logger_text(
    layout: dict, logger_id: str, records: pd.DataFrame, digits: int | None, body_digits: int | None
) -> bytes:
    """One file: records has a column `stamp` (the logger's clock) and one for each channel."""
    delimiter = " " if layout["delimiter"] == "whitespace" else layout["delimiter"]
    missing = str((layout.get("missing") or ["NaN"])[0])
    columns = time_columns(layout, pd.DatetimeIndex(records["stamp"]))
    units = {column: "-" for column, _ in columns}
    for channel, entry in layout["channels"].items():
        places = 2 if channel == "battery" else body_digits if channel.startswith("body") else digits
        columns.append(
            (entry["column"], [number(v, places, layout["decimal"], missing) for v in records[channel]])
        )
        units[entry["column"]] = entry["unit"]
    if any(
        isinstance(name, int) for name, _ in columns
    ):  # by position: what nobody names is filled with zeros
        known = dict(columns)
        columns = [(i, known.get(i, ["0"] * len(records))) for i in range(1, max(known) + 1)]
    lines = head_lines(layout, logger_id)
    if layout["names"]:
        lines.append(delimiter.join(str(name) for name, _ in columns))
        units_line = delimiter.join(units.get(name, "-").replace(" ", "_") for name, _ in columns)
        lines += [units_line] * layout["lines_after_names"]
    lines += [delimiter.join(row) for row in zip(*(values for _, values in columns), strict=False)]
    return ("\n".join(lines) + "\n").encode(layout["encoding"])


def table(frame: pd.DataFrame, places: dict[str, int] | None = None) -> bytes:
    """A CSV table; floats with four decimals or those of `places`, missing values as empty cells."""
    out = frame.copy()
    for column in out.columns:
        if pd.api.types.is_float_dtype(out[column]):
            digits = (places or {}).get(column, 4)
            out[column] = ["" if not np.isfinite(v) else f"{v + 0.0:.{digits}f}" for v in out[column]]
    return out.to_csv(index=False, lineterminator="\n").encode("utf-8")


def cell(text: str) -> str | float | dt.date | dt.time | None:
    """What a spreadsheet makes of a text that is typed into it."""
    if not text:
        return None
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return dt.date.fromisoformat(text)
    if re.fullmatch(r"\d\d:\d\d(:\d\d)?", text):
        return dt.time.fromisoformat(text)
    if re.fullmatch(r"-?\d+(\.\d+)?", text):
        return float(text) if "." in text else int(text)
    return text


def workbook(frame: pd.DataFrame) -> bytes:
    """A table of texts as the first sheet of a workbook, header in row 1; equal tables give equal bytes."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "notes"
    sheet.append(list(frame.columns))
    for row in frame.itertuples(index=False):
        sheet.append([cell(text) for text in row])
    saved, out = io.BytesIO(), io.BytesIO()
    book.save(saved)
    # The writer stamps the hour of writing into the workbook's properties and on each of its parts.
    with zipfile.ZipFile(saved) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            content = source.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb"\d{4}-\d\d-\d\dT[\d:.]+Z", b"2025-01-01T00:00:00Z", content)
            target.writestr(zipfile.ZipInfo(name, (2025, 1, 1, 0, 0, 0)), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def iso(seconds: float) -> str:
    """A moment in UTC, ending in Z."""
    moment = dt.datetime.fromtimestamp(seconds, dt.UTC)
    return moment.strftime("%Y-%m-%dT%H:%M:%S" + (".%f" if moment.microsecond else "")) + "Z"
