"""The workbook of notes: lists to choose from, times and dates that are checked as they are typed, and an
explanation."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence

import openpyxl
import pandas as pd
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from headland.chain.notes import ACTIVITIES

ROWS = 400
"""Rows of the workbook that are checked as they are filled in."""
SKIES = ("clear", "broken", "overcast")
TIMES = ("start", "end", "logger_shows")
HEAD, TINT = PatternFill("solid", fgColor="F3F1EC"), PatternFill("solid", fgColor="FFF4DA")
WIDTHS = {"field": 22, "surface": 16, "activity": 14, "remark": 40, "date": 12, "logger_shows": 13}
TO_FILL = {
    "clock_check": ("start", "logger_shows"),
    "walk": ("start", "end", "canopy_height", "sky"),
    "stand": ("start", "end", "canopy_height", "sky"),
}
"""What is left to write by hand, by activity; others need start and end."""


def to_fill(activity: str) -> tuple[str, ...]:
    """The columns of a planned visit that are left to write by hand."""
    return TO_FILL.get(activity, ("start", "end"))


def notes_workbook(
    fields: Sequence[Mapping], sets: Sequence[str], surfaces: Sequence[str], rows: pd.DataFrame | None = None
) -> openpyxl.Workbook:
    """The workbook that the chain reads as notes.

    fields: of the notes' schema. rows: texts of planned visits, where there is a plan; the cells left to fill
    in are tinted.
    """
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "notes"
    choices = {"set": sets, "surface": surfaces, "activity": ACTIVITIES, "sky": SKIES}
    lists = _lists(book, choices)
    for place, entry in enumerate(fields, 1):
        _head(sheet, place, entry["name"])
        _check(sheet, place, entry, lists)
        _format(sheet, place, entry, entry["name"] in choices)
    names = [entry["name"] for entry in fields]
    for number, row in enumerate([] if rows is None else rows.to_dict("records"), 2):
        for place, name in enumerate(names, 1):
            sheet.cell(number, place, _value(row[name], name))
        for name in to_fill(row["activity"]):
            sheet.cell(number, names.index(name) + 1).fill = TINT
    sheet.freeze_panes = "D2"
    _explain(book, fields)
    return book


def _lists(book: openpyxl.Workbook, choices: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """A sheet of the allowed values; the formula of each list by column."""
    sheet, formulas = book.create_sheet("lists"), {}
    for place, (name, values) in enumerate(choices.items(), 1):
        letter = get_column_letter(place)
        sheet.cell(1, place, name).font = Font(bold=True)
        for row, value in enumerate(values, 2):
            sheet.cell(row, place, value)
        sheet.column_dimensions[letter].width = 18
        formulas[name] = f"lists!${letter}$2:${letter}${len(values) + 1}"
    return formulas


def _head(sheet, place: int, name: str) -> None:
    cell = sheet.cell(1, place, name)
    cell.font, cell.fill, cell.alignment = Font(bold=True), HEAD, Alignment(wrap_text=True)
    sheet.column_dimensions[get_column_letter(place)].width = WIDTHS.get(name, 11)


def _check(sheet, place: int, entry: Mapping, lists: Mapping[str, str]) -> None:
    """Check a column's cells as they are typed, and say what is allowed."""
    name, letter = entry["name"], get_column_letter(place)
    if name in lists:
        check = DataValidation(type="list", formula1=lists[name], allow_blank=True)
        check.error = "Choose from the list."
    elif name in TIMES:
        check = DataValidation(type="time", operator="between", formula1="0", formula2="0.999988426")
        check.error = "A time of day such as 09:31 or 09:31:20."
    elif name == "date":
        check = DataValidation(type="date", operator="greaterThan", formula1="36526")
        check.error = "A date such as 2026-05-21."
    elif entry["type"] == "number":
        low, high = (str(entry["constraints"][end]) for end in ("minimum", "maximum"))
        check = DataValidation(type="decimal", operator="between", formula1=low, formula2=high)
        check.error = f"A number from {low} to {high} ({entry['unit']})."
    else:
        return
    title = name.replace("_", " ")
    check.allow_blank = check.showErrorMessage = check.showInputMessage = True
    check.errorTitle, check.promptTitle, check.prompt = title, title, entry["description"][:250]
    sheet.add_data_validation(check)
    check.add(f"{letter}2:{letter}{ROWS}")


def _format(sheet, place: int, entry: Mapping, chosen: bool) -> None:
    """How a column's cells are shown. Text stays text, so that a spreadsheet makes no date of it."""
    text = "@" if entry["type"] == "string" and not chosen else "General"
    form = {**dict.fromkeys(TIMES, "hh:mm:ss"), "date": "yyyy-mm-dd"}.get(entry["name"], text)
    for row in range(2, ROWS + 1):
        sheet.cell(row, place).number_format = form


def _value(text: str, name: str) -> object:
    """A planned cell: numbers and dates as such; text that would run as a formula stays text."""
    if name in ("heading", "length") and text:
        return float(text)
    if name == "date" and text:
        return datetime.date.fromisoformat(text)
    return ("'" + text if text[:1] in ("=", "+", "-", "@") else text) or None


def _explain(book: openpyxl.Workbook, fields: Sequence[Mapping]) -> None:
    """A sheet that says what to write into each column."""
    sheet = book.create_sheet("columns")
    sheet.append(["column", "what to write"])
    for entry in fields:
        unit = f", {entry['unit']}" if "unit" in entry else ""
        sheet.append([entry["name"], entry["description"] + unit])
    sheet.append(["", "Delete rows of visits that were not made. Only the first sheet is read."])
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 16, 90
    for row in sheet.iter_rows():
        row[1].alignment = Alignment(wrap_text=True)
