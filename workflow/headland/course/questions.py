"""A question of the sheet, and the numbers in it that can be checked."""

from __future__ import annotations

from typing import NamedTuple


class Part(NamedTuple):
    """A number that a question asks for. quantity: which decides unit and tolerance."""

    name: str
    quantity: str
    value: float


class Question(NamedTuple):
    """A question in words, its answer in words, and the numbers in it that can be checked."""

    question: str
    answer: str
    parts: tuple[Part, ...] = ()
