"""Errors that a user can correct: where, what was found, what was expected. Standard library only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from headland.base.words import plain


@dataclass(frozen=True)
class UserError:
    """An error that a user can correct: where it is, what was found there, what was expected."""

    file: str
    line: int | None
    found: str
    expected: str

    def __str__(self) -> str:
        where = self.file + (f", line {self.line}" if self.line else "")
        return plain(f"{where}: {self.found}; expected {self.expected}")


class UserErrors(Exception):
    """All the errors of one reading, reported together."""

    def __init__(self, errors: Sequence[UserError]):
        super().__init__("\n".join(map(str, errors)))
        self.errors = list(errors)


def refuse(file: str, line: int | None, found: str, expected: str) -> UserErrors:
    """One error, ready to be raised."""
    return UserErrors([UserError(file, line, found, expected)])
