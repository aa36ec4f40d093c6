"""Changes to files that keep them nearly what they were: a cell, a key, a line, a member of a workbook, an
entry of an archive, a few bytes.

A case is what a reader is given: contents by file name. `mutated` gives another case, drawn by a generator,
so that a seed says all of it.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence

from study.mutate_packed import workbook
from study.mutate_text import bits, cut, encoded, inserted, table
from study.mutate_yaml import settings

Case = dict[str, bytes]


def of_kind(name: str) -> Sequence[Callable[[bytes, random.Random], bytes]]:
    """The changes that suit a file, the likelier ones more than once."""
    anything = (bits, cut, inserted, encoded)
    match name.rpartition(".")[2]:
        case "csv":
            return (table,) * 12 + anything
        case "yaml":
            return (settings,) * 12 + anything
        case "xlsx":
            return (workbook,) * 14 + anything
    return anything


def mutated(
    case: Mapping[str, bytes],
    draw: random.Random,
    kinds: Callable[[str], Sequence[Callable]] = of_kind,
    fixed: Sequence[str] = (),
) -> Case:
    """A case with one to a few changes in its files. fixed: names of files that stay as they are."""
    changed = dict(case)
    names = [name for name in sorted(changed) if name not in fixed]
    for _ in range(draw.choice((1, 1, 1, 2, 2, 3, 5))):
        name = draw.choice(names)
        changed[name] = draw.choice(kinds(name))(changed[name], draw)
    return changed
