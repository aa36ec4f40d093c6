"""What the page of the quick look shows: its table of runs and its figure."""

from __future__ import annotations

from collections.abc import Mapping
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from headland.base.times import recorded_runs
from headland.physics.constants import RADIATION
from headland.report import figures

MOST_RUNS = 200
"""Runs that the page lists and draws one by one."""
NOTED = "#777777"
"""Colour of the bars of what is noted."""


def clock(moment: pd.Timestamp, zone: str) -> str:
    """A moment in UTC as local time of day."""
    return moment.tz_convert(ZoneInfo(zone)).strftime("%H:%M:%S")


def runs_table(samples: pd.DataFrame, interval: float, zone: str) -> list[dict[str, str]]:
    """One row a stored run: local start and end, UTC start, number of samples and their means."""
    if not len(samples):
        return []
    number = recorded_runs(samples["seconds"].to_numpy(), interval)
    listed = number < MOST_RUNS
    return [_run(part, zone) for _, part in samples[listed].groupby(number[listed])]


def _run(part: pd.DataFrame, zone: str) -> dict[str, str]:
    first, last = part["time_utc"].iloc[[0, -1]]
    body = part["body_temperature"]
    return {
        "date": first.tz_convert(ZoneInfo(zone)).strftime("%Y-%m-%d"),
        "start": clock(first, zone),
        "end": clock(last, zone),
        "utc": first.strftime("%H:%M:%S"),
        "samples": str(len(part)),
        **{c: "–" if part[c].isna().all() else f"{part[c].mean():.0f}" for c in RADIATION},
        "body": "–" if body.isna().all() else f"{body.mean():.1f}",
    }


def timeline(
    samples: Mapping[str, pd.DataFrame], intervals: Mapping[str, float], noted: pd.DataFrame, zone: str
) -> Figure:
    """The four components of each set against local time, with what is noted as bars below them."""
    some = {name: frame for name, frame in samples.items() if len(frame)}
    if not some:
        return figures.nothing("Nothing is stored yet.")
    counted = noted[noted["activity"] != "clock_check"]
    with rc_context(figures.STYLE):
        figure = Figure(figsize=(figures.WIDTH, 1.7 * len(some) + 0.7), layout="constrained")
        axes = figure.subplots(len(some), 1, sharex=True, squeeze=False)[:, 0]
        for ax, (name, frame) in zip(axes, some.items(), strict=True):
            _components(ax, frame, intervals[name], zone)
            for row in counted[counted["set"] == name].to_dict("records"):
                ax.axvspan(*_local([row["start_utc"], row["end_utc"]], zone), ymax=0.05, color=NOTED)
            ax.set_ylabel("W m⁻²")
            ax.set_title(figures.shortened(name), loc="left")
        handles: list = [
            Line2D([], [], color=colour, linestyle=style, label=label)
            for label, colour, style in figures.COMPONENTS.values()
        ]
        if len(counted):
            handles.append(Patch(color=NOTED, label="noted"))
        figure.legend(
            handles=handles,
            ncols=5,
            loc="outside upper left",
            handlelength=2.6,
            columnspacing=1.1,
            borderaxespad=0.1,
        )
        figures.time_axis(axes[-1])
        axes[-1].set_xlabel(f"local time ({zone})")
    return figure


def _local(times, zone: str) -> pd.DatetimeIndex:
    """Times in UTC as local wall time without a zone, for axes."""
    return pd.DatetimeIndex(times).tz_convert(ZoneInfo(zone)).tz_localize(None)


def _components(ax, frame: pd.DataFrame, interval: float, zone: str) -> None:
    """The four components of one set, a line a run."""
    number = recorded_runs(frame["seconds"].to_numpy(), interval)
    number = number if number[-1] < MOST_RUNS else np.zeros(len(number), int)
    for channel, (_, colour, style) in figures.COMPONENTS.items():
        for _, part in frame.groupby(number):
            x, y = figures.thinned(_local(part["time_utc"], zone), part[channel])
            ax.plot(x, y, color=colour, linestyle=style)
