"""The shift of the notes at which they fit the recorded runs best, and whether another shift fits as well."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headland.checks.runs import agreement

LONGEST_ZONE = 13 * 3600.0
"""s: time zones in use for one survey differ by no more; beyond it only whole days are tried
(common practice, no source)."""
NEAR_DAY = 600.0
"""s: a wrong day may be off by this much more, as watches are (common practice, no source)."""
BEST_FIT, BETTER_BY, RIVAL_BY, RIVAL_AWAY = 0.6, 0.2, 0.1, 120.0
"""A shift is suggested where notes and runs share 0.6 of their time: 0.2 more than without a shift, and 0.1
more than at any peak further than 120 s away (common practice, no source)."""
VALLEY = 0.05
"""By this much the fit falls between two separate peaks (common practice, no source)."""
FLAT = 0.005
"""Fits within this of the best are as good as the best (common practice, no source)."""
ROUND_SHIFT, ROUND_WITHIN = 1800.0, 60.0
"""s: zones differ by half hours; a shift this near to one is taken as one (common practice, no source)."""
CHECK_WITHIN = 90.0
"""s: a clock check supports a shift that is this near to it (common practice, no source)."""
GRID = 30.0
"""s between the shifts that are tried beside the exact candidates (common practice, no source)."""
MANY_CANDIDATES, COARSE = 20000, 5.0
"""More candidates than the first are rounded to the second, s (common practice, no source)."""
DAY = 86400.0


@dataclass(frozen=True)
class Fit:
    """How well notes and runs fit: without a shift, at the best shift (s), and at the best separate peak."""

    unshifted: float
    best: float
    shift: float
    rival: float
    rival_shift: float

    @property
    def improves(self) -> bool:
        """Whether the best shift fits well, and clearly better than none."""
        return self.best >= BEST_FIT and self.best - self.unshifted >= BETTER_BY

    @property
    def decided(self) -> bool:
        """Whether it also fits clearly better than any other shift."""
        return self.improves and self.best - self.rival >= RIVAL_BY


def best_fit(recorded: Sequence[np.ndarray], noted: Sequence[np.ndarray], checked: float = math.nan) -> Fit:
    """The shift of the notes at which they fit the runs best.

    The overlap is piecewise linear in the shift. It peaks where a note's start meets a run's start, or an end
    an end: all these are tried, and a grid between them.

    Parameters
    ----------
    recorded, noted : for each set (n x 2), s.
    checked : the shift that clock checks support, s, which decides between peaks.
    """
    shifts = _candidates(recorded, noted)
    fits = agreement(recorded, noted, shifts)
    unshifted = float(agreement(recorded, noted))
    padded = np.concatenate([[-1.0], fits, [-1.0]])
    peaks = np.flatnonzero((fits >= padded[:-2]) & (fits >= padded[2:]) & (fits > 0))
    if not len(peaks):
        return Fit(unshifted, unshifted, 0.0, 0.0, 0.0)
    top = peaks[np.argmax(fits[peaks])]
    supported = peaks[(np.abs(shifts[peaks] - checked) <= CHECK_WITHIN) & (fits[peaks] >= BEST_FIT)]
    if len(supported):
        top = supported[np.argmax(fits[supported])]
    flat = np.flatnonzero((fits >= fits[top] - FLAT) & (np.abs(shifts - shifts[top]) <= RIVAL_AWAY))
    shift = float((shifts[flat[0]] + shifts[flat[-1]]) / 2.0)
    rival, rival_shift = (0.0, 0.0) if len(supported) else _rival(shifts, fits, peaks, top, shift)
    return Fit(unshifted, float(fits[top]), shift, rival, rival_shift)


def _candidates(recorded: Sequence[np.ndarray], noted: Sequence[np.ndarray]) -> np.ndarray:
    """Shifts to try, s, ascending: within LONGEST_ZONE, or near whole days."""
    pairs = [
        (r[:, None, k] - n[None, :, k]).ravel() for r, n in zip(recorded, noted, strict=True) for k in (0, 1)
    ]
    shifts = np.concatenate([np.zeros(1), np.arange(-LONGEST_ZONE, LONGEST_ZONE + 1, GRID), *pairs])
    days = np.round(shifts / DAY)
    near_day = (days != 0) & (np.abs(shifts - DAY * days) <= NEAR_DAY)
    shifts = shifts[(np.abs(shifts) <= LONGEST_ZONE) | near_day]
    step = 1.0 if len(shifts) < MANY_CANDIDATES else COARSE
    return np.unique(np.round(shifts / step) * step)


def _rival(
    shifts: np.ndarray, fits: np.ndarray, peaks: np.ndarray, top: int, shift: float
) -> tuple[float, float]:
    """Fit and shift of the best peak that is separate from the top; zeros where there is none."""
    for peak in peaks[np.argsort(-fits[peaks], kind="stable")]:
        between = slice(min(peak, top), max(peak, top) + 1)
        if abs(shifts[peak] - shift) > RIVAL_AWAY and fits[between].min() <= fits[peak] - VALLEY:
            return float(fits[peak]), float(shifts[peak])
    return 0.0, 0.0


def tidy(shift: float) -> float:
    """A shift as a person would enter it, s: a half hour where it is near one, else whole seconds."""
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
    said = " ".join(f"{n} {unit}" for n, unit in parts if n) or "0 s"
    return said + (" is taken from" if shift < 0 else " is added to")
