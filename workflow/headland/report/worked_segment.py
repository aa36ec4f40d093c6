"""One number, all the way, second half: a segment from its samples to its energy balance, and its surface's
mean.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.base.groups import counted_segments
from headland.physics import evaporation, geometry, heat, longwave, radiation
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.measured_forms import GROUND, SPLITS
from headland.report.wording import number
from headland.report.worked import net_words, row, title

COMMON = "net_radiation_common_sky"


def of_segment(
    samples: pd.DataFrame,
    excluded,
    mean: Mapping,
    entry: Mapping[str, Mapping],
    *,
    group: Mapping | None,
    sky: tuple[float, float],
) -> list[dict]:
    """One segment from its samples to its energy balance.

    Parameters
    ----------
    samples : the segment's samples of step 5
    excluded : which of them are not used
    mean : its row of step 6
    entry : properties of its surface class
    group : its row of step 7's visits; None where it has none
    sky : shortwave and longwave from above of the common sky, W m-2
    """
    good = samples[~np.asarray(excluded, bool)]
    value = {name: good[name].to_numpy(float) for name in (*RADIATION, "solar_elevation")}
    rows = _counted(samples, good, mean)
    terms = {channel: float(np.mean(value[channel])) for channel in RADIATION}
    words = f"sum of {len(good)} values / {len(good)}"
    rows += [row("", f"{title(channel)}, mean", words, terms[channel]) for channel in RADIATION]
    albedo_rows, albedo = _albedo(value)
    rows += albedo_rows
    emissivity = entry["emissivity"]["value"]
    kelvin = float(longwave.surface_temperature(terms["lw_out"], terms["lw_in"], emissivity))
    working = (
        f"[({terms['lw_out']:.2f} − (1 − {emissivity:g}) × {terms['lw_in']:.2f}) / ({emissivity:g} "
        "σ)]^(1/4) − 273.15"
    )
    rows.append(
        row("summarise.surface_temperature", "surface temperature", working, kelvin - ZERO_CELSIUS, "degC")
    )
    net = float(radiation.net_radiation(**terms))
    rows.append(row("summarise.net_radiation", "net radiation", net_words(terms), net))
    rows += _under_common_sky(net, albedo, terms, entry, sky)
    return rows + (of_balance(net, group) if group is not None and not group["reason"] else [])


def _counted(samples: pd.DataFrame, good: pd.DataFrame, mean: Mapping) -> list[dict]:
    line = f"line {int(mean['notes_row'])} of the notes"
    rows = [row("", "samples stored in the noted interval", line, len(samples), "1")]
    if mean["speed"] > 0:
        guard, height = geometry.GUARD_RADIUS * mean["height"], mean["height"]
        working = f"{guard:.2f}² / ({guard:.2f}² + {height:.2f}²)"
        meaning = f"share of the view within the guard of {guard:.2f} m"
        rows.append(row("segment.view_within", meaning, working, geometry.view_within(guard, height), "1"))
    words = f"{len(samples)} − {len(samples) - len(good)} at the edges or flagged"
    return [*rows, row("", "samples that count", words, len(good), "1")]


def _albedo(value: Mapping[str, np.ndarray]) -> tuple[list[dict], float]:
    sunny = (value["solar_elevation"] > radiation.ALBEDO_ELEVATION) & (
        value["sw_in"] > radiation.ALBEDO_SW_IN
    )
    result = float(radiation.albedo(value["sw_in"][sunny], value["sw_out"][sunny]))
    if not math.isfinite(result):
        return [], result
    working = f"{np.sum(value['sw_out'][sunny]):.1f} / {np.sum(value['sw_in'][sunny]):.1f} (sums)"
    return [row("summarise.albedo", "albedo", working, result, "1")], result


def _under_common_sky(
    net: float, albedo: float, terms: Mapping[str, float], entry: Mapping, sky: tuple[float, float]
) -> list[dict]:
    emissivity, response = (entry[name]["value"] for name in ("emissivity", "sky_response"))
    sw_in, lw_in = terms["sw_in"], terms["lw_in"]
    common = radiation.net_common_sky(
        net,
        albedo,
        sw_in=sw_in,
        lw_in=lw_in,
        sw_ref=sky[0],
        lw_ref=sky[1],
        emissivity=emissivity,
        sky_response=response,
    )
    value = float(common)
    if not math.isfinite(value):
        return []
    working = (
        f"{number(net, 2)} + (1 − {number(albedo, 4)})(1 − {response:g})({sky[0]:.2f} − {sw_in:.2f}) "
        f"+ {emissivity:g} × ({sky[1]:.2f} − {lw_in:.2f})"
    )
    return [row(f"summarise.{COMMON}", "net radiation under the common sky", working, value)]


def of_surface(name: str, means: pd.DataFrame) -> list[dict]:
    """The mean of a surface over its segments, weighted by their samples. name: the surface's plain name.
    means: its segments of step 6.
    """
    counted = counted_segments(means)
    known = counted[np.isfinite(counted[COMMON])]
    if not len(known):
        return []
    weights = known["weight"].to_numpy(float)
    value = float(np.average(known[COMMON].to_numpy(float), weights=weights))
    shown = [number(one, 1) for one in known[COMMON]]
    listed = ", ".join(shown if len(shown) <= 8 else [*shown[:7], "…"])
    meaning = f"{name}: mean under the common sky of {len(known)} segments"
    return [row("", meaning, f"weighted by the samples used: {listed}", value)]


def of_balance(net: float, group: Mapping) -> list[dict]:
    """The energy balance of a net radiation, W m-2, with the fractions of a visit of step 7; what is not
    estimated has no row.
    """
    ground = heat.ground_heat(net, group["fraction"], group["offset"])
    offset = f" + {number(group['offset'], 2)}" if group["offset"] else ""
    working = f"{group['fraction']:.3f} × {number(net, 2)}{offset}"
    if group.get("method") in GROUND:
        rows = [row("balance.plate", "ground heat (measured)", "steps/7_balance/measured_fluxes.csv", ground)]
    else:
        rows = [row("balance.ground_heat", "ground heat (estimate)", working, ground)]
    split = heat.energy_balance(
        net,
        ground,
        split=group["split"],
        day=bool(group["day"]),
        celsius=group["air_temperature"],
        pressure=group["pressure"] / 10.0,
        coefficient=group["coefficient"],
        offset=float(group.get("latent_offset", 0.0)),
    )
    terms = {name: float(value) for name, value in split.items()}
    if not math.isfinite(terms["latent_heat"]):
        return rows
    steps, working = _split_words(net - ground, group)
    how = "measured" if group["split"] in SPLITS else "estimate"
    rows += [*steps, row("balance.latent_heat", f"latent heat ({how})", working, terms["latent_heat"])]
    working = f"{number(net, 2)} − {number(ground, 2)} − {number(terms['latent_heat'], 2)}"
    rows.append(row("balance.sensible_heat", f"sensible heat ({how})", working, terms["sensible_heat"]))
    if math.isfinite(group["air_temperature"]) and group["split"] != "none":
        vaporisation = float(evaporation.latent_heat_of_vaporisation(group["air_temperature"]))
        working = f"3600 × {number(terms['latent_heat'], 2)} / ({vaporisation:.3f} × 10⁶)"
        rows.append(
            row("balance.evaporation", f"evaporation ({how})", working, terms["evaporation"], "mm h-1")
        )
    if math.isfinite(terms["bowen_ratio"]):
        working = f"{number(terms['sensible_heat'], 2)} / {number(terms['latent_heat'], 2)}"
        rows.append(row("balance.bowen_ratio", f"Bowen ratio ({how})", working, terms["bowen_ratio"], "1"))
    return rows


def _split_words(available: float, group: Mapping) -> tuple[list[dict], str]:
    """How the available energy is split, in numbers, and the rows that this needs."""
    if group["split"] == "none":
        return [], "a dry surface: nothing evaporates"
    if group["split"] == "bulk_transfer":
        return [], f"{number(available, 2)} − {number(-group['latent_offset'], 2)} (bulk transfer)"
    if group["split"] not in heat.GREEN:
        return [], f"{group['coefficient']:g} × {number(available, 2)}"
    slope = float(evaporation.slope_of_saturation(group["air_temperature"]))
    gamma = float(evaporation.psychrometric_constant(group["pressure"] / 10.0))
    coefficient, plus = group["coefficient"], ""
    if group["split"] != "priestley_taylor":
        coefficient = evaporation.DE_BRUIN_HOLTSLAG_COEFFICIENT
        plus = f" + {evaporation.DE_BRUIN_HOLTSLAG_OFFSET:g}"
    warmth, pressure = f"at {group['air_temperature']:.2f} °C", f"at {group['pressure']:.1f} hPa"
    rows = [
        row("", "slope Δ of the saturation vapour pressure", warmth, slope, "kPa K-1"),
        row("", "psychrometric constant γ", pressure, gamma, "kPa K-1"),
    ]
    share = f"{slope:.4f} / ({slope:.4f} + {gamma:.4f})"
    return rows, f"{coefficient:g} × {share} × {number(available, 2)}{plus}"
