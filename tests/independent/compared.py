"""The two computations side by side: the tables of a run, and this one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from columns import ESTIMATES, SEVEN
from independent import balance, model, moment
from independent.errors import Draws, Middles, Sizes
from independent.recorded import Campaign, Segment, read, rows, segments

KEYS = {"segments": "segment", "fields": "field", "surfaces": "surface"}
BATCH = 10000
VALUE_WITHIN = 0.01
"""Of the half width; or one unit of the last digit printed."""
WIDTH_WITHIN = 0.05
"""Of the half width, for the half width itself."""

Key = tuple[str, str, str]


@dataclass
class Row:
    """One number of the report and of this computation, with the ends of both intervals."""

    table: str
    name: str
    quantity: str
    printed: tuple[float, float, float]
    own: tuple[float, float, float]
    digit: float

    @property
    def half(self) -> float:
        return (self.printed[2] - self.printed[1]) / 2

    @property
    def own_half(self) -> float:
        return (self.own[2] - self.own[1]) / 2

    @property
    def off(self) -> float:
        """Difference of the values over the half width."""
        return (self.own[0] - self.printed[0]) / self.half

    @property
    def ratio(self) -> float:
        return self.own_half / self.half

    @property
    def near(self) -> bool:
        """Whether the values agree."""
        return abs(self.own[0] - self.printed[0]) <= max(VALUE_WITHIN * self.half, self.digit)

    @property
    def agrees(self) -> bool:
        return self.near and abs(self.ratio - 1) <= WIDTH_WITHIN


def computed(campaign: Campaign, found: list[Segment], sizes: Sizes, of: Draws) -> dict[Key, np.ndarray]:
    """All numbers of the tables for one batch of errors."""
    facing = model.directional(found, sizes, of, campaign)
    each = {one.name: model.measured(campaign, one, facing[one.name], sizes, of) for one in found}
    walks = [one for one in found if one.activity in ("walk", "stand")]
    over = balance.campaign_sky(walks, each, campaign.told["site"]["elevation"])
    out: dict[Key, np.ndarray] = {}

    def keep(table: str, name: str, values: dict[str, np.ndarray]) -> None:
        out.update(
            {
                (table, name, quantity): values[quantity]
                for quantity in (*SEVEN, *ESTIMATES)
                if quantity in values
            }
        )

    for one in found:
        walked = model.of_whole_walk(one, each[one.name], of)
        keep("segments", one.name, model.derived(walked, one.surface, sizes, of))
    for table, key in (("fields", "field"), ("surfaces", "surface")):
        for name in sorted({getattr(one, key) for one in walks}):
            group = [one for one in walks if getattr(one, key) == name]
            total = model.derived(model.grouped(group, each, (key, name), of), group[0].surface, sizes, of)
            total["net_radiation_common_sky"] = balance.common_sky(group, total, over, sizes, of)
            keep(table, name, total | balance.estimated(group, each, total, over, sizes=sizes, of=of))
    for (first, second, quantity), values in moment.differences(walks, each, over, sizes, of).items():
        out["differences", f"{first} − {second}", quantity] = values
    return out


def intervals(folder: Path, config: Path, draws: int, seed: int = 1) -> dict[Key, tuple[float, float, float]]:
    """Value and ends of the 95 % interval of every number of a campaign folder."""
    campaign, sizes = read(folder, config / "layouts"), Sizes(config)
    found = segments(campaign)
    value = {key: float(one[0]) for key, one in computed(campaign, found, sizes, Middles()).items()}
    many = {key: np.empty(draws, dtype=np.float32) for key in value}
    for start in range(0, draws, BATCH):
        size = min(BATCH, draws - start)
        for key, one in computed(campaign, found, sizes, Draws(size, seed + start)).items():
            many[key][start : start + size] = one
    out = {}
    for key, one in many.items():
        low, high = np.quantile(one, (0.025, 0.975))
        out[key] = value[key], min(float(low), value[key]), max(float(high), value[key])
    return out


def digits(text: str) -> float:
    return 10.0 ** -len(text.partition(".")[2])


def printed(results: Path) -> Iterator[tuple[Key, tuple[float, float, float], float]]:
    """The numbers of a run's tables that have an interval."""
    for table, key in KEYS.items():
        for row in rows(results / f"{table}.csv"):
            for quantity in (*SEVEN, *ESTIMATES):
                text = [row.get(quantity + end, "") for end in ("", "_low", "_high")]
                if all(text) and float(text[2]) > float(text[1]):
                    yield (
                        (table, row[key], quantity),
                        (float(text[0]), float(text[1]), float(text[2])),
                        digits(text[0]),
                    )
    for row in rows(results / "differences.csv"):
        text = [row["difference" + end] for end in ("", "_low", "_high")]
        if all(text):
            name = f"{row['surface_a']} − {row['surface_b']}"
            yield (
                ("differences", name, row["quantity"]),
                (float(text[0]), float(text[1]), float(text[2])),
                digits(text[0]),
            )


def compared(folder: Path, config: Path, results: Path, draws: int) -> list[Row]:
    own = intervals(folder, config, draws)
    return [Row(*key, numbers, own[key], digit) for key, numbers, digit in printed(results)]
