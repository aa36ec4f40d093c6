"""Errors of surface classes, and of single fields and surfaces: the ground not walked, the sky before."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from headland.base.classes import SPLIT_PROPERTY
from headland.uncertainty.distributions import COVERAGE, NORMAL_95, RECTANGULAR, student
from headland.uncertainty.draws import Source
from headland.uncertainty.groups import group_name
from headland.uncertainty.inputs import Surfaces
from headland.uncertainty.sources_measured import measured_sources
from headland.uncertainty.terms import PERCENT, Rows, Size, is_on, of_range, sources_of

FEWEST_LOOKS = 5.0
"""Independent looks at the ground below which no interval is given for what stands for a whole field (common
practice, no source)."""


# Ranges of surface classes ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class ClassError:
    """What the range of one property of a class does to the model.

    error: of the model. property: column of surfaces.csv. of: all `segments`, all `groups`, or those segments
    whose balance uses it (by `day`, by `night`, for the `split`).
    """

    error: str
    property: str
    of: str


COVER = "leaf_area_index"
"""Property that a class with leaves or litter has."""

LATENT = "latent heat"
"""In place of a property: the one that the class's way of splitting the available energy uses."""

CLASS_ERRORS = (
    ("emissivity", "", ClassError("emissivity", "emissivity", "segments")),
    ("emissivity", "", ClassError("emissivity_group", "emissivity", "groups")),
    ("sky_response", "", ClassError("sky_response", "sky_response", "groups")),
    ("air_response", "", ClassError("air_response", "air_response", "groups")),
    ("sun_height_strength", "", ClassError("sun_height_strength", "sun_height_strength", "groups")),
    ("ground_heat_fraction", "", ClassError("ground_heat_fraction", "ground_heat_fraction_day", "day")),
    (
        "ground_heat_fraction",
        "_night",
        ClassError("ground_heat_fraction", "ground_heat_fraction_night", "night"),
    ),
    ("latent_heat_fraction", "", ClassError("latent_heat_fraction", LATENT, "split")),
)
"""Term, ending of the source's unit, and what it does. Rows with one term and unit make one source."""


def class_sources(
    segments: pd.DataFrame, groups: pd.DataFrame, surfaces: Surfaces, rows: Rows, visits: pd.DataFrame
) -> list[Source]:
    """The errors by the ranges of surfaces.csv and by the options' own, each shared by all of a class, and
    those of measured fluxes.

    groups: as `groups.with_class_values` leaves them. visits: as `groups.visits_at`. A range is rectangular;
    its middle need not be its value.
    """
    sources = []
    for name in dict.fromkeys([*segments["surface"], *groups["surface"]]):
        if name in surfaces:
            sources += _of_class(name, surfaces[name], _where(name, segments, groups, visits), rows)
            own = (segments["surface"] == name).to_numpy(float)
            sources += _of_options(name, own, visits, rows, covered=COVER in surfaces[name])
            sources += _of_paving(name, own, segments, visits, rows)
    return sources + measured_sources(visits, rows)


def _where(
    name: str, segments: pd.DataFrame, groups: pd.DataFrame, visits: pd.DataFrame
) -> dict[str, np.ndarray]:
    """Which segments and groups are of a class and use a property of it, as 0 and 1."""
    of_segments = (segments["surface"] == name).to_numpy(float)
    day = visits["day"].to_numpy(bool)
    by_class = of_segments * (visits["method"] == "class_fraction").to_numpy(float)
    return {
        "segments": of_segments,
        "groups": (groups["surface"] == name).to_numpy(float),
        "day": by_class * day,
        "night": by_class * ~day,
        "split": of_segments * visits["split"].isin(SPLIT_PROPERTY).to_numpy(float),
    }


def _of_options(
    name: str, own: np.ndarray, visits: pd.DataFrame, rows: Rows, *, covered: bool
) -> list[Source]:
    """The model errors of methods: of those chosen in place of the class's, and of a fraction that is the
    same all day.

    own: which segments are of the class. covered: whether it has leaves or litter, which take up heat that a
    fraction for the soil does not count.
    """
    fraction, offset = (visits[key].fillna(0.0).to_numpy(float) for key in ("fraction", "offset"))
    sources = []
    for method in ("choudhury", "santanello", "hysteresis"):
        used = own * (visits["method"] == method).to_numpy(float)
        if method == "santanello":
            reach, scale = {"ground_heat_fraction": used}, 1.0
        else:
            reach = {"ground_heat_fraction": used * fraction, "ground_heat_offset": used * offset}
            scale = PERCENT
        if used.any():
            sources += sources_of(rows, f"ground_heat_{method}", name, reach, scale)
    steady = visits["day"] & visits["method"].isin(("class_fraction", "choudhury"))
    used = own * (steady & visits["fraction"].notna()).to_numpy(float)
    if used.any():
        sources += sources_of(rows, "ground_heat_hour", name, {"ground_heat_offset": used})
        if covered:
            sources += sources_of(rows, "ground_heat_storage", name, {"ground_heat_fraction": used})
    used = own * (visits["split"] == "de_bruin_holtslag").to_numpy(float)
    if used.any():
        sources += sources_of(rows, "latent_heat_de_bruin_holtslag", name, {"latent_heat_offset": used})
    return sources


def _of_paving(
    name: str, own: np.ndarray, segments: pd.DataFrame, visits: pd.DataFrame, rows: Rows
) -> list[Source]:
    """What a surface that is taken as dry evaporates all the same: a part of its available energy by day."""
    dry = own * (visits["day"] & (visits["split"] == "none")).to_numpy(float)
    if not dry.any():
        return []
    fraction = visits["fraction"].fillna(0.0).to_numpy(float)
    available = np.nan_to_num(segments["net_radiation"].to_numpy(float)) * (1.0 - fraction)
    used = dry * np.clip(available, 0.0, None)
    return sources_of(rows, "latent_heat_none", name, {"latent_heat_offset": used})


def _of_class(name: str, entry: Mapping, where: Mapping[str, np.ndarray], rows: Rows) -> list[Source]:
    """The sources of one class. entry: its properties."""
    shifts: dict[tuple[str, str], dict[str, np.ndarray]] = {}
    middles: dict[tuple[str, str], dict[str, np.ndarray]] = {}
    for term, ending, acts in CLASS_ERRORS:
        latent = SPLIT_PROPERTY.get(entry["latent_method"]["value"], "")
        stated = entry.get(latent if acts.property == LATENT else acts.property, {})
        mine, size = where[acts.of], range_of(stated)
        if not is_on(rows, term) or size is None or not mine.any():
            continue
        shifts.setdefault((term, ending), {})[acts.error] = mine * size.sigma
        middles.setdefault((term, ending), {})[acts.error] = mine * (size.middle - stated["value"])
    return [
        Source(term, f"{name}{ending}", shift, middles[term, ending], RECTANGULAR)
        for (term, ending), shift in shifts.items()
        if any(part.any() for part in shift.values())
    ]


def range_of(stated: Mapping) -> Size | None:
    """The range of a class's property as the size of an error; None without a range."""
    low, high = stated.get("low"), stated.get("high")
    return of_range(low, high) if isinstance(low, float) and isinstance(high, float) else None


# The ground not walked --------------------------------------------------------------------------------------


def ground_sources(groups: pd.DataFrame, rows: Rows) -> list[Source]:
    """The error by the ground not walked, each group's own.

    Standard error s / sqrt(n) with Student's t for n - 1 degrees of freedom, n the independent looks at the
    ground. SW_out and LW_out move together as their residuals do. A group with fewer than 5 looks has none
    here: it gets no interval.
    """
    if not is_on(rows, "ground"):
        return []
    sources = []
    for index, row in enumerate(groups.to_dict("records")):
        if row["independent"] >= FEWEST_LOOKS:
            sources += _of_ground(row, np.arange(len(groups)) == index)
    return sources


def _of_ground(row: Mapping, here: np.ndarray) -> list[Source]:
    """The two sources of one group: what SW_out and LW_out share, and the rest of LW_out."""
    looks, correlation, name = row["independent"], row["ground_correlation"], group_name(dict(row))
    freedom = looks - 1.0
    distribution = student(freedom)
    # the distribution has the interval of a normal one, so its own 95 % factor goes into the size
    one = here * (stdtrit(freedom, 0.5 + COVERAGE / 2.0) / NORMAL_95 / math.sqrt(looks))
    shared = {
        "ground_sw_out": one * row["ground_sw_out"],
        "ground_lw_out": one * correlation * row["ground_lw_out"],
    }
    rest = {"ground_lw_out": one * math.sqrt(max(1.0 - correlation**2, 0.0)) * row["ground_lw_out"]}
    return [
        Source("ground", f"{name}/shared", shared, {}, distribution),
        Source("ground", f"{name}/lw_out", rest, {}, distribution),
    ]


# The sun that a surface had before --------------------------------------------------------------------------


def sky_sources(groups: pd.DataFrame, surfaces: Surfaces, rows: Rows) -> list[Source]:
    """What the common sky leaves over, each group's own.

    A group had adjusted to another shortwave than that of its visits, by `sky_memory` of step 6, and warmed
    by its class's response to it. Where the response has a range it is drawn: it is the amplitude of these
    sources, the same for all of a class and in `class_sources`.
    """
    if not is_on(rows, "sky_memory"):
        return []
    sources = []
    for index, row in enumerate(groups.to_dict("records")):
        response = surfaces[row["surface"]]["sky_response"]
        size = range_of(response) if is_on(rows, "sky_response") else None
        middle, sigma = (response["value"], 0.0) if size is None else (size.middle, size.sigma)
        here = np.arange(len(groups)) == index
        shift = {"sky_memory": np.where(here, math.hypot(middle, sigma) * groups["sky_memory"], 0.0)}
        if sigma:
            amplitude = f"sky_response|{row['surface']}"
            sources.append(
                Source("sky_memory", group_name(row), shift, amplitude=amplitude, around=middle / sigma)
            )
        else:
            sources.append(Source("sky_memory", group_name(row), shift))
    return sources
