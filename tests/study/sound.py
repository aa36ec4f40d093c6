"""Simulated campaigns in which nobody made a mistake."""

from __future__ import annotations

import dataclasses

import numpy as np

from simulate import specs, specs_sets
from simulate.spec import Site, Spec, Visit, field, walks
from study.trial import SKIES


def _fields(rng: np.random.Generator, count: int) -> tuple:
    classes = ("short_grass", "tall_crop", "stubble", "bare_dry_soil", "bare_wet_soil", "gravel", "paving")
    return tuple(
        field(
            f"Field {i + 1}",
            str(rng.choice(classes)),
            length=float(rng.integers(60, 121)),
            heading=float(rng.integers(0, 360)),
            sky_lag=float(rng.uniform(0, 30)),
        )
        for i in range(count)
    )


def many_fields(seed: int) -> Spec:
    """Five to ten fields, of some classes several."""
    rng, spec = np.random.default_rng([seed, 5]), specs.sound(seed)
    fields = _fields(rng, int(rng.integers(5, 11)))
    air = max(spec.sky.air_temperature, 10.0)
    return spec.with_(
        fields=fields,
        visits=specs.rounds(spec.sets, fields),
        sky=dataclasses.replace(spec.sky, air_temperature=air),
    )


def high_mountains(seed: int) -> Spec:
    """Pastures and scree between 1800 and 3800 m: thin air, a strong sun, a cold sky."""
    rng = np.random.default_rng([seed, 6])
    height = float(rng.integers(1800, 3800))
    air = float(22.0 - 0.0055 * height + rng.uniform(-3, 3))
    fields = (
        field("Alp", "short_grass"),
        field("Scree", "gravel"),
        *((field("Firn", "snow"),) if height > 2500 else ()),
    )
    vapour = float(rng.uniform(0.3, 0.6)) * 6.11 * float(np.exp(17.6 * air / (243 + air)))
    spec = specs.sound(seed)
    return spec.with_(
        site=Site(
            "Upper alp", float(rng.uniform(42, 48)), float(rng.uniform(6, 14)), height, "Europe/Ljubljana"
        ),
        fields=fields,
        start=f"2025-{int(rng.integers(6, 9)):02d}-{int(rng.integers(1, 25)):02d} "
        f"{int(rng.integers(9, 15))}:10:00",
        visits=specs.rounds(spec.sets, fields),
        sky=dataclasses.replace(
            spec.sky,
            transmittance=float(rng.uniform(0.74, 0.80)),
            air_temperature=air,
            vapour_pressure=vapour,
        ),
    )


def tropics(seed: int) -> Spec:
    """Between the tropics, the sun near the zenith, warm and moist air."""
    rng = np.random.default_rng([seed, 7])
    air = float(rng.uniform(24, 32))
    vapour = float(rng.uniform(0.45, 0.75)) * 6.11 * float(np.exp(17.6 * air / (243 + air)))
    spec, fields = specs.sound(seed), _fields(rng, int(rng.integers(2, 5)))
    return spec.with_(
        site=Site(
            "Lowland plots",
            float(rng.uniform(-22, 22)),
            float(rng.uniform(5, 20)),
            float(rng.integers(0, 1200)),
            "Africa/Lagos",
        ),
        fields=fields,
        start=f"2025-{int(rng.integers(1, 13)):02d}-{int(rng.integers(1, 25)):02d} "
        f"{int(rng.integers(8, 16)):02d}:10:00",
        visits=specs.rounds(spec.sets, fields),
        sky=dataclasses.replace(
            spec.sky,
            transmittance=float(rng.uniform(0.70, 0.76)),
            air_temperature=air,
            vapour_pressure=vapour,
        ),
    )


def irregular(seed: int) -> Spec:
    """No timetable: fields in any order, one to four passes, pauses of any length, a stand here and there."""
    rng, spec = np.random.default_rng([seed, 8]), specs.sound(seed)
    visits, ends = [], []
    for i, s in enumerate(spec.sets):
        now = 120.0 + 40.0 * i
        for k in rng.permutation(len(spec.fields)):
            some, now = walks(
                s.name,
                spec.fields[k],
                now,
                int(rng.integers(1, 5)),
                round(float(rng.uniform(0.6, 1.1)), 2),
                transect=1 + i % 2,
            )
            visits += some
            if rng.random() < 0.3:
                visits.append(
                    Visit(
                        s.name, now + 30.0, spec.fields[k].name, "stand", lasts=float(rng.integers(60, 240))
                    )
                )
                now += 300.0
            now += float(rng.integers(60, 1500))
        ends.append(now)
    checks = [
        Visit(s.name, t + 5.0 * i, activity="clock_check")
        for i, s in enumerate(spec.sets)
        for t in (0.0, max(ends))
    ]
    return spec.with_(visits=(*visits, *checks))


def more_sets(seed: int) -> Spec:
    """Three or four sets, unlike each other in units, clocks and files."""
    rng, spec = np.random.default_rng([seed, 9]), specs.sound(seed)
    sets = tuple(specs_sets.variant(int(i)) for i in rng.choice(9, 3 + seed // 10 % 2, replace=False))
    return spec.with_(sets=sets, visits=specs.rounds(sets, spec.fields))


def special(seed: int) -> Spec:
    """Of a kind of its own: polar day and night, the south, over midnight, two days, a station, the change
    of clocks, nine sets, ten records a second."""
    kinds = (
        specs.polar_day,
        specs.polar_night,
        specs.southern,
        specs.over_midnight,
        specs.two_days,
        specs.clock_change,
        specs.inline_layout,
        lambda **c: specs.many_sets(9, **c),
        lambda **c: specs.fast(True, **c),
        lambda **c: specs.station(interval=60.0, **c),
    )
    make = kinds[seed // 10 % len(kinds)]
    return make(seed=1000 + seed, sky=dataclasses.replace(make().sky, kind=SKIES[seed // 100 % 3]))


KINDS = (special, many_fields, high_mountains, tropics, irregular, more_sets)


def without_mistake(number: int) -> tuple[str, Spec]:
    """One of many campaigns in which nobody made a mistake, with its kind in words: six in ten of the kinds
    above, the others drawn at random."""
    if number % 10 < len(KINDS):
        make = KINDS[number % 10]
        spec = make(number)
        return make.__name__.replace("_", " "), spec
    return "drawn at random", specs.sound(number)
