"""The first rows of a logger's files as they are read, with names, units and times, before anything is
computed."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd

from headland.base import findings
from headland.chain import ingest
from headland.field.sample import Found
from headland.files import step_settings

ROWS = 3
"""Rows that a preview shows."""
BYTES = 200_000
"""Bytes from the start of a file that a preview reads."""
LOCAL = "%Y-%m-%d %H:%M:%S"


def of_sample(found: Found) -> list[str]:
    """The first rows of a sample by the layout worked out from it. The clock's offset is not known yet."""
    sheet = found.sheet
    if sheet is None:
        return []
    time = found.layout["time"]
    keys = {"time as logged": time.get("columns") or [time.get("column", time.get("year"))]}
    keys |= {name: [channel["column"]] for name, channel in found.layout["channels"].items()}
    head = ["time as logged", *map(_headed, found.layout["channels"].items())]
    rows = [
        [" ".join(_cell(row, sheet.names, key) for key in places) for places in keys.values()]
        for row in sheet.rows[:ROWS]
    ]
    return _aligned([head, *rows])


def _headed(entry: tuple[str, Mapping]) -> str:
    """A channel with its unit and the column that it is taken from."""
    name, channel = entry
    if channel["column"] is None:
        return f"{name} = ?"
    return f"{name} [{channel['unit']}] = {channel['column']}"


def _cell(row: Sequence[str], names: Sequence[str], key: object) -> str:
    if key is None:
        return "?"
    return row[names.index(str(key))] if names else row[int(str(key)) - 1]


def of_campaign(folder: Path, S: Mapping) -> list[str]:
    """The first rows of each set of a campaign by its settings, with times in UTC and local; or why none is
    read."""
    lines = []
    for name, entry in S["sets"].items():
        lines.append(f"Set {name}, logger {entry['logger_id']}, {len(entry['raw'])} raw files:")
        for file in entry["raw"][:1]:
            lines += _of_file(folder, file, name, S)
        if not entry["raw"]:
            lines.append(f"  no file matches {entry['files']}")
    return lines


def _of_file(folder: Path, file: str, name: str, S: Mapping) -> list[str]:
    with (folder / file).open("rb") as stream:
        raw = stream.read(BYTES)
    whole = raw[: raw.rfind(b"\n") + 1] if len(raw) == BYTES else raw
    made = ingest.run([(file, io.BytesIO(whole))], step_settings.ingest(S, name))
    frame = made.tables["samples"].whole()
    sentences = findings.sentences()
    described = (findings.describe(one, "ingest", sentences) for one in made.findings)
    said = [f"  {row['severity']}: {file}: {row['what']} {row['remedy']}" for row in described]
    if not len(frame):
        return [*said, "  The first lines of the file:", *_first_lines(raw)]
    channels = S["sets"][name]["layout"]["channels"]
    return _table(frame.head(ROWS), channels, S["site"]["timezone"]) + said


def _first_lines(raw: bytes) -> list[str]:
    """The first lines of a file as they are, for a layout that does not fit it."""
    text = raw.decode("utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8", errors="replace")
    return [f"    {number}: {line[:100]}" for number, line in enumerate(text.splitlines()[: 2 * ROWS], 1)]


def _table(frame: pd.DataFrame, channels: Mapping[str, Mapping], zone: str) -> list[str]:
    """The first rows with their times in UTC and local."""
    head = ["time in UTC", f"local ({zone})", *map(_headed, channels.items())]
    rows = []
    for row in frame.to_dict("records"):
        moment = row["time_utc"]
        local = moment.tz_convert(ZoneInfo(zone)).strftime(LOCAL)
        values = [f"{row[name]:g}" for name in channels]
        rows.append([moment.strftime(LOCAL + "Z"), local, *values])
    return _aligned([head, *rows])


def _aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows as lines of text, one line a channel, so that long names fit a narrow screen."""
    width = max(len(name) for name in rows[0])
    lines = []
    for column in zip(*rows, strict=True):
        values = "  ".join(f"{cell:>21}" for cell in column[1:])
        lines.append(f"  {column[0]:<{width}}  {values}".rstrip())
    return lines
