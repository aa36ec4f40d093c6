"""Loggers' clocks checked against the sun, and whether the notes were kept by the same wrong clock."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import has_any
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.base.untold import Tell, Untold, unheard
from headland.checks.notes_and_runs import unexplained
from headland.checks.runs import agreement, runs, spans_of, union
from headland.checks.shifts import BEST_FIT, RIVAL_BY
from headland.checks.sun_fit import ERROR_SUN_SHIFT, fit_to_sun

SUN_WITHIN, SUN_TRIED = 900.0, 15.0
"""s: the sun shows a clock's error to some minutes; so far around it, in such steps, the notes are tried
(common practice, no source)."""
SEES_SKY = frozenset({"edge", "low-head"})
"""Flags of samples that don't count, but whose upper heads see their sky all the same."""


def clocks_against_sun(
    samples: Mapping[str, pd.DataFrame],
    middles: Mapping[str, pd.Series],
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    noted: pd.DataFrame,
    *,
    excluding: set[str],
    walks: bool,
    site: Mapping[str, float],
    tell: Tell = unheard,
) -> list[Finding]:
    """`clock_against_sun` of each set, and whether its notes fit the same wrong clock: then its surfaces are
    right.

    Parameters
    ----------
    samples : of each set, with `sw_in`, `segment` and `flags`.
    middles : of the samples, by the set's own clock.
    moments : the same, s, corrected by clock checks.
    intervals : s.
    noted : intervals with `segment`, `set`, `heading`, `start_utc`, `end_utc`.
    excluding : flags that keep a sample out.
    walks : whether anybody walks (else the heading is a constant).
    tell : called with each check that could not be made.
    """
    heading = noted.set_index("segment")["heading"].astype(float)
    findings = []
    for name, frame in samples.items():
        out = has_any(frame["flags"], excluding - SEES_SKY)
        own = noted[noted["set"] == name]
        found = clock_against_sun(
            name,
            since_1970(middles[name]),
            np.where(out, np.nan, frame["sw_in"].to_numpy(float)),
            frame["segment"].map(heading).to_numpy(float) if walks else np.zeros(len(frame)),
            site,
            noted=own if walks else None,
            tell=tell,
        )
        findings += [_with_notes(finding, own, runs(moments[name], intervals[name])) for finding in found]
    return findings


def _with_notes(finding: Finding, own: pd.DataFrame, recorded: np.ndarray) -> Finding:
    """The finding, with whether the set's notes fit its runs as they are, and what the wrong clock does not
    explain."""
    claimed = union(spans_of(own))
    seconds = 60.0 * float(str(finding.facts["minutes"]))
    behind = seconds if finding.facts["direction"] == "behind" else -seconds
    tried = -behind + np.arange(-SUN_WITHIN, SUN_WITHIN + 1, SUN_TRIED)
    fits, now = agreement([recorded], [claimed], tried), float(agreement([recorded], [claimed]))
    hold = bool(now >= BEST_FIT and now - fits.max() >= RIVAL_BY)
    shift = 0.0 if hold else float(tried[np.argmax(fits)])
    left = unexplained(own, {finding.set: recorded}, {finding.set: finding.set}, {finding.set: shift})
    variant = "noted" if hold and finding.variant == "far" else finding.variant
    return replace(finding, variant=variant, facts={**finding.facts, "labels_hold": hold, "left": left})


def clock_against_sun(
    name: str,
    moments: np.ndarray,
    sw_in: np.ndarray,
    heading: np.ndarray,
    site: Mapping[str, float],
    *,
    noted: pd.DataFrame | None = None,
    tell: Tell = unheard,
) -> list[Finding]:
    """Whether a set's clock fits the sun's, by `fit_to_sun`, whose parameters these are.

    Silent under any cloud, and where the record is too short to show the sun's course: then `tell` is called.
    """
    fit = fit_to_sun(moments, sw_in, heading, site, noted)
    if fit is None or not fit.off:
        if fit is None or not fit.tells:
            reason = "short-sun" if fit is None else "flat-sun" if fit.clear else "no-clear-sky"
            tell(Untold("clock-against-sun", reason, name))
        return []
    start, end = time_text(pd.DatetimeIndex([fit.start, fit.end]))
    facts = {
        "minutes": f"{abs(fit.shift) / 60:.0f}",
        "direction": "behind" if fit.shift > 0 else "ahead",
        "rms": f"{100 * fit.rms:.1f}",
        "now": f"{100 * fit.rms_now:.0f}" if math.isfinite(fit.now) else "more than 20",
    }
    variant = "far" if abs(fit.shift) >= ERROR_SUN_SHIFT else ""
    return [
        Finding(
            "clock-against-sun", variant, name, start_utc=start, end_utc=end, channel="sw_in", facts=facts
        )
    ]
