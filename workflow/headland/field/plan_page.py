"""The tables and sentences of a plan's page, from what the modules `day`, `timetable` and `expected` work
out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from headland.field import day as days
from headland.field.plan_figures import local
from headland.report.figures import label
from headland.report.wording import listed, number

DECIMALS = {"albedo": 3, "surface_temperature": 1, "net_radiation_common_sky": 0}
UNITS = {"albedo": "", "surface_temperature": "K", "net_radiation_common_sky": "W m⁻²"}
TITLES = {
    "albedo": "albedo",
    "surface_temperature": "surface temperature",
    "net_radiation_common_sky": "net radiation",
}
COURSE_OF_TITLE = {
    "albedo": "albedo",
    "surface_temperature": "surface_temperature",
    "net_radiation_common_sky": "net_radiation",
}
"""The row of course.csv for each quantity of the page."""
CAUTIONS = (
    (
        "Heat and sun",
        "Hat, sunscreen, water for everybody; rest in the shade every hour. "
        "Whoever feels unwell stops, and is not left alone.",
    ),
    (
        "Lightning",
        "A raised mast in an open field attracts it. "
        "At the first thunder lay the mast down and go into a building or a car.",
    ),
    (
        "Traffic",
        "Wear something bright on roads and yards; one person watches while the other looks at the level.",
    ),
    (
        "Livestock",
        "Ask which animals are in the field; keep gates as found; no dog, no way between a cow and her calf.",
    ),
    ("Water", "At banks and on boats nobody works alone; wear a life jacket where it is deep or runs."),
    (
        "Permission",
        "Ask the owner or tenant of each field, also for the path to it; leave crops as they are.",
    ),
)
LAST_WORD = "Local rules and the responsible person decide."


def hours_when(day: pd.DataFrame, good, zone: str) -> str:
    """The stretches of the day in which something holds, in local time: `11:20 to 14:45`."""
    index = np.flatnonzero(good)
    if not len(index):
        return "at no hour"
    parts = np.split(index, np.flatnonzero(np.diff(index) > 1) + 1)
    times = local(day["time_utc"], zone)
    return listed([f"{times[p[0]]:%H:%M} to {times[p[-1]]:%H:%M}" for p in parts])


def cheap_hours(day: pd.DataFrame, zone: str) -> str:
    """The hours in which a degree of tilt costs least, as a share of what arrives."""
    lit = (day["elevation"] > 10.0).to_numpy()
    cost = np.where(lit, days.tilt_cost(day) / np.maximum(day["sw_in"].to_numpy(), 1.0), np.inf)
    return hours_when(day, cost <= days.CHEAP_TILT * cost.min(), zone) if lit.any() else "at no hour"


def directions(degrees: Sequence[float]) -> str:
    """Directions in order, with stretches of 5 degree steps as ranges."""
    found: list[list[float]] = []
    for x in sorted(degrees):
        if found and x - found[-1][-1] <= 5.0:
            found[-1].append(x)
        else:
            found.append([x])
    if len(found) > 1 and found[0][0] + 360.0 - found[-1][-1] <= 5.0:
        found[0] = found.pop() + found[0]
    return ", ".join(
        f"{part[0]:.0f}°" if len(part) == 1 else f"{part[0]:.0f}° to {part[-1]:.0f}°" for part in found
    )


def field_rows(
    fields: pd.DataFrame, day: pd.DataFrame, carrying: Mapping[str, float], surfaces: Mapping[str, Mapping]
) -> list[dict[str, str]]:
    """A row a field: surface, length, both headings of the transect, what the shadow takes, and headings
    without it."""
    around = np.arange(0.0, 360.0, 5.0)
    compass = days.shade_loss(around, day, carrying).mean(axis=1)
    free_of_shadow = around[compass <= days.LITTLE_SHADOW * compass.min()]
    rows = []
    for row in fields.to_dict("records"):
        both = sorted({float(x) % 360.0 for h in row["free"] for x in (h, h + 180.0)})
        lost = days.shade_loss(both, day, carrying).mean(axis=1)
        rows.append(
            {
                "field": row["field"],
                "surface": label(surfaces, row["surface"]),
                "length": f"{row['length']:.0f} m",
                "heading": f"{row['heading']:.0f}° and {(row['heading'] + 180.0) % 360.0:.0f}°",
                "loss": f"{100 * row['there']:.1f} and {100 * row['back']:.1f} %",
                "one_way": f"{both[int(np.argmin(lost))]:.0f}° ({100 * lost.min():.1f} %)",
                "out": directions(
                    [h for h in both if np.abs((free_of_shadow - h + 180.0) % 360.0 - 180.0).min() <= 2.5]
                )
                or "none of its own",
            }
        )
    return rows


def hour_rows(day: pd.DataFrame, zone: str) -> list[dict[str, str]]:
    """A row each full hour of the plan: sun, expected incoming terms, cost of a degree of tilt."""
    cost = days.tilt_cost(day)
    full = (day["time_utc"].dt.minute == 0).to_numpy()
    return [
        {
            "time": f"{t:%H:%M}",
            "elevation": f"{row['elevation']:.0f}°",
            "azimuth": f"{row['azimuth']:.0f}°",
            "sw_in": f"{row['sw_in']:.0f}",
            "lw_in": f"{row['lw_in']:.0f}",
            "tilt": f"{c:.0f}",
        }
        for t, row, c in zip(
            local(day.loc[full, "time_utc"], zone), day[full].to_dict("records"), cost[full], strict=True
        )
    ]


def order_rows(open_: pd.DataFrame) -> list[dict]:
    """A row an order of visits: for each quantity the half width that the course alone gives, as text.

    open_: as `orders.left_open` gives it.
    """
    return [
        {
            "order": row["order"],
            "cells": {name: f"± {number(row[key], DECIMALS[name])}" for name, key in COURSE_OF_TITLE.items()},
        }
        for row in open_.to_dict("records")
    ]


def pair_rows(differences: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> list[dict]:
    """A row a pair of surfaces: for each quantity the expected difference ± its half width, and the passes it
    needs."""
    return [
        {
            "pair": f"{label(surfaces, str(a))} − {label(surfaces, str(b))}",
            "passes": f"{int(part['passes'].iloc[0])}",
            "cells": {row["quantity"]: _pair_cell(row) for row in part.to_dict("records")},
        }
        for (a, b), part in differences.groupby(["surface_a", "surface_b"], sort=False)
    ]


def _pair_cell(row: Mapping) -> dict[str, object]:
    """The expected difference in words, and whether the passes planned are enough."""
    needed, decimals = row["passes_needed"], DECIMALS[row["quantity"]]
    enough = needed <= row["passes"]
    if not math.isfinite(row["half_width"]):
        word = "too little ground"
    elif not math.isfinite(needed):
        word = "never"
    else:
        word = f"{needed:.0f} pass{'es' if needed > 1 else ''}"
    ends = f"{number(row['difference'], decimals)} ± {number(row['half_width'], decimals)}"
    return {"value": ends, "word": word, "told": bool(enough and math.isfinite(row["half_width"]))}


def visit_rows(visits: pd.DataFrame, zone: str) -> list[dict]:
    """The timetable in local time, a row a visit.

    The passes of one visit share a row, and so does what several sets do at the same time and place.
    """
    rows: list[dict] = []
    for row in visits.sort_values(["set", "start_utc"], kind="stable").to_dict("records"):
        walk = row["activity"] == "walk"
        key = (row["set"], row["field"], row["transect"]) if walk else (row["start_utc"], row["activity"])
        start, end = local([row["start_utc"], row["end_utc"]], zone)
        if walk and rows and rows[-1]["key"] == key:
            rows[-1]["end"] = f"{end:%H:%M}"
            rows[-1]["headings"] += f", {row['heading']:.0f}°"
            continue
        together = [r for r in rows if r["key"] == key and row["activity"] not in ("walk", "sky_monitor")]
        if together:
            together[0]["set"] += f", {row['set']}"
            together[0]["remark"] += (
                f", then {row['remark']}" if row["remark"] != together[0]["remark"] else ""
            )
            continue
        rows.append(
            {
                "key": key,
                "order": row["start_utc"],
                "start": f"{start:%H:%M}",
                "end": f"{end:%H:%M}",
                "activity": row["activity"].replace("_", " "),
                "headings": "" if math.isnan(row["heading"]) else f"{row['heading']:.0f}°",
                **{name: row[name] for name in ("set", "field", "transect", "remark")},
            }
        )
    return sorted(rows, key=lambda row: (row["order"], row["set"]))
