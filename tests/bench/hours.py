"""A campaign of two sets and four hours at one sample a second.

The demo's fields four times as long, walked four times, the storage on all the while.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

from simulate.campaign import simulate
from simulate.specs import demo, rounds


def written(folder: Path, seed: int = 1) -> Path:
    """Write the campaign; `seed` makes its sky and its errors others."""
    spec = demo()
    fields = tuple(dataclasses.replace(field, length=4.4 * field.length) for field in spec.fields)
    visits = rounds(spec.sets, fields, passes=4, speed=spec.carrying.walking_speed, between=60.0)
    simulate(
        spec.with_(fields=fields, visits=visits, seed=seed, workflow_seed=seed, start="2025-08-20 10:30:00")
    ).write(folder)
    return folder
