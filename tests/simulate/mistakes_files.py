"""Mistakes of files and of the logger's clock, put into a sound simulated campaign.

A file is handled as bytes: what comes before the data is kept, and lines of data are changed."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from .campaign import Campaign
from .mistakes_instruments import copied, in_files, in_first_file, set_of
from .spec import layout_of


def data_lines(campaign: Campaign, name: str, content: bytes) -> tuple[list[bytes], list[bytes]]:
    """The lines before the data and those of the data, each with its end of line."""
    layout = layout_of(set_of(campaign, name))[0]
    lines = content.splitlines(keepends=True)
    before = layout["skip_lines"] + layout["names"] + layout["lines_after_names"]
    return lines[:before], lines[before:]


def with_data(campaign: Campaign, name: str, change: Callable[[list[bytes], list[bytes]], bytes]) -> Campaign:
    return in_first_file(campaign, name, lambda content: change(*data_lines(campaign, name, content)))


def file_truncated(campaign: Campaign, name: str) -> Campaign:
    return in_first_file(campaign, name, lambda content: content.rstrip()[:-17])


def row_damaged(campaign: Campaign, name: str) -> Campaign:
    """Three lines in the middle are garbled: bytes of another encoding, a field too many, letters."""

    def change(head, data):
        k = len(data) // 2
        data[k] = data[k][:9] + b"\xff\xfe\x9d" + data[k][12:]
        data[k + 3] = data[k + 3].rstrip() + b",;,;7\n"
        data[k + 5] = b"#" * 20 + data[k + 5][20:]
        return b"".join(head + data)

    return with_data(campaign, name, change)


def rows_duplicated(campaign: Campaign, name: str, different: bool = False) -> Campaign:
    """A block of 40 rows downloaded twice; different: with other values the second time."""

    def change(head, data):
        block = data[20:60]
        if different:
            block = [
                line.rstrip()[:-1] + (b"8" if line.rstrip()[-1:] != b"8" else b"7") + b"\n" for line in block
            ]
        return b"".join(head + data + block)

    return with_data(campaign, name, change)


def overlapping_files(campaign: Campaign, name: str) -> Campaign:
    """The set's first file again under another name, less its first quarter: the second download began
    before the first ended."""

    def edit(files):
        first = next(path for path in files if path.startswith(f"logger/{name}_"))
        head, data = data_lines(campaign, name, files[first])
        return {
            **files,
            first: b"".join(head + data[: len(data) * 3 // 4]),
            f"logger/{name}_99.csv": b"".join(head + data[len(data) // 4 :]),
        }

    return in_files(campaign, edit)


def clock_jumped(campaign: Campaign, name: str, seconds: float, since: float = 0.5) -> Campaign:
    """From a share of the records on, the logger's clock is off by so many seconds (negative: it went
    back)."""
    out = copied(campaign)
    stamps = out.records[name]["stamp"].copy()
    first = int(since * len(stamps))
    stamps.iloc[first:] = stamps.iloc[first:] + pd.Timedelta(seconds, "s")
    out.records[name]["stamp"] = stamps
    return out


def clock_reset(campaign: Campaign, name: str, default: str = "2000-01-01 00:00:00") -> Campaign:
    """The supply was cut: the clock began again at its default date."""
    stamps = campaign.records[name]["stamp"]
    return clock_jumped(
        campaign, name, (pd.Timestamp(default) - stamps.iloc[len(stamps) // 2]).total_seconds()
    )


def clock_backwards(campaign: Campaign, name: str) -> Campaign:
    return clock_jumped(campaign, name, -3 * 3600.0)


def other_decimal(campaign: Campaign, name: str) -> Campaign:
    """The computer that saved the file again writes its own decimal mark. Where fields are separated by
    commas, it separates them by semicolons."""
    layout = layout_of(set_of(campaign, name))[0]

    def change(head, data):
        if layout["decimal"] == ",":
            return b"".join(head) + b"".join(data).replace(b",", b".")
        return b"".join(head[: layout["skip_lines"]]) + b"".join(head[layout["skip_lines"] :] + data).replace(
            b",", b";"
        ).replace(b".", b",")

    return with_data(campaign, name, change)


def other_delimiter(campaign: Campaign, name: str) -> Campaign:
    """The file was saved again with tabs."""
    layout = layout_of(set_of(campaign, name))[0]
    mark = layout["delimiter"].encode()
    return with_data(
        campaign,
        name,
        lambda head, data: (
            b"".join(head[: layout["skip_lines"]])
            + b"".join(head[layout["skip_lines"] :] + data).replace(mark, b"\t")
        ),
    )


def other_encoding(campaign: Campaign, name: str, encoding: str = "utf-16") -> Campaign:
    return in_first_file(campaign, name, lambda content: content.decode("utf-8").encode(encoding))


def mixed_encodings(campaign: Campaign, name: str) -> Campaign:
    """A remark in Latin-1 between the rows of a UTF-8 file."""

    def change(head, data):
        data.insert(len(data) // 3, "Akku gewechselt, Gerät kühl\n".encode("latin-1"))
        return b"".join(head + data)

    return with_data(campaign, name, change)


def header_repeated(campaign: Campaign, name: str) -> Campaign:
    """The head of the file again in the middle, as after joining two files, with a blank line before."""

    def change(head, data):
        k = len(data) // 2
        return b"".join(head + data[:k] + [b"\n"] + head + data[k:])

    return with_data(campaign, name, change)


def empty_file(campaign: Campaign, name: str) -> Campaign:
    return in_first_file(campaign, name, lambda content: b"")


def sampling_interval(campaign: Campaign, name: str, step: int = 2) -> Campaign:
    """The logger stored every second record: its programme has another interval than the layout."""
    out = copied(campaign)
    out.records[name] = out.records[name].iloc[::step].reset_index(drop=True)
    return out
