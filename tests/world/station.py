"""A fixed station near the first field: minute means of class A instruments."""

import numpy as np
import pandas as pd

from .air import GRID
from .scene import Scene
from .seeds import stream
from .survey import Survey


def station_rows(scene: Scene, survey: Survey) -> pd.DataFrame:
    """Return station.csv: the four terms over the first field's ground, with the errors of good, kept
    instruments.

    Errors, one standard deviation: 1 % of sw_in, 1.3 % of sw_out, 2 W m-2 of each longwave term
    (common practice, no source).
    """
    rng = stream(scene.seed, "station")
    course = scene.course(0)
    ends = np.arange(np.floor(survey.start / 60) - 5, np.ceil(survey.end / 60) + 5) * 60.0
    ends = ends[(ends >= 60.0) & (ends <= GRID[-1])]
    errors = {
        "sw_in": (1.0 + 0.010 * rng.standard_normal(), 0.0),
        "sw_out": (1.0 + 0.013 * rng.standard_normal(), 0.0),
        "lw_in": (1.0, 2.0 * rng.standard_normal()),
        "lw_out": (1.0, 2.0 * rng.standard_normal()),
    }
    table = {
        "time_utc": (scene.site.midnight + pd.to_timedelta(ends, unit="s")).strftime("%Y-%m-%dT%H:%M:%SZ")
    }
    total = {name: np.concatenate([[0.0], np.cumsum(course[name][:-1])]) for name in errors}
    steps = np.rint(ends / 10.0).astype(int)
    for name, (gain, zero) in errors.items():
        mean = (total[name][steps] - total[name][steps - 6]) / 6.0
        table[name] = [f"{value:.1f}" for value in mean * gain + zero]
    return pd.DataFrame(table)
