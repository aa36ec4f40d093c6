"""The figures of the third page: the record on one time axis, and every pass beside its surface's value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from headland.base.flags import has_any
from headland.report.figures import (
    COUNTS,
    FLAGGED,
    MOST_SETS,
    STYLE,
    UNCLAIMED,
    WIDTH,
    bare,
    bars_in_time,
    line_colour,
    look,
    named,
    nothing,
    order,
    set_looks,
    shortened,
    stretches,
    thinned,
    time_axis,
    time_parts,
    wide,
)

LEFT, RIGHT, TOP, BOTTOM = 0.95, 0.9, 0.3, 0.36
"""Inches around the axes."""
SAMPLE = 0.22
"""Inches: a sample of its line before a name at the right."""
KEYS = 0.26
"""Inches between the bars and the sky, for what the bars mean."""
OF_A_SET = 0.5
"""Inches that the bars of one set take."""
SKY, GAP = (1.15, 0.8), 0.1
"""Inches: heights of the panels of shortwave and longwave in, and the space between panels."""
EDGE = "#8a8a8a"
HIGH, LOW = 0.12, 0.05
"""Inches: bars of what counts, and of what does not: along the foot of the bar, or of its head."""


class Strip(NamedTuple):
    """How one kind of stored samples is drawn: its row's middle and the offset from it in inches, height,
    colour and its word.
    """

    row: float
    offset: float
    height: float
    colour: str
    word: str


STRIPS = {
    "noted": Strip(0.26, 0.0, HIGH, "#222222", "noted"),
    "not noted": Strip(0.26, -(HIGH - LOW) / 2, LOW, UNCLAIMED, "not noted"),
    "used": Strip(0.4, 0.0, HIGH, COUNTS, "used"),
    "edge": Strip(0.4, -(HIGH - LOW) / 2, LOW, EDGE, "near an edge or settling"),
    "flagged": Strip(0.4, (HIGH - LOW) / 2, LOW, FLAGGED, "failed a test"),
}
"""Kinds of samples in the rows `stored` and `used`. Place and height tell them apart without colour."""
CLEAR_SKY = ("#666666", (0, (1, 1.6)))
"""Colour and line style of the clear-sky model."""
POINTS = 3.0
"""Points of a line that are kept in a point of the page: the eye tells no more apart."""
JOINED = 0.25
"""Points of the page between two bars under which they are drawn as one."""
MARKER = 4.4
"""Points: size of the markers in the bars, and the least between two of them."""
MOST_DOTS = 24
"""Passes over a surface that are drawn as markers at most; more are drawn as ticks."""
NAMES_APART = 0.13
"""Inches between names at the end of two lines, at least."""


class Record(NamedTuple):
    """What was recorded: noted intervals, and by set the samples, the seconds between them and which are not
    used.
    """

    noted: pd.DataFrame
    samples: Mapping[str, pd.DataFrame]
    intervals: Mapping[str, float]
    excluded: Mapping[str, np.ndarray]


Part = tuple[pd.Timestamp, pd.Timestamp]


def record(given: Record, surfaces: Mapping[str, Mapping], zone: str) -> Figure:
    """What was noted, stored and used, and the incoming terms, on one time axis:

    UTC below, local time above.
    """
    parts = time_parts(_spans(given))
    if not parts:
        return nothing("Nothing was recorded or noted.")
    sets = list(given.samples)[:MOST_SETS]
    bars_height = OF_A_SET * len(sets)
    height = TOP + bars_height + KEYS + sum(SKY) + GAP + BOTTOM
    lengths = [(end - start).total_seconds() + 60.0 for start, end in parts]
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, height))
        # rows of the grid: bars, their keys, shortwave, a gap, longwave
        grid = figure.add_gridspec(
            5,
            len(parts),
            height_ratios=(bars_height, KEYS, SKY[0], GAP, SKY[1]),
            width_ratios=[max(length, 0.12 * sum(lengths)) for length in lengths],
            left=LEFT / WIDTH,
            right=1 - RIGHT / WIDTH,
            top=1 - TOP / height,
            bottom=BOTTOM / height,
            hspace=0.0,
            wspace=0.05,
        )
        for place, part in enumerate(parts):
            column = [figure.add_subplot(grid[0, place])]
            column += [figure.add_subplot(grid[line, place], sharex=column[0]) for line in (2, 4)]
            _bars_of_sets(column[0], given, sets, surfaces, part)
            _sky(column[1:], given, part, last=place == len(parts) - 1)
            _finish(column, part, zone, max(3, int(9 * lengths[place] / sum(lengths))))
            if not place:
                _keys(figure, height, 1.0 - (TOP + bars_height + 0.62 * KEYS) / height)
            else:
                for axes in column:
                    axes.tick_params(axis="y", left=False, labelleft=False)
                    axes.set_ylabel("")
    return figure


def _spans(given: Record) -> list[Part]:
    spans = [
        span
        for name, frame in given.samples.items()
        for span in stretches(bare(frame["time_utc"]), np.ones(len(frame), bool), given.intervals[name])
    ]
    starts, ends = (pd.DatetimeIndex(given.noted[key]).tz_localize(None) for key in ("start_utc", "end_utc"))
    return spans + list(zip(starts, ends, strict=True))


def _finish(column: Sequence[Axes], part: Part, zone: str, ticks: int) -> None:
    """The shared time axis: UTC below the lowest panel, local time above the highest."""
    start, end = part
    pad = max((end - start) * 0.01, pd.Timedelta(seconds=1))
    column[0].set_xlim(date2num(start - pad), date2num(end + pad))
    for axes in column[:-1]:
        axes.tick_params(axis="x", labelbottom=False)
    column[-1].xaxis_date()
    time_axis(column[-1], ticks)
    column[-1].set_xlabel("UTC", loc="left", labelpad=0)
    above = column[0].secondary_xaxis("top")
    locator = AutoDateLocator(tz=ZoneInfo(zone), maxticks=ticks)
    formats = ["%Y", "%m-%d", "%m-%d", "%H:%M", "%H:%M", "%S"]
    above.xaxis.set_major_locator(locator)
    above.xaxis.set_major_formatter(
        ConciseDateFormatter(
            locator, tz=ZoneInfo(zone), formats=formats, zero_formats=["", *formats[1:]], show_offset=False
        )
    )
    above.tick_params(axis="x", length=2, pad=1)
    above.set_xlabel("local time", loc="left", labelpad=1)
    for axes in column:
        axes.spines["top"].set_visible(False)


def _point(axes: Axes, part: Part) -> pd.Timedelta:
    """The time that a point of the axis takes."""
    return (part[1] - part[0]) / (axes.get_position().width * WIDTH * 72)


def _joined(spans: Sequence[Part], part: Part, least: pd.Timedelta) -> list[Part]:
    """Spans within a part of the axis, in one where less than `least` is between them: nobody sees it."""
    result: list[Part] = []
    for start, end in sorted(spans):
        if end < part[0] or start > part[1]:
            continue
        if result and start - result[-1][1] < least:
            result[-1] = (result[-1][0], max(result[-1][1], end))
        else:
            result.append((start, end))
    return result


def _bars_of_sets(
    axes: Axes, given: Record, sets: Sequence[str], surfaces: Mapping[str, Mapping], part: Part
) -> None:
    """Of each set three rows of bars: noted, stored, used, within a part of the axis."""
    ticks = []
    for place, name in enumerate(sets):
        top = -place * OF_A_SET
        noted = given.noted
        starts = pd.DatetimeIndex(noted["start_utc"]).tz_localize(None)
        own = (noted["set"] == name) & (starts >= part[0]) & (starts <= part[1])
        _noted(axes, noted[own], top - 0.1, surfaces, _point(axes, part))
        _stored(axes, given, name, top, part)
        ticks += [(top - 0.1, f"{shortened(name, 9)} noted"), (top - 0.26, "stored"), (top - 0.4, "used")]
    axes.set_yticks([y for y, _ in ticks], [text for _, text in ticks])
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(-OF_A_SET * len(sets), 0.06)
    axes.grid(False)
    axes.spines["left"].set_visible(False)


def _noted(
    axes: Axes, noted: pd.DataFrame, y: float, surfaces: Mapping[str, Mapping], point: pd.Timedelta
) -> None:
    """Bars in the colour of their surfaces, with its marker where there is room for one."""
    marked = _with_room(noted, MARKER * point)
    for surface, rows in noted.groupby("surface", sort=False):
        starts, ends = (pd.DatetimeIndex(rows[key]).tz_localize(None) for key in ("start_utc", "end_utc"))
        colour, marker = look(surfaces, str(surface))
        spans = list(zip(starts, ends, strict=True))
        bars_in_time(axes, y, 0.15, spans, facecolor=colour, edgecolor="black", lw=0.4)
        if surface:
            middles = date2num((starts + (ends - starts) / 2)[rows.index.isin(marked)])
            style: dict[str, Any] = {"ls": "none", "mfc": "white", "mec": "black", "mew": 0.5, "ms": MARKER}
            axes.plot(middles, [y] * len(middles), marker=marker, **style)


def _with_room(noted: pd.DataFrame, least: pd.Timedelta) -> list:
    """The rows of notes whose middles are `least` or more after that of the row before, by their index."""
    middles = noted["start_utc"] + (noted["end_utc"] - noted["start_utc"]) / 2
    kept: list = []
    for index, middle in middles.sort_values().items():
        if not kept or middle - middles[kept[-1]] >= least:
            kept.append(index)
    return kept


def _stored(axes: Axes, given: Record, name: str, top: float, part: Part) -> None:
    frame, excluded = given.samples[name], given.excluded[name]
    if not len(frame):
        return
    times, noted = bare(frame["time_utc"]), (frame["segment"] != "").to_numpy()
    edge = has_any(frame["flags"], {"edge"})
    masks = {
        "noted": noted,
        "not noted": ~noted,
        "used": noted & ~excluded,
        "edge": noted & excluded & edge,
        "flagged": noted & excluded & ~edge,
    }
    for kind, mask in masks.items():
        strip = STRIPS[kind]
        spans = _joined(stretches(times, mask, given.intervals[name]), part, JOINED * _point(axes, part))
        bars_in_time(axes, top - strip.row + strip.offset, strip.height, spans, **_look_of(strip))


def _look_of(strip: Strip) -> dict:
    line = {"edgecolor": "black", "lw": 0.3} if strip.colour == UNCLAIMED else {"edgecolor": "none", "lw": 0}
    return {"facecolor": strip.colour, **line}


def _keys(figure: Figure, height: float, y: float) -> None:
    """What the strips mean, in one line over the figure's width at the height y: a piece of each, and its
    word.
    """
    x = 0.02
    for row, kinds in (("stored", ("noted", "not noted")), ("used", ("used", "edge", "flagged"))):
        figure.text(x / WIDTH, y, f"{row}:", va="center")
        x += wide(f"{row}:") + 0.1
        for kind in kinds:
            strip = STRIPS[kind]
            corner = (x / WIDTH, y + (strip.offset - strip.height / 2) / height)
            size = (0.16 / WIDTH, strip.height / height)
            figure.add_artist(Rectangle(corner, *size, transform=figure.transFigure, **_look_of(strip)))
            figure.text((x + 0.21) / WIDTH, y, strip.word, va="center")
            x += 0.21 + wide(strip.word) + 0.18
        x += 0.1


def _sky(panels: Sequence[Axes], given: Record, part: Part, last: bool) -> None:
    """Incoming shortwave with the clear-sky model, and incoming longwave; names of the sets at the ends of
    their lines.
    """
    some = {name: frame for name, frame in given.samples.items() if len(frame)}
    looks, ends = set_looks(list(given.samples)), _no_ends()
    for name, frame in some.items():
        times = bare(frame["time_utc"])
        here = (times >= part[0].to_datetime64()) & (times <= part[1].to_datetime64())
        colour, line = looks[name]
        point = _point(panels[0], part)
        for axes, channel in zip(panels, ("sw_in", "lw_in"), strict=True):
            for start, end in stretches(times, here, max(given.intervals[name], 60.0)):
                own = here & (times >= start.to_datetime64()) & (times < end.to_datetime64())
                most = max(4, round(POINTS * ((end - start) / point)))
                axes.plot(*thinned(times[own], frame[channel][own], most), color=colour, ls=line, lw=0.8)
            if here.any():
                ends[channel][name] = float(frame[channel].to_numpy(float)[here][-1])
    if some:
        longest = max(some.values(), key=len)
        times = bare(longest["time_utc"])
        here = (times >= part[0].to_datetime64()) & (times <= part[1].to_datetime64())
        clear = longest["sw_clear"][here]
        panels[0].plot(*thinned(times[here], clear, 80), color=CLEAR_SKY[0], lw=0.8, ls=CLEAR_SKY[1])
        if here.any():
            ends["sw_in"]["clear sky"] = float(clear.to_numpy(float)[-1])
    panels[0].set_ylabel("shortwave\nin, W m⁻²")
    panels[1].set_ylabel("longwave\nin, W m⁻²")
    for axes, channel, height in zip(panels, ("sw_in", "lw_in"), SKY, strict=True):
        axes.locator_params(axis="y", nbins=4)
        if last:
            _name_ends(axes, ends[channel], looks, height)


def _no_ends() -> dict[str, dict[str, float]]:
    """By channel: where the line of each set ends; none yet."""
    return {"sw_in": {}, "lw_in": {}}


def _name_ends(axes: Axes, ends: Mapping[str, float], looks: Mapping[str, tuple], height: float) -> None:
    """Names at the right end of lines, moved apart where lines end close together."""
    low, high = axes.get_ylim()
    axes.set_ylim(low, high)
    before = -np.inf
    for name, value in sorted(ends.items(), key=lambda pair: pair[1]):
        if not np.isfinite(value):
            continue
        y = max((value - low) / (high - low) * height, before + NAMES_APART)
        before = y
        colour, line = looks.get(name, CLEAR_SKY)
        across = axes.get_position().width * WIDTH
        places = [1.0 + part / across for part in (0.06, 0.06 + SAMPLE, 0.1 + SAMPLE)]
        outside = {"transform": axes.transAxes, "color": colour, "clip_on": False}
        axes.plot(places[:2], [y / height] * 2, ls=line, lw=1.0, scalex=False, scaley=False, **outside)
        axes.text(places[2], y / height, shortened(name, 9), va="center", **outside)


PANELS = (
    ("albedo", "albedo"),
    ("surface_temperature", "surface temperature, °C"),
    ("net_radiation_common_sky", "net radiation, common sky, W m⁻²"),
)


def _ticks(axes: Axes, values: np.ndarray, heights: np.ndarray) -> None:
    """Short upright lines, all of them one path."""
    gap = np.full(len(values), np.nan)
    across = np.stack([values, values, gap], axis=1).ravel()
    up = np.stack([heights - 0.08, heights + 0.08, gap], axis=1).ravel()
    axes.plot(across, up, color="black", lw=0.6)


def passes(table: pd.DataFrame, means: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Every pass that counts as a dot, the surface's value with its interval as a bar behind it."""
    if not len(table):
        return nothing("No surface has a value.")
    names = order(table)
    rows = table.set_index("surface").loc[names]
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 0.55 + 0.3 * len(names)), layout="constrained")
        panels = figure.subplots(1, len(PANELS), sharey=True)
        for axes, (quantity, title) in zip(panels, PANELS, strict=True):
            for y, name in enumerate(names):
                colour, marker = look(surfaces, name)
                row, own = rows.loc[name], means.loc[means["surface"] == name, quantity].dropna()
                low, high = row[f"{quantity}_low"], row[f"{quantity}_high"]
                # a pale bar needs its outline in a grey print
                style = {"facecolor": to_rgba(colour, 0.28), "edgecolor": line_colour(colour), "lw": 0.6}
                axes.barh(y, high - low, 0.62, low, **style)
                axes.plot([row[quantity]] * 2, [y - 0.31, y + 0.31], color="black", lw=1.0)
                heights = y + 0.42 * (np.arange(len(own)) / max(len(own) - 1, 1) - 0.5)
                if len(own) <= MOST_DOTS:
                    dots: dict[str, Any] = {"ls": "none", "mfc": colour, "mec": "black", "mew": 0.35, "ms": 4}
                    axes.plot(own, heights, marker=marker, **dots)
                else:
                    _ticks(axes, own.to_numpy(float), heights)
            axes.set_xlabel(title)
            axes.locator_params(axis="x", nbins=5)
            axes.set_ylim(len(names) - 0.5, -0.5)
        panels[0].set_yticks(range(len(names)), named(surfaces, names))
    return figure
