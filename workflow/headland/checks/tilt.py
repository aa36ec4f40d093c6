"""Upper heads that lean: under a clear sky their SW_in turns with the heading."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import fdtrc

from headland.base.findings import Finding
from headland.base.flags import has_any
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.base.untold import Tell, Untold, unheard
from headland.checks.one_set import SUN_UP
from headland.checks.same_sky import FALSE_ALARM, USUAL_FREEDOM

TILT_LIMIT = 4.0
"""degrees: of heads levelled to 1 degree (one standard uncertainty in each direction) 0.03 % lean further,
exp(-4.0^2 / 2)."""
TILT_SCATTER, TILT_SEEN = 0.03, 0.004
"""Relative: largest residual of the fit under a clear sky, and what a degree of tilt must change between the
headings to be seen (common practice, no source)."""
WALK_SCATTER = 0.01
"""Usual relative scatter of level walks under a clear sky (common practice, no source)."""
CLEAR_WALK, CLEAR_WALKS = (0.03, 0.5), 0.9
"""A walk is clear where SW_in over the clear-sky model scatters by less than the first and is above the
second; a set's sky is clear where this share of its walks is (common practice, no source)."""
FEWEST_WALKS, FEWEST_WITH_TREND = 6, 6
"""Walks from which a lean is fitted, and from which a trend in time is fitted beside it (common practice,
no source)."""
DIRECTIONAL = 0.02
"""Share of the beam by which a level head of class B errs with the direction of the sun (ISO 9060:2018, from
memory): in one place of the sun that looks like a lean."""


@dataclass(frozen=True)
class Lean:
    """A fitted lean. degrees, unsure: of it, the second one standard uncertainty. chance: of the F test.
    scatter: residual. directional: degrees that a level head's own directional error looks like."""

    degrees: float
    unsure: float
    chance: float
    scatter: float
    directional: float

    @property
    def large(self) -> bool:
        """Whether the head leans by more than TILT_LIMIT, beyond doubt."""
        sure = self.scatter <= TILT_SCATTER and self.chance < FALSE_ALARM
        least = self.degrees - 2.0 * self.unsure - self.directional
        return sure and least >= TILT_LIMIT - 1.0 and self.degrees >= TILT_LIMIT


def head_tilted(
    segments: pd.DataFrame, samples: Mapping[str, pd.DataFrame], excluding: set[str], tell: Tell = unheard
) -> list[Finding]:
    """Upper heads that lean by more than 4 degrees, by a fit and its F test: a lower bound of the lean.

    Parameters
    ----------
    segments : as `inputs.prepare` gives them.
    samples : as step 5 leaves them.
    excluding : flags that keep a sample out, as while a head settles after a turn.
    """
    findings = []
    for name in segments["set"].unique():
        rows, index, calm = _walks(segments[segments["set"] == name], samples[name], excluding)
        if calm.sum() < FEWEST_WALKS or calm.mean() < CLEAR_WALKS:
            tell(Untold("head-tilted", "no-clear-walks", name))
            continue
        rows, relative = rows[calm], index[calm] / index[calm].mean()
        lean = fitted_lean(rows, relative)
        if lean is None:
            tell(Untold("head-tilted", "one-heading", name))
        elif lean.large:
            start, end = time_text(pd.DatetimeIndex([rows["start_utc"].min(), rows["end_utc"].max()]))
            facts = {
                "degrees": f"{lean.degrees:.1f}",
                "unsure": f"{2.0 * lean.unsure:.1f}",
                "walks": len(rows),
            }
            findings.append(
                Finding("head-tilted", "", name, start_utc=start, end_utc=end, channel="sw_in", facts=facts)
            )
    return findings


def _walks(
    rows: pd.DataFrame, samples: pd.DataFrame, excluding: set[str]
) -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    """A set's segments with a known heading and a high sun, SW_in over the clear-sky model in each, and
    which are clear."""
    rows = rows[rows["heading"].notna() & (rows["solar_elevation"] > SUN_UP) & (rows["weight"] > 0)]
    counted = samples["segment"].isin(rows["segment"]) & (samples["sw_clear"] > 0)
    parts = dict(list(samples[counted & ~has_any(samples["flags"], excluding)].groupby("segment")))
    rows = rows[rows["segment"].isin(parts)]
    mine = [parts[segment] for segment in rows["segment"]]
    index = np.array([part["sw_in"].mean() / part["sw_clear"].mean() for part in mine])
    spread = np.array([(part["sw_in"] / part["sw_clear"]).std() for part in mine])
    return rows, index, (spread < CLEAR_WALK[0] * index) & (index > CLEAR_WALK[1])


def fitted_lean(rows: pd.DataFrame, relative: np.ndarray) -> Lean | None:
    """The lean of a head by its walks; None where the headings can't show any.

    SW_in over the clear-sky model is fitted by cos and sin of the sun's azimuth minus the heading, each times
    beam share times tan Z, beside a constant and, with enough walks, time. Directions of lean that the
    headings can't show are taken as 0: the answer is a lower bound.

    Parameters
    ----------
    rows : a clear walk each.
    relative : its SW_in over the clear-sky model over the mean of all walks.
    """
    radians = np.radians((rows["solar_azimuth"] - rows["heading"]).to_numpy(float))
    tangent = np.tan(np.radians(rows["solar_elevation"].to_numpy(float)))
    lever = (1.0 - rows["diffuse_fraction"].median()) / tangent * math.radians(1.0)
    time = since_1970(rows["start_utc"]) / 3600.0
    columns = 2 if len(rows) >= FEWEST_WITH_TREND else 1
    known = np.column_stack([np.ones(len(rows)), time - time.mean()])[:, :columns]
    tilt = np.column_stack([lever * np.cos(radians), lever * np.sin(radians)])
    y, x = _without(known, relative), _without(known, tilt)
    u, size, v = np.linalg.svd(x, full_matrices=False)
    seen = size > TILT_SEEN * math.sqrt(len(rows))
    freedom = len(rows) - columns - seen.sum()
    if not seen.any() or freedom < 1:
        return None
    along = u[:, seen].T @ y
    unexplained = float(np.sum(y**2) - np.sum(along**2))
    pooled = freedom + USUAL_FREEDOM
    residual = (unexplained + USUAL_FREEDOM * WALK_SCATTER**2) / pooled
    lean = v[seen].T @ (along / size[seen])
    return Lean(
        degrees=float(np.hypot(*lean)),
        unsure=math.sqrt(residual) / size[seen].min(),
        chance=fdtrc(seen.sum(), pooled, np.sum(along**2) / seen.sum() / residual),
        scatter=math.sqrt(unexplained / freedom),
        directional=math.degrees(DIRECTIONAL / math.cos(math.radians(rows["solar_elevation"].median()))),
    )


def _without(known: np.ndarray, values: np.ndarray) -> np.ndarray:
    """What a fit of the known columns leaves of some values."""
    return values - known @ np.linalg.lstsq(known, values, rcond=None)[0]
