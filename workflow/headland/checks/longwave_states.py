"""The declared state of the longwave signals and the unit of the body temperature, checked against their
size."""

from __future__ import annotations

from typing import Any

import numpy as np

from headland.checks.body_course import find_body_against_air
from headland.checks.one_set import ENOUGH, OneSet
from headland.physics.constants import ZERO_CELSIUS
from headland.physics.instruments import MILLIVOLTS
from headland.physics.longwave import own_emission
from headland.physics.thermometers import OHMS, USUAL, body_celsius

STATE_MARGIN = 60.0
"""W m-2 by which the best multiple of a longwave head's own emission must fit better than the second best
(common practice, no source)."""
WARMEST, COLDEST = 60.0, -60.0
"""degC between which a body temperature is possible in the field (common practice, no source)."""
FAR_FROM_AIR, NEAR_AIR = 15.0, 8.0
"""K: a body further from the air's temperature than the first is doubted where another unit brings it nearer
than the second (common practice, no source)."""

OTHER = "pt1000"
"""The platinum thermometer that is tried beside the usual one."""
LONGWAVE = ("lw_in", "lw_out")
STATE_CODES = (
    "longwave-corrected-twice",
    "longwave-not-corrected",
    "longwave-corrected-one-channel",
)


UNITS = ("degC", "K", "degF", "ohm", "kohm")
"""Units in which a body temperature may have been logged; a layout can't declare degF."""


def celsius_from(logged: float, unit: str, thermometer: str = "") -> float:
    """A body temperature in degC from one of UNITS."""
    return (logged - 32.0) / 1.8 if unit == "degF" else float(body_celsius(logged, unit, thermometer))


def _readings(logged: float, thermometer: str) -> dict[str, float]:
    """A body temperature in degC by each reading of what was logged: a unit, or a unit and a thermometer.

    Without a thermometer that is named, platinum ones are tried; one in kohm is a Pt1000.
    """
    if thermometer not in ("", USUAL):
        return {unit: celsius_from(logged, unit, thermometer) for unit in UNITS}
    found = {unit: celsius_from(logged, unit) for unit in UNITS if unit != "kohm"}
    return found | {f"{unit} {OTHER}": celsius_from(logged, unit, OTHER) for unit in ("ohm", "kohm")}


def body_unit(logged: float, declared: str, air: float, thermometer: str = "") -> tuple[str, list[str]]:
    """Whether a body temperature is in its declared unit: `sound`, `wrong` or `undecided`, and the readings
    that fit instead (a unit, or a unit and a thermometer, as `ohm pt1000`).

    `resistance`: where a resistance is declared that no platinum thermometer has, as of a thermistor.
    Parameters: logged, its median as logged; declared, its unit; air, the air's temperature, degC, NaN where
    unknown; thermometer, of a resistance. A body's temperature is between COLDEST and WARMEST.
    """
    celsius = _readings(logged, thermometer)
    possible = {unit for unit, value in celsius.items() if COLDEST <= value <= WARMEST}
    others = sorted(possible - {declared})
    resistances = [reading for reading in others if reading.split()[0] in OHMS]
    if declared in OHMS and declared not in possible:
        return ("wrong", resistances) if len(resistances) == 1 else ("resistance", [])
    if not np.isfinite(air):
        if declared in possible:
            return "sound", []
        return ("wrong" if len(others) == 1 else "undecided"), others
    if declared in possible and abs(celsius[declared] - air) <= FAR_FROM_AIR:
        return "sound", []
    near = [unit for unit in others if abs(celsius[unit] - air) <= NEAR_AIR]
    if len(near) == 1:
        return "wrong", near
    if declared in possible and not near:
        return "sound", []
    return "undecided", near or others


def longwave_state(logged, emission) -> tuple[int, bool]:
    """How often a longwave signal holds the head's own emission: 0, 1 or 2 times; and whether that is sure.

    The number m of 0, 1, 2 has the smallest |median(X) - m sigma T^4|; it is sure where the second best fits
    worse by STATE_MARGIN. Parameters: logged, emission, W m-2.
    """
    distance = np.abs(np.median(logged) - np.arange(3) * np.median(emission))
    first, second = np.argsort(distance)[:2]
    return int(first), bool(distance[second] - distance[first] >= STATE_MARGIN)


def find_longwave_states(one: OneSet) -> None:
    """The body temperature's unit, then, where that is right, the state of both longwave signals."""
    if len(one.time) < ENOUGH:
        for code in ("body-temperature-unit", *STATE_CODES):
            one.can_t_tell(code, "short-record")
    elif _body_units_are_sound(one):
        _find_states(one)


def _body_units_are_sound(one: OneSet) -> bool:
    """Whether all body temperatures can be used for what follows; findings where not."""
    channels = one.record.channels
    columns = {c: f"body_temperature_{c}" for c in LONGWAVE}
    columns = {c: own if own in channels else "body_temperature" for c, own in columns.items()}
    if columns["lw_out"] == "body_temperature":
        del columns["lw_out"]  # one thermometer for both heads
    return all([_body_unit_is_sound(one, column, channels[column]["unit"]) for column in columns.values()])


def _body_unit_is_sound(one: OneSet, column: str, declared: str) -> bool:
    logged = one.raw[column].to_numpy(float)
    if np.isfinite(logged).sum() < ENOUGH:
        return False
    air, median = one.record.air, float(np.nanmedian(logged))
    thermometer = one.thermometer.get("lw_out" if column.endswith("lw_out") else "lw_in", "")
    verdict, units = body_unit(median, declared, air, thermometer)
    facts: dict[str, Any] = {
        "declared": declared,
        "value": f"{median:.4g}",
        "air": f"{air:.0f} degC" if np.isfinite(air) else "unknown",
        "thermometer": thermometer or USUAL,
    }
    if verdict in ("wrong", "resistance"):
        variant, facts["unit"], facts["other"] = _wrong_unit(verdict, units, thermometer)
        one.report("body-temperature-unit", variant, channel=column, **facts)
        one.result.wrong |= set(LONGWAVE)
        if one.record.longwave == "corrected":  # what is left without the emission of such a body is nothing
            for channel in LONGWAVE:
                one.usable[channel][:] = False
    elif verdict == "sound" and declared not in OHMS:
        find_body_against_air(one, column)
    elif verdict == "undecided":
        said = " or ".join(units) or "no unit"
        one.report("body-temperature-unit", "undecided", channel=column, error=False, units=said, **facts)
    return verdict == "sound"


def _wrong_unit(verdict: str, units: list[str], thermometer: str) -> tuple[str, str, str]:
    """The variant of the finding, the unit that fits, and the thermometer that it needs."""
    if verdict == "resistance":
        return "resistance", "", ""
    unit, _, other = units[0].partition(" ")
    if unit == "degF":
        return "fahrenheit", unit, ""
    if unit in OHMS and thermometer in ("", USUAL):
        return "platinum", unit, other or USUAL
    return "", unit, ""


def _find_states(one: OneSet) -> None:
    longwave, channels = one.record.longwave, one.record.channels
    declared = {c: int(longwave == "corrected" and channels[c]["unit"] not in MILLIVOLTS) for c in LONGWAVE}
    found = {c: _state_of(one, c, declared[c]) for c in LONGWAVE}
    states = {c: state for c, (state, _) in found.items()}
    off = [c for c in LONGWAVE if states[c] != declared[c]]
    if not off:
        return
    sure = all(certain for _, certain in found.values())
    _report_states(one, states, off, sure)
    for channel in off if sure else []:
        emission = own_emission(one.body[channel] + ZERO_CELSIUS)
        one.flux[channel] = one.flux[channel] - (states[channel] - declared[channel]) * emission


def _state_of(one: OneSet, channel: str, declared: int) -> tuple[int, bool]:
    good = one.usable[channel] & np.isfinite(one.body[channel])
    if good.sum() < ENOUGH:
        return declared, True
    emission = own_emission(one.body[channel][good] + ZERO_CELSIUS)
    return longwave_state(one.flux[channel][good] + declared * emission, emission)


def _report_states(one: OneSet, states: dict[str, int], off: list[str], sure: bool) -> None:
    facts: dict[str, Any] = {"declared": one.record.longwave, **states}
    twice, none, one_channel = STATE_CODES
    if not sure:
        code = one_channel if len(off) == 1 else none if states["lw_in"] == 0 else twice
        one.report(code, "undecided", channel=" ".join(off), error=False, **facts)
    elif states["lw_in"] != states["lw_out"]:
        one.report(one_channel, channel=" ".join(off), **facts)
    elif states["lw_in"] == 0:
        one.report(none, channel="lw_in lw_out", **facts)
    else:
        variant = "in-the-file" if states["lw_in"] == 2 else "by-the-declaration"
        one.report(twice, variant, channel="lw_in lw_out", **facts)
