"""Step 1: the rows of a set's raw files as one table of samples, and what is wrong with their times.

`files.logger_files` reads the files; here their rows are joined in the order of time. Times are the moments
that the logger stamped; `middle_of_interval` converts them to the middle of each sample's interval.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import BinaryIO

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.frames import Made, Pieces
from headland.base.time_text import time_decimals, time_text
from headland.chain.notes import offset_of
from headland.files import step
from headland.files.logger_files import frame_of, read_logger_file, read_nothing
from headland.files.logger_stamps import ENOUGH_STEPS, MICRO, TOLERANCE, grid, micros
from headland.files.tables import pieces_of

READS = {"raw": step.PATHS}
WRITES = {"samples": "samples_raw"}

MOST = 0.5
"""Share of the steps that must be near the declared interval for their mean to be compared with it."""
RESET = 30 * 86400
"""s: a longer jump within a set is not a pause but a clock that fell back on its default date."""


def middle_of_interval(time, stamp: str, interval: float):
    """The middle of each sample's own averaging interval.

    time: the moments stamped (Series, index or array of datetimes). stamp: the moment of the interval that
    the logger names, `start`, `end` or `instant`. interval: s. Returns what `time` is. Source: definition
    (methods, section 5).
    """
    half = {"start": 0.5, "end": -0.5, "instant": 0.0}[stamp]
    return time + np.timedelta64(micros(half * interval), "us")


def join_files(
    frames: Sequence[pd.DataFrame], interval: float, set_name: str = ""
) -> tuple[pd.DataFrame, list[Finding]]:
    """The files of one set as one frame in the order of time, and what is wrong with its rows' times.

    frames: as `read_logger_file` returns them. interval: s between samples. set_name: the set that findings
    name. Rows with equal stamps and values are one row downloaded twice: one is kept. Of rows with equal
    stamps and different values the first is kept (by the order of frames and lines). Both are counted in a
    finding.
    """
    places, findings = in_order(frames, interval, set_name)
    return (rows_at(frames, places) if frames else frame_of({"channels": {}}, "", [], [], [])), findings


def in_order(
    frames: Sequence[pd.DataFrame], interval: float, set_name: str = ""
) -> tuple[np.ndarray, list[Finding]]:
    """`join_files` for a set too long to be held twice: the places (from 0, through all frames) of the rows
    that are kept, in the order of time, for `rows_at`.
    """
    report = partial(Finding, set=set_name)
    stamps = np.concatenate(
        [np.zeros(0, np.int64), *(pd.DatetimeIndex(frame["time"]).as_unit("us").asi8 for frame in frames)]
    )
    if not len(stamps):
        return stamps, []
    order = np.argsort(stamps, kind="stable")
    again, different = _repeated(frames, stamps, order)
    findings = _clock_faults(frames, stamps, again, order, report) + _interval_faults(
        frames, stamps, again, interval, report
    )
    for mask, variant in ((again, ""), (different, "different")):
        if mask.any():
            first, moments = _row(frames, int(np.argmax(mask))), stamps[mask]
            findings.append(
                report(
                    "rows-duplicated",
                    variant,
                    file=str(first["file"]),
                    line=int(first["line"]),
                    start_utc=_utc(moments.min()),
                    end_utc=_utc(moments.max()),
                    facts={"count": int(mask.sum())},
                )
            )
    return order[~(again | different)[order]], findings


def rows_at(frames: Sequence[pd.DataFrame], places: np.ndarray) -> pd.DataFrame:
    """The rows at some places, as `in_order` counts them, in the order of the places."""
    ends = np.cumsum([len(frame) for frame in frames])
    which = np.searchsorted(ends, places, side="right")
    numbers = np.unique(which)
    if not len(numbers):
        return frames[0].iloc[:0]
    parts = [frames[i].iloc[places[which == i] - (ends[i] - len(frames[i]))] for i in numbers]
    files = pd.api.types.union_categoricals([part["file"] for part in parts])
    rows = pd.concat([part.drop(columns="file") for part in parts], ignore_index=True).assign(file=files)[
        list(parts[0])
    ]
    if np.any(np.diff(which) < 0):
        rows = rows.iloc[np.argsort(np.argsort(which, kind="stable"))].reset_index(drop=True)
    return rows


def _row(frames: Sequence[pd.DataFrame], place: int) -> pd.Series:
    return rows_at(frames, np.array([place])).iloc[0]


def _places_by_file(frames: Sequence[pd.DataFrame], again: np.ndarray) -> Iterator[tuple[str, np.ndarray]]:
    """The places of each file's rows, less those that are there again."""
    spans: dict[str, list[range]] = {}
    start = 0
    for frame in frames:
        if len(frame):
            spans.setdefault(str(frame["file"].iloc[0]), []).append(range(start, start + len(frame)))
        start += len(frame)
    for name, some in spans.items():
        places = np.concatenate([np.asarray(span) for span in some])
        yield name, places[~again[places]]


def _utc(stamp: int) -> str:
    """A moment in microseconds since 1970 as text."""
    return time_text(pd.DatetimeIndex(np.array([stamp]).view("datetime64[us]")))[0]


def _repeated(
    frames: Sequence[pd.DataFrame], stamps: np.ndarray, order: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Which rows repeat an earlier one in stamp and values, and which only in its stamp."""
    again, different = np.zeros(len(stamps), dtype=bool), np.zeros(len(stamps), dtype=bool)
    same = np.diff(stamps[order]) == 0
    shared = order[np.concatenate([same, [False]]) | np.concatenate([[False], same])]
    shared.sort()
    twice = rows_at(frames, shared).drop(columns=["file", "line"])
    again[shared] = twice.duplicated().to_numpy()
    different[shared] = twice.duplicated("time").to_numpy() & ~again[shared]
    return again, different


def _clock_faults(
    frames: Sequence[pd.DataFrame], stamps: np.ndarray, again: np.ndarray, order: np.ndarray, report: Callable
) -> list[Finding]:
    """Where time goes back within a file, or jumps by more than RESET: one finding a file for each.

    stamps: of all rows. again: which are repetitions. order: places of all in the order of time. A jump is
    sought within each file first; where there is none, between the files of the set.
    """

    def jump(code: str, variant: str, before: int, after: int, **facts) -> Finding:
        start, end, row = _utc(stamps[before]), _utc(stamps[after]), _row(frames, after)
        return report(
            code,
            variant,
            file=str(row["file"]),
            line=int(row["line"]),
            start_utc=start,
            end_utc=end,
            facts={"before": start, "after": end, **facts},
        )

    findings = []
    for _, places in _places_by_file(frames, again):
        steps = np.diff(stamps[places])
        far = np.abs(steps) > RESET * MICRO
        for code, where in (("clock-reset", far), ("clock-backwards", (steps < 0) & ~far)):
            at = np.flatnonzero(where)
            if len(at):
                before, after = int(places[at[0]]), int(places[at[0] + 1])
                findings.append(jump(code, "", before, after, count=len(at)))
    if not any(finding.code == "clock-reset" for finding in findings):
        order = order[~again[order]]
        for place in np.flatnonzero(np.diff(stamps[order]) > RESET * MICRO).tolist():
            before, after = int(order[place]), int(order[place + 1])
            other = str(_row(frames, before)["file"])
            findings.append(jump("clock-reset", "files", before, after, other=other))
    return findings


def _interval_faults(
    frames: Sequence[pd.DataFrame], stamps: np.ndarray, again: np.ndarray, interval: float, report: Callable
) -> list[Finding]:
    """The files whose rows do not follow one another by the declared interval.

    Where stamps are cut off, single steps lie to both sides of the interval by up to what the stamps can
    tell; then the mean of those steps is compared, which each stretch without a pause shifts by no more than
    that. Otherwise the median step is, which no pause or lost row disturbs.
    """
    findings = []
    for name, places in _places_by_file(frames, again):
        steps = np.diff(stamps[places])
        steps = steps[steps > 0] / MICRO
        if len(steps) < ENOUGH_STEPS:
            continue
        blur = grid(stamps[places]) if grid(stamps[places]) <= interval else 0.0
        slack = TOLERANCE * interval
        near = np.abs(steps - interval) < max(blur, slack)
        if near.sum() > MOST * len(steps):
            stretches = np.count_nonzero(np.diff(near, prepend=False) & near)
            found, slack = float(steps[near].mean()), max(slack, blur * stretches / near.sum())
        else:
            found = float(np.median(steps))
        if abs(found - interval) > slack:
            findings.append(
                report(
                    "sampling-interval", file=name, facts={"found": f"{found:g}", "declared": f"{interval:g}"}
                )
            )
    return findings


def run(files: Iterable[tuple[str, BinaryIO]], settings: Mapping) -> Made:
    """The samples of a set as they were stored, in the order of time.

    files: raw files, open, by the names that findings give them. settings: `set`, `logger_id`,
    `utc_offset`, `files` (the pattern by which they were found) and `layout`. Makes `samples`.
    """
    name, layout, offset = settings["set"], settings["layout"], offset_of(settings["utc_offset"])
    frames, findings = [], []
    for shown, stream in files:
        frame, found = read_logger_file(
            stream, shown, name, layout, utc_offset=offset, logger_id=settings["logger_id"]
        )
        frames.append(frame)
        findings += found
    if not frames:
        facts = {"pattern": settings["files"]}
        findings.append(Finding("set-without-files", set=name, file="campaign.yaml", facts=facts))
        frames.append(read_nothing(layout))
    places, found = in_order(frames, layout["interval"], name)
    pieces = (
        rows_at(frames, places[piece]).rename(columns={"time": "time_utc"})
        for piece in pieces_of(len(places))
    )
    decimals = max(time_decimals(frame["time"]) for frame in frames)
    return Made({"samples": Pieces(pieces, {"time_utc": decimals})}, findings + found, [])
