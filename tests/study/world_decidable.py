"""Where a mistake of the world can be told at all: rules from the truth of the mistake and the campaign's
layout.

A rule knows the day as drawn and what was done to it, never what a check found. It follows the column "told
from" of the list of mistakes: without what a mistake is told from, nobody could name it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from study import world_decidable_light as light
from world.day import Day

Rule = Callable[[Day, Mapping], bool]


def switched_by_hand(day: Day, done: Mapping) -> bool:
    """Whether the set's storage was switched on and off at each visit: else its record has one run only."""
    return not day.survey.continuous[done["set"]]


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
}
"""For a variant, what it needs to be told, in words that follow "only where", and the rule. A variant
without an entry can always be told."""


def decidable(variant: str, day: Day, done: Mapping) -> bool:
    """Return whether a mistake can be told. day: with the mistake in it; done: as `world.inject` returns."""
    return variant not in RULES or RULES[variant][1](day, done)


def in_words() -> str:
    """Return what the rules ask for, as one paragraph for the page."""
    return " ".join(f"`{variant}` can be told only where {words}." for variant, (words, _) in RULES.items())
