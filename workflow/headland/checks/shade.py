"""Shadows: of trees, walls and people on an upper head, and of the carrier in the downward view."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import has_any
from headland.base.groups import counted_segments
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.base.untold import Tell, Untold, unheard
from headland.checks.runs import noted_within, spans_of
from headland.checks.sky_records import LONGEST_STEP, binned_pieces, shadow_limit, smoothed, stretches_of
from headland.uncertainty.model import LOWEST_SUN

SHADE_SUN = 15.0
"""degrees: under a lower sun two heads a degree off level differ as much as a thin shadow (common practice,
no source)."""
CLEAR_SHARE, CLEAR_LEAST = 0.98, 0.6
"""Another set is under a clear sky where this share of its samples stays within the limit of a constant
clear-sky index, and that index is above the second (common practice, no source)."""
CLOUD_AWAY = 120.0
"""s before and after a drop within which the other set must see no cloud: clouds reach neighbouring fields
within this (common practice, no source)."""
DEAD = 0.05
"""Share of the other set's SW_in below which not even the blue sky is left: a cover or a broken lead, not a
shadow (common practice, no source)."""
SHORTEST_SHADE, SETTLING = 5.0, 15.0
"""s: shorter drops are no shadow worth naming; for so long after it (95 % response) samples are still too low
(common practice, no source)."""
ONE_PASS = 300.0
"""s: a note that lasts longer may hold several passes, so the head may have turned at any time (common
practice, no source)."""
OTHER_LIGHT = 1.4
"""Usual ratio of two sets' SW_in, or its inverse, beyond which one of them is no SW_in of a head in use: its
channels, factors or sides are wrong, and a drop is no shadow (common practice, no source)."""
TURNED_LEAN = 12.0
"""degrees: a drop from one turn to the next must be more than a lean of so much makes of two opposite
headings. Heads are carried with leans of up to 10 degrees by mistake (common practice, no source)."""
SMOOTHING = 3.0
"""s of the running mean before drops are sought (common practice, no source)."""
OWN_SHADE_LIMIT = 0.15
"""Share of the reflected light. With the sun behind, a usual carrier (0.5 m wide, 1.2 m behind the head at
1.5 m) takes up to this, which the intervals include; more is a mistake of carrying (common practice, no
source)."""
LIT_LIMIT = OWN_SHADE_LIMIT / 4
"""The same of a pass without shade to speak of (common practice, no source)."""


# On the upper head
# -----------------------------------------------------------------------------------------------


def upward_shaded(
    sky: Callable[[str], pd.DataFrame],
    flags: Mapping[str, pd.Series],
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    tell: Tell = unheard,
    *,
    turns: Mapping[str, np.ndarray],
) -> dict[str, np.ndarray]:
    """Samples of each set whose SW_in drops while that of another set, under a clear sky, does not.

    A drop in both sets is a cloud. With one set alone, under clouds, or beside a head that stands still,
    nothing is flagged and `tell` is called.

    Parameters
    ----------
    sky : gives a set's sw_in, sw_clear (W m-2) and solar_elevation (degrees), one set after another.
    flags : of each set's samples.
    moments : s, ascending.
    intervals : s.
    turns : of each set, as `turns_of` gives them.

    Returns
    -------
    A truth value a sample for each set.
    """
    result = {name: np.zeros(len(texts), dtype=bool) for name, texts in flags.items()}
    usable = [
        name
        for name in flags
        if len(flags[name]) and intervals[name] <= LONGEST_STEP and not has_any(flags[name], {"frozen"}).any()
    ]
    usable = usable if len(usable) > 1 else []
    step = max([1.0, *(intervals[name] for name in usable)])
    means = {name: _by_high_sun(sky(name), moments[name], step) for name in usable}
    calm = {name: _calm(frame) for name, frame in means.items()}
    watched = set()
    for name in usable:
        for other in usable:
            if other == name or calm[other] is None:
                continue
            witness = means[other][["sw_in"]].add_suffix("_other").assign(calm=calm[other])
            both = means[name].join(witness, how="inner")
            both = both[both["calm"]]
            if len(both) * step < CLOUD_AWAY:
                continue
            usual = (both["sw_in"] / both["sw_in_other"]).median()
            if not 1.0 / OTHER_LIGHT < usual < OTHER_LIGHT:
                continue
            watched.add(name)
            for start, end in _drops(both, step, turns[name]):
                result[name] |= (moments[name] >= start - step) & (moments[name] <= end + SETTLING)
    for name in flags:
        if name not in watched:
            tell(Untold("upward-shaded", "no-clear-witness" if len(flags) > 1 else "one-set", name))
    return result


def turns_of(noted: pd.DataFrame, names: Iterable[str]) -> dict[str, np.ndarray]:
    """Spans of time in which the heading of each named set may change: (n x 2), s since 1970.

    noted: rows with `set`, `start_utc`, `end_utc` and `heading`.
    """
    within = noted_within(noted)
    turns = {}
    for name in names:
        rows = noted[noted["set"] == name]
        spans = spans_of(rows)
        several = (spans[:, 1] - spans[:, 0] > ONE_PASS) | rows["heading"].isna().to_numpy()
        ends = np.concatenate([spans[:, [0, 0]], spans[:, [1, 1]], spans[several]])
        turns[name] = ends + [-within, within]
    return turns


def _by_high_sun(sky: pd.DataFrame, moments: np.ndarray, step: float) -> pd.DataFrame:
    """A set's means in steps of time while the sun is above SHADE_SUN."""
    columns = ["sw_in", "sw_clear", "solar_elevation"]
    pieces = binned_pieces(moments, sky, columns, step)
    return pd.concat([part[part["solar_elevation"] > SHADE_SUN] for part in pieces])


def _calm(means: pd.DataFrame) -> pd.Series | None:
    """Where a set sees a beam and no cloud within CLOUD_AWAY; None where its sky is not clear as a whole.

    means: as `_by_high_sun` gives them.
    """
    high = means[means["sw_clear"] > 0]
    if not len(high):
        return None
    index = smoothed(high["sw_in"] / high["sw_clear"], SMOOTHING)
    limit, middle = shadow_limit(high["solar_elevation"]), index.median()
    if middle <= CLEAR_LEAST or (np.abs(index / middle - 1.0) <= limit).mean() < CLEAR_SHARE:
        return None
    swing = smoothed(index, 2 * CLOUD_AWAY, "max") - smoothed(index, 2 * CLOUD_AWAY, "min")
    return (swing <= limit * middle).reindex(means.index, fill_value=False)


def _drops(both: pd.DataFrame, step: float, turns: np.ndarray) -> list[tuple[float, float]]:
    """Start and end, s, of each drop of one set's SW_in against the other's. turns: as `turns_of` gives them.

    A drop whose start and end are not both seen may be a head that leans: it does not count. Nor does one
    from turn to turn that a lean can explain, nor one to the dark of a cover.
    """
    ratio = smoothed(both["sw_in"] / both["sw_in_other"], SMOOTHING)
    ratio = ratio / ratio.median()
    limit = shadow_limit(both["solar_elevation"])
    dropped = ratio.index[ratio < 1.0 - limit]
    whole = list(stretches_of(pd.DatetimeIndex(ratio.index), step))
    level = since_1970(ratio.index[ratio > 1.0 - limit / 2.0])
    seconds, deep = since_1970(ratio.index), (ratio < lean_leaves(both["solar_elevation"], TURNED_LEAN))
    found = []
    for start, end in stretches_of(pd.DatetimeIndex(dropped), step):
        first, last = next(run for run in whole if run[0] <= start < run[1])
        begins = np.any((level > first) & (level < start))
        ends = np.any((level > end) & (level < last))
        turned = all(np.any((turns[:, 0] <= moment) & (turns[:, 1] >= moment)) for moment in (start, end))
        inside = (seconds > start) & (seconds < end)
        deeper = deep.to_numpy()[inside].mean() > 0.5
        covered = ratio.to_numpy()[inside].min() <= DEAD
        shadow = (deeper or not turned) and not covered
        if end - start >= SHORTEST_SHADE and begins and ends and shadow:
            found.append((start, end))
    return found


def lean_leaves(elevation, degrees: float) -> np.ndarray:
    """Share of SW_in that a head which leans by so much away from the sun gets of what it gets towards it."""
    lean = math.tan(math.radians(degrees)) / np.tan(np.radians(np.asarray(elevation, dtype=float)))
    return (1.0 - lean) / (1.0 + lean)


def shaded_findings(
    name: str, segments: Sequence[str], shaded: np.ndarray, moments: np.ndarray, variant: str = ""
) -> list[Finding]:
    """One finding for each segment in which the upper head was in a shadow.

    Parameters
    ----------
    name : of the set.
    segments : of each sample.
    shaded : as `upward_shaded` or `shaded_alone` gives it.
    moments : s.
    variant : `alone` where the set itself shows it.
    """
    findings = []
    labels, moments = np.asarray(pd.Series(segments)[shaded], dtype=object), moments[shaded]
    for label in dict.fromkeys(labels[labels != ""]):
        mine = moments[labels == label]
        start, end = time_text(pd.to_datetime(mine[[0, -1]] * 1e9, unit="ns", utc=True).round("s"))
        facts = {"count": len(mine), "segment": label}
        findings.append(
            Finding(
                "upward-shaded", variant, name, start_utc=start, end_utc=end, channel="sw_in", facts=facts
            )
        )
    return findings


# In the downward view
# --------------------------------------------------------------------------------------------


def own_shade(segments: pd.DataFrame, shade: Callable, tell: Tell = unheard) -> list[Finding]:
    """Walks in which the carrier's shadow took too much of the reflected light: one finding a set.

    The loss is the beam's fraction times the shadow's share of the view, of a head held straight ahead; one
    held towards the sun loses less. So what was measured decides, where there are two shaded and two other
    passes of the same ground: the mean log ratio of their albedos.

    Parameters
    ----------
    segments : as `inputs.prepare` gives them.
    shade : as `inputs.shade_of` gives it.
    """
    phi = segments["solar_azimuth"].to_numpy(float) - segments["heading"].to_numpy(float)
    high = segments["solar_elevation"] > LOWEST_SUN
    beam = np.where(high, 1.0 - segments["diffuse_fraction"], 0.0)
    loss = np.where(np.isfinite(phi), beam * shade(np.nan_to_num(phi)[None, :])[0], 0.0)
    table = segments.assign(loss=loss, known=segments["heading"].notna())
    table = table[table.index.isin(counted_segments(table).index)]
    findings = []
    for name in table["set"].unique():
        rows = table[table["set"] == name]
        if not rows["known"].all():
            tell(Untold("own-shade", "no-heading", name))
        measured = _measured_loss(rows)
        if (rows["loss"] > OWN_SHADE_LIMIT).any() and not measured < OWN_SHADE_LIMIT:
            findings.append(_shade_finding(name, rows, measured))
    return findings


def _shade_finding(name: str, rows: pd.DataFrame, measured: float) -> Finding:
    bad = rows[rows["loss"] > OWN_SHADE_LIMIT]
    worst = bad.iloc[bad["loss"].argmax()]
    start, end = time_text(pd.DatetimeIndex([bad["start_utc"].min(), bad["end_utc"].max()]))
    facts = {
        "count": len(bad),
        "walks": len(rows),
        "loss": f"{100 * worst['loss']:.0f}",
        "segment": worst["segment"],
        "heading": f"{worst['heading']:.0f}",
        "azimuth": f"{worst['solar_azimuth']:.0f}",
        "elevation": f"{worst['solar_elevation']:.0f}",
    }
    facts |= {"measured": f"{100 * measured:.0f}"} if math.isfinite(measured) else {}
    variant = "" if math.isfinite(measured) else "unmeasured"
    return Finding("own-shade", variant, name, start_utc=start, end_utc=end, channel="sw_out", facts=facts)


def _measured_loss(rows: pd.DataFrame) -> float:
    """Share of the reflected light that shaded passes lack of others over their ground; NaN where no ground
    has two of each."""
    differences = []
    for _, ground in rows[rows["albedo"] > 0].groupby(["surface", "field", "transect"], dropna=False):
        dark = np.log(ground.loc[ground["loss"] > OWN_SHADE_LIMIT, "albedo"])
        light = np.log(ground.loc[ground["loss"] < LIT_LIMIT, "albedo"])
        if len(dark) >= 2 and len(light) >= 2:
            differences.append(dark.mean() - light.mean())
    return 1.0 - math.exp(np.mean(differences)) if differences else math.nan
