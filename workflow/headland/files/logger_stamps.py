"""Stamps of a logger's rows as microseconds since 1970: formatted, counted, or in parts; and rows that share
one.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import pandas as pd

MICRO = 1_000_000


EARLIEST, LATEST = (int(np.datetime64(day, "us").astype(np.int64)) for day in ("1900-01-01", "2200-01-01"))
"""Microseconds since 1970 between which a stamp is believed: four-digit years, safe as nanoseconds."""


SECONDS = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
"""Seconds in each unit of a numeric time."""


PARTS = {
    "year": (31_536_000.0, 1900, 2200),
    "month": (2_592_000.0, 1, 13),
    "day": (86400.0, 1, 32),
    "day_of_year": (86400.0, 1, 367),
    "hhmm": (60.0, 0, 2401),
    "hour": (3600.0, 0, 25),
    "minute": (60.0, 0, 60),
    "second": (1.0, 0, 60),
}
"""Parts of a time, from coarse to fine: seconds that one count stands for, the lowest value, the first too
high.
"""


DIRECTIVES = {"%S": 1.0, "%M": 60.0, "%H": 3600.0, "%I": 3600.0}
"""Directives of a time format, finest first, with the seconds that one count stands for."""


FIRST = 500
"""Rows from whose text the resolution of the stamps is read."""


ENOUGH_STEPS = 10
"""Steps between rows below which the sampling interval is not judged."""


TOLERANCE = 0.01
"""Share by which the step between rows may differ from the declared interval (common practice, no source)."""


def micros(seconds: float) -> int:
    return round(seconds * MICRO)


def formatted_stamps(texts: Sequence[str], given: str) -> tuple[np.ndarray, np.ndarray]:
    """Microseconds since 1970 from texts in a format, and which texts have it. A zone in the format is
    applied.
    """

    def parsed(texts: Sequence[str], given: str) -> np.ndarray:
        return (
            pd.to_datetime(np.array(texts, dtype=object), format=given, errors="coerce", utc=True)
            .as_unit("us")
            .asi8
        )

    stamps = parsed(texts, given)
    unread = np.flatnonzero(~_believed(stamps))
    if len(unread) and (whole := re.sub(r"[.,]%f", "", given)) != given:
        stamps[unread] = parsed(
            [texts[i] for i in unread.tolist()], whole
        )  # some loggers print no fraction of zero
    sound = _believed(stamps)
    if {"now", "today"}.intersection(texts):  # words that pandas reads as the present
        sound &= [text not in ("now", "today") for text in texts]
    return stamps, sound


def _believed(stamps: np.ndarray) -> np.ndarray:
    return (stamps >= EARLIEST) & (stamps < LATEST)


def format_resolution(given: str, texts: Sequence[str]) -> float:
    """Seconds that the finest figure of times in a format counts."""
    if "%f" in given:
        return 10.0 ** -decimals_of(texts, 6)
    return next((seconds for directive, seconds in DIRECTIVES.items() if directive in given), 86400.0)


def decimals_of(texts: Sequence[str], default: int) -> int:
    """The most figures printed after the last decimal mark of the first texts; `default` where none has such
    a mark.
    """
    ends = (re.search(r"[.,]([0-9]+)[^0-9]*$", text) for text in texts[:FIRST])
    return max((len(end[1]) for end in ends if end), default=default)


def counted_stamps(counts: np.ndarray, unit: str, since: str) -> tuple[np.ndarray, np.ndarray]:
    """Microseconds since 1970 from counts of a unit since a moment (ISO 8601, with a zone or by the logger's
    clock).
    """
    start = datetime.datetime.fromisoformat(since)
    since_1970 = start - datetime.datetime(1970, 1, 1, tzinfo=start.tzinfo and datetime.UTC)
    with np.errstate(over="ignore"):  # a count beyond all time is not believed below
        micros = np.rint(counts * (SECONDS[unit] * MICRO)) + float(
            since_1970 // datetime.timedelta(microseconds=1)
        )
    sound = np.isfinite(micros) & _believed(micros)
    return np.where(sound, micros, 0).astype(np.int64), sound


def used_parts(given: Iterable[str]) -> list[str]:
    """The parts that make a time, from coarse to fine: month and day rather than day of the year, hhmm than
    hour.
    """
    date = ["month", "day"] if {"month", "day"} <= set(given) else ["day_of_year"]
    clock = ["hhmm"] if "hhmm" in given else ["hour", "minute"]
    return [part for part in ("year", *date, *clock, "second") if part in given]


def stamps_from_parts(parts: Mapping[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Microseconds since 1970 from the parts of a time, coarse to fine, and which rows hold a moment.

    The finest part may carry a fraction, but for hhmm (5 is 00:05, 2400 the end of the day); the others are
    whole.
    """
    finest = list(parts)[-1]
    sound = np.ones(len(parts[finest]), dtype=bool)
    for name, values in parts.items():
        _, lowest, above = PARTS[name]
        sound &= (values >= lowest) & (values < above)
        if name != finest or name == "hhmm":
            sound &= values == np.floor(values)
    part = {name: np.where(sound, values, PARTS[name][1]) for name, values in parts.items()}
    months = (part["year"].astype(np.int64) - 1970) * 12 + (
        part["month"].astype(np.int64) - 1 if "month" in part else 0
    )
    span = "M" if "month" in part else "Y"
    start = months.astype("datetime64[M]").astype(f"datetime64[{span}]")
    day = part["day"] if "day" in part else part["day_of_year"]
    date = start.astype("datetime64[D]") + (np.floor(day) - 1).astype(np.int64)
    sound &= date.astype(f"datetime64[{span}]") == start  # no 31 April, no day 366 of a common year
    seconds = (day - np.floor(day)) * 86400.0
    if "hhmm" in part:
        hours, minutes = np.divmod(part["hhmm"], 100)
        sound &= minutes < 60
        seconds = seconds + hours * 3600 + minutes * 60
    for name, count in (("hour", 3600.0), ("minute", 60.0), ("second", 1.0)):
        seconds = seconds + part.get(name, 0.0) * count
    sound &= seconds <= 86400.0  # 24:00 is the end of the day
    return date.astype("datetime64[us]").astype(np.int64) + np.rint(seconds * MICRO).astype(np.int64), sound


def grid(stamps: np.ndarray) -> float:
    """The coarsest of 60, 1, 0.1 ... 0.000001 s on whose multiples all stamps (microseconds since 1970) lie,
    s.
    """
    grids = (60 * MICRO, *(10**power for power in range(6, -1, -1)))
    return next(micros for micros in grids if not np.any(stamps % micros)) / MICRO


def spread_shared_stamps(stamps: np.ndarray, resolution: float, interval: float) -> np.ndarray:
    """Stamps of their own for rows that share one because stamps are coarser than the sampling interval.

    stamps: microseconds since 1970 in the file's order, cut off at `resolution` s; interval: s between
    samples. Returns microseconds; the same stamps where they are as fine as the interval. (No published
    value; held by limiting cases.)

    Rows that share a stamp follow one another by the interval from the stamp on, and up to the end of its
    second (or minute) where storing began within it: after a gap of stamps, or after a group that stopped
    short. A group that stands alone begins at its stamp; one with more rows than fit is spread evenly. Where
    the groups between others show another interval than the declared one, theirs is taken, so that the
    disagreement can be seen in the times.
    """
    if resolution <= interval * 1.001 or not np.any(np.diff(stamps) == 0):
        return stamps
    span, step = micros(resolution), interval * MICRO
    starts = np.flatnonzero(np.diff(stamps, prepend=stamps[0] - 1))
    counts = np.diff(starts, append=len(stamps))
    gap = np.diff(stamps[starts]) != span
    begins, ends = np.concatenate([[True], gap]), np.concatenate([gap, [True]])
    inner = counts[~begins & ~ends]
    usual = float(np.median(inner)) if len(inner) >= ENOUGH_STEPS else span / step
    if abs(usual - span / step) > max(1.0, TOLERANCE * span / step):  # a row more or less is how clocks run
        step = span / usual
    short = counts * step < span - 1.5 * step
    resumed = begins | np.concatenate([[False], short[:-1] & ~begins[:-1]])
    steps = np.minimum(step, span / counts)
    delay = np.where(resumed & ~ends, span - counts * steps, 0.0)
    rank = np.arange(len(stamps)) - np.repeat(starts, counts)
    return stamps + np.floor(np.repeat(delay, counts) + rank * np.repeat(steps, counts) + 0.5).astype(
        np.int64
    )


ROUNDED = 0.9
"""Share of the stamps that must come in equal groups to be rounded ones (common practice, no source)."""


def spread_rounded_stamps(stamps: np.ndarray, interval: float) -> np.ndarray:
    """Stamps of their own for rows whose stamps a logger rounded to a multiple of the sampling interval.

    stamps: microseconds since 1970 in the file's order. interval: s between samples. Returns microseconds;
    the same stamps where they are not rounded. (No published value; held by limiting cases.)

    Rounded stamps come k times each, k intervals apart, k = 2 or more. A file that was written twice has its
    rows twice, too, but one interval apart. Rows of one stamp are put evenly around it.
    """
    if len(stamps) < 2 or not np.any(np.diff(stamps) == 0):
        return stamps
    step = interval * MICRO
    starts = np.flatnonzero(np.diff(stamps, prepend=stamps[0] - 1))
    counts, apart = np.diff(starts, append=len(stamps)), np.diff(stamps[starts])
    if len(apart) < ENOUGH_STEPS:
        return stamps
    times = round(float(np.median(apart)) / step)
    usual = (apart % round(times * step) == 0).mean() if times > 1 else 0.0
    paused = apart > 1.5 * times * step
    begins, ends = np.concatenate([[True], paused]), np.concatenate([paused, [True]])
    inner = counts[~begins & ~ends]
    if usual < ROUNDED or not len(inner) or (inner == times).mean() < ROUNDED or counts.max() > times:
        return stamps
    # a group at the edge of a pause may lack rows: the first ones where it begins a run, else the last
    missing = np.where(begins, times - counts, 0)
    rank = np.arange(len(stamps)) - np.repeat(starts - missing, counts)
    return stamps + np.round((rank - (times - 1) / 2.0) * step).astype(np.int64)
