"""Channels that an error makes untrustworthy, and what is computed from them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from headland.base.findings import Withheld


def untrustworthy(
    withheld: Sequence[Withheld], set_name: str, incoming_set: str, start: str, end: str
) -> set[str]:
    """The channels of a segment that have no trustworthy value. start, end: ISO 8601 text in UTC."""
    names = set()
    for entry in withheld:
        if (not entry.end_utc or entry.end_utc >= start) and (not entry.start_utc or entry.start_utc <= end):
            names |= {
                c
                for c in entry.channels
                if not entry.sets or (incoming_set if c in ("sw_in", "lw_in") else set_name) in entry.sets
            }
    return names


def without(means: Mapping[str, float], channels: set[str]) -> dict[str, float]:
    """A segment's means less those of channels that can't be trusted, and less what is computed from them."""
    result = dict(means)
    if channels:
        shortwave, longwave = (any(c.startswith(band) for c in channels) for band in ("sw", "lw"))
        gone = [*channels, "net_radiation"]
        gone += ["albedo", "ground_sw_out"] if shortwave else []
        gone += ["surface_temperature", "ground_lw_out"] if longwave else []
        gone += ["sw_in_memory"] if "sw_in" in channels else []
        result |= dict.fromkeys(gone, math.nan)
        result |= dict.fromkeys(("albedo_sw_in", "albedo_sw_out"), 0.0) if shortwave else {}
    return result
