"""One set through its day: what its logger stores, and the truth beside every record."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from . import ground as grounds
from . import instruments
from . import sky as skies
from .sky import SIGMA
from .spec import CHANNELS, Set, Spec, layout_of
from .stays import Stay, guards, seconds

GRID = 5.0  # s, for what changes slowly
REAL = (
    "elevation",
    "azimuth",
    "beam",
    "direct",
    "diffuse",
    "sw_in",
    "lw_in",
    "air",
    "sw_out",
    "lw_out",
    "t4",
    "sw_out_whole",
    "lw_out_whole",
    "t4_whole",
    "absorbed",
)


@dataclass(frozen=True)
class Day:
    """What all sets share: the sky, and the ground under it on a grid of slow times."""

    spec: Spec
    start: float
    date: dt.date
    overhead: skies.Overhead
    slow: np.ndarray
    patches: dict[str, grounds.Ground]
    warmth: dict[str, tuple[np.ndarray, np.ndarray]]
    body: np.ndarray


def day_of(spec: Spec, start: float, date: dt.date, begin: float, end: float) -> Day:
    """The sky and the ground of a campaign between two times, s since 1970."""

    def rng(*names):
        return instruments.stream(spec.seed, *names)

    step = min(1.0, *(s.interval for s in spec.sets)) if spec.sets else 1.0
    overhead = skies.make_sky(
        lambda part: rng("sky", part), spec.site, spec.sky, begin=begin - 5400, end=end, step=step
    )
    slow = np.arange(begin - 5400, end, GRID)
    warmth = {f.name: grounds.surface_excess(f, overhead, slow, GRID) for f in spec.fields}
    above = overhead.at(slow)
    body = above["air"] + 0.8 + 0.0025 * skies.smooth(above["sw_in"], GRID, 900.0)
    patches = {
        f.name: grounds.Ground(rng("ground", f.name), f, spec.carrying.sensor_height - f.canopy_height)
        for f in spec.fields
    }
    return Day(spec, start, date, overhead, slow, patches, warmth, body)


class Clock:
    """The times of a set's records and of the steps within them.

    Records end on whole multiples of the interval by the logger's clock; there are steps within a record
    where it is longer than a second.

    number  of each record, counted by the logger's clock
    ends    of the records, s since 1970
    time    of each step, s since 1970
    """

    def __init__(self, s: Set, start: float, spans: np.ndarray):
        layout, _ = layout_of(s)
        self.set, self.spans, self.start_of_interval = s, spans, layout["stamp"] == "start"
        self.instant = layout["stamp"] == "instant"
        offset, rate = seconds(s.utc_offset), s.clock_drift / 86400
        self.per = (
            int(round(s.interval / (1.0 if s.interval <= 60 else s.interval / 60))) if s.interval > 1 else 1
        )
        first, last = spans[0, 0] - 90, spans[-1, 1] + s.interval
        shift = offset + s.clock_error
        self.number = np.arange(
            np.floor((first + shift) / s.interval), np.ceil((last + shift) / s.interval) + 1
        )
        self.step = s.interval / self.per
        self.ends = start + (self.number * s.interval - offset - start - s.clock_error) / (1 + rate)
        within = (np.arange(self.per) + (1.0 if self.instant else 0.5)) * self.step
        self.time = (self.ends[:, None] - s.interval + within).ravel()

    def average(self, values: np.ndarray) -> np.ndarray:
        """Of the steps of each record; the last one where the logger samples once."""
        steps = values.reshape(-1, self.per)
        return steps[:, -1] if self.instant else steps.mean(axis=1)

    def bounds(self) -> tuple[np.ndarray, np.ndarray]:
        """Beginning and end of each record, s since 1970."""
        return (self.ends, self.ends) if self.instant else (self.ends - self.set.interval, self.ends)

    def stamps(self) -> np.ndarray:
        """What the logger writes beside each record, s by its own clock."""
        interval = self.set.interval
        stamp = self.number * interval - (interval if self.start_of_interval else 0.0)
        return np.floor(stamp + 1e-6) if self.set.whole_second_stamps else stamp


def follow(day: Day, s: Set, own: list[Stay], wrong: dict[str, float]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What a set's logger stores on its visits `own`, and the truth beside it. wrong: the set's errors."""
    spec = day.spec
    own = [stay for stay in own if stay.field is not None]
    spans = np.array(sorted(span for stay in own for span in stay.on), float).reshape(-1, 2)
    clock = Clock(s, day.start, spans)
    time = clock.time
    real = {name: np.zeros(time.size) for name in REAL}
    seen = {name: np.zeros(time.size) for name in ("sw_out", "lw_out")}
    carried = instruments.Carried(*(np.zeros(time.size) for _ in range(4)))
    turns = [(a.end + b.start) / 2 for a, b in zip(own, own[1:], strict=False)]
    cuts = np.searchsorted(time, [-np.inf, *turns, np.inf])
    for i, stay in enumerate(own):
        part = slice(cuts[i], cuts[i + 1])
        if time[part].size:
            _stay(
                day, stay, time[part], {name: values[part] for name, values in (real | _beyond(seen)).items()}
            )
            _carry(day, stay, time[part], carried, part)
    real["body"] = np.interp(time, day.slow, day.body) + s.warm_start * np.exp(
        -np.maximum(time - spans[0, 0], 0) / 600
    )
    felt = {**real, **{name: real[name] + seen[name] for name in seen}}
    _cover(felt, own, time)
    flux = instruments.sense(instruments.Maker(spec.seed, s, spec.errors, wrong), clock.step, felt, carried)
    real["net"] = real["sw_in"] - real["sw_out"] + real["lw_in"] - real["lw_out"]
    return _records(day, clock, own, flux, real)


def _beyond(seen: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    return {f"{name}_beyond": values for name, values in seen.items()}


def _stay(day: Day, stay: Stay, t: np.ndarray, real: dict[str, np.ndarray]) -> None:
    """Fill what is there during one visit into `real`, whose arrays are the visit's part of the day's; the
    names that end in _beyond are for what the heads see outside the field.
    """
    f, ground = stay.field, day.patches[stay.field.name]
    now = day.overhead.at(t, f.sky_lag)
    walked = stay.walked(t)
    x = f.length - walked if stay.visit.backwards else walked
    y = (stay.visit.transect - 1) * 8.0
    mean = grounds.mean_albedo(f, now["elevation"])
    albedo = mean + ground.seen("albedo", x, y)
    whole, absorbed = (np.interp(t, day.slow, values) for values in day.warmth[f.name][:2])
    uneven = ground.seen("temperature", x, y) * np.clip(absorbed / 600, 0.15, 1.3)
    out = {}
    for suffix, a, kelvin in (("", albedo, whole + uneven), ("_whole", mean, whole)):
        out["sw_out" + suffix] = a * now["sw_in"]
        out["t4" + suffix] = kelvin**4
        out["lw_out" + suffix] = f.emissivity * SIGMA * kelvin**4 + (1 - f.emissivity) * now["lw_in"]
    for name, values in {**now, **out, "absorbed": absorbed}.items():
        real[name][:] = values
    if f.surround_albedo is not None and stay.visit.activity == "walk":
        outside = grounds.beyond(walked, ground.height) + grounds.beyond(f.length - walked, ground.height)
        real["sw_out_beyond"][:] = outside * (f.surround_albedo - albedo) * now["sw_in"]
        beyond = f.emissivity * SIGMA * (whole + f.surround_warmer) ** 4 + (1 - f.emissivity) * now["lw_in"]
        real["lw_out_beyond"][:] = outside * (beyond - out["lw_out"])


def _carry(day: Day, stay: Stay, t: np.ndarray, carried: instruments.Carried, part: slice) -> None:
    """Fill in how the set is carried during one visit."""
    spec, f, ground = day.spec, stay.field, day.patches[stay.field.name]
    carried.heading[part], carried.moving[part] = stay.heading, stay.visit.activity == "walk"
    if not (spec.errors.carrier and spec.carrying.walking_speed > 0):
        return
    carried.blocked[part] = grounds.carrier_view(spec.carrying, ground.height)
    nodes = np.arange(t[0], t[-1] + 60, 60.0)
    high, azimuth, _ = skies.sun(nodes, spec.site.latitude, spec.site.longitude)
    heading = np.full(nodes.size, stay.heading)
    view = grounds.shadow_view(spec.carrying, ground.height, f.canopy_height, high, azimuth, heading=heading)
    carried.shade[part] = np.interp(t, nodes, view)


def _records(
    day: Day, clock: Clock, own: list[Stay], flux: dict[str, np.ndarray], real: dict[str, np.ndarray]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The records that are stored, and the truth beside them with the visit and whether the second counts."""
    spec, s, spans = day.spec, clock.set, clock.spans
    low, high = clock.bounds()
    run = np.searchsorted(spans[:, 0], low + 1e-6, side="right") - 1
    kept = (run >= 0) & (high <= spans[np.maximum(run, 0), 1] + 1e-6)
    means = {name: clock.average(v) for name, v in flux.items()}
    stored = instruments.store(s, day.date, layout_of(s)[0], means)
    stamp = (np.round(clock.stamps() * 1e6).astype("int64")).astype("datetime64[us]")
    frame = pd.DataFrame({"stamp": stamp, "run": run, **stored})
    hours = (clock.ends - day.start) / 3600
    frame["battery"] = 12.72 - 0.03 * (clock.ends - day.start) / 3600 - 0.0004 * hours * np.cos(clock.number)
    true = pd.DataFrame(
        {"time_utc": (low + high) / 2, **{name: clock.average(v) for name, v in real.items()}}
    )
    frame, true = frame[kept].reset_index(drop=True), true[kept].reset_index(drop=True)
    true["visit"], true["used"] = -1, False
    middle = true["time_utc"].to_numpy()
    for stay in own:
        here = np.flatnonzero((middle >= stay.start) & (middle < stay.end))
        tau = (np.arange(here.size) + 0.5) * s.interval
        edge, lag = guards(spec, s, stay, here.size * s.interval)
        used = (tau >= edge + lag) & (here.size * s.interval - tau >= edge)
        true.loc[here, "visit"] = spec.visits.index(stay.visit)
        true.loc[here, "used"] = used
    return frame, true


def _cover(felt: dict[str, np.ndarray], own: list[Stay], time: np.ndarray) -> None:
    """Covers on: all heads while `dark`, one by one in the order of CHANNELS while `channel_check`."""
    for stay in own:
        if stay.visit.activity not in ("dark", "channel_check"):
            continue
        parts = np.linspace(stay.start, stay.end, 5) if stay.visit.activity == "channel_check" else None
        for i, channel in enumerate(CHANNELS):
            a, b = (stay.start, stay.end) if parts is None else parts[i : i + 2]
            here = (time >= a) & (time < b)
            felt[channel] = np.where(
                here, SIGMA * felt["body"] ** 4 if channel.startswith("lw") else 0.0, felt[channel]
            )
            if channel == "sw_in":
                for name in ("beam", "direct", "diffuse"):
                    felt[name] = np.where(here, 0.0, felt[name])
