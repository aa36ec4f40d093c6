"""The units that a layout declares, checked against those that the file itself gives."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from headland.base.findings import Finding
from headland.base.units import unit_of
from headland.files.logger_rows import Reading
from headland.files.logger_text import cells_of
from headland.physics.instruments import MILLIVOLTS
from headland.physics.thermometers import OHMS, TEMPERATURES

SIGNALS = (*MILLIVOLTS, "W m-2")
WARMTHS = (*TEMPERATURES, *OHMS)
FEWEST_UNITS = 2
"""Known units in a line from which it is a line of units (common practice, no source)."""


def unit_faults(layout: Mapping, header: Sequence[str], reading: Reading, report: Callable) -> list[Finding]:
    """One finding for each unit that the layout declares and the file contradicts, with all its channels.

    header: the lines before the first row of data. reading: how the file is read.
    """
    line, units = units_of_file(layout, header, reading)
    differing: dict[tuple[str, str], list[str]] = {}
    for channel, place in reading.channels.items():
        declared, found = layout["channels"][channel]["unit"], units[place]
        if found not in ("", "-", declared) and channel != "battery":
            differing.setdefault((found, declared), []).append(channel)
    findings = []
    for (found, declared), channels in differing.items():
        facts = {"found": found, "declared": declared, "channels": ", ".join(channels)}
        variant = _variant(found, declared)
        named = " ".join(channels)
        findings.append(report("layout-mismatch", variant, line=line, channel=named, facts=facts))
    return findings


def _variant(found: str, declared: str) -> str:
    """Whether a layout can give the file's unit for this kind of channel, and needs a thermometer with it."""
    if found not in (SIGNALS if declared in SIGNALS else WARMTHS):
        return "unit-other"
    return "unit-resistance" if found in OHMS and declared not in OHMS else "unit"


def units_of_file(layout: Mapping, header: Sequence[str], reading: Reading) -> tuple[int | None, list[str]]:
    """The number of the line that gives the units, and the unit of each column; empty where none is given.

    A line of units has a cell for each column, and two known units or more. Otherwise units in brackets
    behind the names count.
    """
    first = layout["skip_lines"] + layout["names"]
    cells = cells_of(header, reading.delimiter).to_pylist() if header else []
    for place in range(first, len(cells)):
        units = [unit_of(cell.strip()) for cell in cells[place]]
        known = sum(unit not in ("", "-") for unit in units)
        if len(units) == reading.width and known >= FEWEST_UNITS:
            return place + 1, units
    names = cells[first - 1] if layout["names"] and len(cells) >= first else []
    bracketed = [re.findall(r"[\[(]([^\])]+)[\])]\s*$", name) for name in names]
    units = [unit_of(found[-1]) if found else "" for found in bracketed]
    return (first if names else None), [*units, *[""] * reading.width][: reading.width]
