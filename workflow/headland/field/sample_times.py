"""How a logger's file writes its times, worked out from the rows of a sample."""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from headland.field.channel_words import means
from headland.field.sample_text import Sheet, numbers

DATES = (
    "%Y-%m-%d",
    "%Y/%m/%d",
    "%d.%m.%Y",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%d-%m-%Y",
    "%Y%m%d",
    "%d.%m.%y",
    "%d/%m/%y",
)
CLOCKS = ("%H:%M:%S", "%H:%M:%S.%f", "%H:%M", "%H.%M.%S", "%H%M%S", "%H.%M")
PARTS = ("year", "month", "day", "day_of_year", "hhmm", "hour", "minute", "second")
"""Parts of a time that may have columns of their own."""
EPOCH = (6e8, 4e9)
"""s since 1970 between which a number counts as a time (1989 to 2096)."""
ORDERS = ((0, 1, 2, 3, 4), (0, 2, 3, 4, 5))
"""Columns of year, month, day, hour and minute in a file without names: without and with the day of the year.
"""
HIGHEST = (12, 31, 24, 59)


@dataclass(frozen=True)
class Times:
    """How times are written.

    time: as a layout holds it. seconds: of the rows. doubt: a reason to check it, or nothing.
    """

    time: dict = field(default_factory=dict)
    seconds: Sequence[float] = ()
    doubt: str = ""
    places: frozenset[int] = frozenset()


def times_of(sheet: Sheet) -> Times:
    """How the rows of a sample write their times."""
    for way in (_as_text, _as_parts, _as_seconds):
        found = way(sheet)
        if found:
            return found
    return Times(doubt="no column reads as a time")


def _stamps(texts: Sequence[str], form: str) -> list[datetime.datetime]:
    """The times of some texts by a format; none where one does not fit or they go back."""
    try:
        stamps = [datetime.datetime.strptime(text, form) for text in texts]
    except ValueError:
        return []
    rising = all(a <= b for a, b in itertools.pairwise(stamps))
    return stamps if rising and 1900 <= stamps[0].year < 2200 else []


def _as_text(sheet: Sheet) -> Times | None:
    """A date and a clock in one column or in two."""
    columns = sheet.columns
    fits: list[tuple[tuple[int, ...], str, tuple[str, ...]]] = []
    for date, clock in itertools.product(DATES, CLOCKS):
        for place in range(sheet.width):
            fits += [((place,), f"{date}{gap}{clock}", columns[place]) for gap in (" ", "T", " - ", ", ")]
        for place in range(sheet.width - 1):
            both = [f"{a} {b}" for a, b in zip(columns[place], columns[place + 1], strict=True)]
            fits.append(((place, place + 1), f"{date} {clock}", tuple(both)))
    good = [(places, form, stamps) for places, form, texts in fits if (stamps := _stamps(texts, form))]
    if not good:
        return None
    good.sort(key=lambda fit: (fit[2][-1] - fit[2][0], fit[0]))
    places, form, stamps = good[0]
    other = sorted({fit[1] for fit in good if fit[0] == places} - {form})
    keys = [sheet.key(place) for place in places]
    time = {"column": keys[0], "format": form} if len(keys) == 1 else {"columns": keys, "format": form}
    doubt = f"it could also be {' or '.join(other)}" if other else ""
    return Times(time, [stamp.timestamp() for stamp in stamps], doubt, frozenset(places))


def _as_parts(sheet: Sheet) -> Times | None:
    """Year, month, day and so on in columns of their own."""
    parts = _named_parts(sheet) if sheet.names else _parts_by_size(sheet)
    if "year" not in parts or not ("day_of_year" in parts or {"month", "day"} <= set(parts)):
        return None
    if "day_of_year" in parts:
        parts = {part: place for part, place in parts.items() if part not in ("month", "day")}
    values = {part: sheet.values[place] for part, place in parts.items()}
    zero = np.zeros(len(sheet.rows))

    def of(part: str) -> np.ndarray:
        return values.get(part, zero)

    days = 31.0 * of("month") + of("day") + of("day_of_year")
    minutes = of("hhmm") // 100 * 60 + of("hhmm") % 100 + 60.0 * of("hour") + of("minute")
    seconds = 86400.0 * days + 60.0 * minutes + of("second")
    time = {part: sheet.key(place) for part, place in parts.items()}
    doubt = "" if sheet.names else "the columns have no names"
    return Times(time, list(seconds), doubt, frozenset(parts.values()))


def _named_parts(sheet: Sheet) -> dict[str, int]:
    """The columns whose whole name is a part of a time."""
    parts: dict[str, int] = {}
    for part in PARTS:
        for place, name in enumerate(sheet.names):
            if (
                part not in parts
                and len(name.split()) < 5
                and means(name, part)
                and place not in parts.values()
            ):
                parts[part] = place
    return parts


def _parts_by_size(sheet: Sheet) -> dict[str, int]:
    """The parts of a time in the first columns of a file without names, told by the size of the numbers."""
    if sheet.width < 6:
        return {}
    head = np.array([numbers(column, sheet.decimal) for column in sheet.columns[:6]])
    if not np.all(np.isfinite(head)) or not 1900 <= head[0, 0] < 2200:
        return {}
    fits = [order for order in ORDERS if np.all(head[list(order[1:])].max(axis=1) <= HIGHEST)]
    fits.sort(key=lambda order: -len(np.unique(head[list(order)], axis=1).T))
    return dict(zip(("year", "month", "day", "hour", "minute"), fits[0], strict=True)) if fits else {}


def _as_seconds(sheet: Sheet) -> Times | None:
    """Seconds since 1970."""
    for place, values in enumerate(sheet.values):
        rising = np.all(np.isfinite(values)) and np.all(np.diff(values) >= 0) and np.ptp(values) > 0
        if rising and EPOCH[0] < values[0] < EPOCH[1]:
            time = {"column": sheet.key(place), "unit": "s", "since": "1970-01-01"}
            return Times(time, list(values), "numbers that look like seconds since 1970", frozenset({place}))
    return None
