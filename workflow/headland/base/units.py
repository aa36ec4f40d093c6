"""Units as loggers' exports write them."""

from __future__ import annotations

import re

UNITS = {
    "mv": "mV",
    "millivolt": "mV",
    "uv": "uV",
    "µv": "uV",
    "μv": "uV",
    "w/m2": "W m-2",
    "w/(m2)": "W m-2",
    "wm-2": "W m-2",
    "degc": "degC",
    "deg.c": "degC",
    "°c": "degC",
    "c": "degC",
    "degf": "degF",
    "°f": "degF",
    "k": "K",
    "kelvin": "K",
    "ohm": "ohm",
    "ω": "ohm",
    "kohm": "kohm",
    "kω": "kohm",
    "v": "V",
    "volt": "V",
    "%": "%",
    "hpa": "hPa",
    "m/s": "m s-1",
    "s": "s",
    "-": "-",
}
"""Units as exports write them, in lower case, without blanks and hats."""
ENDING = re.compile(r"_(W_m-?2|mV|uV|degC|K|V|k?ohm)$", re.IGNORECASE)


def unit_of(text: str) -> str:
    """A unit as the project writes it; nothing where the text is no unit."""
    bare = re.sub(r"[\s^·\[\](){}]|\*\*", "", text).lower().replace("⁻²", "-2").replace("²", "2")
    return UNITS.get(bare, "")


def unit_in(name: str, below: str) -> str:
    """The unit of a column: from the line of units, from brackets in its name, or from the name's ending."""
    ending = ENDING.search(name)
    ends = ending[1].replace("W_m2", "W/m2").replace("W_m-2", "W/m2") if ending else ""
    for text in (below, *re.findall(r"[\[(]([^\])]+)[\])]", name), ends):
        unit = unit_of(text)
        if unit:
            return unit
    return ""
