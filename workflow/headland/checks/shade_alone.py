"""Shadows on the upper head of a set alone: less light from above, and as much from the ground as before."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.base.flags import has_any
from headland.base.times import since_1970
from headland.checks.one_set import SUN_UP
from headland.checks.series import long_runs
from headland.checks.shade import CLEAR_LEAST, TURNED_LEAN, lean_leaves
from headland.checks.sky_records import LONGEST_STEP, binned, shadow_limit

STEP, LASTS = 10.0, 2
"""s of the means that are compared, and how many in a row a shadow lasts (common practice, no source)."""
AROUND = 1800.0
"""s before and after, from which a field's usual light and albedo are known (common practice, no source)."""
FEWEST = 12
"""Such means from which they are (common practice, no source)."""
BRIGHT = 0.8
"""Quantile of SW_in over the clear sky that stands for a head in the sun (common practice, no source)."""
MOST_OF_SKY = 1.15
"""SW_in over the clear sky above which no level head is lit by a clear sky (common practice, no source)."""
IN_SUN = 0.9
"""Share of that light above which a head is in the sun (common practice, no source)."""
STAYS, OF_DROP = 0.2, 0.35
"""ln of the change of SW_out over the clear sky that ground of one field may show, and its share in that of
SW_in: thin cloud dims both alike (common practice, no source)."""
NO_CLOUD = 0.98
"""Share of a set's means that must be in the sun or in such a shadow: elsewhere a cloud over brighter ground
looks alike (common practice, no source)."""


def shaded_alone(
    samples: pd.DataFrame, fields: np.ndarray, moments: np.ndarray, interval: float
) -> np.ndarray:
    """Samples whose SW_in dropped while SW_out of the same field did not; none where no clear sky shows it.

    A cloud dims both, other ground dims none. A head that leans turns with the heading, noted or not, so a
    drop must be more than `shadow_limit`, and more than a lean of TURNED_LEAN makes of opposite headings.

    Parameters
    ----------
    samples : sw_in, sw_out, sw_clear (W m-2), solar_elevation (degrees), flags.
    fields : of each sample, empty outside of notes.
    moments : s, ascending.
    interval : s.
    """
    nothing = np.zeros(len(moments), bool)
    if interval > LONGEST_STEP:
        return nothing
    used = (fields != "") & (samples["solar_elevation"] > SUN_UP).to_numpy()
    used &= ~has_any(samples["flags"], {"frozen", "cover", "cover-sw_in", "cover-sw_out"})
    means = _steps(samples[used], fields[used], moments[used])
    if len(means) < FEWEST:
        return nothing
    usual = _usual(means)
    known = usual.notna().all(axis=1) & usual["light"].between(CLEAR_LEAST, MOST_OF_SKY)
    means, usual = means[known], usual[known]
    high = means["solar_elevation"]
    left = np.minimum(1.0 - shadow_limit(high), lean_leaves(high, TURNED_LEAN))
    dropped = means["light"] < left * usual["light"]
    shared = np.abs(np.log(means["ground"] / usual["ground"]))
    stays = shared < np.minimum(STAYS, OF_DROP * np.abs(np.log(means["light"] / usual["light"])))
    if len(means) < FEWEST or (~dropped | stays).mean() < NO_CLOUD:
        return nothing
    hit = long_runs(dropped & stays, STEP, LASTS * STEP, LASTS)
    start = since_1970(means.index) - STEP / 2.0
    at = start[hit]
    place = np.searchsorted(at, moments, side="right")
    before = np.concatenate([[-np.inf], at])[place]
    return (moments < before + STEP) & used


def _steps(samples: pd.DataFrame, fields: np.ndarray, moments: np.ndarray) -> pd.DataFrame:
    """Light from above and from the ground over the clear sky's, in steps of time, with the field."""
    columns = ["sw_in", "sw_out", "sw_clear", "solar_elevation"]
    means = binned(moments, samples[columns].astype(float), STEP)
    field = pd.Series(fields).groupby(np.floor(moments / STEP)).first()
    means = means.assign(field=field.to_numpy(), light=means["sw_in"] / means["sw_clear"])
    means = means.assign(ground=means["sw_out"] / means["sw_clear"])
    return means[(means["sw_clear"] > 0.0) & (means["light"] > 0.0) & (means["ground"] > 0.0)]


def _usual(means: pd.DataFrame) -> pd.DataFrame:
    """Light and ground's light of each step's field in the sun, around its time; NaN where too little is."""
    usual = pd.DataFrame(np.nan, index=means.index, columns=["light", "ground"])
    seconds = since_1970(means.index)
    for _, places in means.reset_index(drop=True).groupby("field").groups.items():
        own = np.asarray(places)
        light, ground = (means[name].to_numpy()[own] for name in ("light", "ground"))
        for place in own:
            near = np.abs(seconds[own] - seconds[place]) <= AROUND
            if near.sum() < FEWEST:
                continue
            level = np.quantile(light[near], BRIGHT)
            sunny = near & (light > IN_SUN * level)
            usual.iloc[place] = level, np.median(ground[sunny])
    return usual
