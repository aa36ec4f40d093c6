"""Rules on mistakes that are told from the light: what sky, heads and ground let anybody see."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

import chain
from headland.files.surfaces import surface_classes
from world.day import Day

SEEN = 3.6 + 1.65
"""Standard uncertainties: a limit that a sound campaign passes in 0.03 % of cases, and as much beyond it
that 95 of 100 are seen."""
HEADS = {"A": 0.015, "B": 0.027, "C": 0.055, "unknown": 0.055}
"""Relative standard uncertainty of SW_in by class: certificate, and the limits of ISO 9060:2018 (from
memory) as even distributions, at 600 W m-2."""
STATION = 0.015
"""The same of a kept station of class A."""
MOVING = ("scattered", "broken")
"""Skies whose clouds make two places differ."""
DROPS = 0.12
"""Share of the beam that drops take, from which they hide 30 % of the sky: two places differ by up to 10 % of
its coldness, and the windows of two heads by as much."""
OUT = 0.5
"""Share of direct light from which the sun is out, and of the time for which it must be."""
COURSE, HAZE = 0.055, 0.06
"""ln of SW_in by which the sun's course must be another one, and what haze can change of it for each air
mass, as in the study of detection."""
LOWEST_ALBEDO_SUN = 21.0
"""degrees: below it the table's ranges of albedo do not hold."""


def cover_on_shortwave(day: Day, done: Mapping) -> bool:
    """Whether the cover is on a shortwave head: on a longwave head it looks like water, or like ground."""
    return any(channel.startswith("sw") for channel in day.kits[done["set"]].disturbance.covered)


def shadow_turns(day: Day, done: Mapping) -> bool:
    """Whether the shadow lies on two walks of one heading over a field, and on none of two the other way."""
    legs = [leg for leg in day.survey.of(done["set"]) if leg.activity == "walk"]
    dark = {(leg.start, leg.end) for leg in legs} & set(map(tuple, done["spans_s"]))
    for field in {leg.field for leg in legs}:
        for way in (1, -1):
            own = [leg for leg in legs if leg.field == field]
            there = [(leg.start, leg.end) in dark for leg in own if leg.direction == way]
            back = [(leg.start, leg.end) in dark for leg in own if leg.direction == -way]
            if sum(there) >= 2 and len(back) >= 2 and not any(back):
                return True
    return False


def sun_out(day: Day, name: str, spans: list[tuple[float, float]]) -> bool:
    """Whether a set saw the sun for half of some spans, s of the day."""
    t, direct = day.paths[name].t, day.ideals[name].direct
    inside = np.zeros(len(t), bool)
    for start, end in spans:
        inside |= (t >= start) & (t < end)
    return bool(inside.any() and np.mean(direct[inside] > OUT) > OUT)


def heights(day: Day, name: str) -> np.ndarray:
    """Return the sun's height, degrees, at the start of each leg of a set."""
    t = np.array([leg.start for leg in day.survey.of(name)])
    return np.degrees(np.arcsin(np.interp(t, day.scene.sky.minute, day.scene.sky.sun_minute[2])))


def drops_hide_sky(day: Day, done: Mapping) -> bool:
    """Whether drops hide enough of the sky while the sun is out."""
    wet = day.kits[done["set"]].disturbance.wet
    return float(done["size"]) >= DROPS and sun_out(day, done["set"], [span[:2] for span in wet])


def swing_in_sun(day: Day, done: Mapping) -> bool:
    """Whether the sun is out, and not overhead, while the set swings."""
    name = done["set"]
    walks = [(leg.start, leg.end) for leg in day.survey.of(name) if leg.direction]
    return bool(sun_out(day, name, walks) and heights(day, name).max() < 70.0)


def beyond_heads(day: Day, done: Mapping, other: float) -> bool:
    """Whether a change of SW_in is beyond what the head and another with a relative uncertainty may show."""
    still = day.scene.clouds.kind not in MOVING
    return still and abs(float(done["size"])) > SEEN * float(np.hypot(HEADS[day.grade], other))


def course_differs(day: Day, done: Mapping) -> bool:
    """Whether the sun's course over the walks is so much another one at the wrong time that no haze explains
    it, under a sky without cloud."""
    sky, names = day.scene.sky, [done["set"]] if done["set"] else day.survey.sets
    by = float(done["size"]) * {"s": 1.0, "h": 3600.0}[done["unit"]]
    up = np.maximum(sky.sun_minute[2], 0.05)
    light = np.log(np.maximum(sky.beam_clear * np.maximum(sky.sun_minute[2], 0.0) + sky.diffuse_clear, 1.0))
    for name in names:
        legs = day.survey.of(name)
        t = np.arange(legs[0].start, legs[-1].end, 60.0)
        for way in (by, -by):
            change = np.interp(t + way, sky.minute, light) - np.interp(t, sky.minute, light)
            mass = np.interp(t, sky.minute, 1.0 / up)
            change, mass = change - change.mean(), mass - mass.mean()
            hazy = np.clip(np.dot(change, mass) / np.dot(mass, mass), -HAZE, HAZE)
            if np.std(change - hazy * mass) <= COURSE:
                return False
    return day.scene.clouds.kind in ("clear", "haze")


@cache
def ranges() -> dict[str, tuple[float, float]]:
    """Return the range of albedo of each class of the table."""
    classes = surface_classes(Path(chain.ROOT) / "config" / "surfaces.csv", {})
    return {name: (row["albedo"]["low"], row["albedo"]["high"]) for name, row in classes.items()}


def outside_class(day: Day, done: Mapping) -> bool:
    """Whether a field's true albedo is outside the noted class's range by what its measurement may be off."""
    notes: pd.DataFrame = day.tables.notes
    fields = day.truth.fields.set_index("field")["albedo"]
    low, high = ranges()[notes.loc[notes["field"] == done["field"], "surface"].iloc[0]]
    value = float(fields[done["field"]])
    beyond = max(low - value, value - high)
    high_sun = all(heights(day, name).min() > LOWEST_ALBEDO_SUN for name in day.survey.sets)
    return bool(high_sun and beyond > SEEN * np.sqrt(2.0) * HEADS[day.grade] * value)
