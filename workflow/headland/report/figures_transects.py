"""The four components of each segment along its transect: small panels of one scale, drawn into one frame in
inches.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from headland.base.flags import has_any
from headland.report.figures import COMPONENTS, FLAGGED, GUARD, STYLE, WIDTH, bars, fitted, runs, thinned

ACROSS, MOST = 4, 24
"""Panels side by side, and on one page at most."""
POINTS = 120
"""Points of a line."""
LEFT, TOP, GAP = 0.5, 0.36, 0.14
"""Inches: room for the scale, for the legend, and between panels."""
PANEL, TITLE, FOOT = 0.86, 0.17, 0.2
"""Inches: heights of a panel, of its title and of the numbers below it."""


class Scale(NamedTuple):
    """The scale that all panels of a set share, W m-2."""

    low: float
    high: float

    def place(self, values) -> np.ndarray:
        """Inches above the foot of a panel."""
        return (np.asarray(values, float) - self.low) / (self.high - self.low) * PANEL


def transects(noted: pd.DataFrame, frame: pd.DataFrame, excluded: np.ndarray) -> list[Figure]:
    """The components of each segment of one set, as few pages as hold them, evenly filled.

    Edges are shaded, flagged samples are hatched. All segments of a set share one scale, so that the eye can
    compare them.

    Parameters
    ----------
    noted : the set's noted intervals
    frame : its samples of step 5
    excluded : which of them are not used
    """
    frame = frame.assign(excluded=excluded, edge=has_any(frame["flags"], {"edge"}))
    parts = {str(name): part for name, part in frame[frame["segment"] != ""].groupby("segment")}
    rows = [row for row in noted.to_dict("records") if row["segment"] in parts]
    if not rows:
        return []
    values = frame.loc[frame["segment"] != "", list(COMPONENTS)].to_numpy(float)
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if len(known) else (0.0, 1.0)
    pad = 0.04 * max(high - low, 1.0)
    scale = Scale(low - pad, high + pad)
    pages = np.array_split(np.arange(len(rows)), -(-len(rows) // MOST))
    return [_page([rows[place] for place in page], parts, scale) for page in pages]


def _page(rows: Sequence[Mapping], parts: Mapping[str, pd.DataFrame], scale: Scale) -> Figure:
    lines = -(-len(rows) // ACROSS)
    pitch = PANEL + TITLE + FOOT
    height = TOP + lines * pitch
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, height))
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set(xlim=(0, WIDTH), ylim=(0, height))
        axes.set_axis_off()
        width = (WIDTH - LEFT - 0.05 - GAP * (ACROSS - 1)) / ACROSS
        for place, row in enumerate(rows):
            line, column = divmod(place, ACROSS)
            corner = (LEFT + column * (width + GAP), height - TOP - line * pitch - TITLE - PANEL)
            _panel(axes, row, parts[row["segment"]], scale, (*corner, width))
            if column == 0:
                _numbers(axes, scale, corner)
        _legend(figure)
    return figure


def _positions(part: pd.DataFrame) -> tuple[np.ndarray, str]:
    """Where each sample of a segment is: along the transect in m, or, where the set stood, in minutes or
    hours.
    """
    if part["position"].notna().all() and part["position"].min() < part["position"].max():
        return part["position"].to_numpy(float), "m"
    seconds = (part["time_utc"] - part["time_utc"].iloc[0]).dt.total_seconds().to_numpy()
    return (seconds / 60.0, "min") if seconds[-1] < 7200 else (seconds / 3600.0, "h")


def _panel(
    axes: Axes, row: Mapping, part: pd.DataFrame, scale: Scale, box: tuple[float, float, float]
) -> None:
    left, foot, width = box
    x, unit = _positions(part)
    reach = float(np.ptp(x)) or 1.0
    across = left + (x - x.min()) / reach * width
    half = width / max(len(x) - 1, 1) / 2.0
    for mask, style in (
        (part["excluded"] & part["edge"], {"facecolor": GUARD, "lw": 0}),
        (
            part["excluded"] & ~part["edge"],
            {"facecolor": "#f7dcd6", "edgecolor": FLAGGED, "hatch": "////", "lw": 0},
        ),
    ):
        spans = [(across[a] - half, across[b] - across[a] + 2 * half) for a, b in runs(mask.to_numpy(bool))]
        bars(axes, [(start, wide, foot + PANEL / 2, PANEL) for start, wide in spans], **style)
    for channel, (_, colour, line) in COMPONENTS.items():
        places, values = thinned(across, part[channel], POINTS)
        points = np.column_stack([places, foot + scale.place(values)])
        axes.add_collection(LineCollection([points], colors=[colour], linestyles=[line], linewidths=[1.0]))
    axes.plot([left, left, left + width], [foot + PANEL, foot, foot], color="black", lw=0.5)
    name = row["segment"].removeprefix(f"{row['set']}-")
    text = fitted(f"{name} {row['field'] or row['activity']}", width)
    axes.text(left, foot + PANEL + 0.03, text, va="bottom")
    axes.text(left + width, foot - 0.03, f"{reach:.0f} {unit}", ha="right", va="top")


def _numbers(axes: Axes, scale: Scale, corner: tuple[float, float]) -> None:
    """The scale at the left of a row of panels."""
    ticks = [tick for tick in MaxNLocator(4).tick_values(*scale) if scale.low <= tick <= scale.high]
    for tick, up in zip(ticks, scale.place(ticks), strict=True):
        axes.plot([corner[0], WIDTH - 0.05], [corner[1] + up] * 2, color="#dddddd", lw=0.4, zorder=0)
        axes.text(corner[0] - 0.05, corner[1] + up, f"{tick:.0f}".replace("-", "−"), ha="right", va="center")


def _legend(figure: Figure) -> None:
    handles: list = [
        Line2D([], [], color=colour, ls=line, label=title) for title, colour, line in COMPONENTS.values()
    ]
    handles += [
        Patch(color=GUARD, label="edge"),
        Patch(facecolor="#f7dcd6", edgecolor=FLAGGED, hatch="////", lw=0, label="flagged"),
    ]
    figure.legend(
        handles=handles,
        ncols=6,
        loc="upper left",
        bbox_to_anchor=(0.0, 1.0),
        handlelength=2.2,
        columnspacing=0.8,
        borderaxespad=0.1,
        title="W m⁻²",
        title_fontsize=8,
        alignment="left",
    )
