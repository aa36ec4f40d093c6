"""Numbers and units as people write them, and when two numbers are the same."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import NamedTuple

from headland.physics import evaporation, heat
from headland.physics.constants import SIGMA, ZERO_CELSIUS
from headland.uncertainty import intercompare

OF_SEGMENTS = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
OF_SURFACES = (*OF_SEGMENTS, "net_radiation_common_sky", *heat.ESTIMATED)
"""The quantities that can be asked for."""

RELATIVE, FLUX = 0.005, 1.0
"""A number within 0.5 % or, for fluxes, 1 W m-2 of the chain's is right (common practice, no source)."""
COARSEST = 0.05
"""A number that is right apart from rounding counts as rounded if half its last digit is no more than this
share of it (common practice, no source)."""
AIR_FOR_EVAPORATION = 20.0
"""degC at which a flux of 1 W m-2 is turned into evaporation for the tolerance."""

KIND = {
    "albedo": "ratio",
    "bowen_ratio": "ratio",
    "surface_temperature": "temperature",
    "evaporation": "water",
}
"""What sort of quantity each is; the others are fluxes."""
UNITS: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "flux": {
        "Wm-2": (1.0, 0.0),
        "W/m2": (1.0, 0.0),
        "W/(m2)": (1.0, 0.0),
        "kWm-2": (1e3, 0.0),
        "kW/m2": (1e3, 0.0),
        "mWcm-2": (10.0, 0.0),
        "mW/cm2": (10.0, 0.0),
        "MJm-2h-1": (1e6 / 3600.0, 0.0),
        "MJ/m2/h": (1e6 / 3600.0, 0.0),
        "MJ/(m2h)": (1e6 / 3600.0, 0.0),
    },
    "ratio": {"": (1.0, 0.0), "1": (1.0, 0.0), "-": (1.0, 0.0), "%": (0.01, 0.0), "percent": (0.01, 0.0)},
    "temperature": {
        "degC": (1.0, 0.0),
        "°C": (1.0, 0.0),
        "C": (1.0, 0.0),
        "K": (1.0, -ZERO_CELSIUS),
        "degF": (5.0 / 9.0, -160.0 / 9.0),
        "°F": (5.0 / 9.0, -160.0 / 9.0),
    },
    "water": {
        "mmh-1": (1.0, 0.0),
        "mm/h": (1.0, 0.0),
        "mm/hr": (1.0, 0.0),
        "mmd-1": (1.0 / 24.0, 0.0),
        "mm/d": (1.0 / 24.0, 0.0),
        "mm/day": (1.0 / 24.0, 0.0),
        "kgm-2s-1": (3600.0, 0.0),
        "kg/m2/s": (3600.0, 0.0),
        "kgm-2h-1": (1.0, 0.0),
        "kg/m2/h": (1.0, 0.0),
    },
}
"""Factor and offset that lead from a unit to the project's own (W m-2, 1, degC, mm h-1); spellings as
`bare_unit` leaves them."""
EXPECTED = {"flux": "W m-2", "ratio": "1 or %", "temperature": "degC or K", "water": "mm h-1"}
NONE = frozenset(
    [
        "none",
        "no",
        "-",
        "–",
        "—",
        "n/a",
        "na",
        "nan",
        "null",
        "nothing",
        "undefined",
        "/",
        "keine",
        "kein",
        "nichts",
        "aucun",
        "aucune",
        "rien",
        "ninguno",
        "ninguna",
        "nada",
        "nessuno",
        "nessuna",
        "geen",
    ]
) | frozenset({"not given", "not estimated", "no value", "not defined", "kein wert", "sans valeur"})
"""What people write where a quantity has no value."""
DIGITS = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d{1,2})?", re.ASCII)
RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
THOUSANDS = "\u202f\u2009\u00a0 '’"
"""Characters that people write between groups of three digits."""


class Number(NamedTuple):
    """A number as written, and half of its last digit."""

    value: float
    half_digit: float


class Written(NamedTuple):
    """What a cell for a value holds. readings: of the number, more than one where it can be read in two ways.

    uncertainty, unit: as written beside the number, empty where they are not. none: whether it says that
    there is no value.
    """

    readings: tuple[Number, ...]
    uncertainty: str = ""
    unit: str = ""
    none: bool = False


def kind_of(quantity: str) -> str:
    """Flux, ratio, temperature or water."""
    return KIND.get(quantity, "flux")


def expected_unit(quantity: str) -> str:
    """The units that an answer may have, in words."""
    return EXPECTED[kind_of(quantity)]


SPELLED_OUT = (
    (r"^(?:degrees?|deg\.?|[°º˚]|grad)?\s*(?:c|celsius)$", "°C"),
    (r"^(?:degrees?|deg\.?|[°º˚])?\s*(?:f|fahrenheit)$", "°F"),
    (r"^(?:degrees?\s*)?kelvins?$", "K"),
    (r"^(?:per\s?cent|prozent)$", "%"),
    (r"\bwatts?\b", "W"),
    (r"\bhours?\b", "h"),
    (r"\s*\b(?:per|pro)\b\s*", "/"),
    (r"\b(?:square (?:met(?:er|re)s?)|qm|sqm|quadratmeter|m\^?2)(?![\w^])", "m2"),
)
"""What people write out, as patterns, and the unit that is meant; in this order."""


def bare_unit(text: str) -> str:
    """A unit without what people write differently (`W·m⁻²`, `W m^-2`, `Wm-2` and `Watt/m²` are one)."""
    text = text.strip().strip("[]").translate(str.maketrans("⁻¹²³⁰−", "-1230-"))
    for pattern, unit in SPELLED_OUT:
        text = re.sub(pattern, unit, text, flags=re.IGNORECASE)
    text = text.replace("**", "^").replace("{", "").replace("}", "")
    return re.sub(r"[\s·*^.]|\u202f", "", text)


def number_of(text: str) -> tuple[float, float]:
    """A number as written and half of its last digit; NaN where it is none. Of two readings the plainer."""
    readings = readings_of(text)
    return readings[0] if readings else (math.nan, math.nan)


def readings_of(text: str) -> tuple[Number, ...]:
    """The numbers that a text may mean, the plainer reading first.

    A point or a comma stands before the decimals; blanks and apostrophes stand between thousands, and so may
    a point or a comma. `1,204` may be 1.204 or 1204: both are returned. Powers of ten are read as `4.8e2` or
    `4.8·10^2`.
    """
    text = text.strip().translate(str.maketrans("−–", "--")).lstrip("~≈≃=± ").removeprefix("ca.").strip()
    text = re.sub(r"\s*[·×x*]\s*10\s*(?:\^|\*\*)?\s*([-+]?\d{1,2})$", r"e\1", text)
    text = re.sub(rf"(?<=\d)[{THOUSANDS}](?=\d{{3}}(?!\d))", "", text).replace(" ", "")
    marks = [mark for mark in ".," if mark in text]
    candidates = []
    if len(marks) == 2:
        decimal = max(marks, key=text.rfind)
        other = marks[0] if decimal == marks[1] else marks[1]
        grouped = re.fullmatch(rf"[-+]?\d{{1,3}}(\{other}\d{{3}})+\{decimal}\d*(e[-+]?\d+)?", text)
        candidates = [text.replace(other, "").replace(decimal, ".")] if grouped else []
    elif len(marks) == 1:
        mark = marks[0]
        candidates = [text.replace(mark, ".")] if text.count(mark) == 1 else []
        if re.fullmatch(rf"[-+]?[1-9]\d{{0,2}}(\{mark}\d{{3}})+", text, re.ASCII):
            candidates.append(text.replace(mark, ""))
    else:
        candidates = [text]
    return tuple(_number(one) for one in candidates if DIGITS.fullmatch(one))


def _number(text: str) -> Number:
    mantissa, _, exponent = text.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return Number(float(text), 0.5 * 10.0 ** (int(exponent or 0) - decimals))


def written_in(text: str) -> Written:
    """What a cell for a value holds: a number with or without unit and uncertainty, or "none"."""
    bare = text.strip().strip('"').strip().translate(str.maketrans("º˚", "°°"))
    bare = re.sub(r"^(ca\.?|about|approx\.?|~|≈)\s*", "", bare, flags=re.IGNORECASE)
    bare = re.sub(r"(?<=10)[⁰¹²³⁴⁵⁶⁷⁸⁹⁻]+", lambda found: "^" + found[0].translate(RAISED), bare)
    if bare.lower().rstrip(".") in NONE:
        return Written((), none=True)
    value, _, beside = bare.partition("±")
    if not beside:
        value, _, beside = bare.partition("+/-")
    number, unit = _apart(value)
    uncertainty, unit_beside = _apart(beside) if beside else ("", "")
    return Written(readings_of(number), uncertainty.strip(), unit or unit_beside)


def _apart(text: str) -> tuple[str, str]:
    """A number, and the unit that follows it."""
    text = text.strip().strip("()")
    match = re.fullmatch(
        r"([^A-Za-z°%]*?(?:[eE][-+]?\d{1,2}|\s*[x×·*]\s*10\s*(?:\^|\*\*)?\s*[-+]?\d{1,2})?)"
        r"\s*([A-Za-z°%].*)?",
        text,
    )
    return (match[1], match[2] or "") if match else (text, "")


def converted(value: float, unit: str, quantity: str) -> float:
    """A value in the project's own unit of a quantity (W m-2, 1, degC, mm h-1).

    Raises KeyError for a unit that the quantity can't have.
    """
    factor, offset = UNITS[kind_of(quantity)][bare_unit(unit)]
    return value * factor + offset


def tolerance(quantity: str, value: float) -> float:
    """How far a number may be off and still be the same: 0.5 % or 1 W m-2.

    For a temperature and for evaporation it is what 1 W m-2 amounts to; for a surface temperature that is
    dL / (4 sigma T^3) (derivative of the Stefan-Boltzmann law). value: in the quantity's own unit.
    """
    match kind_of(quantity):
        case "flux":
            return max(RELATIVE * abs(value), FLUX)
        case "temperature":
            return FLUX / (4.0 * SIGMA * (value + ZERO_CELSIUS) ** 3)
        case "water":
            return max(RELATIVE * abs(value), float(evaporation.evaporation(FLUX, AIR_FOR_EVAPORATION)))
    return RELATIVE * abs(value)


def tolerance_in_words(quantity: str, value: float) -> str:
    """The tolerance of a quantity as a student can use it."""
    match kind_of(quantity):
        case "flux":
            return "0.5 % or 1 W m⁻², whichever is larger"
        case "temperature":
            return f"{tolerance(quantity, value):.2f} K, which is what 1 W m⁻² amounts to"
        case "water":
            return "0.5 %, or what 1 W m⁻² amounts to"
    return "0.5 %"


def error_of_answer(value: float, uncertainty: float, reference: float, low: float, high: float) -> float:
    """E_n of an answer against a number with an interval.

    uncertainty: expanded, of the answer. That of the reference is the half of its interval on the answer's
    side.
    """
    own = high - reference if value > reference else reference - low
    return intercompare.normalised_error(value - reference, uncertainty, own)
