"""What a look says on the terminal: every lamp that asks for something, and what has changed since the look
before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from headland.base.words import plain
from headland.field.lamps import WORDS, Lamp

SENTENCES = {
    "green": "nothing to do.",
    "grey": "nothing could be tested.",
    "amber": "something is worth a look before going on.",
    "red": "something must be done before going on.",
}
"""What the state of the whole means."""


def first(values: Mapping) -> list[str]:
    """The state of the whole, and each lamp that asks for something. values: those of the page."""
    whole = f"{WORDS[values['state']].upper()}: {SENTENCES[values['state']]}"
    return [whole, *(line for lamp in values["urgent"] for line in _lines(lamp))]


def since(values: Mapping, before: Sequence[Lamp]) -> list[str]:
    """The state of the whole, each lamp that was not lit at the look before, and each that has gone out."""
    new = new_lamps(values["urgent"], before)
    gone = [lamp for lamp in before if _key(lamp) not in {_key(other) for other in values["urgent"]}]
    still = len(values["urgent"]) - len(new)
    counts = f"{len(new)} new, {still} as before, {len(gone)} solved"
    whole = f"{WORDS[values['state']].upper()}: {SENTENCES[values['state']]} ({counts})"
    solved = [f"  {plain(f'solved: {_whose(lamp)}')}" for lamp in gone]
    return [whole, *(line for lamp in new for line in _lines(lamp)), *solved]


def new_lamps(now: Sequence[Lamp], before: Sequence[Lamp]) -> list[Lamp]:
    """The lamps that were not lit at the look before."""
    known = {_key(lamp) for lamp in before}
    return [lamp for lamp in now if _key(lamp) not in known]


def _key(lamp: Lamp) -> tuple[str, str, str, str]:
    """What makes a lamp the same at two looks: numbers in its sentence grow with the samples."""
    return lamp.set, lamp.subject, lamp.state, lamp.code


def _whose(lamp: Lamp) -> str:
    return f"{lamp.set or 'all sets'}, {lamp.subject}"


def _lines(lamp: Lamp) -> list[str]:
    """A lamp as lines: why, what to do, and which walk to do again."""
    lines = [f"{WORDS[lamp.state]}: {_whose(lamp)}: {lamp.what}"]
    lines += [f"do: {lamp.remedy}"] if lamp.remedy else []
    lines += [f"walk again: {lamp.again}."] if lamp.again else []
    return [f"  {plain(line)}" for line in lines]
