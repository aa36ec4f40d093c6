"""Channels that measured nothing: a broken lead, whose value stays the same, and covers left on."""

from __future__ import annotations

import numpy as np

from headland.checks.one_set import LIT, SUN_UP, OneSet
from headland.checks.series import lasting, long_runs, resolution, stretches
from headland.physics.constants import RADIATION

FROZEN_FEWEST = 30
"""Fewest consecutive samples that can be called frozen (common practice, no source)."""
FROZEN_STEPS = 10.0
"""Resolution steps by which another channel must move meanwhile (common practice, no source)."""
REPEATED = 0.5
"""Share of equal successive values from which the logger's steps are coarse (common practice, no source)."""
TWILIGHT = 3.0
"""degrees: with a lower sun a shortwave head gives a steady zero (common practice, no source)."""
DEAD = 3.0
"""W m-2: a shortwave head under its cover reads no more than this (common practice, no source)."""
COOLED = 16.0
"""W m-2: a head under its cover reads no further below 0, whatever it loses to the sky (ISO 9060:2018: zero
offset of class C, 15 W m-2 for 200 W m-2 of net longwave; from memory)."""
DARK_SHARE = 0.03
"""SW_in over SW_out below which the upper head is covered and not upside down (common practice, no
source)."""
COOL_COVERS = 60.0
"""W m-2: covers as cool as the air give this much less than heads 10 K warmer (common practice, no
source)."""
COVERED_ALBEDO = 0.015
"""SW_out over SW_in below which the lower head is covered: no ground is that dark (common practice, no
source)."""
DARKEST_CLOUD = 0.05
"""SW_in over the clear-sky model, of its own largest, under which a head is covered. A cloud leaves more,
whatever the factor (common practice, no source)."""
BRIGHTEST = 0.95
"""Quantile of SW_in over the clear-sky model that stands for its largest (common practice, no source)."""
COVER_TAKES, FASTEST = 2.0, 10.0
"""Response times (95 %) in which a head falls from the sun to the dark of its cover, and s of the response
where it is faster or unknown (common practice, no source)."""
SETTLED = 0.95
"""Share of the light beside a cover from which the head has risen (definition of the 95 % response)."""


def frozen(
    values, others, interval: float, shortest: float, fewest: int = FROZEN_FEWEST
) -> tuple[np.ndarray, np.ndarray]:
    """Where a channel stays at one value while another moves by more than FROZEN_STEPS resolution steps.

    A logger with coarse steps repeats sound values for minutes. So the channel, or the logger's others, must
    otherwise change from sample to sample.

    Parameters
    ----------
    values : the channel as logged.
    others : the other channels as logged.
    interval : s.
    shortest, fewest : s, and number of samples, that it must last.

    Returns
    -------
    Two truth values a sample: frozen, and constant but doubtful.
    """
    values, others = np.asarray(values, float), [np.asarray(other, float) for other in others]
    constant = np.zeros(len(values), bool)
    if len(values) < fewest:
        return constant, constant
    starts = np.flatnonzero(np.concatenate([[True], np.diff(values) != 0]))
    counts = np.diff(starts, append=len(values))
    steps = [FROZEN_STEPS * resolution(other) for other in others]
    for i in np.flatnonzero(lasting(counts, interval, shortest, fewest)):
        part = slice(starts[i], starts[i] + counts[i])
        constant[part] = any(
            step > 0 and np.ptp(other[part]) > step for other, step in zip(others, steps, strict=True)
        )
    sure = _changes_otherwise(values, others, constant, fewest)
    return (constant, np.zeros_like(constant)) if sure else (np.zeros_like(constant), constant)


def _changes_otherwise(
    values: np.ndarray, others: list[np.ndarray], constant: np.ndarray, fewest: int
) -> bool:
    """Whether a channel changes from sample to sample where it is not constant; where it always is, the
    others."""
    if np.sum(~constant) >= fewest:
        return repeated_share(values[~constant]) < REPEATED
    return all(repeated_share(other[constant]) < REPEATED for other in others)


def repeated_share(values: np.ndarray) -> float:
    """Share of successive values that are equal; 1 for fewer than two."""
    return float(np.mean(np.diff(values) == 0)) if len(values) > 1 else 1.0


def find_frozen(one: OneSet) -> None:
    """Channels that stay at one value, and the flag `frozen`."""
    shortest = one.limits["frozen"]["low"]
    any_hit = np.zeros(len(one.time), bool)
    frame = one.raw[list(RADIATION)]
    logged = {c: frame[c].to_numpy(float) for c in RADIATION}
    for channel in RADIATION:
        others = [logged[c] for c in RADIATION if c != channel]
        # in the dark a steady zero is what a sound head gives
        alive = one.elevation > TWILIGHT if channel.startswith("sw") else np.ones(len(one.time), bool)
        one.needs("channel-frozen", alive, shortest, FROZEN_FEWEST, channel)
        hit, doubtful = (part & alive for part in frozen(logged[channel], others, one.interval, shortest))
        if doubtful.any():
            one.can_t_tell("channel-frozen", "coarse-steps", channel)
        if hit.any():
            any_hit |= hit
            one.usable[channel] &= ~hit
            value = f"{logged[channel][hit][0]:g}"
            one.report("channel-frozen", where=hit, channel=channel, count=int(hit.sum()), value=value)
    one.result.flags["frozen"] = any_hit


def find_empty(one: OneSet) -> None:
    """Channels without a single value: all samples of the set are then without numbers."""
    if not len(one.time):
        return
    empty = [c for c in RADIATION if not np.isfinite(one.flux[c]).any()]
    cold = [c for c in one.body if not np.isfinite(one.body[c]).any() and c not in empty]
    if empty:
        one.report("channel-empty", channel=" ".join(empty), channels=", ".join(empty))
    if cold:
        one.report("channel-empty", "body", channel=" ".join(cold), channels=", ".join(cold))


def find_covers(one: OneSet) -> None:
    """The flags `cover` (all heads), `cover-sw_in` and `cover-sw_out`; segments that lose samples are found
    later."""
    row = one.limits["cover"]
    shortest, near_zero = row["low"], row["offset"]
    sw_in, sw_out = one.flux["sw_in"], one.flux["sw_out"]
    known_in, known_out = one.usable["sw_in"], one.usable["sw_out"]
    dim = row["scale"] * one.toa * np.sin(np.radians(np.clip(one.elevation, 0.0, None)))
    high = one.elevation > SUN_UP
    one.needs("cover-left-on", high, shortest)
    dark = high & known_in & (np.abs(sw_in) < dim) & _darker_than_clouds(one, high & known_in)
    # covers are of one temperature: that of the heads, or of the air around warmer heads
    lw_in, lw_out = one.flux["lw_in"], one.flux["lw_out"]
    no_longwave = (np.abs(lw_in - lw_out) < 2.0 * near_zero) & (np.abs(lw_in + lw_out) / 2.0 < COOL_COVERS)
    # a head upside down under a dense cloud is nearly as dark, but not as dark as a cover
    # its zero offset may be several W m-2 below 0; reversed leads are never further from 0 than SW_out
    darker = (sw_in < np.fmax(DARK_SHARE * sw_out, DEAD)) & (sw_out > np.where(sw_in > 0, 3.0, -1.0) * sw_in)
    kinds = {
        "cover": dark & no_longwave & known_out & (np.abs(sw_out) < dim),
        "cover-sw_in": dark & known_out & (sw_out > near_zero) & darker,
        "cover-sw_out": (
            high & known_in & known_out & (sw_in > 2.0 * LIT) & (np.abs(sw_out) < COVERED_ALBEDO * sw_in)
        ),
    }
    for flag, covered in kinds.items():
        hit = long_runs(covered, one.interval, shortest)
        hit = one.result.flags[flag] = _with_changes(one, hit, sw_out if flag == "cover-sw_out" else sw_in)
        for channel in RADIATION if flag == "cover" else [flag.removeprefix("cover-")]:
            one.usable[channel] &= ~hit


def _darker_than_clouds(one: OneSet, judged: np.ndarray) -> np.ndarray:
    """Samples with too little of the light that the same head had at its brightest.

    An inverted factor makes all of a cloudy day as dark as a cover, but not darker than the rest of it. A
    head that was never lit has been covered all the time: nothing is compared then.
    """
    index = np.abs(one.flux["sw_in"]) / np.maximum(one.clear, LIT)
    if not judged.any():
        return judged
    largest = np.quantile(index[judged], BRIGHTEST)
    lowest, highest = np.quantile(one.flux["sw_in"][judged], [1.0 - BRIGHTEST, BRIGHTEST])
    never_lit = lowest > -COOLED and highest < DEAD
    return np.ones(len(index), bool) if never_lit else index < DARKEST_CLOUD * largest


def _with_changes(one: OneSet, covered: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Covered samples, and those beside them in which the head has not yet followed the cover.

    values: of the covered channel, W m-2; of either sign, as a reversed head is covered too.
    """
    light = np.abs(values)
    size = int(np.ceil(COVER_TAKES * np.fmax(one.response, FASTEST) / one.interval))
    wider = covered.copy()
    for start, end in stretches(covered):
        before, after = max(start - size, 0), end + size
        for part, beside in (
            (slice(before, start), light[max(before - size, 0) : before]),
            (slice(end, after), light[after : after + size]),
        ):
            if len(beside):
                wider[part] |= light[part] < SETTLED * np.median(beside)
    return wider
