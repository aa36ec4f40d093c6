"""The timetable of a day: visits in rounds A B C C B A, with clock checks and side-by-side comparisons around
them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.physics.constants import RADIATION

PASSES = 2
"""Passes of a visit: there and back, so that tilt and shadow change sides."""
CHECK_MINUTES, SIDE_MINUTES, COVER_SECONDS = 2, 5, 20
"""min for reading all clocks, min of each side-by-side visit, s that each head is covered in the channel
check (common practice, no source)."""


@dataclass(frozen=True)
class Day:
    """What the visits of a day must fit. start, end: UTC. speed: m s-1. minutes_between: pause between two
    fields.

    monitor: whether all sets but the first stand still and watch the sky. rounds: most rounds A B C C B A.
    seed: of the irregular pauses.
    """

    start: pd.Timestamp
    end: pd.Timestamp
    speed: float
    minutes_between: float
    monitor: bool
    rounds: int
    seed: int


def timetable(fields: pd.DataFrame, sets: Sequence[str], day: Day) -> tuple[pd.DataFrame, int]:
    """The visits of a day, a row each, and how many rounds A B C C B A fit, at least one and at most
    `day.rounds`.

    fields: field, surface, length (m), heading. The middle of each field's visits is the same moment, so that
    even drift cancels. Each visit is a transect of its own, there and back. Pauses are irregular to the
    second: a regular timetable hides a shifted clock. Columns: set, start_utc, end_utc, field, surface,
    activity, transect, pass, heading, length, remark.
    """
    walkers = list(sets[:1]) if day.monitor and len(sets) > 1 else list(sets)
    rows, opening = _opening(fields, sets, day.start)
    closing = pd.Timedelta(minutes=CHECK_MINUTES + (2 * SIDE_MINUTES + 3 if len(sets) > 1 else 0))
    done: list[dict] = []
    cycles = 0
    for count in range(1, day.rounds + 1):
        more = [
            row for name in walkers for row in _rounds(name, walkers, fields, day, start=opening, count=count)
        ]
        if done and max(row["end_utc"] for row in more) + closing > day.end:
            break
        done, cycles = more, count
    last = max(row["end_utc"] for row in done)
    if walkers != list(sets):
        remark = "stands level and free of shadows, all the time"
        first = fields.iloc[0]
        rows += [_row(name, opening, last, first, "sky_monitor", remark=remark) for name in sets[1:]]
    rows += done + _closing(fields, sets, last + pd.Timedelta(minutes=day.minutes_between))
    return pd.DataFrame(rows).sort_values(["start_utc", "set"], kind="stable").reset_index(drop=True), cycles


def _row(name: str, start, end, place=None, activity: str = "walk", **more) -> dict:
    """A visit; place: the field's row, nothing where the visit has no place."""
    where = (
        {"field": place["field"], "surface": place["surface"]}
        if place is not None
        else {"field": "", "surface": ""}
    )
    return {
        "set": name,
        "start_utc": start,
        "end_utc": end,
        **where,
        "activity": activity,
        "transect": "",
        "pass": "",
        "heading": math.nan,
        "length": math.nan,
        "remark": "",
        **more,
    }


def _opening(fields, sets, start) -> tuple[list[dict], pd.Timestamp]:
    first = fields.iloc[0]
    rows = [
        _row(
            name,
            start,
            start + _minutes(CHECK_MINUTES),
            activity="clock_check",
            remark="the time, and what the logger shows, to the second",
        )
        for name in sets
    ]
    now = start + _minutes(CHECK_MINUTES)
    covered = pd.Timedelta(seconds=COVER_SECONDS * len(RADIATION))
    rows += [
        _row(name, now, now + covered, activity="channel_check", remark=" ".join(RADIATION)) for name in sets
    ]
    now += covered + _minutes(2)
    if len(sets) > 1:
        rows += [
            _row(name, now, now + _minutes(SIDE_MINUTES), first, "side_by_side", remark=f"place {i + 1}")
            for i, name in enumerate(sets)
        ]
        now += _minutes(SIDE_MINUTES + 1)
        rows += [
            _row(
                name,
                now,
                now + _minutes(SIDE_MINUTES),
                first,
                "side_by_side",
                remark=f"place {(i + 1) % len(sets) + 1}: positions swapped",
            )
            for i, name in enumerate(sets)
        ]
        now += _minutes(SIDE_MINUTES)
    return rows, now + _minutes(3)


def _closing(fields, sets, now) -> list[dict]:
    rows: list[dict] = []
    if len(sets) > 1:
        for turn in (0, 1):
            rows += [
                _row(
                    name,
                    now,
                    now + _minutes(SIDE_MINUTES),
                    fields.iloc[0],
                    "side_by_side",
                    remark=f"place {(i + turn) % len(sets) + 1}{': positions swapped' if turn else ''}",
                )
                for i, name in enumerate(sets)
            ]
            now += _minutes(SIDE_MINUTES + 1)
    return rows + [
        _row(
            name,
            now,
            now + _minutes(CHECK_MINUTES),
            activity="clock_check",
            remark="before the logger is switched off",
        )
        for name in sets
    ]


def _minutes(count: float) -> pd.Timedelta:
    return pd.Timedelta(minutes=count)


def _seconds(count: float | np.integer) -> pd.Timedelta:
    return pd.Timedelta(seconds=float(count))


def _rounds(
    name: str, walkers: Sequence[str], fields: pd.DataFrame, day: Day, *, start: pd.Timestamp, count: int
) -> list[dict]:
    """The visits of one set in so many rounds A B C C B A.

    Each set begins at another field, and walks there and back on a new transect at each visit.
    """
    index = list(walkers).index(name)
    generator = np.random.default_rng([day.seed, index])
    n = len(fields)
    order = [(k + index * n // len(walkers)) % n for k in range(n)]
    rows: list[dict] = []
    now = start + _seconds(generator.integers(0, 45))
    visits = dict.fromkeys(order, 0)
    before: int | None = None
    for k in (order + order[::-1]) * count:
        if before is not None:
            pause = float(generator.integers(40, 200))
            now += _seconds(pause + (day.minutes_between * 60.0 if k != before else 0.0))
        before = k
        visits[k] += 1
        transect = index + 1 + len(walkers) * (visits[k] - 1)
        for number in range(1, PASSES + 1):
            rows.append(_pass(name, now, fields.iloc[k], day.speed, (transect, number)))
            now = rows[-1]["end_utc"]
            now += _seconds(generator.integers(20, 75)) if number < PASSES else _seconds(0.0)
    return rows


def _pass(
    name: str, start: pd.Timestamp, place: pd.Series, speed: float, transect_pass: tuple[int, int]
) -> dict:
    """One way along a transect: its first pass in the field's heading, its second back."""
    transect, number = transect_pass
    return _row(
        name,
        start,
        start + _seconds(round(place["length"] / speed)),
        place,
        transect=str(transect),
        **{"pass": str(number)},
        heading=place["heading"] if number == 1 else (place["heading"] + 180.0) % 360.0,
        length=place["length"],
    )
