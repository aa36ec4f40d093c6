"""Pairs of surfaces at a common moment: under one sky, in one air.

Each segment's value is brought to the mean sky and air of the pair's visits, by how its class follows them
(`physics.surface_response`). For `net_radiation_common_sky` the sky is that of the whole campaign. The
weights of `pairs` then make the difference. Errors that both surfaces share cancel, since every draw moves
all segments.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.physics import surface_response as response
from headland.physics.constants import ZERO_CELSIUS
from headland.physics.radiation import ALBEDO_SW_IN, LARGEST_SKY_DIFFERENCE
from headland.uncertainty.draws import Errors, error
from headland.uncertainty.groups import Grouping
from headland.uncertainty.inputs import Surfaces
from headland.uncertainty.pairs import COMPARED, Pairs, class_value

LOWEST_SINE = 0.05
"""Sine of the sun's elevation below which albedo is not followed further: 3 degrees (common practice, no
source).
"""


LIE = ("slope_east", "slope_north", "rows_cos", "rows_sin")
"""What the four numbers of `surface_response.facing` act by: tangents of the slope towards east and north,
and two parts of the direct albedo by rows. Columns of the segments, and errors of the model."""

MEMORY_LEFT = 0.5
"""Part of the sun's effect before a visit that stays unknown once it is corrected: a memory of 5 to 20 min
where 10 min are taken (common practice, no source)."""


@dataclass(frozen=True)
class State:
    """The counted segments in each draw, and how their class follows sky and air; each (draws x segments).

    flux: their values. known: 1 where the albedo is known, else 0. reflected: albedo with the sun at 30
    degrees. absorbed: 1 - albedo. slope: of the emission, W m-2 K-1. air: degC (1 x segments). strength: of
    the albedo against the sun's height. mu, diffuse: sine of the sun's elevation and diffuse share
    (segments). facing: of the sun to slopes and rows (segments x 4). lie: what each number of it does to the
    albedo, by the field's slope and rows.
    """

    flux: Errors
    emissivity: np.ndarray
    sky_response: np.ndarray
    air_response: np.ndarray
    strength: np.ndarray
    known: np.ndarray
    reflected: np.ndarray
    absorbed: np.ndarray
    slope: np.ndarray
    air: np.ndarray
    remembered: np.ndarray
    mu: np.ndarray
    diffuse: np.ndarray
    facing: np.ndarray
    lie: list[np.ndarray]


def state_of(flux: Errors, grouping: Grouping, pairs: Pairs, errors: Errors, surfaces: Surfaces) -> State:
    """The counted segments in each draw.

    flux: the segments' values, as `model.measured` gives them. errors: of the groups, by draws.
    """

    def of_class(values, name: str) -> np.ndarray:
        drawn = np.atleast_2d(values + error(errors, name))
        return drawn[:, pairs.surface]

    def stated(key: str) -> np.ndarray:
        return np.array([class_value(surfaces, name, key) for name in pairs.names])

    groups = grouping.groups
    segments = grouping.segments.iloc[pairs.rows]
    here = {name: values[:, pairs.rows] for name, values in flux.items()}
    emissivity = of_class(groups["emissivity"].to_numpy(float), "emissivity_group")
    strength = of_class(stated("sun_height_strength"), "sun_height_strength")
    elevation = np.radians(segments["solar_elevation"].to_numpy(float))
    mu = np.clip(np.nan_to_num(np.sin(elevation)), LOWEST_SINE, None)
    diffuse = segments["diffuse_fraction"].to_numpy(float)
    known = np.isfinite(here["albedo"])
    albedo = np.nan_to_num(here["albedo"])
    facing = response.facing(mu, np.nan_to_num(segments["solar_azimuth"].to_numpy(float)), diffuse)
    lie = [np.atleast_2d(segments[name].to_numpy(float) + of_rows(errors, name, pairs.rows)) for name in LIE]
    level = albedo / (1.0 + sum(part * own for part, own in zip(facing.T, lie, strict=True)))
    return State(
        here,
        emissivity,
        of_class(groups["sky_response"].to_numpy(float), "sky_response"),
        of_class(stated("air_response"), "air_response"),
        strength,
        known,
        level / response.albedo_shape(mu, diffuse, strength),
        np.where(known, 1.0 - albedo, 0.0),
        response.emission_slope(here["surface_temperature"] + ZERO_CELSIUS, emissivity),
        air_course(segments)[None, :],
        here["sw_in"] * memory_ratio(segments),
        mu,
        diffuse,
        facing,
        lie,
    )


def of_rows(errors: Errors, name: str, rows: np.ndarray):
    """An error of the segments in some rows (draws x rows); 0 where no source makes it."""
    drawn = error(errors, name)
    return drawn[:, rows] if np.ndim(drawn) else drawn


def memory_ratio(segments: pd.DataFrame) -> np.ndarray:
    """SW_in that the surface had lately had over SW_in of the segment; 1 where it is not known (segments)."""
    lately, now = segments["sw_in_memory"].to_numpy(float), segments["sw_in"].to_numpy(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(np.isfinite(lately) & (now > 0), lately / now, 1.0)


def air_course(segments: pd.DataFrame) -> np.ndarray:
    """Air temperature at each segment, degC, as far as its course is known.

    Where only one value is given for the campaign, the course is that of the heads' own thermometers: their
    warmth over the air is much the same at all visits, and only differences are used.
    """
    air = segments["air_temperature"].to_numpy(float)
    if len(air) and np.ptp(air) == 0.0:
        return segments["body_temperature"].to_numpy(float)
    return air


@dataclass(frozen=True)
class Reference:
    """The sky and air that pairs are compared in; sw_in, lw_in, air by draws (draws x pairs), mu, diffuse by
    pair, facing (pairs x 4).
    """

    sw_in: np.ndarray
    lw_in: np.ndarray
    air: np.ndarray
    mu: np.ndarray
    diffuse: np.ndarray
    facing: np.ndarray


def reference_of(state: State, sky: np.ndarray) -> Reference:
    """The mean sky and air over the segments. sky: weights (pairs x segments, or one row for all pairs)."""
    return Reference(
        state.flux["sw_in"] @ sky.T,
        state.flux["lw_in"] @ sky.T,
        state.air @ sky.T,
        sky @ state.mu,
        sky @ state.diffuse,
        sky @ state.facing,
    )


def differences_at_common_moment(
    flux: Errors, grouping: Grouping, pairs: Pairs, errors: Errors, surfaces: Surfaces
) -> dict[str, np.ndarray]:
    """The difference of each pair and quantity at a common moment, (draws x pairs); nan where there is none.

    flux: the segments' values, as `model.measured` gives them. errors: of the groups, by draws. What stays
    unknown of the course between the visits is not in it: `differences` adds that.
    """
    state = state_of(flux, grouping, pairs, errors, surfaces)
    own = reference_of(state, pairs.span)
    campaign = reference_of(state, pairs.campaign)
    weights = {name: np.nan_to_num(pairs.weights[name]) for name in COMPARED}
    found = {
        "albedo": albedo_difference(state, own, pairs, weights["albedo"]),
        "surface_temperature": temperature_difference(state, own, weights["surface_temperature"]),
        "net_radiation": net_difference(state, own, pairs, weights["net_radiation"]),
        "net_radiation_common_sky": net_difference(
            state, campaign, pairs, weights["net_radiation_common_sky"]
        ),
    }
    ground = by_ground(state, pairs, errors)
    first, second = pairs.pairs.T
    return {
        name: np.where(
            np.isfinite(pairs.uncertainty[name]),
            value + ground[name][:, first] - ground[name][:, second],
            np.nan,
        )
        for name, value in found.items()
    }


def albedo_difference(state: State, reference: Reference, pairs: Pairs, weights: np.ndarray) -> np.ndarray:
    """Difference of albedo with the sun and the diffuse share of the reference (draws x pairs).

    The sun stands to each field's slope and rows as it does on average over the visits.
    """
    total = np.zeros((len(state.reflected), len(weights)))
    for surface in range(len(pairs.names)):
        mine = pairs.surface == surface
        if mine.any():
            strength = state.strength[:, [np.argmax(mine)]]
            shape = response.albedo_shape(reference.mu, reference.diffuse, strength)
            level, ahead = state.reflected[:, mine], weights[:, mine].T
            there = level @ ahead
            for part, own in zip(reference.facing.T, state.lie, strict=True):
                there = there + part * ((level * own[:, mine]) @ ahead)
            total = total + shape * there
    return total


def temperature_difference(state: State, reference: Reference, weights: np.ndarray) -> np.ndarray:
    """Difference of surface temperature, K (draws x pairs): each segment's moves with what its surface emits
    more.
    """
    by_sky = state.sky_response / state.slope
    absorbed = state.absorbed * state.remembered + state.emissivity * state.flux["lw_in"]
    own = state.flux["surface_temperature"] - by_sky * absorbed - state.air_response * state.air
    return (
        own @ weights.T
        + reference.sw_in * ((by_sky * state.absorbed) @ weights.T)
        + reference.lw_in * ((by_sky * state.emissivity) @ weights.T)
        + reference.air * (state.air_response @ weights.T)
    )


def net_difference(state: State, reference: Reference, pairs: Pairs, weights: np.ndarray) -> np.ndarray:
    """Difference of net radiation, W m-2 (draws x pairs).

    Net under the reference is (1 - albedo_ref) SW_ref + L_ref - L_out - (1 - eps) dL - dE, with dE what the
    surface emits more: lambda ((1 - albedo) dSW + eps dL) + lambda_air 4 eps sigma T^3 dT_air. Without an
    albedo, by night, the shortwave stays as measured.
    """
    flux, response_ = state.flux, state.sky_response
    absorbed = state.absorbed * state.remembered + state.emissivity * flux["lw_in"]
    with_air = state.air_response * state.slope
    own = (
        (1.0 - state.emissivity) * flux["lw_in"]
        - flux["lw_out"]
        + response_ * absorbed
        + with_air * state.air
        + np.where(state.known, 0.0, flux["sw_in"] - flux["sw_out"])
    )
    reflected = albedo_difference(state, reference, pairs, weights)
    return (
        own @ weights.T
        + reference.sw_in * ((state.known - response_ * state.absorbed) @ weights.T - reflected)
        + reference.lw_in * ((state.emissivity * (1.0 - response_)) @ weights.T)
        - reference.air * (with_air @ weights.T)
    )


def by_ground(state: State, pairs: Pairs, errors: Errors) -> dict[str, np.ndarray]:
    """What errors of a group as a whole do to its side of a difference (draws x groups).

    They are the ground not walked, and the sun that the surface had adjusted to before its visits.
    """
    count = len(pairs.names)
    inside = (pairs.surface[:, None] == np.arange(count)[None, :]).astype(float)
    mean = inside / np.where(inside.sum(axis=0) > 0, inside.sum(axis=0), 1.0)
    slope, sw_in, absorbed = (values @ mean for values in (state.slope, state.flux["sw_in"], state.absorbed))
    sw_out, lw_out = error(errors, "ground_sw_out"), error(errors, "ground_lw_out")
    adjusted = MEMORY_LEFT * absorbed * error(errors, "sky_memory")
    with np.errstate(divide="ignore", invalid="ignore"):
        albedo = np.where(sw_in > 0, sw_out / sw_in, 0.0)
        temperature = np.where(slope > 0, (lw_out - adjusted) / slope, 0.0)
    net = adjusted - sw_out - lw_out
    return {
        "albedo": albedo,
        "surface_temperature": temperature,
        "net_radiation": net,
        "net_radiation_common_sky": net,
    }


def skies_too_different(flux: Errors, pairs: Pairs, name: str) -> np.ndarray:
    """Pairs of which one surface was visited under a sun further from the reference than 25 % (pairs).

    flux: the segments' values as printed (1 x segments). Albedo needs no common sun.
    """
    if name == "albedo":
        return np.zeros(len(pairs.pairs), dtype=bool)
    sky = pairs.campaign if name == "net_radiation_common_sky" else pairs.span
    sw_in = flux["sw_in"][0][pairs.rows]
    reference = sky @ sw_in
    found = np.zeros(len(pairs.pairs), dtype=bool)
    for side in pairs.pairs.T:
        mine = np.where(pairs.surface[None, :] == side[:, None], sky, 0.0)
        with np.errstate(invalid="ignore"):  # a surface without recorded time has no sun, and no difference
            own = (mine @ sw_in) / mine.sum(axis=1)
        found |= np.abs(reference - own) > LARGEST_SKY_DIFFERENCE * np.maximum(own, ALBEDO_SW_IN)
    return found
