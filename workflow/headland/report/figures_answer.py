"""The dots of the first page: an axis over the column and a value with its interval in each row, on one
scale.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd
from matplotlib.markers import MarkerStyle
from matplotlib.path import Path
from matplotlib.ticker import MaxNLocator

from headland.report.differences import COMMON
from headland.report.figures import DOUBTFUL, SIZE, line_colour, look
from headland.report.wording import PROVISIONAL, number

ACROSS = 112.0
"""Points: the width of the column."""
MARGIN = 9.0
ROW, HEAD = 12.0, 14.0
"""Points: heights of a row's picture and of the axis."""
RADIUS = 3.4


class Scale(NamedTuple):
    """From a value to a place across the column."""

    low: float
    high: float

    def place(self, value: float) -> float:
        """Points from the left edge."""
        return MARGIN + (value - self.low) / (self.high - self.low) * (ACROSS - 2 * MARGIN)


def scale_of(table: pd.DataFrame) -> Scale | None:
    """The scale that holds all values and intervals; None where there is no value."""
    values = table[[COMMON, f"{COMMON}_low", f"{COMMON}_high"]].to_numpy(float)
    values = values[np.isfinite(values)]
    if not len(values):
        return None
    low, high = float(values.min()), float(values.max())
    pad = 0.03 * (high - low) or 1.0
    return Scale(low - pad, high + pad)


def _svg(height: float, inside: str) -> str:
    size = f'width="{ACROSS:g}pt" height="{height:g}pt" viewBox="0 0 {ACROSS:g} {height:g}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{inside}</svg>'


def axis(scale: Scale) -> str:
    """The axis at the head of the column, as SVG."""
    ticks = [t for t in MaxNLocator(3).tick_values(scale.low, scale.high) if scale.low <= t <= scale.high]
    parts = [f'<path d="M{MARGIN:g} {HEAD - 0.5:g}H{ACROSS - MARGIN:g}" stroke="#1c1c1c" stroke-width=".8"/>']
    for tick in ticks:
        x = scale.place(tick)
        parts.append(f'<path d="M{x:.2f} {HEAD - 4:g}V{HEAD:g}" stroke="#1c1c1c" stroke-width=".8"/>')
        parts.append(
            f'<text x="{x:.2f}" y="{HEAD - 5.5:g}" text-anchor="middle" font-size="{SIZE:g}" '
            f'font-family="\'DejaVu Sans\', Verdana, sans-serif" fill="#1c1c1c">{number(tick, 0)}</text>'
        )
    return _svg(HEAD, "".join(parts))


def row(values: Mapping, scale: Scale, surfaces: Mapping[str, Mapping]) -> str:
    """One surface's value with its interval, as SVG. What an error makes doubtful is grey and hollow."""
    colour, marker = look(surfaces, values["surface"])
    doubtful = values.get("state") == PROVISIONAL
    line, fill, edge = (
        (DOUBTFUL, "#ffffff", DOUBTFUL) if doubtful else (line_colour(colour), colour, "#000000")
    )
    middle, parts = ROW / 2, []
    low, high, value = (values[f"{COMMON}{end}"] for end in ("_low", "_high", ""))
    if math.isfinite(low) and math.isfinite(high):
        span = f"M{scale.place(low):.2f} {middle:g}H{scale.place(high):.2f}"
        parts.append(f'<path d="{span}" stroke="{line}" stroke-width="2.2" fill="none"/>')
    if math.isfinite(value):
        shape = outline(marker, scale.place(value), middle)
        parts.append(f'<path d="{shape}" fill="{fill}" stroke="{edge}" stroke-width=".6"/>')
    return _svg(ROW, "".join(parts))


def outline(marker: str, x: float, y: float) -> str:
    """The outline of a marker around a place, as the path of an SVG."""
    style = MarkerStyle(marker)
    path = style.get_path().transformed(style.get_transform())
    reach = np.abs(path.vertices).max() or 1.0
    parts = []
    letters = {Path.MOVETO: "M", Path.LINETO: "L", Path.CURVE3: "Q", Path.CURVE4: "C", Path.CLOSEPOLY: "Z"}
    for points, code in path.iter_segments(simplify=False, curves=True):
        places = points.reshape(-1, 2) / reach * RADIUS
        text = " ".join(f"{x + dx:.2f} {y - dy:.2f}" for dx, dy in places)
        parts.append("Z" if code == Path.CLOSEPOLY else letters[code] + text)
    return "".join(parts)
