"""Ground that was stood on: how many looks stands give, and how their spots differ from each other.

A stand sees one spot for as long as it lasts. Its samples say nothing of the ground beside it: only another
spot does.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from headland.base.groups import PLACE, is_stand
from headland.physics.radiation import albedo

UNKNOWN = {"ground_sw_out": 0.0, "ground_lw_out": 0.0, "ground_correlation": 0.0}
"""The scatter of ground seen from a single spot."""


def looks(rows: pd.DataFrame) -> float:
    """Independent looks at the ground in a mean over walks and stands (1).

    (W + sum w_k)^2 / (W^2 / n + sum w_k^2), with the recorded time W and the looks n of the walks, and the
    recorded time w_k of each spot: so many equal looks have a mean that is as well known (variance of a
    weighted mean, JCGM 100:2008, eq. 10). rows: segments of a group.
    """
    stood = is_stand(rows)
    walks, stands = rows[~stood], rows[stood]
    walked = float(walks.groupby(PLACE, dropna=False)["independent"].max().sum())
    if not len(stands):
        return walked
    spots = stands.groupby(PLACE, dropna=False)["weight"].sum().to_numpy(float)
    time = float(walks["weight"].sum())
    of_walks = time**2 / walked if walked > 0 else (math.inf if time > 0 else 0.0)
    return float((time + spots.sum()) ** 2 / (of_walks + np.sum(spots**2)))


def scatter(stands: pd.DataFrame) -> dict[str, float]:
    """How the ground differs from spot to spot, where nobody walked.

    Standard deviations of SW_out - albedo SW_in and of LW_out, W m-2, over the means of the spots, and their
    correlation. Spots are visited one after the other: the course of LW_out between them counts as scatter.
    stands: segments of a group. Source as for the scatter along a walk (docs/method.md, section 6.7).
    """
    names = ["sw_in", "sw_out", "lw_out"]
    known = stands.dropna(subset=names)
    if known.groupby(PLACE, dropna=False).ngroups < 2:
        return UNKNOWN
    weighted = known[names].mul(known["weight"], axis=0).assign(**known[[*PLACE, "weight"]])
    total = weighted.groupby(PLACE, dropna=False)[[*names, "weight"]].sum()
    spot = total[names].div(total["weight"], axis=0)
    ratio = np.nan_to_num(float(albedo(spot["sw_in"], spot["sw_out"])))
    reflected, emitted = spot["sw_out"] - ratio * spot["sw_in"], spot["lw_out"]
    spread = float(reflected.std()), float(emitted.std())
    correlation = float(np.corrcoef(reflected, emitted)[0, 1]) if min(spread) > 0 else 0.0
    return {"ground_sw_out": spread[0], "ground_lw_out": spread[1], "ground_correlation": correlation}
