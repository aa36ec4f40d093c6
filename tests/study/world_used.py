"""The truth of each segment over those of its seconds alone whose samples the chain used.

The world's own tables cover all seconds stored in a noted interval. The chain leaves out samples, such as
those near a field's edges. The difference of both truths is what the left-out samples cost, apart from errors
of instruments.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

import chain
from headland.base.flags import excluding_flags, has_any, limits_of
from headland.files.own_numbers import quality_rows
from world.air import GRID
from world.day import Day
from world.notes import time_shift
from world.truth import SEVEN, field_emissivity, seven

TERMS = ("sw_in", "sw_out", "lw_in", "lw_out")
HEAT = ("ground_heat", "sensible_heat", "latent_heat")
CONFIG = Path(chain.ROOT) / "config"


def used_moments(day: Day, outcome: chain.Outcome, name: str) -> pd.DataFrame:
    """Return the middles of a set's used samples, in corrected seconds of the day, with their segments."""
    excluding = excluding_flags(limits_of(quality_rows(CONFIG / "quality.csv")))
    frame = outcome.samples[name]
    kept = frame[(frame["segment"] != "") & ~has_any(frame["flags"], excluding)]
    moments = (kept["middle_utc"] - day.scene.site.midnight).dt.total_seconds()
    return pd.DataFrame({"moment": moments.to_numpy(float), "segment": kept["segment"].to_numpy()})


def seconds_used(day: Day, outcome: chain.Outcome, name: str) -> dict[str, np.ndarray]:
    """Return for each segment of a set the indices of its path's seconds that its used samples cover."""
    path = day.paths[name]
    shown = path.t + time_shift(day.survey, day.kits[name], path.t)
    half = 0.5 * float(outcome.settings["sets"][name]["layout"]["interval"])
    used = used_moments(day, outcome, name)
    first = np.searchsorted(shown, used["moment"] - half)
    last = np.searchsorted(shown, used["moment"] + half)
    out = {}
    for segment, rows in used.groupby("segment"):
        spans = [np.arange(first[row], last[row]) for row in rows.index]
        out[str(segment)] = np.unique(np.concatenate(spans)) if spans else np.array([], int)
    return out


def walked(day: Day, name: str, inside: np.ndarray) -> dict[str, float]:
    """Return the seven quantities of the ground walked, over some seconds of a set's path."""
    ideal = day.ideals[name]
    series = {
        "sw_in": ideal.sky.level,
        "sw_out": ideal.sw_out,
        "lw_in": ideal.sky.longwave,
        "lw_out": ideal.lw_out,
    }
    means = {term: float(values[inside].mean()) for term, values in series.items()}
    return seven(means, float(ideal.emissivity[inside].mean()))


def whole_field(course: dict[str, np.ndarray], emissivity: float, t: np.ndarray) -> dict[str, float]:
    """Return the whole field's quantities over some seconds of the day, as `field_…`."""
    means = {term: float(np.interp(t, GRID, course[term]).mean()) for term in (*TERMS, *HEAT)}
    values = seven(means, emissivity) | {term: means[term] for term in HEAT}
    return {f"field_{key}": value for key, value in values.items()}


def over_used(day: Day, outcome: chain.Outcome, rows: pd.DataFrame) -> pd.DataFrame:
    """Return matched segments with their truth and their seconds taken over the used samples alone."""
    inside = {name: seconds_used(day, outcome, name) for name in outcome.samples}
    scene, out = day.scene, []
    courses = {ground.name: scene.course(index) for index, ground in enumerate(scene.fields)}
    emissivities = {ground.name: field_emissivity(scene, i) for i, ground in enumerate(scene.fields)}
    for row in rows.to_dict("records"):
        own = inside.get(row["set"], {}).get(str(row.get("segment")), np.array([], int))
        values = dict.fromkeys((*SEVEN, *(f"field_{name}" for name in (*SEVEN, *HEAT))), np.nan)
        if len(own):
            field, t = row["field"], day.paths[row["set"]].t[own]
            values = walked(day, row["set"], own) | whole_field(courses[field], emissivities[field], t)
        out.append(row | values | {"seconds": len(own)})
    return pd.DataFrame(out, columns=rows.columns)
