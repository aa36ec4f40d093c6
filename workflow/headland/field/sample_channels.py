"""Which column of a logger's file is which channel: by the words in its name, by its unit, and by its
numbers.

A guess is always a doubt: the key gets a reason, and a person has to look at it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from headland.base.units import unit_in
from headland.field.channel_words import means
from headland.field.sample_text import Sheet

SIGNALS = ("mV", "uV", "W m-2")
TEMPERATURES = ("degC", "K", "ohm", "kohm")
LARGEST_SIGNAL = 60.0
"""A radiation column with larger numbers is in W m-2 and not in mV (common practice, no source)."""
OHM, KELVIN = 80.0, 200.0
"""A temperature column with numbers above these is in ohm or in K (common practice, no source)."""
NO_NAME = "no column has a name that shows it; write the column and its unit"
BRIGHTER = {
    "sw": ("in", "by day more shortwave comes from above"),
    "lw": ("out", "by day less longwave comes from above"),
}


@dataclass
class Channels:
    """The layout's `channels`, and by key what a person must check, with the reason."""

    channels: dict[str, dict] = field(default_factory=dict)
    doubts: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Columns:
    """The columns of numbers that hold no time."""

    sheet: Sheet
    free: Sequence[int]

    def named(self, meaning: str, among: Sequence[int] | None = None) -> list[int]:
        """The columns whose name holds a word of a meaning."""
        places = self.free if among is None else among
        return [place for place in places if self.sheet.names and means(self.sheet.names[place], meaning)]

    def unit(self, place: int) -> str:
        name = self.sheet.names[place] if self.sheet.names else ""
        return unit_in(name, self.sheet.units[place])

    def measured_in(self, units: Sequence[str]) -> list[int]:
        return [place for place in self.free if self.unit(place) in units]

    def called(self, places: Sequence[int]) -> str:
        return ", ".join(str(self.sheet.key(place)) for place in places)

    def level(self, place: int) -> float:
        return float(np.nanmean(self.sheet.values[place]))


def channels_of(sheet: Sheet, taken: frozenset[int]) -> Channels:
    """The channels of a sample. taken: places of its times."""
    known = np.isfinite(sheet.values).mean(axis=1) > 0.5
    columns = Columns(sheet, [p for p in range(sheet.width) if p not in taken and known[p]])
    found = Channels()
    supply = _supply(columns)
    bands = _bands(columns, supply)
    for band in ("sw", "lw"):
        _add_band(found, columns, band, bands[band])
    used = {channel["column"] for channel in found.channels.values()}
    free = [place for place in columns.free if sheet.key(place) not in used and place not in supply]
    _add_thermometers(found, columns, free)
    if len(supply) == 1:
        found.channels["battery"] = {"column": sheet.key(supply[0]), "unit": "V"}
    return found


def _supply(columns: Columns) -> list[int]:
    """The columns of the supply voltage."""
    by_unit = columns.measured_in(("V",))
    return by_unit or [p for p in columns.named("supply") if columns.unit(p) not in (*SIGNALS, *TEMPERATURES)]


def _bands(columns: Columns, supply: Sequence[int]) -> dict[str, list[int]]:
    """The columns of shortwave and of longwave.

    A column in another unit than a signal is none of them. Where no name shows the band and exactly four
    columns are signals, all four are returned for both, to be told apart by their numbers.
    """
    open_ = [
        place
        for place in columns.free
        if place not in supply
        and columns.unit(place) in (*SIGNALS, "")
        and (columns.unit(place) or not _is_thermometer(columns, place))
    ]
    short = columns.named("shortwave", open_)
    long = [place for place in columns.named("longwave", open_) if place not in short]
    if short or long:
        return {"sw": short, "lw": long}
    signals = [place for place in open_ if columns.unit(place)] or open_
    if len(signals) != 4:
        return {"sw": [], "lw": []}
    by_size = sorted(signals, key=lambda place: -abs(columns.level(place)))
    spread = sorted(signals, key=lambda place: -columns.level(place))
    short = spread[:2] if columns.level(spread[0]) > 0 else by_size[:2]
    return {"sw": short, "lw": [place for place in signals if place not in short]}


def _is_thermometer(columns: Columns, place: int) -> bool:
    return bool(columns.named("body", [place]) or columns.named("air", [place]))


def _add_band(found: Channels, columns: Columns, band: str, own: Sequence[int]) -> None:
    """The two channels of a band, with the doubts about them."""
    pair, doubt = _pair(columns, band, own)
    for way in ("in", "out"):
        name = f"{band}_{way}"
        if way not in pair:
            found.doubts[f"channels.{name}"] = NO_NAME
            found.channels[name] = {"column": None, "unit": None}
            continue
        place = pair[way]
        reasons = [doubt(way)] if doubt(way) else []
        unit = columns.unit(place)
        if unit not in SIGNALS:
            largest = np.nanmax(np.abs(columns.sheet.values[[pair["in"], pair["out"]]]))
            unit = "W m-2" if largest > LARGEST_SIGNAL else "mV"
            reasons.append(f"no unit is in the file; from the size of the numbers it is {unit}")
        if reasons:
            found.doubts[f"channels.{name}"] = "; ".join(reasons)
        found.channels[name] = {"column": columns.sheet.key(place), "unit": unit}


def _pair(columns: Columns, band: str, own: Sequence[int]) -> tuple[dict[str, int], Callable[[str], str]]:
    """The incoming and the outgoing column of a band, and what is doubtful about each."""
    above, below = columns.named("in", own), columns.named("out", own)
    above, below = (
        [p for p in above if p not in below] or above,
        [p for p in below if p not in above] or below,
    )
    if above and below and (len(above) > 1 or len(below) > 1 or above != below):
        chosen = {
            way: min(places, key=lambda p: len(str(columns.sheet.key(p))))
            for way, places in (("in", above), ("out", below))
        }
        others = {
            way: [p for p in places if p != chosen[way]] for way, places in (("in", above), ("out", below))
        }
        return chosen, lambda way: f"there is also {columns.called(others[way])}" if others[way] else ""
    if len(own) != 2:
        return {}, lambda way: ""
    large, small = sorted(own, key=lambda place: -columns.level(place))
    brighter, why = BRIGHTER[band]
    chosen = {"in": large, "out": small} if brighter == "in" else {"in": small, "out": large}
    return chosen, lambda way: f"taken from the numbers: {why}"


def _add_thermometers(found: Channels, columns: Columns, free: Sequence[int]) -> None:
    """The thermometer of both heads, or one of each, with the doubts about them."""
    groups, guessed = _thermometers(columns, free)
    if not groups:
        named = [place for place in columns.named("body", free) if not columns.named("air", [place])]
        reason = f"one of {columns.called(named)}" if named else NO_NAME
        found.doubts["channels.body_temperature"] = reason
        found.channels["body_temperature"] = {"column": None, "unit": None}
        return
    for name, places in groups.items():
        place = min(
            places,
            key=lambda p: ("dome" in str(columns.sheet.key(p)).lower(), len(str(columns.sheet.key(p)))),
        )
        reasons = ["taken from its unit, no name shows it"] if guessed else []
        others = [p for p in places if p != place]
        if others:
            reasons.append(f"there is also {columns.called(others)}")
        unit = columns.unit(place)
        if unit not in TEMPERATURES:
            typical = float(np.nanmedian(columns.sheet.values[place]))
            unit = "K" if typical > KELVIN else "ohm" if typical > OHM else "degC"
            reasons.append(f"no unit is in the file; from the size of the numbers it is {unit}")
        if reasons:
            found.doubts[f"channels.{name}"] = "; ".join(reasons)
        found.channels[name] = {"column": columns.sheet.key(place), "unit": unit}


def _thermometers(columns: Columns, free: Sequence[int]) -> tuple[dict[str, list[int]], bool]:
    """Columns that may be a thermometer of the heads, by channel, and whether only the unit shows it."""
    units = (*TEMPERATURES, "")
    not_air = [p for p in free if columns.unit(p) in units and not columns.named("air", [p])]
    body = columns.named("body", not_air)
    if not body:
        by_unit = [place for place in not_air if columns.unit(place)]
        return ({"body_temperature": by_unit} if len(by_unit) == 1 else {}), True
    if len(body) == 1:
        return {"body_temperature": body}, False
    above, below = columns.named("in", body), columns.named("out", body)
    if above and below:
        return {"body_temperature_lw_in": above, "body_temperature_lw_out": below}, False
    return {}, False
