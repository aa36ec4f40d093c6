"""The project's own small tables (config/*.csv, findings.csv, quantities.csv), every cell as text.

Errors in them are errors of the project, or of a person who edits config/. `config_rows` loads no library:
the Snakefile reads settings with it on every run, also where there is nothing to do.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def config_rows(path: Path) -> list[dict[str, str]]:
    """The rows of a table, each as {column: cell}. Raises ValueError where the file is no such table."""
    with path.open(encoding="utf-8", newline="") as stream:
        try:
            head, *rows = list(csv.reader(stream, strict=True)) or [[]]
        except csv.Error as problem:
            raise ValueError(str(problem)) from None
    if not head:
        raise ValueError("it is empty")
    for number, row in enumerate(rows, start=2):
        if len(row) > len(head):
            raise ValueError(f"row {number} has {len(row)} cells, more than the {len(head)} columns")
    filled = [row + [""] * (len(head) - len(row)) for row in rows if any(row)]
    return [dict(zip(head, row, strict=True)) for row in filled]


def read_config_table(path: Path) -> pd.DataFrame:
    """The same table as a frame of text."""
    import pandas as pd

    return pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8", comment=None)
