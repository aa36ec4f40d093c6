"""Where a mistake of the world can be told at all: rules from the truth of the mistake and the campaign's
layout.

A rule knows the day as drawn and what was done to it, never what a check found. It follows the column "told
from" of the list of mistakes: without what a mistake is told from, nobody could name it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from world.day import Day

Rule = Callable[[Day, Mapping], bool]


def switched_by_hand(day: Day, done: Mapping) -> bool:
    """Whether the set's storage was switched on and off at each visit: else its record has one run only."""
    return not day.survey.continuous[done["set"]]


RULES: dict[str, tuple[str, Rule]] = {
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
