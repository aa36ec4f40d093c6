"""One logger file as rows of texts, so that a mistake can change cells, rows or clocks and nothing else."""

import numpy as np
import pandas as pd

from .reader import head_lines, layout_mapping


class LogFile:
    """Lines of a logger file, split by its layout."""

    def __init__(self, text: str, layout: str | dict):
        self.layout = layout_mapping(layout)
        every = text.splitlines()
        first = head_lines(self.layout)
        self.head = every[:first]
        self.delimiter = " " if self.layout["delimiter"] == "whitespace" else self.layout["delimiter"]
        self.rows = [line.split(self.delimiter) for line in every[first:]]
        names = self.layout.get("names", True)
        line = every[self.layout.get("skip_lines", 0)] if names else ""
        self.names = line.split(self.delimiter) if names else list(range(1, len(self.rows[0]) + 1))

    def text(self) -> str:
        """Return the file."""
        return "\n".join([*self.head, *(self.delimiter.join(row) for row in self.rows)]) + "\n"

    def index(self, channel: str) -> int:
        """Return the position of a channel's column."""
        return self.names.index(self.layout["channels"][channel]["column"])

    def body_channels(self) -> list[str]:
        """Return the names of the thermometers' channels."""
        return [name for name in self.layout["channels"] if name.startswith("body")]

    def unit(self, channel: str) -> str:
        """Return the unit of a channel."""
        return self.layout["channels"][channel]["unit"]

    def values(self, channel: str) -> np.ndarray:
        """Return a channel's values."""
        column = self.index(channel)
        return np.array([number(row[column]) for row in self.rows])

    def set_values(self, channel: str, values: np.ndarray, rows: np.ndarray | None = None) -> None:
        """Replace a channel's values in some rows, with as many decimals as before."""
        column = self.index(channel)
        comma = self.layout.get("decimal", ".") == ","
        for row in range(len(self.rows)) if rows is None else rows:
            old = self.rows[row][column]
            if np.isnan(number(old)) or np.isnan(values[row]):
                continue
            places = len(old.replace(",", ".").split(".")[1]) if "." in old.replace(",", ".") else 0
            new = f"{values[row]:.{places}f}"
            self.rows[row][column] = new.replace(".", ",") if comma else new

    def swap(self, one: str, two: str) -> None:
        """Exchange the columns of two channels."""
        i, j = self.index(one), self.index(two)
        for row in self.rows:
            row[i], row[j] = row[j], row[i]

    def clock(self) -> pd.DatetimeIndex:
        """Return the logger's clock of each row."""
        time = self.layout["time"]
        if "unit" in time:
            column = self.names.index(time["column"])
            return pd.DatetimeIndex(
                pd.Timestamp(time["since"])
                + pd.to_timedelta([float(row[column]) for row in self.rows], unit="s")
            )
        columns = [self.names.index(name) for name in (time.get("columns") or [time["column"]])]
        texts = [" ".join(row[column] for column in columns) for row in self.rows]
        return pd.DatetimeIndex(pd.to_datetime(texts, format=time["format"]))

    def set_clock(self, clock: pd.DatetimeIndex) -> None:
        """Replace the clock of all rows."""
        time = self.layout["time"]
        if "unit" in time:
            column = self.names.index(time["column"])
            since = pd.Timestamp(time["since"])
            for row, stamp in zip(self.rows, clock, strict=True):
                row[column] = str(round((stamp - since).total_seconds()))
            return
        columns = [self.names.index(name) for name in (time.get("columns") or [time["column"]])]
        for row, stamp in zip(self.rows, clock, strict=True):
            for column, part in zip(columns, stamp.strftime(time["format"]).split(" "), strict=False):
                row[column] = part if len(columns) > 1 else stamp.strftime(time["format"])

    def between(self, start: pd.Timestamp, end: pd.Timestamp) -> np.ndarray:
        """Return the rows with a clock in a span."""
        clock = self.clock()
        return np.flatnonzero((clock >= start) & (clock <= end))


def number(text: str) -> float:
    """Return a cell as a number."""
    text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        return float("nan")
    return float("nan") if value == -9999.0 else value
