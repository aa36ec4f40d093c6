"""The notes form of a plan: the planned visits as rows of notes.csv, for paper and for the workbook."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import openpyxl
import pandas as pd

from headland.field.notes_workbook import notes_workbook, to_fill
from headland.field.plan_figures import local
from headland.field.plan_page import LAST_WORD
from headland.field.timetable import PASSES
from headland.files.schemas import table_schema

SPARE = 4
"""Empty rows on paper for what the plan did not foresee."""
SPARE_ROW = dict.fromkeys(
    ("planned", "what", "surface", "transect", "headings", "remark"), ""
) | dict.fromkeys(("end", "back", "ground"), True)
HEIGHT = 186.0
"""mm of a page of A4 that are left for the rows below its head."""
TALLEST, LOWEST = 10.0, 5.6
"""mm of a row: more is not needed to write by hand, less is too little."""


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
    it in. The two passes of a visit, there and back, share a row. `height`, mm of a row, lets all fit on one
    page; a day of too many visits for that continues on the next one."""
    result = []
    for name, entry in sets.items():
        own = frame[frame["set"] == name]
        visits = [_on_paper(passes) for passes in _visits(own)]
        spare = [SPARE_ROW for _ in range(SPARE)]
        count = len(visits) + SPARE
        result.append(
            {
                "set": name,
                "logger": entry["logger_id"],
                "offset": entry["utc_offset"],
                "date": own["date"].iloc[0] if len(own) else "",
                "rows": visits + spare,
                "height": f"{min(TALLEST, max(LOWEST, HEIGHT / count)):.2f}",
            }
        )
    return result


def _visits(own: pd.DataFrame) -> list[list[dict]]:
    """The rows of one set, those of one visit together: passes on one transect that follow each other."""
    visits: list[list[dict]] = []
    for row in own.to_dict("records"):
        last = visits[-1] if visits else []
        same = last and all(last[-1][name] == row[name] for name in ("activity", "field", "transect"))
        if same and row["activity"] == "walk" and len(last) < PASSES:
            last.append(row)
        else:
            visits.append([row])
    return visits


def _on_paper(passes: Sequence[Mapping]) -> dict[str, object]:
    """One row on paper. end, back, ground: whether to fill in an end, a way back, and canopy and sky."""
    row = passes[0]
    fill = to_fill(row["activity"])
    activity = "" if row["activity"] == "walk" else row["activity"].replace("_", " ")
    order = f"{activity}: {row['remark']}" if row["activity"] == "channel_check" else activity
    remark = {"channel_check": "", "clock_check": "logger shows:"}  # the rest of that cell is for it
    what = [row["field"], order]
    return {
        "planned": row["planned"],
        "what": ", ".join(part for part in what if part),
        "surface": row["surface"].replace("_", " "),
        "transect": row["transect"],
        "headings": ", ".join(f"{one['heading']}°" for one in passes if one["heading"]),
        "end": "end" in fill,
        "back": len(passes) > 1,
        "ground": "sky" in fill,
        "remark": remark.get(row["activity"], row["remark"]),
    }


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
