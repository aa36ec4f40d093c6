"""What heads and thermometers have in common: units of a signal, resistance of a Pt100, response time."""

from __future__ import annotations

import numpy as np

from headland.physics.constants import ZERO_CELSIUS

MILLIVOLTS = {"mV": 1.0, "uV": 1e-3}
"""mV in one unit of a raw signal."""

PT100_R0 = 100.0
"""ohm at 0 degC (IEC 60751:2008, from memory)."""

PT100_A, PT100_B, PT100_C = 3.9083e-3, -5.775e-7, -4.183e-12
"""Callendar-Van Dusen coefficients of a platinum resistance thermometer, K-1, K-2, K-4 (IEC 60751:2008,
from memory).
"""

RESPONSE_TIME = 20.0
"""s: 95 % response time where the register gives none (ISO 9060:2018 class B, from memory)."""


def pt100_resistance(temperature):
    """Resistance in ohm of a Pt100 at a temperature in degC (IEC 60751, Callendar-Van Dusen). Arrays or
    numbers.
    """
    t = np.asarray(temperature, dtype=float)
    cold = np.where(t < 0, PT100_C * (t - 100.0) * t**3, 0.0)
    return PT100_R0 * (1.0 + PT100_A * t + PT100_B * t**2 + cold)


def pt100_temperature(resistance):
    """Temperature in degC of a Pt100 from its resistance in ohm: the inverse of `pt100_resistance`.

    In closed form from 0 degC up; below, Newton's method on the quartic, which from that start converges in
    three rounds. NaN where the resistance is outside 18.5 to 390 ohm (-200 to 850 degC).
    """
    ratio = np.asarray(resistance, dtype=float) / PT100_R0
    ratio = np.where((ratio > 0.185) & (ratio < 3.905), ratio, np.nan)
    t = (-PT100_A + np.sqrt(PT100_A**2 - 4.0 * PT100_B * (1.0 - ratio))) / (2.0 * PT100_B)
    for _ in range(4):
        slope = PT100_A + 2.0 * PT100_B * t + np.where(t < 0, PT100_C * (4.0 * t**3 - 300.0 * t**2), 0.0)
        t = t - (pt100_resistance(t) / PT100_R0 - ratio) / slope
    return t


def body_celsius(raw, unit: str):
    """Body temperature in degC from the logged value in degC, K or ohm (Pt100)."""
    match unit:
        case "degC":
            return np.asarray(raw, dtype=float)
        case "K":
            return np.asarray(raw, dtype=float) - ZERO_CELSIUS
        case "ohm":
            return pt100_temperature(raw)
    raise ValueError(f"unknown unit of a body temperature: {unit}")
