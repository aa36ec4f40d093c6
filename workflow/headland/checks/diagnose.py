"""Notes, loggers and the sun held against each other: whose clock is wrong, whose notes are whose, what was not noted.

A shift is suggested, never applied: the campaign file has the last word. Where two readings fit equally well, both are named, with what
would settle it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import has_any
from headland.base.time_text import time_text
from headland.base.times import LARGEST_CLOCK_OFFSET, recorded_runs, since_1970
from headland.base.untold import Tell, Untold, unheard
from headland.files.tables import PIECE
from headland.physics import sun

LONGEST_ZONE = 13 * 3600.0
"""s: no two time zones in use here are further apart; beyond it only whole days are tried (methods of this project, section 5)."""

NEAR_DAY = 600.0
"""s: a wrong day may be off by this much more, as watches are (common practice, no source)."""

BEST_FIT, BETTER_BY, RIVAL_BY, RIVAL_AWAY = 0.6, 0.2, 0.1, 120.0
"""A shift is suggested where notes and runs share 0.6 of their time, 0.2 more than unshifted and 0.1 more than at any peak further than 120 s
away (methods of this project, section 5)."""

VALLEY = 0.05
"""By this much the fit falls between two peaks that are two (common practice, no source)."""

UNFIT = 0.2
"""Share of their time below which notes and runs as they stand fit next to nothing (common practice, no source)."""

SMALLEST_SHIFT = {"second": 15.0, "minute": 60.0}
"""s: less is how people note, in seconds or in whole minutes (common practice, no source)."""

ROUND_SHIFT, ROUND_WITHIN = 1800.0, 60.0
"""s: zones differ by half hours; a shift this near to one is taken as one."""

SWAPPED, PERHAPS_SWAPPED = 0.2, 0.08
"""How much better notes fit the other set's runs: named from the one on, questioned from the other on (methods of this project; common practice)."""

WELL_FIT = 0.85
"""Where all notes share this much with the runs at one shift, nobody looks for exchanged sets at others."""

BY_CHECKS = 0.02
"""The same where the clock checks of both sets look exchanged, too."""

SHORTEST_RUN = 30.0
"""s: a run shorter than this that nobody noted is a touch of the switch (common practice, no source)."""

NOTED_SHARE = 0.1
"""Share of a run that a note must claim for it to count as noted (common practice, no source)."""

CHECK_WITHIN = 90.0
"""s: a clock check supports a shift that is this near to it (common practice, no source)."""


# Notes against runs ----------------------------------------------------------------------------------------------


def runs(moments, interval: float) -> np.ndarray:
    """Start and end of each uninterrupted run, s: (runs x 2). moments: ascending middles of samples, s. interval: s. Gaps under 5 s are lost rows."""
    moments = np.asarray(moments, dtype=float)
    if not len(moments):
        return np.zeros((0, 2))
    first = np.flatnonzero(np.diff(recorded_runs(moments, max(interval, 2.0)), prepend=-1))
    last = np.append(first[1:], len(moments)) - 1
    return np.column_stack([moments[first], moments[last]]) + np.array([-0.5, 0.5]) * interval


def union(intervals) -> np.ndarray:
    """The same time without overlaps, ascending: (n x 2)."""
    merged: list[list[float]] = []
    for start, end in sorted(map(tuple, np.asarray(intervals, dtype=float).reshape(-1, 2))):
        if merged and start <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], end)
        else:
            merged.append([start, end])
    return np.array(merged, dtype=float).reshape(-1, 2)


def duration(intervals: np.ndarray) -> float:
    """Total length of disjoint intervals, s."""
    return float(np.sum(intervals[:, 1] - intervals[:, 0]))


def shared(recorded: np.ndarray, noted: np.ndarray, shift=0.0) -> np.ndarray:
    """Seconds that disjoint runs and notes have in common once `shift` (s, array or number) is added to the notes' times."""
    shift = np.asarray(shift, dtype=float)
    if not len(recorded) or not len(noted):
        return np.zeros(shift.shape)
    edges = recorded.ravel()
    passed = np.concatenate([[0.0], np.cumsum(np.diff(edges) * (np.arange(len(edges) - 1) % 2 == 0))])
    until = np.interp(np.add.outer(noted, shift), edges, passed)
    return (until[:, 1] - until[:, 0]).sum(axis=0)


def agreement(recorded: Sequence[np.ndarray], noted: Sequence[np.ndarray], shift=0.0) -> np.ndarray:
    """Intersection over union of runs and notes, over all sets together, with the notes moved by `shift` s."""
    common = sum(shared(r, n, shift) for r, n in zip(recorded, noted))
    total = sum(duration(r) + duration(n) for r, n in zip(recorded, noted))
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(total - common > 0, common / (total - common), 0.0)


@dataclass(frozen=True)
class Fit:
    """How well notes and runs fit: as they stand, at the best shift (s), and at the best other peak."""

    unshifted: float
    best: float
    shift: float
    rival: float
    rival_shift: float

    @property
    def improves(self) -> bool:
        return self.best >= BEST_FIT and self.best - self.unshifted >= BETTER_BY

    @property
    def decided(self) -> bool:
        return self.improves and self.best - self.rival >= RIVAL_BY


def best_fit(recorded: Sequence[np.ndarray], noted: Sequence[np.ndarray], checked: float = math.nan) -> Fit:
    """The shift of the notes at which they fit the runs best.

    The overlap is piecewise linear in the shift and has its peaks where a note's start meets a run's start, or an end an end: all these are
    tried, with a grid between them. checked: the shift that clock checks speak for, s, which decides between peaks.
    """
    pairs = [(r[:, None, k] - n[None, :, k]).ravel() for r, n in zip(recorded, noted) for k in (0, 1)]
    candidates = np.concatenate([np.zeros(1), np.arange(-LONGEST_ZONE, LONGEST_ZONE + 1, 30.0), *pairs])
    days = np.round(candidates / 86400.0)
    candidates = candidates[
        (np.abs(candidates) <= LONGEST_ZONE)
        | ((days != 0) & (np.abs(candidates - 86400.0 * days) <= NEAR_DAY))
    ]
    step = 1.0 if len(candidates) < 20000 else 5.0
    candidates = np.unique(np.round(candidates / step) * step)
    value = agreement(recorded, noted, candidates)
    unshifted = float(agreement(recorded, noted))
    padded = np.concatenate([[-1.0], value, [-1.0]])
    peaks = np.flatnonzero((value >= padded[:-2]) & (value >= padded[2:]) & (value > 0))
    if not len(peaks):
        return Fit(unshifted, unshifted, 0.0, 0.0, 0.0)
    top = peaks[np.argmax(value[peaks])]
    supported = peaks[(np.abs(candidates[peaks] - checked) <= CHECK_WITHIN) & (value[peaks] >= BEST_FIT)]
    settled = len(supported) > 0
    if settled:
        top = supported[np.argmax(value[supported])]
    flat = np.flatnonzero(
        (value >= value[top] - 0.005) & (np.abs(candidates - candidates[top]) <= RIVAL_AWAY)
    )
    shift = float((candidates[flat[0]] + candidates[flat[-1]]) / 2.0)
    rival, rival_shift = 0.0, 0.0
    for peak in () if settled else peaks[np.argsort(-value[peaks], kind="stable")]:
        between = slice(min(peak, top), max(peak, top) + 1)
        if abs(candidates[peak] - shift) > RIVAL_AWAY and value[between].min() <= value[peak] - VALLEY:
            rival, rival_shift = float(value[peak]), float(candidates[peak])
            break
    return Fit(unshifted, float(value[top]), shift, rival, rival_shift)


def tidy(shift: float) -> float:
    """A shift as a person would enter it: a near half hour as such, others to the second."""
    near = round(shift / ROUND_SHIFT) * ROUND_SHIFT
    return near if near and abs(shift - near) <= ROUND_WITHIN else float(round(shift))


def shift_text(shift: float) -> str:
    """A shift in s as campaign.yaml has it, such as `-01:00:00`."""
    whole = abs(int(round(shift)))
    return f"{'-' if shift < 0 else ''}{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def shown(shift: float) -> str:
    """A shift in words, such as `1 h is added to` or `3 min 20 s is taken from`."""
    whole = abs(int(round(shift)))
    parts = [
        (whole // 86400, "days" if whole >= 172800 else "day"),
        (whole // 3600 % 24, "h"),
        (whole // 60 % 60, "min"),
        (whole % 60, "s"),
    ]
    return (" ".join(f"{n} {unit}" for n, unit in parts if n) or "0 s") + (
        " is taken from" if shift < 0 else " is added to"
    )


def notes_against_runs(
    noted: pd.DataFrame,
    checks: pd.DataFrame,
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    entered: float,
    walks: bool,
    tell: Tell = unheard,
) -> list[Finding]:
    """Whether the notes are those of these recordings: a shift, sets exchanged, runs that nobody noted.

    noted: intervals with `set`, `start_utc`, `end_utc`. checks: clock checks with `set`, `start_utc`, `logger_utc`. moments: of each set's
    samples, s, ascending, by the clock as far as it is corrected. intervals: of each set's samples, s. entered: the shift that campaign.yaml
    has already, s. walks: whether anybody walks; who doesn't records all day and notes what he needs. tell: called with what can't be told.
    """
    names = list(moments)
    recorded = {name: runs(moments[name], intervals[name]) for name in names}
    claimed = {name: union(_seconds(noted[noted["set"] == name])) for name in names}
    known = [name for name in names if len(recorded[name]) and len(claimed[name])]
    findings = []
    if known:
        starts = noted["start_utc"]
        smallest = SMALLEST_SHIFT["minute" if (starts.dt.second == 0).all() else "second"]
        order, swapped = _swapped(known, recorded, claimed, checks, tell)
        shifted = _shifted(
            known, recorded, [claimed[name] for name in order], checks, entered, smallest, tell
        )
        whose = dict(zip(names, names)) | dict(zip(known, order))
        shifts = {
            name: shift for finding, shift in shifted for name in ([finding.set] if finding.set else names)
        }
        left = unexplained(noted, recorded, whose, shifts)
        for finding in (*swapped, *(finding for finding, _ in shifted)):
            findings.append(
                finding
                if finding.variant == "fits-nowhere"
                else replace(finding, facts={**finding.facts, "left": left})
            )
    if walks:
        findings += [
            finding for name in names for finding in _without_note(name, recorded[name], claimed[name])
        ]
    return findings


def unexplained(
    noted: pd.DataFrame,
    recorded: Mapping[str, np.ndarray],
    whose: Mapping[str, str],
    shifts: Mapping[str, float],
) -> list[list[str]]:
    """Notes without data and runs without a note that stay so once the notes are mended: code, set and start (UTC) of each.

    noted: intervals with `set`, `start_utc`, `end_utc`. recorded: disjoint runs of each set, s. whose: of each set, in whose name its runs were
    noted. shifts: to be added to the notes of a set's runs, s; none where a set has no entry.
    """
    left = []
    for name, source in whose.items():
        own = noted[noted["set"] == source]
        claimed, shift = _seconds(own), shifts.get(name, 0.0)
        for interval, start, end in zip(claimed, own["start_utc"], own["end_utc"]):
            if float(shared(recorded[name], interval[None, :], shift)) < NOTED_SHARE * (
                interval[1] - interval[0]
            ):
                left.append(["note-without-data", source, time_text(pd.DatetimeIndex([start, end]))[0]])
        left += [
            [finding.code, name, finding.start_utc]
            for finding in _without_note(name, recorded[name], union(claimed + shift))
        ]
    return left


def _seconds(noted: pd.DataFrame) -> np.ndarray:
    return np.column_stack([since_1970(noted[column]) for column in ("start_utc", "end_utc")])


def _checked(checks: pd.DataFrame, names: Sequence[str]) -> float:
    """The shift that the clock checks of these sets speak for, s; NaN where there is none or they differ."""
    ahead = (
        (checks["logger_utc"] - checks["start_utc"]).dt.total_seconds()[checks["set"].isin(names)].to_numpy()
    )
    return (
        float(np.median(ahead))
        if len(ahead) and np.ptp(ahead) <= CHECK_WITHIN and abs(np.median(ahead)) > CHECK_WITHIN
        else math.nan
    )


def _shifted(
    names: Sequence[str],
    recorded: Mapping,
    noted: Sequence[np.ndarray],
    checks: pd.DataFrame,
    entered: float,
    smallest: float,
    tell: Tell,
) -> list[tuple[Finding, float]]:
    """A shift of all notes, or else of single sets', each with its s."""
    together = best_fit([recorded[name] for name in names], noted, _checked(checks, names))
    if together.decided:
        return (
            [(_shift_finding("", names, together, entered), together.shift)]
            if abs(together.shift) >= smallest
            else []
        )
    alone = (
        {name: best_fit([recorded[name]], [own], _checked(checks, [name])) for name, own in zip(names, noted)}
        if len(names) > 1
        else {}
    )
    odd = {name: fit for name, fit in alone.items() if fit.decided and abs(fit.shift) >= smallest}
    if odd and not together.improves:
        return [(_shift_finding("one-set", [name], fit, entered), fit.shift) for name, fit in odd.items()]
    if together.improves and abs(together.shift) >= smallest:
        return [(_shift_finding("undecided", names, together, entered), together.shift)]
    if together.unshifted < UNFIT and (len(names) > 1 or len(recorded[names[0]]) > 1):
        return [(_shift_finding("fits-nowhere", names, together, entered), 0.0)]
    if together.best < BEST_FIT:
        tell(Untold("notes-shifted", "poor-fit"))
    elif together.best - together.rival < RIVAL_BY and not set(names) <= set(checks["set"]):
        tell(Untold("notes-shifted", "alike-times"))
    return []


def _shift_finding(variant: str, names: Sequence[str], fit: Fit, entered: float) -> Finding:
    shift, other = tidy(fit.shift), tidy(fit.rival_shift)
    return Finding(
        "notes-shifted",
        variant,
        names[0] if len(names) == 1 else "",
        facts={
            "shift": shown(shift),
            "enter": shift_text(entered + shift),
            "other": shown(other),
            "other_enter": shift_text(entered + other),
            "fit": f"{100 * fit.best:.0f}",
            "now": f"{100 * fit.unshifted:.0f}",
            "other_fit": f"{100 * fit.rival:.0f}",
        },
    )


def _swapped(
    names: Sequence[str], recorded: Mapping, claimed: Mapping, checks: pd.DataFrame, tell: Tell
) -> tuple[list[str], list[Finding]]:
    """Whose notes fit whose runs: the order of sets in which the notes are to be read, and what is to be said about it.

    Of a pair the statistic is (AA + BB - AB - BA) / 2, each an intersection over union, at no shift, or, where that fits badly both ways,
    at the best shift of each way.
    """
    order = list(names)
    worst, pair, whole = 0.0, None, None
    shifted_well = None
    for a, b in combinations(names, 2):
        mine, theirs = [recorded[a], recorded[b]], [claimed[a], claimed[b]]
        fits = [
            np.mean([float(agreement([r], [n])) for r, n in zip(mine, way)]) for way in (theirs, theirs[::-1])
        ]
        if max(fits) < BEST_FIT and shifted_well is None:
            shifted_well = (
                best_fit([recorded[name] for name in names], [claimed[name] for name in names]).best
                >= WELL_FIT
            )
        if max(fits) < BEST_FIT and not shifted_well:
            ways = [best_fit(mine, way, _checked(checks, [a, b])) for way in (theirs, theirs[::-1])]
            fits = [way.best for way in ways] if ways[1].decided else [0.0, 0.0]
        if abs(fits[0] - fits[1]) <= PERHAPS_SWAPPED and not (max(fits) < BEST_FIT and shifted_well):
            for name in (a, b):
                tell(Untold("notes-sets-swapped", "in-step" if max(fits) >= BEST_FIT else "poor-fit", name))
        if fits[0] - fits[1] < worst:
            worst, pair, whole = fits[0] - fits[1], (a, b), fits
    spoken_for = pair is not None and -worst > BY_CHECKS and _checks_exchanged(checks, *pair)
    if pair is None or -worst <= (BY_CHECKS if spoken_for else PERHAPS_SWAPPED):
        return order, []
    facts = {"a": pair[0], "b": pair[1], "own": f"{100 * whole[0]:.0f}", "other": f"{100 * whole[1]:.0f}"}
    i, j = (order.index(name) for name in pair)
    order[i], order[j] = order[j], order[i]
    if -worst <= SWAPPED and not spoken_for:
        return order, [Finding("notes-sets-swapped", "undecided", facts=facts)]
    return order, [Finding("notes-sets-swapped", facts=facts)]


def _checks_exchanged(checks: pd.DataFrame, a: str, b: str) -> bool:
    """Whether the clock checks of both sets are off by the same time in opposite directions, as where each was read on the other's logger."""
    ahead = _checked(checks, [a]), _checked(checks, [b])
    return abs(ahead[0]) > LARGEST_CLOCK_OFFSET and abs(ahead[0] + ahead[1]) <= CHECK_WITHIN


def _without_note(name: str, recorded: np.ndarray, noted: np.ndarray) -> list[Finding]:
    findings = []
    for run in recorded:
        lasts = run[1] - run[0]
        if lasts >= SHORTEST_RUN and float(shared(run[None, :], noted)) < NOTED_SHARE * lasts:
            start, end = time_text(pd.to_datetime(run * 1e9, unit="ns", utc=True).round("s"))
            findings.append(
                Finding(
                    "data-without-note",
                    "",
                    name,
                    start_utc=start,
                    end_utc=end,
                    facts={"minutes": f"{lasts / 60:.1f}"},
                )
            )
    return findings


# What shades an upward head --------------------------------------------------------------------------------------

SHADE_SUN = 15.0
"""Degrees: with a lower sun a level head and one that is a degree off differ by as much as a thin shadow."""

SHADE_LEAST, SHADE_LEVEL = 0.10, 1.0
"""Share of SW_in that a shadow takes at least to be one, beside what two heads levelled to 1 degree differ by (methods of this project, section 8)."""

LONGEST_STEP = 10.0
"""s: records further apart are averages, in which no shadow is told from a cloud (common practice, no source)."""

CLEAR_SHARE, CLEAR_LEAST = 0.98, 0.6
"""The other set is under a clear sky where this share of its samples stays within the limit of a constant clear-sky index, and the index is above this."""

CLOUD_AWAY = 120.0
"""s before and after a drop within which the other set must see no cloud: clouds reach neighbouring fields within this (common practice, no source)."""

DEAD = 0.05
"""Below this share of the other set's SW_in not even the blue sky is left: a cover or a broken lead, not a shadow."""

SHORTEST_SHADE, SETTLING = 5.0, 15.0
"""s: shorter drops are no shadow to speak of; so long after it (95 % response) samples are still too low."""


def shadow_limit(elevation) -> np.ndarray:
    """Relative drop of SW_in that is more than two heads at odds in level: 0.10 + 3.6 sqrt 2 tan 1 deg tan Z. elevation: of the sun, degrees."""
    up = np.radians(np.clip(np.asarray(elevation, dtype=float), 1.0, 90.0))
    return SHADE_LEAST + 3.6 * math.sqrt(2.0) * math.radians(SHADE_LEVEL) / np.tan(up)


def smoothed(values: pd.Series, seconds: float, how: str = "mean") -> pd.Series:
    """Running mean, max or min over so many seconds around each sample of a series in time; gaps count for nothing."""
    return getattr(values.rolling(pd.Timedelta(seconds=seconds), center=True, min_periods=1), how)()


def binned(moments, frame: pd.DataFrame, step: float) -> pd.DataFrame:
    """Means over steps of so many seconds, by the step's middle as a time. moments: s. frame: numbers, a row a moment."""
    return pd.concat(binned_pieces(moments, frame, list(frame), step))


def binned_pieces(
    moments, frame: pd.DataFrame, columns: Sequence[str], step: float
) -> Iterator[pd.DataFrame]:
    """`binned` for some columns of a long record, piece by piece: no step lies in two of them. Times that do not ascend are in one."""
    number = np.floor(np.asarray(moments, dtype=float) / step)
    cuts = (
        np.unique(np.searchsorted(number, number[PIECE::PIECE]))
        if np.all(number[1:] >= number[:-1])
        else np.zeros(0, int)
    )
    for start, end in pairwise([0, *cuts[cuts > 0].tolist(), len(number)]):
        means = frame.iloc[start:end][list(columns)].groupby(number[start:end]).mean()
        means.index = pd.to_datetime((means.index.to_numpy() + 0.5) * step * 1e9, unit="ns", utc=True)
        yield means


def upward_shaded(
    sky: Callable[[str], pd.DataFrame],
    flags: Mapping[str, pd.Series],
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    tell: Tell = unheard,
) -> dict[str, np.ndarray]:
    """Samples of each set whose upper shortwave head stood in a shadow: its SW_in drops while another set's, under a clear sky, does not.

    sky: gives a set's sw_in, sw_clear (W m-2) and solar_elevation (degrees), asked for one set after another. flags: of each set's samples. moments: s,
    ascending. intervals: s. A drop in both sets is a cloud; with one set alone, under clouds, or beside a head that stands still, nothing can be told and
    nothing is flagged, and `tell` is called.
    """
    result = {name: np.zeros(len(texts), dtype=bool) for name, texts in flags.items()}
    watched = set()
    usable = [
        name
        for name in flags
        if len(flags[name]) and intervals[name] <= LONGEST_STEP and not has_any(flags[name], {"frozen"}).any()
    ]
    usable = usable if len(usable) > 1 else []
    step = max([1.0, *(intervals[name] for name in usable)])
    means = {
        name: pd.concat(
            [
                part[part["solar_elevation"] > SHADE_SUN]
                for part in binned_pieces(
                    moments[name], sky(name), ["sw_in", "sw_clear", "solar_elevation"], step
                )
            ]
        )
        for name in usable
    }
    calm = {name: _calm(frame) for name, frame in means.items()}
    for name in usable:
        for other in usable:
            if other == name or calm[other] is None:
                continue
            both = means[name].join(
                means[other][["sw_in"]].add_suffix("_other").assign(calm=calm[other]), how="inner"
            )
            both = both[both["calm"]]
            if len(both) * step < CLOUD_AWAY:
                continue
            watched.add(name)
            ratio = smoothed(both["sw_in"] / both["sw_in_other"], 3.0)
            ratio = ratio / ratio.median()
            limit = shadow_limit(both["solar_elevation"])
            dropped = (ratio < 1.0 - limit) & (ratio > DEAD)
            whole = list(_stretches(ratio.index, step))
            level = since_1970(ratio.index[ratio > 1.0 - limit / 2.0])
            for start, end in _stretches(dropped.index[dropped], step):
                # a drop that is not seen to begin and to end without a break may be a head that leans
                first, last = next(run for run in whole if run[0] <= start < run[1])
                seen = np.any((level > first) & (level < start)) and np.any((level > end) & (level < last))
                if end - start >= SHORTEST_SHADE and seen:
                    result[name] |= (moments[name] >= start - step) & (moments[name] <= end + SETTLING)
    for name in flags:
        if name not in watched:
            tell(Untold("upward-shaded", "no-clear-witness" if len(flags) > 1 else "one-set", name))
    return result


def _calm(means: pd.DataFrame) -> pd.Series | None:
    """Where a set sees a beam and no cloud within two minutes; None where its sky is not clear as a whole. means: with the sun above SHADE_SUN."""
    high = means[means["sw_clear"] > 0]
    if not len(high):
        return None
    index, limit = smoothed(high["sw_in"] / high["sw_clear"], 3.0), shadow_limit(high["solar_elevation"])
    if not (
        index.median() > CLEAR_LEAST and (np.abs(index / index.median() - 1.0) <= limit).mean() >= CLEAR_SHARE
    ):
        return None
    swing = smoothed(index, 2 * CLOUD_AWAY, "max") - smoothed(index, 2 * CLOUD_AWAY, "min")
    return (swing <= limit * index.median()).reindex(means.index, fill_value=False)


def _stretches(times: pd.DatetimeIndex, step: float):
    """Start and end, s, of the uninterrupted stretches in ascending middles of steps."""
    seconds = since_1970(times)
    for part in np.split(seconds, np.flatnonzero(np.diff(seconds) > 1.5 * step) + 1) if len(seconds) else ():
        yield part[0] - step / 2, part[-1] + step / 2


def shaded_findings(
    name: str, segments: Sequence[str], shaded: np.ndarray, moments: np.ndarray
) -> list[Finding]:
    """One finding a segment in which the upper head stood in a shadow."""
    findings = []
    labels, moments = np.asarray(pd.Series(segments)[shaded], dtype=object), moments[shaded]
    for label in dict.fromkeys(labels[labels != ""]):
        mine = moments[labels == label]
        start, end = time_text(pd.to_datetime(mine[[0, -1]] * 1e9, unit="ns", utc=True).round("s"))
        findings.append(
            Finding(
                "upward-shaded",
                "",
                name,
                start_utc=start,
                end_utc=end,
                channel="sw_in",
                facts={"count": len(mine), "segment": label},
            )
        )
    return findings


# A logger's clock against the sun --------------------------------------------------------------------------------

SUN_STEP = 300.0
"""s: shifts are tried this far apart, then every minute around the best."""

SMALLEST_SUN_SHIFT, ERROR_SUN_SHIFT, SUN_FALLS = 1200.0, 3000.0, 2.5
"""s: a shift of 20 min is a warning, of 50 min an error (mistakes of this project), where the misfit falls by the last and without it is so many times
what is expected: the least at which sound campaigns stay silent (docs/detection.md)."""

SUN_FITS, SUN_RMS, SUN_FLOOR, SUN_SCALE = 2.5, 0.04, 0.012, (0.8, 1.2)
"""A sky is clear enough for the fit where it leaves no more than the first, as a multiple of what is expected, and no more than the second, relative: under
a low sun a lean could else explain a cloud. Of a level head's minute the third is expected; the scale of the clear-sky model lies between the last two
(common practice, no source)."""

SUN_HAZE, SUN_LEAN = 0.04, 1.0
"""Standard deviations of what the fit knows of the sky and the head: in ln for each air mass, how much hazier than the model's the real sky is (a
transmittance of 0.75 times 0.96 to 1.04), and how far the head leans in each direction, degrees (methods of this project, section 8)."""

SUN_LOOSE = 0.2
"""How firmly haze and lean are held while the shift is sought, which would else make up for haze (common practice, no source)."""

SUN_SPAN, SUN_BLOCKS = 1800.0, 6
"""s and minutes: a shorter record, or one of fewer minutes, says nothing about the sun's course (common practice, no source)."""


SUN_WITHIN, SUN_TRIED = 900.0, 15.0
"""s: the sun tells a clock's error to some minutes; so far around it, in such steps, are the notes tried (common practice, no source)."""


def clocks_against_sun(
    samples: Mapping[str, pd.DataFrame],
    middles: Mapping[str, pd.Series],
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    noted: pd.DataFrame,
    excluding: set[str],
    walks: bool,
    site: Mapping[str, float],
    tell: Tell = unheard,
) -> list[Finding]:
    """`clock_against_sun` of each set, and whether its notes were kept by the same wrong clock, so that its means are of the surfaces noted.

    samples: of each set, with `sw_in`, `segment` and `flags`. middles: of the samples, by the set's own clock. moments: the same, s, corrected by clock
    checks. intervals: s. noted: intervals with `segment`, `set`, `heading`, `start_utc`, `end_utc`. excluding: flags that keep a sample out. walks: whether
    anybody walks; else the heading is a constant. tell: called with what can't be told.
    """
    # near an edge or low over the canopy a head sees its sky all the same
    seen = excluding - {"edge", "low-head"}
    heading = noted.set_index("segment")["heading"].astype(float)
    findings = []
    for name, frame in samples.items():
        sw_in = np.where(has_any(frame["flags"], seen), np.nan, frame["sw_in"].to_numpy(float))
        ways = frame["segment"].map(heading).to_numpy(float) if walks else np.zeros(len(frame))
        own = noted[noted["set"] == name]
        for finding in clock_against_sun(
            name,
            since_1970(middles[name]),
            sw_in,
            ways,
            site,
            own if walks else None,
            tell,
        ):
            recorded = runs(moments[name], intervals[name])
            claimed = union(_seconds(own))
            behind = (
                60.0 * float(finding.facts["minutes"]) * (1 if finding.facts["direction"] == "behind" else -1)
            )
            tried = -behind + np.arange(-SUN_WITHIN, SUN_WITHIN + 1, SUN_TRIED)
            fits, now = agreement([recorded], [claimed], tried), float(agreement([recorded], [claimed]))
            hold = bool(now >= BEST_FIT and now - fits.max() >= RIVAL_BY)
            left = unexplained(
                own, {name: recorded}, {name: name}, {name: 0.0 if hold else float(tried[np.argmax(fits)])}
            )
            findings.append(
                replace(
                    finding,
                    variant="noted" if hold and finding.variant == "far" else finding.variant,
                    facts={**finding.facts, "labels_hold": hold, "left": left},
                )
            )
    return findings


@dataclass(frozen=True)
class SunFit:
    """How well a set's SW_in fits a clear sky: the shift in s that, added to its clock, fits best (0 where the clock's own time does), the misfits there, by the clock itself, and at least with
    ERROR_SUN_SHIFT more or less, as multiples of what is expected (inf where no clear sky leaves them, or the sun was down then), the relative rms of the first two, and the first and last minute, UTC."""

    shift: float
    best: float
    now: float
    beside: float
    rms: float
    rms_now: float
    start: pd.Timestamp
    end: pd.Timestamp

    @property
    def clear(self) -> bool:
        """Whether the sky was clear enough for the fit to say anything."""
        return self.best <= SUN_FITS

    @property
    def off(self) -> bool:
        """Whether the sun tells that the clock is off."""
        return self.clear and abs(self.shift) >= SMALLEST_SUN_SHIFT and self.worse(self.now)

    @property
    def tells(self) -> bool:
        """Whether it would tell of a clock that is off by ERROR_SUN_SHIFT."""
        return self.clear and self.worse(self.beside)

    def worse(self, misfit: float) -> bool:
        """Whether a misfit is so much more than the best that its shift is not the clock's."""
        return misfit >= SUN_FALLS * max(self.best, 1.0)


def clock_against_sun(
    name: str,
    moments: np.ndarray,
    sw_in: np.ndarray,
    heading: np.ndarray,
    site: Mapping[str, float],
    noted: pd.DataFrame | None = None,
    tell: Tell = unheard,
) -> list[Finding]:
    """Whether a set's clock fits the sun's, by `fit_to_sun`. Silent under any cloud, and where the record is too short for the sun's course to show: then `tell` is called."""
    fit = fit_to_sun(moments, sw_in, heading, site, noted)
    if fit is None or not fit.off:
        if fit is None or not fit.tells:
            tell(
                Untold(
                    "clock-against-sun",
                    "short-sun" if fit is None else "flat-sun" if fit.clear else "no-clear-sky",
                    name,
                )
            )
        return []
    start, end = time_text(pd.DatetimeIndex([fit.start, fit.end]))
    return [
        Finding(
            "clock-against-sun",
            "far" if abs(fit.shift) >= ERROR_SUN_SHIFT else "",
            name,
            start_utc=start,
            end_utc=end,
            channel="sw_in",
            facts={
                "minutes": f"{abs(fit.shift) / 60:.0f}",
                "direction": "behind" if fit.shift > 0 else "ahead",
                "rms": f"{100 * fit.rms:.1f}",
                "now": f"{100 * fit.rms_now:.0f}" if math.isfinite(fit.now) else "more than 20",
            },
        )
    ]


def fit_to_sun(
    moments: np.ndarray,
    sw_in: np.ndarray,
    heading: np.ndarray,
    site: Mapping[str, float],
    noted: pd.DataFrame | None = None,
) -> SunFit | None:
    """a SW_clear(t + shift) fitted to minutes of SW_in, over a, haze, the lean of the head, and shift; None where the record is too short or too long.

    moments: middles of the samples in UTC by the set's own clock, s. sw_in: W m-2. heading: degrees, NaN where unknown. site: latitude,
    longitude (degrees), elevation (m). noted: the set's notes with `heading`, `start_utc`, `end_utc`: were only the clock wrong, they tell the headings
    at t + shift. Haze and lean are held to SUN_HAZE and SUN_LEAN: one of them off by so much weighs as all minutes off by what is expected of each.
    Where a heading is unknown, the lean counts as scatter.
    """
    good = np.isfinite(sw_in)
    if good.sum() < 2:
        return None
    minutes = binned(moments, pd.DataFrame({"sw_in": np.where(good, sw_in, np.nan)}, copy=False), 60.0)[
        "sw_in"
    ]
    minutes = minutes[minutes > 50.0]
    seconds = since_1970(minutes.index)
    if len(minutes) < SUN_BLOCKS or not SUN_SPAN <= np.ptp(seconds) <= 10 * 86400.0:
        return None
    nodes = np.arange(
        seconds[0] - LONGEST_ZONE - SUN_STEP, seconds[-1] + LONGEST_ZONE + 2 * SUN_STEP, SUN_STEP
    )
    times = pd.to_datetime(nodes * 1e9, unit="ns", utc=True)
    elevation, azimuth = sun.position(times, site["latitude"], site["longitude"], site["elevation"])
    clear, up, around = (
        sun.clear_sky_global(elevation, times, site["elevation"]),
        np.radians(elevation),
        np.unwrap(np.radians(azimuth)),
    )
    at = lambda values, shift: np.interp(seconds + shift, nodes, values)
    by_data = heading[np.clip(np.searchsorted(moments, seconds), 0, len(heading) - 1)]
    by_notes = _headings(noted) if noted is not None else lambda moment: by_data

    def misfit(
        shift: float, ways: np.ndarray, clear_sky: bool = True, held: float = 1.0
    ) -> tuple[float, float]:
        """What a shift leaves of ln(SW_in / a SW_clear): haze and lean included, as a multiple of what is expected; and its rms.

        clear_sky: whether a misfit that no clear sky leaves counts as infinite. held: how firmly haze and lean are held.
        """
        model, high = at(clear, shift), np.maximum(at(up, shift), 0.05)
        if model.min() < 30.0:
            return math.inf, math.inf
        logs = np.log(minutes.to_numpy() / model)
        lever = math.radians(SUN_LEAN) / np.tan(high)
        known, turn = np.isfinite(ways), at(around, shift) - np.radians(np.nan_to_num(ways))
        size = np.where(known, SUN_FLOOR, np.hypot(SUN_FLOOR, lever))
        sources = np.column_stack(
            [
                np.ones(len(logs)),
                SUN_HAZE / np.sin(high),
                known * lever * np.cos(turn),
                known * lever * np.sin(turn),
            ]
        )
        rows = np.vstack(
            [sources / size[:, None], held * math.sqrt(len(logs)) * np.diag([0.0, 1.0, 1.0, 1.0])]
        )
        wanted = np.append(logs / size, np.zeros(4))
        left = wanted - rows @ np.linalg.lstsq(rows, wanted, rcond=None)[0]
        rms = math.sqrt(np.mean((left[: len(logs)] * size) ** 2))
        if clear_sky and not (SUN_SCALE[0] <= math.exp(logs.mean()) <= SUN_SCALE[1] and rms <= SUN_RMS):
            return math.inf, math.inf
        return math.sqrt(np.sum(left**2) / len(logs)), rms

    readings = []
    for ways_at in (lambda shift: by_data, lambda shift: by_notes(seconds + shift))[
        : 1 if noted is None else 2
    ]:
        tried = lambda shifts: float(
            min(shifts, key=lambda shift: misfit(shift, ways_at(shift), held=SUN_LOOSE))
        )
        best = tried(
            tried(np.arange(-LONGEST_ZONE, LONGEST_ZONE + 1, SUN_STEP))
            + np.arange(-SUN_STEP, SUN_STEP + 1, 60.0)
        )
        readings.append(
            (
                misfit(best, ways_at(best)),
                misfit(0.0, ways_at(best), clear_sky=False),
                best,
                min(
                    misfit(best + away, ways_at(best), clear_sky=False)[0]
                    for away in (-ERROR_SUN_SHIFT, ERROR_SUN_SHIFT)
                ),
            )
        )
    (then, rms), (now, rms_now), best, beside = min(readings)
    return SunFit(best, then, now, beside, rms, rms_now, minutes.index[0], minutes.index[-1])


def _headings(noted: pd.DataFrame):
    """The noted heading at each of some moments, s, as a function; NaN between the notes."""
    rows = noted.sort_values("start_utc")
    spans, ways = _seconds(rows), np.append(rows["heading"].to_numpy(float), np.nan)

    def at(moments: np.ndarray) -> np.ndarray:
        if not len(spans):
            return np.full(len(moments), np.nan)
        number = np.searchsorted(spans[:, 0], moments, side="right") - 1
        return ways[np.where((number >= 0) & (moments < spans[number, 1]), number, -1)]

    return at
