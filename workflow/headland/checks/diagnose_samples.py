"""Step 4, second part: mistakes of one set's instruments and logger, told from its own samples and its register.

Tests of single samples give flags (`config/quality.csv`); tests of a whole channel give findings. Each mistake that is found is
undone here, for the tests after it alone: so several at once are told apart, and what follows from one is not reported as another.
Nothing is mended in the samples. Limits without another source are common practice: none is published for walked surveys.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.base.untold import Untold
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.instruments import MILLIVOLTS, pt100_temperature
from headland.physics.longwave import own_emission

ENOUGH = 10
"""Samples below which a whole channel is not judged."""
MOST = 0.9
"""Share of the samples in which a sign or an exchange must show."""
SUN_UP = 10.0
"""degrees: with a lower sun, shortwave is not judged (methods of this project, section 6)."""
LIT = 50.0
"""W m-2: the larger of the two shortwave terms above which their signs and ratio are judged (methods of this project, section 6)."""
STATE_MARGIN = 60.0
"""W m-2 by which the nearest multiple of a longwave head's own emission must be nearer than the second (mistakes page of this project)."""


@dataclass
class Diagnosis:
    """What was found: one truth value a sample for each flag, and findings. wrong: channels with an error of their own, so that no
    limit that they break is reported beside it. untold: checks that could not be made."""

    flags: dict[str, np.ndarray] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    wrong: set[str] = field(default_factory=set)
    untold: list[Untold] = field(default_factory=list)


def diagnose(
    set_name: str,
    raw: pd.DataFrame,
    sensed: pd.DataFrame,
    sun: pd.DataFrame,
    air: float,
    certificates: pd.DataFrame,
    channels: Mapping[str, Mapping],
    longwave: str,
    interval: float,
    limits: Mapping[str, Mapping],
) -> Diagnosis:
    """Everything that the samples of one set tell about its instruments.

    raw: as logged, one column a channel. sensed: `sw_in`, `sw_out`, `lw_in_net`, `lw_out_net` (W m-2), `body_temperature_lw_in`, `body_temperature_lw_out`
    (degC). Both may be tables that stay on disk (`tables.OnDisk`). sun: `time_utc`, `solar_elevation` (degrees), `sw_clear` and `toa` (W m-2; clear-sky global, top of atmosphere normal to the beam). air:
    its usual temperature over the samples, degC, NaN where unknown. certificates: those in force. channels: of the layout, with their units.
    longwave: the declared state, `net` or `corrected`. interval: s. limits: rows of quality.csv by flag.
    """
    return _Set(
        set_name, raw, sensed, sun, air, certificates, channels, longwave, interval, limits
    ).diagnosis()


# Tests of series, without knowledge of channels -------------------------------------------------------------------


RUN_FEWEST, FROZEN_FEWEST = 5, 30
"""Samples on end below which nothing is said to last, and to be frozen (common practice, no source)."""


def lasting(count, interval: float, shortest: float, fewest: int):
    """Whether so many samples (number or array) are at least `fewest` and last for at least `shortest` s. interval: s between samples."""
    return (count >= fewest) & (count * interval >= shortest)


def long_runs(hit, interval: float, shortest: float, fewest: int = RUN_FEWEST):
    """Where a truth value holds for at least `shortest` s and `fewest` samples on end. hit: one value a sample; interval: s between samples."""
    hit = np.asarray(hit, bool)
    edges = np.flatnonzero(np.diff(hit.astype(np.int8), prepend=0, append=0))
    kept = np.zeros(len(hit), bool)
    for start, end in zip(edges[::2], edges[1::2]):
        kept[start:end] = lasting(end - start, interval, shortest, fewest)
    return kept


def running_mean(values: np.ndarray, width: int) -> np.ndarray:
    """Means over each `width` neighbours in a row, without those cut off at the ends: (rows x n) to (rows x n - width + 1)."""
    sums = np.cumsum(np.pad(values, ((0, 0), (1, 0))), axis=1)
    return (sums[:, width:] - sums[:, :-width]) / width


def resolution(values) -> float:
    """The smallest step between successive values of a series; 0 where it never changes."""
    steps = np.abs(np.diff(np.asarray(values, float)))
    steps = steps[np.isfinite(steps) & (steps > 0)]
    return float(steps.min()) if len(steps) else 0.0


def frozen(values, others, interval: float, shortest: float, fewest: int = FROZEN_FEWEST):
    """Where a channel stays at one value while another moves: for at least `shortest` s and `fewest` samples, by more than 10 resolution steps.

    values: the channel as logged. others: the other channels as logged. interval: s. Returns one truth value a sample.
    """
    values = np.asarray(values, float)
    hit = np.zeros(len(values), bool)
    if len(values) < fewest:
        return hit
    starts = np.flatnonzero(np.concatenate([[True], np.diff(values) != 0]))
    counts = np.diff(starts, append=len(values))
    steps = [10.0 * resolution(other) for other in others]
    for i in np.flatnonzero(lasting(counts, interval, shortest, fewest)):
        part = slice(starts[i], starts[i] + counts[i])
        hit[part] = any(
            step > 0 and np.ptp(np.asarray(other, float)[part]) > step for other, step in zip(others, steps)
        )
    return hit


def longwave_state(logged, emission) -> tuple[int, bool]:
    """How often own emission has been added to a longwave signal: the m of 0, 1, 2 with the smallest |median(X) - m sigma T^4|, and whether it is
    sure (STATE_MARGIN clear of the second best). logged, emission: W m-2."""
    distance = np.abs(np.median(logged) - np.arange(3) * np.median(emission))
    first, second = np.argsort(distance)[:2]
    return int(first), bool(distance[second] - distance[first] >= STATE_MARGIN)


SMOOTH, JUMP = 0.004, 0.5
"""Scatter of ln(SW_in / clear sky) about a straight line within a block, under which a sky is clear and not overcast, and the range from which the
sun goes behind clouds: a sky with a beam, whatever the scale (common practice, no source; an overcast layer scatters by 0.01 and more)."""
BLOCK, FEWEST = 60.0, 12
"""s, and samples, of such a block: the longer of the two."""
INDEX = (0.75, 1.3)
"""SW_in over the clear-sky model, under a sky with a beam, of a channel with the right factor (common practice, no source)."""
DEAD = 3.0
"""W m-2: a shortwave head under its cover reads no more than this (common practice, no source)."""
DIM = 10.0
"""W m-2 of the larger shortwave term above which factors are judged: what an inverted one leaves of an overcast day (common practice, no source)."""
ALBEDO = (0.06, 0.92)
"""Of anything that one walks over but water (common practice, no source)."""
LARGEST_NET = 250.0
"""W m-2: no longwave head senses a larger balance in the field (common practice, no source)."""
CLEAR_NET = (-170.0, -40.0)
"""W m-2: net signal of an upward longwave head under a clear sky (common practice, no source)."""
SLOWEST_SWING = 0.5
"""Hz: a carried head swings no slower; the head's response damps faster swings more, so this gives a lower bound (common practice, no source)."""
SLOWEST_HEAD = 20.0
"""s: 95 % response time of a shortwave head up to which its swing can be seen (common practice, no source)."""
SHOCK_SPAN = (300.0, 600.0)
"""s over which the trend of the body temperature is taken (mistakes page of this project)."""
TWELVE_VOLT, SAGGING, FALL_OTHERS = 10.5, 12.0, 0.1
"""V: a supply that was ever above the first is a battery of 12 V, and one under the second can be called sagging; of another battery, a fall by this
share of its highest voltage is too much (common practice, no source)."""

WARMEST, COLDEST = 60.0, -60.0
"""degC between which a body temperature is possible in the field (common practice, no source)."""
FAR_FROM_AIR, NEAR_AIR = 15.0, 8.0
"""K: a body further than the first from the air's temperature is doubted where another unit brings it nearer than the second (common practice, no source)."""

UNITS = {
    "degC": lambda x: x,
    "K": lambda x: x - ZERO_CELSIUS,
    "degF": lambda x: (x - 32.0) / 1.8,
    "ohm": pt100_temperature,
}


def body_unit(logged: float, declared: str, air: float) -> tuple[str, list[str]]:
    """Whether a body temperature is in its declared unit: `sound`, `wrong` or `undecided`, with the units that would fit instead.

    logged: its median as logged. air: the air's temperature, degC, NaN where unknown. Degrees of a body are taken to lie within WARMEST and COLDEST.
    """
    celsius = {unit: float(read(logged)) for unit, read in UNITS.items()}
    possible = {unit for unit, value in celsius.items() if COLDEST <= value <= WARMEST}
    if np.isfinite(air):
        if declared in possible and abs(celsius[declared] - air) <= FAR_FROM_AIR:
            return "sound", []
        near = sorted(unit for unit in possible - {declared} if abs(celsius[unit] - air) <= NEAR_AIR)
        if len(near) == 1:
            return "wrong", near
        return (
            ("sound", [])
            if declared in possible and not near
            else ("undecided", near or sorted(possible - {declared}))
        )
    if declared in possible:
        return "sound", []
    others = sorted(possible - {declared})
    return ("wrong", others) if len(others) == 1 else ("undecided", others)


# One set ----------------------------------------------------------------------------------------------------------


class _Set:
    """The series of one set, with what has been found wrong so far undone."""

    def __init__(self, name, raw, sensed, sun, air, certificates, channels, longwave, interval, limits):
        self.name, self.raw, self.channels, self.longwave, self.interval, self.limits = (
            name,
            raw,
            channels,
            longwave,
            interval,
            limits,
        )
        self.sensed, self.time = sensed, sun["time_utc"]
        self.elevation, self.clear, self.toa = (
            sun[c].to_numpy(float) for c in ("solar_elevation", "sw_clear", "toa")
        )
        self.air = air
        certificate = certificates.set_index("channel")
        self.factor = certificate["factor"].to_dict()
        self.response = float(certificate["response_time_95"].get("sw_in", np.nan))
        self.usable = {c: np.ones(len(self.time), bool) for c in RADIATION}
        self.result = Diagnosis()

    def diagnosis(self) -> Diagnosis:
        self.find_frozen()
        self.read_sensed()  # after what looks at all that was logged, so that not both are held
        self.find_covers()
        if len(self.time) < ENOUGH:
            for code in (
                "body-temperature-unit",
                "longwave-corrected-twice",
                "longwave-not-corrected",
                "longwave-corrected-one-channel",
            ):
                self.can_t_tell(code, "short-record")
        elif self.find_body_unit():
            self.find_longwave_states()
        self.find_thermal_shock()
        self.find_signs_and_exchanges()
        self.find_wet_dome()
        self.find_inverted_factors()
        self.find_swing()
        self.find_low_battery()
        return self.result

    def read_sensed(self) -> None:
        flux, body = (
            {c: c if c.startswith("sw") else f"{c}_net" for c in RADIATION},
            {c: f"body_temperature_{c}" for c in ("lw_in", "lw_out")},
        )
        frame = self.sensed[[*flux.values(), *body.values()]]
        self.flux, self.body = (
            {c: frame[name].to_numpy(float) for c, name in names.items()} for names in (flux, body)
        )
        if np.array_equal(*self.body.values(), equal_nan=True):
            self.body["lw_out"] = self.body["lw_in"]  # one thermometer
        for channel in RADIATION:
            self.usable[channel] &= np.isfinite(self.flux[channel])

    # what the tests share

    def report(
        self, code: str, variant: str = "", where=None, channel: str = "", error: bool = True, **facts
    ) -> None:
        """Add a finding about this set. where: samples that it concerns, for the times it names. error: whether its channels count as wrong."""
        moments = self.time if where is None else self.time[where]
        start, end = time_text(moments.iloc[[0, -1]]) if len(moments) else ("", "")
        self.result.findings.append(
            Finding(code, variant, self.name, start_utc=start, end_utc=end, channel=channel, facts=facts)
        )
        if error:
            self.result.wrong |= set(channel.split())

    def can_t_tell(self, code: str, reason: str, channel: str = "") -> None:
        """Note a check that could not be made."""
        self.result.untold.append(Untold(code, reason, self.name, channel))

    def needs(self, code: str, where, shortest: float, fewest: int = RUN_FEWEST, channel: str = "") -> None:
        """Note a check that could not be made where too few samples can be judged. where: a truth value a sample, by the sun's height."""
        enough = lambda count: lasting(count, self.interval, shortest, fewest)
        if not enough(np.sum(where)):
            self.can_t_tell(code, "low-sun" if enough(len(self.time)) else "short-record", channel)

    def middle(self, channel: str, where=None) -> float:
        """Median of a channel over its usable samples, NaN where there are too few."""
        good = self.usable[channel] if where is None else self.usable[channel] & where
        return float(np.median(self.flux[channel][good])) if good.sum() >= ENOUGH else np.nan

    @property
    def lit(self) -> np.ndarray:
        """Samples with the sun up in which the larger shortwave term is more than LIT."""
        larger = np.fmax(np.abs(self.flux["sw_in"]), np.abs(self.flux["sw_out"]))
        return (self.elevation > SUN_UP) & (larger > LIT) & self.usable["sw_in"] & self.usable["sw_out"]

    # the tests

    def find_frozen(self) -> None:
        shortest = self.limits["frozen"]["low"]
        any_hit = np.zeros(len(self.time), bool)
        frame = self.raw[list(RADIATION)]
        logged = {c: frame[c].to_numpy(float) for c in RADIATION}
        for channel in RADIATION:
            others = [logged[c] for c in RADIATION if c != channel]
            # in the dark a steady zero is what a sound head gives
            alive = self.elevation > 3.0 if channel.startswith("sw") else np.ones(len(self.time), bool)
            self.needs("channel-frozen", alive, shortest, FROZEN_FEWEST, channel)
            hit = frozen(logged[channel], others, self.interval, shortest) & alive
            if hit.any():
                any_hit |= hit
                self.usable[channel] &= ~hit
                self.report(
                    "channel-frozen",
                    where=hit,
                    channel=channel,
                    count=int(hit.sum()),
                    value=f"{logged[channel][hit][0]:g}",
                )
        self.result.flags["frozen"] = any_hit

    def find_covers(self) -> None:
        row = self.limits["cover"]
        sw_in, sw_out = (self.flux[c] for c in ("sw_in", "sw_out"))
        known_in, known_out = (self.usable[c] for c in ("sw_in", "sw_out"))
        beyond = self.toa * np.sin(np.radians(np.clip(self.elevation, 0.0, None)))
        high = self.elevation > SUN_UP
        self.needs("cover-left-on", high, row["low"])
        dark = high & known_in & (np.abs(sw_in) < row["scale"] * beyond)
        dead = np.abs(self.flux["lw_in"]) < row["offset"], np.abs(self.flux["lw_out"]) < row["offset"]
        kinds = {
            "cover": dark & dead[0] & dead[1] & known_out & (np.abs(sw_out) < row["scale"] * beyond),
            # a head upside down under a dense cloud is nearly as dark, but not as dark as a cover
            "cover-sw_in": dark
            & known_out
            & (sw_out > row["offset"])
            & (np.abs(sw_in) < np.fmax(0.03 * sw_out, DEAD))
            & (sw_out > 3.0 * np.abs(sw_in)),
            "cover-sw_out": high
            & known_in
            & known_out
            & (sw_in > 2.0 * LIT)
            & (np.abs(sw_out) < 0.015 * sw_in),
        }
        for flag, hit in kinds.items():
            hit = self.result.flags[flag] = long_runs(hit, self.interval, row["low"])
            for channel in RADIATION if flag == "cover" else [flag.removeprefix("cover-")]:
                self.usable[channel] &= ~hit

    def find_body_unit(self) -> bool:
        """Whether the body temperatures can be used for what follows."""
        sound = True
        for channel in ("lw_in", "lw_out"):
            own = f"body_temperature_{channel}"
            column = own if own in self.channels else "body_temperature"
            if column == "body_temperature" and channel == "lw_out":
                continue
            declared = self.channels[column]["unit"]
            logged = self.raw[column].to_numpy(float)
            if np.isfinite(logged).sum() < ENOUGH:
                sound = False
                continue
            verdict, units = body_unit(float(np.nanmedian(logged)), declared, self.air)
            if verdict == "sound":
                continue
            sound = False
            facts = {
                "declared": declared,
                "value": f"{np.nanmedian(logged):.1f}",
                "air": f"{self.air:.0f} degC" if np.isfinite(self.air) else "unknown",
            }
            if verdict == "wrong":
                self.report(
                    "body-temperature-unit",
                    "fahrenheit" if units == ["degF"] else "",
                    channel=column,
                    unit=units[0],
                    **facts,
                )
                self.result.wrong |= {"lw_in", "lw_out"}
            else:
                self.report(
                    "body-temperature-unit",
                    "undecided",
                    channel=column,
                    error=False,
                    units=" or ".join(units) or "no unit",
                    **facts,
                )
        return sound

    def find_longwave_states(self) -> None:
        declared = {
            c: int(self.longwave == "corrected" and self.channels[c]["unit"] not in MILLIVOLTS)
            for c in ("lw_in", "lw_out")
        }
        states, sure = {}, {}
        for channel in ("lw_in", "lw_out"):
            good = self.usable[channel] & np.isfinite(self.body[channel])
            if good.sum() < ENOUGH:
                states[channel], sure[channel] = declared[channel], True
                continue
            emission = own_emission(self.body[channel][good] + ZERO_CELSIUS)
            states[channel], sure[channel] = longwave_state(
                self.flux[channel][good] + declared[channel] * emission, emission
            )
        off = [c for c in states if states[c] != declared[c]]
        if not off:
            return
        facts = {"declared": self.longwave, "lw_in": states["lw_in"], "lw_out": states["lw_out"]}
        if not all(sure.values()):
            code = (
                "longwave-corrected-one-channel"
                if len(off) == 1
                else "longwave-not-corrected"
                if states["lw_in"] == 0
                else "longwave-corrected-twice"
            )
            self.report(code, "undecided", channel=" ".join(off), error=False, **facts)
            return
        if states["lw_in"] != states["lw_out"]:
            self.report("longwave-corrected-one-channel", channel=" ".join(off), **facts)
        elif states["lw_in"] == 0:
            self.report("longwave-not-corrected", channel="lw_in lw_out", **facts)
        else:
            self.report(
                "longwave-corrected-twice",
                "in-the-file" if states["lw_in"] == 2 else "by-the-declaration",
                channel="lw_in lw_out",
                **facts,
            )
        for channel in off:
            emission = own_emission(self.body[channel] + ZERO_CELSIUS)
            self.flux[channel] = self.flux[channel] - (states[channel] - declared[channel]) * emission

    def find_signs_and_exchanges(self) -> None:
        for channel, least in (("sw_in", 5.0), ("sw_out", 2.0)):
            lit = self.lit
            if lit.sum() < ENOUGH:
                self.can_t_tell("sign-reversed", "low-sun", channel)
            elif np.mean(self.flux[channel][lit] < -least) > MOST:
                self.report(
                    "sign-reversed",
                    where=lit,
                    channel=channel,
                    median=f"{np.median(self.flux[channel][lit]):.0f}",
                )
                self.flux[channel] = -self.flux[channel]
        lit = self.lit
        day = lit.sum() >= ENOUGH
        brighter = lambda one, other: (
            day and np.mean(self.flux[one][lit] > np.exp(0.2) * self.flux[other][lit]) > MOST
        )
        shortwave = brighter("sw_out", "sw_in")
        if not shortwave and not brighter("sw_in", "sw_out"):
            for code, channels in (("channels-exchanged", "sw_in sw_out"), ("head-inverted", "")):
                self.can_t_tell(code, "alike-shortwave" if day else "low-sun", channels)
        longwave = self.longwave_exchanged(lit, day, shortwave)
        shortwave = shortwave and (
            longwave == "exchanged" or not self.inverse_pair("sw")
        )  # a factor entered the wrong way does that over snow
        if longwave == "sign":
            self.report("sign-reversed", channel="lw_in", median=f"{self.middle('lw_in'):.0f}")
            self.flux["lw_in"] = -self.flux["lw_in"]
        elif longwave == "undecided":
            self.report(
                "sign-reversed",
                "undecided",
                channel="lw_in",
                error=False,
                median=f"{self.middle('lw_in'):.0f}",
            )
        elif longwave == "night":
            self.report(
                "head-inverted",
                "undecided",
                channel="lw_in lw_out",
                error=False,
                difference=f"{self.middle('lw_in') - self.middle('lw_out'):.0f}",
            )
        if shortwave and longwave == "exchanged":
            self.report(
                "head-inverted",
                where=lit,
                channel="sw_in sw_out lw_in lw_out",
                ratio=f"{self.ratio(lit):.1f}",
                difference=f"{self.middle('lw_in') - self.middle('lw_out'):.0f}",
            )
        elif shortwave:
            self.report(
                "channels-exchanged",
                "shortwave",
                where=lit,
                channel="sw_in sw_out",
                ratio=f"{self.ratio(lit):.1f}",
            )
        elif longwave == "exchanged":
            self.report(
                "channels-exchanged",
                "longwave",
                channel="lw_in lw_out",
                difference=f"{self.middle('lw_in') - self.middle('lw_out'):.0f}",
            )
        for found, band in ((shortwave, "sw"), (longwave == "exchanged", "lw")):
            if found:
                for series in (self.flux, self.usable):
                    series[f"{band}_in"], series[f"{band}_out"] = series[f"{band}_out"], series[f"{band}_in"]
        self.find_longwave_out_reversed()

    def ratio(self, where) -> float:
        """SW_out over SW_in, of the sums over some samples."""
        return float(np.sum(self.flux["sw_out"][where]) / np.sum(self.flux["sw_in"][where]))

    def longwave_exchanged(self, lit, day: bool, shortwave: bool) -> str:
        """What the two longwave signals say: `exchanged`, `sign` (that of the upper one), `undecided` between these, `night` (no shortwave to tell
        a head upside down from exchanged leads) or nothing.

        The sky is colder than the head, and colder than the ground. The upper signal far above 0 is ground, or sky with its sign reversed: ground
        is not so warm without sun, snow never, and sky under a beam not as near to the head's own temperature as the lower signal would then say.
        """
        above, below = self.middle("lw_in"), self.middle("lw_out")
        if min(abs(above), abs(above) - below) <= 25.0:
            self.can_t_tell("sign-reversed", "small-signal", "lw_in")
        if abs(above - below) <= 25.0:
            self.can_t_tell("channels-exchanged", "alike-longwave", "lw_in lw_out")
        if not above - below > 25.0:
            return ""
        if shortwave:
            return "exchanged"
        albedo = self.ratio(lit) if day else np.nan
        if above > 25.0 and (not day or albedo > 0.5):
            return "sign"
        if above > 25.0 and below > -25.0:
            bright = np.quantile(self.flux["sw_in"][lit], 0.9)
            return "undecided" if bright < 300.0 and above < 40.0 and below < 0.0 else "sign"
        return "exchanged" if day else "night"

    def find_longwave_out_reversed(self) -> None:
        """Land in strong sun, that is no snow, is not far colder than the head above it; water and crops in hot dry air can be, and all beneath a head that is still warm."""
        sunny = self.lit & (self.flux["sw_in"] > 300.0) & ~self.result.flags["thermal-shock"]
        middle = self.middle("lw_out", sunny)
        if not abs(middle) > 15.0:
            self.can_t_tell("sign-reversed", "weak-sun" if np.isnan(middle) else "small-signal", "lw_out")
            return
        if not 0.10 < self.ratio(sunny) < 0.5:
            self.can_t_tell("sign-reversed", "no-land", "lw_out")
            return
        if middle > 0.0:
            return
        sure = middle < -25.0
        self.report(
            "sign-reversed",
            "" if sure else "undecided",
            where=sunny,
            channel="lw_out",
            error=sure,
            median=f"{middle:.0f}",
        )
        if sure:
            self.flux["lw_out"] = -self.flux["lw_out"]

    def blocks(self, where) -> np.ndarray:
        """Numbers of the samples (blocks x samples) of each whole block of BLOCK s, or FEWEST samples, without a pause and with all samples among `where`.

        Blocks overlap by half, and the last of a run ends with it.
        """
        size = max(round(BLOCK / self.interval), FEWEST)
        seconds = since_1970(self.time)
        breaks = (
            np.concatenate([[True], np.diff(seconds) > 2.5 * self.interval])
            if len(seconds)
            else np.zeros(0, bool)
        )
        starts = np.flatnonzero(breaks)
        firsts = [
            k
            for start, end in zip(starts, np.append(starts[1:], len(seconds)))
            if end - start >= size
            for k in (*range(start, end - size, size // 2), end - size)
        ]
        numbers = np.array(firsts, int)[:, None] + np.arange(size)
        return numbers[np.asarray(where)[numbers].all(axis=1)]

    def sky(self, where, over: int = 1) -> tuple[str, float]:
        """How a beam shows in SW_in, whatever its scale: `steady` (no cloud), `broken`, or nothing; and the clear sky's share that is reached.

        The share is the 95th percentile of SW_in over the clear-sky model, so that of a broken sky it is that between the clouds. over: samples of the
        running mean in which a sky is steady.
        """
        good = where & (self.flux["sw_in"] > 0) & (self.clear > LIT)
        if good.sum() < ENOUGH:
            return "", np.nan
        ratio = np.log(np.where(good, self.flux["sw_in"], 1.0) / np.where(good, self.clear, 1.0))
        values = running_mean(ratio[self.blocks(good)], over)
        order = np.arange(values.shape[1]) - (values.shape[1] - 1) / 2.0
        about = values - values.mean(axis=1, keepdims=True)
        scatter = np.std(about - np.outer(about @ order / (order @ order), order), axis=1)
        broken = bool(np.any(np.ptp(values, axis=1) > JUMP)) if len(values) else False
        steady = len(values) >= 2 and np.median(scatter) < SMOOTH
        return "broken" if broken else "steady" if steady else "", float(
            np.exp(np.quantile(ratio[good], 0.95))
        )

    def mending(self, channel: str) -> float:
        """What a channel must be multiplied by if its factor c was taken for a responsivity, or the reverse: 1000 / c^2. NaN where that is near 1."""
        factor = self.factor.get(channel, np.nan)
        value = 1000.0 / factor**2 if factor > 0 else np.nan
        return value if abs(np.log(value)) > np.log(1.5) else np.nan

    def inverse_pair(self, band: str) -> bool:
        """Whether the factors of a band's two channels are each other's 1000th part, as when one of two like heads is entered the wrong way."""
        a, b = self.factor.get(f"{band}_in", np.nan), self.factor.get(f"{band}_out", np.nan)
        return bool(a > 0 and b > 0 and abs(np.log(a * b / 1000.0)) < 0.2 and abs(np.log(a / b)) > 1.0)

    def report_inverted(self, channels: list[str], variant: str = "") -> None:
        factors = [self.factor[c] for c in channels]
        self.report(
            "factor-inverted",
            variant,
            channel=" ".join(channels),
            error=not variant,
            factor=" and ".join(f"{f:.4g}" for f in factors),
            right=" and ".join(f"{1000.0 / f:.4g}" for f in factors),
            times=" and ".join(f"{1000.0 / f**2:.2f}" for f in factors),
        )
        for channel in channels if not variant else []:
            self.flux[channel] = self.flux[channel] * self.mending(channel)

    def find_inverted_factors(self) -> None:
        up = (
            (self.elevation > SUN_UP)
            & (np.fmax(self.flux["sw_in"], self.flux["sw_out"]) > DIM)
            & self.usable["sw_in"]
            & self.usable["sw_out"]
        )
        beam, share = self.sky(up)
        if np.isfinite(share):
            self.find_inverted_shortwave(up, beam, share)
        elif self.inverse_pair("sw"):
            self.report_inverted(["sw_in", "sw_out"], "one-of-two")
        else:
            self.can_t_tell("factor-inverted", "low-sun", "sw_in sw_out")
        self.find_inverted_longwave()

    def find_inverted_shortwave(self, lit, beam: str, share: float) -> None:
        mending, albedo = self.mending("sw_in"), self.ratio(lit)
        fits = lambda value: INDEX[0] <= value <= INDEX[1]
        if not beam:
            self.can_t_tell("factor-inverted", "no-beam", "sw_in sw_out")
        if self.inverse_pair("sw"):
            readings = {
                "": (share, albedo),
                "sw_in": (share * mending, albedo / mending),
                "sw_out": (share, albedo * self.mending("sw_out")),
            }
            possible = [
                c
                for c, (reached, reflected) in readings.items()
                if (fits(reached) if beam else 0.12 <= reached <= INDEX[1])
                and ALBEDO[0] <= reflected <= ALBEDO[1]
            ]
            if len(possible) == 1 and possible[0]:
                self.report_inverted(possible)
            else:
                self.report_inverted(["sw_in", "sw_out"], "one-of-two")
        elif np.isfinite(mending) and not fits(share):
            both = ["sw_in", "sw_out"] if np.isfinite(self.mending("sw_out")) else ["sw_in"]
            if beam and 0.8 <= share * mending <= 1.25:
                net, times = self.middle("lw_in"), self.mending("lw_in")
                cold = CLEAR_NET[0] <= net <= CLEAR_NET[1] or CLEAR_NET[0] <= net * times <= CLEAR_NET[1]
                self.report_inverted(
                    both, "" if beam == "broken" or cold or share > INDEX[1] else "undecided"
                )
            elif not beam and share < 0.12 and 0.15 <= share * mending <= INDEX[1]:
                self.report_inverted(both, "undecided")

    def find_inverted_longwave(self) -> None:
        above, below = self.middle("lw_in"), self.middle("lw_out")
        far = [
            c
            for c, net in (("lw_in", above), ("lw_out", below))
            if abs(net) > LARGEST_NET and abs(net * self.mending(c)) < -CLEAR_NET[0]
        ]
        beam, share = self.sky(self.lit)
        under_beam = self.lit & (self.flux["sw_in"] > INDEX[0] * self.clear) & ~self.result.flags["dome-wet"]
        net = self.middle("lw_in", under_beam) if beam and INDEX[0] <= share <= INDEX[1] else np.nan
        small = -28.0 < net < -2.0 and CLEAR_NET[0] <= net * self.mending("lw_in") <= CLEAR_NET[1]
        if far:
            self.report_inverted(far)
        elif self.inverse_pair("lw"):
            self.report_inverted([min(("lw_in", "lw_out"), key=self.factor.get)])
        elif small:
            self.report_inverted(["lw_in", "lw_out"] if np.isfinite(self.mending("lw_out")) else ["lw_in"])
        elif np.isnan(net):
            self.can_t_tell("factor-inverted", "no-beam", "lw_in lw_out")

    def find_wet_dome(self) -> None:
        """Water on the upper longwave window is as warm as the head: no sky is seen. A low cloud looks the same, but for a beam."""
        row = self.limits["dome-wet"]
        quiet = self.usable["lw_in"] & (np.abs(self.flux["lw_in"]) < row["offset"])
        wet = long_runs(quiet, self.interval, row["low"])
        self.needs("dome-wet", np.ones(len(wet), bool), row["low"])
        beam = (self.elevation > SUN_UP) & (self.flux["sw_in"] > 0.7 * self.clear)
        under_beam = np.zeros(len(wet), bool)
        edges = np.flatnonzero(np.diff(wet.astype(np.int8), prepend=0, append=0))
        for start, end in zip(edges[::2], edges[1::2]):
            under_beam[start:end] = beam[start:end].mean() > 0.3
        self.result.flags["dome-wet"] = wet & under_beam
        if under_beam.any():
            self.report(
                "dome-wet",
                where=under_beam,
                channel="lw_in",
                error=False,
                minutes=f"{under_beam.sum() * self.interval / 60.0:.0f}",
            )
        elif wet.any():
            self.report(
                "dome-wet",
                "undecided",
                where=wet,
                channel="lw_in",
                error=False,
                minutes=f"{wet.sum() * self.interval / 60.0:.0f}",
            )

    def find_swing(self) -> None:
        """A lower bound of the amplitude: fast scatter of SW_in that a swing of the beam's angle gives, the head's response at SLOWEST_SWING undone.

        Real swings are several times larger: they are faster, aliased by the sampling, and partly across the sun's direction. A slow head
        (SLOWEST_HEAD) leaves nothing to see.
        """
        if self.interval > 2.0 or self.response > SLOWEST_HEAD:
            self.can_t_tell("swing-strong", "records-apart" if self.interval > 2.0 else "slow-head")
            return
        sw_in, width = self.flux["sw_in"], max(round(11.0 / self.interval), 3)
        beam, share = self.sky(
            self.lit, width
        )  # a strong swing makes a clear sky unsteady from second to second
        if not beam:
            self.can_t_tell("swing-strong", "no-beam")
            return
        blocks = self.blocks(
            self.lit & (sw_in > max(0.9 * share, INDEX[0]) * self.clear) & (self.elevation < 75.0)
        )
        slow = running_mean(sw_in[blocks], width)
        calm = np.ptp(slow, axis=1) <= 0.02 * slow.mean(axis=1)
        if calm.sum() < 2:
            self.can_t_tell("swing-strong", "no-beam")
            return
        blocks, slow = blocks[calm], slow[calm]
        fast = sw_in[blocks][:, width // 2 : width // 2 + slow.shape[1]] - slow
        scatter = 1.4826 * np.median(
            np.abs(fast), axis=1
        )  # of a normal scatter its standard deviation; the edge of a cloud does not move it
        tangent = np.tan(np.radians(self.elevation[blocks].mean(axis=1)))
        angles = np.degrees(np.sqrt(2.0) * scatter * tangent / slow.mean(axis=1))
        constant = self.response / np.log(20.0) if self.response > 0 else 0.0
        least = float(np.quantile(angles, 0.75)) * float(
            np.hypot(1.0, 2.0 * np.pi * SLOWEST_SWING * constant)
        )
        if least > self.limits["swing-strong"]["offset"]:
            self.report("swing-strong", channel="sw_in", error=False, degrees=f"{least:.1f}")

    def find_thermal_shock(self) -> None:
        hit = self.result.flags["thermal-shock"] = np.zeros(len(self.time), bool)
        body = (self.body["lw_in"] + self.body["lw_out"]) / 2.0
        seconds = since_1970(self.time)
        good = np.isfinite(body)
        if self.interval > 120.0 or not good.any():
            self.can_t_tell(
                "thermal-shock", "records-apart" if self.interval > 120.0 else "no-body-temperature"
            )
            return
        minute = np.floor(seconds[good] / 60.0)
        place = np.cumsum(np.diff(minute, prepend=minute[0]) > 0)  # times ascend
        counts = np.bincount(place)
        at, warmth = np.bincount(place, seconds[good]) / counts, np.bincount(place, body[good]) / counts
        later = np.searchsorted(at, at + SHOCK_SPAN[0])
        first = np.flatnonzero(later < len(at))
        span = at[later[first]] - at[first]
        rate = (warmth[later[first]] - warmth[first]) / span * 3600.0
        if not np.any(span <= SHOCK_SPAN[1]):
            self.can_t_tell("thermal-shock", "short-record")
        strong = (span <= SHOCK_SPAN[1]) & (np.abs(rate) > self.limits["thermal-shock"]["offset"])
        for i in first[strong]:
            hit |= (seconds >= at[i]) & (seconds <= at[later[i]])
        if hit.any():
            self.report(
                "thermal-shock",
                where=hit,
                channel="body_temperature",
                error=False,
                rate=f"{np.abs(rate[strong]).max():.0f}",
                minutes=f"{hit.sum() * self.interval / 60.0:.0f}",
            )

    def find_low_battery(self) -> None:
        low = self.result.flags["battery-low"] = np.zeros(len(self.time), bool)
        if "battery" not in self.raw or not self.raw["battery"].notna().any():
            self.can_t_tell("battery-low", "no-voltage")
            return
        row, volts = self.limits["battery-low"], self.raw["battery"].to_numpy(float)
        smooth = pd.Series(volts, index=pd.DatetimeIndex(self.time)).rolling("60s").median()
        fallen = (smooth.rolling("1h").max() - smooth).to_numpy()
        level, highest = smooth.to_numpy(), float(smooth.max())
        if highest > TWELVE_VOLT:
            low |= (level < row["low"]) | ((fallen > row["offset"]) & (level < SAGGING))
        else:
            low |= fallen > FALL_OTHERS * highest
        if not low.any():
            return
        gone = [
            c
            for c in RADIATION
            if np.mean(np.isnan(self.flux[c][low])) > 0.2 and not np.isnan(self.flux[c][~low]).mean() > 0.05
        ]
        self.report(
            "battery-low",
            "channels" if gone else "",
            where=low,
            channel=" ".join(gone),
            error=bool(gone),
            volts=f"{np.nanmin(level):.1f}",
            highest=f"{highest:.1f}",
        )
