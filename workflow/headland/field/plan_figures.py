"""The two figures of a plan: the sun of the day, and the carrier's shadow against the heading."""

from __future__ import annotations

import math
from collections.abc import Mapping
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from matplotlib import rc_context
from matplotlib.figure import Figure

from headland.field import day as days
from headland.report import figures

SUN_WIDTH = 4.2
"""Inches: the figure of the sun, beside the table of hours."""


def local(times, zone: str) -> pd.DatetimeIndex:
    """Times in UTC as local wall time without a zone, for axes and cells."""
    return pd.DatetimeIndex(times).tz_convert(ZoneInfo(zone)).tz_localize(None)


def sun_figure(day: pd.DataFrame, hours: tuple[pd.Timestamp, pd.Timestamp], zone: str) -> Figure:
    """Sun, expected incoming terms and the cost of a degree of tilt against local time, with the plan's hours
    shaded.

    day: as `day.sky` gives it.
    """
    up = day[day["elevation"] > -3.0]
    x, span = local(up["time_utc"], zone), local(list(hours), zone)
    with rc_context(figures.STYLE):
        figure = Figure(figsize=(SUN_WIDTH, 2.7), layout="constrained")
        high, flux, tilt = figure.subplots(3, 1, sharex=True)
        for ax in (high, flux, tilt):
            ax.axvspan(*span, color="#f3f1ec", zorder=0)
        high.plot(x, up["elevation"], color=figures.COMPONENTS["sw_in"][1])
        marks = up[
            (up["time_utc"].dt.minute == 0) & (up["time_utc"].dt.hour % 2 == 0) & (up["elevation"] > 5.0)
        ]
        for moment, row in zip(local(marks["time_utc"], zone), marks.to_dict("records"), strict=True):
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
        cost = days.tilt_cost(up)
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


ACROSS, NARROW = 8, 5
"""Compasses in a row at most, and in a row of large ones."""


AROUND = np.arange(0.0, 361.0, 5.0)
"""Headings of a compass, degrees."""


def compass_edge(most: np.ndarray) -> float:
    """The share at the edge of every compass, %. most: of the worst hour, %, by heading."""
    return max(1.0, float(np.max(most)) * 1.05)


def heading_figure(fields: pd.DataFrame, day: pd.DataFrame, carrying: Mapping[str, float]) -> Figure:
    """For each field, the reflected light that the carrier's shadow takes against the heading, as a compass;
    the chosen transect as a line, free directions as ticks.

    fields: field, heading, free (list of degrees). day: the hours of the plan.
    """
    columns = min(ACROSS, max(len(fields), 1))
    rows = math.ceil(len(fields) / columns)
    around = AROUND
    loss = 100.0 * days.shade_loss(around, day, carrying)
    middle, most = loss.mean(axis=1), loss.max(axis=1)
    top = compass_edge(most)
    height = 1.2 if columns > NARROW else 1.7
    with rc_context(figures.STYLE):
        figure = Figure(figsize=(figures.WIDTH, height * rows), layout="constrained")
        axes = figure.subplots(rows, columns, subplot_kw={"projection": "polar"}, squeeze=False).ravel()
        for ax, row in zip(axes, fields.to_dict("records"), strict=False):  # axes may be more
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
            ax.set_rticks([top / 2.0, top], ["", ""])
            ax.set_xticks(np.radians([0, 90, 180, 270]), ["", "", "", ""])
            ax.set_title(figures.shortened(row["field"], 13 if columns > NARROW else 22), fontsize=8)
        for ax in axes[len(fields) :]:
            ax.set_axis_off()
    return figure
