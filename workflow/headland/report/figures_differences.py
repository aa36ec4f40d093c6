"""The figure of albedo against surface temperature, a point a field."""

from __future__ import annotations

from collections.abc import Mapping

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from headland.report.figures import (
    DOUBTFUL,
    HALF,
    LETTER,
    NAME_HEIGHT,
    STYLE,
    label,
    line_colour,
    look,
    nothing,
    shortened,
)
from headland.report.wording import PROVISIONAL

Box = tuple[float, float, float, float]
"""Left, lower, width and height of a text, inches."""
LEFT, BOTTOM, SIZE, HEIGHT = 0.62, 0.44, (HALF - 0.7, 2.85), 3.35
"""Inches: the frame within the figure."""


def free_place(
    taken: list[Box], point: tuple[float, float], size: tuple[float, float]
) -> tuple[float, float] | None:
    """Where a text beside a point meets neither other texts nor the frame: its lower left corner, inches;
    None where nowhere.
    """
    (x, y), (width, height) = point, size
    for dx, dy in (
        (0.08, 0.05),
        (0.08, -0.05 - height),
        (-0.08 - width, 0.05),
        (-0.08 - width, -0.05 - height),
        (-width / 2, 0.1),
        (-width / 2, -0.1 - height),
        (-min(x, 0.3 * width), 0.1),
        (-min(x, 0.3 * width), -0.1 - height),
        (0.14, -height / 2),
        (-0.14 - width, -height / 2),
    ):
        box = (x + dx, y + dy, width, height)
        if _inside(box) and not any(_meet(box, other) for other in taken):
            return box[:2]
    return None


def _inside(box: Box) -> bool:
    return box[0] >= 0 and box[0] + box[2] <= SIZE[0] and box[1] >= 0 and box[1] + box[3] <= SIZE[1]


def _meet(a: Box, b: Box) -> bool:
    across = a[0] + a[2] > b[0] and b[0] + b[2] > a[0]
    return across and a[1] + a[3] > b[1] and b[1] + b[3] > a[1]


def _range(rows: pd.DataFrame, quantity: str, least: float) -> tuple[float, float]:
    """The ends of an axis that holds all values and intervals."""
    values = rows[[quantity, f"{quantity}_low", f"{quantity}_high"]].to_numpy(float)
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    pad = 0.14 * (high - low) or least
    return low - pad, high + pad


def albedo_temperature(fields: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Albedo against surface temperature, a point a field with its intervals, named by its surface where
    there is room.
    """
    rows = fields.dropna(subset=["albedo", "surface_temperature"])
    if not len(rows):
        return nothing("No field has both an albedo and a surface temperature.")
    ends = (_range(rows, "albedo", 0.05), _range(rows, "surface_temperature", 1.0))
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(HALF, HEIGHT))
        axes = figure.add_axes((LEFT / HALF, BOTTOM / HEIGHT, SIZE[0] / HALF, SIZE[1] / HEIGHT))
        axes.set(xlim=ends[0], ylim=ends[1], xlabel="albedo", ylabel="surface temperature, °C")
        axes.locator_params(axis="x", nbins=5)
        points = []
        for row in rows.to_dict("records"):
            _point(axes, row, surfaces)
            places = (row["albedo"], row["surface_temperature"])
            points.append(
                tuple(
                    (place - low) / (high - low) * room
                    for place, (low, high), room in zip(places, ends, SIZE, strict=True)
                )
            )
        _name_points(axes, rows, points, surfaces)
    return figure


def _point(axes, row: Mapping, surfaces: Mapping[str, Mapping]) -> None:
    colour, marker = look(surfaces, row["surface"])
    doubtful = row.get("state") == PROVISIONAL
    line = DOUBTFUL if doubtful else line_colour(colour)
    x, y = row["albedo"], row["surface_temperature"]
    axes.plot([row["albedo_low"], row["albedo_high"]], [y, y], color=line, lw=1)
    axes.plot([x, x], [row["surface_temperature_low"], row["surface_temperature_high"]], color=line, lw=1)
    fill, edge = ("white", DOUBTFUL) if doubtful else (colour, "black")
    axes.plot([x], [y], marker=marker, mfc=fill, mec=edge, mew=0.5, ms=7, ls="none")


def _name_points(axes, rows: pd.DataFrame, points: list[tuple], surfaces: Mapping[str, Mapping]) -> None:
    """The name of its surface beside each point; of several fields of one surface only the first is named."""
    taken = [(x - 0.06, y - 0.06, 0.12, 0.12) for x, y in points]
    named: set[str] = set()
    for surface, point in zip(rows["surface"], points, strict=True):
        text = shortened(label(surfaces, surface), 18)
        size = (LETTER * len(text), NAME_HEIGHT)
        place = None if surface in named else free_place(taken, point, size)
        if place:
            named.add(surface)
            taken.append((*place, *size))
            axes.text(place[0] / SIZE[0], place[1] / SIZE[1], text, transform=axes.transAxes, va="bottom")
