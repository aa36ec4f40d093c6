"""Two records of the same sky: the ratio of an incoming term, and its uncertainty by the campaign's own
model.

The limits are multiples of those standard uncertainties, so that what a sound campaign may show is no
finding."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtri, stdtrit

from headland.base.untold import Tell, Untold
from headland.checks.campaign import Campaign
from headland.checks.sky_records import binned, shadow_limit, smoothed
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.longwave import own_emission
from headland.uncertainty import inputs
from headland.uncertainty.draws import one_at_a_time
from headland.uncertainty.linear import contributions
from headland.uncertainty.model import measured
from headland.uncertainty.sources import instrument_sources

FALSE_ALARM = 3.2e-4
"""Two-sided chance of 3.6 standard uncertainties of a normal distribution, over all comparisons of one
campaign."""
INCOMING = {"sw_in": "shortwave", "lw_in": "longwave"}
SIDES = ("walk", "stand", "side_by_side", "sky_monitor")
"""Activities in which a set looks at the sky with all its heads."""
CALM_WITHIN, LEVEL = 60.0, 5.0
"""s around a sample within which SW_in may move by no more than half of `shadow_limit` for two places to
see the same sky, and s of the running mean of SW_in (common practice, no source)."""
USUAL_FREEDOM = 5
"""Degrees of freedom of a usual scatter where few windows or walks show their own (common practice, no
source)."""
SKY_SCATTER = {"sw_in": 0.02, "lw_in": 0.005}
"""Usual relative scatter of a window's ratio by the sky's difference between two places under a calm sky
(common practice, no source)."""
SHORTEST_COMMON = 60.0
"""s that two records must have in common to be compared (common practice, no source)."""
LEAST_SW_IN = 50.0
"""W m-2: below it the shortwave ratio is one of zero offsets (common practice, no source)."""
MEANS = (*RADIATION, "body_temperature", "solar_elevation", "solar_azimuth")
"""Columns of which a window holds means."""


def windows(samples: pd.DataFrame, moments: np.ndarray, step: float) -> pd.DataFrame:
    """One set's record in steps of so many seconds: means, the segment of each step, and whether SW_in is
    calm around it."""
    means = binned(moments, samples[list(MEANS)].astype(float), step)
    numbers = np.floor(np.asarray(moments) / step)
    segment = pd.Series(samples["segment"].to_numpy()).groupby(numbers).first()
    level, limit = smoothed(means["sw_in"], LEVEL), shadow_limit(means["solar_elevation"]) / 2.0
    swing = smoothed(level, 2 * CALM_WITHIN, "max") - smoothed(level, 2 * CALM_WITHIN, "min")
    return means.assign(segment=segment.to_numpy(), calm=swing <= limit * level)


def records_of(campaign: Campaign, names: Iterable[str], step: float) -> dict[str, pd.DataFrame]:
    """`windows` of each named set, over the time in which it looked at the sky and nothing spoilt it."""
    segments = campaign.segments
    looking = set(segments.loc[segments["activity"].isin(SIDES), "segment"])
    result = {}
    for name in names:
        frame = campaign.samples[name]
        keep = frame["segment"].isin(looking).to_numpy() & ~campaign.spoilt(name)
        if keep.any():
            result[name] = windows(frame[keep], campaign.moments[name][keep], step)
    return result


def common_windows(a: pd.DataFrame, b: pd.DataFrame, step: float) -> pd.DataFrame:
    """Means of both records over the time in which each is in one of its segments: a row a pair of segments.

    Columns end in `_a` and `_b`. Shortwave means are over calm steps only; `seconds_sw_in` and
    `seconds_lw_in` give how long that is."""
    both = a.add_suffix("_a").join(b.add_suffix("_b"), how="inner")
    both = both[(both["segment_a"] != "") & (both["segment_b"] != "")]
    rows = []
    for (one, two), part in both.groupby(["segment_a", "segment_b"], sort=False):
        calm = part[part["calm_a"] & part["calm_b"]]
        row = {
            "segment_a": one,
            "segment_b": two,
            "start_utc": part.index[0],
            "end_utc": part.index[-1],
            "seconds_sw_in": len(calm) * step,
            "seconds_lw_in": len(part) * step,
        }
        for name in MEANS:
            source = calm if len(calm) and name in ("sw_in", "sw_out") else part
            row |= {f"{name}_{side}": source[f"{name}_{side}"].mean() for side in ("a", "b")}
        rows.append(row)
    return pd.DataFrame(rows)


def side(rows: pd.DataFrame, name: str, end: str) -> pd.DataFrame:
    """One side of `common_windows`, with columns without endings. name: of the set. end: `_a` or `_b`."""
    columns = [str(c) for c in rows.columns]
    common = [c for c in columns if not c.endswith(("_a", "_b"))]
    own = {c.removesuffix(end): rows[c] for c in columns if c.endswith(end)}
    return rows[common].assign(set=name, **own)


@dataclass(frozen=True)
class Modelled:
    """Incoming terms of windows by the measurement model with all errors at their middle, and each source's
    part.

    values: W m-2 by term. parts: sources x windows by term.
    """

    values: Mapping[str, np.ndarray]
    parts: Mapping[str, np.ndarray]

    def part(self, chosen: slice) -> Modelled:
        """The same of some windows."""
        values = {name: value[chosen] for name, value in self.values.items()}
        return Modelled(values, {name: part[:, chosen] for name, part in self.parts.items()})


def modelled(frame: pd.DataFrame, campaign: Campaign) -> Modelled:
    """`Modelled` of windows with the columns of `common_windows` without endings, and `set`."""
    heading = campaign.segments.set_index("segment")["heading"].reindex(frame["segment"]).to_numpy(float)
    emission = own_emission(frame["body_temperature"] + ZERO_CELSIUS)
    window = frame.assign(
        segment=[f"{name}/{number}" for number, name in enumerate(frame["set"])],
        surface="",
        heading=heading,
        lw_in_net=frame["lw_in"] - emission,
        lw_out_net=frame["lw_out"] - emission,
        albedo_sw_in=0.0,
        albedo_sw_out=0.0,
        incoming_set=frame["set"],
        incoming_heading=heading,
        incoming_body_temperature=frame["body_temperature"],
        field="",
        activity="",
        samples_used=0,
        **inputs.UNDISTURBED,
    )
    unknown_air = np.full(len(frame), np.nan)
    window = inputs.prepare(window, campaign.carrying, unknown_air, {})
    errors = one_at_a_time(instrument_sources(window, campaign.certificates, campaign.terms))
    flux = measured(window, inputs.no_shade, errors)
    shape = (len(next(iter(errors.values()))), len(window))
    some = {name: np.broadcast_to(flux[name], shape) for name in INCOMING}
    values = {name: value.mean(axis=0) for name, value in some.items()}
    return Modelled(values, contributions(some))


def sky_scatter(name: str, logs: np.ndarray, weights: np.ndarray, chance: float) -> float:
    """Standard uncertainty of a mean log ratio by the sky's difference from place to place, relative.

    It is the windows' scatter, pooled with the usual one, and widened so that a normal quantile covers what
    Student's t would at this chance.
    """
    squares = len(logs) * np.average((logs - np.average(logs, weights=weights)) ** 2, weights=weights)
    freedom = len(logs) - 1 + USUAL_FREEDOM
    spread = math.sqrt((squares + USUAL_FREEDOM * SKY_SCATTER[name] ** 2) / freedom)
    widened = stdtrit(freedom, 1.0 - chance / 2.0) / ndtri(1.0 - chance / 2.0)
    return spread * widened * math.sqrt(np.sum(weights**2)) / np.sum(weights)


def ratio(
    name: str,
    weights: np.ndarray,
    one: Modelled,
    two: Modelled,
    chance: float,
    *,
    also: float = 0.0,
) -> tuple[float, float] | None:
    """Ratio of one incoming term of two records over their common windows, and its relative standard
    uncertainty.

    Parameters
    ----------
    weights : seconds of each window.
    one, two : of both sides.
    chance : of a false alarm.
    also : a further relative standard uncertainty, as a station's own.

    None where they have too little in common.
    """
    a, b = one.values[name], two.values[name]
    use = (weights > 0) & np.isfinite(a) & np.isfinite(b) & (a > 0) & (b > 0)
    if weights[use].sum() < SHORTEST_COMMON:
        return None
    weights, total = weights[use], np.sum(weights[use])
    mean_a, mean_b = weights @ a[use] / total, weights @ b[use] / total
    if min(mean_a, mean_b) < LEAST_SW_IN:
        return None
    moved = one.parts[name][:, use] @ weights / total / mean_a
    if name in two.parts:
        moved = moved - two.parts[name][:, use] @ weights / total / mean_b
    scatter = sky_scatter(name, np.log(a[use] / b[use]), weights, chance)
    return mean_a / mean_b, math.sqrt(np.sum(moved**2) + scatter**2 + also**2)


def tell_uncompared(
    code: str, reason: str, names: Iterable[str], compared: Mapping[str, set[str]], tell: Tell
) -> None:
    """Call `tell` for each set of which all terms, or one, were compared with nothing. compared: sets by
    term."""
    for name in names:
        missing = [term for term in INCOMING if name not in compared[term]]
        if missing:
            tell(Untold(code, reason, name, " ".join(missing) if len(missing) < len(INCOMING) else ""))
