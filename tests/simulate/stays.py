"""Visits with their moments, and which seconds of them count."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .spec import CHANNELS, Field, Set, Spec, Visit, duration


@dataclass(frozen=True)
class Stay:
    """A visit with its moments in UTC seconds."""

    visit: Visit
    field: Field | None
    start: float
    end: float
    on: tuple[tuple[float, float], ...]  # when the storage was on

    def walked(self, time: np.ndarray) -> np.ndarray:
        """Metres from where the walk began."""
        if self.visit.activity != "walk":
            middle = self.field.length / 2 if self.visit.position is None else self.visit.position
            return np.full(time.shape, middle)
        speed = self.field.length / (self.end - self.start - sum(p[1] for p in self.visit.pauses))
        marks, at = [(self.start, 0.0)], 0.0
        for begin, lasts in sorted(self.visit.pauses):
            at += speed * (self.start + begin - marks[-1][0])
            marks += [(self.start + begin, at), (self.start + begin + lasts, at)]
        marks.append((self.end, self.field.length))
        return np.interp(time, *zip(*marks, strict=False))

    @property
    def heading(self) -> float:
        own = self.field.heading if self.visit.heading is None else self.visit.heading
        return (own + 180.0 * self.visit.backwards) % 360


def stay_of(v: Visit, known: dict[str, Field], start: float, spec: Spec) -> Stay:
    """A visit in UTC, with the spans of storage."""
    f = known.get(v.field)
    begin, lasts = start + v.at, duration(v, f, spec.carrying.walking_speed)
    if begin % 1 or lasts % 1 or (spec.notes_to_minute and (begin % 60 or lasts % 60)):
        raise ValueError(f"visit of {v.set} at {v.at} s: the notes can't hold its times exactly")
    if v.activity == "clock_check" or not v.store:
        return Stay(v, f, begin, begin + lasts, ())
    edges = [begin - v.before]
    for at, pause in sorted(v.pauses):
        edges += [begin + at, begin + at + pause]
    edges.append(begin + lasts + v.after)
    return Stay(v, f, begin, begin + lasts, tuple(zip(edges[::2], edges[1::2], strict=False)))


def guards(spec: Spec, s: Set, stay: Stay, recorded: float) -> tuple[float, float]:
    """Seconds of recorded time left out at both ends of a noted interval, and more after its start."""
    if spec.carrying.walking_speed == 0:
        return 0.0, 0.0
    lag = max(s.sensors[c].response_time_95 or 0.0 for c in CHANNELS)
    if stay.visit.activity != "walk" or recorded == 0:
        return 0.0, lag
    height = spec.carrying.sensor_height - stay.field.canopy_height
    return 3 * height * recorded / stay.field.length, lag  # 3 h / v, v from the noted length


def seconds(offset: str) -> float:
    """Seconds of an offset such as +01:00."""
    hours, minutes = offset[1:].split(":")
    return (-1 if offset[0] == "-" else 1) * (int(hours) * 3600 + int(minutes) * 60.0)
