"""Fields and surfaces: what their numbers are made of, and what the errors of their segments make of them.

A group is a field or a surface. Its fluxes are means of its segments'; what follows from them is computed
for each draw. Errors that belong to a group as a whole, beside those of its segments:

    ground_sw_out, ground_lw_out   W m-2, by the ground not walked
    emissivity_group               1
    sky_response                   1, how the surface warms with the sun
    sky_memory                     W m-2, shortwave that the surface had adjusted to - that of its visits

Errors of the energy balance belong to the segments, whose terms are averaged: `physics.heat.ERRORS`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.groups import counted_segments
from headland.physics import heat, longwave, radiation
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.uncertainty.draws import Errors, Source, error
from headland.uncertainty.inputs import INCOMING, Surfaces
from headland.uncertainty.linear import Linear
from headland.uncertainty.model import MEASURED, across

QUANTITIES = (*MEASURED, "net_radiation_common_sky", *heat.ESTIMATED)
"""The quantities of a field or a surface."""


@dataclass(frozen=True)
class Grouping:
    """Which segments make which group.

    segments: as `inputs.prepare` leaves them. groups: as `with_class_values` leaves them. members: weights of
    the segments in each group (groups x segments, rows sum to 1). sky: weights of the segments in the common
    sky (sum to 1). visits: the balance of each segment, as `visits_at` leaves it.
    """

    segments: pd.DataFrame
    groups: pd.DataFrame
    members: np.ndarray
    sky: np.ndarray
    visits: pd.DataFrame


@dataclass(frozen=True)
class GroupDraws:
    """What the draws say of some groups.

    groups: the table of groups. sources: all errors that act on them. values: as printed, by quantity.
    draws: by quantity (draws x groups). parts: contribution of each source, by quantity (sources x groups).
    linear: the linear part of each quantity. unknown: groups whose ground can't be known, which get no
    interval.
    """

    groups: pd.DataFrame
    sources: list[Source]
    values: Errors
    draws: Errors
    parts: Errors
    linear: dict[str, Linear]
    unknown: np.ndarray


def visits_at(visits: pd.DataFrame, segments: pd.DataFrame) -> pd.DataFrame:
    """Step 7's visits, one row for each segment in order; a segment that does not count has an empty row."""
    rows = visits.set_index("segment").reindex(segments["segment"]).reset_index()
    words = {name: rows[name].fillna("") for name in ("split", "method", "reason")}
    return rows.assign(day=rows["day"].eq(True), **words)


def grouping_of(
    segments: pd.DataFrame, groups: pd.DataFrame, by: Sequence[str], visits: pd.DataFrame
) -> Grouping:
    """Weights of the segments in each group and in the common sky, by their recorded time.

    by: the columns that name a group. visits: of step 7.
    """
    counted = segments.index.isin(counted_segments(segments).index)
    weight = np.where(counted, segments["weight"].to_numpy(float), 0.0)
    members = np.zeros((len(groups), len(segments)))
    for index, row in enumerate(groups.to_dict("records")):
        inside = np.logical_and.reduce([(segments[column] == row[column]).to_numpy() for column in by])
        members[index] = np.where(inside, weight, 0.0)
    total = members.sum(axis=1, keepdims=True)
    shares = members / np.where(total > 0, total, 1.0)
    return Grouping(segments, groups, shares, weight / (weight.sum() or 1.0), visits_at(visits, segments))


def with_class_values(means: pd.DataFrame, balances: pd.DataFrame, surfaces: Surfaces) -> pd.DataFrame:
    """Means and energy balance of groups side by side, with the class values that the model needs.

    means, balances: steps 6 and 7's tables of groups.
    """

    def of_class(key: str) -> np.ndarray:
        return np.array([surfaces[name][key]["value"] for name in means["surface"]], dtype=float)

    keys = [column for column in ("surface", "field") if column in means]
    groups = means.merge(balances, on=keys, validate="one_to_one")
    return groups.assign(
        emissivity=of_class("emissivity"),
        sky_response=of_class("sky_response"),
        day=groups["day"].astype(bool),
    )


def group_name(row: dict) -> str:
    """The name of a group: its surface, and its field where it is one."""
    return "/".join(str(row[column]) for column in ("surface", "field") if column in row)


def grouped(flux: Errors, grouping: Grouping, errors: Errors) -> dict[str, np.ndarray]:
    """Every quantity of each group, from its segments' fluxes.

    flux: as `model.measured` gives it (draws x segments). errors: of the groups, by the names above.
    Returns the quantities of `QUANTITIES`, each (draws x groups).
    """
    groups = grouping.groups
    emissivity = across(groups, "emissivity") + error(errors, "emissivity_group")
    result = {name: weighted_mean(flux[name], grouping.members) for name in RADIATION}
    result["sw_out"] = result["sw_out"] + error(errors, "ground_sw_out")
    result["lw_out"] = result["lw_out"] + error(errors, "ground_lw_out")
    result["albedo"] = albedo_of_groups(flux, grouping, errors)
    result["net_radiation"] = radiation.net_radiation(*(result[channel] for channel in RADIATION))
    kelvin = longwave.surface_temperature(result["lw_out"], result["lw_in"], emissivity)
    result["surface_temperature"] = kelvin - ZERO_CELSIUS
    sky = [weighted_mean(flux[name], grouping.sky[None, :]) for name in INCOMING]
    result["net_radiation_common_sky"] = under_common_sky(result, sky, emissivity, groups, errors)
    return result | heat.estimate(
        groups,
        grouping.visits,
        grouping.members,
        visit_net=flux["net_radiation"],
        net=result["net_radiation"],
        errors=errors,
    )


def weighted_mean(values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Weighted means over segments (draws x groups); a segment without a value does not count.

    values: (draws x segments). weights: (groups x segments).
    """
    known = np.isfinite(values).all(axis=0)
    total = weights @ known
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(total > 0, np.where(known, values, 0.0) @ weights.T / total, np.nan)


def albedo_of_groups(flux: Errors, grouping: Grouping, errors: Errors) -> np.ndarray:
    """Albedo of each group: the ratio of the sums of SW_out and SW_in (draws x groups)."""
    inside = (grouping.members > 0).astype(float).T
    sums = {name: np.nan_to_num(flux[name]) @ inside for name in ("albedo_sw_in", "albedo_sw_out")}
    segments = grouping.segments
    seconds = np.where(segments["albedo_sw_in"] > 0, segments["weight"], 0.0) @ inside
    reflected = sums["albedo_sw_out"] + error(errors, "ground_sw_out") * seconds
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(sums["albedo_sw_in"] > 0, reflected / sums["albedo_sw_in"], np.nan)


def under_common_sky(
    means: Errors, sky: Sequence[np.ndarray], emissivity, groups: pd.DataFrame, errors: Errors
) -> np.ndarray:
    """Net radiation of each group under the common sky, W m-2 (draws x groups).

    means: the groups' fluxes, albedo and net radiation. sky: SW_in and L_in of the common sky.
    """
    printed = across(groups, "net_radiation_common_sky")
    sky_sw_in, sky_lw_in = sky
    net = radiation.net_common_sky(
        means["net_radiation"],
        means["albedo"],
        sw_in=means["sw_in"],
        lw_in=means["lw_in"],
        sw_ref=sky_sw_in,
        lw_ref=sky_lw_in,
        emissivity=emissivity,
        sky_response=across(groups, "sky_response") + error(errors, "sky_response"),
    )
    # the shortwave that the surface had adjusted to was not quite that of its visits
    net = net + radiation.warming(1.0, means["albedo"], error(errors, "sky_memory"))
    # only the value itself decides whether it has a common sky: one draw beyond the limit does not
    return np.where(np.isnan(printed), np.nan, net)
