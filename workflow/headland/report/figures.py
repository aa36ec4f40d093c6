"""What all figures share: their style, the look of surfaces and sets, time axes, and their text as SVG, the
same bytes each time.

Colours and markers of surfaces come from config/surfaces.csv. Nothing is shown by colour alone: a marker, a
line style, a hatch,
a height or a word goes with it, so that a grey print says the same. Text has its printed size.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from typing import Any

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.colors import is_color_like, to_hex, to_rgb
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, fontManager
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.textpath import TextPath

from headland.report.fonts import FONT_FOLDER
from headland.report.wording import PROVISIONAL

WIDTH = 7.05
"""Inches: the width of the page's text."""
HALF = 3.42
"""Inches: half of it, without the gap between two figures side by side. A phone shows this at its printed
size.
"""
TALLEST = 8.6
"""Inches: what a page holds beside its caption."""

# a machine's own fonts, and the list of fonts that the library keeps for the user, would change the bytes of
# a figure
fontManager.ttflist.clear()
for _font in sorted(FONT_FOLDER.glob("*.ttf")):
    fontManager.addfont(_font)

SIZE = 8.5
"""Points: the smallest text of a page."""

STYLE: dict[Any, Any] = {
    "svg.hashsalt": "headland",
    "svg.fonttype": "none",
    "path.simplify": True,
    "path.simplify_threshold": 0.35,
    "font.family": "DejaVu Sans",
    "font.size": SIZE,
    "axes.titlesize": SIZE,
    "axes.labelsize": SIZE,
    "xtick.labelsize": SIZE,
    "ytick.labelsize": SIZE,
    "legend.fontsize": SIZE,
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
COMPONENTS: dict[str, tuple[str, str, Any]] = {
    "sw_in": ("shortwave in", "#b35c00", "-"),
    "sw_out": ("shortwave out", "#e39a3b", (0, (4, 1.5))),
    "lw_in": ("longwave in", "#5b8fd0", (0, (1, 1))),
    "lw_out": ("longwave out", "#1f4e8c", (0, (6, 1.5, 1, 1.5))),
}
SET_LOOKS: tuple[tuple[str, Any], ...] = (
    ("#1b6ca8", "-"),
    ("#c4472d", (0, (4, 1.5))),
    ("#3f7f3f", (0, (1, 1))),
    ("#7a4fa3", "-."),
    ("#5f5f5f", (0, (6, 1, 1, 1))),
)
"""Colour and line style of the sets, in their order; where there are more, each colour again with the next
style.
"""
PLAIN = ("#777777", "o")
COUNTS, GUARD, FLAGGED, UNCLAIMED = "#2e8b3d", "#d9d9d9", "#c4472d", "#f3d36b"
DOUBTFUL = "#9a9a9a"
"""Colour of numbers that an error makes doubtful."""
DARK_ENOUGH = 1.05 / 3.0 - 0.05
"""The relative luminance that has a contrast of 3 with white (WCAG 2.2; from memory)."""
MOST_POINTS = 600
"""Points a line keeps: the least and the greatest of each stretch, so that no peak is lost."""
LONGEST_PAUSE = pd.Timedelta(hours=6)
"""Where nothing was stored or noted for longer, a time axis is broken."""
MOST_PARTS = 6
"""Pieces that an axis is broken into at most."""
MOST_SETS = 6
"""Sets that are shown one by one at most."""
NAME_HEIGHT = 0.14
"""Inches that a line of the figures' text is high."""
LETTER = 0.072
"""Inches that a letter of the figures takes on average."""
LETTERS = FontProperties(family="DejaVu Sans")
FONTS = ("'DejaVu Sans'", "'DejaVu Sans', Verdana, sans-serif")
"""The font that figures are measured with, and what a browser without it may take: Verdana has its widths."""


def svg(figure: Figure, equation: bool = False) -> str:
    """A figure as SVG text, without a date, coordinates to a hundredth of a point; words stay words, which
    can be searched and read aloud.

    equation: cut to what is drawn, with letters as outlines, because a reader's fonts may lack the signs.
    """
    stream = io.StringIO()
    style = {**STYLE, "svg.fonttype": "path"} if equation else STYLE
    cut: dict = {"bbox_inches": "tight", "pad_inches": 0.02} if equation else {}
    with matplotlib.rc_context(style):
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None}, **cut)
    return rounded(stream.getvalue()).replace(*FONTS)


def rounded(text: str) -> str:
    """An SVG with its places cut to a hundredth of a point; scales keep their digits."""
    places = re.compile(r'( (?:d|x|y|points)="[^"]*")|(translate\([^)]*\))')
    return places.sub(lambda found: re.sub(r"(\.\d\d)\d+", r"\1", found.group()), text)


def equation(text: str, size: float = 10.0) -> str:
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


def order(table: pd.DataFrame) -> list[str]:
    """The surfaces in the order of all tables and figures: most net radiation under the common sky first,
    those without it last.
    """
    ranked = table.sort_values("net_radiation_common_sky", ascending=False, kind="stable", na_position="last")
    return ranked["surface"].tolist()


def look(surfaces: Mapping[str, Mapping], name: str) -> tuple[str, str]:
    """Colour and marker of a surface class."""
    entry = surfaces.get(name, {})
    colour, marker = (entry.get(key, {}).get("value") for key in ("colour", "marker"))
    return (
        colour if is_color_like(colour) else PLAIN[0],
        marker if marker in Line2D.filled_markers else PLAIN[1],
    )


def line_colour(colour: str) -> str:
    """A colour made dark enough for a line on white paper, so that a grey print shows it too: a contrast of 3
    at least (WCAG 2.2, 1.4.11; from memory). The hue stays.
    """
    parts = np.asarray(to_rgb(colour))
    share = next(share for share in np.linspace(1.0, 0.0, 21) if _luminance(parts * share) <= DARK_ENOUGH)
    return to_hex(parts * share)


def _luminance(parts: np.ndarray) -> float:
    """Relative luminance of red, green and blue from 0 to 1 (WCAG 2.2)."""
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def label(surfaces: Mapping[str, Mapping], name: str) -> str:
    """A surface class's plain name."""
    return str(surfaces.get(name, {}).get("label", {}).get("value") or name.replace("_", " "))


def shortened(text: str, most: int = 24) -> str:
    """Text of a user for a figure: no longer than fits, of printable characters, and never read as an
    equation.
    """
    text = "".join(letter if letter.isprintable() else " " for letter in text)
    text = text if len(text) <= most else text[: most - 1].rstrip() + "…"
    return text.replace("$", r"\$")


def wide(text: str) -> float:
    """How wide a text of a figure is, inches, measured as drawn."""
    outlines = TextPath((0, 0), text, size=STYLE["font.size"], prop=LETTERS)
    # no letter reaches beyond the points of its outline
    across = outlines.vertices[outlines.codes != Path.CLOSEPOLY, 0]
    return float(np.ptp(across)) / 72 if len(across) else 0.0


def fitted(text: str, room: float) -> str:
    """Text of a user for a figure, cut to what fits into `room` inches."""
    lengths = range(min(len(text), 60), 1, -1)
    return shortened(text, next((most for most in lengths if wide(shortened(text, most)) <= room), 1))


def named(surfaces: Mapping[str, Mapping], names: Sequence[str], most: int = 24) -> list[str]:
    """Plain names of surface classes, short enough for a figure."""
    return [shortened(label(surfaces, name), most) for name in names]


def set_looks(names: Sequence[str]) -> dict[str, tuple]:
    """Colour and line style of each set; where there are many, each colour again with the next style."""
    kinds = len(SET_LOOKS)
    return {
        name: (SET_LOOKS[place % kinds][0], SET_LOOKS[(place + place // kinds) % kinds][1])
        for place, name in enumerate(names)
    }


def nothing(text: str) -> Figure:
    """A figure that says why there is nothing to see."""
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 0.6))
        figure.text(0.0, 0.5, text, ha="left", va="center", color="#444444", style="italic")
    return figure


def dot(axes: Axes, row: Mapping, quantity: str, y: float, surfaces: Mapping[str, Mapping]) -> None:
    """A surface's value as a marker on the line of its interval, at the height y.

    What an error makes doubtful is grey and hollow.
    """
    colour, marker = look(surfaces, row["surface"])
    doubtful = row.get("state") == PROVISIONAL
    line = DOUBTFUL if doubtful else line_colour(colour)
    low, high = row[f"{quantity}_low"], row[f"{quantity}_high"]
    if np.isfinite(low) and np.isfinite(high):
        axes.plot([low, high], [y, y], color=line, lw=1.8, solid_capstyle="butt")
    if np.isfinite(row[quantity]):
        fill = "white" if doubtful else colour
        edge = DOUBTFUL if doubtful else "black"
        axes.plot([row[quantity]], [y], marker=marker, mfc=fill, mec=edge, mew=0.6, ms=6.5, ls="none")


def time_axis(axes: Axes, ticks: int = 8) -> None:
    """A time axis with few ticks and no date where one day is shown."""
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


def bare(times: pd.Series) -> np.ndarray:
    """Times without their zone, as the drawing library takes them."""
    return times.dt.tz_localize(None).to_numpy()


def stretches(
    times: np.ndarray, mask: np.ndarray, interval: float
) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Start and end of each uninterrupted stretch of the masked samples."""
    step = np.timedelta64(int(interval * 1e6), "us")
    index = np.flatnonzero(mask)
    if not len(index):
        return []
    breaks = np.flatnonzero((np.diff(index) > 1) | (np.diff(times[index]) > 2.5 * step))
    starts, ends = np.r_[index[0], index[breaks + 1]], np.r_[index[breaks], index[-1]]
    return [
        (pd.Timestamp(times[a]), pd.Timestamp(times[b] + step)) for a, b in zip(starts, ends, strict=True)
    ]


def runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """First and last place of each run of true values."""
    edges = np.flatnonzero(np.diff(np.r_[0, mask.astype(int), 0]))
    return [(a, b - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def bars(axes: Axes, boxes: Sequence[tuple[float, float, float, float]], **style) -> None:
    """Horizontal bars (left, width, middle, height) of one look, as one path: laying out a page with
    hundreds of hatched bars takes seconds.
    """
    paths = [
        Path(
            [(x, y - h / 2), (x + w, y - h / 2), (x + w, y + h / 2), (x, y + h / 2), (x, y - h / 2)],
            closed=True,
        )
        for x, w, y, h in boxes
        if w
    ]
    if paths:
        path = Path.make_compound_path(*paths)
        axes.add_patch(PathPatch(path, **style))
        axes.update_datalim(path.get_extents())


def bars_in_time(
    axes: Axes, y: float, height: float, spans: Sequence[tuple[pd.Timestamp, pd.Timestamp]], **style
) -> None:
    """Bars from start to end on a time axis."""
    ends = [(date2num(start), date2num(end)) for start, end in spans]
    bars(axes, [(start, end - start, y, height) for start, end in ends], **style)


def time_parts(spans: Sequence[tuple[pd.Timestamp, pd.Timestamp]]) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """The pieces of a time axis: spans that a long pause does not part, or all in one where these would be
    too many.
    """
    parts: list[list] = []
    for start, end in sorted(spans):
        if parts and start - parts[-1][1] <= LONGEST_PAUSE:
            parts[-1][1] = max(parts[-1][1], end)
        else:
            parts.append([start, end])
    return [(a, b) for a, b in parts] if len(parts) <= MOST_PARTS else [(parts[0][0], parts[-1][1])]
