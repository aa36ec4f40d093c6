"""Whether a rerun gave the same numbers as an archive holds. Standard library only."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest
from typing import IO

from headland.record.bag import Bag
from headland.record.names import shown

RESULTS = "data/results/"
LONGEST_LINE = 1_000_000
"""Bytes of a line of a table: a longer one is no row of ours, and would need the memory of the whole."""

MOST_COLUMNS, MOST_CELLS = 1000, 2_000_000
"""Columns of a table, and cells of all tables that differ: beyond that two archives are not compared in full.
"""


@dataclass
class Budget:
    """Cells that may still be compared one by one."""

    left: int = MOST_CELLS

    def take(self, cells: int) -> None:
        """Raises csv.Error where there are none left."""
        self.left -= cells
        if self.left < 0:
            raise csv.Error(f"more than {MOST_CELLS} cells in rows that differ")


@dataclass
class Comparison:
    """Two archives of one campaign, table by table.

    tables: how many. apart: where numbers differ. rounding: where they differ by the last printed digit.
    others: other files that differ.
    """

    tables: int = 0
    apart: list[str] = field(default_factory=list)
    rounding: list[str] = field(default_factory=list)
    others: list[str] = field(default_factory=list)


RERUN = ("the rerun did not make it", "only the rerun made it")
"""What is said of a file that the first or the second alone holds, where the second is a rerun."""


def compared(first: Bag, again: Bag, alone: tuple[str, str] = RERUN) -> Comparison:
    """The results in two archives: tables column by column, other files by their content.

    alone: what is said of a file that the first or the second alone holds.
    """
    result, budget = Comparison(), Budget()
    names = {name for name in (*first.entries, *again.entries) if name.startswith(RESULTS)}
    for name in sorted(names):
        short, is_table = shown(name.removeprefix(RESULTS)), name.endswith(".csv")
        if name not in again.entries or name not in first.entries:
            what = alone[0] if name in first.entries else alone[1]
            (result.apart if is_table else result.others).append(f"{short}: {what}")
            continue
        result.tables += is_table
        if first.digests[name] == again.digests[name]:
            continue
        if is_table:
            with first.open(name) as one, again.open(name) as other:
                apart, rounding = columns_apart(one, other, budget)
            result.apart += [f"{short}, {line}" for line in apart]
            result.rounding += [f"{short}, {line}" for line in rounding]
        else:
            result.others.append(f"{short}: other bytes")
    return result


@dataclass
class _Difference:
    """The cells of a column that differ: how many, the first, and whether all do by the last digit."""

    count: int
    first: tuple[str, str]
    near: bool

    def line(self, name: str, rows: int) -> str:
        before, after = (shown(cell) or "empty" for cell in self.first)
        return f"column {shown(name)}: {self.count} of {rows} cells, such as {before} and now {after}"


def columns_apart(
    first: IO[bytes], again: IO[bytes], budget: Budget | None = None
) -> tuple[list[str], list[str]]:
    """In which columns two files of one table differ: by more than the last printed digit, and by that."""
    try:
        return _columns_apart(_rows(first), _rows(again), budget or Budget())
    except UnicodeDecodeError:
        return ["not readable as text in UTF-8"], []
    except csv.Error as problem:
        return [f"not compared as a table ({problem})"], []


def _rows(stream: IO[bytes]) -> Iterator[list[str]]:
    def lines() -> Iterator[str]:
        while line := stream.readline(LONGEST_LINE):
            if len(line) == LONGEST_LINE:
                raise csv.Error(f"a line of more than {LONGEST_LINE} bytes")
            yield line.decode("utf-8")

    return csv.reader(lines())


def _columns_apart(
    first: Iterator[list[str]], again: Iterator[list[str]], budget: Budget
) -> tuple[list[str], list[str]]:
    head, other_head = next(first, []), next(again, [])
    if len(head) > MOST_COLUMNS:
        raise csv.Error(f"more than {MOST_COLUMNS} columns")
    if head != other_head:
        return [f"columns: {shown(', '.join(head))} became {shown(', '.join(other_head))}"], []
    found: dict[int, _Difference] = {}
    rows = other_rows = 0
    uneven = False
    for row, other in zip_longest(first, again):
        rows, other_rows = rows + (row is not None), other_rows + (other is not None)
        if row is None or other is None:
            continue
        uneven = uneven or len(row) != len(other)
        if row != other:
            budget.take(len(row))
            _note(found, row[: len(head)], other)
    if rows != other_rows:
        return [f"rows: {rows} became {other_rows}"], []
    apart = [found[c].line(head[c], rows) for c in sorted(found) if not found[c].near]
    rounding = [found[c].line(head[c], rows) for c in sorted(found) if found[c].near]
    if uneven:
        apart.append("rows of other lengths")
    if not apart and not rounding:
        rounding.append("the same cells in other writing")
    return apart, rounding


def _note(found: dict[int, _Difference], row: Sequence[str], other: Sequence[str]) -> None:
    """Add the cells that differ in a row to what was found in their columns."""
    for column, pair in enumerate(zip(row, other, strict=False)):
        if pair[0] == pair[1]:
            continue
        known = found.setdefault(column, _Difference(0, pair, True))
        known.count += 1
        known.near = known.near and _by_last_digit(*pair)


def _by_last_digit(first: str, again: str) -> bool:
    """Whether two printed numbers are neighbours in their last digit."""
    if not all(re.fullmatch(r"-?\d{1,30}(\.\d{1,30})?", text) for text in (first, again)):
        return False
    decimals = {len(text.partition(".")[2]) for text in (first, again)}
    whole = [int(text.replace(".", "")) for text in (first, again)]
    return len(decimals) == 1 and abs(whole[0] - whole[1]) <= 1


def versions_apart(first: Mapping, again: Mapping, where: str = "here") -> list[str]:
    """What computed the two: each difference in one line. Both as versions.json has them.

    where: what is said of the second.
    """

    def flat(versions: Mapping) -> dict[str, str]:
        libraries = versions.get("libraries")
        own = {str(key): str(value) for key, value in versions.items() if key != "libraries"}
        listed = libraries.items() if isinstance(libraries, dict) else ()
        return own | {str(key): str(value) for key, value in listed}

    one, other = flat(first), flat(again)
    return [
        f"{shown(name)}: {_of(one, name)}, {where} {_of(other, name)}"
        for name in sorted(one.keys() | other.keys())
        if one.get(name) != other.get(name)
    ]


def _of(versions: Mapping[str, str], name: str) -> str:
    return shown(versions.get(name, "absent"))


def plain_list(lines: Sequence[str], most: int = 20) -> list[str]:
    """Lines for people: no more than `most`, and how many were left out."""
    return [*lines[:most], *([f"and {len(lines) - most} more"] if len(lines) > most else [])]
