"""What every step's script shares: its command line, the tables it reads and writes, its plain log.

A script is called as `python scripts/steps/<step>.py --settings '<JSON>' --name path …`. Options that take
several paths become lists. An option has the name of the table in it.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import BinaryIO

import numpy as np
import pandas as pd

from headland.base import untold
from headland.base.errors import UserErrors
from headland.base.findings import Finding
from headland.base.frames import Made, Pieces
from headland.files import tables


def arguments(one: Sequence[str] = (), many: Sequence[str] = ()) -> SimpleNamespace:
    """The paths of a step's command line, and `settings`, decoded from JSON.

    one: options that take one path; many: options that take any number, given in order.
    """
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("--settings", type=json.loads, default={})
    for name in one:
        parser.add_argument(f"--{name.replace('_', '-')}", type=Path, required=True)
    for name in many:
        parser.add_argument(f"--{name.replace('_', '-')}", type=Path, nargs="*", default=[])
    return SimpleNamespace(
        **{key.replace("-", "_"): value for key, value in vars(parser.parse_args()).items()}
    )


class Stored(tables.OnDisk):
    """A table on disk (`base.frames.Table`): columns and rows are read when they are asked for, and not
    kept.
    """

    def pieces(self, columns: Sequence[str] | None = None) -> Iterator[pd.DataFrame]:
        """The rows, some at a time; times are the text that stands there."""
        return tables.read_pieces(self.path, self.kind, columns)

    def read(self, columns: Sequence[str] | None = None, rows: np.ndarray | None = None) -> pd.DataFrame:
        """Columns and rows (by a truth value each), all where None. Text is a category."""
        return tables.read_table(self.path, self.kind, columns, "category", rows)

    def beside(self, left: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
        """A frame of the same rows with some columns of this table. UserErrors where their numbers differ."""
        return tables.beside(left, self.read(columns), self.path)


def stored(paths: Iterable[Path], kind: str) -> list[Stored]:
    """Tables of one kind that stay on disk."""
    return [Stored(path, kind) for path in paths]


def frames(paths: Iterable[Path], kind: str) -> list[pd.DataFrame]:
    """Tables of one kind in memory."""
    return [tables.read_table(path, kind) for path in paths]


def together(paths: Iterable[Path], kind: str) -> pd.DataFrame:
    """The rows of several tables of one kind as one frame."""
    return pd.concat(frames(paths, kind), ignore_index=True)


def opened(paths: Iterable[Path], names: Iterable[str]) -> Iterator[tuple[str, BinaryIO]]:
    """Files by the names that findings give them, each open while it is looked at."""
    for path, name in zip(paths, names, strict=True):
        with path.open("rb") as stream:
            yield name, stream


def write(args: SimpleNamespace, made: Made, kinds: Mapping[str, str], found: Sequence[Finding] = ()) -> None:
    """Write what a step made to the paths of its options.

    kinds: the schema of each table, by its name, which is that of its option. A table of each set has an
    option with as many paths, in the order of the sets. found: what reading the user's tables found, before
    what the step found.
    """
    for name, kind in kinds.items():
        table, where = made.tables[name], getattr(args, name)
        several = zip(table.values(), where, strict=True) if isinstance(where, list) else [(table, where)]
        for one, path in several:
            say(f"{path.name}: {write_one(path, one, kind)} rows")
    if isinstance(getattr(args, "findings", None), Path):
        found = [*found, *made.findings]
        tables.write_findings(args.findings, found)
        say(f"{len(found)} findings")
    if hasattr(args, "untold") and "untold" not in kinds:
        tables.write_table(args.untold, untold.frame(made.untold), "untold")


def write_one(path: Path, table: pd.DataFrame | Pieces, kind: str) -> int:
    """Write a table by its schema; returns how many rows it has."""
    if isinstance(table, Pieces):
        return tables.write_pieces(path, table.frames, kind, table.decimals)
    tables.write_table(path, table, kind)
    return len(table)


def say(line: str) -> None:
    """One plain line into the step's log."""
    print(line, file=sys.stderr)


def run(main: Callable[[], None]) -> None:
    """Run a step; what a user can correct ends it with one plain line each."""
    try:
        main()
    except UserErrors as problem:
        sys.exit(str(problem))
