"""The figure of the sun's path with the walks on it, and of where the carrier's shadow fell in what the
downward heads saw.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle

from headland.physics import geometry, sun
from headland.physics.geometry import view_within
from headland.report.figures import MOST_PARTS, MOST_SETS, SET_LOOKS, STYLE, WIDTH, nothing, shortened

MARKERS = "os^Dv"
LINES = ("-", (0, (4, 1.5)), (0, (1, 1.2)), (0, (4, 1.5, 1, 1.5)))
"""Of the lines that a walk's share of shadow is held against, four at most."""
NEAR = 3.6
"""Heights of the head: the plan of the view reaches so far to each side, a little beyond the 90 % of the
guard.
"""


def walks_under_the_sun(
    noted: pd.DataFrame, site: Mapping[str, float], carrying: Mapping[str, float]
) -> pd.DataFrame:
    """The walks, each with the sun in its middle and the carrier's shadow.

    noted: intervals with `set`, `activity`, `start_utc`, `end_utc`, `heading` (degrees, NaN where not
    noted) and `height` (m, of the head over what it looks at). site: latitude, longitude (degrees),
    elevation (m). carrying: sensor_height, reach, carrier_height, carrier_width, m. Adds `middle_utc`;
    `elevation`, `azimuth` and `phi`, the sun's azimuth minus the heading, degrees; `view`, the share of the
    downward view in shadow. A canopy hides the carrier's legs, and `height` is at least the least of a field.
    """
    walks = noted[noted["activity"] == "walk"].reset_index(drop=True)
    middle = walks["start_utc"] + (walks["end_utc"] - walks["start_utc"]) / 2
    elevation, azimuth = sun.position(middle, site["latitude"], site["longitude"], site["elevation"])
    phi = azimuth - walks["heading"].to_numpy(float)
    height = np.clip(walks["height"].to_numpy(float), geometry.SMALLEST_HEIGHT, None)
    view = geometry.shadow_view(np.nan_to_num(phi), elevation, height, _carrier_over(height, carrying))
    return walks.assign(
        height=height,
        middle_utc=middle,
        elevation=elevation,
        azimuth=azimuth,
        phi=phi,
        view=np.where(np.isfinite(phi), view, np.nan),
    )


def _carrier_over(height, carrying: Mapping[str, float]) -> geometry.Carrier:
    """The carrier as the head sees it from a height over what it looks at, m."""
    return geometry.carrier_of(carrying).over(carrying["sensor_height"] - np.asarray(height, float))


def days_of(walks: pd.DataFrame, site: Mapping[str, float]) -> list[pd.DataFrame]:
    """The sun's path on each day of the walks, from the full hour before midnight by the sun for 25 h, where
    it is up: `time_utc`, `elevation`, `azimuth` (degrees), every 4 min.
    """
    by_the_sun = pd.to_timedelta(site["longitude"] / 15.0, unit="h")
    result = []
    for day in sorted((walks["middle_utc"] + by_the_sun).dt.floor("D").unique()):
        times = pd.date_range((day - by_the_sun).floor("h"), periods=376, freq="4min")
        elevation, azimuth = sun.position(times, site["latitude"], site["longitude"], site["elevation"])
        result.append(
            pd.DataFrame({"time_utc": times, "elevation": elevation, "azimuth": azimuth})[elevation > 0.0]
        )
    return [path for path in result if len(path)]


def sun_path(
    noted: pd.DataFrame, sets: Sequence[str], site: Mapping[str, float], carrying: Mapping[str, float]
) -> Figure:
    """The sun's path over the day with the walks and their headings, and the carrier's shadow in the
    downward view: as `walks_under_the_sun` has them.
    """
    walks = walks_under_the_sun(noted, site, carrying)
    paths = days_of(walks, site)
    if not len(walks) or not carrying["walking_speed"] > 0:
        return nothing("Nobody walked: no carrier's shadow moves through the view.")
    if not paths:
        return nothing("The sun was down all day: nobody cast a shadow.")
    known = walks[walks["phi"].notna()]
    looks = {name: (*SET_LOOKS[n % len(SET_LOOKS)], MARKERS[n % len(MARKERS)]) for n, name in enumerate(sets)}
    lane = 0.24 * min(len(sets), MOST_SETS)
    with matplotlib.rc_context(STYLE):
        heights = (0.28, 1.75 + lane, 3.0)  # inches: legend, path, view
        figure = Figure(figsize=(WIDTH, sum(heights) + 0.6))
        total = figure.get_figheight()
        above = figure.add_axes(
            (0.62 / WIDTH, (heights[2] + 0.55) / total, (WIDTH - 0.75) / WIDTH, (heights[1] - 0.2) / total)
        )
        _path(above, paths, walks, list(looks.items())[:MOST_SETS], lane / (heights[1] - 0.2))
        handles = [
            Line2D([], [], color=colour, marker=marker, ls="none", ms=5, label=shortened(name, 14))
            for name, (colour, _, marker) in looks.items()
        ]
        if len(known) < len(walks):
            handles.append(
                Line2D(
                    [],
                    [],
                    color="black",
                    marker="o",
                    mfc="white",
                    ls="none",
                    ms=5,
                    label=f"hollow: heading not noted ({len(walks) - len(known)} of {len(walks)})",
                )
            )
        figure.legend(
            handles=handles,
            ncols=min(len(handles), 5),
            loc="upper left",
            bbox_to_anchor=(0.0, 1.0),
            borderaxespad=0.1,
            handletextpad=0.4,
        )
        side = heights[2] - 0.6
        left = figure.add_axes((0.62 / WIDTH, 0.38 / total, side / WIDTH, side / total))
        right = figure.add_axes((4.0 / WIDTH, 0.38 / total, (WIDTH - 4.0 - 0.25) / WIDTH, side / total))
        _shadows(left, known, looks, carrying)
        _shares(right, walks, looks, carrying)
        if not len(known):
            for ax in (left, right):
                ax.text(
                    0.5,
                    0.14,
                    "no heading is noted:\nthe shadow's place is not known",
                    transform=ax.transAxes,
                    ha="center",
                    va="center",
                    color="#444444",
                    style="italic",
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
                )
    return figure


def _along(azimuth, middle: float):
    """Azimuths on an axis around the noon's, so that no path is torn where north is crossed."""
    return (np.asarray(azimuth, float) - middle + 180.0) % 360.0 - 180.0 + middle


def _path(
    ax, paths: Sequence[pd.DataFrame], walks: pd.DataFrame, looks: Sequence[tuple], lane: float
) -> None:
    highest = paths[0].iloc[int(paths[0]["elevation"].to_numpy().argmax())]
    middle = 180.0 if np.cos(np.radians(highest["azimuth"])) < 0 else 360.0
    shown = paths if len(paths) <= MOST_PARTS else [paths[0], paths[-1]]
    for path in shown:
        x = _along(path["azimuth"], middle)
        torn = np.flatnonzero(np.abs(np.diff(x)) > 90.0) + 1
        ax.plot(
            np.insert(x, torn, np.nan),
            np.insert(path["elevation"].to_numpy(), torn, np.nan),
            color="#777777",
            lw=0.9,
        )
    hours = paths[0][(paths[0]["time_utc"].dt.minute == 0) & (paths[0]["time_utc"].dt.hour % 2 == 0)]
    ax.plot(
        _along(hours["azimuth"], middle), hours["elevation"], color="#777777", marker="|", ms=6, ls="none"
    )
    for row in hours.to_dict("records"):
        ax.annotate(
            f"{row['time_utc']:%H:%M}",
            (float(_along(row["azimuth"], middle)), row["elevation"]),
            xytext=(0, 6),
            textcoords="offset points",
            ha="center",
            color="#555555",
        )
    ends = np.concatenate([_along(path["azimuth"], middle) for path in paths])
    low, high = ends.min() - 8.0, ends.max() + 8.0
    top = max(path["elevation"].max() for path in paths) * 1.3 + 3.0
    bottom = -top * lane / (1.0 - lane)
    ax.set(xlim=(low, high), ylim=(bottom, top), ylabel="elevation of the sun")
    up = walks[walks["elevation"] > 0]
    for number, (name, (colour, _, marker)) in enumerate(looks):
        own = up[up["set"] == name]
        x, noted = _along(own["azimuth"], middle), own["phi"].notna().to_numpy()
        ax.plot(x, own["elevation"], color=colour, marker=marker, mfc="white", ms=4, ls="none", clip_on=False)
        ax.plot(
            x[noted],
            own["elevation"][noted],
            color=colour,
            marker=marker,
            mec="black",
            mew=0.3,
            ms=4,
            ls="none",
            clip_on=False,
        )
        y = bottom * (number + 0.5) / len(looks)
        radians = np.radians(own["heading"][noted].to_numpy(float))
        if noted.any():
            ax.quiver(
                x[noted],
                np.full(noted.sum(), y),
                np.sin(radians),
                np.cos(radians),
                color=colour,
                angles="uv",
                pivot="tail",
                units="inches",
                width=0.014,
                scale=7.5,
                headwidth=4.0,
                headlength=5.0,
                headaxislength=4.5,
            )
        ax.text(
            low + 0.01 * (high - low),
            y,
            f"headings of {shortened(name, 14)}" + ("" if noted.any() else ": none noted"),
            va="center",
            ha="left",
        )
    ax.axhline(0.0, color="black", lw=0.6)
    ax.set_yticks(
        [tick for tick in range(0, 91, 20) if tick < top],
        [f"{tick}°" for tick in range(0, 91, 20) if tick < top],
    )
    names = {0: "north", 90: "east", 180: "south", 270: "west"}
    ticks = [tick for tick in range(-180, 541, 30) if low <= tick <= high]
    ax.set_xticks(
        ticks,
        [f"{tick % 360}°" + (f"\n{names[tick % 360]}" if tick % 360 in names else "") for tick in ticks],
    )
    days = list(dict.fromkeys(f"{path['time_utc'].iloc[len(path) // 2]:%Y-%m-%d}" for path in paths))
    ax.set_title(
        (
            f"the sun on {days[0] if len(days) == 1 else f'{days[0]} to {days[-1]}'} (times: UTC) at each "
            "walk; arrows: which way was walked, north is up"
        ),
        loc="left",
    )
    if len(up) < len(walks):
        ax.text(
            high,
            top,
            f"{len(walks) - len(up)} walks with the sun down",
            ha="right",
            va="top",
            color="#444444",
        )
    ax.grid(axis="x", visible=False)


def _shadows(ax, known: pd.DataFrame, looks: Mapping[str, tuple], carrying: Mapping[str, float]) -> None:
    """What lies below the head from above as the head sees it, the walk going up the page.

    In heights of the head over it, so that walks over canopies of any height share the circles.
    """
    for heights in (1.0, 3.0):
        ax.add_patch(Circle((0.0, 0.0), heights, fill=False, color="#777777", lw=0.7, ls=(0, (3, 2))))
        ax.text(
            0.0,
            heights,
            f"{100 * view_within(heights, 1.0):.0f} % of the view",
            ha="center",
            va="center",
            color="#444444",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
            zorder=5,
        )
    up = known[known["elevation"] > 0.1]
    height = up["height"].to_numpy(float)
    corners = geometry.shadow_corners(
        up["phi"].to_numpy(float), up["elevation"].to_numpy(float), _carrier_over(height, carrying)
    )
    corners = corners / height[:, None, None]
    for name, (colour, line, _) in looks.items():
        own = corners[(up["set"] == name).to_numpy()][..., ::-1]
        if len(own):
            ax.add_collection(
                PolyCollection(
                    list(own),
                    facecolors=[(0.2, 0.2, 0.2, 0.10)],
                    edgecolors=colour,
                    linewidths=0.8,
                    linestyles=[line],
                )
            )
    plates = np.unique(known["height"]) if len(known) else np.array([carrying["sensor_height"]])
    for one in plates[[0, -1]]:  # the lowest and the highest head
        half, behind = carrying["carrier_width"] / 2.0 / one, carrying["reach"] / one
        ax.plot([-half, half], [-behind] * 2, color="black", lw=3.0, solid_capstyle="butt")
    ax.annotate(
        "carrier",
        xy=(0.0, -carrying["reach"] / plates[-1]),
        xytext=(0.0, -0.55 * NEAR),
        ha="center",
        va="top",
        arrowprops={"arrowstyle": "-", "color": "black", "lw": 0.6, "shrinkB": 2.0},
    )
    ax.plot([0.0], [0.0], marker="+", color="black", ms=8, mew=1.4)
    ax.annotate("head", (0.0, 0.0), xytext=(4, 3), textcoords="offset points")
    ax.annotate(
        "walk",
        xy=(0.85 * NEAR, 0.97 * NEAR),
        xytext=(0.85 * NEAR, 0.62 * NEAR),
        ha="center",
        va="center",
        arrowprops={"arrowstyle": "-|>", "color": "black", "lw": 0.9},
    )
    ax.set(
        xlim=(-NEAR, NEAR),
        ylim=(-NEAR, NEAR),
        aspect="equal",
        xlabel="to the right, in heights of the head",
        ylabel="ahead, in heights of the head",
    )
    ax.locator_params(nbins=5)
    ax.set_title("the carrier's shadow on what lies\nbelow the head, a shape a walk", loc="left")


def _ends(up: pd.DataFrame) -> list[tuple[float, float]]:
    """The lowest and the highest sun of some walks (degrees), each with the highest and the lowest head over
    what it looks at (m)."""
    if not len(up):
        return []
    suns, heights = up["elevation"].round(), up["height"]
    pairs = [(sun, height) for height in (heights.max(), heights.min()) for sun in (suns.min(), suns.max())]
    return list(dict.fromkeys(pairs))


def _shares(ax, walks: pd.DataFrame, looks: Mapping[str, tuple], carrying: Mapping[str, float]) -> None:
    """The share of the view in shadow against the angle between walk and sun, with the lines of the lowest
    and the highest sun of the walks, over the lowest and the highest canopy.
    """
    up = walks[walks["elevation"] > 0.1]
    angles, greatest = np.linspace(0.0, 180.0, 91), 0.01
    ends = _ends(up)
    for (elevation, height), line in zip(ends, LINES, strict=False):
        view = geometry.shadow_view(
            angles, np.full(len(angles), elevation), height, _carrier_over(height, carrying)
        )
        over = f", head {height:.1f} m above" if len({one for _, one in ends}) > 1 else ""
        ax.plot(
            angles, 100.0 * view, color="#777777", lw=0.9, ls=line, label=f"sun {elevation:.0f}° high{over}"
        )
        greatest = max(greatest, view.max())
    for name, (colour, _, marker) in looks.items():
        own = up[up["set"] == name]
        ax.plot(
            np.abs((own["phi"] + 180.0) % 360.0 - 180.0),
            100.0 * own["view"],
            color=colour,
            marker=marker,
            mec="black",
            mew=0.3,
            ms=4,
            ls="none",
        )
    ax.set(xlim=(-4, 184), ylim=(0, 118.0 * greatest), ylabel="% of the view")
    ax.set_xticks([0, 45, 90, 135, 180], ["0°\ntowards", "45°", "90°\nacross", "135°", "180°\naway"])
    if len(up):
        ax.legend(loc="upper left", handlelength=2.6)
    ax.set_title("share of the view in shadow, by the\nangle between the walk and the sun", loc="left")
