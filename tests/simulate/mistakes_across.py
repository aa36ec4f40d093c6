"""Mistakes that show only when sources are held against each other: notes, loggers, sets, sun, station.

Each function takes a sound simulated campaign and returns a damaged one; the given one stays as it is.
"""

from __future__ import annotations

import copy
import dataclasses
import datetime as dt

import numpy as np
import pandas as pd

from .campaign import Campaign
from .files import iso
from .sky import sun


def _copy(campaign: Campaign) -> Campaign:
    return dataclasses.replace(
        campaign,
        settings=copy.deepcopy(campaign.settings),
        register=campaign.register.copy(),
        notes=campaign.notes.copy(),
        records={name: frame.copy() for name, frame in campaign.records.items()},
    )


def _moved(date: str, time: str, seconds: float) -> dt.datetime:
    text = time if len(time) > 8 else f"{date} {time}"
    form = "%Y-%m-%d %H:%M:%S" if text.count(":") == 2 else "%Y-%m-%d %H:%M"
    return dt.datetime.strptime(text, form) + dt.timedelta(seconds=seconds)


def _write_times(notes: pd.DataFrame, index, seconds: float) -> None:
    row = notes.loc[index]
    start = _moved(row["date"], row["start"], seconds)
    if row["end"]:
        end = _moved(row["date"], row["end"], seconds)
        notes.loc[index, "end"] = end.strftime(
            "%H:%M:%S" if end.date() == start.date() else "%Y-%m-%d %H:%M:%S"
        )
    notes.loc[index, ["date", "start"]] = [start.strftime("%Y-%m-%d"), start.strftime("%H:%M:%S")]


def notes_late(
    campaign: Campaign, seconds: float, sets: tuple[str, ...] | None = None, checks: bool = True
) -> Campaign:
    """Whoever noted had a watch that was fast by so many seconds. checks: whether the clock checks were
    read on the same watch."""
    out = _copy(campaign)
    for index, row in campaign.notes.iterrows():
        if (sets is None or row["set"] in sets) and (checks or row["activity"] != "clock_check"):
            _write_times(out.notes, index, seconds)
    return out


def without_checks(campaign: Campaign) -> Campaign:
    """Nobody read the clocks."""
    out = _copy(campaign)
    out.notes = out.notes[out.notes["activity"] != "clock_check"].reset_index(drop=True)
    return out


def sets_swapped(campaign: Campaign, a: str, b: str) -> Campaign:
    """Who noted took the one set for the other."""
    out = _copy(campaign)
    out.notes["set"] = out.notes["set"].replace({a: b, b: a})
    return out


def note_forgotten(campaign: Campaign, index: int) -> Campaign:
    """A row of the notes is missing."""
    out = _copy(campaign)
    out.notes = out.notes.drop(out.notes.index[index]).reset_index(drop=True)
    return out


def storage_forgotten(campaign: Campaign, set_name: str, run: int) -> Campaign:
    """The storage was never switched on for one run."""
    out = _copy(campaign)
    keep = (campaign.records[set_name]["run"] != run).to_numpy()
    out.records[set_name] = campaign.records[set_name][keep].reset_index(drop=True)
    return out


def note_changed(campaign: Campaign, index: int, **cells: str) -> Campaign:
    """Cells of one row of the notes read otherwise: a slip of the pen."""
    out = _copy(campaign)
    for column, text in cells.items():
        out.notes.loc[out.notes.index[index], column] = text
    return out


def overlapping(campaign: Campaign, index: int) -> Campaign:
    """A walk is noted to begin before the walk of the same set before it ended; the rows are found from
    `index` on."""
    notes = campaign.notes
    own = notes[(notes["set"] == notes.iloc[index]["set"]) & (notes["activity"] != "clock_check")]
    first, second = own.iloc[0], own.iloc[1]
    early = _moved(first["date"], first["end"], -20)
    return note_changed(
        campaign,
        notes.index.get_loc(second.name),
        start=early.strftime("%H:%M:%S"),
        date=early.strftime("%Y-%m-%d"),
    )


def mislabelled(campaign: Campaign, field: str, surface: str) -> Campaign:
    """A field is noted as a class that it is not."""
    out = _copy(campaign)
    out.notes.loc[out.notes["field"] == field, "surface"] = surface
    return out


def logger_late(campaign: Campaign, set_name: str, seconds: float, checks: bool = False) -> Campaign:
    """A logger's clock shows so many seconds more than it should. checks: whether the clock checks show it,
    too."""
    out = _copy(campaign)
    out.records[set_name]["stamp"] = out.records[set_name]["stamp"] + np.timedelta64(
        int(round(seconds * 1e6)), "us"
    )
    for index, row in campaign.notes.iterrows():
        if checks and row["set"] == set_name and row["activity"] == "clock_check":
            out.notes.loc[index, "logger_shows"] = _moved(
                "2000-01-02", row["logger_shows"], seconds
            ).strftime("%H:%M:%S")
    return out


def head_shaded(
    campaign: Campaign, set_name: str, run: int, at: float, lasts: float, *, share: float
) -> Campaign:
    """Something stood between the sun and the upper shortwave head: from `at` s of a run on, for `lasts` s,
    only a share of the signal was left."""
    out = _copy(campaign)
    records = out.records[set_name]
    rows = np.flatnonzero(records["run"] == run)
    per_second = 1.0 / next(s.interval for s in campaign.spec.sets if s.name == set_name)
    rows = rows[int(at * per_second) : int((at + lasts) * per_second)]
    column = records["sw_in"].to_numpy(float).copy()
    column[rows] *= share
    records["sw_in"] = column
    return out


def scaled(campaign: Campaign, set_name: str, channel: str, by: float) -> Campaign:
    """A head gives so many times what it should, as after a blow or with a cracked dome."""
    out = _copy(campaign)
    out.records[set_name][channel] = out.records[set_name][channel] * by
    return out


def tilted(campaign: Campaign, set_name: str, degrees: float, towards: float = 0.0) -> Campaign:
    """The upper head leans by so many degrees; `towards` is the direction of its lean, in degrees to the
    right of straight ahead."""
    out = _copy(campaign)
    spec, true = campaign.spec, campaign.samples[set_name]
    known = {f.name: f for f in spec.fields}
    forward = np.full(len(true), np.nan)
    for number, visit in enumerate(spec.visits):
        if visit.set == set_name and visit.field:
            own = known[visit.field].heading if visit.heading is None else visit.heading
            forward[(true["visit"] == number).to_numpy()] = (own + 180.0 * visit.backwards) % 360
    forward = np.radians(pd.Series(forward).ffill().bfill().to_numpy())
    up, azimuth, _ = sun(true["time_utc"].to_numpy(), spec.site.latitude, spec.site.longitude)
    ray = np.stack([np.cos(up) * np.sin(azimuth), np.cos(up) * np.cos(azimuth), np.sin(up)])
    lean, way = np.radians(degrees), forward + np.radians(towards)
    axis = np.stack(
        [np.sin(lean) * np.sin(way), np.sin(lean) * np.cos(way), np.full(len(true), np.cos(lean))]
    )
    falls = np.maximum(np.sum(ray * axis, axis=0), 0.0) - np.sin(up)
    change = 1.0 + true["beam"].to_numpy() * falls / np.maximum(true["sw_in"].to_numpy(), 1.0)
    out.records[set_name]["sw_in"] = out.records[set_name]["sw_in"] * np.where(up > 0.02, change, 1.0)
    return out


def station(campaign: Campaign, set_name: str, by: float = 1.0, step: float = 60.0) -> pd.DataFrame:
    """station.csv: what a fixed station beside one set's way read while that set recorded, a row at the end
    of each step. by: times the truth."""
    true = campaign.samples[set_name]
    rows = true.groupby(np.ceil(true["time_utc"] / step) * step)[
        ["sw_in", "sw_out", "lw_in", "lw_out"]
    ].mean()
    return pd.DataFrame(
        {
            "time_utc": [iso(t) for t in rows.index],
            **{name: (rows[name] * by).round(2).to_numpy() for name in rows},
        }
    )
