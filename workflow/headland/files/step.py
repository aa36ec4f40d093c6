"""What every step's script shares: its command line, the tables it reads and writes, its plain log.

A script is called as `python scripts/steps/<step>.py --settings '<JSON>' --name path …`. Options that take
several paths become lists. An option has the name of the table in it. A step's module says in `READS` how
each of its options is read, and in `WRITES` the schema of each table that it makes; `Files` does both.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any, BinaryIO, NamedTuple

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
        """The rows, some at a time; times stay text."""
        return tables.read_pieces(self.path, self.kind, columns)

    def read(self, columns: Sequence[str] | None = None, rows: np.ndarray | None = None) -> pd.DataFrame:
        """Columns and rows (by a truth value each), all where None. Text is a category."""
        return tables.read_table(self.path, self.kind, columns, "category", rows)

    def beside(self, left: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
        """A frame of the same rows with some columns of this table. UserErrors where their numbers differ."""
        return tables.beside(left, self.read(columns), self.path)


def opened(paths: Iterable[Path], names: Iterable[str]) -> Iterator[tuple[str, BinaryIO]]:
    """Files by the names that findings give them, each open while it is looked at."""
    for path, name in zip(paths, names, strict=True):
        with path.open("rb") as stream:
            yield name, stream


class Option(NamedTuple):
    """How an option of a step's command line is read.

    read: a function of the option's path (of its paths, where it takes `many`) and of the step's settings.
    finds: `read` also returns findings, which the step passes on.
    """

    read: Callable[[Any, Mapping], Any]
    many: bool = False
    finds: bool = False


def table(kind: str) -> Option:
    """A table of a kind, in memory."""
    return Option(lambda path, settings: tables.read_table(path, kind))


def stored(kind: str) -> Option:
    """A table of a kind that stays on disk."""
    return Option(lambda path, settings: Stored(path, kind))


def together(kind: str) -> Option:
    """The rows of several tables of a kind as one frame."""
    return Option(
        lambda paths, settings: pd.concat([tables.read_table(p, kind) for p in paths], ignore_index=True),
        many=True,
    )


def frames(kind: str) -> Option:
    """Any number of tables of a kind."""
    return Option(lambda paths, settings: [tables.read_table(p, kind) for p in paths], many=True)


def stored_of_sets(kind: str) -> Option:
    """A table of a kind of each set, by set, that stays on disk. Settings: `sets`."""
    return Option(
        lambda paths, settings: _by_set([Stored(path, kind) for path in paths], settings), many=True
    )


def of_sets(kind: str) -> Option:
    """A table of a kind of each set, by set, in memory. Settings: `sets`."""
    return Option(
        lambda paths, settings: _by_set([tables.read_table(path, kind) for path in paths], settings),
        many=True,
    )


def _by_set(values: Sequence, settings: Mapping) -> dict[str, Any]:
    return dict(zip(settings["sets"], values, strict=True))


PATH = Option(lambda path, settings: path)
PATHS = Option(lambda paths, settings: paths, many=True)


class Files:
    """The files of a step by the names of its options: what it reads, and where it writes.

    settings: decoded from JSON. found: what reading the user's tables found. Each option of `reads` is read
    at once, in its order, and is here by its name: `files["weather"]`.
    """

    def __init__(self, reads: Mapping[str, Option], writes: Mapping[str, str], leaves: Sequence[str] = ()):
        """reads: how each option is read. writes: the schema of each table that the step makes, by its
        option, which is also the table's name; of each set where it ends in an asterisk. leaves: further
        options with a path, of `findings`, `untold` and what the script writes itself.
        """
        several = [name for name, kind in writes.items() if kind.endswith("*")]
        one = [name for name, option in reads.items() if not option.many]
        many = [name for name, option in reads.items() if option.many]
        one += [name for name in (*writes, *leaves) if name not in several]
        args = vars(arguments(one=one, many=[*many, *several]))
        self.settings: dict = args["settings"]
        self.paths = args
        self.found: list[Finding] = []
        self._leaves = leaves
        self._kinds = {name: kind.removesuffix("*") for name, kind in writes.items()}
        self._values = {name: self._read(name, option) for name, option in reads.items()}

    def _read(self, name: str, option: Option) -> Any:
        value = option.read(self.paths[name], self.settings)
        if option.finds:
            value, found = value
            self.found += found
        return value

    def __getitem__(self, name: str) -> Any:
        return self._values[name]

    def some(self, names: Iterable[str]) -> dict[str, Any]:
        """Several of the options by their names."""
        return {name: self[name] for name in names}

    def each_set(self, *names: str) -> dict[str, tuple]:
        """By set, its part of several options that have one for each set."""
        return {one: tuple(self[name][one] for name in names) for one in self.settings["sets"]}

    def write(self, made: Made) -> None:
        """Write what a step made: tables, findings (after those of reading), and what it could not check."""
        for name, kind in self._kinds.items():
            whole, where = made.tables[name], self.paths[name]
            several = zip(whole.values(), where, strict=True) if isinstance(where, list) else [(whole, where)]
            for one, path in several:
                say(f"{path.name}: {write_one(path, one, kind)} rows")
        if "findings" in self._leaves:
            found = [*self.found, *made.findings]
            tables.write_findings(self.paths["findings"], found)
            say(f"{len(found)} findings")
        if "untold" in self._leaves:
            tables.write_table(self.paths["untold"], untold.frame(made.untold), "untold")


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
