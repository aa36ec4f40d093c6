"""Tables of config whose rows have names, and the numbers of quality.csv and course.csv, checked.

No library is loaded.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

from headland.base.classes import COURSE_QUANTITIES, COURSE_SIZES, FLAGS, KINDS
from headland.base.errors import UserError, UserErrors
from headland.base.words import did_you_mean
from headland.files.config_tables import LARGEST_NUMBER, config_rows, number_of
from headland.files.schema_errors import shown
from headland.physics.constants import RADIATION

CELLS = ("low", "scale", "power", "offset")
SCREENS = tuple(f"-{kind}" for kind in KINDS)
"""How the names of flags end that are limits of one channel; such a row may be added."""


def course_rows(path: Path) -> list[dict[str, str]]:
    """The rows of course.csv. Raises UserErrors where a quantity has no row, or several, or a size is no
    number from 0 up.
    """

    def faults(row: Mapping[str, str]) -> Iterator[tuple[str, str]]:
        for name in COURSE_SIZES:
            if not number_of(row.get(name, "")) >= 0.0:
                found = f"{name} of {row['quantity']} is {shown(row.get(name, ''))}"
                yield found, f"a number from 0 to {LARGEST_NUMBER:g}, in the unit of its row"

    return named_rows(path, "quantity", COURSE_QUANTITIES, faults, "every row that comes with the project")


def quality_rows(path: Path) -> list[dict[str, str]]:
    """The rows of quality.csv. Raises UserErrors where a flag has no row, or several, or lacks a limit."""

    def faults(row: Mapping[str, str]) -> Iterator[tuple[str, str]]:
        flag = row["flag"]
        screens = flag.endswith(SCREENS)
        if flag not in FLAGS and not screens:
            wanted = f"a name that comes with the project, or one that ends in {' or '.join(SCREENS)}"
            yield f"unknown flag {shown(flag)}", f"{wanted}{did_you_mean(flag, FLAGS)}"
        if row.get("excludes") not in ("true", "false"):
            yield f"excludes of {flag} is {shown(row.get('excludes'))}", "true or false"
        if row.get("channel") not in (RADIATION if screens else ("", *RADIATION)):
            yield f"channel of {flag} is {shown(row.get('channel'))}", f"one of {', '.join(RADIATION)}"
        for name in CELLS:
            cell = row.get(name, "")
            needed = name in FLAGS.get(flag, ("low", "offset"))
            if (cell or needed) and not math.isfinite(number_of(cell)):
                yield f"{name} of {flag} is {shown(cell)}", "a number" + ("" if needed else ", or nothing")

    return named_rows(path, "flag", FLAGS, faults, "every row that comes with the project")


def named_rows(
    path: Path,
    key: str,
    needed: Iterable[str],
    faults: Callable[[Mapping[str, str]], Iterable[tuple[str, str]]],
    wanted: str,
) -> list[dict[str, str]]:
    """The rows of a table whose column `key` names each row. Raises UserErrors with all that is wrong.

    needed: names of rows that there must be. faults: what is wrong with a row, each as found and expected.
    wanted: what is expected where a row is missing.
    """
    file = f"{path.parent.name}/{path.name}"
    errors: list[UserError] = []
    seen: set[str] = set()
    rows = config_rows(path)
    for line, row in enumerate(rows, start=2):
        name = row.get(key, "")
        if not name or name in seen:
            errors.append(UserError(file, line, f"{key} {shown(name)}", "a name of its own in each row"))
            continue
        seen.add(name)
        errors += [UserError(file, line, *fault) for fault in faults(row)]
    errors += [UserError(file, None, f"no row for {name}", wanted) for name in needed if name not in seen]
    if errors:
        raise UserErrors(errors)
    return rows
