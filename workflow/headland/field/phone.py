"""The notes form for a phone: one page that works without a network and saves notes.csv."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

import pandas as pd
from markupsafe import Markup

from headland.chain.notes import ACTIVITIES, WITHOUT_SURFACE
from headland.field import form
from headland.field.notes_workbook import SKIES
from headland.field.plan_page import LAST_WORD
from headland.files.schemas import table_schema
from headland.report import page

PROGRAM = Path(page.__file__).with_name("phone.js")


def made(
    title: str, zone: str, sets: Sequence[str], surfaces: Sequence[str], visits: pd.DataFrame | None = None
) -> str:
    """The page as HTML.

    Parameters
    ----------
    title, zone : of the campaign, and of the times in its notes; empty: the phone's own zone
    sets, surfaces : names to choose from
    visits : planned visits, a row each (`timetable.timetable`); without them each visit is added by hand
    """
    columns = [field["name"] for field in table_schema("notes")["fields"]]
    rows = [] if visits is None else _rows(visits, zone, columns)
    held = {
        "key": "headland-notes-" + hashlib.sha256(json.dumps([title, rows]).encode("utf-8")).hexdigest()[:16],
        "zone": zone or None,
        "columns": columns,
        "sets": list(sets),
        "surfaces": list(surfaces),
        "fields": list(dict.fromkeys(row["field"] for row in rows if row["field"])),
        "activities": ACTIVITIES,
        "without": WITHOUT_SURFACE,
        "skies": SKIES,
        "rows": rows,
    }
    values = {
        "title": title,
        "zone": zone or "the phone's own time",
        "last_word": LAST_WORD,
        "data": page.as_json(held),
        "program": Markup(PROGRAM.read_text(encoding="utf-8")),
    }
    return page.page("phone", values)


def _rows(visits: pd.DataFrame, zone: str, columns: Sequence[str]) -> list[dict]:
    """The planned visits as rows of notes without date and times. A remark of the plan is no note, except the
    order of a channel check."""
    frame = form.rows(visits, zone, columns).assign(date="")
    kept = frame["activity"] == "channel_check"
    return frame.assign(remark=frame["remark"].where(kept, "")).to_dict("records")
