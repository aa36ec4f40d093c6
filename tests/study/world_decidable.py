"""Where a mistake of the world can be told at all: rules from the truth of the mistake and the campaign's
layout.

A rule knows the day as drawn and what was done to it, never what a check found. It follows the column "told
from" of the list of mistakes: without what a mistake is told from, nobody could name it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np

from study import world_decidable_light as light
from world.air import GRID
from world.day import Day

Rule = Callable[[Day, Mapping], bool]


def switched_by_hand(day: Day, done: Mapping) -> bool:
    """Whether the set's storage was switched on and off at each visit: else its record has one run only."""
    return not day.survey.continuous[done["set"]]


def some_switched_by_hand(day: Day, done: Mapping) -> bool:
    """Whether any set's record has pauses that the notes can be laid beside."""
    return not all(day.survey.continuous.values())


ONE_SENSOR = 0.12
"""ln of the ratio of two certificates of one sensor, at most: heads drift by 1 to 3 % a year."""


def programmed_for_another(day: Day, done: Mapping) -> bool:
    """Whether the register tells what one of the loggers was programmed with, and the sensor that it is then
    said to have has plainly another factor. No file of the world names its sensors."""
    band = done["what"].split()[0]
    pairs = [(done["set"], done["other"]), (done["other"], done["set"])]
    ratios = [
        day.kits[mine].logger.programmed[channel] / day.kits[other].heads[channel].certified
        for mine, other in pairs
        if day.kits[mine].logger.programmed
        for channel in (f"{band}_in", f"{band}_out")
    ]
    return any(abs(math.log(ratio)) > ONE_SENSOR for ratio in ratios)


def stored_as_signal(day: Day, done: Mapping) -> bool:
    """Whether the logger stores what its heads give. A flux that it computed itself is changed by the ratio
    of two numbers of the register that have one unit: a wrong unit changes nothing."""
    return not day.kits[done["set"]].logger.programmed


def factors_known_from_elsewhere(day: Day, done: Mapping) -> bool:
    """Whether something beside the register's two rows tells the factors: older certificates of both
    sensors, the logger's program, or, within one band, a visit side by side with another set. Heads of the
    world have factors of any size in both bands, so their size tells nothing."""
    one, two = done["channels"]
    rows = day.tables.register[day.tables.register["set"] == done["set"]]
    older = all((rows["channel"] == channel).sum() > 1 for channel in (one, two))
    beside = day.survey.side_by_side and one.split("_")[0] == two.split("_")[0]
    return bool(older or beside or day.kits[done["set"]].logger.programmed)


ALBEDO_SCATTER, WARMTH_SCATTER, LOWEST_SUN = 0.06, 1.5, 15.0
"""Usual scatter of ln albedo and of surface temperature (K) of passes over one field, and degrees of the sun
from which albedos are compared (common practice, no source)."""
CLEARLY = 25.0
"""Square of the five standard deviations by which a pass must differ from another one: in 2 of 10,000 sound
campaigns one of 50 passes does so (two quantities, normal errors)."""


def grounds_differ(day: Day, rows: list[int], one: str, two: str) -> bool:
    """Whether two fields truly differ by more than passes over one field ever do, over the time of some rows
    of the notes as they were before the mistake."""
    noted = day.notes.loc[[row - 1 for row in rows]]
    start, end = float(noted["start_s"].min()), float(noted["end_s"].max())
    inside = (start <= GRID) & (end >= GRID)
    height = np.degrees(np.arcsin(day.scene.incoming[0].sun[2][inside].mean()))
    warmth, albedo = (
        [day.value(name, quantity, start, end) for name in (one, two)]
        for quantity in ("surface_temperature", "albedo")
    )
    squared = ((warmth[0] - warmth[1]) / WARMTH_SCATTER) ** 2
    if height > LOWEST_SUN:
        squared += (math.log(albedo[0] / albedo[1]) / ALBEDO_SCATTER) ** 2
    return bool(squared / 2.0 > CLEARLY)


def row_in_other_ground(day: Day, done: Mapping) -> bool:
    """Whether the field in which a row is noted truly differs from the one that was walked."""
    row = done["rows"][0] - 1
    fields = day.notes.loc[row, "field"], day.tables.notes.loc[row, "field"]
    return grounds_differ(day, done["rows"], *fields)


def visits_over_other_ground(day: Day, done: Mapping) -> bool:
    """Whether the two fields of exchanged visits truly differ."""
    return grounds_differ(day, done["rows"], *done["fields"])


RULES: dict[str, tuple[str, Rule]] = {
    "own-shade": (
        "the shadow lies on two walks of one heading over a field and on none of two or more the other way",
        light.shadow_turns,
    ),
    "cover-left-on/one": ("the cover is on a shortwave head", light.cover_on_shortwave),
    "dome-wet": (
        "drops take 12 % of the beam, and so hide 30 % of the sky, with the sun out half of the time",
        light.drops_hide_sky,
    ),
    "swing-strong": (
        "the sun is out for half of the walks and under 70 degrees high",
        light.swing_in_sun,
    ),
    "sets-disagree": (
        "the change is 5.3 standard uncertainties of two heads of its class, under no moving cloud",
        lambda day, done: light.beyond_heads(day, done, light.HEADS[day.grade]),
    ),
    "station-disagrees": (
        "the change is 5.3 standard uncertainties of such a head and a station, under no moving cloud",
        lambda day, done: light.beyond_heads(day, done, light.STATION),
    ),
    "surface-mislabelled": (
        "the field's albedo is outside the table's range of the noted class by 5.3 standard uncertainties, "
        "under a sun over 21 degrees",
        light.outside_class,
    ),
    **dict.fromkeys(
        ("clock-against-sun", "clock-against-sun/offset", "clock-against-sun/all"),
        (
            "the sky is cloudless and the sun's course over the walks changes by 5.5 % more than haze can do",
            light.course_differs,
        ),
    ),
    "data-without-note": ("the storage is switched at each visit", switched_by_hand),
    "notes-shifted/watch": ("the storage of a set is switched at each visit", some_switched_by_hand),
    "notes-sets-swapped/one-field": ("the two fields differ clearly", visits_over_other_ground),
    "field-inconsistent/row": ("the two fields differ clearly", row_in_other_ground),
    "factor-inverted": (
        "the logger stores the heads' signals, not fluxes",
        stored_as_signal,
    ),
    "pair-broken": (
        "a logger is programmed with a factor that is not the other sensor's",
        programmed_for_another,
    ),
    "factors-exchanged": (
        "older certificates, the logger's program or, within a band, a visit side by side tell the factors",
        factors_known_from_elsewhere,
    ),
}
"""For a variant, what it needs to be told, in words that follow "only where", and the rule. A variant
without an entry can always be told."""


def decidable(variant: str, day: Day, done: Mapping) -> bool:
    """Return whether a mistake can be told. day: with the mistake in it; done: as `world.inject` returns."""
    return variant not in RULES or RULES[variant][1](day, done)


def in_words() -> str:
    """Return what the rules ask for, as one paragraph for the page."""
    return " ".join(f"`{variant}` can be told only where {words}." for variant, (words, _) in RULES.items())
