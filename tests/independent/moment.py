"""Differences of surfaces at a common moment: sections 9.3 to 9.5 of docs/method.md."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from independent import sky
from independent.balance import Sky, memory
from independent.errors import Draws, Sizes
from independent.model import derived, group_ground, temperature
from independent.recorded import KELVIN, Segment

Values = dict[str, np.ndarray]
MOMENTS = 9
MEMORY_LEFT = 0.5
"""Share of the sun's memory that (6.8b) leaves unknown."""
COMPARED = ("albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky")


@dataclass
class Reference:
    """The sky and air to which a pair's segments are moved."""

    sw: np.ndarray
    lw: np.ndarray
    air: float
    height: float
    diffuse: np.ndarray
    facing: np.ndarray


def facing(one: Segment, diffuse: np.ndarray) -> np.ndarray:
    """How the sun stands to a slope and to rows, X of (9.4e): four rows."""
    turn, beam = np.radians(one.azimuth), 1 - diffuse
    low = beam / np.tan(np.radians(max(one.elevation, 10.0)))
    return np.array(
        [low * np.sin(turn), low * np.cos(turn), beam * np.cos(2 * turn), beam * np.sin(2 * turn)]
    )


def lie(one: Segment, sizes: Sizes, of: Draws) -> list[np.ndarray]:
    """By what each of them acts: slope towards east and north, and rows."""
    term, degree = "slope" if one.falls is None else "slope_noted", np.radians(1.0)
    steep, way = np.radians(one.falls or (0.0, 0.0))
    known = (np.tan(steep) * np.sin(way), np.tan(steep) * np.cos(way), 0.0, 0.0)
    found = [degree * of.between(sizes.ends(term), term, one.field, side) for side in ("east", "north")]
    if one.surface in sizes.covered:
        found += [of.between(sizes.ends("rows"), "rows", one.field, part) for part in ("cos", "sin")]
    else:
        found += [np.zeros(1), np.zeros(1)]
    return [there + error for there, error in zip(known, found, strict=True)]


def turned(x: np.ndarray, by: list[np.ndarray]) -> np.ndarray:
    """g of (9.4e)."""
    return np.asarray(1 + sum(part * own for part, own in zip(x, by, strict=True)))


def reference(members: list[Segment], each: dict[str, Values]) -> Reference:
    """Mean by recorded time over segments."""
    weight = np.array([float(one.used) for one in members])
    weight = weight / weight.sum()
    names = [one.name for one in members]
    high = [np.sin(np.radians(one.elevation)) for one in members]
    return Reference(
        sw=np.asarray(sum(w * each[n]["sw_in"] for w, n in zip(weight, names, strict=True))),
        lw=np.asarray(sum(w * each[n]["lw_in"] for w, n in zip(weight, names, strict=True))),
        air=float(weight @ np.array([one.air for one in members])),
        height=float(weight @ np.array(high)),
        diffuse=np.asarray(sum(w * each[n]["diffuse"] for w, n in zip(weight, names, strict=True))),
        facing=np.asarray(
            sum(w * facing(one, each[one.name]["diffuse"]) for w, one in zip(weight, members, strict=True))
        ),
    )


def shape(height: float, diffuse: np.ndarray, strength: np.ndarray) -> np.ndarray:
    """Albedo against the sun's height, f of (9.4a)."""
    beam = (1 + strength) / (1 + 2 * strength * max(height, 0.05))
    return (1 - diffuse) * beam + diffuse


def moved(one: Segment, found: Values, to: Reference, sizes: Sizes, of: Draws) -> Values:
    """A segment's albedo, surface temperature and net radiation under the reference, (9.4a) to (9.4d)."""

    def row(name: str) -> np.ndarray:
        return of.of_range(sizes.of_class(one.surface, name), name, one.surface)

    emissivity, strength = row("emissivity"), row("sun_height_strength")
    albedo = found["sw_out"] / found["sw_in"]
    height = np.sin(np.radians(one.elevation))
    ratio = shape(to.height, to.diffuse, strength) / shape(height, found["diffuse"], strength)
    by = lie(one, sizes, of)
    ratio = ratio * turned(to.facing, by) / turned(facing(one, found["diffuse"]), by)
    kelvin = temperature(found, emissivity)
    per_kelvin = 4 * emissivity * sky.SIGMA * kelvin**3
    memory = one.memory * found["sw_in"] / one.mean["sw_in"]
    lit, sky_change = to.sw - memory, to.lw - found["lw_in"]
    more = row("sky_response") * ((1 - albedo) * lit + emissivity * sky_change)
    more = more + row("air_response") * per_kelvin * (to.air - one.air)
    net = (1 - albedo * ratio) * to.sw + to.lw - found["lw_out"] - (1 - emissivity) * sky_change - more
    return {
        "albedo": albedo * ratio,
        "surface_temperature": kelvin + more / per_kelvin - KELVIN,
        "net_radiation": net,
    }


def kernel(row: dict[str, str], part: str, one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """K of (9.5a) between two sets of times in h."""
    a, b = float(row[f"{part}_slope"]), float(row[f"{part}_walk"])
    return a**2 * np.outer(one, two) + b**2 * np.minimum.outer(one, two)


def contrast(pair: tuple[list[Segment], list[Segment]], quantity: str, sizes: Sizes) -> tuple:
    """Weights of the segments in the difference, and u of the course between the visits (9.5b)."""
    row = sizes.course[quantity]
    members = [*pair[0], *pair[1]]
    first = min(one.middle for one in members)
    hour = np.array([one.middle - first for one in members]) / 3600
    sign = np.array([1.0] * len(pair[0]) + [-1.0] * len(pair[1]))
    live = np.array([sizes.liveliness[one.surface] for one in members])
    same = sign[:, None] == sign[None, :]
    visit = np.array([one.visit for one in members])
    inside = kernel(row, "common", hour, hour) + float(row["day"]) ** 2
    inside = inside + same * np.outer(live, live) * (kernel(row, "own", hour, hour) + float(row["day"]) ** 2)
    inside = inside + float(row["visit"]) ** 2 * (visit[:, None] == visit[None, :])
    inside = inside + float(row["segment"]) ** 2 * np.eye(len(members))
    moments = np.linspace(0, hour.max(), MOMENTS)
    own = kernel(row, "own", hour, moments).mean(axis=1) + float(row["day"]) ** 2
    to_target = sign * live**2 * own
    of_target = kernel(row, "own", moments, moments).mean() + float(row["day"]) ** 2
    variance = (live[0] ** 2 + live[-1] ** 2) * of_target
    places = sorted({(one.surface, one.field) for one in members})
    basis = np.array(
        [[(one.surface, one.field) == place for place in places] for one in members], dtype=float
    )
    time = np.array([float(one.used) for one in members])
    total = np.where(sign > 0, time[sign > 0].sum(), time[sign < 0].sum())
    shares = (sign * time / total) @ basis
    left = np.block([[inside, basis], [basis.T, np.zeros((len(places), len(places)))]])
    weights = np.linalg.solve(left, np.concatenate([to_target, shares]))[: len(members)]
    rest = variance - 2 * weights @ to_target + weights @ inside @ weights
    return weights, float(np.sqrt(max(rest, 0.0)))


def surface_part(group: list[Segment], each: dict[str, Values], over: Sky, sizes: Sizes, of: Draws) -> Values:
    """What the ground not walked, and half of the sun's memory, add to a surface's quantities."""
    weight = np.array([float(one.used) for one in group])
    weight = weight / weight.sum()
    mean = {
        c: np.asarray(sum(w * each[one.name][c] for w, one in zip(weight, group, strict=True)))
        for c in ("sw_in", "sw_out", "lw_in", "lw_out")
    }
    surface = group[0].surface
    ground = group_ground(group, ("surface", surface), of)
    without = derived(mean, surface, sizes, of)
    having = derived(mean | {c: mean[c] + ground[c] for c in ground}, surface, sizes, of)
    found = {quantity: having[quantity] - without[quantity] for quantity in COMPARED[:3]}
    rest = MEMORY_LEFT * (1 - without["albedo"]) * memory(group, over, sizes, of)
    emissivity = of.of_range(sizes.of_class(surface, "emissivity"), "emissivity", surface)
    per_kelvin = 4 * emissivity * sky.SIGMA * (without["surface_temperature"] + KELVIN) ** 3
    found["net_radiation"] = found["net_radiation"] + rest
    found["surface_temperature"] = found["surface_temperature"] - rest / per_kelvin
    return found


def differences(
    walks: list[Segment], each: dict[str, Values], over: Sky, sizes: Sizes, of: Draws
) -> dict[tuple[str, str, str], np.ndarray]:
    """Difference of every pair of surfaces in each draw, by quantity."""
    surfaces = sorted({one.surface for one in walks})
    members = {name: [one for one in walks if one.surface == name] for name in surfaces}
    parts = {name: surface_part(members[name], each, over, sizes, of) for name in surfaces}
    whole = reference(walks, each)
    found = {}
    for i, first in enumerate(surfaces):
        for second in surfaces[i + 1 :]:
            pair = members[first], members[second]
            own = reference([*pair[0], *pair[1]], each)
            for to, common in ((own, ""), (whole, "_common_sky")):
                moves = [moved(one, each[one.name], to, sizes, of) for one in [*pair[0], *pair[1]]]
                for basic in COMPARED[2:3] if common else COMPARED[:3]:
                    weights, course = contrast(pair, basic, sizes)
                    total = course * of.normal("course", first, second, basic)
                    total = total + parts[first][basic] - parts[second][basic]
                    for weight, move in zip(weights, moves, strict=True):
                        total = total + weight * move[basic]
                    found[first, second, basic + common] = total
    return found
