"""Two slips in one number: what every pair of them gives, as possibilities for the teacher."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

from headland.course.rerun import Outcome, Slip, Survey, part_of, through, value_in
from headland.course.written import tolerance

PAIR = "+"
"""Joins the codes of two slips."""
Values = list[tuple[str, float]]
Key = tuple[str, str, str]


def two_slips(
    survey: Survey, slips: Sequence[tuple[str, Slip]], wrong: Sequence[tuple[str, Outcome]]
) -> Callable[[str, str, str, float], Values]:
    """What leads from (`segments` or `surfaces`, name, quantity, right value) to the values of every two
    slips together.

    slips: as `slips_of` gives them. wrong: their outcomes in the same order. Two slips that change the same
    thing can't be made together. Both must change the number, alone and beside the other.
    """
    made: dict[tuple[str, str], dict] = {}
    known: dict[Key, Values] = {}

    def values(kind: str, item: str, quantity: str, right: float) -> Values:
        key = (kind, item, quantity)
        if key not in known:
            whole = quantity == "net_radiation_common_sky"
            own = survey if whole else part_of(survey, kind, item)
            cache = made.setdefault(("", "") if whole else (kind, item), {})
            same = tolerance(quantity, right)
            single = [
                (code, slip, value_in(result, kind, item, quantity))
                for (code, slip), (_, result) in zip(slips, wrong, strict=True)
            ]
            single = [one for one in single if abs(one[2] - right) > same]
            known[key] = _together(own, single, key, right, cache)
        return known[key]

    return values


def _together(
    survey: Survey, single: Sequence[tuple[str, Slip, float]], key: Key, right: float, cache: dict
) -> Values:
    """The values of every two of the slips that change a number. single: code, slip and value of each."""
    found: Values = []
    kind, item, quantity = key
    same = tolerance(quantity, right)
    for (a, first, alone), (b, second, other) in combinations(single, 2):
        both = first.beside(second) if a != b else None
        if both is None:
            continue
        value = value_in(through(survey, both, cache), kind, item, quantity)
        if all(abs(value - one) > same for one in (right, alone, other)):
            found.append((PAIR.join(sorted((a, b))), value))
    return found
