"""The field plan as a page: its figures and its tables, from what `headland.plan` works out. Nothing is computed anew here."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from matplotlib import rc_context
from matplotlib.figure import Figure

from headland.field import plan
from headland.report import figures, wording
from headland.report.figures import label

DECIMALS = {"albedo": 3, "surface_temperature": 1, "net_radiation_common_sky": 0}
UNITS = {"albedo": "", "surface_temperature": " K", "net_radiation_common_sky": " W m⁻²"}
TITLES = {
    "albedo": "albedo",
    "surface_temperature": "surface temperature",
    "net_radiation_common_sky": "net, common sky",
}
CAUTIONS = (
    (
        "Heat and sun",
        "Hat, sunscreen, water for everybody; rest in the shade every hour; whoever feels unwell stops, and is not left alone.",
    ),
    (
        "Lightning",
        "A raised mast in an open field attracts it. At the first thunder lay the mast down and go into a building or a car.",
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
SUN_WIDTH = 4.2
"""Inches: the figure of the sun, beside the table of hours."""
LAST_WORD = "Local rules and the responsible person decide."


def local(times, zone: str) -> pd.DatetimeIndex:
    """Times in UTC as local wall time without a zone, for axes and cells."""
    return pd.DatetimeIndex(times).tz_convert(ZoneInfo(zone)).tz_localize(None)


# Figures ---------------------------------------------------------------------------------------------------------


def sun_figure(day: pd.DataFrame, hours: tuple[pd.Timestamp, pd.Timestamp], zone: str) -> Figure:
    """Sun, expected incoming terms and the cost of a degree of tilt against local time; the plan's hours are shaded. day: as `plan.sky` gives it."""
    up = day[day["elevation"] > -3.0]
    x, span = local(up["time_utc"], zone), local(list(hours), zone)
    with rc_context(figures.STYLE):
        figure = Figure(figsize=(SUN_WIDTH, 3.2), layout="constrained")
        high, flux, tilt = figure.subplots(3, 1, sharex=True)
        for ax in (high, flux, tilt):
            ax.axvspan(*span, color="#f3f1ec", zorder=0)
        high.plot(x, up["elevation"], color=figures.COMPONENTS["sw_in"][1])
        marks = up[
            (up["time_utc"].dt.minute == 0) & (up["time_utc"].dt.hour % 2 == 0) & (up["elevation"] > 5.0)
        ]
        for moment, row in zip(local(marks["time_utc"], zone), marks.to_dict("records")):
            high.annotate(
                f"{row['azimuth']:.0f}°",
                (moment, row["elevation"]),
                textcoords="offset points",
                xytext=(0, 4),
                ha="center",
            )
            high.plot(
                [moment], [row["elevation"]], marker="o", markersize=2.5, color=figures.COMPONENTS["sw_in"][1]
            )
        high.set(ylabel="elevation of\nthe sun, °", ylim=(0, max(15.0, up["elevation"].max() * 1.4)))
        for name, column in (("sw_in", "sw_in"), ("lw_in", "lw_in")):
            title, colour, style = figures.COMPONENTS[name]
            flux.plot(x, up[column], color=colour, linestyle=style, label=title)
        flux.set(ylabel="W m⁻²", ylim=(0, None))
        flux.legend(loc="lower center")
        cost = plan.tilt_cost(up)
        relative = np.where(
            up["elevation"] > 10.0, 100.0 * cost / np.maximum(up["sw_in"].to_numpy(), 1.0), np.nan
        )
        tilt.plot(x, relative, color="#1c1c1c")
        tilt.set(
            ylabel="% of SW in\nper ° of tilt",
            xlabel=f"local time ({zone})",
            ylim=(0, min(10.0, np.nanmax(relative, initial=1.0) * 1.1)),
        )
        figures.time_axis(tilt, 6)
    return figure


def heading_figure(fields: pd.DataFrame, day: pd.DataFrame, carrying: Mapping[str, float]) -> Figure:
    """For each field, the reflected light that the carrier's shadow takes against the heading, as a compass; the chosen transect as a line, free directions as ticks.

    fields: field, heading, free (list of degrees). day: the hours of the plan.
    """
    columns = min(4, max(len(fields), 1))
    rows = math.ceil(len(fields) / columns)
    around = np.arange(0.0, 361.0, 5.0)
    loss = 100.0 * plan.shade_loss(around, day, carrying)
    middle, most = loss.mean(axis=1), loss.max(axis=1)
    top = max(1.0, float(most.max()) * 1.05)
    with rc_context(figures.STYLE):
        figure = Figure(figsize=(figures.WIDTH, 1.7 * rows), layout="constrained")
        axes = figure.subplots(rows, columns, subplot_kw={"projection": "polar"}, squeeze=False).ravel()
        for ax, row in zip(axes, fields.to_dict("records")):
            ax.set_theta_zero_location("N")
            ax.set_theta_direction(-1)
            ax.fill(np.radians(around), most, color="#d9d9d9", label="worst hour")
            ax.fill(
                np.radians(around),
                middle,
                facecolor=figures.COMPONENTS["sw_out"][1],
                edgecolor="#5c3a00",
                label="mean",
                hatch="////",
                linewidth=0,
            )
            for direction in (row["heading"], row["heading"] + 180.0):
                ax.plot(np.radians([direction, direction]), [0, top], color="#17506b", linewidth=2.0)
            for direction in row["free"]:
                ax.plot(np.radians([direction] * 2), [0.92 * top, top], color="#1c1c1c", linewidth=0.8)
                ax.plot(
                    np.radians([direction + 180.0] * 2), [0.92 * top, top], color="#1c1c1c", linewidth=0.8
                )
            ax.set_rlim(0, top)
            ax.set_rticks([top / 2.0, top], ["", f"{top:.1f} %"])
            ax.set_xticks(np.radians([0, 90, 180, 270]), ["N", "E", "S", "W"])
            ax.set_title(figures.shortened(row["field"], 22), fontsize=8)
        for ax in axes[len(fields) :]:
            ax.set_axis_off()
    return figure


# Tables and sentences ----------------------------------------------------------------------------------------------


def hours_when(day: pd.DataFrame, good, zone: str) -> str:
    """The stretches of the day in which something holds, in local time: `11:20 to 14:45`."""
    index = np.flatnonzero(good)
    if not len(index):
        return "at no hour"
    parts = np.split(index, np.flatnonzero(np.diff(index) > 1) + 1)
    times = local(day["time_utc"], zone)
    return wording.listed([f"{times[p[0]]:%H:%M} to {times[p[-1]]:%H:%M}" for p in parts])


def cheap_hours(day: pd.DataFrame, zone: str) -> str:
    """The hours in which a degree of tilt costs least, as a share of what arrives."""
    lit = (day["elevation"] > 10.0).to_numpy()
    cost = np.where(lit, plan.tilt_cost(day) / np.maximum(day["sw_in"].to_numpy(), 1.0), np.inf)
    return hours_when(day, cost <= plan.CHEAP_TILT * cost.min(), zone) if lit.any() else "at no hour"


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
    """A row a field: surface, length, the transect's two headings, what the shadow takes, and which headings of the compass keep it out."""
    around = np.arange(0.0, 360.0, 5.0)
    compass = plan.shade_loss(around, day, carrying).mean(axis=1)
    free_of_shadow = around[compass <= plan.LITTLE_SHADOW * compass.min()]
    rows = []
    for row in fields.to_dict("records"):
        both = sorted({float(x) % 360.0 for h in row["free"] for x in (h, h + 180.0)})
        lost = plan.shade_loss(both, day, carrying).mean(axis=1)
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
    cost = plan.tilt_cost(day)
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
        for t, row, c in zip(local(day.loc[full, "time_utc"], zone), day[full].to_dict("records"), cost[full])
    ]


def pair_rows(differences: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> list[dict]:
    """A row a pair of surfaces: for each quantity the expected difference with the half width planned, and what number of passes tells it."""
    rows = []
    for (a, b), part in differences.groupby(["surface_a", "surface_b"], sort=False):
        cells = {}
        for row in part.to_dict("records"):
            name, needed, d = row["quantity"], row["passes_needed"], DECIMALS[row["quantity"]]
            if not math.isfinite(row["half_width"]):
                word, told = "can't be said: too little ground", False
            elif not math.isfinite(needed):
                word, told = "no number of passes", False
            else:
                told = needed <= row["passes"]
                word = f"{'yes' if told else 'no'}: {needed:.0f} pass{'es' if needed > 1 else ''}"
            cells[name] = {
                "value": f"{wording.number(row['difference'], d)} ± {wording.number(row['half_width'], d)}{UNITS[name]}",
                "word": word,
                "told": told,
            }
        rows.append(
            {
                "pair": f"{label(surfaces, a)} – {label(surfaces, b)}",
                "passes": f"{int(part['passes'].iloc[0])}",
                "cells": cells,
            }
        )
    return rows


def visit_rows(visits: pd.DataFrame, zone: str) -> list[dict[str, str]]:
    """The timetable in local time, a row a visit: passes of one visit stand together, and what sets do at the same time and place."""
    rows = []
    for row in visits.sort_values(["set", "start_utc"], kind="stable").to_dict("records"):
        start, end = local([row["start_utc"], row["end_utc"]], zone)
        last = rows[-1] if rows else None
        if last and row["activity"] == "walk" and last["key"] == (row["set"], row["field"], row["transect"]):
            last["end"], last["headings"] = f"{end:%H:%M}", f"{last['headings']}, {row['heading']:.0f}°"
            continue
        same = next(
            (
                r
                for r in rows
                if row["activity"] not in ("walk", "sky_monitor")
                and r["key"] == (row["start_utc"], row["activity"])
            ),
            None,
        )
        if same:
            same["set"] = f"{same['set']}, {row['set']}"
            same["remark"] += f", then {row['remark']}" if row["remark"] != same["remark"] else ""
            continue
        rows.append(
            {
                "key": (row["set"], row["field"], row["transect"])
                if row["activity"] == "walk"
                else (row["start_utc"], row["activity"]),
                "order": row["start_utc"],
                "set": row["set"],
                "start": f"{start:%H:%M}",
                "end": f"{end:%H:%M}",
                "field": row["field"],
                "activity": row["activity"].replace("_", " "),
                "transect": row["transect"],
                "headings": "" if math.isnan(row["heading"]) else f"{row['heading']:.0f}°",
                "remark": row["remark"],
            }
        )
    return sorted(rows, key=lambda row: (row["order"], row["set"]))
