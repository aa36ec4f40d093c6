"""A body temperature that falls while air and sun warm the body: the resistance of a thermistor, stored as
it is."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.checks.one_set import OneSet

BLOCK = 600.0
"""s of the means that are compared (common practice, no source)."""
SETTLING = 1200.0
"""s at the beginning that are left out: a set out of a warm car cools while the air warms (common practice,
no source)."""
FEWEST = 7
"""Means from which a course can be judged (common practice, no source)."""
AIR_RANGE = 1.5
"""K by which the air must change over the record (common practice, no source)."""
AGAINST = -0.15
"""K of the body for a K of the air, at the same sun, from which it runs against the air. A sound body follows
with 1; the kilohm of a usual thermistor with -0.4 (common practice, no source)."""
SURE = 4.0
"""Standard errors by which that must be below 0 (common practice, no source)."""
SUN_RANGE = 150.0
"""W m-2 by which the sun must change before its sign is asked for, too (common practice, no source)."""


def find_body_against_air(one: OneSet, column: str) -> bool:
    """Whether a body temperature runs against the air and the sun; a finding where it does.

    The body's means are fitted by a straight line in the air's temperature and the sun of the time before.
    column: the channel.
    """
    head = "lw_out" if column.endswith("lw_out") else "lw_in"
    means = _means(one, one.body[head])
    if means is None:
        return False
    body, air, sun = means
    slope, unsure, of_sun = _fit(body, air, sun)
    sun_agrees = np.ptp(sun) < SUN_RANGE or of_sun < 0.0
    if not (slope < AGAINST and slope < -SURE * unsure and sun_agrees):
        return False
    facts = {
        "fell": f"{abs(slope) * np.ptp(air):.1f}",
        "rose": f"{np.ptp(air):.1f}",
        "declared": one.record.channels[column]["unit"],
        "value": f"{np.median(one.raw[column].to_numpy(float)):.4g}",
    }
    one.report("body-temperature-unit", "against-air", channel=column, error=False, **facts)
    return True


def _means(one: OneSet, body: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """Means of body, air and sun over BLOCK s, after SETTLING s; None where the air is steady."""
    air = one.record.air_course
    seconds = one.seconds
    if air is None or len(seconds) < FEWEST or not np.isfinite(air).any():
        return None
    frame = pd.DataFrame({"body": body, "air": air, "sun": one.flux["sw_in"]})
    later = seconds >= seconds[0] + SETTLING
    means = frame[later].groupby(np.floor(seconds[later] / BLOCK)).mean().dropna()
    if len(means) < FEWEST or np.ptp(means["air"]) < AIR_RANGE:
        return None
    # a body remembers the sun of some minutes
    sun = means["sun"].rolling(2, min_periods=1).mean()
    return means["body"].to_numpy(), means["air"].to_numpy(), sun.to_numpy()


def _fit(body: np.ndarray, air: np.ndarray, sun: np.ndarray) -> tuple[float, float, float]:
    """Slope against the air, its standard error, and slope against the sun (K per W m-2)."""
    columns = [np.ones_like(air), air - air.mean()]
    if np.ptp(sun) > 1.0:
        columns.append(sun - sun.mean())
    design = np.stack(columns, axis=1)
    slopes, *_ = np.linalg.lstsq(design, body, rcond=None)
    left = body - design @ slopes
    free = max(len(body) - design.shape[1], 1)
    spread = np.linalg.pinv(design.T @ design) * (left @ left) / free
    return (
        float(slopes[1]),
        float(np.sqrt(max(spread[1, 1], 0.0))),
        float(slopes[2]) if len(slopes) > 2 else 0.0,
    )
