"""Incoming terms of a segment that come from a sky monitor or a fixed station, and the sun that a surface
remembers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from headland.base import station
from headland.base.findings import Finding
from headland.base.flags import has_any
from headland.base.groups import COUNTED
from headland.base.times import since_1970
from headland.physics import series

MONITORED = 0.9
"""Share of a segment's used samples that a sky monitor must cover to give it its incoming terms
(docs/method.md, section 6.9: common practice, no source).
"""


def with_incoming_of(
    samples: pd.DataFrame, monitor: pd.DataFrame, interval: float
) -> tuple[pd.DataFrame, float]:
    """A segment's samples with the incoming terms of a sky monitor at the same moments, and the share of
    its used samples that the monitor covers.

    samples, monitor: as in `segments`. interval: of the monitor, s; a moment further than that from its
    samples is not covered, and no longer used. Below `MONITORED` the samples come back as they were.
    """
    watched = monitor[monitor["used"]]
    if not len(watched) or not samples["used"].any():
        return samples, 0.0
    at, known = samples["seconds"].to_numpy(), watched["seconds"].to_numpy()
    right = (
        np.clip(np.searchsorted(known, at), 1, max(len(known) - 1, 1))
        if len(known) > 1
        else np.zeros(len(at), int)
    )
    covered = np.minimum(np.abs(at - known[right]), np.abs(at - known[right - 1])) <= interval
    share = float((covered & samples["used"]).sum() / samples["used"].sum())
    if share < MONITORED:
        return samples, share
    source = {
        "sw_in": "sw_in",
        "lw_in": "lw_in",
        "lw_in_net": "lw_in_net",
        "incoming_body_temperature": "body_temperature",
        "sw_in_memory": "sw_in_memory",
    }
    return samples.assign(
        used=samples["used"] & covered,
        **{mine: np.interp(at, known, watched[theirs]) for mine, theirs in source.items()},
    ), share


def with_sky_memory(samples: pd.DataFrame, excluding: set[str]) -> pd.DataFrame:
    """All samples of a set with `sw_in_memory`, W m-2: what a surface lately had of the sun (`remembered`),
    as far as the samples can be trusted. samples: `sw_in`, `flags`, `middle_utc`.
    """
    lit = ~has_any(samples["flags"], excluding) | has_any(samples["flags"], {"edge"})
    return samples.assign(
        sw_in_memory=series.remembered(since_1970(samples["middle_utc"]), samples["sw_in"].where(lit))
    )


class Parts:
    """The samples of every set by segment, with `used`, `seconds` and the body temperature of the upper
    head.
    """

    def __init__(self, samples: Mapping[str, pd.DataFrame], excluding: set[str]):
        self._parts, self._none = {}, {}
        for name, frame in samples.items():
            frame = frame.assign(
                used=~has_any(frame["flags"], excluding),
                seconds=since_1970(frame["middle_utc"]),
                incoming_body_temperature=frame["body_temperature"],
            )
            self._parts[name] = dict(list(frame[frame["segment"] != ""].groupby("segment")))
            self._none[name] = frame.iloc[:0]

    def of(self, row: Mapping) -> pd.DataFrame:
        """The samples of a noted interval (`set`, `segment`)."""
        return self._parts[row["set"]].get(row["segment"], self._none[row["set"]])


class OfStation:
    """Incoming terms of a fixed station, which replace those of all walks."""

    def __init__(self, fixed: pd.DataFrame, stamp: str):
        """fixed: rows of station.csv. stamp: what its times name."""
        self.stamp, self.replaced = stamp, 0
        self.records, self.step = station.incoming(fixed, stamp, series.remembered)

    def over(self, row: Mapping, frame: pd.DataFrame) -> tuple[pd.DataFrame, dict, list[Finding]]:
        """A segment's samples under the station's sky, whose sky it is, and what is found."""
        if not len(frame):
            return frame, {}, []
        frame, share = with_incoming_of(frame, self.records, self.step)
        if share >= MONITORED:
            self.replaced += 1
            return frame, {"incoming_set": station.NAME, "incoming_heading": 0.0}, []
        facts = {"segment": row["segment"], "share": f"{100.0 * share:.0f}"}
        found = Finding("incoming-station", "too-little", row["set"], line=row["notes_row"], facts=facts)
        return frame, {}, [found]

    def found(self, rows: Sequence[Mapping]) -> list[Finding]:
        """In how many of the segments that count the station's terms were taken."""
        counted = sum(row["activity"] in COUNTED for row in rows)
        facts = {"count": self.replaced, "segments": counted, "stamp": self.stamp}
        return [Finding("incoming-station", facts=facts)]


class OfMonitors:
    """Incoming terms of another set that was a sky monitor at the time."""

    def __init__(self, rows: Sequence[Mapping], parts: Parts, intervals: Mapping[str, float]):
        """rows: noted intervals. intervals: of each set's samples, s."""
        self.monitors = [row for row in rows if row["activity"] == "sky_monitor"]
        self.parts, self.intervals = parts, intervals

    def over(self, row: Mapping, frame: pd.DataFrame) -> tuple[pd.DataFrame, dict, list[Finding]]:
        """A segment's samples under the sky of the first monitor at the time, whose sky it is, and what is
        found.
        """
        monitor = next((one for one in self.monitors if _at_once(one, row)), None)
        if monitor is None:
            return frame, {}, []
        frame, share = with_incoming_of(frame, self.parts.of(monitor), self.intervals[monitor["set"]])
        enough = share >= MONITORED
        facts = {"segment": row["segment"], "monitor": monitor["set"], "share": f"{100.0 * share:.0f}"}
        variant = "" if enough else "too-little"
        found = Finding("sky-monitor", variant, row["set"], line=row["notes_row"], facts=facts)
        whose = {"incoming_set": monitor["set"], "incoming_heading": monitor["heading"]} if enough else {}
        return frame, whose, [found]

    def found(self, rows: Sequence[Mapping]) -> list[Finding]:
        """Nothing is said of all segments together."""
        return []


def _at_once(monitor: Mapping, row: Mapping) -> bool:
    """Whether another set was a monitor during some of a noted interval."""
    overlap = monitor["start_utc"] < row["end_utc"] and monitor["end_utc"] > row["start_utc"]
    return monitor["set"] != row["set"] and overlap
