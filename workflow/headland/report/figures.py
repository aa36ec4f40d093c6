"""Figures of the report. Each function takes frames and gives a matplotlib figure; `svg` turns one into text, the same bytes each time.

Colours and markers of surfaces come from config/surfaces.csv; nothing is told by colour alone: there is a marker, a line style, a hatch, a height or
a word beside it, so that a grey print says the same. Every figure is as wide as the page's text, so that its text has its printed size.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Mapping, Sequence

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.colors import is_color_like
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, fontManager
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.textpath import TextPath

from headland.chain.screen import has_any
from headland.chain.summarise import ALBEDO_ELEVATION, ALBEDO_SW_IN, albedo, surface_temperature
from headland.physics.constants import ZERO_CELSIUS
from headland.report.fonts import FONT_FOLDER

WIDTH = 6.7
"""Inches: the text width of the page."""
TALLEST = 8.6
"""Inches: what a page holds beside its caption."""

# a machine's own fonts, and the list of fonts that the library keeps for the user, would change the bytes of a figure
fontManager.ttflist.clear()
for _font in sorted(FONT_FOLDER.glob("*.ttf")):
    fontManager.addfont(_font)

STYLE = {
    "svg.hashsalt": "headland",
    "svg.fonttype": "none",
    "path.simplify": True,
    "path.simplify_threshold": 0.35,
    "font.family": "DejaVu Sans",
    "font.size": 8.0,
    "axes.titlesize": 8.0,
    "axes.labelsize": 8.0,
    "xtick.labelsize": 8.0,
    "ytick.labelsize": 8.0,
    "legend.fontsize": 8.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.6,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "lines.linewidth": 1.1,
    "legend.frameon": False,
    "figure.dpi": 100,
    "axes.grid": True,
    "grid.color": "#dddddd",
    "grid.linewidth": 0.5,
    "axes.axisbelow": True,
    "hatch.linewidth": 0.4,
    "axes.unicode_minus": True,
    "axes.formatter.use_locale": False,
}
COMPONENTS = {
    "sw_in": ("shortwave in", "#b35c00", "-"),
    "sw_out": ("shortwave out", "#e39a3b", (0, (4, 1.5))),
    "lw_in": ("longwave in", "#5b8fd0", (0, (1, 1))),
    "lw_out": ("longwave out", "#1f4e8c", (0, (6, 1.5, 1, 1.5))),
}
SET_LOOKS = (
    ("#1b6ca8", "-"),
    ("#c4472d", (0, (4, 1.5))),
    ("#3f7f3f", (0, (1, 1))),
    ("#7a4fa3", "-."),
    ("#5f5f5f", (0, (6, 1, 1, 1))),
)
"""Colour and line style of the sets, in their order; where there are more, each colour again with the next style."""
PLAIN = ("#777777", "o")
COUNTS, GUARD, FLAGGED, UNCLAIMED = "#2e8b3d", "#d9d9d9", "#c4472d", "#f3d36b"
MOST_POINTS = 600
"""Points a line keeps: the least and the greatest of each stretch, so that no peak is lost."""
LONGEST_PAUSE = pd.Timedelta(hours=6)
"""Where nothing was stored or noted for longer, a time axis is broken."""
MOST_PARTS = 6
"""Pieces that an axis is broken into at most."""
MOST_SETS = 6
"""Sets below one another on one time axis."""
NAME_HEIGHT = 0.13
"""Inches that a line of the figures' text is high."""
LETTER = 0.068
"""Inches that a letter of the figures takes on average."""
LETTERS = FontProperties(family="DejaVu Sans")


FONTS = ("'DejaVu Sans'", "'DejaVu Sans', Verdana, sans-serif")
"""The font that figures are measured with, and what a browser without it may take: Verdana has its widths."""


def svg(figure: Figure, equation: bool = False) -> str:
    """A figure as SVG text, without a date, coordinates to a hundredth of a point; words stay words, which can be searched and read aloud.

    equation: cut to what is drawn, with letters as outlines, because a reader's fonts may lack the signs.
    """
    stream = io.StringIO()
    with matplotlib.rc_context({**STYLE, "svg.fonttype": "path"} if equation else STYLE):
        figure.savefig(
            stream,
            format="svg",
            metadata={"Date": None, "Creator": None},
            **({"bbox_inches": "tight", "pad_inches": 0.02} if equation else {}),
        )
    return re.sub(
        r' d="[^"]*"', lambda path: re.sub(r"(\.\d\d)\d+", r"\1", path.group()), stream.getvalue()
    ).replace(*FONTS)


def equation(text: str, size: float = 11.0) -> str:
    """An equation in mathtext as SVG text."""
    with matplotlib.rc_context({**STYLE, "mathtext.fontset": "dejavusans"}):
        figure = Figure(figsize=(0.1, 0.1))
        figure.text(0, 0, f"${text}$", fontsize=size)
        return svg(figure, equation=True)


def thinned(x, y, most: int = MOST_POINTS):
    """A line with at most about `most` points: of each stretch the least and the greatest."""
    x, y = np.asarray(x), np.asarray(y, dtype=float)
    if len(x) <= most:
        return x, y
    keep = {0, len(x) - 1}
    for part in np.array_split(np.arange(len(x)), most // 2):
        values = y[part]
        if np.isfinite(values).any():
            keep |= {part[np.nanargmin(values)], part[np.nanargmax(values)]}
    index = np.array(sorted(keep))
    return x[index], y[index]


def look(surfaces: Mapping[str, Mapping], name: str) -> tuple[str, str]:
    """Colour and marker of a surface class."""
    entry = surfaces.get(name, {})
    colour, marker = (entry.get(key, {}).get("value") for key in ("colour", "marker"))
    return (
        colour if is_color_like(colour) else PLAIN[0],
        marker if marker in Line2D.filled_markers else PLAIN[1],
    )


def label(surfaces: Mapping[str, Mapping], name: str) -> str:
    """A surface class's plain name."""
    return str(surfaces.get(name, {}).get("label", {}).get("value") or name.replace("_", " "))


def shortened(text: str, most: int = 24) -> str:
    """Text of a user for a figure: no longer than fits, of printable characters, and never read as an equation."""
    text = "".join(letter if letter.isprintable() else " " for letter in text)
    text = text if len(text) <= most else text[: most - 1].rstrip() + "…"
    return text.replace("$", r"\$")


def fitted(text: str, room: float) -> str:
    """Text of a user for a figure, cut to what fits into `room` inches, measured as drawn."""

    def wide(most: int) -> float:
        outlines = TextPath((0, 0), shortened(text, most), size=STYLE["font.size"], prop=LETTERS)
        across = outlines.vertices[
            outlines.codes != Path.CLOSEPOLY, 0
        ]  # no letter reaches beyond the points of its outline
        return np.ptp(across) / 72 if len(across) else 0.0

    return shortened(text, next((most for most in range(min(len(text), 60), 1, -1) if wide(most) <= room), 1))


def _named(surfaces: Mapping[str, Mapping], names: Sequence[str], most: int = 24) -> list[str]:
    return [shortened(label(surfaces, name), most) for name in names]


def nothing(text: str) -> Figure:
    """A figure that says why there is nothing to see."""
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 0.6))
        figure.text(0.0, 0.5, text, ha="left", va="center", color="#444444", style="italic")
    return figure


def _times(axes, ticks: int = 8) -> None:
    locator = AutoDateLocator(maxticks=ticks)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(
        ConciseDateFormatter(
            locator,
            formats=["%Y", "%m-%d", "%m-%d", "%H:%M", "%H:%M", "%S"],
            zero_formats=["", "%Y", "%m-%d", "%m-%d", "%H:%M", "%H:%M"],
            offset_formats=["", "%Y", "%Y-%m", "%Y-%m-%d", "%Y-%m-%d", "%Y-%m-%d %H:%M"],
        )
    )


def _bare(times: pd.Series) -> np.ndarray:
    return times.dt.tz_localize(None).to_numpy()


def _stretches(
    times: np.ndarray, mask: np.ndarray, interval: float
) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Start and end of each uninterrupted stretch of the masked samples."""
    step = np.timedelta64(int(interval * 1e6), "us")
    index = np.flatnonzero(mask)
    if not len(index):
        return []
    breaks = np.flatnonzero((np.diff(index) > 1) | (np.diff(times[index]) > 2.5 * step))
    starts, ends = np.r_[index[0], index[breaks + 1]], np.r_[index[breaks], index[-1]]
    return [(pd.Timestamp(times[a]), pd.Timestamp(times[b] + step)) for a, b in zip(starts, ends)]


def _runs(mask: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.r_[0, mask.astype(int), 0]))
    return [(a, b - 1) for a, b in zip(edges[::2], edges[1::2])]


def _bars(ax, bars: Sequence[tuple[float, float, float, float]], **style) -> None:
    """Horizontal bars (left, width, middle, height) of one look, as one path: laying out a page with hundreds of hatched bars takes seconds."""
    boxes = [
        Path(
            [(x, y - h / 2), (x + w, y - h / 2), (x + w, y + h / 2), (x, y + h / 2), (x, y - h / 2)],
            closed=True,
        )
        for x, w, y, h in bars
        if w
    ]
    if boxes:
        path = Path.make_compound_path(*boxes)
        ax.add_patch(PathPatch(path, **style))
        ax.update_datalim(path.get_extents())


def time_parts(spans: Sequence[tuple[pd.Timestamp, pd.Timestamp]]) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """The pieces of a time axis: spans that a long pause does not part, or all in one where these would be too many."""
    parts: list[list] = []
    for start, end in sorted(spans):
        if parts and start - parts[-1][1] <= LONGEST_PAUSE:
            parts[-1][1] = max(parts[-1][1], end)
        else:
            parts.append([start, end])
    return [(a, b) for a, b in parts] if len(parts) <= MOST_PARTS else [(parts[0][0], parts[-1][1])]


def _line(axes, row: Mapping, quantity: str, y: float, colour: str, marker: str) -> None:
    low, high = row[f"{quantity}_low"], row[f"{quantity}_high"]
    if np.isfinite(low) and np.isfinite(high):
        axes.plot([low, high], [y, y], color=colour, lw=1.8, solid_capstyle="butt")
    if np.isfinite(row[quantity]):
        axes.plot([row[quantity]], [y], marker=marker, color=colour, mec="black", mew=0.5, ms=6, ls="none")


def answer(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Albedo, surface temperature, net radiation as measured and under the common sky, a row a surface, each with its 95 % interval."""
    if not len(table):
        return nothing("No surface has a value.")
    rows = table.sort_values("net_radiation_common_sky", kind="stable", na_position="first").reset_index(
        drop=True
    )
    panels = (
        ("albedo", "albedo"),
        ("surface_temperature", "surface\ntemperature, °C"),
        ("net_radiation", "net radiation\nas measured, W m⁻²"),
        ("net_radiation_common_sky", "net radiation\ncommon sky, W m⁻²"),
    )
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, min(TALLEST, 0.8 + 0.25 * len(rows))), layout="constrained")
        axes = figure.subplots(1, len(panels), sharey=True)
        for ax, (quantity, title) in zip(axes, panels):
            for y, row in enumerate(rows.to_dict("records")):
                _line(ax, row, quantity, y, *look(surfaces, row["surface"]))
            if rows[quantity].isna().all():
                ax.text(
                    0.5, 0.5, "no value", transform=ax.transAxes, ha="center", color="#444444", style="italic"
                )
                ax.set_xticks([])
            ax.set_xlabel(title)
            ax.set_ylim(-0.6, len(rows) - 0.4)
            ax.locator_params(axis="x", nbins=4) if len(ax.get_xticks()) else None
        axes[0].set_yticks(range(len(rows)), _named(surfaces, rows["surface"]))
    return figure


def balance(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Net radiation above, and below it what it becomes: ground, sensible and latent heat laid end to end, so that the bars show whether they close."""
    rows = table[table["ground_heat"].notna()].reset_index(drop=True)
    if not len(rows):
        return nothing("For no surface is an energy balance estimated.")
    terms = (
        ("ground_heat", "G", "ground heat G", "#a98a5f", "//"),
        ("sensible_heat", "H", "sensible heat H", "#d9705c", "\\\\"),
        ("latent_heat", "LE", "latent heat LE", "#7fb2dc", "xx"),
    )
    plate = {"facecolor": "white", "edgecolor": "none", "pad": 0.8}
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, min(TALLEST, 0.9 + 0.5 * len(rows))), layout="constrained")
        ax = figure.subplots()
        flows = rows[["net_radiation", *(name for name, *_ in terms)]]
        bars: dict[str, list] = {name: [] for name, *_ in terms}
        legible = 0.07 * max(flows.where(flows > 0).sum(axis=1).max(), flows.abs().max().max())
        for y, row in enumerate(rows.to_dict("records")):
            net = row["net_radiation"]
            ax.barh(y - 0.19, net, 0.34, color="#f1c75b", edgecolor="black", lw=0.5)
            ax.text(net / 2, y - 0.19, f"Q* {net:.0f}", ha="center", va="center")
            if np.isfinite(row["net_radiation_low"]):
                ax.plot(
                    [row["net_radiation_low"], row["net_radiation_high"]],
                    [y - 0.19, y - 0.19],
                    color="black",
                    lw=1.2,
                )
            ends = {True: 0.0, False: 0.0}
            for name, symbol, *_ in terms:
                value = row[name]
                if np.isfinite(value):
                    bars[name].append((ends[value >= 0], value, y + 0.19, 0.34))
                    if abs(value) > legible:
                        ax.text(
                            ends[value >= 0] + value / 2,
                            y + 0.19,
                            f"{symbol} {value:.0f}",
                            ha="center",
                            va="center",
                            bbox=plate,
                        )
                    ends[value >= 0] += value
            if np.isfinite(row["latent_heat"]):
                ax.plot([net, net], [y - 0.36, y + 0.42], color="black", lw=0.8, ls=(0, (2, 1.5)))
            else:
                ax.annotate(
                    "H and LE not estimated",
                    (max(ends[True], 0.0), y + 0.19),
                    xytext=(5, 0),
                    textcoords="offset points",
                    va="center",
                    color="#444444",
                )
        for name, _, _, colour, hatch in terms:
            _bars(ax, bars[name], facecolor=colour, edgecolor="white", hatch=hatch, lw=0.5)
        ax.autoscale_view()
        ax.set_yticks(range(len(rows)), _named(surfaces, rows["surface"]))
        ax.invert_yaxis()
        ax.axvline(0, color="black", lw=0.6)
        ax.set_xlabel("W m⁻²   (G, H and LE estimated from textbook fractions)")
        handles = [
            Patch(
                facecolor="#f1c75b", edgecolor="black", lw=0.5, label="net radiation Q*, line: 95 % interval"
            )
        ]
        handles += [Patch(facecolor=c, edgecolor="white", hatch=h, label=t) for _, _, t, c, h in terms]
        figure.legend(
            handles=handles, ncols=4, loc="outside upper center", handlelength=1.4, columnspacing=1.0
        )
    return figure


def _visits(noted: pd.DataFrame) -> list[dict]:
    """Noted intervals of one set that follow one another on the same field, as one visit with its middle and its name."""
    visits: list[dict] = []
    for row in noted.sort_values("start_utc", kind="stable").to_dict("records"):
        name = row["field"] or row["activity"]
        if (
            visits
            and visits[-1]["name"] == name
            and row["start_utc"] - visits[-1]["end"] <= pd.Timedelta(minutes=10)
        ):
            visits[-1]["end"] = max(visits[-1]["end"], row["end_utc"])
        else:
            visits.append({"name": name, "start": row["start_utc"], "end": row["end_utc"]})
    return [
        {"name": v["name"], "middle": (v["start"] + (v["end"] - v["start"]) / 2).tz_localize(None)}
        for v in visits
    ]


def _place_names(visits: Sequence[dict], inches_per_second: float) -> tuple[list[str], int, float]:
    """How the visits' names fit over their bars: the names, their rotation, and the height in inches that they take."""
    gaps = [
        (b["middle"] - a["middle"]).total_seconds() * inches_per_second for a, b in zip(visits, visits[1:])
    ]
    for letters in (12, 9):
        names = [
            "\n".join(textwrap.wrap(shortened(v["name"], 30), letters, break_long_words=False)[:3])
            for v in visits
        ]
        widths = [LETTER * max((len(line) for line in name.split("\n")), default=0) for name in names]
        if all((a + b) / 2 <= gap for a, b, gap in zip(widths, widths[1:], gaps)):
            return names, 0, 0.13 * max((name.count("\n") + 1 for name in names), default=0)
    if all(gap >= 0.13 for gap in gaps):
        names = [shortened(v["name"], 16) for v in visits]
        return names, 90, LETTER * max(map(len, names))
    return ["" for _ in visits], 0, 0.0


def timeline(
    noted: pd.DataFrame,
    samples: Mapping[str, pd.DataFrame],
    intervals: Mapping[str, float],
    excluded: Mapping[str, np.ndarray],
    surfaces: Mapping[str, Mapping],
) -> list[Figure]:
    """What was recorded against what was noted, as few pages as hold it.

    For each set: the noted intervals with the field's name, what was stored and whether a note claims it, and which samples count, are kept
    apart at an edge, or are flagged. Long pauses break the axis.
    """
    stored = {
        name: _stretches(_bare(frame["time_utc"]), np.ones(len(frame), bool), intervals[name])
        for name, frame in samples.items()
    }
    spans = [span for own in stored.values() for span in own] + list(
        zip(
            pd.DatetimeIndex(noted["start_utc"]).tz_localize(None),
            pd.DatetimeIndex(noted["end_utc"]).tz_localize(None),
        )
    )
    if not spans:
        return [nothing("Nothing was recorded or noted.")]
    left, right, bottom, rows = 1.2, 0.4, 0.42, 0.62
    plot = WIDTH - left - right
    blocks = []  # of each part of the axis: its ends, and for each set its visits with the height that their names take
    for start, end in time_parts(spans):
        here = noted[
            (noted["end_utc"] > start.tz_localize("UTC")) & (noted["start_utc"] < end.tz_localize("UTC"))
        ]
        length = max((end - start).total_seconds(), 1.0)
        for chunk in np.array_split(list(samples), -(-len(samples) // MOST_SETS)):
            visits = {str(name): _visits(here[here["set"] == name]) for name in chunk}
            blocks.append(
                (
                    start,
                    end,
                    here,
                    {name: (own, *_place_names(own, plot / length)) for name, own in visits.items()},
                )
            )
    heights = [bottom + 0.1 + sum(rows + height for *_, height in own.values()) for *_, own in blocks]
    pages: list[list[int]] = []
    for index, height in enumerate(heights):
        if pages and sum(heights[i] for i in pages[-1]) + height <= TALLEST - 0.6:
            pages[-1].append(index)
        else:
            pages.append([index])
    shown = list(dict.fromkeys(s for s in noted["surface"] if s))
    handles = [
        Patch(
            facecolor=look(surfaces, s)[0], edgecolor="black", lw=0.4, label=shortened(label(surfaces, s), 18)
        )
        for s in shown
    ]
    handles += [
        Patch(color="#222222", label="stored, noted"),
        Patch(facecolor=UNCLAIMED, edgecolor="black", lw=0.4, label="stored, not noted (thin)"),
        Patch(color=COUNTS, label="used"),
        Patch(facecolor="#8a8a8a", label="edge (half high)"),
        Patch(color=FLAGGED, label="flagged (thin)"),
    ]
    top = 0.17 * -(-len(handles) // 5) + 0.1
    figures = []
    for page in pages:
        with matplotlib.rc_context({**STYLE, "axes.grid": False}):
            total = top + sum(heights[i] for i in page)
            figure = Figure(figsize=(WIDTH, total))
            figure.legend(
                handles=handles,
                ncols=5,
                loc="upper left",
                bbox_to_anchor=(0, 1.0),
                handlelength=1.2,
                columnspacing=1.0,
                borderaxespad=0.1,
            )
            above = top
            for index in page:
                start, end, here, own = blocks[index]
                height = heights[index] - bottom
                ax = figure.add_axes(
                    (left / WIDTH, 1 - (above + height) / total, plot / WIDTH, height / total)
                )
                above += heights[index]
                ax.xaxis_date()
                ticks, y = [], height
                for name, (visits, names, turn, room) in own.items():
                    y -= room + 0.14
                    for visit, text in zip(visits, names):
                        ax.text(
                            visit["middle"],
                            y + 0.09,
                            text,
                            ha="center",
                            va="bottom",
                            rotation=turn,
                            linespacing=1.0,
                        )
                    for surface, rows_ in here[here["set"] == name].groupby("surface", sort=False):
                        ends = [
                            pd.DatetimeIndex(rows_[key]).tz_localize(None) for key in ("start_utc", "end_utc")
                        ]
                        _bars_in_time(
                            ax,
                            y,
                            0.15,
                            list(zip(*ends)),
                            facecolor=look(surfaces, surface)[0],
                            edgecolor="black",
                            lw=0.4,
                        )
                    _bars_of_samples(ax, y, samples[name], intervals[name], excluded[name])
                    ticks += [(y, f"{shortened(name, 10)}: noted"), (y - 0.18, "stored"), (y - 0.36, "used")]
                    y -= 0.48
                ax.set_yticks([place for place, _ in ticks], [text for _, text in ticks])
                ax.tick_params(axis="y", length=0)
                ax.set_ylim(0, height)
                pad = max((end - start) * 0.01, pd.Timedelta(seconds=1))
                ax.set_xlim(start - pad, end + pad)
                _times(ax)
                ax.set_xlabel("time, UTC", labelpad=1)
        figures.append(figure)
    return figures


def _bars_of_samples(ax, y: float, frame: pd.DataFrame, interval: float, excluded: np.ndarray) -> None:
    """Below a set's noted intervals: what was stored, and which samples count."""
    if not len(frame):
        return
    times, claimed, edge = (
        _bare(frame["time_utc"]),
        (frame["segment"] != "").to_numpy(),
        has_any(frame["flags"], {"edge"}),
    )
    for row, mask, colour, height in (
        (0.18, claimed, "#222222", 0.13),
        (0.18, ~claimed, UNCLAIMED, 0.07),
        (0.36, claimed & ~excluded, COUNTS, 0.13),
        (0.36, claimed & excluded & edge, "#8a8a8a", 0.07),
        (0.36, claimed & excluded & ~edge, FLAGGED, 0.04),
    ):
        _bars_in_time(
            ax,
            y - row,
            height,
            _stretches(times, mask, interval),
            facecolor=colour,
            edgecolor="black" if colour == UNCLAIMED else "none",
            lw=0.4,
        )


def _bars_in_time(
    ax, y: float, height: float, spans: Sequence[tuple[pd.Timestamp, pd.Timestamp]], **style
) -> None:
    ends = [(date2num(start), date2num(end)) for start, end in spans]
    _bars(ax, [(a, b - a, y, height) for a, b in ends], **style)


def incoming(samples: Mapping[str, pd.DataFrame], intervals: Mapping[str, float]) -> Figure:
    """Incoming shortwave and longwave of all sets on one axis, with the clear-sky model: do the sets agree, and what did the sky do?"""
    some = {name: frame for name, frame in samples.items() if len(frame)}
    if not some:
        return nothing("Nothing was recorded.")
    stretches = {
        name: _stretches(_bare(frame["time_utc"]), np.ones(len(frame), bool), max(intervals[name], 60.0))
        for name, frame in some.items()
    }
    looks = {
        name: (SET_LOOKS[n % len(SET_LOOKS)][0], SET_LOOKS[(n + n // len(SET_LOOKS)) % len(SET_LOOKS)][1])
        for n, name in enumerate(some)
    }
    parts = time_parts([span for own in stretches.values() for span in own])
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 3.9), layout="constrained")
        lengths = [(b - a).total_seconds() + 60.0 for a, b in parts]
        axes = figure.subplots(
            2,
            len(parts),
            sharex="col",
            sharey="row",
            height_ratios=(3, 2),
            width_ratios=[max(x, 0.12 * sum(lengths)) for x in lengths],
            squeeze=False,
        )
        for column, (first, last) in enumerate(parts):
            for name, frame in some.items():
                colour, line = looks[name]
                times = _bare(frame["time_utc"])
                here = (times >= first.to_datetime64()) & (times <= last.to_datetime64())
                for start, end in stretches[name]:
                    own = here & (times >= start.to_datetime64()) & (times < end.to_datetime64())
                    if own.any():
                        for ax, channel in zip(axes[:, column], ("sw_in", "lw_in")):
                            ax.plot(
                                *thinned(
                                    times[own],
                                    frame[channel][own],
                                    max(40, MOST_POINTS * int(own.sum()) // len(frame)),
                                ),
                                color=colour,
                                ls=line,
                                lw=0.9,
                            )
            longest = max(
                some.values(),
                key=lambda frame: (
                    _bare(frame["time_utc"]).searchsorted(last.to_datetime64())
                    - _bare(frame["time_utc"]).searchsorted(first.to_datetime64())
                ),
            )
            times = _bare(longest["time_utc"])
            here = (times >= first.to_datetime64()) & (times <= last.to_datetime64())
            axes[0, column].plot(
                *thinned(times[here], longest["sw_clear"][here], 200), color="#777777", lw=0.8, ls=(0, (2, 2))
            )
            axes[1, column].set_xlim(first, last)
            _times(axes[1, column], max(3, int(8 * lengths[column] / sum(lengths))))
        axes[0, 0].set_ylabel("shortwave in, W m⁻²")
        axes[1, 0].set_ylabel("longwave in, W m⁻²")
        axes[1, 0].set_xlabel("time, UTC", loc="left")
        handles = [
            Line2D([], [], color=colour, ls=line, lw=0.9, label=shortened(name, 20))
            for name, (colour, line) in looks.items()
        ]
        handles.append(Line2D([], [], color="#777777", lw=0.8, ls=(0, (2, 2)), label="clear sky (model)"))
        figure.legend(handles=handles, ncols=5, loc="outside upper left", handlelength=2.6)
        figure.align_ylabels(axes[:, 0])
    return figure


def components(
    noted: pd.DataFrame, frame: pd.DataFrame, excluded: np.ndarray, across: int = 4, most: int = 24
) -> list[Figure]:
    """The four components of each segment of one set along its transect (against time where one stood), as few pages as hold them, evenly filled.

    The guard at the edges is shaded, flagged samples are hatched. All segments of a set share one scale, so that they can be compared by eye.
    """
    frame = frame.assign(excluded=excluded, edge=has_any(frame["flags"], {"edge"}))
    parts = {name: part for name, part in frame[frame["segment"] != ""].groupby("segment")}
    rows = [row for row in noted.to_dict("records") if row["segment"] in parts]
    if not rows:
        return []
    everything = np.concatenate(
        [parts[row["segment"]][list(COMPONENTS)].to_numpy(float).ravel() for row in rows]
    )
    low, high = (
        (np.nanmin(everything), np.nanmax(everything)) if np.isfinite(everything).any() else (0.0, 1.0)
    )
    pad = 0.04 * max(high - low, 1.0)
    pages = []
    for index in np.array_split(np.arange(len(rows)), -(-len(rows) // most)):
        chunk = [rows[i] for i in index]
        columns = min(across, len(chunk))
        lines = -(-len(chunk) // columns)
        with matplotlib.rc_context(STYLE):
            top, bottom, each = 0.42, 0.3, 1.3 if lines > 1 else 2.2
            left, right, gap = 0.08, 0.99, 0.06
            pitch = (
                (right - left) * WIDTH * (1 + gap) / (columns + gap * (columns - 1))
            )  # inches from one panel to the next
            figure = Figure(figsize=(WIDTH, top + bottom + each * lines - 0.3))
            height = figure.get_figheight()
            axes = figure.subplots(lines, columns, squeeze=False, sharey=True)
            for ax, row in zip(axes.ravel(), chunk):
                part = parts[row["segment"]]
                walked = part["position"].notna().all() and part["position"].nunique() > 1
                x = (
                    part["position"].to_numpy(float)
                    if walked
                    else (part["time_utc"] - part["time_utc"].iloc[0]).dt.total_seconds().to_numpy()
                )
                scale, unit = (1.0, "m") if walked else (60.0, "min") if x[-1] < 7200 else (3600.0, "h")
                x = x / scale
                half = (x[1] - x[0]) / 2 if len(x) > 1 else 0.5
                for mask, style in (
                    (part["excluded"] & part["edge"], {"facecolor": GUARD, "lw": 0}),
                    (
                        part["excluded"] & ~part["edge"],
                        {"facecolor": "#f7dcd6", "edgecolor": FLAGGED, "hatch": "////", "lw": 0},
                    ),
                ):
                    for a, b in _runs(mask.to_numpy(bool)):
                        ax.axvspan(x[a] - half, x[b] + half, **style)
                for channel, (_, colour, line) in COMPONENTS.items():
                    ax.plot(
                        *thinned(x, part[channel], 160),
                        color=colour,
                        ls=line,
                        marker="o" if len(x) < 4 else None,
                        ms=3,
                        clip_on=False,
                    )
                name = row["segment"].removeprefix(f"{row['set']}-")
                ax.set_title(
                    fitted(f"{name} {row['field'] or row['activity']}", pitch - 0.05), loc="left", pad=2
                )
                ax.xaxis.set_major_formatter(f"{{x:g}} {unit}")
                ax.margins(x=0.01)
                ax.set_ylim(low - pad, high + pad)
                ax.locator_params(axis="y", nbins=5)
                ax.locator_params(axis="x", nbins=3 if columns > 2 else 8)
            for ax in axes.ravel()[len(chunk) :]:
                ax.set_visible(False)
            handles = [Line2D([], [], color=c, ls=s, label=t) for t, c, s in COMPONENTS.values()]
            handles += [
                Patch(color=GUARD, label="edge"),
                Patch(facecolor="#f7dcd6", edgecolor=FLAGGED, hatch="////", lw=0, label="flagged"),
            ]
            figure.legend(
                handles=handles,
                ncols=6,
                loc="upper left",
                bbox_to_anchor=(0.0, 1.0),
                handlelength=2.6,
                columnspacing=1.1,
                borderaxespad=0.1,
            )
            figure.text(0.0, 0.5, "W m⁻²", rotation=90, va="center")
            figure.subplots_adjust(
                left=left,
                right=right,
                top=1 - top / height,
                bottom=bottom / height,
                hspace=0.3 / (each - 0.3) * 1.1,
                wspace=gap,
            )
        pages.append(figure)
    return pages


def _free_place(
    taken: list[tuple[float, float, float, float]],
    x: float,
    y: float,
    width: float,
    height: float,
    frame: tuple[float, float],
) -> tuple[float, float] | None:
    """Where, from a point, a text of this size meets neither other texts nor the frame: its lower left corner, all in inches; None where nowhere."""
    for dx, dy in (
        (0.08, 0.05),
        (0.08, -0.05 - height),
        (-0.08 - width, 0.05),
        (-0.08 - width, -0.05 - height),
        (-width / 2, 0.1),
        (-width / 2, -0.1 - height),
    ):
        a, b = x + dx, y + dy
        inside = a >= 0 and a + width <= frame[0] and b >= 0 and b + height <= frame[1]
        if inside and all(a + width < c or c + w < a or b + height < d or d + h < b for c, d, w, h in taken):
            return a, b
    return None


def albedo_temperature(fields: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Albedo against surface temperature, a point a field with its intervals, named where there is room."""
    rows = fields.dropna(subset=["albedo", "surface_temperature"])
    if not len(rows):
        return nothing("No field has both an albedo and a surface temperature.")
    with matplotlib.rc_context(STYLE):
        left, bottom, size, height = 0.65, 0.42, (4.5, 3.2), 3.8
        figure = Figure(figsize=(WIDTH, height))
        ax = figure.add_axes((left / WIDTH, bottom / height, size[0] / WIDTH, size[1] / height))
        spans = []
        for quantity in ("albedo", "surface_temperature"):
            values = rows[[quantity, f"{quantity}_low", f"{quantity}_high"]].to_numpy(float)
            low, high = np.nanmin(values), np.nanmax(values)
            pad = 0.12 * (high - low) or (0.05 if quantity == "albedo" else 1.0)
            spans.append((low - pad, high + pad))
        ax.set_xlim(*spans[0])
        ax.set_ylim(*spans[1])
        points = [
            (
                (row["albedo"] - spans[0][0]) / (spans[0][1] - spans[0][0]) * size[0],
                (row["surface_temperature"] - spans[1][0]) / (spans[1][1] - spans[1][0]) * size[1],
            )
            for row in rows.to_dict("records")
        ]
        taken = [(x - 0.06, y - 0.06, 0.12, 0.12) for x, y in points]
        for row, (x, y) in zip(rows.to_dict("records"), points):
            colour, marker = look(surfaces, row["surface"])
            ax.plot(
                [row["albedo_low"], row["albedo_high"]], [row["surface_temperature"]] * 2, color=colour, lw=1
            )
            ax.plot(
                [row["albedo"]] * 2,
                [row["surface_temperature_low"], row["surface_temperature_high"]],
                color=colour,
                lw=1,
            )
            ax.plot(
                [row["albedo"]],
                [row["surface_temperature"]],
                marker=marker,
                color=colour,
                mec="black",
                mew=0.5,
                ms=7,
                ls="none",
            )
            text = shortened(row["field"])
            place = _free_place(taken, x, y, LETTER * len(text), NAME_HEIGHT, size)
            if place:
                taken.append((*place, LETTER * len(text), NAME_HEIGHT))
                ax.text(place[0] / size[0], place[1] / size[1], text, transform=ax.transAxes, va="bottom")
        ax.set_xlabel("albedo")
        ax.set_ylabel("surface temperature, °C")
        handles = []
        for name in dict.fromkeys(rows["surface"]):
            colour, marker = look(surfaces, name)
            handles.append(
                Line2D(
                    [],
                    [],
                    marker=marker,
                    color=colour,
                    mec="black",
                    mew=0.5,
                    ms=7,
                    ls="none",
                    label=shortened(label(surfaces, name)),
                )
            )
        figure.legend(
            handles=handles,
            loc="upper left",
            bbox_to_anchor=((left + size[0] + 0.05) / WIDTH, (bottom + size[1]) / height),
            borderaxespad=0,
        )
    return figure


def budget(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Where the uncertainty comes from: the share of each source in the variance of three quantities, a bar a surface."""
    quantities = (
        ("albedo", "albedo"),
        ("surface_temperature", "surface temperature"),
        ("net_radiation", "net radiation"),
    )
    rows = table[
        table["quantity"].isin([q for q, _ in quantities]) & table["surface"].isin(surfaces)
    ]  # the rows of pairs are `shared`'s
    if not len(rows):
        return nothing("No budget: no surface has an interval.")
    names = list(dict.fromkeys(rows["surface"]))
    sources = list(rows.groupby("source")["share"].sum().sort_values(ascending=False, kind="stable").index)
    kept, rest = sources[:8], sources[8:]
    shades = ("#2f6690", "#e39a3b", "#8cc5bd", "#a8434f", "#cfcb6a", "#a585c4", "#c5d4e3", "#7d7d7d")
    # of lines only: dots are drawn as thousands of curves
    hatches = ("", "//", "||", "\\\\", "xx", "--", "/", "++")
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, min(TALLEST, 1.5 + 0.25 * len(names))), layout="constrained")
        axes = figure.subplots(1, 3, sharey=True)
        for ax, (quantity, title) in zip(axes, quantities):
            own = (
                rows[rows["quantity"] == quantity]
                .pivot_table(index="surface", columns="source", values="share", aggfunc="sum")
                .reindex(names)
                .fillna(0.0)
            )
            left = np.zeros(len(names))
            for source, colour, hatch in [*zip(kept, shades, hatches), ("others", "#eeeeee", "")]:
                share = (
                    own[[s for s in rest if s in own]].sum(axis=1).to_numpy()
                    if source == "others"
                    else own.get(source, pd.Series(0.0, own.index)).to_numpy()
                )
                _bars(
                    ax,
                    list(zip(left, share, range(len(names)), [0.8] * len(names))),
                    facecolor=colour,
                    edgecolor="white",
                    hatch=hatch,
                    lw=0.3,
                )
                left = left + share
            ax.set_title(title)
            ax.set_xticks([0, 0.5, 1], ["0", "50", "100 %"])
            ax.set_xlim(0, 1.06)
            ax.set_ylim(len(names) - 0.5, -0.5)
        axes[0].set_yticks(range(len(names)), _named(surfaces, names))
        axes[1].set_xlabel("share of the variance")
        handles = [
            Patch(facecolor=c, edgecolor="white", hatch=h, label=s) for s, c, h in zip(kept, shades, hatches)
        ]
        handles += (
            [Patch(facecolor="#eeeeee", edgecolor="#999999", lw=0.4, label="all others")] if rest else []
        )
        figure.legend(handles=handles, ncols=2, loc="outside lower center", handlelength=1.8)
    return figure


def pairs(
    table: pd.DataFrame, surfaces: Mapping[str, Mapping], quantity: str = "net_radiation_common_sky"
) -> Figure:
    """Which surfaces can be told apart: difference (row less column) with a filled cell where its interval does not hold 0."""
    rows = table[table["quantity"] == quantity]
    names = list(dict.fromkeys([*rows["surface_a"], *rows["surface_b"]]))
    if not len(names):
        return nothing("There are no two surfaces to compare.")
    with matplotlib.rc_context({**STYLE, "axes.grid": False}):
        cell = min(0.6, (WIDTH - 2.0) / len(names))
        figure = Figure(
            figsize=(min(WIDTH, 2.0 + max(cell * len(names), 1.2)), 1.25 + 0.3 * len(names)),
            layout="constrained",
        )
        ax = figure.subplots()
        for row in rows.to_dict("records"):
            a, b = names.index(row["surface_a"]), names.index(row["surface_b"])
            told = row["distinguishable"]
            fill, form = (
                ("#cfe3f3", "{}")
                if told is True
                else ("#ffffff", "({})")
                if told is False
                else ("#eeeeee", "{}?")
            )
            for y, x, value in ((a, b, row["difference"]), (b, a, -row["difference"])):
                ax.add_patch(Rectangle((x - 0.5, y - 0.5), 1, 1, facecolor=fill, edgecolor="#999999", lw=0.5))
                ax.text(
                    x,
                    y,
                    form.format(f"{value:+.0f}".replace("-", "−")) if np.isfinite(value) else "–",
                    ha="center",
                    va="center",
                    fontweight="bold" if told is True else "normal",
                )
        ax.set_xlim(-0.52, len(names) - 0.48)
        ax.set_ylim(len(names) - 0.48, -0.52)
        ax.set_xticks(
            range(len(names)), _named(surfaces, names, 18), rotation=35, ha="left", rotation_mode="anchor"
        )
        ax.xaxis.tick_top()
        ax.set_yticks(range(len(names)), _named(surfaces, names, 18))
        ax.tick_params(length=0)
        ax.spines[:].set_visible(False)
    return figure


def sharing_pair(groups: pd.DataFrame, differences: pd.DataFrame) -> tuple[str, str] | None:
    """The two surfaces whose difference of net radiation is known best against what their own intervals would say; None without two intervals."""
    half = ((groups["net_radiation_high"] - groups["net_radiation_low"]) / 2.0).set_axis(groups["surface"])
    rows = differences[(differences["quantity"] == "net_radiation") & differences["difference_low"].notna()]
    if not len(rows):
        return None
    alone = np.hypot(half.reindex(rows["surface_a"]).to_numpy(), half.reindex(rows["surface_b"]).to_numpy())
    gain = ((rows["difference_high"] - rows["difference_low"]).to_numpy() / 2.0) / np.where(
        alone > 0, alone, np.nan
    )
    best = rows.iloc[int(np.nanargmin(gain))] if np.isfinite(gain).any() else None
    return None if best is None else (best["surface_a"], best["surface_b"])


def shared(
    groups: pd.DataFrame,
    differences: pd.DataFrame,
    budget_table: pd.DataFrame,
    clouds: pd.DataFrame,
    surfaces: Mapping[str, Mapping],
) -> Figure:
    """Why a difference can be known better than a value: the draws of two surfaces lie along a line, and each source counts for the values, less for the difference."""
    pair = sharing_pair(groups, differences)
    if pair is None:
        return nothing("There are no two surfaces with intervals.")
    a, b = pair
    x, y = (
        clouds.loc[clouds["surface"] == name].sort_values("draw")["net_radiation"].to_numpy()
        for name in (b, a)
    )
    rows = groups.set_index("surface")
    row = differences[
        (differences["quantity"] == "net_radiation")
        & (differences["surface_a"] == a)
        & (differences["surface_b"] == b)
    ].iloc[0]
    names = _named(surfaces, [a, b], 18)
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 3.5), layout="constrained")
        left, right = figure.subplots(1, 2, width_ratios=(1.0, 1.0))
        left.plot(x, y, ls="", marker=".", ms=2.2, color="#2f6690", alpha=0.6)
        middle, reach = (np.median(x), np.median(y)), 1.25 * max(np.ptp(x), np.ptp(y)) / 2.0
        left.axline(middle, slope=1.0, color="#777777", ls=(0, (4, 2)), lw=0.8)
        left.set(
            xlim=(middle[0] - reach, middle[0] + reach),
            ylim=(middle[1] - reach, middle[1] + reach),
            aspect="equal",
            xlabel=f"net radiation of {names[1]}, W m⁻²",
            ylabel=f"net radiation of {names[0]}, W m⁻²",
        )
        low, high = (rows.loc[b, f"net_radiation_{end}"] for end in ("low", "high"))
        left.plot([low, high], [middle[1] - 0.93 * reach] * 2, color="black", marker="|", lw=1.4)
        low, high = (rows.loc[a, f"net_radiation_{end}"] for end in ("low", "high"))
        left.plot([middle[0] - 0.93 * reach] * 2, [low, high], color="black", marker="_", lw=1.4)
        left.set_title(
            "each dot: one draw of all errors;\nbars: 95 % intervals of the two values", loc="left"
        )
        parts = {
            name: budget_table[
                (budget_table["surface"] == key) & (budget_table["quantity"] == "net_radiation")
            ].set_index("source")["half_width_95"]
            for name, key in ((names[0], a), (names[1], b), ("difference", f"{a} - {b}"))
        }
        sources = list(
            pd.concat(parts.values()).groupby(level=0).max().sort_values(ascending=False).index[:7]
        )
        for k, (name, colour, hatch) in enumerate(
            zip(parts, ("#2f6690", "#8cc5bd", "#e39a3b"), ("", "\\\\", "//"))
        ):
            own = parts[name].reindex(sources).fillna(0.0).to_numpy()
            _bars(
                right,
                [(0.0, value, at + 0.27 * (k - 1), 0.25) for at, value in enumerate(own)],
                facecolor=colour,
                edgecolor="white",
                hatch=hatch,
                lw=0.3,
            )
        half = {
            "difference": (row["difference_high"] - row["difference_low"]) / 2.0,
            **{
                n: (rows.loc[key, "net_radiation_high"] - rows.loc[key, "net_radiation_low"]) / 2.0
                for n, key in zip(names, (a, b))
            },
        }
        largest = max((part.max() for part in parts.values() if len(part)), default=1.0)
        right.set(
            xlim=(0, 1.05 * largest),
            ylim=(len(sources) - 0.4, -0.6),
            xlabel="half width from this source alone, W m⁻²",
        )
        right.set_yticks(range(len(sources)), ["\n".join(textwrap.wrap(source, 24)) for source in sources])
        right.legend(
            handles=[
                Patch(facecolor=c, edgecolor="white", hatch=h, label=f"{n}: ±{half[n]:.0f} in all")
                for n, c, h in zip(parts, ("#2f6690", "#8cc5bd", "#e39a3b"), ("", "\\\\", "//"))
            ],
            loc="lower right",
        )
    return figure


MAP_TALLEST = 6.0
"""Inches: a map taller than this leaves no room for its legend."""
LEAST_RANGE = {"albedo": 0.02, "temperature": 1.0}
"""What the colours of a map span at least, 1 and K, so that noise over even ground looks even."""
STEP = 5.0
"""s of walking behind one point of a map."""


def walks_map(
    samples: Mapping[str, pd.DataFrame],
    located: Mapping[str, pd.DataFrame],
    excluded: Mapping[str, np.ndarray],
    emissivity: Mapping[str, float],
    outlines: Mapping[str, Sequence[np.ndarray]],
    width: float,
) -> Figure:
    """Where was walked, coloured by albedo, or by surface temperature where the sun is too low for an albedo; outlines of the fields with their guards.

    samples, located, excluded: by set, a row a sample. emissivity: of each segment. outlines: rings in m, on the plane of `located`. width: of the guards, m, on each
    side of an outline. Used samples of `STEP` s make one point.
    """
    parts = [
        _points_of_map(samples[name], located[name], ~excluded[name], emissivity).assign(set=name)
        for name in samples
    ]
    points = pd.concat(parts, ignore_index=True)
    if not len(points):
        return nothing("No sample that counts has a place.")
    shown, title = (
        ("albedo", "albedo")
        if points["albedo"].notna().mean() > 0.5
        else ("temperature", "surface temperature, °C")
    )
    corners = np.vstack(
        [ring for rings in outlines.values() for ring in rings] + [points[["east", "north"]].to_numpy()]
    )
    low, high = corners.min(axis=0) - width - 4.0, corners.max(axis=0) + width + 4.0
    span = high - low
    scale = min((WIDTH - 0.2) / span[0], MAP_TALLEST / span[1])  # inches a metre
    height = max(span[1] * scale, 1.2)
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, height + 1.25))
        ax = figure.add_axes(
            [0.1 / WIDTH, 0.75 / (height + 1.25), (WIDTH - 0.2) / WIDTH, height / (height + 1.25)]
        )
        middle, half = (low + high) / 2, np.array([(WIDTH - 0.2), height]) / scale / 2
        ax.set(
            xlim=(middle[0] - half[0], middle[0] + half[0]),
            ylim=(middle[1] - half[1], middle[1] + half[1]),
            xticks=[],
            yticks=[],
        )
        ax.grid(False)
        for side in ax.spines.values():
            side.set_visible(False)
        for rings in outlines.values():
            for ring in rings:
                ax.plot(
                    *ring.T,
                    color=GUARD,
                    lw=2 * width * scale * 72,
                    solid_joinstyle="round",
                    solid_capstyle="round",
                    zorder=1,
                )
        taken = []
        for name, rings in outlines.items():
            for ring in rings:
                ax.plot(*ring.T, color="black", lw=0.9, zorder=2)
            top, text = max((ring for ring in rings), key=len), shortened(name)
            room = LETTER * len(text) / 2 / scale  # m to each side; no name leaves the map
            x = np.clip(
                (top[:, 0].min() + top[:, 0].max()) / 2,
                middle[0] - half[0] + room,
                middle[0] + half[0] - room,
            )
            above, below = top[:, 1].max() + width, top[:, 1].min() - width - NAME_HEIGHT / scale
            y = next(
                (
                    y
                    for y in (above, below)
                    if all(
                        abs(x - a) > room + other or abs(y - b) > NAME_HEIGHT / scale for a, b, other in taken
                    )
                ),
                above,
            )
            taken.append((x, y, room))
            ax.text(x, y, text, ha="center", va="bottom", zorder=4)
        limits = np.nanpercentile(points[shown], [2, 98])
        limits = limits.mean() + np.array([-0.5, 0.5]) * max(np.ptp(limits), LEAST_RANGE[shown])
        for (name, own), marker in zip(points.groupby("set", sort=False), "os^Dv" * len(parts)):
            drawn = ax.scatter(
                own["east"],
                own["north"],
                c=own[shown],
                cmap="cividis",
                vmin=limits[0],
                vmax=limits[1],
                s=9,
                marker=marker,
                lw=0,
                zorder=3,
                label=shortened(name),
            )
        bar = _round_length(span[0] / 5.0)
        x, y = 0.15, 0.45
        figure.add_artist(
            Line2D(
                [x / WIDTH, (x + bar * scale) / WIDTH],
                [y / (height + 1.25)] * 2,
                color="black",
                lw=2.0,
                solid_capstyle="butt",
            )
        )
        figure.text(x / WIDTH, (y - 0.2) / (height + 1.25), f"{bar:g} m")
        arrow = figure.add_axes([1.75 / WIDTH, 0.1 / (height + 1.25), 0.3 / WIDTH, 0.6 / (height + 1.25)])
        arrow.set_axis_off()
        arrow.annotate(
            "N",
            xy=(0.5, 1.0),
            xytext=(0.5, 0.0),
            ha="center",
            va="bottom",
            arrowprops={"arrowstyle": "-|>", "color": "black", "lw": 1.0},
        )
        figure.colorbar(
            drawn,
            cax=figure.add_axes([3.9 / WIDTH, y / (height + 1.25), 2.5 / WIDTH, 0.12 / (height + 1.25)]),
            orientation="horizontal",
            extend="both",
        ).set_label(title)
        handles = [
            Line2D([], [], marker=m, ls="none", color="#444444", ms=4, label=shortened(name, 14))
            for name, m in zip(samples, "os^Dv" * len(parts))
        ]
        figure.legend(
            handles=[*handles[:MOST_SETS], Patch(color=GUARD, label="guard")],
            loc="lower left",
            bbox_to_anchor=(2.2 / WIDTH, 0.05 / (height + 1.25)),
            ncols=1,
            handletextpad=0.4,
            labelspacing=0.2,
            borderpad=0.0,
            borderaxespad=0.0,
        )
    return figure


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
    frame = frame.assign(step=np.floor(pd.DatetimeIndex(frame["middle_utc"]).as_unit("us").asi8 / 1e6 / STEP))
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


def of_numbers(tables: Mapping[str, pd.DataFrame], surfaces: Mapping[str, Mapping]) -> dict[str, Figure]:
    """The report's figures of what users get, by their names. tables: `surfaces`, `fields`, `differences`, `uncertainty_budget`, `clouds`."""
    return {
        "answer": answer(tables["surfaces"], surfaces),
        "albedo_temperature": albedo_temperature(tables["fields"], surfaces),
        "balance": balance(tables["surfaces"], surfaces),
        "budget": budget(tables["uncertainty_budget"], surfaces),
        "pairs": pairs(tables["differences"], surfaces),
        "shared": shared(
            tables["surfaces"],
            tables["differences"],
            tables["uncertainty_budget"],
            tables["clouds"],
            surfaces,
        ),
    }


def of_samples(
    noted: pd.DataFrame,
    samples: Mapping[str, pd.DataFrame],
    intervals: Mapping[str, float],
    excluded: Mapping[str, np.ndarray],
    surfaces: Mapping[str, Mapping],
) -> dict[str, Figure]:
    """The report's figures of what was recorded, by their names; pages of a figure that may need several end in their number."""
    result = {"incoming": incoming(samples, intervals)}
    for number, figure in enumerate(timeline(noted, samples, intervals, excluded, surfaces), 1):
        result[f"timeline_{number:02d}"] = figure
    for name in samples:
        for number, figure in enumerate(
            components(noted[noted["set"] == name], samples[name], excluded[name]), 1
        ):
            result[f"components_{name}_{number:02d}"] = figure
    return result
