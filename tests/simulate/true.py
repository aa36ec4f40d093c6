"""The tables of truth: what was really there, over the seconds that count."""

from __future__ import annotations

import numpy as np
import pandas as pd

from . import ground as grounds
from .files import iso
from .sky import KELVIN, SIGMA
from .spec import Spec
from .stays import Stay

MEASURING = ("walk", "stand", "side_by_side", "sky_monitor")  # activities with a value of their own
MAPPING = ("walk", "stand")  # of these, the ones that fields and surfaces are averaged over


def tables(spec: Spec, noted: list[Stay], samples: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """The tables of truth: over the samples that were recorded, noted and not kept apart."""
    rows, pooled = [], []
    interval = {s.name: s.interval for s in spec.sets}
    for line, stay in enumerate(noted, start=2):
        if stay.visit.activity not in MEASURING or not stay.on:
            continue
        every = samples[stay.visit.set]
        every = every[every["visit"] == spec.visits.index(stay.visit)]
        used = every[every["used"]]
        v = stay.visit
        row = {
            "set": v.set,
            "field": stay.field.name,
            "surface": stay.field.surface,
            "notes_row": line,
            "start_utc": iso(stay.start),
            "end_utc": iso(stay.end),
            "activity": v.activity,
            "transect": v.transect,
            "pass": str(v.pass_number) if v.activity == "walk" else "",
            "samples": len(every),
            "samples_used": len(used),
        }
        row.update(_means([(used, 1.0)], ""))
        rows.append(row)
        if v.activity in MAPPING and len(used):
            pooled.append((stay.field, used, interval[v.set]))
    out = {"segments": pd.DataFrame(rows)}
    weight = sum(len(u) * w for _, u, w in pooled)
    common = (
        {q: sum(u[q].sum() * w for _, u, w in pooled) / weight for q in ("sw_in", "lw_in")} if pooled else {}
    )
    for name, keys in (("fields", lambda f: (f.surface, f.name)), ("surfaces", lambda f: (f.surface,))):
        groups: dict[tuple, list] = {}
        for f, used, w in pooled:
            groups.setdefault(keys(f), []).append((f, used, w))
        rows = []
        for key, members in groups.items():
            row = dict(zip(("surface", "field"), key, strict=False))
            row.update(segments=len(members), samples_used=sum(len(u) for _, u, _ in members))
            parts = [(u, w) for _, u, w in members]
            row.update(_means(parts, ""))
            row.update({f"{q}_whole": x for q, x in _means(parts, "_whole").items() if not q.endswith("_in")})
            row.update(_balance(members, common))
            rows.append(row)
        out[name] = pd.DataFrame(rows)
    return out


def _means(parts: list[tuple[pd.DataFrame, float]], suffix: str) -> dict[str, float]:
    """The seven quantities over samples, each with its weight; suffix `_whole` for the ground of the whole
    field.
    """
    used = pd.concat([u for u, _ in parts])
    weight = np.concatenate([np.full(len(u), w) for u, w in parts])
    if not len(used):
        return dict.fromkeys(
            ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation"), np.nan
        )

    def mean(name):
        return float(np.average(used[name], weights=weight))

    high = (used["elevation"] > np.radians(10)) & (used["sw_in"] > 50)
    lit = used[high]
    q = {"sw_in": mean("sw_in"), "sw_out": mean("sw_out" + suffix)}
    q["albedo"] = (
        float((lit["sw_out" + suffix] * weight[high]).sum() / (lit["sw_in"] * weight[high]).sum())
        if len(lit)
        else np.nan
    )
    q.update(
        lw_in=mean("lw_in"),
        lw_out=mean("lw_out" + suffix),
        surface_temperature=mean("t4" + suffix) ** 0.25 - KELVIN,
    )
    q["net_radiation"] = q["sw_in"] - q["sw_out"] + q["lw_in"] - q["lw_out"]
    return q


def _balance(members: list, common: dict[str, float]) -> dict[str, float]:
    """Net radiation under one common sky, and what becomes of the net radiation, over whole fields."""
    total = sum(len(u) * w for _, u, w in members)
    out = dict.fromkeys(("net_radiation_common_sky", "ground_heat", "sensible_heat", "latent_heat"), 0.0)
    for f, used, w in members:
        share = len(used) * w / total
        q = _means([(used, w)], "_whole")
        albedo = grounds.mean_albedo(f, used["elevation"]).mean()
        absorbed = (1 - albedo) * common["sw_in"]
        kelvin = q["surface_temperature"] + KELVIN + f.warming * (absorbed - used["absorbed"].mean())
        out["net_radiation_common_sky"] += share * (
            absorbed + f.emissivity * (common["lw_in"] - SIGMA * kelvin**4)
        )
        if f.ground_fraction is None or f.evaporative_fraction is None:
            out.update(ground_heat=np.nan, sensible_heat=np.nan, latent_heat=np.nan)
            continue
        heat = f.ground_fraction * q["net_radiation"]
        latent = f.evaporative_fraction * (q["net_radiation"] - heat)
        out["ground_heat"] += share * heat
        out["latent_heat"] += share * latent
        out["sensible_heat"] += share * (q["net_radiation"] - heat - latent)
    return out


README = """# What was really there

This campaign was made by a simulation (`tests/simulate`), so its truth is known. The workflow never \
reads this folder.

| file | holds |
|---|---|
| segments.csv | one row a noted interval with a value of its own (walk, stand, side_by_side, \
sky_monitor); notes_row is the line in notes.csv, whose header is line 1 |
| fields.csv, surfaces.csv | the same over all walked and stood intervals of a field or surface class, \
each second with equal weight |
| instrument_errors.csv | what was wrong with each set, in the terms and signs of the signal model: true \
= read + term |

- **Which seconds.** Records whose middle lies in the noted interval [start, end), without those kept \
apart: with recorded time counted from the
  start (interruptions don't count), the first 3 h / v + t95 and the last 3 h / v; h = sensor height \
minus canopy height, v = noted length over
  recorded time, t95 = the longest response time among the set's four radiation sensors. Where nobody \
walks: t95 only; where `walking_speed` is 0: nothing.
- **Segments** are what a perfect, level, unshaded set would have read there: sw_in on the flat, sw_out \
and lw_out of the field's own ground seen
  through the downward view. albedo is the ratio of sums over seconds with the sun above 10 degrees and \
sw_in above 50 W m-2; surface_temperature is
  averaged in the fourth power; net_radiation = sw_in - sw_out + lw_in - lw_out.
- **Fields**: columns without ending are the ground that was walked, with `_whole` the field as a whole \
at the same seconds: patches not walked included.
- net_radiation_common_sky: the whole field, adjusted to the mean sw_in and lw_in of all these seconds of \
the campaign, once it has warmed or cooled to that.
- ground_heat, sensible_heat, latent_heat: the whole field's net radiation, divided by the fractions that \
the simulation was given.
- Fluxes W m-2, temperatures degC, times UTC.
"""
