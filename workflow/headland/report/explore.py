"""What the page's own small program draws: the four components of each set against time, thinned, with the
noted intervals, to zoom into and read out.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from markupsafe import Markup

from headland.base.times import recorded_runs, since_1970
from headland.physics.constants import RADIATION
from headland.report.figures import COMPONENTS, label
from headland.report.given import Given
from headland.report.page import as_json

MOST_POINTS = 1500
"""Points of each line that go into the page: where there are more samples, each point is the mean of a few
neighbours of one run.
"""


def of_set(samples: pd.DataFrame, interval: float) -> dict:
    """Times (s since 1970, UTC) and components of one set, thinned. samples: time_utc and the four
    components. interval: s between samples.
    """
    seconds = since_1970(samples["middle_utc"])
    block = max(1, -(-len(samples) // MOST_POINTS))
    runs = recorded_runs(seconds, interval)
    starts = np.flatnonzero(np.diff(runs, prepend=-1))
    within = np.arange(len(samples)) - starts[runs] if len(samples) else np.zeros(0, int)
    means = samples[list(RADIATION)].assign(seconds=seconds).groupby([runs, within // block]).mean()
    return {
        "run": means.index.get_level_values(0).tolist(),
        "seconds": means["seconds"].round(1).tolist(),
        "block": block * interval,
        **{
            name: [None if value != value else value for value in means[name].round(1).tolist()]
            for name in RADIATION
        },
    }


def data(
    samples: Mapping[str, pd.DataFrame],
    intervals: Mapping[str, float],
    segments: pd.DataFrame,
    surfaces: Mapping[str, Mapping],
) -> Markup:
    """Everything that is drawn, as JSON that can stand inside a page: no text in it can end the element that
    holds it.

    intervals: s between samples, by set. segments: rows of segments.csv.
    """
    bands = [
        {
            "set": row["set"],
            "start": row["start_utc"].timestamp(),
            "end": row["end_utc"].timestamp(),
            "label": row["field"] or row["activity"].replace("_", " "),
            "surface": label(surfaces, row["surface"]) if row["surface"] else "",
        }
        for row in segments.to_dict("records")
    ]
    looks = {
        name: {
            "title": title,
            "colour": colour,
            "dash": "" if style == "-" else " ".join(f"{1.8 * part:g}" for part in style[1]),
        }
        for name, (title, colour, style) in COMPONENTS.items()
    }
    held = {
        "sets": {name: of_set(frame, intervals[name]) for name, frame in samples.items() if len(frame)},
        "bands": bands,
        "looks": looks,
    }
    return as_json(held)


def values(given: Given, program: str) -> dict[str, Markup]:
    """What the page's small program needs: its data, and itself. program: its text."""
    intervals = {name: entry["interval"] for name, entry in given.settings["sets"].items()}
    drawn = data(given.samples, intervals, given.tables["segments"], given.surfaces)
    return {"explore_data": drawn, "explore_program": Markup(program)}
