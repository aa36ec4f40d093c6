"""Sound campaigns into which mistakes across sources are put."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np

from simulate import sky as skies
from simulate import specs
from simulate.campaign import Campaign
from simulate.spec import Spec


def high_sun(campaign: Campaign, least: float = 20.0, most: float = 70.0) -> bool:
    elevation = np.degrees(np.concatenate([frame["elevation"] for frame in campaign.samples.values()]))
    return bool(least < elevation.min() and elevation.max() < most)


def under_sun(spec: Spec, low: float, high: float, lasts: float = 3600.0) -> Spec:
    """The same campaign at an hour, another one for each seed, at which the sun is between two elevations
    all the while; as it was where there is none."""
    for k in range(10):
        start = f"{spec.start[:10]} {7 + (3 * spec.seed + k) % 10:02d}:{spec.start[14:]}"
        first = (
            dt.datetime.strptime(start, "%Y-%m-%d %H:%M:%S")
            .replace(tzinfo=ZoneInfo(spec.site.timezone))
            .timestamp()
        )
        elevation = np.degrees(
            skies.sun(first + np.linspace(0.0, lasts, 9), spec.site.latitude, spec.site.longitude)[0]
        )
        if low < elevation.min() and elevation.max() < high:
            return spec.with_(start=start)
    return spec


def by_day(seed: int, kind: str, sets: int = 1, passes: int = 2) -> Spec:
    """A sound campaign of at least so many sets and passes a field, with the sun between 22 and 58 degrees
    where it gets there."""
    spec = specs.sound(seed, kind)
    owned = spec.sets if len(spec.sets) >= sets else specs.two_sets()
    spec = spec.with_(sets=owned, visits=specs.rounds(owned, spec.fields, passes=passes))
    return under_sun(spec, 22.0, 58.0, max(visit.at for visit in spec.visits) + 200.0)


def common_seconds(campaign: Campaign) -> float:
    """How long both sets of a campaign recorded at once."""
    parts = [set(np.floor(frame["time_utc"] / 5.0).astype(int)) for frame in campaign.samples.values()]
    return 5.0 * len(set.intersection(*parts))


def two(campaign: Campaign) -> list[str]:
    """The names of the first two sets."""
    return [s.name for s in campaign.spec.sets][:2]


def as_drawn(seed: int, kind: str) -> Spec:
    return specs.sound(seed, kind)


def with_two(seed: int, kind: str) -> Spec:
    return by_day(seed, kind, 2)


def together(seed: int, kind: str) -> Spec:
    """The campaign for several mistakes at once: two sets, the first storing mV, the other W m-2, four
    passes a field by day, every other over five hours."""
    spec = specs.sound(seed, kind)
    sets, between = specs.two_sets(), 240.0 if seed % 2 else 18000.0 / len(spec.fields) - 500.0
    spec = spec.with_(sets=sets, visits=specs.rounds(sets, spec.fields, passes=4, between=between))
    return under_sun(spec, 22.0 if seed % 2 else 12.0, 60.0, max(visit.at for visit in spec.visits) + 200.0)
