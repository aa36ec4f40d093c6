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
SWING_INTERVAL, SWING_SHOWS = 2.0, 1.0
"""s: longest interval in which a swing can be seen, and in which it is seen whatever the logger does between
its records: means over two seconds hide it (common practice, no source)."""
SWING_MEAN = 11.0
"""s of the running mean that separates a swing from slower changes (common practice, no source)."""
SWING_CALM = 0.02
"""Relative range of that mean within a block without cloud (common practice, no source)."""
FEWEST_BLOCKS = 2
"""Calm blocks by which a swing is judged (common practice, no source)."""
SWING_HIGHEST = 75.0
"""degrees: under a higher sun a swing hardly changes SW_in (common practice, no source)."""
SWING_QUANTILE = 0.75
"""Quantile of the blocks' swings that is reported (common practice, no source)."""
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
    """A swinging head, by a lower bound of its swing towards the sun in degrees (root mean square).

    The fast scatter of SW_in, once the head's response is undone, is that of the beam's angle. What SW_out
    shares of it is the sky's, and what it has beside that is the noise of heads and logger. Real swings are
    larger: means of a second hide most of them, and they are partly across the sun's direction."""
    if one.interval > SWING_INTERVAL:
        one.can_t_tell("swing-strong", "records-apart")
        return
    swings, noise = _swings(one)
    if len(swings) < FEWEST_BLOCKS:
        one.can_t_tell("swing-strong", "no-beam")
        return
    limit = one.limits["swing-strong"]["offset"]
    least, hidden = float(np.quantile(swings, SWING_QUANTILE)), float(np.median(noise))
    if least > max(limit, hidden):
        one.report("swing-strong", channel="sw_in", error=False, degrees=f"{least:.1f}")
    elif hidden > limit:
        one.can_t_tell("swing-strong", "noisy-record")
    elif one.interval > SWING_SHOWS:
        one.can_t_tell("swing-strong", "records-apart")


def _swings(one: OneSet) -> tuple[np.ndarray, np.ndarray]:
    """Swing towards the sun, degrees, in each calm block under a beam, and what noise would look like it."""
    width = max(round(SWING_MEAN / one.interval), 3)
    blocks = one.blocks(one.lit & (one.elevation < SWING_HIGHEST))
    slow, clear = (running_mean(values[blocks], width) for values in (one.flux["sw_in"], one.clear))
    # a strong swing moves these means as well, but less than it moves the samples
    scatter = np.sqrt(spread(_fast(one.flux["sw_in"][blocks], width)))
    calm = np.ptp(slow, axis=1) <= SWING_CALM * slow.mean(axis=1) + scatter
    blocks = blocks[calm & np.all(slow > INDEX[0] * clear, axis=1)]
    level = {c: one.flux[c][blocks].mean(axis=1) for c in ("sw_in", "sw_out")}
    fast_in, fast_out = (
        _fast(undone(one.flux[c][blocks], one.interval, one.response), width) / level[c][:, None]
        for c in ("sw_in", "sw_out")
    )
    of_in, of_out = spread(fast_in), spread(fast_out)
    shared = (spread(fast_in + fast_out) - spread(fast_in - fast_out)) / 4.0
    sky = np.clip(shared, 0.0, np.minimum(of_in, of_out))
    noise = (of_out - sky) * (level["sw_out"] / level["sw_in"]) ** 2
    tangent = np.tan(np.radians(one.elevation[blocks].mean(axis=1)))
    swing = np.sqrt(np.maximum(of_in - sky - noise, 0.0))
    return np.degrees(swing * tangent), np.degrees(np.sqrt(noise) * tangent)


def undone(values: np.ndarray, interval: float, response: float) -> np.ndarray:
    """What a head of first-order response was exposed to, from what it gave.

    Parameters
    ----------
    values : rows x n, evenly in time.
    interval : s between them.
    response : s to 95 %; NaN or 0 where it is unknown, and nothing is undone.

    Returns
    -------
    Rows x (n - 1).
    """
    kept = np.exp(-interval * np.log(20.0) / response) if response > 0 else 0.0
    return (values[:, 1:] - kept * values[:, :-1]) / (1.0 - kept)


def _fast(values: np.ndarray, width: int) -> np.ndarray:
    """Values of each row without their running mean."""
    slow = running_mean(values, width)
    return values[:, width // 2 : width // 2 + slow.shape[1]] - slow


def spread(values: np.ndarray) -> np.ndarray:
    """Variance of each row's values about 0, by their mean size, which a single outlier moves little."""
    return np.pi / 2.0 * np.mean(np.abs(values), axis=1) ** 2


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
