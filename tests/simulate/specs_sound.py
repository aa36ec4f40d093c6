"""Campaigns drawn at random in which nobody made a mistake."""

from __future__ import annotations

import numpy as np

from .spec import Site, Sky, Spec, field, rounds, two_sets
from .specs_sets import variant


def sound(seed: int, kind: str | None = None) -> Spec:
    """A campaign drawn at random in which nobody made a mistake: any sky, schedule, season, sets; true
    grounds off the tables.
    """
    rng = np.random.default_rng([seed, 2])
    kind = kind or str(rng.choice(["clear", "broken", "overcast"]))
    winter, night = rng.random() < 0.15, rng.random() < 0.15
    site = Site(
        "Practice ground",
        round(float(rng.uniform(40, 56)) * float(rng.choice([1, 1, 1, -0.8])), 2),
        round(float(rng.uniform(5, 20)), 2),
        round(float(rng.uniform(0, 900))),
        "Europe/Ljubljana",
    )
    classes = ["short_grass", "tall_crop", "stubble", "bare_dry_soil", "bare_wet_soil", "gravel", "paving"]
    chosen = ["snow"] if winter else list(rng.choice(classes, size=int(rng.integers(2, 5)), replace=False))
    grounds = {
        c: {
            "emissivity": float(np.clip(field("", c).emissivity + rng.uniform(-0.01, 0.01), 0.9, 0.99)),
            "albedo": field("", c).albedo * float(rng.uniform(0.95, 1.05)),
        }
        for c in chosen
    }
    fields = tuple(
        field(
            f"Field {i + 1}",
            str(c),
            length=float(rng.integers(60, 121)),
            heading=float(rng.integers(0, 4)) * 90 + 80,
            patch_size=float(rng.uniform(0, 5)),
            sky_lag=float(rng.uniform(0, 30)),
            **grounds[c],
        )
        for i, c in enumerate(chosen)
    )
    sets = (two_sets(), two_sets()[:1], tuple(variant(int(i)) for i in rng.choice(9, 2, replace=False)))[
        int(rng.integers(3))
    ]
    month = (
        (1 if winter else int(rng.integers(4, 10)))
        if site.latitude > 0
        else (7 if winter else int(rng.choice([11, 12, 1, 2])))
    )
    hour = 22 if night else int(rng.integers(9, 15))
    # Warm enough for the season, and moist enough for the air: between 40 and 75 % of saturation.
    air = float(rng.uniform(-8, -2) if winter else rng.uniform(10, 24))
    vapour = float(rng.uniform(0.4, 0.75)) * 6.11 * float(np.exp(17.6 * air / (243 + air)))
    visits = rounds(
        sets,
        fields,
        passes=int(rng.integers(1, 4)),
        speed=round(float(rng.uniform(0.7, 1.0)), 2),
        between=float(rng.integers(120, 420)),
    )
    return Spec(
        f"Sound campaign {seed}",
        f"2025-{month:02d}-{int(rng.integers(1, 25)):02d} {hour}:{int(rng.integers(0, 60)):02d}:00",
        fields,
        sets,
        visits,
        site=site,
        seed=seed,
        sky=Sky(
            kind,
            transmittance=float(rng.uniform(0.70, 0.78)),
            cloud_share=float(rng.uniform(0.1, 0.6)),
            cloud_length=float(rng.uniform(40, 300)),
            air_temperature=air,
            air_amplitude=3.0,
            vapour_pressure=vapour,
            wind_speed=float(rng.uniform(1, 5)),
        ),
    )
