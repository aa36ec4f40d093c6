"""The channel check before departure: each head covered for 20 s in a noted order tells sign, place,
response and level of every channel.

Under a cover a shortwave head gives nothing, and a longwave head, which then looks at something as warm as
itself, gives next to nothing. So whatever channel falls towards zero while a head is covered is that head's
channel."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.chain.clock_checks import corrected_moments
from headland.field.lamps import NAMES, WORST, Lamp
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.instruments import RESPONSE_TIME
from headland.physics.longwave import own_emission
from headland.report.wording import number

FELL = 0.5
"""Share of its open signal that a channel must lose to count as covered: a sound head loses nearly all
within 20 s."""
TELLING = {"sw_in": 30.0, "sw_out": 8.0, "lw_in": 10.0, "lw_out": 8.0}
"""W m-2 of open signal below which a channel can't be judged by covering it (common practice, no source)."""
NOTHING = 3.0
"""W m-2 of longwave net signal that is as good as none."""
SLOWER = 1.5
"""A head is slow where its 95 % response takes so many times what the register says, and 5 s more (common
practice, no source)."""
REMAINS = 8.0
"""W m-2 that a sound covered head may still give: a cover warmer than the head, light through its rim
(common practice, no source)."""
FEWEST = 8
"""Samples that the covering of one head must last."""
LATEST = 15
"""s: the first cover may come so much before or after the noted start (common practice, no source)."""
ALIKE_FALLS = 0.1
"""Windows that together lose this much less than at best lie on the falls as well (common practice, no
source)."""
SKY_OF_CLEAR = (0.03, 1.3)
"""Shortwave in over the clear sky's that is believed, from under dark cloud to beside a bright one (common
practice, no source)."""


def order_of(remark: str) -> list[str]:
    """The order in which heads were covered, as the remark names it (`lw_in sw_in lw_out sw_out`); the
    usual one where it names none."""
    named = re.findall(r"\b(?:sw|lw)_(?:in|out)\b", remark)
    return list(dict.fromkeys(named)) or list(RADIATION)


def response_95(seconds, flux, opened: float) -> float:
    """95 % response time in s from the course of a signal under a cover: 3 times the time constant of a + b
    exp(-t / tau), fitted by least squares (definition).

    seconds: of the samples under the cover. flux, opened: W m-2, under the cover and before. What remains
    under a cover, a, is no more than REMAINS. inf where the signal did not fall, NaN where it fell too fast
    to tell."""
    seconds, flux = np.asarray(seconds, float), np.asarray(flux, float)
    fell = np.abs(flux) < 0.9 * abs(opened)
    if not fell.any():
        return math.inf
    start = int(np.argmax(fell))
    x, y = seconds[start:] - seconds[start], flux[start:]
    if len(x) < 5 or abs(y[0]) < 0.3 * abs(opened):
        return math.nan
    taus = np.geomspace(0.3, 100.0, 120)
    curve = np.exp(-x[None, :] / taus[:, None])
    centred = curve - curve.mean(axis=1, keepdims=True)
    slope = (centred @ y) / np.sum(centred**2, axis=1)
    rest = np.clip(y.mean() - slope * curve.mean(axis=1), -REMAINS, REMAINS)
    slope = (curve @ y - rest * curve.sum(axis=1)) / np.sum(curve**2, axis=1)
    misfit = np.sum((y[None, :] - rest[:, None] - slope[:, None] * curve) ** 2, axis=1)
    return float(3.0 * taus[np.argmin(misfit)])


@dataclass(frozen=True)
class _Course:
    """What the channels did while the heads were covered, one after the other, in equal windows.

    seconds: since the start. window, into: of each sample, the number of its window and the share of it
    that has passed. flux: W m-2. opened: of each channel, with nothing on its head, W m-2. lost: of each
    channel, the share of that which it lost at the end of each window. rows: the samples."""

    order: Sequence[str]
    seconds: np.ndarray
    window: np.ndarray
    flux: Mapping[str, np.ndarray]
    opened: Mapping[str, float]
    lost: Mapping[str, list[float]]
    rows: pd.DataFrame

    @property
    def day(self) -> bool:
        """Whether the sun was up."""
        return bool((self.rows["solar_elevation"] > 10.0).mean() > 0.5)

    @property
    def falls(self) -> float:
        """The largest share lost in each window, summed: how well the windows lie on the falls."""
        judged = [c for c in self.order if abs(self.opened[c]) >= TELLING[c]]
        lost = np.array([self.lost[c] for c in judged]) if judged else np.zeros((1, len(self.order)))
        return float(np.clip(np.nan_to_num(lost), 0.0, 1.0).max(axis=0).sum())


def _course(samples: pd.DataFrame, start: float, end: float, order: Sequence[str]) -> _Course:
    """The course of one check, between two moments in s. samples, order: as in `check`."""
    rows = samples[(samples["seconds"] >= start) & (samples["seconds"] < end)]
    seconds = rows["seconds"].to_numpy(float) - start
    width = (end - start) / len(order)
    window, into = (seconds // width).astype(int), seconds % width / width
    flux = {c: rows[c if c.startswith("sw") else f"{c}_net"].to_numpy(float) for c in RADIATION}
    opened, lost = {}, {}
    for c in RADIATION:
        own = order.index(c) if c in order else -9
        # well into the coverings of the other heads, except the one in which this head still recovers
        still = (into > 0.3) & (window != own) & ((window != own + 1) | (into > 0.8))
        opened[c] = float(np.median(flux[c][still])) if still.any() else math.nan
        ends = [(window == w) & (into > 0.7) for w in range(len(order))]
        least = max(abs(opened[c]), 1e-9)
        lost[c] = [1.0 - abs(np.median(flux[c][last])) / least if last.any() else math.nan for last in ends]
    return _Course(order, seconds, window, flux, opened, lost, rows)


def _where_it_fell(samples: pd.DataFrame, start: float, end: float, order: Sequence[str]) -> _Course:
    """The course from the moment, within LATEST s of the noted start, at which the windows lie on the falls.

    Watch and logger differ by seconds, and so do the noted start and the first cover. Of moments that fit
    alike, the one nearest to the note is taken."""
    as_noted = _course(samples, start, end, order)
    if as_noted.falls >= len(order) - ALIKE_FALLS * len(order):
        return as_noted
    moments = sorted(range(-LATEST, LATEST + 1), key=abs)
    courses = [_course(samples, start + by, end + by, order) for by in moments]
    most = max(course.falls for course in courses)
    return next(course for course in courses if course.falls >= most - ALIKE_FALLS)


def check(
    samples: pd.DataFrame, start: float, end: float, order: Sequence[str], stated: Mapping[str, float]
) -> dict[str, dict[str, tuple[str, str]]]:
    """What one check shows: for each channel of the order a state and words on sign, place, response and
    level.

    Parameters
    ----------
    samples : with seconds, sw_in, sw_out, lw_in_net, lw_out_net (W m-2), body_temperature (degC),
        solar_elevation (degrees), sw_clear (W m-2).
    start, end : s, of the noted interval, which is divided evenly among the heads.
    order : of the covered heads.
    stated : 95 % response times in s, NaN where unknown.
    """
    course = _where_it_fell(samples, start, end, list(order))
    return {c: _channel(course, w, c, stated.get(c, math.nan)) for w, c in enumerate(course.order)}


def _channel(course: _Course, w: int, c: str, stated: float) -> dict[str, tuple[str, str]]:
    """What the check shows of one channel. w: number of its window. stated: 95 % response time in s."""
    here, level, flux = np.flatnonzero(course.window == w), course.opened[c], course.flux[c]
    if len(here) < FEWEST or not math.isfinite(level):
        few = f"only {len(here)} samples while covered: cover it for 20 s, with the storage on"
        return {"place": ("amber", few)}
    if np.ptp(flux) == 0.0:
        return {"place": ("red", f"dead: one value ({number(level, 1)} W m⁻²) all the time")}
    if abs(level) < TELLING[c]:
        return {"level": _faint(c, level, course.day and course.rows["sw_clear"].median() > 100.0)}
    place = _place(course, w, c)
    return {
        "sign": _sign(c, level, course.day, course.opened),
        "place": place,
        "response": _response(course.seconds[here], flux[here], level, stated, place),
        "level": _level(c, level, course.rows, course.opened),
    }


def _place(course: _Course, w: int, c: str) -> tuple[str, str]:
    """Whether the channel that fell is that of the covered head."""
    fell = {
        other: course.lost[other][w]
        for other in course.order
        if abs(course.opened[other]) >= TELLING[other] and np.ptp(course.flux[other]) > 0.0
    }
    mover = max(fell, key=lambda other: fell[other])
    if fell[c] >= FELL and fell[c] >= fell[mover] - 0.3:
        return "green", f"fell by {100 * fell[c]:.0f} %"
    if fell[mover] >= FELL and mover != c:
        return "red", f"{NAMES[mover]} fell instead: channels exchanged, or another order than noted"
    return "red", "did not fall: dead, too slow, or not the head that was covered"


def _faint(channel: str, level: float, sun_there: bool) -> tuple[str, str]:
    text = f"{number(level, 1)} W m⁻² with nothing on it: "
    if channel.startswith("sw") and sun_there:
        return "red", text + "a cover is still on, or the lead is broken"
    if abs(level) < NOTHING:
        return (
            "amber",
            text + "a cover is still on, or the lead is broken, or it is under low cloud or indoors",
        )
    return "grey", text + "too little to tell; check it under open sky and over sunlit ground"


def _sign(channel: str, level: float, day: bool, opened: Mapping[str, float]) -> tuple[str, str]:
    wanted = {"sw_in": 1, "sw_out": 1, "lw_in": -1}.get(channel)
    if wanted is None:
        if level < 0.0:
            sure = level < -15.0 and day and abs(opened["sw_in"]) > 300.0
            return (
                "red" if sure else "amber",
                "the ground seems colder than the head: reversed" + ("" if sure else ", unless it is"),
            )
        return "green", "right"
    return (
        ("green", "right")
        if level * wanted > 0
        else ("red", "reversed" if channel != "lw_in" else "reversed, or exchanged with longwave out")
    )


def _response(seconds, flux, opened: float, stated: float, place: tuple[str, str]) -> tuple[str, str]:
    if place[0] == "red" and "instead" in place[1]:
        return "grey", "not to be told"
    known = stated if math.isfinite(stated) else RESPONSE_TIME
    found = response_95(seconds, flux, opened)
    if math.isnan(found):
        return "green", "fast"
    limit = max(SLOWER * known, known + 5.0)
    said = f"95 % in {found:.0f} s" if found < 300.0 else "hardly any"
    return ("red", f"slow: {said}, stated {known:.0f} s") if found > limit else ("green", said)


def _level(channel: str, level: float, inside: pd.DataFrame, opened: Mapping[str, float]) -> tuple[str, str]:
    text, level = f"{number(level, 0)} W m⁻²", abs(level)
    clear, emission = (
        float(inside["sw_clear"].median()),
        float(own_emission(inside["body_temperature"].median() + ZERO_CELSIUS)),
    )
    if channel == "sw_in":
        if clear < 50.0:
            return "grey", f"{text}, no sun to compare with"
        fits = SKY_OF_CLEAR[0] * clear <= level <= SKY_OF_CLEAR[1] * clear
        return ("green" if fits else "amber"), text + (
            "" if fits else f", while a clear sky gives {clear:.0f}"
        )
    if channel == "sw_out":
        if abs(opened["sw_in"]) < TELLING["sw_in"]:
            return "grey", f"{text}, no shortwave in to compare with"
        fits = 0.02 * abs(opened["sw_in"]) <= level <= abs(opened["sw_in"])
        return ("green" if fits else "amber"), text + ("" if fits else ", out of proportion to shortwave in")
    fits = level < 0.6 * emission
    return ("green" if fits else "amber"), text + (
        "" if fits else ": the head's own emission seems to be in it"
    )


def checks(
    noted: pd.DataFrame, samples: Mapping[str, pd.DataFrame], certificates: Mapping[str, pd.DataFrame]
) -> list[dict]:
    """Every noted channel check: its set, times, order, what each channel shows, and its lamps.

    Parameters
    ----------
    noted : intervals and clock checks, as `notes.intervals` gives them.
    samples : of each set, with `seconds` by its own clock.
    certificates : of each set.

    Clock checks are applied.
    """
    found = []
    for row in noted[noted["activity"] == "channel_check"].to_dict("records"):
        name, order = row["set"], order_of(row["remark"])
        clock = noted[(noted["activity"] == "clock_check") & (noted["set"] == name)]
        start, end = row["start_utc"].timestamp(), row["end_utc"].timestamp()
        said = check(
            by_reference(samples[name], clock), start, end, order, _stated(certificates[name], order)
        )
        shown = {"set": name, "start": row["start"], "end": row["end"], "order": [NAMES[c] for c in order]}
        lamps = [_lamp(name, channel, parts) for channel, parts in said.items()]
        found.append({**shown, "said": said, "lamps": lamps})
    return found


def by_reference(samples: pd.DataFrame, clock: pd.DataFrame) -> pd.DataFrame:
    """A set's samples with `seconds` corrected by its clock checks."""
    middle = pd.Series(pd.to_datetime(samples["seconds"].to_numpy(float) * 1e9, unit="ns", utc=True))
    return samples.assign(seconds=corrected_moments(middle, clock)) if len(samples) else samples


def _stated(certificates: pd.DataFrame, order: Sequence[str]) -> dict[str, float]:
    """95 % response times in s by channel, NaN where unknown."""
    if "response_time_95" not in certificates:
        return dict.fromkeys(order, math.nan)
    times = certificates.set_index("channel")["response_time_95"]
    return {c: float(times.get(c, math.nan)) for c in order}


def _lamp(name: str, channel: str, parts: Mapping[str, tuple[str, str]]) -> Lamp:
    """The lamp of one channel: the worst of its parts. name: of the set."""
    state = max((state for state, _ in parts.values()), key=WORST.index)
    doubts = [f"{part} {text}" for part, (own, text) in parts.items() if own in ("amber", "red")]
    what = "; ".join(doubts) or "sign, place, response and level are right"
    remedy = "Check plug, lead and cover of this head, and repeat the check before leaving." if doubts else ""
    return Lamp(name, f"channel check, {NAMES[channel]}", state, what, remedy)
