"""The project's own small tables (config/*.csv, findings.csv, quantities.csv), every cell as text.

Errors in them are errors of the project, or of a person who edits config/, and are told like those of other
files. `config_rows` loads no library: the Snakefile reads settings with it on every run, also where there is
nothing to do.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import TYPE_CHECKING

from headland.base.errors import refuse

if TYPE_CHECKING:
    import pandas as pd


LARGEST_NUMBER = 1e6
"""Larger than any limit, size or property of a surface, in its unit."""


def config_rows(path: Path) -> list[dict[str, str]]:
    """The rows of a table, each as {column: cell}. Raises UserErrors where the file is no such table."""
    fault = ""
    try:
        with path.open(encoding="utf-8", newline="") as stream:
            head, *rows = list(csv.reader(stream, strict=True)) or [[]]
        longest = max(map(len, rows), default=0)
        if not head:
            fault = "it is empty"
        elif longest > len(head):
            number = next(n for n, row in enumerate(rows, start=2) if len(row) == longest)
            fault = f"row {number} has {longest} cells, more than the {len(head)} columns"
        elif len(set(head)) < len(head):
            fault = "two columns have one name"
    except (OSError, UnicodeDecodeError, csv.Error) as problem:
        fault = str(getattr(problem, "strerror", "") or problem)
    if fault:
        wanted = "the table that comes with the project, in UTF-8, with changed cells"
        file = f"{path.parent.name}/{path.name}"
        raise refuse(file, None, f"the file can't be read as a table ({fault})", wanted)
    filled = [row + [""] * (len(head) - len(row)) for row in rows if any(row)]
    return [dict(zip(head, row, strict=True)) for row in filled]


def number_of(cell: str) -> float:
    """A cell as a number; NaN where it is none, or so large that nothing can be computed with it."""
    try:
        value = float(cell)
    except ValueError:
        return math.nan
    return value if abs(value) <= LARGEST_NUMBER else math.nan


def read_config_table(path: Path) -> pd.DataFrame:
    """The same table as a frame of text."""
    import pandas as pd

    return pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8", comment=None)
