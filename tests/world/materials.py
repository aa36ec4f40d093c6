"""Surface classes: ranges from which each field's ground is drawn. Sources are in README.md."""

from dataclasses import dataclass, replace

import numpy as np

from .seeds import stream

INFINITE_RESISTANCE = 1e9  # s m-1


@dataclass(frozen=True)
class Ranges:
    """Low and high of each property of a class."""

    albedo: tuple[float, float]
    emissivity: tuple[float, float]
    roughness: tuple[float, float]  # m
    height: tuple[float, float]  # m, canopy
    contact: tuple[float, float]  # W m-2 K-1, skin to soil
    heat_store: tuple[float, float]  # J m-2 K-1 of the skin
    conductivity: tuple[float, float]  # W m-1 K-1
    capacity: tuple[float, float]  # MJ m-3 K-1
    resistance: tuple[float, float]  # s m-1, to vapour, dry
    film: tuple[float, float]  # mm, that the surface can hold
    wetness: tuple[float, float]  # at midnight, share of the film
    sun_height: tuple[float, float]  # d of Briegleb et al. 1986
    darkening: float  # share of albedo lost when wet
    kind: str = "ground"  # ground, canopy, water or snow


CLASSES: dict[str, Ranges] = {
    "short_grass": Ranges(
        (0.18, 0.26),
        (0.955, 0.985),
        (0.004, 0.02),
        (0.03, 0.15),
        (7, 20),
        (2e3, 6e3),
        (0.6, 1.4),
        (1.8, 2.7),
        (50, 200),
        (0.15, 0.35),
        (0.0, 0.8),
        (0.25, 0.45),
        0.05,
        "canopy",
    ),
    "tall_crop": Ranges(
        (0.17, 0.25),
        (0.96, 0.99),
        (0.03, 0.12),
        (0.3, 1.1),
        (4, 12),
        (6e3, 2e4),
        (0.6, 1.5),
        (1.8, 2.8),
        (35, 130),
        (0.25, 0.6),
        (0.0, 0.8),
        (0.3, 0.5),
        0.04,
        "canopy",
    ),
    "bare_dry_soil": Ranges(
        (0.20, 0.38),
        (0.90, 0.96),
        (0.001, 0.008),
        (0, 0),
        (60, 120),
        (1e3, 3e3),
        (0.25, 0.6),
        (1.1, 1.6),
        (700, 3000),
        (0.2, 0.6),
        (0.0, 0.1),
        (0.08, 0.2),
        0.4,
    ),
    "bare_wet_soil": Ranges(
        (0.14, 0.24),
        (0.94, 0.98),
        (0.001, 0.008),
        (0, 0),
        (80, 150),
        (1e3, 4e3),
        (1.0, 2.1),
        (2.2, 3.2),
        (250, 900),
        (2.0, 6.0),
        (0.75, 1.0),
        (0.08, 0.2),
        0.45,
    ),
    "stubble": Ranges(
        (0.20, 0.32),
        (0.94, 0.975),
        (0.006, 0.03),
        (0.05, 0.2),
        (6, 16),
        (1.5e3, 4e3),
        (0.4, 0.9),
        (1.2, 1.9),
        (350, 1500),
        (0.1, 0.3),
        (0.0, 0.3),
        (0.1, 0.3),
        0.15,
        "canopy",
    ),
    "paving": Ranges(
        (0.09, 0.27),
        (0.90, 0.96),
        (0.0008, 0.004),
        (0, 0),
        (150, 250),
        (1e3, 2e3),
        (0.8, 1.7),
        (1.9, 2.3),
        (INFINITE_RESISTANCE, INFINITE_RESISTANCE * 1.01),
        (0.2, 0.6),
        (0.0, 0.05),
        (0.05, 0.2),
        0.4,
    ),
    "gravel": Ranges(
        (0.15, 0.32),
        (0.90, 0.955),
        (0.002, 0.008),
        (0, 0),
        (40, 90),
        (2e3, 5e3),
        (0.35, 1.0),
        (1.4, 1.9),
        (1500, 5000),
        (0.2, 0.6),
        (0.0, 0.1),
        (0.08, 0.25),
        0.35,
    ),
    "shallow_water": Ranges(
        (0.05, 0.09),
        (0.955, 0.985),
        (0.0002, 0.001),
        (0, 0),
        (30, 60),
        (4e5, 1.7e6),
        (0.8, 1.6),
        (2.2, 3.0),
        (0, 1),
        (1.0, 1.1),
        (1, 1.01),
        (0, 0),
        0.0,
        "water",
    ),
    "deep_water": Ranges(
        (0.04, 0.07),
        (0.955, 0.985),
        (0.0002, 0.001),
        (0, 0),
        (20, 40),
        (8e6, 2.5e7),
        (0.6, 0.7),
        (4.1, 4.2),
        (0, 1),
        (1.0, 1.1),
        (1, 1.01),
        (0, 0),
        0.0,
        "water",
    ),
    "snow": Ranges(
        (0.60, 0.88),
        (0.965, 0.995),
        (0.0004, 0.002),
        (0, 0),
        (8, 25),
        (2e3, 6e3),
        (0.10, 0.40),
        (0.35, 0.9),
        (0, 1),
        (5.0, 10.0),
        (1, 1.01),
        (0.05, 0.12),
        0.0,
        "snow",
    ),
}
HEDGE = "tall_crop"  # what a hedge at an edge is made of


@dataclass(frozen=True)
class Material:
    """Ground of one facet: numbers, as Ranges, plus the direction of its rows."""

    surface: str
    kind: str
    albedo: float
    emissivity: float
    roughness: float
    height: float
    contact: float
    heat_store: float
    conductivity: float
    capacity: float  # J m-3 K-1
    resistance: float
    film: float
    wetness: float
    sun_height: float
    darkening: float
    rows: float  # degrees from north
    row_strength: float  # relative change of the direct albedo along and across rows
    backscatter: float  # relative gain of reflected light seen with the sun behind


def draw_material(seed: int, surface: str, *names: object) -> Material:
    """Draw the ground of a class."""
    rng = stream(seed, "material", surface, *names)
    ranges = CLASSES[surface]

    def pick(pair: tuple[float, float]) -> float:
        return float(rng.uniform(*pair))

    canopy = ranges.kind == "canopy"
    return Material(
        surface=surface,
        kind=ranges.kind,
        albedo=pick(ranges.albedo),
        emissivity=pick(ranges.emissivity),
        roughness=pick(ranges.roughness),
        height=pick(ranges.height),
        contact=pick(ranges.contact),
        heat_store=pick(ranges.heat_store),
        conductivity=pick(ranges.conductivity),
        capacity=pick(ranges.capacity) * 1e6,
        resistance=pick(ranges.resistance),
        film=pick(ranges.film),
        wetness=min(pick(ranges.wetness), 1.0),
        sun_height=pick(ranges.sun_height),
        darkening=ranges.darkening,
        rows=pick((0.0, 180.0)),
        row_strength=pick((0.0, 0.10)) if canopy else 0.0,
        backscatter=pick((0.1, 0.4)) if canopy else pick((0.0, 0.2)),
    )


def variant(seed: int, base: Material, *names: object) -> Material:
    """Return ground of a patch in a field: drier or wetter, lighter or darker than its surroundings."""
    rng = stream(seed, "variant", *names)
    lighter = float(np.exp(rng.normal(0.0, 0.10 if base.kind != "water" else 0.03)))
    drier = float(np.exp(rng.normal(0.0, 0.5)))
    limits = CLASSES[base.surface].emissivity
    emissivity = float(
        np.clip(base.emissivity + rng.normal(0.0, 0.004), limits[0] - 0.01, min(limits[1] + 0.005, 0.995))
    )
    return replace(
        base,
        albedo=min(base.albedo * lighter, 0.92),
        emissivity=emissivity,
        resistance=base.resistance * drier,
        wetness=float(np.clip(base.wetness / drier, 0.0, 1.0))
        if base.kind in ("ground", "canopy")
        else base.wetness,
        conductivity=base.conductivity * float(np.exp(rng.normal(0.0, 0.12))),
        contact=base.contact * float(np.exp(rng.normal(0.0, 0.12))),
        roughness=base.roughness * float(np.exp(rng.normal(0.0, 0.2))),
    )
