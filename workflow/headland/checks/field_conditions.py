"""What weather, handling and supply do to a set: water on a window, a swinging head, a thermal shock, a low
battery."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.checks.factors import INDEX
from headland.checks.one_set import SUN_UP, OneSet
from headland.checks.series import long_runs, running_mean, stretches
from headland.physics.constants import RADIATION

BEAM_INDEX, BEAM_SHARE = 0.7, 0.3
"""SW_in over the clear-sky model in sunshine, and the share of a quiet stretch in which the sun must shine
(common practice, no source)."""
SLOWEST_SWING = 0.5
"""Hz: a carried head swings no slower. The head's response damps faster swings more, so this gives a lower
bound (common practice, no source)."""
SLOWEST_HEAD = 20.0
"""s: 95 % response time of a shortwave head up to which its swing can be seen (common practice, no
source)."""
SWING_INTERVAL = 2.0
"""s: longest interval in which a swing can be seen (common practice, no source)."""
SWING_MEAN = 11.0
"""s of the running mean that separates a swing from slower changes (common practice, no source)."""
SWING_CALM = 0.02
"""Relative range of that mean within a block without cloud (common practice, no source)."""
SWING_HIGHEST = 75.0
"""degrees: under a higher sun a swing hardly changes SW_in (common practice, no source)."""
USUAL_NOISE = 0.5
"""W m-2: noise from second to second that a sound head and logger may have (common practice, no source)."""
OVER_NOISE = 3.0
"""A scatter counts as a swing where it is this many times the noise (common practice, no source)."""
SWING_QUANTILE = 0.75
"""Quantile of the blocks' amplitudes that is reported (common practice, no source)."""
SHOCK_SPAN = (300.0, 600.0)
"""s over which the trend of the body temperature is taken (common practice, no source)."""
SUN_WARMS = 0.05
"""K an hour for each W m-2: how fast a change of SW_in may warm or cool a body. A body in full sun (800 W
m-2) is up to 8 K warmer than in the shade, and half of that is reached in 5 to 10 minutes (common practice,
no source)."""
SUN_MEMORY = 1200.0
"""s before a trend from which a change of SW_in still acts on the body (common practice, no source)."""
SHOCK_LASTS = 1800.0
"""s after which a body has forgotten a car (common practice, no source)."""
FEWEST_LATER = 20
"""Minutes after that by which a body's usual warmth is known (common practice, no source)."""
SHOCK_BEYOND = 3.0
"""K beyond the usual warmth, and of the run towards it, from which a body came out of a car (common practice,
no source)."""
COLDER_THAN_AIR = 4.0
"""K: by so much no clear sky cools a body below the air (common practice, no source)."""
SHOCK_INTERVAL = 120.0
"""s: longest interval in which that trend can be seen (common practice, no source)."""
TWELVE_VOLT, SAGGING, FALL_OTHERS = 10.5, 12.0, 0.1
"""V: a supply that was ever above the first is a battery of 12 V, and below the second it can be called
sagging. Of another battery, a fall by this share of its highest voltage is too much (common practice, no
source)."""
LOST, LOST_OTHERWISE = 0.2, 0.05
"""Shares of missing values while the battery is low, and otherwise, from which a channel failed with it
(common practice, no source)."""


def find_wet_dome(one: OneSet) -> None:
    """Water on the upper longwave window is as warm as the head and hides the sky. So does a low cloud,
    without a beam."""
    row = one.limits["dome-wet"]
    quiet = one.usable["lw_in"] & (np.abs(one.flux["lw_in"]) < row["offset"])
    wet = long_runs(quiet, one.interval, row["low"])
    one.needs("dome-wet", np.ones(len(wet), bool), row["low"])
    beam = (one.elevation > SUN_UP) & (one.flux["sw_in"] > BEAM_INDEX * one.clear)
    under_beam = np.zeros(len(wet), bool)
    for start, end in stretches(wet):
        under_beam[start:end] = beam[start:end].mean() > BEAM_SHARE
    one.result.flags["dome-wet"] = wet & under_beam
    where, variant = (under_beam, "") if under_beam.any() else (wet, "undecided")
    if where.any():
        minutes = f"{where.sum() * one.interval / 60.0:.0f}"
        one.report("dome-wet", variant, where=where, channel="lw_in", error=False, minutes=minutes)


def find_swing(one: OneSet) -> None:
    """A swinging head, by a lower bound of its amplitude in degrees.

    The fast scatter of SW_in is that of the beam's angle, once the head's response at SLOWEST_SWING is
    undone. Real swings are several times larger: they are faster, aliased by the sampling, and partly
    across the sun's direction. A slow head (SLOWEST_HEAD) shows nothing."""
    if one.interval > SWING_INTERVAL or one.response > SLOWEST_HEAD:
        one.can_t_tell("swing-strong", "records-apart" if one.interval > SWING_INTERVAL else "slow-head")
        return
    width = max(round(SWING_MEAN / one.interval), 3)
    # a strong swing makes a clear sky unsteady from second to second
    beam, share = one.sky(one.lit, width)
    # the edges of clouds scatter as well: only a steady sky shows a swing
    angles = _swing_angles(one, share, width) if beam == "steady" else np.zeros(0)
    if len(angles) < 2:
        one.can_t_tell("swing-strong", "no-beam")
        return
    constant = one.response / np.log(20.0) if one.response > 0 else 0.0
    damping = float(np.hypot(1.0, 2.0 * np.pi * SLOWEST_SWING * constant))
    least = float(np.quantile(angles, SWING_QUANTILE)) * damping
    if least > one.limits["swing-strong"]["offset"]:
        one.report("swing-strong", channel="sw_in", error=False, degrees=f"{least:.1f}")


def _swing_angles(one: OneSet, share: float, width: int) -> np.ndarray:
    """Amplitude of the swing in degrees, as far as SW_in follows it, in each calm block under a beam.

    Scatter up to OVER_NOISE times the noise, or the logger's step, is none.
    share: SW_in over the clear-sky model, as `OneSet.sky` gives it. width: samples of the running mean.
    """
    sw_in = one.flux["sw_in"]
    in_sun = sw_in > max(0.9 * share, INDEX[0]) * one.clear
    blocks = one.blocks(one.lit & in_sun & (one.elevation < SWING_HIGHEST))
    slow = running_mean(sw_in[blocks], width)
    calm = np.ptp(slow, axis=1) <= SWING_CALM * slow.mean(axis=1)
    blocks, slow = blocks[calm], slow[calm]
    fast = sw_in[blocks][:, width // 2 : width // 2 + slow.shape[1]] - slow
    # 1.4826 medians of a normal scatter are its standard deviation; the edge of a cloud does not move it
    scatter = 1.4826 * np.median(np.abs(fast), axis=1)
    noise = np.hypot(USUAL_NOISE, one.steps["sw_in"] / np.sqrt(12.0))
    scatter = np.where(scatter > OVER_NOISE * noise, np.sqrt(np.maximum(scatter**2 - noise**2, 0.0)), 0.0)
    tangent = np.tan(np.radians(one.elevation[blocks].mean(axis=1)))
    return np.degrees(np.sqrt(2.0) * scatter * tangent / slow.mean(axis=1))


def find_thermal_shock(one: OneSet) -> None:
    """A body temperature that changes too fast for heads and body to be equally warm, and the flag
    `thermal-shock`."""
    hit = one.result.flags["thermal-shock"] = np.zeros(len(one.time), bool)
    body = (one.body["lw_in"] + one.body["lw_out"]) / 2.0
    good = np.isfinite(body)
    if one.interval > SHOCK_INTERVAL or not good.any():
        reason = "records-apart" if one.interval > SHOCK_INTERVAL else "no-body-temperature"
        one.can_t_tell("thermal-shock", reason)
        return
    seconds = one.seconds
    at, warmth = _minutes(seconds[good], body[good])
    later = np.searchsorted(at, at + SHOCK_SPAN[0])
    first = np.flatnonzero(later < len(at))
    span = at[later[first]] - at[first]
    rate = (warmth[later[first]] - warmth[first]) / span * 3600.0
    short = span <= SHOCK_SPAN[1]
    if not np.any(short):
        one.can_t_tell("thermal-shock", "short-record")
    limit = one.limits["thermal-shock"]["offset"]
    by_sun = SUN_WARMS * _change_of_sun(one, at, later)[first]
    fast = short & (np.abs(rate) > limit)
    strong = fast & (np.abs(rate) > limit + by_sun)
    if np.any(fast & ~strong):
        one.can_t_tell("thermal-shock", "changing-sun")
    for i in first[strong]:
        hit |= (seconds >= at[i]) & (seconds <= at[later[i]])
    if hit.any():
        variant = "" if _out_of_a_car(one, at, warmth) else "weather"
        one.report(
            "thermal-shock",
            variant,
            where=hit,
            channel="body_temperature",
            error=False,
            rate=f"{np.abs(rate[strong]).max():.0f}",
            minutes=f"{hit.sum() * one.interval / 60.0:.0f}",
        )


def _out_of_a_car(one: OneSet, at: np.ndarray, warmth: np.ndarray) -> bool:
    """Whether the body came out of a warmer or colder place: sun and wind alone change it as fast.

    Such a body begins warmer over the air than sun and calm make it later, or colder than the air than any
    clear sky makes it; and its temperature runs towards the usual one at once. at, warmth: minutes, s, and
    their mean body temperatures, degC.
    """
    air = np.full(len(at), np.nan)
    if one.record.air_course is not None and np.isfinite(one.record.air_course).any():
        air = np.interp(at, one.seconds, one.record.air_course)
    excess = warmth - np.where(np.isfinite(air), air, one.record.air)
    fresh, later = at <= at[0] + SHOCK_LASTS, at > at[0] + SHOCK_LASTS
    begun = excess[:2].mean() if np.isfinite(excess[:2]).all() else warmth[:2].mean()
    course = excess if np.isfinite(excess).all() else warmth
    if later.sum() >= FEWEST_LATER:
        usual = np.quantile(course[later], [0.05, 0.95])
    else:
        usual = np.full(2, course[fresh][-1])
    fell = course[:2].mean() - course[fresh].min()
    rose = course[fresh].max() - course[:2].mean()
    warm = begun - usual[1] > SHOCK_BEYOND and fell > SHOCK_BEYOND
    cold = usual[0] - begun > SHOCK_BEYOND and rose > SHOCK_BEYOND
    known = bool(np.isfinite(excess[:2]).all())
    return bool(warm or (cold and known and begun < -COLDER_THAN_AIR))


def _change_of_sun(one: OneSet, at: np.ndarray, later: np.ndarray) -> np.ndarray:
    """Range of SW_in, W m-2, from SUN_MEMORY s before each moment to the end of its trend.

    Parameters
    ----------
    at : the moments, s.
    later : the number of the moment at which each trend ends.

    Before the record, and in its pauses, the sun is taken as it was in the record.
    """
    known = np.isfinite(one.flux["sw_in"])
    if not known.any():
        return np.full(len(at), np.inf)
    seconds = one.seconds[known]
    times, means = _minutes(seconds, one.flux["sw_in"][known])
    ends = at[np.minimum(later, len(at) - 1)]
    starts = np.searchsorted(times, at - SUN_MEMORY)
    stops = np.searchsorted(times, ends, side="right")
    spans = zip(starts.tolist(), stops.tolist(), strict=True)
    return np.array([np.ptp(means[a:b]) if b > a else 0.0 for a, b in spans])


def _minutes(seconds: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean time (s) and mean value of each minute that has samples. seconds: ascending."""
    minute = np.floor(seconds / 60.0)
    place = np.cumsum(np.diff(minute, prepend=minute[0]) > 0)
    counts = np.bincount(place)
    return np.bincount(place, seconds) / counts, np.bincount(place, values) / counts


def find_low_battery(one: OneSet) -> None:
    """A supply voltage that is low or falls fast, channels that fail with it, and the flag `battery-low`."""
    low = one.result.flags["battery-low"] = np.zeros(len(one.time), bool)
    if "battery" not in one.raw or not one.raw["battery"].notna().any():
        one.can_t_tell("battery-low", "no-voltage")
        return
    row, volts = one.limits["battery-low"], one.raw["battery"].to_numpy(float)
    smooth = pd.Series(volts, index=pd.DatetimeIndex(one.time)).rolling("60s").median()
    fallen = (smooth.rolling("1h").max() - smooth).to_numpy()
    level, highest = smooth.to_numpy(), float(smooth.max())
    if highest > TWELVE_VOLT:
        low |= (level < row["low"]) | ((fallen > row["offset"]) & (level < SAGGING))
    else:
        low |= fallen > FALL_OTHERS * highest
    if not low.any():
        return
    missing = {c: np.isnan(one.flux[c]) for c in RADIATION}
    failed = [
        c for c in RADIATION if missing[c][low].mean() > LOST and not missing[c][~low].mean() > LOST_OTHERWISE
    ]
    one.report(
        "battery-low",
        "channels" if failed else "",
        where=low,
        channel=" ".join(failed),
        error=bool(failed),
        volts=f"{np.nanmin(level):.1f}",
        highest=f"{highest:.1f}",
    )
