"""Common sky and energy balance of a field or a surface: sections 6.5, 7.1 to 7.8 and 8.4 of the method."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from independent.errors import Draws, Sizes
from independent.recorded import Segment

Values = dict[str, np.ndarray]


@dataclass
class Sky:
    """The campaign's mean incoming terms, and how far surfaces had not adjusted to the sun, W m-2."""

    sw: np.ndarray
    lw: np.ndarray
    unsettled: float
    elevation: float


def campaign_sky(walks: list[Segment], each: dict[str, Values], elevation: float) -> Sky:
    weight = np.array([float(one.used) for one in walks])
    weight = weight / weight.sum()
    sw, lw = (
        np.asarray(sum(w * each[one.name][c] for w, one in zip(weight, walks, strict=True)))
        for c in ("sw_in", "lw_in")
    )
    off = [one.memory - one.mean["sw_in"] for one in walks]
    return Sky(sw, lw, float(np.sqrt(np.mean(np.square(off)))), elevation)


def memory(group: list[Segment], over: Sky, sizes: Sizes, of: Draws) -> np.ndarray:
    """Error m of a group by the sun that it had adjusted to, W m-2 of absorbed sun (8.6e)."""
    surface = group[0].surface
    response = of.of_range(sizes.of_class(surface, "sky_response"), "sky_response", surface)
    times = sorted((one.start, one.end) for one in group)
    visits, until = 0, -np.inf
    for start, end in times:
        visits += start - until > 600
        until = max(until, end)
    name = (surface, *sorted({one.field for one in group}))
    return response * over.unsettled / np.sqrt(visits) * of.normal("sky_memory", *name)


def common_sky(group: list[Segment], total: Values, over: Sky, sizes: Sizes, of: Draws) -> np.ndarray:
    """Net radiation under the campaign's mean sky, (14) and (8.4b)."""
    surface = group[0].surface
    response, emissivity = (
        of.of_range(sizes.of_class(surface, name), name, surface) for name in ("sky_response", "emissivity")
    )
    dark = 1 - total["albedo"]
    moved = dark * (1 - response) * (over.sw - total["sw_in"]) + emissivity * (over.lw - total["lw_in"])
    return total["net_radiation"] + moved + dark * memory(group, over, sizes, of)


def split_of(air: float, elevation: float) -> float:
    """Δ / (Δ + γ) by (7.2a)."""
    pressure = 101.3 * ((293 - 0.0065 * elevation) / 293) ** 5.26
    vapour = 0.6108 * np.exp(17.27 * air / (air + 237.3))
    slope = 4098 * vapour / (air + 237.3) ** 2
    return float(slope / (slope + 0.665e-3 * pressure))


def by_hand(one: Segment, share: float) -> float:
    """Available energy of a visit by the textbook formulas, W m-2: next to its value."""
    mean = one.mean
    return (1 - share) * (mean["sw_in"] - mean["sw_out"] + mean["lw_in"] - mean["lw_out"])


def estimated(
    group: list[Segment], each: dict[str, Values], total: Values, over: Sky, *, sizes: Sizes, of: Draws
) -> Values:
    """Ground, latent and sensible heat, evaporation and Bowen ratio: means of the visits by day (7.8a)."""
    surface = group[0].surface

    def row(name: str) -> np.ndarray:
        return of.of_range(sizes.of_class(surface, name), name, surface)

    share = row("ground_heat_fraction_day")
    if (surface, "leaf_area_index") in sizes.classes:
        share = share + of.of_range((0.0, *sizes.ends("ground_heat_storage")), "storage", surface)
    hour = of.between(sizes.ends("ground_heat_hour"), "hour", surface)
    weight = np.array([float(one.used) for one in group])
    weight = weight / weight.sum()
    net = [
        each[one.name]["sw_in"]
        - each[one.name]["sw_out"]
        + each[one.name]["lw_in"]
        - each[one.name]["lw_out"]
        for one in group
    ]
    more = total["net_radiation"] - sum(w * one for w, one in zip(weight, net, strict=True))
    latent = evaporation = np.zeros(1)
    for w, one, radiation in zip(weight, group, net, strict=True):
        available = (1 - share) * (radiation + more) - hour
        if (surface, "priestley_taylor_coefficient") in sizes.classes:
            part = row("priestley_taylor_coefficient") * split_of(one.air, over.elevation) * available
        elif (surface, "evaporative_fraction") in sizes.classes:
            part = row("evaporative_fraction") * available
        else:
            dew = of.of_range((0.0, *sizes.ends("latent_heat_none")), "none", surface)
            part = dew * by_hand(one, sizes.of_class(surface, "ground_heat_fraction_day")[0])
        latent = latent + w * part
        evaporation = evaporation + w * 3600 * part / ((2.501 - 2.361e-3 * one.air) * 1e6)
    ground = share * total["net_radiation"] + hour
    sensible = total["net_radiation"] - ground - latent
    nothing = np.full(len(sensible), np.nan)  # from paving nothing evaporates
    bowen = np.divide(sensible, latent, out=nothing, where=latent != 0)
    return {
        "ground_heat": ground,
        "latent_heat": latent,
        "sensible_heat": sensible,
        "evaporation": evaporation,
        "bowen_ratio": bowen,
    }
