"""User tables that a verb can't do without, and what is wrong with them in the sentences of the findings."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from headland.base import findings
from headland.base.errors import UserError, UserErrors
from headland.files.user_tables import no_user_table, read_user_table

READ_ALL_THE_SAME = frozenset({"wrong-delimiter", "wrong-encoding"})
"""Findings that say how a table was read; its values are right."""


def read_with_errors(path: Path, kind: str, expected: str) -> tuple[pd.DataFrame, list[UserError]]:
    """A table that a user wrote, and everything that keeps it from being used.

    kind: the schema's name. expected: what the file should be, for the message where there is none.
    """
    if not path.is_file():
        return no_user_table(kind), [UserError(path.name, None, "no such file", expected)]
    table, found = read_user_table(path, kind)
    errors, sentences = [], findings.sentences()
    for finding in found:
        row = findings.describe(finding, kind, sentences)
        if row["severity"] == "error" and finding.code not in READ_ALL_THE_SAME:
            what, remedy = (str(row[name]).rstrip(".") for name in ("what", "remedy"))
            errors.append(UserError(path.name, finding.line, what, remedy))
    if not errors and not len(table):
        errors = [UserError(path.name, None, "no rows in it", expected)]
    return table, errors


def read_required(path: Path, kind: str, expected: str) -> pd.DataFrame:
    """A table that a user wrote. Raises UserErrors with everything that keeps it from being used."""
    table, errors = read_with_errors(path, kind, expected)
    if errors:
        raise UserErrors(errors)
    return table
