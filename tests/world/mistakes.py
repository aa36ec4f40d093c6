"""Mistakes that people and instruments make, put into a day or into a written folder one at a time or
combined."""

from collections.abc import Callable
from pathlib import Path as FilePath

import numpy as np

from . import mistakes_files, mistakes_notes, mistakes_physical, mistakes_register
from .day import Day
from .tables import Tables

PHYSICAL = mistakes_physical.CODES
ON_TABLES: dict[str, Callable] = {
    **mistakes_register.CODES,
    **mistakes_notes.CODES,
    **mistakes_files.CODES,
}
# Physical ones are put in first, garbled files last, so that none undoes another.
CODES = (*PHYSICAL, *ON_TABLES)


def inject(
    target: Day | str | FilePath, code: str, rng: np.random.Generator, size: float | None = None
) -> dict:
    """Put one mistake into a day, or into a folder that a day has written.

    Parameters: code, one of CODES; size, in the unit that the code's function names (drawn when None).
    Returns: code, set, size, unit and where; `what` says in words what was done. A physical mistake needs a
    Day and
    must come before mistakes in files. Raises ValueError where the campaign has no room for the mistake,
    such as a
    swap of sets where there is one set.
    """
    if code in PHYSICAL:
        if not isinstance(target, Day):
            raise ValueError(f"{code} changes what the heads see; inject it into a Day, before it is written")
        if target.tables.touched:
            raise ValueError(f"{code} must be injected before mistakes in files")
        done = PHYSICAL[code](target, rng, size)
    else:
        tables = target.tables if isinstance(target, Day) else Tables.read(target)
        if code not in ON_TABLES:
            raise ValueError(f"unknown mistake {code!r}; known are {CODES}")
        done = ON_TABLES[code](tables, rng, size)
        tables.touched = tables.touched or code in mistakes_files.CODES
        if not isinstance(target, Day):
            tables.write(target)
    return {"code": code.split("/")[0], "variant": code} | done


def inject_many(
    day: Day, codes: list[str], rng: np.random.Generator, sizes: dict | None = None
) -> list[dict]:
    """Put two or three mistakes into a day, in the order that keeps all of them."""
    order = sorted(codes, key=CODES.index)
    return [inject(day, code, rng, (sizes or {}).get(code)) for code in order]
