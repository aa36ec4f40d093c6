"""The map of where was walked, by the track."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from headland.base.times import since_1970
from headland.physics.constants import ZERO_CELSIUS
from headland.physics.longwave import surface_temperature
from headland.physics.radiation import ALBEDO_ELEVATION, ALBEDO_SW_IN, albedo
from headland.report.figures import GUARD, LETTER, MOST_SETS, NAME_HEIGHT, STYLE, WIDTH, nothing, shortened

MAP_TALLEST = 6.0
"""Inches: a map taller than this leaves no room for its legend."""
LEAST_RANGE = {"albedo": 0.02, "temperature": 1.0}
"""What the colours of a map span at least, 1 and K, so that noise over even ground looks even."""
STEP = 5.0
"""s of walking behind one point of a map."""


FOOT = 1.25
"""Inches below the map: bar of length, arrow, legend and colours."""
MARKERS = "os^Dv"


class Walked(NamedTuple):
    """Samples, their places on a plane and which are not used, by set; and the emissivity of each segment."""

    samples: Mapping[str, pd.DataFrame]
    located: Mapping[str, pd.DataFrame]
    excluded: Mapping[str, np.ndarray]
    emissivity: Mapping[str, float]


class Frame(NamedTuple):
    """The part of the plane that is drawn: its middle and half its size in m, inches a metre, inches of the
    map's height.
    """

    middle: np.ndarray
    half: np.ndarray
    scale: float
    height: float


def walks_map(walked: Walked, outlines: Mapping[str, Sequence[np.ndarray]], width: float) -> Figure:
    """Where was walked, coloured by albedo, or by surface temperature where the sun is too low for an albedo.

    Parameters
    ----------
    walked : what was measured where; used samples of `STEP` s make one point
    outlines : rings of each field in m, on the plane of `walked.located`
    width : of the guards on each side of an outline, m
    """
    points = pd.concat(
        [
            _points_of_map(frame, walked.located[name], ~walked.excluded[name], walked.emissivity).assign(
                set=name
            )
            for name, frame in walked.samples.items()
        ],
        ignore_index=True,
    )
    if not len(points):
        return nothing("No sample that counts has a place.")
    frame = _frame(points, outlines, width)
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, frame.height + FOOT))
        total = frame.height + FOOT
        axes = figure.add_axes((0.1 / WIDTH, 0.75 / total, (WIDTH - 0.2) / WIDTH, frame.height / total))
        axes.set(
            xlim=(frame.middle[0] - frame.half[0], frame.middle[0] + frame.half[0]),
            ylim=(frame.middle[1] - frame.half[1], frame.middle[1] + frame.half[1]),
        )
        axes.set_axis_off()
        _outlines(axes, outlines, width, frame)
        drawn, title = _points(axes, points)
        _bar_and_arrow(figure, frame)
        place = (3.9 / WIDTH, 0.45 / total, 2.5 / WIDTH, 0.12 / total)
        colours = figure.colorbar(drawn, cax=figure.add_axes(place), orientation="horizontal", extend="both")
        colours.set_label(title)
        _legend(figure, list(walked.samples), total)
    return figure


def _frame(points: pd.DataFrame, outlines: Mapping[str, Sequence[np.ndarray]], width: float) -> Frame:
    rings = [ring for rings in outlines.values() for ring in rings]
    corners = np.vstack([*rings, points[["east", "north"]].to_numpy()])
    low, high = corners.min(axis=0) - width - 4.0, corners.max(axis=0) + width + 4.0
    span = high - low
    scale = min((WIDTH - 0.2) / span[0], MAP_TALLEST / span[1])
    height = max(span[1] * scale, 1.2)
    return Frame((low + high) / 2, np.array([WIDTH - 0.2, height]) / scale / 2, scale, height)


def _outlines(axes: Axes, outlines: Mapping[str, Sequence[np.ndarray]], width: float, frame: Frame) -> None:
    """Fields with their guards and names."""
    guard: dict[str, Any] = {
        "color": GUARD,
        "lw": 2 * width * frame.scale * 72,
        "solid_joinstyle": "round",
        "solid_capstyle": "round",
    }
    for rings in outlines.values():
        for ring in rings:
            axes.plot(*ring.T, zorder=1, **guard)
    taken: list[tuple[float, float, float]] = []
    for name, rings in outlines.items():
        for ring in rings:
            axes.plot(*ring.T, color="black", lw=0.9, zorder=2)
        place = _place_of_name(max(rings, key=len), shortened(name), width, frame, taken)
        taken.append(place)
        axes.text(place[0], place[1], shortened(name), ha="center", va="bottom", zorder=4)


def _place_of_name(
    ring: np.ndarray, text: str, width: float, frame: Frame, taken: list[tuple[float, float, float]]
) -> tuple[float, float, float]:
    """Middle and foot of a field's name above or below its outline, and half its width, m.

    No name leaves the map.
    """
    room = LETTER * len(text) / 2 / frame.scale
    x = (ring[:, 0].min() + ring[:, 0].max()) / 2
    x = float(np.clip(x, frame.middle[0] - frame.half[0] + room, frame.middle[0] + frame.half[0] - room))
    line = NAME_HEIGHT / frame.scale
    above, below = ring[:, 1].max() + width, ring[:, 1].min() - width - line
    for y in (above, below):
        if all(abs(x - a) > room + other or abs(y - b) > line for a, b, other in taken):
            return x, float(y), room
    return x, float(above), room


def _points(axes: Axes, points: pd.DataFrame):
    """The walks as coloured points, a marker a set; what was drawn last, and the title of its colours."""
    shown, title = "temperature", "surface temperature, °C"
    if points["albedo"].notna().mean() > 0.5:
        shown, title = "albedo", "albedo"
    limits = np.nanpercentile(points[shown], [2, 98])
    limits = limits.mean() + np.array([-0.5, 0.5]) * max(np.ptp(limits), LEAST_RANGE[shown])
    drawn = None
    for place, (_, own) in enumerate(points.groupby("set", sort=False)):
        drawn = axes.scatter(
            own["east"],
            own["north"],
            c=own[shown],
            cmap="cividis",
            vmin=limits[0],
            vmax=limits[1],
            s=9,
            marker=MARKERS[place % len(MARKERS)],
            lw=0,
            zorder=3,
        )
    return drawn, title


def _bar_and_arrow(figure: Figure, frame: Frame) -> None:
    """A bar of a round length, and an arrow to the north."""
    total = frame.height + FOOT
    bar = _round_length(2 * frame.half[0] / 5.0)
    x, y = 0.15, 0.45
    ends = [x / WIDTH, (x + bar * frame.scale) / WIDTH]
    figure.add_artist(Line2D(ends, [y / total] * 2, color="black", lw=2.0, solid_capstyle="butt"))
    figure.text(x / WIDTH, (y - 0.2) / total, f"{bar:g} m")
    arrow = figure.add_axes((1.75 / WIDTH, 0.1 / total, 0.3 / WIDTH, 0.6 / total))
    arrow.set_axis_off()
    style = {"arrowstyle": "-|>", "color": "black", "lw": 1.0}
    arrow.annotate("N", xy=(0.5, 1.0), xytext=(0.5, 0.0), ha="center", va="bottom", arrowprops=style)


def _legend(figure: Figure, names: Sequence[str], total: float) -> None:
    handles: list = [
        Line2D(
            [],
            [],
            marker=MARKERS[n % len(MARKERS)],
            ls="none",
            color="#444444",
            ms=4,
            label=shortened(name, 14),
        )
        for n, name in enumerate(names[:MOST_SETS])
    ]
    figure.legend(
        handles=[*handles, Patch(color=GUARD, label="guard")],
        loc="lower left",
        bbox_to_anchor=(2.2 / WIDTH, 0.05 / total),
        ncols=1,
        handletextpad=0.4,
        labelspacing=0.2,
        borderpad=0.0,
        borderaxespad=0.0,
    )


def _round_length(length: float) -> float:
    """The greatest of 1, 2, 5 times a power of ten that is no longer, m."""
    ten = 10.0 ** np.floor(np.log10(length))
    return max(part * ten for part in (1.0, 2.0, 5.0) if part * ten <= length)


def _points_of_map(
    samples: pd.DataFrame, located: pd.DataFrame, used: np.ndarray, emissivity: Mapping[str, float]
) -> pd.DataFrame:
    frame = samples.assign(east=located["east"], north=located["north"])[
        used & located["east"].notna().to_numpy() & (samples["segment"] != "").to_numpy()
    ]
    frame = frame.assign(step=np.floor(since_1970(frame["middle_utc"]) / STEP))
    sums = (
        frame.groupby(["segment", "step"], sort=False)[
            ["east", "north", "sw_in", "sw_out", "lw_in", "lw_out", "solar_elevation"]
        ]
        .mean()
        .reset_index()
    )
    lit = (sums["solar_elevation"] > ALBEDO_ELEVATION) & (sums["sw_in"] > ALBEDO_SW_IN)
    kelvin = surface_temperature(sums["lw_out"], sums["lw_in"], sums["segment"].map(emissivity).astype(float))
    return sums.assign(
        albedo=np.where(lit, albedo(sums[["sw_in"]], sums[["sw_out"]]), np.nan),
        temperature=kelvin - ZERO_CELSIUS,
    )
