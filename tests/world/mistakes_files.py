"""Mistakes in the logger's clock and in its files."""

from collections.abc import Callable

import numpy as np
import pandas as pd

from .heads import CHANNELS
from .mistakes_notes import shift_rows
from .mistakes_register import drawn, open_log, pick_set, place_of, record, save_log
from .tables import Tables


def clock_reset(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Set the clock to the first day of its calendar at some record, as after a cut of the supply; size:
    share of the file."""
    name = pick_set(tables, rng)
    log = open_log(tables, name)
    clock = log.clock()
    at = int(drawn(rng, size, 0.25, 0.75) * len(clock))
    jump = pd.Timestamp("2000-01-01 00:00:00") - clock[at]
    log.set_clock(clock[:at].append(clock[at:] + jump))
    save_log(tables, name, log)
    drop_checks(tables, name, last=True)
    return record(name, "clock fell back to its first day", at + 1, "record")


def clock_backwards(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Set the clock back at some record; size: s."""
    name = pick_set(tables, rng)
    log = open_log(tables, name)
    clock = log.clock()
    at = int(rng.uniform(0.25, 0.75) * len(clock))
    back = float(round(drawn(rng, size, 90.0, 1500.0)))
    log.set_clock(clock[:at].append(clock[at:] - pd.Timedelta(seconds=back)))
    save_log(tables, name, log)
    drop_checks(tables, name, last=True)
    return record(name, "clock set back", back, "s", record=at + 1)


def drop_checks(tables: Tables, name: str, *, last: bool) -> None:
    """Take out clock checks of a set: the last one, or all."""
    notes = tables.notes
    rows = list(notes.index[(notes["set"] == name) & (notes["activity"] == "clock_check")])
    tables.notes = notes.drop(index=rows[-1:] if last else rows).reset_index(drop=True)


def clock_against_sun(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Let one logger's clock be wrong by 20 min or more, with no clock check noted; size: s."""
    name = pick_set(tables, rng)
    off = float(rng.choice([-1, 1]) * rng.uniform(20, 120) * 60.0) if size is None else size
    off = float(round(off))
    log = open_log(tables, name)
    log.set_clock(log.clock() + pd.Timedelta(seconds=off))
    save_log(tables, name, log)
    drop_checks(tables, name, last=False)
    return record(name, "logger's clock wrong", off, "s")


def all_against_sun(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Let all loggers and the notes follow one wrong clock, so that only the sun contradicts it; size: s."""
    off = float(rng.choice([-1, 1]) * 60.0 * round(rng.uniform(25, 120))) if size is None else size
    for name in tables.campaign["sets"]:
        log = open_log(tables, name)
        log.set_clock(log.clock() + pd.Timedelta(seconds=off))
        save_log(tables, name, log)
        drop_checks(tables, name, last=False)
    shift_rows(tables, list(tables.notes.index), off)
    return record(None, "all clocks and the notes wrong together", off, "s")


def offset_against_sun(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Declare another offset of the clock and note no check; size: h."""
    name = pick_set(tables, rng)
    hours = int(rng.choice([-2, -1, 1, 2])) if size is None else int(size)
    settings = tables.campaign["sets"][name]
    settings["utc_offset"] = f"{int(settings['utc_offset'][:3]) + hours:+03d}:00"
    drop_checks(tables, name, last=False)
    return record(name, "offset of the clock wrong", hours, "h")


def rows_duplicated(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Store one block twice, directly after itself or at the end; size: records."""
    name = pick_set(tables, rng)
    log = open_log(tables, name)
    count = int(min(drawn(rng, size, 60.0, 900.0), len(log.rows) // 3))
    first = int(rng.integers(0, len(log.rows) - count))
    block = [list(row) for row in log.rows[first : first + count]]
    where = first + count if rng.uniform() < 0.5 else len(log.rows)
    log.rows[where:where] = block
    save_log(tables, name, log)
    return record(name, "block stored twice", count, "records", record=first + 1)


def file_truncated(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Cut the file within a line; size: share of the file that is left."""
    name = pick_set(tables, rng)
    text, encoding = tables.files[place_of(name)]
    left = drawn(rng, size, 0.6, 0.98)
    rows = text.splitlines()
    rows = rows[: max(int(left * len(rows)), 10)]
    rows[-1] = rows[-1][: int(rng.uniform(0.35, 0.8) * len(rows[-1]))]
    tables.files[place_of(name)] = ("\n".join(rows), encoding)
    return record(name, "file cut", left, "share left", line=len(rows))


def row_damaged(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Garble lines; size: how many."""
    name = pick_set(tables, rng)
    log = open_log(tables, name)
    count = int(drawn(rng, size, 1.0, 4.0))
    places = sorted(int(place) for place in rng.choice(len(log.rows), size=count, replace=False))
    for place in places:
        line = log.delimiter.join(log.rows[place])
        cut = int(rng.integers(len(line) // 3, len(line) - 3))
        log.rows[place] = [line[: cut // 2] + "#?~" + line[cut:]]
    save_log(tables, name, log)
    return record(
        name, "lines garbled", count, "lines", lines=[len(log.head) + place + 1 for place in places]
    )


def decimal_comma(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Save the file with the other decimal sign; with commas between fields the spreadsheet quotes the
    numbers."""
    name = pick_set(tables, rng)
    log = open_log(tables, name)
    old = log.layout.get("decimal", ".")
    new = "," if old == "." else "."
    time_columns = set(time_indices(log))
    for row in log.rows:
        for column, cell in enumerate(row):
            if column not in time_columns and old in cell:
                changed = cell.replace(old, new)
                row[column] = f'"{changed}"' if new == log.delimiter else changed
    save_log(tables, name, log)
    return record(name, f"decimal sign {new!r}, declared {old!r}")


def time_indices(log: object) -> list[int]:
    """Return the positions of the time's columns."""
    time = log.layout["time"]
    return [log.names.index(name) for name in (time.get("columns") or [time["column"]])]


def wrong_delimiter(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Save the file with another sign between fields."""
    name = pick_set(tables, rng)
    log = open_log(tables, name)
    old = log.delimiter
    choices = [sign for sign in (";", "\t", ",") if sign not in (old, log.layout.get("decimal", "."))]
    new = str(rng.choice(choices))
    log.delimiter = new
    log.head[log.layout.get("skip_lines", 0) :] = [
        line.replace(old, new) for line in log.head[log.layout.get("skip_lines", 0) :]
    ]
    save_log(tables, name, log)
    return record(name, f"fields parted by {new!r}, declared {old!r}")


def wrong_encoding(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Save the file in UTF-16, or in Latin-1 with a letter that UTF-8 does not read."""
    name = pick_set(tables, rng)
    text, encoding = tables.files[place_of(name)]
    new = "utf-16" if encoding == "latin-1" or rng.uniform() < 0.6 else "latin-1"
    if new == "latin-1":
        first, rest = text.split("\n", 1)
        text = f"{first} für Übung\n{rest}"
    tables.files[place_of(name)] = (text, new)
    return record(name, f"file in {new}, declared {encoding}")


def sampling_interval(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Store at another interval than declared; size: every how many records one is kept."""
    name = pick_set(tables, rng)
    every = int(rng.choice([2, 5, 10])) if size is None else int(size)
    log = open_log(tables, name)
    log.rows = log.rows[::every]
    save_log(tables, name, log)
    return record(name, "stored at another interval", every, "times the declared interval")


def channel_frozen(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Let one channel keep one value from some record on; size: share of the file."""
    name = pick_set(tables, rng)
    channel = str(rng.choice(CHANNELS))
    log = open_log(tables, name)
    share = drawn(rng, size, 0.3, 0.8)
    count = int(share * len(log.rows))
    first = int(rng.integers(0, len(log.rows) - count))
    values = log.values(channel)
    values[first : first + count] = values[first]
    log.set_values(channel, values, np.arange(first, first + count))
    save_log(tables, name, log)
    return record(
        name, f"{channel} keeps one value", share, "share of records", channel=channel, record=first + 1
    )


def battery_low(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Let the supply sag, and the signals with it below 10.8 V; size: V at the end."""
    with_battery = [name for name in tables.campaign["sets"] if "battery" in battery_layout(tables, name)]
    if not with_battery:
        raise ValueError("no logger of this campaign stores its supply")
    name = str(rng.choice(with_battery))
    log = open_log(tables, name)
    log.layout = log.layout | {"channels": log.layout["channels"] | battery_layout(tables, name)}
    end = drawn(rng, size, 8.5, 10.5)
    values = log.values("battery")
    run = np.linspace(0.0, 1.0, len(values)) ** 2
    sagged = values * (1.0 - run) + end * run
    log.set_values("battery", sagged)
    weak = np.clip(1.0 - 0.08 * (10.8 - sagged), 0.5, 1.0)
    noise = 1.0 + 0.02 * (sagged < 10.8) * rng.standard_normal(len(values))
    for channel in CHANNELS:
        log.set_values(channel, log.values(channel) * weak * noise)
    save_log(tables, name, log)
    return record(name, "supply sags", end, "V at the end")


def battery_layout(tables: Tables, name: str) -> dict:
    """Return the battery's channel of the layouts that have one."""
    layout = tables.campaign["sets"][name]["layout"]
    column = {"comma-clock": "supply", "semicolon-day": "U_supply"}.get(
        layout if isinstance(layout, str) else ""
    )
    return {"battery": {"column": column, "unit": "V"}} if column else {}


CODES: dict[str, Callable] = {
    "clock-reset": clock_reset,
    "clock-backwards": clock_backwards,
    "clock-against-sun": clock_against_sun,
    "clock-against-sun/offset": offset_against_sun,
    "clock-against-sun/all": all_against_sun,
    "sampling-interval": sampling_interval,
    "channel-frozen": channel_frozen,
    "battery-low": battery_low,
    "rows-duplicated": rows_duplicated,
    "file-truncated": file_truncated,
    "row-damaged": row_damaged,
    "decimal-comma": decimal_comma,
    "wrong-delimiter": wrong_delimiter,
    "wrong-encoding": wrong_encoding,
}
