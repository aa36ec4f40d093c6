"""A clear sky fitted to the shortwave of one set: how far its clock is from the sun's.

The model is ln SW_in(t) = ln a + ln SW_clear(t + shift) + haze / sin(h) + lean, with four unknowns beside
the shift. Haze and lean are held to SUN_HAZE and SUN_LEAN: one of them off by so much weighs as much as all
minutes off by what is expected of each."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.times import since_1970
from headland.checks.runs import spans_of
from headland.checks.shifts import LONGEST_ZONE
from headland.checks.sky_records import binned
from headland.physics import sun

SUN_STEP = 300.0
"""s: shifts are tried this far apart, then every minute around the best (common practice, no source)."""
SMALLEST_SUN_SHIFT, ERROR_SUN_SHIFT, SUN_FALLS = 1200.0, 3000.0, 2.5
"""s: a shift of 20 min is a warning, one of 50 min an error, where the misfit falls by the third and
without the shift is that many times what is expected: the least at which sound campaigns stay silent
(docs/detection.md)."""
SUN_FITS, SUN_RMS, SUN_FLOOR, SUN_SCALE = 2.5, 0.04, 0.012, (0.8, 1.2)
"""A sky is clear enough where the fit leaves no more than the first, as a multiple of what is expected, and
no more than the second, relative: else a lean could explain a cloud under a low sun. The third is expected
of a level head's minute. The clear-sky model's scale is between the last two (common practice, no
source)."""
SUN_CLOUDLESS = 0.02
"""Relative: what a sky without cloud leaves of the fit at most. Thin cloud leaves more, and comes and goes as
slowly as the sun (common practice, no source)."""
SUN_HAZE, SUN_LEAN = 0.04, 1.0
"""Standard deviations: how much hazier than the model the real sky is, in ln for each air mass
(transmittance 0.75 times 0.96 to 1.04), and how far the head leans in each direction, degrees (common
practice, no source)."""
SUN_LOOSE = 0.2
"""How firmly haze and lean are held while the shift is sought, which else would compensate for haze
(common practice, no source)."""
SUN_SPAN, SUN_BLOCKS, LONGEST_SPAN = 1800.0, 6, 10 * 86400.0
"""s, minutes and s: a shorter record, or one of fewer minutes, shows nothing of the sun's course; nor does
one longer than the last (common practice, no source)."""
LEAST_SW_IN, LEAST_CLEAR, LEAST_SINE = 50.0, 30.0, 0.05
"""W m-2 of SW_in from which a minute counts, W m-2 of the clear-sky model below which a shift is
impossible, and the least sine of the sun's height in the fit (common practice, no source)."""


@dataclass(frozen=True)
class SunFit:
    """How well a set's SW_in fits a clear sky.

    shift: s that, added to its clock, fits best (0 where its own time does). best, now, beside: misfit
    there, by the clock itself, and the least with ERROR_SUN_SHIFT more or less, as multiples of what is
    expected; inf where no clear sky gives them, or the sun was down. rms, rms_now: relative, of the first
    two. start, end: first and last minute, UTC."""

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
        """Whether the sky was clear enough for the fit to show anything."""
        return self.best <= SUN_FITS

    @property
    def off(self) -> bool:
        """Whether the sun shows that the clock is off."""
        plain = self.clear and self.rms <= SUN_CLOUDLESS
        return plain and abs(self.shift) >= SMALLEST_SUN_SHIFT and self.worse(self.now)

    @property
    def tells(self) -> bool:
        """Whether the sun would show a clock that is off by ERROR_SUN_SHIFT."""
        return self.clear and self.worse(self.beside)

    def worse(self, misfit: float) -> bool:
        """Whether a misfit is so much larger than the best that its shift is not the clock's."""
        return misfit >= SUN_FALLS * max(self.best, 1.0)


def fit_to_sun(
    moments: np.ndarray,
    sw_in: np.ndarray,
    heading: np.ndarray,
    site: Mapping[str, float],
    noted: pd.DataFrame | None = None,
) -> SunFit | None:
    """The shift of a set's clock at which its minutes of SW_in fit a clear sky; None where the record is too
    short or long.

    Parameters
    ----------
    moments : middles of the samples in UTC by the set's own clock, s.
    sw_in : W m-2.
    heading : degrees, NaN where unknown (there a lean counts as scatter).
    site : latitude, longitude (degrees), elevation (m).
    noted : the set's notes with `heading`, `start_utc`, `end_utc`: if only the clock is wrong, the headings
        are those noted at t + shift.
    """
    good = np.isfinite(sw_in)
    if good.sum() < 2:
        return None
    known = pd.DataFrame({"sw_in": np.where(good, sw_in, np.nan)}, copy=False)
    minutes = binned(moments, known, 60.0)["sw_in"]
    minutes = minutes[minutes > LEAST_SW_IN]
    seconds = since_1970(minutes.index)
    if len(minutes) < SUN_BLOCKS or not SUN_SPAN <= np.ptp(seconds) <= LONGEST_SPAN:
        return None
    sky = _ClearSky(seconds, minutes.to_numpy(), site)
    by_data = heading[np.clip(np.searchsorted(moments, seconds), 0, len(heading) - 1)]
    readings = [sky.reading(lambda shift: by_data)]
    if noted is not None:
        by_notes = headings_of(noted)
        readings.append(sky.reading(lambda shift: by_notes(seconds + shift)))
    (best, rms), (now, rms_now), shift, beside = min(readings)
    return SunFit(shift, best, now, beside, rms, rms_now, minutes.index[0], minutes.index[-1])


Misfit = tuple[float, float]
"""A misfit as a multiple of what is expected, and the relative rms."""


class _ClearSky:
    """The clear sky over minutes of SW_in, at any shift. seconds: of the minutes. sw_in: W m-2."""

    def __init__(self, seconds: np.ndarray, sw_in: np.ndarray, site: Mapping[str, float]):
        self.seconds, self.sw_in = seconds, sw_in
        reach = LONGEST_ZONE + SUN_STEP
        self.nodes = np.arange(seconds[0] - reach, seconds[-1] + reach + SUN_STEP, SUN_STEP)
        times = pd.to_datetime(self.nodes * 1e9, unit="ns", utc=True)
        elevation, azimuth = sun.position(times, site["latitude"], site["longitude"], site["elevation"])
        self.clear = sun.clear_sky_global(elevation, times, site["elevation"])
        self.up, self.around = np.radians(elevation), np.unwrap(np.radians(azimuth))

    def at(self, values: np.ndarray, shift: float) -> np.ndarray:
        """Values at the nodes, at each minute plus the shift."""
        return np.interp(self.seconds + shift, self.nodes, values)

    def misfit(self, shift: float, ways: np.ndarray, *, clear_sky: bool = True, held: float = 1.0) -> Misfit:
        """What a shift leaves of ln(SW_in / a SW_clear), haze and lean included.

        Parameters
        ----------
        ways : headings of the minutes, degrees.
        clear_sky : whether a misfit that no clear sky leaves counts as infinite.
        held : how firmly haze and lean are held.
        """
        model, high = self.at(self.clear, shift), np.maximum(self.at(self.up, shift), LEAST_SINE)
        if model.min() < LEAST_CLEAR:
            return math.inf, math.inf
        logs = np.log(self.sw_in / model)
        lever = math.radians(SUN_LEAN) / np.tan(high)
        known = np.isfinite(ways)
        turn = self.at(self.around, shift) - np.radians(np.nan_to_num(ways))
        size = np.where(known, SUN_FLOOR, np.hypot(SUN_FLOOR, lever))
        haze = SUN_HAZE / np.sin(high)
        leans = known * lever * np.cos(turn), known * lever * np.sin(turn)
        sources = np.column_stack([np.ones(len(logs)), haze, *leans])
        holding = held * math.sqrt(len(logs)) * np.diag([0.0, 1.0, 1.0, 1.0])
        rows = np.vstack([sources / size[:, None], holding])
        wanted = np.append(logs / size, np.zeros(4))
        left = wanted - rows @ np.linalg.lstsq(rows, wanted, rcond=None)[0]
        rms = math.sqrt(np.mean((left[: len(logs)] * size) ** 2))
        fits = SUN_SCALE[0] <= math.exp(logs.mean()) <= SUN_SCALE[1] and rms <= SUN_RMS
        if clear_sky and not fits:
            return math.inf, math.inf
        return math.sqrt(np.sum(left**2) / len(logs)), rms

    def reading(self, ways_at: Callable[[float], np.ndarray]) -> tuple[Misfit, Misfit, float, float]:
        """The misfit at the best shift and at none, that shift, and the misfit beside it. ways_at: headings
        by shift."""

        def best_of(shifts: np.ndarray) -> float:
            return float(min(shifts, key=lambda shift: self.misfit(shift, ways_at(shift), held=SUN_LOOSE)))

        coarse = best_of(np.arange(-LONGEST_ZONE, LONGEST_ZONE + 1, SUN_STEP))
        best = best_of(coarse + np.arange(-SUN_STEP, SUN_STEP + 1, 60.0))
        ways = ways_at(best)
        beside = min(
            self.misfit(best + away, ways, clear_sky=False)[0] for away in (-ERROR_SUN_SHIFT, ERROR_SUN_SHIFT)
        )
        return self.misfit(best, ways), self.misfit(0.0, ways, clear_sky=False), best, beside


def headings_of(noted: pd.DataFrame) -> Callable[[np.ndarray], np.ndarray]:
    """The noted heading at each of some moments, s, as a function; NaN between the notes."""
    rows = noted.sort_values("start_utc")
    spans, ways = spans_of(rows), np.append(rows["heading"].to_numpy(float), np.nan)

    def at(moments: np.ndarray) -> np.ndarray:
        if not len(spans):
            return np.full(len(moments), np.nan)
        number = np.searchsorted(spans[:, 0], moments, side="right") - 1
        return ways[np.where((number >= 0) & (moments < spans[number, 1]), number, -1)]

    return at
