"""The notes form of a plan: the planned visits as rows of notes.csv, for paper and for the workbook."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import openpyxl
import pandas as pd

from headland.field.notes_workbook import notes_workbook, to_fill
from headland.field.plan_figures import local
from headland.field.plan_page import LAST_WORD
from headland.files.schemas import table_schema

SPARE = 6
"""Empty rows on paper for what the plan did not foresee."""


def rows(visits: pd.DataFrame, zone: str, columns: Sequence[str]) -> pd.DataFrame:
    """The timetable as rows of notes with empty times, and `planned`, the planned local start.

    columns: those of the notes.
    """
    times = local(visits["start_utc"], zone)
    frame = pd.DataFrame("", index=range(len(visits)), columns=[*columns, "planned"])
    frame["date"], frame["planned"] = times.strftime("%Y-%m-%d"), times.strftime("%H:%M")
    for name in ("set", "field", "surface", "activity", "transect", "pass", "remark"):
        frame[name] = visits[name].to_numpy()
    for name in ("heading", "length"):
        frame[name] = ["" if math.isnan(value) else f"{value:g}" for value in visits[name]]
    return frame


def pages(frame: pd.DataFrame, sets: Mapping[str, Mapping]) -> list[dict]:
    """A page a set: its name, logger, offset, date, and its rows; each cell with its text and whether to fill
    it in."""
    result = []
    for name, entry in sets.items():
        own = frame[frame["set"] == name]
        spare = [{column: {"text": "", "fill": True} for column in frame.columns} for _ in range(SPARE)]
        result.append(
            {
                "set": name,
                "logger": entry["logger_id"],
                "offset": entry["utc_offset"],
                "date": own["date"].iloc[0] if len(own) else "",
                "rows": [_cells(row) for row in own.to_dict("records")] + spare,
            }
        )
    return result


def _cells(row: Mapping) -> dict[str, dict]:
    """The cells of one visit on paper."""
    fill = to_fill(row["activity"])
    cells = {name: {"text": text, "fill": name in fill} for name, text in row.items()}
    for name in ("surface", "activity"):
        cells[name]["text"] = row[name].replace("_", " ")
    if row["activity"] == "channel_check":
        cells["remark"]["text"] = f"order: {row['remark']}"
    elif row["activity"] == "clock_check":
        cells["remark"]["text"] = "logger:"  # the rest of the cell is for what it shows
    return cells


def _planned(visits: pd.DataFrame, S: Mapping) -> pd.DataFrame:
    names = [field["name"] for field in table_schema("notes")["fields"]]
    return rows(visits, S["site"]["timezone"], names)


def context(visits: pd.DataFrame, S: Mapping) -> dict[str, object]:
    """The values of the form's page. S: the campaign's settings."""
    return {
        "title": S["title"],
        "site": S["site"],
        "pages": pages(_planned(visits, S), S["sets"]),
        "zone": S["notes"]["timezone"],
        "last_word": LAST_WORD,
    }


def workbook(visits: pd.DataFrame, S: Mapping) -> openpyxl.Workbook:
    """The workbook of notes with the planned visits filled in."""
    fields = table_schema("notes")["fields"]
    return notes_workbook(fields, list(S["sets"]), list(S["surfaces"]), _planned(visits, S))
