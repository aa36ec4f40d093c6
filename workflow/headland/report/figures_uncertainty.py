"""The figures of the fifth page: sources of uncertainty by size, and two values with their difference."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from headland.report.differences import COMMON, between, of_quantity
from headland.report.figures import STYLE, WIDTH, bars, named, nothing, order, shortened

SOURCES = 8
"""Sources that are shown one by one."""
SHARED = 6
"""Sources in the figure of a pair."""
BAR = "#b9cfdf"
"""Pale, so that the range over the surfaces shows on it."""
RIM = "#2f6690"
LOOKS = (("#2f6690", ""), ("#8cc5bd", "\\\\"), ("#e39a3b", "//"))
"""Colour and hatch of the first value, the second and their difference."""


class Widths(NamedTuple):
    """Half widths of the 95 % intervals of two values and of their difference, W m-2."""

    first: float
    second: float
    difference: float


def ranked_sources(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> pd.DataFrame:
    """Sources by the half width that each alone would give net radiation under the common sky, largest first.

    Returns
    -------
    `median`, `least` and `most` over the surfaces, W m-2, by source.
    """
    rows = table[(table["quantity"] == COMMON) & table["surface"].isin(surfaces)]
    wide = rows.pivot_table(index="source", columns="surface", values="half_width_95", aggfunc="sum").fillna(
        0.0
    )
    result = pd.DataFrame(
        {"median": wide.median(axis=1), "least": wide.min(axis=1), "most": wide.max(axis=1)}
    )
    return result.sort_values(["median", "most"], ascending=False, kind="stable")


def budget(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """The sources of uncertainty as bars, largest first, with the range over the surfaces."""
    ranked = ranked_sources(table, surfaces)
    if not len(ranked):
        return nothing("No budget: no surface has an interval.")
    shown = ranked.head(SOURCES)
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 0.5 + 0.175 * len(shown)), layout="constrained")
        axes = figure.subplots()
        bars(
            axes,
            [(0.0, width, y, 0.62) for y, width in enumerate(shown["median"])],
            facecolor=BAR,
            edgecolor=RIM,
            lw=0.6,
        )
        for y, (middle, least, most) in enumerate(shown.to_numpy(float)):
            axes.plot([least, most], [y, y], color="black", lw=1.0, marker="|", ms=5)
            _beside(axes, (max(most, middle), y), f"{middle:.1f}")
        axes.set_yticks(range(len(shown)), [shortened(source, 60) for source in shown.index])
        axes.set(xlim=(0, 1.12 * float(shown["most"].max())), ylim=(len(shown) - 0.4, -0.6))
        axes.set_xlabel("half width of the 95 % interval from this source alone, W m⁻²")
    return figure


def _beside(axes: Axes, place: tuple[float, float], text: str) -> None:
    """A text at the right of a place, three points away."""
    axes.annotate(text, place, xytext=(4, 0), textcoords="offset points", va="center")


def sharing_pair(groups: pd.DataFrame, differences: pd.DataFrame) -> tuple[str, str] | None:
    """The two surfaces whose difference is known best against what their own intervals would say; None
    without two intervals.
    """
    half = ((groups[f"{COMMON}_high"] - groups[f"{COMMON}_low"]) / 2.0).set_axis(groups["surface"])
    rows = of_quantity(differences)
    rows = rows[rows["difference_low"].notna()]
    if not len(rows):
        return None
    alone = np.hypot(half.reindex(rows["surface_a"]).to_numpy(), half.reindex(rows["surface_b"]).to_numpy())
    own = (rows["difference_high"] - rows["difference_low"]).to_numpy() / 2.0
    gain = own / np.where(alone > 0, alone, np.nan)
    if not np.isfinite(gain).any():
        return None
    best = rows.iloc[int(np.nanargmin(gain))]
    ranks = order(groups)
    first, second = sorted((best["surface_a"], best["surface_b"]), key=ranks.index)
    return first, second


def half_widths(groups: pd.DataFrame, differences: pd.DataFrame, pair: tuple[str, str]) -> Widths:
    """How well two values and their difference are known."""
    half = ((groups[f"{COMMON}_high"] - groups[f"{COMMON}_low"]) / 2.0).set_axis(groups["surface"])
    own = [float(half[name]) for name in pair]
    between_both = between(of_quantity(differences), *pair)
    width = (
        (between_both["difference_high"] - between_both["difference_low"]) / 2.0 if between_both else math.nan
    )
    return Widths(own[0], own[1], width)


def shared(
    groups: pd.DataFrame, differences: pd.DataFrame, table: pd.DataFrame, surfaces: Mapping[str, Mapping]
) -> Figure:
    """Two values and their difference on one scale, and what each source gives to the three."""
    pair = sharing_pair(groups, differences)
    if pair is None:
        return nothing("There are no two surfaces with intervals.")
    names = named(surfaces, pair, 18)
    parts = [*pair, f"{pair[0]} - {pair[1]}"]
    if not (table["surface"] == parts[2]).any():
        parts[2] = f"{pair[1]} - {pair[0]}"
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 2.2), layout="constrained")
        left, right = figure.subplots(1, 2, width_ratios=(1.0, 1.2))
        titles = [*names, "difference"]
        _intervals(left, half_widths(groups, differences, pair), titles)
        _sources(right, table[table["quantity"] == COMMON], parts, titles)
    return figure


def _intervals(axes: Axes, widths: Widths, titles: Sequence[str]) -> None:
    """Intervals around zero, so that their lengths can be compared by eye."""
    for y, (width, (colour, hatch)) in enumerate(zip(widths, LOOKS, strict=True)):
        style = {"facecolor": colour, "edgecolor": "white", "hatch": hatch, "lw": 0.3}
        bars(axes, [(-width, 2 * width, y, 0.5)], **style)
        axes.text(0, y - 0.34, f"{titles[y]}: ± {width:.0f} W m⁻²", ha="center", va="bottom")
    apart = math.hypot(widths.first, widths.second)
    axes.plot([-apart, apart], [3, 3], color="black", lw=1.0, marker="|")
    axes.text(0, 2.72, f"if no errors were shared: ± {apart:.0f} W m⁻²", ha="center", va="bottom")
    reach = 1.08 * max(apart, *widths)
    axes.set(xlim=(-reach, reach), ylim=(3.4, -0.75), xlabel="around the value, W m⁻²", yticks=[])
    axes.spines["left"].set_visible(False)
    axes.grid(False)


def _sources(axes: Axes, table: pd.DataFrame, parts: Sequence[str], titles: Sequence[str]) -> None:
    """The half width from each source alone: for both values and for their difference."""
    columns = {
        title: table[table["surface"] == part].groupby("source", sort=False)["half_width_95"].sum()
        for part, title in zip(parts, titles, strict=True)
    }
    largest = pd.concat(columns.values()).groupby(level=0).max().sort_values(ascending=False, kind="stable")
    sources = list(largest.index[:SHARED])
    for place, (title, (colour, hatch)) in enumerate(zip(titles, LOOKS, strict=True)):
        own = columns[title].reindex(sources).fillna(0.0).to_numpy()
        boxes = [(0.0, width, y + 0.29 * (place - 1), 0.28) for y, width in enumerate(own)]
        bars(axes, boxes, facecolor=colour, edgecolor="white", hatch=hatch, lw=0.3)
    most = float(largest.iloc[0]) if len(largest) else 1.0
    axes.set(
        xlim=(0, 1.08 * most),
        ylim=(len(sources) - 0.4, -0.6),
        xlabel="half width from this source alone, W m⁻²",
    )
    axes.set_yticks(range(len(sources)), ["\n".join(textwrap.wrap(source, 34)) for source in sources])
