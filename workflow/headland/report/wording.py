"""Numbers, units and lists as people read them, and what each quantity is called on a page."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

from markupsafe import Markup, escape

from headland.base.words import word_parts


class Shown(NamedTuple):
    """How a quantity is printed: its title, its unit, its decimals, and its key in quantities.csv."""

    title: str
    unit: str
    decimals: int
    key: str


SHOWN = {
    "sw_in": Shown("shortwave in", "W m⁻²", 0, "calibrate.sw_in"),
    "sw_out": Shown("shortwave out", "W m⁻²", 0, "calibrate.sw_out"),
    "albedo": Shown("albedo", "", 3, "summarise.albedo"),
    "lw_in": Shown("longwave in", "W m⁻²", 0, "correct_longwave.lw_in"),
    "lw_out": Shown("longwave out", "W m⁻²", 0, "correct_longwave.lw_out"),
    "surface_temperature": Shown("surface temperature", "°C", 1, "summarise.surface_temperature"),
    "net_radiation": Shown("net radiation", "W m⁻²", 0, "summarise.net_radiation"),
    "net_radiation_common_sky": Shown(
        "net radiation, common sky", "W m⁻²", 0, "summarise.net_radiation_common_sky"
    ),
    "ground_heat": Shown("ground heat", "W m⁻²", 0, "balance.ground_heat"),
    "sensible_heat": Shown("sensible heat", "W m⁻²", 0, "balance.sensible_heat"),
    "latent_heat": Shown("latent heat", "W m⁻²", 0, "balance.latent_heat"),
    "evaporation": Shown("evaporation", "mm h⁻¹", 2, "balance.evaporation"),
    "bowen_ratio": Shown("Bowen ratio", "", 2, "balance.bowen_ratio"),
}
MEASURED = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
ESTIMATED = ("ground_heat", "sensible_heat", "latent_heat")
"""Fluxes that come from textbook fractions of the surface class."""
ESTIMATE = "G, H and LE are estimated from textbook fractions of the surface class."
FRACTIONS_FAIL = (
    "no ground, sensible or latent heat where the textbook fractions don't hold (see the findings)"
)
WITHOUT = {
    "albedo": "no albedo with the sun under 10° or less than 50 W m⁻² from above",
    "net_radiation_common_sky": "no net radiation under the common sky where the sky was too different",
    "bowen_ratio": "no Bowen ratio where nothing evaporates or LE is not estimated",
    **dict.fromkeys((*ESTIMATED, "evaporation"), FRACTIONS_FAIL),
}
"""Why a quantity may have no value, in the words of a note under its table."""
ALIKE = 4
"""Findings of one kind that are listed one by one at most, where others need room as well."""
PROVISIONAL, WITHHELD = "provisional", "withheld"
"""What the column `state` of a table says of doubtful numbers, and of those that are not shown."""
PUBLISHED = re.compile(
    r"(?:[A-Z][\w-]+ )+(?:(?:& (?:[A-Z][\w-]+ )+)|(?:et al\. ))?(?:1[89]|20)\d\d"
    r"|FAO-\d+|ASCE-EWRI \d+|ISO \d+(?::\d+)?|IEC \d+|JCGM \d+:\d+|WMO-No\. \d+"
)
"""Works that somebody can open: authors with a year, or the number of a standard."""


def number(value: float | None, decimals: int) -> str:
    """A number with a real minus sign; an en dash where there is none."""
    if value is None or not math.isfinite(value):
        return "–"
    text = f"{value:.{decimals}f}"
    text = text[1:] if float(text) == 0 and text.startswith("-") else text
    return text.replace("-", "−")


def interval(low: float, high: float, decimals: int) -> str:
    """`[462, 504]`, or nothing where there is no interval."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return ""
    return f"[{number(low, decimals)}, {number(high, decimals)}]"


def digits(low: float, high: float, most: int) -> int:
    """Decimals that an interval leaves its value: those that print half its width with two digits, `most` at
    most (JCGM 100:2008, 7.2.6). Whole numbers stay whole, so that fluxes add up as printed.
    """
    half = (high - low) / 2.0
    if not math.isfinite(half) or half <= 0.0:
        return most
    return max(0, min(most, 1 - math.floor(math.log10(half))))


def valued(value: float, low: float, high: float, most: int) -> tuple[str, str]:
    """`("480", "[462, 504]")`: a value and its interval with the digits that the interval leaves; the second
    empty where there is none. most: decimals at most.
    """
    decimals = digits(low, high, most)
    return number(value, decimals), interval(low, high, decimals)


def with_interval(value: float, low: float, high: float, most: int) -> str:
    """`480 [462, 504]`, or the value alone where there is no interval."""
    return " ".join(valued(value, low, high, most)).strip()


def span(low: float, high: float, decimals: int) -> str:
    """`12 to 15`, or `12` where both ends print alike."""
    ends = (number(low, decimals), number(high, decimals))
    return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"


def with_ends(value: float, low: float, high: float, most: int) -> str:
    """`0.99 (0.96 to 1.02)`."""
    decimals = digits(low, high, most)
    return f"{number(value, decimals)} ({number(low, decimals)} to {number(high, decimals)})"


def count(amount: int, one: str, many: str = "") -> str:
    """`1 error`, `3 errors`. many: the plural where it is not `one` with an s."""
    return f"{amount} {one if amount == 1 else many or one + 's'}"


def units(text: str) -> str:
    """Our own texts with exponents as people write them:

    W m-2 becomes W m⁻². The units `1` and `name` are not written.
    """
    if text in ("1", "name"):
        return ""
    raised = str.maketrans("-12345", "⁻¹²³⁴⁵")
    text = re.sub(r"(?<=\b[mshK])-[12]\b|(?<=\bkg)-1\b", lambda power: power.group().translate(raised), text)
    return text.replace("degC", "°C")


def breakable(name: str) -> Markup:
    """A name in code, with places where a line may break."""
    return Markup(str(escape(name)).replace("_", "_<wbr>").replace(".", ".<wbr>").replace("/", "/<wbr>"))


def soft(text: str) -> Markup:
    """Text, escaped, with places where a word may break that is wider than a column."""
    parts = re.split(r"(\s+)", text)
    return Markup("").join(Markup("<wbr>").join(word_parts(part)) for part in parts)


def listed(words: Sequence[str]) -> str:
    """`a, b and c`."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def opening(text: str) -> str:
    """A text that opens a sentence: its first letter is a capital."""
    return text[:1].upper() + text[1:]


def works(text: str) -> list[str]:
    """The published works that a source names, each once: `Oke 1987`, `FAO-56`, `JCGM 101:2008`."""
    return list(dict.fromkeys(PUBLISHED.findall(text)))


def in_short(source: str) -> str:
    """A source for a narrow column: its published works, or its own words where it names none."""
    return "; ".join(works(source)) or source
