"""What a step takes and returns: tables that are held, or of which only columns and pieces are held at a
time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, Protocol

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.untold import Untold


class Table(Protocol):
    """A table that gives its columns, or its rows in pieces. `Held` is one in memory, `files.step.Stored`
    one on disk.
    """

    def __contains__(self, name: str) -> bool: ...

    def __getitem__(self, names): ...

    def pieces(self, columns: Sequence[str] | None = None) -> Iterator[pd.DataFrame]:
        """The rows in order, some at a time, numbered through all pieces."""
        ...

    def read(self, columns: Sequence[str] | None = None, rows: np.ndarray | None = None) -> pd.DataFrame:
        """Columns and rows (by a truth value each) as a frame, all where None. Text may be a category."""
        ...

    def beside(self, left: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
        """A frame of the same rows with some columns of this table."""
        ...


@dataclass(frozen=True)
class Held:
    """A `Table` in memory."""

    frame: pd.DataFrame

    def __contains__(self, name: str) -> bool:
        return name in self.frame

    def __getitem__(self, names):
        return self.frame[names]

    def pieces(self, columns: Sequence[str] | None = None) -> Iterator[pd.DataFrame]:
        """The whole frame as one piece."""
        yield self.frame if columns is None else self.frame[list(columns)]

    def read(self, columns: Sequence[str] | None = None, rows: np.ndarray | None = None) -> pd.DataFrame:
        """Columns and rows, all where None."""
        frame = self.frame if columns is None else self.frame[list(columns)]
        return frame if rows is None else frame[rows].reset_index(drop=True)

    def beside(self, left: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
        """A frame of the same rows with some columns of this table."""
        return left.assign(**self.frame[list(columns)])


@dataclass(frozen=True)
class Pieces:
    """A table that is made piece by piece while it is written, and only once.

    frames: its pieces in order. decimals: of a second, for each column of times, so that all pieces show
    the same.
    """

    frames: Iterable[pd.DataFrame]
    decimals: Mapping[str, int] = field(default_factory=dict)

    def whole(self) -> pd.DataFrame:
        """All pieces as one frame."""
        return pd.concat(list(self.frames), ignore_index=True)

    def held(self) -> Held:
        """All pieces as a table in memory."""
        return Held(self.whole())


class Made(NamedTuple):
    """What a step makes: tables by name (of several sets: tables by set), findings, and checks that could
    not be made.
    """

    tables: dict
    findings: list[Finding]
    untold: list[Untold]
