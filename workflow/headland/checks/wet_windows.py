"""Water, dew or frost on an upper longwave window, seen beside another set or a station under a clear sky."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import has_any
from headland.base.station import records
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.base.untold import Tell, Untold, unheard
from headland.checks.against_station import Station
from headland.checks.campaign import Campaign
from headland.checks.factors import INDEX
from headland.checks.one_set import SUN_UP
from headland.checks.series import long_runs
from headland.checks.sky_records import LONGEST_STEP, binned
from headland.physics.constants import ZERO_CELSIUS
from headland.physics.longwave import own_emission

STEP = 60.0
"""s of the means that are compared (common practice, no source)."""
LASTS = 3
"""Such means in a row by whose median a window is judged, and for which it must stay wet: drops stay for
minutes, clouds that differ from field to field pass (common practice, no source)."""
FEWEST = 6
"""Such means from which a set's usual difference from another is known (common practice, no source)."""
LONGEST_RECORD = 600.0
"""s: a station's means over a longer time follow no sky (common practice, no source)."""
COLD_SKY = 40.0
"""W m-2 by which the witness's sky must be colder than its head: less hides nothing (common practice, no
source)."""
HIDDEN = 0.2
"""Share of that difference by which a wet window must close it, over the set's usual difference and in all.
Under broken clouds two sets a field apart differ for minutes by 0.1 (common practice, no source)."""
DRY = 0.5
"""Share of that below which a further witness calls the window dry (common practice, no source)."""
WHOLE = 0.8
"""Share of what a cover as warm as the air hides, from which a cover may be what hid it: drops leave more of
the window free (common practice, no source)."""
USUAL = 0.25
"""The same share by which heads of class C may differ all day (common practice, no source)."""
DRY_SHARE = 0.1
"""Quantile of the shares that stands for a dry window (common practice, no source)."""
LIT_SHARE = 0.75
"""SW_in over the witness's, beside its usual ratio, under which the set was in a shadow, which is as warm
(common practice, no source)."""
STEADY = 0.03
"""Relative scatter of the witness's SW_in within a step under a clear sky (common practice, no source)."""


def wet_windows(campaign: Campaign, station: Station, tell: Tell = unheard) -> list[Finding]:
    """Sets whose sky was warmer than that of another set, or a station, for some minutes under a beam.

    Where a further witness says at the same time that the window was dry, the sky differed from place to
    place, and nothing is said. A window that was wet all the time, or together with all others, is not seen.
    tell: called for each set that was beside no witness under a clear sky.
    """
    own = {
        name: _minutes(campaign, name)
        for name in campaign.samples
        if campaign.intervals[name] <= LONGEST_STEP
    }
    fixed = _station_minutes(station)
    judged: dict[str, dict[str, pd.DataFrame]] = {}
    for name in campaign.samples:
        shares = {other: part for other, part in _shares(name, own, fixed) if len(part) >= FEWEST}
        judged[name] = {other: _judged(part) for other, part in shares.items()}
        if not shares:
            tell(Untold("dome-wet", "no-clear-witness", name))
    wet = {name: _wet_by_all(name, judged) for name in judged}
    return [_finding(name, rows) for name, rows in wet.items() if len(rows)]


def _minutes(campaign: Campaign, name: str) -> pd.DataFrame:
    """A set's means in steps of time, with the emission of its upper window and whether its sun was steady.

    Samples that its own signal calls wet are left out: they are told.
    """
    frame = campaign.samples[name]
    told = has_any(frame["flags"], {"dome-wet"})
    keep = ~campaign.spoilt(name) & ~told & (frame["segment"] != "").to_numpy()
    moments = campaign.moments[name][keep]
    columns = ["sw_in", "lw_in", "sw_clear", "solar_elevation", "body_temperature"]
    values = frame.loc[keep, columns].astype(float)
    means = binned(moments, values.assign(square=values["sw_in"] ** 2), STEP)
    scatter = np.sqrt(np.maximum(means["square"] - means["sw_in"] ** 2, 0.0))
    air = frame["segment"].map(_air(campaign))[keep].astype(float)
    means["air"] = binned(moments, pd.DataFrame({"air": air}), STEP)["air"]
    return means.assign(
        emission_air=own_emission(means["air"] + ZERO_CELSIUS),
        emission=own_emission(means["body_temperature"] + ZERO_CELSIUS),
        steady=scatter <= STEADY * means["sw_in"],
    )


def _air(campaign: Campaign) -> pd.Series:
    """Air temperature, degC, of each segment; NaN where it is unknown."""
    return campaign.segments.set_index("segment")["air_temperature"]


def _station_minutes(station: Station) -> pd.DataFrame | None:
    """A station's records in the same steps; None where they are too long."""
    known, ends, step = records(station.rows, station.stamp)
    if len(known) < 2 or step > LONGEST_RECORD:
        return None
    count = max(round(step / STEP), 1)
    seconds = (ends[:, None] - step + STEP * np.arange(count)).ravel()
    numbers = np.floor(seconds / STEP)
    index = pd.to_datetime((numbers + 0.5) * STEP * 1e9, unit="ns", utc=True)
    frame = pd.DataFrame(
        {term: np.repeat(known[term].to_numpy(float), count) for term in ("sw_in", "lw_in")}, index
    )
    return frame[~frame.index.duplicated()]


def _shares(
    name: str, own: dict[str, pd.DataFrame], fixed: pd.DataFrame | None
) -> Iterator[tuple[str, pd.DataFrame]]:
    """Each witness, and by it the share of a cold sky that is hidden from a set, over the steps under a beam.

    The station's name is empty.
    """
    if name not in own:
        return
    mine = own[name]
    for other, frame in own.items():
        if other != name:
            both = mine.join(frame.add_suffix("_other"), how="inner")
            yield other, _share(both[both["steady_other"]])
    if fixed is not None:
        both = mine.join(fixed.add_suffix("_other"), how="inner")
        yield "", _share(both.assign(emission_other=both["emission"], sw_clear_other=both["sw_clear"]))


def _share(both: pd.DataFrame) -> pd.DataFrame:
    """`share` of the sky's coldness that is hidden, and `of_air`: of what a cover as warm hides."""
    beam = (both["sw_in_other"] > INDEX[0] * both["sw_clear_other"]) & (both["solar_elevation"] > SUN_UP)
    cold = both["emission_other"] - both["lw_in_other"]
    both, cold = both[beam & (cold > COLD_SKY)], cold[beam & (cold > COLD_SKY)]
    ratio = both["sw_in"] / both["sw_in_other"]
    lit = ratio > LIT_SHARE * ratio.median()
    warmer = both["lw_in"] - both["lw_in_other"]
    shares = {"share": warmer / cold, "of_air": warmer / (both["emission_air"] - both["lw_in_other"])}
    return pd.DataFrame(shares)[lit]


def _judged(shares: pd.DataFrame) -> pd.DataFrame:
    """The steps by one witness, ascending in time, with `wet` and `dry` where the LASTS without a gap that
    end there are, most of them; `wet` is as long as LASTS."""
    usual = float(shares["share"].quantile(DRY_SHARE))
    together = pd.Timedelta(seconds=LASTS * STEP)
    beyond = shares["share"].rolling(together, min_periods=LASTS).median() - max(usual, 0.0)
    alike = abs(usual) < USUAL
    # steps with a gap before them have no median, so a run of wet ones has no gap
    wet = long_runs(alike & (beyond > HIDDEN), STEP, LASTS * STEP, LASTS)
    return shares.assign(wet=wet, dry=alike & (beyond < DRY * HIDDEN))


def _wet_by_all(name: str, judged: dict[str, dict[str, pd.DataFrame]]) -> pd.DataFrame:
    """The steps in which a set's window was wet, by the witness that shows most of them.

    A witness that was wet itself contradicts no other. Two sets that each call the other one's window wet
    were under clouds that differed.
    """
    best = pd.DataFrame({"of_air": []})
    for witness, rows in judged[name].items():
        back = judged.get(witness, {}).get(name)
        if back is not None and back["wet"].any():
            continue
        wet = rows[rows["wet"]]
        for other, beside in judged[name].items():
            if other != witness:
                soaked = [frame.index[frame["wet"]] for frame in judged.get(other, {}).values()]
                dry = beside.index[beside["dry"]].difference(pd.DatetimeIndex([]).append(soaked))
                wet = wet[~wet.index.isin(dry)]
        best = wet if len(wet) > len(best) else best
    return best


def _finding(name: str, wet: pd.DataFrame) -> Finding:
    """The finding about a set's wet steps. Where the whole sky was hidden, a cover does the same."""
    middles = since_1970(pd.DatetimeIndex(wet.index))[[0, -1]]
    ends = pd.to_datetime((middles + [-1.5 * STEP, -0.5 * STEP]) * 1e9, unit="ns", utc=True)
    start, end = time_text(ends)
    facts = {"minutes": f"{len(wet) * STEP / 60.0:.0f}", "set": name}
    variant = "beside" if wet["of_air"].median() < WHOLE else "covered"
    return Finding("dome-wet", variant, name, start_utc=start, end_utc=end, channel="lw_in", facts=facts)
