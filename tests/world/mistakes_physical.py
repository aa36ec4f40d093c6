"""Mistakes that change what the heads see or how they are; the day is measured once more with them."""

from collections.abc import Callable

import numpy as np

from .day import Day
from .seeds import log_uniform
from .survey import Leg


def pick_set(day: Day, rng: np.random.Generator) -> str:
    """Return one set by chance."""
    return str(rng.choice(day.survey.sets))


def pick_legs(day: Day, name: str, rng: np.random.Generator, share: float) -> list[Leg]:
    """Return a share of the walks of a set, at least one, one after the other."""
    legs = [leg for leg in day.survey.of(name) if leg.activity != "sky_monitor"]
    count = max(1, round(share * len(legs)))
    first = int(rng.integers(0, len(legs) - count + 1))
    return legs[first : first + count]


def finish(day: Day, name: str, what: str, *, size: object, unit: str, legs: list[Leg] | None = None) -> dict:
    """Measure the set once more and return the record of the mistake."""
    day.refresh([name])
    spans = [(leg.start, leg.end) for leg in legs] if legs else None
    return {"set": name, "what": what, "size": size, "unit": unit, "spans_s": spans}


def drawn(rng: np.random.Generator, size: float | None, low: float, high: float) -> float:
    """Return the size, drawn between two limits when it is not given."""
    return float(rng.uniform(low, high)) if size is None else float(size)


def cover_left_on(day: Day, rng: np.random.Generator, size: float | None) -> dict:
    """Leave all covers on during some visits; size: share of the visits."""
    name = pick_set(day, rng)
    legs = pick_legs(day, name, rng, drawn(rng, size, 0.15, 0.5))
    span = (legs[0].start - 30.0, legs[-1].end + 30.0)
    day.kits[name].disturbance.covered = dict.fromkeys(("sw_in", "sw_out", "lw_in", "lw_out"), span)
    return finish(day, name, "all covers on", size=len(legs), unit="walks", legs=legs)


def cover_left_on_one(day: Day, rng: np.random.Generator, size: float | None) -> dict:
    """Leave one cover on; size: share of the visits."""
    name = pick_set(day, rng)
    channel = str(rng.choice(["sw_in", "sw_out", "lw_in", "lw_out"]))
    legs = pick_legs(day, name, rng, drawn(rng, size, 0.3, 1.0))
    day.kits[name].disturbance.covered = {channel: (legs[0].start - 30.0, legs[-1].end + 30.0)}
    return finish(day, name, f"cover of {channel} on", size=len(legs), unit="walks", legs=legs)


def head_inverted(day: Day, rng: np.random.Generator, size: float | None) -> dict:
    """Carry the set upside down all day."""
    name = pick_set(day, rng)
    day.kits[name].disturbance.inverted = True
    return finish(day, name, "heads upside down", size=None, unit="")


def own_shade(day: Day, rng: np.random.Generator, size: float | None) -> dict:
    """Let the carrier's shadow fall into the lower view; size: share of the view."""
    name = pick_set(day, rng)
    share = drawn(rng, size, 0.06, 0.25)
    legs = pick_legs(day, name, rng, float(rng.uniform(0.3, 1.0)))
    day.kits[name].disturbance.shade_down = [(leg.start, leg.end, share) for leg in legs]
    return finish(
        day, name, "carrier's shadow in the lower view", size=share, unit="share of view", legs=legs
    )


def upward_shaded(day: Day, rng: np.random.Generator, size: float | None) -> dict:
    """Hide part of the sky by a tree or building; size: share of the sky, the beam with it."""
    name = pick_set(day, rng)
    share = drawn(rng, size, 0.25, 0.8)
    legs = pick_legs(day, name, rng, float(rng.uniform(0.1, 0.4)))
    spans = []
    for leg in legs:
        middle, half = 0.5 * (leg.start + leg.end), 0.5 * (leg.end - leg.start) * rng.uniform(0.3, 1.0)
        spans.append((middle - half, middle + half, share))
    day.kits[name].disturbance.shade_up = spans
    return finish(
        day, name, "tree or building over the upper head", size=share, unit="share of sky", legs=legs
    )


def head_tilted(day: Day, rng: np.random.Generator, size: float | None) -> dict:
    """Add a constant levelling error; size: degrees."""
    name = pick_set(day, rng)
    tilt = drawn(rng, size, 4.0, 10.0)
    way = rng.uniform(0.0, 2 * np.pi)
    day.kits[name].disturbance.tilt = (float(tilt * np.cos(way)), float(tilt * np.sin(way)))
    return finish(day, name, "constant levelling error", size=tilt, unit="degrees")


def swing_strong(day: Day, rng: np.random.Generator, size: float | None) -> dict:
    """Let the head swing; size: degrees, root mean square."""
    name = pick_set(day, rng)
    wanted = drawn(rng, size, 7.0, 14.0)
    day.kits[name].disturbance.swing = wanted / day.kits[name].carrier.swing
    return finish(day, name, "head swings", size=wanted, unit="degrees rms")


def dome_wet(day: Day, rng: np.random.Generator, size: float | None) -> dict:
    """Wet the domes with dew or rain; size: share of the beam lost."""
    name = pick_set(day, rng)
    share = drawn(rng, size, 0.08, 0.35)
    legs = pick_legs(day, name, rng, float(rng.uniform(0.2, 0.7)))
    day.kits[name].disturbance.wet = [(legs[0].start - 60.0, legs[-1].end + 60.0, share)]
    return finish(day, name, "wet upper domes", size=share, unit="share of beam", legs=legs)


def thermal_shock(day: Day, rng: np.random.Generator, size: float | None) -> dict:
    """Bring the instrument fresh out of a warm car; size: K over the air."""
    name = pick_set(day, rng)
    extra = drawn(rng, size, 10.0, 22.0)
    lasting = float(log_uniform(rng, 400.0, 1200.0))
    day.kits[name].disturbance.shock = (extra, lasting)
    return finish(day, name, "instrument out of a warm car", size=extra, unit="K")


CODES: dict[str, Callable] = {
    "cover-left-on": cover_left_on,
    "cover-left-on/one": cover_left_on_one,
    "head-inverted": head_inverted,
    "own-shade": own_shade,
    "upward-shaded": upward_shaded,
    "head-tilted": head_tilted,
    "swing-strong": swing_strong,
    "dome-wet": dome_wet,
    "thermal-shock": thermal_shock,
}
