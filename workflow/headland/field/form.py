"""The notes form of a plan: rows as they stand in notes.csv, for paper and for the workbook that the chain reads."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence

import openpyxl
import pandas as pd
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.worksheet.datavalidation import DataValidation

from headland.chain.notes import ACTIVITIES
from headland.field.plan_page import local

TO_FILL = {
    "clock_check": ("start", "logger_shows"),
    "walk": ("start", "end", "canopy_height", "sky"),
    "stand": ("start", "end", "canopy_height", "sky"),
}
"""What is left to write by hand, by activity; others need start and end."""
SPARE = 6
"""Empty rows on paper for what the plan did not foresee."""
LISTS = 2000
"""Rows of the workbook that offer choices."""


def rows(visits: pd.DataFrame, zone: str, columns: Sequence[str]) -> pd.DataFrame:
    """The timetable as rows of notes with the times left empty, and `planned`, the planned local start, beside. columns: those of the notes."""
    times = local(visits["start_utc"], zone)
    frame = pd.DataFrame("", index=range(len(visits)), columns=[*columns, "planned"])
    frame["date"], frame["planned"] = times.strftime("%Y-%m-%d"), times.strftime("%H:%M")
    for name in ("set", "field", "surface", "activity", "transect", "pass", "remark"):
        frame[name] = visits[name].to_numpy()
    for name in ("heading", "length"):
        frame[name] = ["" if math.isnan(value) else f"{value:g}" for value in visits[name]]
    return frame


def pages(frame: pd.DataFrame, sets: Mapping[str, Mapping]) -> list[dict]:
    """A page a set: its name, logger, offset, the date, and its rows in the order of the plan, each cell with its text and whether it is to be filled in."""
    result = []
    for name, entry in sets.items():
        own = frame[frame["set"] == name]
        lines = []
        for row in own.to_dict("records"):
            fill = TO_FILL.get(row["activity"], ("start", "end"))
            cells = {
                column: {
                    "text": row[column].replace("_", " ")
                    if column in ("surface", "activity")
                    else row[column],
                    "fill": column in fill,
                }
                for column in frame.columns
            }
            if row["activity"] == "channel_check":
                cells["remark"]["text"] = f"order: {row['remark']}"
            elif row["activity"] == "clock_check":
                cells["remark"]["text"] = "logger:"  # the rest of the cell is for what it shows
            lines.append(cells)
        spare = [{column: {"text": "", "fill": True} for column in frame.columns} for _ in range(SPARE)]
        result.append(
            {
                "set": name,
                "logger": entry["logger_id"],
                "offset": entry["utc_offset"],
                "date": own["date"].iloc[0] if len(own) else "",
                "rows": lines + spare,
            }
        )
    return result


def workbook(
    frame: pd.DataFrame,
    columns: Sequence[str],
    descriptions: Mapping[str, str],
    sets: Sequence[str],
    surfaces: Sequence[str],
) -> bytes:
    """The workbook: a first sheet of notes, prefilled, with lists to choose from, and a second one that explains the columns. Cells to fill in are tinted."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "notes"
    sheet.append(list(columns))
    tint = PatternFill("solid", fgColor="FFF4DA")
    for row in frame.to_dict("records"):
        sheet.append([_value(row[name], name) for name in columns])
        for name in TO_FILL.get(row["activity"], ("start", "end")):
            sheet.cell(sheet.max_row, columns.index(name) + 1).fill = tint
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    sheet.freeze_panes = "D2"
    for name, allowed in (("set", sets), ("surface", surfaces), ("activity", ACTIVITIES)):
        letter = openpyxl.utils.get_column_letter(columns.index(name) + 1)
        text = ",".join(allowed)
        if len(text) <= 250:  # what a list in a cell may hold
            rule = DataValidation(type="list", formula1=f'"{text}"', allow_blank=True)
            sheet.add_data_validation(rule)
            rule.add(f"{letter}2:{letter}{LISTS}")
    for number, name in enumerate(columns, 1):
        letter = openpyxl.utils.get_column_letter(number)
        sheet.column_dimensions[letter].width = {
            "field": 22,
            "surface": 16,
            "activity": 14,
            "remark": 40,
            "date": 12,
            "start": 11,
            "end": 11,
            "logger_shows": 13,
        }.get(name, 10)
        if name in ("start", "end", "logger_shows"):
            for cell in sheet[letter][1:]:
                cell.number_format = "HH:MM:SS"
    guide = book.create_sheet("columns")
    guide.append(["column", "what to write"])
    for name in columns:
        guide.append([name, descriptions[name]])
    guide.append(["", "Rows of visits that were not made are deleted. Only the first sheet is read."])
    guide.column_dimensions["A"].width, guide.column_dimensions["B"].width = 16, 90
    for row in guide.iter_rows():
        row[1].alignment = Alignment(wrap_text=True)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _value(text: str, name: str) -> object:
    """A cell's value: numbers as numbers, so that a spreadsheet does not complain; text that it would run as a formula stays text."""
    if name in ("heading", "length") and text:
        return float(text)
    return ("'" + text if text[:1] in ("=", "+", "-", "@") else text) or None
