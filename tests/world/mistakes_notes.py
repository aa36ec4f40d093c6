"""Mistakes in the field notes."""

from collections.abc import Callable

import numpy as np
import pandas as pd

from .materials import CLASSES
from .mistakes_register import drawn, open_log, record, save_log, two_sets
from .tables import Tables


def segments(tables: Tables) -> pd.DataFrame:
    """Return the rows of the notes that are not clock checks."""
    return tables.notes[tables.notes["activity"] != "clock_check"]


def moment(notes: pd.DataFrame, row: int, column: str) -> pd.Timestamp:
    """Return a noted time with its date."""
    return pd.Timestamp(f"{notes.loc[row, 'date']} {notes.loc[row, column]}")


def put(notes: pd.DataFrame, row: int, column: str, when: pd.Timestamp) -> None:
    """Write a time in the form that the row has; the date follows the start."""
    form = "%H:%M:%S" if notes.loc[row, column].count(":") == 2 else "%H:%M"
    notes.loc[row, column] = when.strftime(form)
    if column == "start":
        notes.loc[row, "date"] = when.strftime("%Y-%m-%d")


def shift_rows(tables: Tables, rows: list[int], seconds: float) -> None:
    """Shift the times of rows."""
    notes = tables.notes
    for row in rows:
        times = {column: moment(notes, row, column) for column in ("start", "end") if notes.loc[row, column]}
        for column, when in times.items():
            put(notes, row, column, when + pd.Timedelta(seconds=seconds))


def notes_shifted(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Write all notes, clock checks too, in summer time or another zone; size: s."""
    seconds = 3600.0 * float(rng.choice([-2, -1, 1, 2])) if size is None else size
    shift_rows(tables, list(tables.notes.index), seconds)
    return record(None, "notes in another zone", seconds, "s")


def notes_shifted_watch(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Write visits with a watch that is minutes off; clock checks were made against a telephone. Size: s."""
    seconds = float(rng.choice([-1, 1]) * rng.uniform(4, 25)) * 60.0 if size is None else size
    seconds = 60.0 * round(seconds / 60.0) if size is None else seconds
    shift_rows(tables, list(segments(tables).index), seconds)
    return record(None, "watch minutes off", seconds, "s")


def notes_shifted_day(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Write another date; size: days."""
    days = int(rng.choice([-1, 1])) if size is None else int(size)
    dates = pd.to_datetime(tables.notes["date"]) + pd.Timedelta(days=days)
    tables.notes["date"] = dates.dt.strftime("%Y-%m-%d")
    return record(None, "another date", days, "days")


def apart_pairs(tables: Tables, one: str, two: str) -> list[tuple[int, int]]:
    """Return pairs of rows in which two sets were at two fields at the same time."""
    rows = segments(tables)
    pairs = []
    for row in rows[rows["set"] == one].index:
        times = [moment(tables.notes, row, column) for column in ("start", "end")]
        for partner in rows[rows["set"] == two].index:
            other = [moment(tables.notes, partner, column) for column in ("start", "end")]
            overlaps = times[0] < other[1] and other[0] < times[1]
            if overlaps and tables.notes.loc[row, "field"] != tables.notes.loc[partner, "field"]:
                pairs.append((row, partner))
    return pairs


def notes_sets_swapped(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Exchange the two sets in all rows but the clock checks; `apart` says whether they were ever at two
    fields at once."""
    one, two = two_sets(tables, rng)
    rows = segments(tables).index
    of_sets = [
        set(tables.notes.loc[rows][tables.notes.loc[rows, "set"] == name]["field"]) for name in (one, two)
    ]
    apart = bool(apart_pairs(tables, one, two)) or of_sets[0] != of_sets[1]
    tables.notes.loc[rows, "set"] = tables.notes.loc[rows, "set"].map({one: two, two: one})
    return record(None, "sets exchanged in all visits", len(rows), "rows", apart=apart)


def notes_sets_swapped_one(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Exchange the two sets for one stretch in which each was at another field; size: rows at most."""
    one, two = two_sets(tables, rng)
    rows = segments(tables)
    best = apart_pairs(tables, one, two)
    if not best:
        raise ValueError("the sets were never at two fields at once")
    row, partner = best[int(rng.integers(len(best)))]
    fields = {tables.notes.loc[row, "field"], tables.notes.loc[partner, "field"]}
    start = moment(tables.notes, row, "start")
    near = [
        index
        for index in rows.index
        if tables.notes.loc[index, "field"] in fields
        and abs(moment(tables.notes, index, "start") - start) < pd.Timedelta(minutes=14)
    ]
    tables.notes.loc[near, "set"] = tables.notes.loc[near, "set"].map({one: two, two: one})
    return record(
        None,
        "sets exchanged for one pair of visits",
        len(near),
        "rows",
        rows=[index + 1 for index in near],
        fields=sorted(fields),
    )


def pick_row(tables: Tables, rng: np.random.Generator, need_next: bool = False) -> tuple[int, int]:
    """Return a visit's row and the set's next row."""
    rows = segments(tables)
    pairs = []
    for _, of_set in rows.groupby("set"):
        index = list(of_set.index)
        pairs += list(zip(index[:-1], index[1:], strict=True)) if need_next else [(row, row) for row in index]
    if not pairs:
        raise ValueError("too few rows of notes")
    return pairs[int(rng.integers(len(pairs)))]


def notes_overlap(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Let one row end after the next of the same set began; size: s."""
    row, after = pick_row(tables, rng, need_next=True)
    overlap = 60.0 * max(round(drawn(rng, size, 60.0, 240.0) / 60.0), 1) if size is None else size
    put(tables.notes, row, "end", moment(tables.notes, after, "start") + pd.Timedelta(seconds=overlap))
    return record(tables.notes.loc[row, "set"], "rows overlap", overlap, "s", rows=[row + 1, after + 1])


def notes_reversed(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Exchange start and end of one row."""
    row, _ = pick_row(tables, rng)
    start, end = tables.notes.loc[row, "start"], tables.notes.loc[row, "end"]
    tables.notes.loc[row, ["start", "end"]] = [end, start]
    return record(tables.notes.loc[row, "set"], "end before start", rows=[row + 1])


def notes_incomplete(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Leave out one end."""
    row, _ = pick_row(tables, rng)
    tables.notes.loc[row, "end"] = ""
    return record(tables.notes.loc[row, "set"], "end missing", rows=[row + 1])


def notes_unknown_name(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Misspell a surface or a set; two letters change places or one is doubled."""
    row, _ = pick_row(tables, rng)
    column = str(rng.choice(["surface", "set"]))
    old = tables.notes.loc[row, column]
    place = int(rng.integers(1, len(old) - 1))
    new = old[:place] + old[place + 1] + old[place] + old[place + 2 :]
    if new == old:
        new = old[:place] + old[place] + old[place:]
    name = tables.notes.loc[row, "set"]
    tables.notes.loc[row, column] = new
    return record(name, f"{column} {old!r} written as {new!r}", rows=[row + 1])


def note_without_data(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Leave out the records of one noted row, as if the logger had not been switched on."""
    row, _ = pick_row(tables, rng)
    name = tables.notes.loc[row, "set"]
    log = open_log(tables, name)
    start, end = clock_span(tables, row)
    gone = set(log.between(start - pd.Timedelta(seconds=90), end + pd.Timedelta(seconds=90)).tolist())
    if not gone:
        raise ValueError("nothing was stored in that row anyway")
    log.rows = [cells for index, cells in enumerate(log.rows) if index not in gone]
    save_log(tables, name, log)
    return record(name, "no records in a noted row", len(gone), "records", rows=[row + 1])


def clock_span(tables: Tables, row: int) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return a noted interval on the logger's clock, without the clock's own error."""
    zone = tables.campaign["notes"]["timezone"]
    hours = pd.Timedelta(
        hours=int(str(tables.campaign["sets"][tables.notes.loc[row, "set"]]["utc_offset"])[:3])
    )
    times = []
    for column in ("start", "end"):
        local = moment(tables.notes, row, column).tz_localize(zone)
        times.append(local.tz_convert("UTC").tz_localize(None) + hours)
    return times[0], times[1]


def data_without_note(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Forget the rows of one visit."""
    row, _ = pick_row(tables, rng)
    notes = tables.notes
    same = (notes["set"] == notes.loc[row, "set"]) & (notes["field"] == notes.loc[row, "field"])
    near = [
        index
        for index in notes.index[same]
        if notes.loc[index, "activity"] == notes.loc[row, "activity"]
        and abs(moment(notes, index, "start") - moment(notes, row, "start")) < pd.Timedelta(minutes=10)
    ]
    name, place = notes.loc[row, "set"], notes.loc[row, "field"]
    tables.notes = notes.drop(index=near).reset_index(drop=True)
    return record(name, f"visit of {place} forgotten", len(near), "rows", rows=[index + 1 for index in near])


def field_inconsistent(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Note one field with two surfaces."""
    rows = segments(tables)
    counts = rows["field"].value_counts()
    several = list(counts[counts >= 2].index)
    if not several:
        raise ValueError("no field has two rows")
    name = str(rng.choice(several))
    index = list(rows[rows["field"] == name].index)
    row = int(index[int(rng.integers(len(index)))])
    old = tables.notes.loc[row, "surface"]
    new = str(rng.choice([surface for surface in CLASSES if surface not in (old, "snow")]))
    tables.notes.loc[row, "surface"] = new
    return record(tables.notes.loc[row, "set"], f"{name} noted as {old} and as {new}", rows=[row + 1])


def field_exchanged(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Note one row of a field under another field's name and surface."""
    rows = segments(tables)
    row, _ = pick_row(tables, rng)
    others = rows[rows["surface"] != tables.notes.loc[row, "surface"]]
    if others.empty:
        raise ValueError("all fields have one surface")
    source = int(rng.choice(others.index))
    old = tables.notes.loc[row, "field"]
    tables.notes.loc[row, ["field", "surface"]] = tables.notes.loc[source, ["field", "surface"]]
    new = tables.notes.loc[row, "field"]
    return record(tables.notes.loc[row, "set"], f"a row of {old} noted as {new}", rows=[row + 1])


def surface_mislabelled(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Note a field all day as a class whose albedo range lies elsewhere; size: least gap between the
    ranges."""
    least = 0.0 if size is None else size
    rows = segments(tables)
    pairs = []
    for name, surface in rows[["field", "surface"]].drop_duplicates().itertuples(index=False):
        low, high = CLASSES[surface].albedo
        for other, ranges in CLASSES.items():
            gap = max(ranges.albedo[0] - high, low - ranges.albedo[1])
            if gap >= least and other != surface:
                pairs.append((name, surface, other, gap))
    if not pairs:
        raise ValueError("no class differs enough")
    name, old, new, gap = pairs[int(rng.integers(len(pairs)))]
    tables.notes.loc[tables.notes["field"] == name, "surface"] = new
    return record(None, f"{name} noted as {new} in place of {old}", gap, "albedo gap", field=name)


CODES: dict[str, Callable] = {
    "notes-shifted": notes_shifted,
    "notes-shifted/watch": notes_shifted_watch,
    "notes-shifted/day": notes_shifted_day,
    "notes-sets-swapped": notes_sets_swapped,
    "notes-sets-swapped/one-field": notes_sets_swapped_one,
    "notes-overlap": notes_overlap,
    "notes-reversed": notes_reversed,
    "notes-incomplete": notes_incomplete,
    "notes-unknown-name": notes_unknown_name,
    "note-without-data": note_without_data,
    "data-without-note": data_without_note,
    "field-inconsistent": field_inconsistent,
    "field-inconsistent/row": field_exchanged,
    "surface-mislabelled": surface_mislabelled,
}
