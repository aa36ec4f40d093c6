"""The walks to do again: which noted visits, or stored runs, a finding spoils for good."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from headland.base.findings import Finding
from headland.base.words import plain
from headland.field.look_page import clock

AGAIN = frozenset(
    {
        *("cover-left-on", "head-inverted", "channel-frozen", "dome-wet", "thermal-shock", "swing-strong"),
        *("note-without-data", "segment-unused", "head-too-low"),
    }
)
"""Codes whose samples no correction brings back: the walk has to be done again."""
NAMED = 6
"""Walks that are named one by one."""
OFF_GROUND = ("clock_check", "channel_check", "dark")
"""Activities without ground: nothing is lost there."""

Key = tuple[str, str, str]
"""Code, set and channel of a finding."""


def walks_again(
    found: Sequence[tuple[str, Finding]], visits: pd.DataFrame, zone: str
) -> dict[Key, list[str]]:
    """The visits to do again, in words, by code, set and channel.

    Parameters
    ----------
    found : findings with their steps, each place by itself
    visits : noted intervals, or runs where nothing is noted: set, field, activity, transect, pass, start_utc,
        end_utc, line
    zone : of the place, for the times of day
    """
    spoilt: dict[Key, list[int]] = {}
    on_ground = visits[~visits["activity"].isin(OFF_GROUND)].reset_index(drop=True)
    for _, finding in found:
        if finding.code in AGAIN:
            places = spoilt.setdefault((finding.code, finding.set, finding.channel), [])
            places += [place for place in _spoilt_by(finding, on_ground) if place not in places]
    rows = dict(enumerate(on_ground.to_dict("records")))
    return {
        key: [_named(rows[place], zone) for place in sorted(places)]
        for key, places in spoilt.items()
        if places
    }


def _spoilt_by(finding: Finding, visits: pd.DataFrame) -> list[int]:
    """The visits of the finding's set that it names by line, or that overlap its time."""
    own = visits[visits["set"] == finding.set] if finding.set else visits
    if finding.line and finding.file:
        return [*own.index[own["line"] == finding.line]]
    if not finding.start_utc or not finding.end_utc:
        return [*own.index]
    start, end = (pd.Timestamp(text) for text in (finding.start_utc, finding.end_utc))
    return [*own.index[(own["start_utc"] < end) & (own["end_utc"] > start)]]


def _named(visit: Mapping, zone: str) -> str:
    """A visit in words, such as `Dry tilth, transect 1, pass 2, 12:46:34 to 12:48:08`."""
    start, end = (clock(visit[name], zone) for name in ("start_utc", "end_utc"))
    parts = [visit["field"] or visit["activity"].replace("_", " ")]
    parts += [f"{name} {visit[name]}" for name in ("transect", "pass") if visit[name]]
    named = ", ".join(parts)
    return plain(f"{named} to {end}" if named.endswith(start) else f"{named}, {start} to {end}")


def sentence(walks: Mapping[Key, Sequence[str]], key: Key) -> str:
    """The walks to do again because of a finding, as one text; empty where there are none."""
    named = walks.get(key, ())
    more = f"; and {len(named) - NAMED} more" if len(named) > NAMED else ""
    return "; ".join(named[:NAMED]) + more
