"""The thermometer in a body: platinum, or a thermistor, from its resistance to its temperature.

A thermometer is written as one text, the same in a layout and in the register: `pt100`, `pt1000`,
`beta R25 B`, `steinhart-hart A B C`, or `table t1 R1; t2 R2; ...`, with ohm, K and degC.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from headland.physics.constants import ZERO_CELSIUS

PLATINUM = {"pt100": 100.0, "pt1000": 1000.0}
"""ohm at 0 degC (IEC 60751:2008, from memory)."""
PLATINUM_A, PLATINUM_B, PLATINUM_C = 3.9083e-3, -5.775e-7, -4.183e-12
"""Callendar-Van Dusen coefficients of a platinum resistance thermometer, K-1, K-2, K-4 (IEC 60751:2008,
from memory).
"""
USUAL = "pt100"
"""The thermometer where a resistance is logged and none is named."""
OHMS = {"ohm": 1.0, "kohm": 1000.0}
"""ohm in one unit of a logged resistance."""
TEMPERATURES = ("degC", "K")
"""Units of a body temperature that needs no thermometer's curve."""
AT_25 = 25.0 + ZERO_CELSIUS
EXAMPLES = "pt100, pt1000, beta 10000 3950, steinhart-hart 1.13e-3 2.34e-4 8.8e-8, or table 0 32650; 25 10000"
FIELD = (-60.0, 60.0)
"""degC between which a thermometer is used in the field (common practice, no source)."""


@dataclass(frozen=True)
class Thermometer:
    """A kind of thermometer with its numbers, as `read_thermometer` checks them.

    kind: `platinum`, `beta`, `steinhart-hart` or `table`. numbers: ohm at 0 degC; R25 (ohm) and B (K); A, B
    and C; or temperatures (degC) and resistances (ohm) in turn.
    """

    kind: str
    numbers: tuple[float, ...]

    def celsius(self, ohm):
        """Temperature in degC at a resistance in ohm. Arrays or numbers; NaN where there is none."""
        match self.kind:
            case "platinum":
                return platinum_temperature(ohm, self.numbers[0])
            case "beta":
                return beta_temperature(ohm, *self.numbers)
            case "steinhart-hart":
                return steinhart_hart_temperature(ohm, *self.numbers)
        return table_temperature(ohm, self.numbers[0::2], self.numbers[1::2])


def read_thermometer(text: str) -> Thermometer:
    """The thermometer that a text names (EXAMPLES). Raises ValueError with what is wrong, in words."""
    kind, _, rest = text.strip().lower().partition(" ")
    if kind in PLATINUM and not rest.strip():
        return Thermometer("platinum", (PLATINUM[kind],))
    try:
        numbers = tuple(float(word) for word in rest.replace(";", " ").replace(",", " ").split())
    except ValueError:
        raise ValueError("what follows the kind must be numbers") from None
    if not all(map(math.isfinite, numbers)):
        raise ValueError("what follows the kind must be numbers")
    faults = {"beta": _beta_fault, "steinhart-hart": _steinhart_hart_fault, "table": _table_fault}
    if kind not in faults:
        raise ValueError("the kind is unknown")
    if fault := faults[kind](numbers):
        raise ValueError(fault)
    return Thermometer(kind, numbers)


def _beta_fault(numbers: tuple[float, ...]) -> str:
    if len(numbers) != 2:
        return "beta needs two numbers: R25 in ohm, and B in K"
    r25, b = numbers
    return "" if r25 > 0 and 500.0 < b < 10_000.0 else "R25 must be over 0 ohm, and B from 500 to 10000 K"


def _steinhart_hart_fault(numbers: tuple[float, ...]) -> str:
    if len(numbers) != 3:
        return "steinhart-hart needs three numbers: A, B and C, for ohm and K"
    a, b, c = numbers
    usual = 0.0 <= a < 0.01 and 0.0 < b < 0.01 and abs(c) < 1e-4
    return "" if usual else "A, B and C must be those for the natural logarithm of ohm, giving 1/K"


def _table_fault(numbers: tuple[float, ...]) -> str:
    if len(numbers) < 4 or len(numbers) % 2:
        return "a table needs two pairs or more, each a temperature in degC and a resistance in ohm"
    celsius, ohm = np.array(numbers[0::2]), np.array(numbers[1::2])
    rises = np.diff(ohm)
    if not (np.diff(celsius) > 0).all() or not (ohm > 0).all() or celsius[0] <= -ZERO_CELSIUS:
        return "a table needs rising temperatures in degC, each with a resistance over 0 ohm"
    return "" if (rises > 0).all() or (rises < 0).all() else "a table's resistances must all rise or all fall"


def platinum_resistance(temperature, at_zero=PLATINUM[USUAL]):
    """Resistance in ohm of a platinum thermometer at a temperature in degC (IEC 60751, Callendar-Van
    Dusen). Arrays or numbers. at_zero: ohm at 0 degC.
    """
    t = np.asarray(temperature, dtype=float)
    cold = np.where(t < 0, PLATINUM_C * (t - 100.0) * t**3, 0.0)
    return at_zero * (1.0 + PLATINUM_A * t + PLATINUM_B * t**2 + cold)


def platinum_temperature(resistance, at_zero=PLATINUM[USUAL]):
    """Temperature in degC of a platinum thermometer: the inverse of `platinum_resistance`.

    In closed form from 0 degC up; below, Newton's method on the quartic, which from that start converges in
    three rounds. NaN outside 0.185 to 3.9 times the resistance at 0 degC (-200 to 850 degC).
    """
    ratio = np.asarray(resistance, dtype=float) / at_zero
    ratio = np.where((ratio > 0.185) & (ratio < 3.905), ratio, np.nan)
    a, b, c = PLATINUM_A, PLATINUM_B, PLATINUM_C
    t = (-a + np.sqrt(a**2 - 4.0 * b * (1.0 - ratio))) / (2.0 * b)
    for _ in range(4):
        slope = a + 2.0 * b * t + np.where(t < 0, c * (4.0 * t**3 - 300.0 * t**2), 0.0)
        t = t - (platinum_resistance(t, 1.0) - ratio) / slope
    return t


def beta_temperature(resistance, r25, b):
    """Temperature in degC of a thermistor with R = R25 exp(B (1/T - 1/298.15 K)). Arrays or numbers.

    Definition of B (IEC 60539-1, from memory). resistance, r25: ohm; b: K. NaN for no resistance.
    """
    ohm = _positive(resistance)
    return _celsius(1.0 / AT_25 + np.log(ohm / r25) / b)


def steinhart_hart_temperature(resistance, a, b, c):
    """Temperature in degC of a thermistor with 1/T = A + B ln R + C (ln R)^3 (Steinhart & Hart 1968, from
    memory). Arrays or numbers; resistance in ohm. NaN for no resistance.
    """
    log = np.log(_positive(resistance))
    return _celsius(a + b * log + c * log**3)


def table_temperature(resistance, celsius, ohm):
    """Temperature in degC between the pairs of a table; NaN outside it. Arrays or numbers.

    celsius: rising. Between two pairs of a falling table 1/T is linear in ln R, which is exact for a
    thermistor of constant B; of a rising one, the temperature is linear in the resistance.
    """
    r, t, known = _positive(resistance), np.asarray(celsius, float), np.asarray(ohm, float)
    if known[0] < known[-1]:
        return np.interp(r, known, t, left=np.nan, right=np.nan)
    inverse = 1.0 / (t + ZERO_CELSIUS)
    # the numbers of the table itself must lie inside it
    logs = np.log(known)[::-1]
    where = np.log(r)
    where = np.where((where >= logs[0]) & (where <= logs[-1]), where, np.nan)
    return _celsius(np.interp(where, logs, inverse[::-1]))


def _positive(resistance):
    ohm = np.asarray(resistance, dtype=float)
    return np.where((ohm > 0) & np.isfinite(ohm), ohm, np.nan)


def _celsius(inverse_kelvin):
    """degC from 1/K; NaN where that is no temperature."""
    return 1.0 / np.where(inverse_kelvin > 0, inverse_kelvin, np.nan) - ZERO_CELSIUS


def body_celsius(raw, unit: str, thermometer: str = ""):
    """Body temperature in degC from the logged value in degC, K, ohm or kohm.

    thermometer: as `read_thermometer` reads it, of a resistance; empty for a Pt100.
    """
    value = np.asarray(raw, dtype=float)
    match unit:
        case "degC":
            return value
        case "K":
            return value - ZERO_CELSIUS
        case "ohm" | "kohm":
            return read_thermometer(thermometer or USUAL).celsius(value * OHMS[unit])
    raise ValueError(f"unknown unit of a body temperature: {unit}")
