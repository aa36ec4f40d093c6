"""Step 8: from the errors of certificates, heads, carrying, tables and ground to the interval of every number.

Monte Carlo in the manner of JCGM 101:2008: each error that could have had another value is one `Source`, shared by what shares it (a band, a
sensor, a set, a surface class). The measurement model is run once for all draws, so what two numbers share moves them together and
cancels in their difference by itself. Linear propagation (JCGM 100:2008) of the same sources stands beside it as a check, and gives the budget.

Effects of one sign (a cold sky, a warm window, the carrier's shadow and body) are left in the values, which so stay the textbook ones, and drawn
in the intervals, which reach further to that side. A value lies inside its own interval.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from headland.base import station
from headland.base.classes import SPLIT_PROPERTY
from headland.base.findings import Finding
from headland.base.groups import GROUPINGS, counted_segments
from headland.physics import geometry, heat, longwave, radiation, sun
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.instruments import RESPONSE_TIME
from headland.physics.longwave import own_emission
from headland.uncertainty import intercompare
from headland.uncertainty.draws import (
    COVERAGE,
    NORMAL,
    NORMAL_95,
    RECTANGULAR,
    Distribution,
    Errors,
    Linear,
    Source,
    end_error,
    ends,
    interval,
    linear_of,
    linear_parts,
    middles,
    moved,
    one_at_a_time,
    scores,
    student,
)
from headland.uncertainty.intercompare import SKY, Scale, on_one_scale

FEWEST_LOOKS = 5.0
"""Independent looks at the ground below which no interval is given for what stands for a whole field (methods of this project)."""

CALIBRATION_TEMPERATURE, TEMPERATURE_STEP = 20.0, 25.0
"""degC and K: temperature responses are stated per 25 K from 20 degC (methods of this project, section 8)."""

DIRECTIONAL_LENGTH = 20.0
"""Degrees between two directions of the sun over which the directional error forgets itself (methods of this project, section 8)."""

SHOCK = 3.0
"""The difference between head and thermometer is so many times larger, on top of its usual size, while the body temperature runs by more than the limit
of `thermal-shock` (common practice, no source: 0.3 K becomes 1.2 K)."""

LOWEST_SUN = 3.0
"""Degrees: with the sun lower there is no beam to speak of, and tan Z is of no use."""

MEASURED = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
QUANTITIES = (*MEASURED, "net_radiation_common_sky", *heat.ESTIMATED)
ONE_SIDED = ("cooling", "window", "own_shade", "carrier_reflection", "carrier_warmth", "response")
"""Terms of one sign, left in the values or taken out of them by `methods.one_sided`."""
COMPARED = ("albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky")

# The measurement model -------------------------------------------------------------------------------------------


def prepare(
    segments: pd.DataFrame, carrying: Mapping[str, float], air_temperature, surfaces: Mapping[str, Mapping]
) -> pd.DataFrame:
    """Segments with what the model needs beside their means: emissivity, diffuse fraction, the carrier's view, the air (degC), the heading where known.

    air_temperature: degC, one a segment; where unknown, the head's own. Where nobody walks there is no carrier, and the heading is a constant.
    """
    middle = segments["start_utc"] + (segments["end_utc"] - segments["start_utc"]) / 2
    emissivity = np.array(
        [surfaces[s]["emissivity"]["value"] if s else 1.0 for s in segments["surface"]], dtype=float
    )
    up = np.sin(np.radians(segments["solar_elevation"].to_numpy(float)))
    outside = sun.top_of_atmosphere(middle) * np.clip(up, 0.0, None)
    with np.errstate(divide="ignore", invalid="ignore"):
        clearness = np.where(outside > 0, segments["sw_in"].to_numpy(float) / outside, 0.0)
    walks = carrying["walking_speed"] > 0
    view = (
        geometry.carrier_view(
            carrying["sensor_height"],
            carrying["reach"],
            carrying["carrier_height"],
            carrying["carrier_width"],
        )
        if walks
        else 0.0
    )
    air = np.asarray(air_temperature, dtype=float)
    return segments.assign(
        emissivity=emissivity,
        diffuse_fraction=sun.diffuse_fraction(np.clip(clearness, 0.0, 1.0)),
        carrier_view=view,
        air_temperature=np.where(np.isfinite(air), air, segments["body_temperature"].to_numpy(float)),
        heading=segments["heading"].astype(float) if walks else 0.0,
        incoming_heading=segments["incoming_heading"].astype(float) if walks else 0.0,
        day=middle.dt.strftime("%Y-%m-%d"),
    )


def shade_of(segments: pd.DataFrame, carrying: Mapping[str, float]) -> Callable:
    """The carrier's shadow in the downward view of each segment as a function of the sun's azimuth less the heading, degrees (draws x segments).

    Worked out every 5 degrees and interpolated, since an unknown heading is drawn.
    """
    if not carrying["walking_speed"] > 0 or not carrying["reach"] > 0:
        return lambda phi: np.zeros_like(phi)
    grid = np.arange(-180.0, 181.0, 5.0)
    elevation = segments["solar_elevation"].fillna(0.0).to_numpy(float)
    table = geometry.shadow_view(
        grid[None, :],
        elevation[:, None],
        carrying["sensor_height"],
        carrying["reach"],
        carrying["carrier_height"],
        carrying["carrier_width"],
    )

    def view(phi):
        wrapped = (phi + 180.0) % 360.0 / 5.0
        left = np.minimum(wrapped.astype(int), len(grid) - 2)
        rows = np.arange(len(elevation))
        return table[rows, left] + (wrapped - left) * (table[rows, left + 1] - table[rows, left])

    return view


def measured(
    segments: pd.DataFrame, shade: Callable, errors: Errors, scale: Scale | None = None
) -> dict[str, np.ndarray]:
    """The seven measured quantities of each segment, had the instruments and their carrying erred by `errors`: (draws x segments).

    segments: as `prepare` gives them. shade: as `shade_of` gives it. errors over segments, absent ones 0: `factor_<channel>` (relative),
    `zero_<channel>` (W m-2), `response_<channel>` (s), `directional` (W m-2 in a beam of 1000), `level_along`, `level_across`, `heading`, `incoming_heading` (degrees),
    `cooling` (1), `window_<channel>` (1) and `body_<channel>` (K) of the longwave, `own_shade` (times the plate's), `carrier_dark` (1 less its albedo over the ground's),
    `carrier_there` (0 or 1) and `carrier_warmth` (K above the air), `diffuse_fraction`, `emissivity`. scale: sets to be put on one scale. The
    signal model of section 8 of the methods, in its order.
    """
    column = lambda name: segments[name].to_numpy(float)[None, :]
    error = lambda name: errors.get(name, np.zeros((1, len(segments))))
    elevation = column("solar_elevation")
    beam_there = elevation > LOWEST_SUN
    zenith = np.radians(np.where(beam_there, 90.0 - elevation, 0.0))
    ahead = lambda kind: column("solar_azimuth") - np.where(np.isnan(column(kind)), error(kind), column(kind))
    diffuse = np.clip(column("diffuse_fraction") + error("diffuse_fraction"), 0.0, 1.0)
    beam = np.where(beam_there, (1.0 - diffuse) * np.clip(column("sw_in"), 0.0, None), 0.0)  # on the level
    normal_beam = beam / np.cos(zenith)
    radians = np.radians(ahead("incoming_heading"))
    tilt = np.radians(error("level_along")) * np.cos(radians) + np.radians(error("level_across")) * np.sin(
        radians
    )
    lag = lambda channel: column(f"rate_{channel}") * error(f"response_{channel}")

    flux = {}
    flux["sw_in"] = (
        column("sw_in") * (1.0 + error("factor_sw_in"))
        + np.minimum(normal_beam / 1000.0, 1.0) * error("directional")
        + beam * tilt * np.tan(zenith)
        + error("cooling") * np.abs(column("lw_in_net"))
        + lag("sw_in")
        + error("zero_sw_in")
    )
    shaded = np.where(
        beam_there, (1.0 - diffuse) * shade(np.nan_to_num(ahead("heading"))) * error("own_shade"), 0.0
    )
    seen = 1.0 - shaded - column("carrier_view") * error("carrier_dark")
    flux["sw_out"] = (
        column("sw_out") * (1.0 + error("factor_sw_out")) + lag("sw_out") + error("zero_sw_out")
    ) / seen

    for channel, shortwave, thermometer in (
        ("lw_in", "sw_in", "incoming_body_temperature"),
        ("lw_out", "sw_out", "body_temperature"),
    ):
        body = column(thermometer) + ZERO_CELSIUS
        emission = own_emission(body + error(f"body_{channel}")) - own_emission(body)
        flux[channel] = (
            column(channel)
            + column(f"{channel}_net") * error(f"factor_{channel}")
            + emission
            - error(f"window_{channel}") * flux[shortwave]
            + lag(channel)
            + error(f"zero_{channel}")
        )
    hidden = column("carrier_view") * error("carrier_there")
    carrier = own_emission(column("air_temperature") + ZERO_CELSIUS + error("carrier_warmth"))
    flux["lw_out"] = (flux["lw_out"] - hidden * carrier) / (1.0 - hidden)
    if scale is not None:
        flux = on_one_scale(flux, scale, errors)

    return flux | derived(flux, segments, column("emissivity") + error("emissivity"))


def derived(flux: Errors, segments: pd.DataFrame, emissivity) -> dict[str, np.ndarray]:
    """Albedo with the sums behind it, net radiation and surface temperature of segments whose four terms came to be `flux` (draws x segments)."""
    column = lambda name: segments[name].to_numpy(float)[None, :]
    result = {}
    with np.errstate(invalid="ignore", divide="ignore"):
        # the sums behind the albedo move like the means: sample by sample the errors are the same
        for name in ("sw_in", "sw_out"):
            result[f"albedo_{name}"] = np.where(
                column(name) > 0, column(f"albedo_{name}") * flux[name] / column(name), np.nan
            )
        result["albedo"] = np.where(
            column("albedo_sw_in") > 0, result["albedo_sw_out"] / result["albedo_sw_in"], np.nan
        )
    result["net_radiation"] = radiation.net_radiation(*(flux[c] for c in RADIATION))
    result["surface_temperature"] = (
        longwave.surface_temperature(flux["lw_out"], flux["lw_in"], emissivity) - ZERO_CELSIUS
    )
    return result


def grouped(
    flux: Errors,
    segments: pd.DataFrame,
    groups: pd.DataFrame,
    members: np.ndarray,
    sky: np.ndarray,
    errors: Errors,
) -> dict[str, np.ndarray]:
    """Every quantity of each group (a field or a surface), from its segments' fluxes: (draws x groups).

    flux: as `measured` gives it. members: weights of the segments in each group (groups x segments, rows sum to 1). sky: weights of the segments in
    the common sky. errors over groups, absent ones 0: `ground_sw_out`, `ground_lw_out` (W m-2), `sky_memory` (W m-2, times the response), `emissivity_group`,
    `sky_response`, `ground_heat_fraction`, `latent_heat_fraction`.
    """
    column = lambda name: groups[name].to_numpy(float)[None, :]
    error = lambda name: errors.get(name, np.zeros((1, len(groups))))
    result = {name: _mean(flux[name], members) for name in RADIATION}
    result["sw_out"] = result["sw_out"] + error("ground_sw_out")
    result["lw_out"] = result["lw_out"] + error("ground_lw_out")
    inside = (members > 0).astype(float).T
    total = {name: np.nan_to_num(flux[name]) @ inside for name in ("albedo_sw_in", "albedo_sw_out")}
    seconds = np.where(segments["albedo_sw_in"] > 0, segments["weight"], 0.0) @ inside
    with np.errstate(invalid="ignore", divide="ignore"):
        result["albedo"] = np.where(
            total["albedo_sw_in"] > 0,
            (total["albedo_sw_out"] + error("ground_sw_out") * seconds) / total["albedo_sw_in"],
            np.nan,
        )
    result["net_radiation"] = radiation.net_radiation(*(result[c] for c in RADIATION))
    emissivity = column("emissivity") + error("emissivity_group")
    result["surface_temperature"] = (
        longwave.surface_temperature(result["lw_out"], result["lw_in"], emissivity) - ZERO_CELSIUS
    )
    reference = [_mean(flux[name], sky[None, :]) for name in SKY]
    response = column("sky_response") + error("sky_response")
    result["net_radiation_common_sky"] = radiation.net_common_sky(
        result["net_radiation"],
        result["albedo"],
        result["sw_in"],
        result["lw_in"],
        *reference,
        emissivity,
        response,
    )
    # what the surface had adjusted to was not quite the shortwave of its visits
    result["net_radiation_common_sky"] = result["net_radiation_common_sky"] + radiation.warming(
        1.0, result["albedo"], error("sky_memory")
    )
    # one draw beyond the limit of the common sky is no reason to lose it: only the value itself decides
    result["net_radiation_common_sky"] = np.where(
        np.isnan(column("net_radiation_common_sky")), np.nan, result["net_radiation_common_sky"]
    )
    return result | heat.estimate(
        groups, result["net_radiation"], error("ground_heat_fraction"), error("latent_heat_fraction")
    )


def _mean(values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Weighted means over segments (draws x groups); a segment without a value counts for nothing."""
    known = np.isfinite(values).all(axis=0)
    total = weights @ known
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(total > 0, np.where(known, values, 0.0) @ weights.T / total, np.nan)


# The sources -----------------------------------------------------------------------------------------------------


def middle_and_sigma(row: Mapping[str, str]) -> tuple[float, float, Distribution]:
    """Middle, standard uncertainty and distribution of a row of uncertainty.csv: a normal sigma, or a range from low to high (a / sqrt 3, JCGM 100:2008, 4.3.7)."""
    if row["distribution"] == "normal":
        return 0.0, float(row["sigma"]), NORMAL
    low, high = float(row["low"]), float(row["high"])
    return (low + high) / 2.0, (high - low) / 2.0 / math.sqrt(3.0), RECTANGULAR


def instrument_sources(
    segments: pd.DataFrame, certificates: pd.DataFrame, terms: Mapping[str, Mapping]
) -> list[Source]:
    """The errors of the instruments and their carrying, each shared by a band, a sensor, a set or a day, and those of each segment.

    segments: as `prepare` gives them. certificates: those in force, all sets. terms: rows of uncertainty.csv by term.
    """
    of_set = {
        name: (segments["set"] == name).to_numpy(float)
        for name in dict.fromkeys([*segments["set"], *segments["incoming_set"]])
    }
    of_sky = {name: (segments["incoming_set"] == name).to_numpy(float) for name in of_set}
    sources: list[Source] = []
    on = lambda term: terms[term]["enabled"] == "true"

    def add(term: str, unit: str, shift: Mapping[str, np.ndarray], scale: float = 1.0) -> None:
        if on(term):
            middle, sigma, distribution = middle_and_sigma(terms[term])
            sources.append(
                Source(
                    term,
                    unit,
                    {n: a * sigma * scale for n, a in shift.items()},
                    {n: a * middle * scale for n, a in shift.items()} if middle else {},
                    distribution,
                )
            )

    warmth = {
        kind: (segments[kind].to_numpy(float) - CALIBRATION_TEMPERATURE) / TEMPERATURE_STEP
        for kind in ("body_temperature", "incoming_body_temperature")
    }
    for band in ("sw", "lw"):
        together: dict[str, np.ndarray] = {}
        for row in certificates[
            certificates["channel"].str.startswith(band) & certificates["set"].isin(of_set)
        ].to_dict("records"):
            channel, unit = row["channel"], f"{row['set']}/{row['channel']}"
            name, mine = f"factor_{channel}", (of_sky if channel in SKY else of_set)[row["set"]]
            percent = row["expanded_uncertainty_percent"]
            for kind in ("band", "sensor"):
                stated = percent == percent
                term = f"certificate_{kind}" if stated else f"default_{kind}_{band}"
                size = (
                    percent / 200.0 * math.sqrt(float(terms[term]["sigma"]))
                    if stated
                    else float(terms[term]["sigma"]) / 100.0
                )
                if kind == "band":
                    together[name] = together.get(name, 0.0) + mine * size * on(term)
                elif on(term):
                    sources.append(Source(term, unit, {name: mine * size}))
            years = row["age_months"] / 12.0 if row["age_months"] > 0 else 0.0
            add(f"drift_{band}", unit, {name: mine * years}, 0.01)
            add(
                f"temperature_{band}",
                unit,
                {
                    name: np.nan_to_num(
                        mine * warmth["incoming_body_temperature" if channel in SKY else "body_temperature"]
                    )
                },
                0.01,
            )
            seconds = (
                row["response_time_95"]
                if row["response_time_95"] == row["response_time_95"]
                else RESPONSE_TIME
            )
            add("response", unit, {f"response_{channel}": mine * seconds / math.log(20.0)})
            if band == "sw":
                add("zero", unit, {f"zero_{channel}": mine})
        if together:
            sources.append(Source("certificate_band", band, together))
    for name, mine in of_set.items():
        if name == station.NAME:
            sources += station_sources(segments, of_sky[name], terms)
            continue
        own = certificates[(certificates["set"] == name) & (certificates["channel"] == "sw_in")][
            "instrument_class"
        ]
        above = of_sky[name]
        sources += directional_sources(
            segments,
            above,
            name,
            terms[f"directional_{own.iloc[0] if len(own) and own.iloc[0] in ('A', 'B', 'C') else 'C'}"],
        )
        for day in dict.fromkeys(segments["day"]):
            today = above * (segments["day"] == day).to_numpy(float)
            if today.any():
                add("levelling", f"{name}/{day}/along", {"level_along": today})
                add("levelling", f"{name}/{day}/across", {"level_across": today})
        add("cooling", name, {"cooling": above})
        add("body_temperature", name, {"body_lw_in": above, "body_lw_out": mine})
        add(
            "body_gradient",
            name,
            {"body_lw_in": above * (1.0 + SHOCK * segments["thermal_shock"].to_numpy(float))},
        )
        add("window", name, {"window_lw_in": above, "window_lw_out": mine})
        add("own_shade", name, {"own_shade": mine})
        if on("carrier_reflection"):
            middle, sigma, distribution = middle_and_sigma(terms["carrier_reflection"])
            sources.append(
                Source(
                    "carrier_reflection",
                    name,
                    {"carrier_dark": -mine * sigma},
                    {"carrier_dark": mine * (1.0 - middle)},
                    distribution,
                )
            )
        if on("carrier_warmth"):
            middle, sigma, distribution = middle_and_sigma(terms["carrier_warmth"])
            sources.append(
                Source(
                    "carrier_warmth",
                    name,
                    {"carrier_warmth": mine * sigma},
                    {"carrier_warmth": mine * middle, "carrier_there": mine},
                    distribution,
                )
            )
    for index, segment in enumerate(segments["segment"]):
        one = np.zeros(len(segments))
        one[index] = 1.0
        add("diffuse_fraction", segment, {"diffuse_fraction": one})
        # who carries the upper heads carries the lower ones: an unknown heading is one, unless the incoming terms are another set's
        unknown = [kind for kind in ("heading", "incoming_heading") if np.isnan(segments[kind].iloc[index])]
        for kinds in (
            [unknown]
            if segments["incoming_set"].iloc[index] == segments["set"].iloc[index]
            else [[kind] for kind in unknown]
        ):
            if kinds:
                add(
                    "heading",
                    f"{segment}/{kinds[0]}" if kinds == ["incoming_heading"] else segment,
                    {kind: one for kind in kinds},
                )
        for channel in RADIATION:
            size = segments[f"noise_{channel}"].iloc[index]
            if on("noise") and size > 0:
                sources.append(Source("noise", f"{segment}/{channel}", {f"zero_{channel}": one * size}))
    for channel in ("sw_out", "lw_out"):
        for index, size in intercompare.ground_scatter(segments, channel).items():
            if on("side_by_side") and size > 0:
                one = np.arange(len(segments)) == index
                sources.append(
                    Source(
                        "side_by_side",
                        f"{segments['segment'].iloc[index]}/{channel}",
                        {f"side_by_side_{channel}": one * size},
                    )
                )
    return sources + added_sources(segments, terms)


def station_sources(segments: pd.DataFrame, above: np.ndarray, terms: Mapping[str, Mapping]) -> list[Source]:
    """The errors of incoming terms that are a fixed station's: its own, shared by all, and the sky's that differs between it and each segment.

    above: 1 for segments whose incoming terms are the station's. Relative to the flux itself, for both bands.
    """
    sources = []
    for band in ("sw", "lw"):
        flux = above * np.nan_to_num(segments[f"{band}_in"].to_numpy(float))
        for term, units in (
            (f"station_{band}", [("station", flux)]),
            (
                f"station_sky_{band}",
                [
                    (name, flux * (segments["segment"] == name).to_numpy(float))
                    for name, there in zip(segments["segment"], above)
                    if there
                ],
            ),
        ):
            if terms[term]["enabled"] == "true":
                sources += [
                    Source(term, unit, {f"zero_{band}_in": size * float(terms[term]["sigma"]) / 100.0})
                    for unit, size in units
                ]
    return sources


def added_sources(segments: pd.DataFrame, terms: Mapping[str, Mapping]) -> list[Source]:
    """The errors that somebody added to uncertainty.csv: `acts_on` names an error of the model, `shared_by` what has one value of it."""
    sources = []
    units = {
        "campaign": np.full(len(segments), "campaign"),
        "set": segments["set"],
        "set and day": segments["set"] + "/" + segments["day"],
        "segment": segments["segment"],
        "surface": segments["surface"],
    }
    for name, row in terms.items():
        if row.get("acts_on") and row["enabled"] == "true":
            middle, sigma, distribution = middle_and_sigma(row)
            part = 0.01 if row["unit"].startswith("%") else 1.0
            for unit in dict.fromkeys(units[row["shared_by"]]):
                mine = (np.asarray(units[row["shared_by"]]) == unit) * part
                sources.append(
                    Source(
                        name,
                        unit,
                        {row["acts_on"]: mine * sigma},
                        {row["acts_on"]: mine * middle} if middle else {},
                        distribution,
                    )
                )
    return sources


BASIS_POINTS, BASIS_LEAST = 250, 1e-2
"""Directions that the basis of the directional error is made from, and the least of its components, as part of the largest: 43 remain, and correlations are right to 0.04."""


@cache
def _directional_basis() -> tuple[np.ndarray, np.ndarray]:
    """Directions evenly over the sky as unit vectors, and the weights that turn correlations with them into components of a unit Gaussian process."""
    height = (np.arange(BASIS_POINTS) + 0.5) / BASIS_POINTS
    turn = math.pi * (1.0 + math.sqrt(5.0)) * np.arange(BASIS_POINTS)
    points = np.stack(
        [np.sqrt(1.0 - height**2) * np.cos(turn), np.sqrt(1.0 - height**2) * np.sin(turn), height], axis=1
    )
    values, components = np.linalg.eigh(_correlation_of_directions(points, points))
    kept = values > BASIS_LEAST * values[-1]
    return points, (components[:, kept] / np.sqrt(values[kept]))[:, ::-1]


def _correlation_of_directions(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.exp(-0.5 * (np.degrees(np.arccos(np.clip(a @ b.T, -1.0, 1.0))) / DIRECTIONAL_LENGTH) ** 2)


def directional_components(elevation, azimuth) -> np.ndarray:
    """Components of a smooth random function over the sky at some directions (directions x components): its value there is their sum, each times a standard normal number.

    elevation, azimuth: degrees. Unit variance, and correlation exp(-(angle / 20 degrees)^2 / 2) between directions. The components depend on nothing but the direction, so that
    another segment changes no other's numbers.
    """
    up, round_ = np.radians(np.asarray(elevation, dtype=float)), np.radians(np.asarray(azimuth, dtype=float))
    points, weights = _directional_basis()
    values = (
        _correlation_of_directions(
            np.stack([np.cos(up) * np.sin(round_), np.cos(up) * np.cos(round_), np.sin(up)], axis=1), points
        )
        @ weights
    )
    return values / np.linalg.norm(values, axis=1, keepdims=True)


def directional_sources(
    segments: pd.DataFrame, mine: np.ndarray, set_name: str, term: Mapping[str, str]
) -> list[Source]:
    """The directional error of a set: a smooth function of where the sun stands, so that it cancels between visits with a similar sun.

    One source a component of `directional_components`; all share the set's amplitude.
    """
    where = np.flatnonzero((mine > 0) & (segments["solar_elevation"] > 0).to_numpy())
    if term["enabled"] != "true" or not len(where):
        return []
    components = directional_components(
        segments["solar_elevation"].iloc[where], segments["solar_azimuth"].iloc[where]
    )
    _, sigma, _ = middle_and_sigma(term)
    sources = []
    for number, component in enumerate(components.T):
        shift = np.zeros(len(segments))
        shift[where] = component * sigma
        sources.append(
            Source(
                term["term"],
                f"{set_name}/{number}",
                {"directional": shift},
                amplitude=f"directional|{set_name}",
            )
        )
    return sources


def table_sources(
    segments: pd.DataFrame,
    groups: pd.DataFrame,
    surfaces: Mapping[str, Mapping],
    terms: Mapping[str, Mapping],
) -> list[Source]:
    """The errors that the tables of surface classes bring, each shared by a class. Ranges are rectangular; a range's middle need not be its value."""
    sources = []
    day = groups["day"].to_numpy(bool)
    for name in dict.fromkeys([*segments["surface"], *groups["surface"]]):
        if name not in surfaces:
            continue
        of_segments, of_groups = ((frame["surface"] == name).to_numpy(float) for frame in (segments, groups))
        entry = surfaces[name]
        fraction = SPLIT_PROPERTY.get(entry["latent_method"]["value"], "")
        for term, reach in {
            "emissivity": {
                "emissivity": ("emissivity", of_segments),
                "emissivity_group": ("emissivity", of_groups),
            },
            "sky_response": {"sky_response": ("sky_response", of_groups)},
            "ground_heat_fraction": {"ground_heat_fraction": ("ground_heat_fraction_day", of_groups * day)},
            "ground_heat_fraction_night": {
                "ground_heat_fraction": ("ground_heat_fraction_night", of_groups * ~day)
            },
            "latent_heat_fraction": {"latent_heat_fraction": (fraction, of_groups)},
        }.items():
            row = term.removesuffix("_night")
            shift, middle = {}, {}
            for error, (key, where) in reach.items():
                value, low, high = (entry.get(key, {}).get(end, "") for end in ("value", "low", "high"))
                if where.any() and isinstance(low, float) and isinstance(high, float):
                    shift[error] = where * (high - low) / 2.0 / math.sqrt(3.0)
                    middle[error] = where * ((low + high) / 2.0 - value)
            if terms[row]["enabled"] == "true" and any(size.any() for size in shift.values()):
                sources.append(Source(row, f"{name}{term.removeprefix(row)}", shift, middle, RECTANGULAR))
    return sources


def ground_sources(groups: pd.DataFrame, terms: Mapping[str, Mapping]) -> list[Source]:
    """The error by the ground not walked, each group's own: its SW_out and LW_out move together as their residuals do.

    Standard error s / sqrt(n) with Student's t for n - 1 degrees of freedom, n the independent looks at the ground. A group with fewer than 5 has none here:
    it gets no interval.
    """
    sources = []
    for index, row in enumerate(groups.to_dict("records")):
        if terms["ground"]["enabled"] != "true" or not row["independent"] >= FEWEST_LOOKS:
            continue
        one = np.zeros(len(groups))
        one[index] = (
            stdtrit(row["independent"] - 1.0, 0.5 + COVERAGE / 2.0)
            / NORMAL_95
            / math.sqrt(row["independent"])
        )
        rho, name = (
            row["ground_correlation"],
            "/".join(str(row[column]) for column in ("surface", "field") if column in row),
        )
        distribution = student(row["independent"] - 1.0)
        sources.append(
            Source(
                "ground",
                f"{name}/shared",
                {
                    "ground_sw_out": one * row["ground_sw_out"],
                    "ground_lw_out": one * rho * row["ground_lw_out"],
                },
                {},
                distribution,
            )
        )
        sources.append(
            Source(
                "ground",
                f"{name}/lw_out",
                {"ground_lw_out": one * math.sqrt(max(1.0 - rho**2, 0.0)) * row["ground_lw_out"]},
                {},
                distribution,
            )
        )
    return sources


def sky_sources(
    groups: pd.DataFrame, surfaces: Mapping[str, Mapping], terms: Mapping[str, Mapping]
) -> list[Source]:
    """What the common sky leaves over: each group had adjusted to another shortwave than that of its visits, by `sky_memory` of step 6, and warmed by its class's response to it.

    The response is drawn where its range is: it is the amplitude of these sources, the same in all of a class and in `table_sources`.
    """
    if terms["sky_memory"]["enabled"] != "true":
        return []
    sources = []
    for index, row in enumerate(groups.to_dict("records")):
        name, entry = (
            "/".join(str(row[column]) for column in ("surface", "field") if column in row),
            surfaces[row["surface"]]["sky_response"],
        )
        middle, sigma = entry["value"], 0.0
        if (
            terms["sky_response"]["enabled"] == "true"
            and isinstance(entry.get("low"), float)
            and isinstance(entry.get("high"), float)
        ):
            middle, sigma = (
                (entry["low"] + entry["high"]) / 2.0,
                (entry["high"] - entry["low"]) / 2.0 / math.sqrt(3.0),
            )
        size = np.where(
            np.arange(len(groups)) == index, math.hypot(middle, sigma) * groups["sky_memory"], 0.0
        )
        drawn = {"amplitude": f"sky_response|{row['surface']}", "around": middle / sigma} if sigma else {}
        sources.append(Source("sky_memory", name, {"sky_memory": size}, **drawn))
    return sources


# From draws to tables --------------------------------------------------------------------------------------------


def contributions(results: Errors) -> dict[str, np.ndarray]:
    """What each source contributes to each number (sources x numbers), from a model run on `one_at_a_time`: half the difference between up and down (JCGM 100:2008, 5.1.3, note 2)."""
    return {name: (rows[: len(rows) // 2] - rows[len(rows) // 2 :]) / 2.0 for name, rows in results.items()}


def half_width(parts: np.ndarray) -> np.ndarray:
    """Half width of the linear 95 % interval from independent contributions along the first axis: 1.96 sqrt(sum u^2) (JCGM 100:2008, eq. 10)."""
    return NORMAL_95 * np.sqrt(np.sum(parts**2, axis=0))


def with_intervals(
    values: Errors, draws: Errors, linear: Mapping[str, Linear], unknown: np.ndarray | None = None
) -> pd.DataFrame:
    """Columns Q, Q_low, Q_high of each quantity. linear: the linear part of each. unknown: groups whose ground can't be known, which get no interval but for the sky's own terms."""
    columns = {}
    for name, value in values.items():
        low, high = interval(draws[name], value, linear[name])
        if unknown is not None and name not in SKY:
            low, high = np.where(unknown, np.nan, low), np.where(unknown, np.nan, high)
        columns |= {name: value, f"{name}_low": low, f"{name}_high": high}
    return pd.DataFrame(columns)


def differences(
    groups: pd.DataFrame,
    values: Errors,
    draws: Errors,
    unknown: np.ndarray,
    linear: Mapping[str, Linear],
    sources: Sequence[Source],
) -> pd.DataFrame:
    """One row a pair of surfaces and quantity, with the interval of the difference, in which shared errors cancel (each draw moves both, and so does each source)."""
    records = []
    names = groups["surface"].tolist()
    for a in range(len(groups) - 1):
        between = lambda array: array[:, [a]] - array[:, a + 1 :]
        found = {
            name: (
                values[name][a] - values[name][a + 1 :],
                linear_of(between(linear[name].parts), sources, between(linear[name].draws)),
            )
            for name in COMPARED
        }
        found = {
            name: (value, *interval(between(draws[name]), value, part))
            for name, (value, part) in found.items()
        }
        for b in range(a + 1, len(groups)):
            for name in COMPARED:
                difference, low, high = (column[b - a - 1] for column in found[name])
                known = not unknown[a] and not unknown[b] and np.isfinite(difference)
                records.append(
                    {
                        "surface_a": names[a],
                        "surface_b": names[b],
                        "quantity": name,
                        "difference": difference,
                        "difference_low": low if known else np.nan,
                        "difference_high": high if known else np.nan,
                        "distinguishable": bool(low > 0 or high < 0) if known else None,
                    }
                )
    return pd.DataFrame(
        records,
        columns=[
            "surface_a",
            "surface_b",
            "quantity",
            "difference",
            "difference_low",
            "difference_high",
            "distinguishable",
        ],
    )


def budget(
    groups: pd.DataFrame, parts: Errors, sources: Sequence[Source], terms: Mapping[str, Mapping]
) -> pd.DataFrame:
    """One row a surface, or pair of surfaces ("a - b"), quantity and source: half width from this source alone, and its share of the variance.

    Linear; the sources are independent (what correlates two inputs is a source of its own), so shares add up to 1. In a difference, what both surfaces share cancels.
    """
    labels = np.array([terms[source.term]["label"] for source in sources])
    different = list(dict.fromkeys(labels))
    belongs = (labels[None, :] == np.array(different)[:, None]).astype(float)  # labels x sources
    names = groups["surface"].tolist()
    wanted = [
        (name, quantity, parts[quantity][:, i]) for i, name in enumerate(names) for quantity in QUANTITIES
    ]
    wanted += [
        (f"{names[a]} - {names[b]}", quantity, parts[quantity][:, a] - parts[quantity][:, b])
        for a, b in combinations(range(len(names)), 2)
        for quantity in COMPARED
    ]
    records = []
    for name, quantity, part in wanted:
        variance = part**2
        total = variance.sum()
        if not total > 0:
            continue
        for label, value in sorted(zip(different, belongs @ variance), key=lambda item: -item[1]):
            if value / total > 1e-15:  # what is left of rounding where a source has no part is no source
                records.append(
                    {
                        "surface": name,
                        "quantity": quantity,
                        "source": label,
                        "half_width_95": NORMAL_95 * math.sqrt(value),
                        "share": value / total,
                    }
                )
    return pd.DataFrame(records, columns=["surface", "quantity", "source", "half_width_95", "share"])


def linear_check(
    groups: pd.DataFrame, parts: Errors, draws: Errors, linear: Mapping[str, Linear]
) -> pd.DataFrame:
    """The two ways side by side, a row a surface and quantity: half width by linear propagation, and half of what the draws span; how much further the draws reach up than
    down from their median, as part of the span; and how well the number of draws settles an end, as part of the span."""
    records = []
    for name in QUANTITIES:
        low, high = ends(draws[name], linear[name])
        straight, spans, unsettled = (
            half_width(parts[name]),
            (high - low) / 2.0,
            end_error(draws[name], linear[name]),
        )
        with np.errstate(invalid="ignore", divide="ignore"):
            skew = (high + low - 2.0 * np.median(draws[name], axis=0)) / (high - low)
            unsettled = unsettled / (high - low)
        records += [
            {
                "surface": s,
                "quantity": name,
                "half_width_linear": a,
                "half_width_draws": b,
                "skew": c,
                "end_error": d,
            }
            for s, a, b, c, d in zip(groups["surface"], straight, spans, skew, unsettled)
        ]
    return pd.DataFrame(
        records, columns=["surface", "quantity", "half_width_linear", "half_width_draws", "skew", "end_error"]
    )


def memberships(
    segments: pd.DataFrame, groups: pd.DataFrame, by: Sequence[str]
) -> tuple[np.ndarray, np.ndarray]:
    """Weights of the segments in each group (rows sum to 1) and in the common sky, by their recorded time."""
    counted = segments.index.isin(counted_segments(segments).index)
    weight = np.where(counted, segments["weight"].to_numpy(float), 0.0)
    members = np.zeros((len(groups), len(segments)))
    for index, row in enumerate(groups.to_dict("records")):
        inside = np.logical_and.reduce([(segments[column] == row[column]).to_numpy() for column in by])
        members[index] = np.where(inside, weight, 0.0)
    total = members.sum(axis=1, keepdims=True)
    return members / np.where(total > 0, total, 1.0), weight / (weight.sum() or 1.0)


def with_class_values(
    means: pd.DataFrame, balances: pd.DataFrame, surfaces: Mapping[str, Mapping]
) -> pd.DataFrame:
    """Means and energy balance of groups side by side, with the class values that the model needs."""
    keys = [column for column in ("surface", "field") if column in means]
    groups = means.merge(balances, on=keys, validate="one_to_one")
    of_class = lambda key: np.array([surfaces[s][key]["value"] for s in groups["surface"]], dtype=float)
    return groups.assign(
        emissivity=of_class("emissivity"),
        sky_response=of_class("sky_response"),
        day=groups["day"].astype(bool),
    )


@dataclass(frozen=True)
class Result:
    """What users get from step 8, as frames, with the number of sources and the findings."""

    segments: pd.DataFrame
    fields: pd.DataFrame
    surfaces: pd.DataFrame
    differences: pd.DataFrame
    budget: pd.DataFrame
    linear: pd.DataFrame
    intercomparison: pd.DataFrame
    clouds: pd.DataFrame
    sources: int
    findings: list[Finding]


SHOWN_DRAWS = 400
"""Draws of each surface's net radiation that are kept for the picture of what two surfaces share."""


def propagate(
    segments: pd.DataFrame,
    means: Mapping[str, pd.DataFrame],
    balances: Mapping[str, pd.DataFrame],
    certificates: pd.DataFrame,
    surfaces: Mapping[str, Mapping],
    terms: Mapping[str, Mapping],
    carrying: Mapping[str, float],
    seed: int,
    draws: int,
    set_scale: str = "none",
    one_sided: str = "leave",
) -> Result:
    """Intervals for all that users get.

    segments: step 6's, with what `prepare` adds. means, balances: steps 6 and 7's of `fields` and `surfaces`. certificates: in force, all sets. surfaces: class
    properties. terms: rows of uncertainty.csv by term. set_scale, one_sided: as in campaign.yaml. Printed values are the model's own without errors, which are those of steps
    6 and 7 unless sets are put on one scale or effects of one sign are taken out.
    """
    shade = shade_of(segments, carrying)
    groups = {kind: with_class_values(means[kind], balances[kind], surfaces) for kind in GROUPINGS}
    scale, findings = intercompare.scale_of(segments, set_scale)
    instruments = instrument_sources(segments, certificates, terms)
    tables = table_sources(segments, groups["surfaces"], surfaces, terms)
    nominal = (
        middles([source for source in instruments if source.term in ONE_SIDED])
        if one_sided == "correct"
        else {}
    )
    of_segments = [*instruments, *(s for s in tables if s.term == "emissivity")]
    xi = scores(of_segments, seed, draws)
    errors = moved(of_segments, xi)

    def model(scale: Scale | None) -> list[Errors]:
        return [measured(segments, shade, e, scale) for e in (nominal, errors)]

    def printed(plain: Errors, flux: Errors, scale: Scale | None) -> pd.DataFrame:
        shifted = measured(segments, shade, one_at_a_time(of_segments), scale)
        linear = linear_parts(contributions({name: shifted[name] for name in MEASURED}), of_segments, [xi])
        return with_intervals({name: plain[name][0] for name in MEASURED}, flux, linear)

    plain, flux = model(scale)
    plain_as_read, as_read = model(None) if scale else (plain, flux)
    # the most of what this step holds, and from here on only these are asked for
    errors = {name: values for name, values in errors.items() if name.startswith("side_by_side_")}
    own_scale = printed(plain_as_read, as_read, None)
    result = {
        "segments": pd.concat(
            [segments.drop(columns=list(MEASURED)), printed(plain, flux, scale) if scale else own_scale],
            axis=1,
        )
    }
    result["intercomparison"] = intercompare.comparison(segments, own_scale, as_read, errors)
    for kind, by in GROUPINGS.items():
        group = groups[kind]
        members, sky = memberships(segments, group, by)
        own = [
            *table_sources(segments, group, surfaces, terms),
            *ground_sources(group, terms),
            *sky_sources(group, surfaces, terms),
        ]
        sources, of_own = [*instruments, *own], scores(own, seed, draws)
        sampled = grouped(flux, segments, group, members, sky, moved(own, of_own))
        values = {name: value[0] for name, value in grouped(plain, segments, group, members, sky, {}).items()}
        unknown = ~(group["independent"].to_numpy(float) >= FEWEST_LOOKS)
        shifted = one_at_a_time(sources)
        parts = contributions(
            grouped(measured(segments, shade, shifted, scale), segments, group, members, sky, shifted)
        )
        linear = linear_parts(parts, sources, [xi[: len(instruments)], of_own])
        result[kind] = pd.concat(
            [group[[*by, "segments", "samples_used"]], with_intervals(values, sampled, linear, unknown)],
            axis=1,
        )
        findings += [
            Finding(
                "interval-unknown",
                facts={
                    "group": f"The field {row['field']}"
                    if "field" in by
                    else f"The surface {row['surface']}",
                    "looks": f"{row['independent']:.1f}",
                },
            )
            for row in group[unknown].to_dict("records")
        ]
        if kind == "surfaces":
            result |= {
                "differences": differences(group, values, sampled, unknown, linear, sources),
                "budget": budget(group, parts, sources, terms),
                "linear": linear_check(group, parts, sampled, linear),
                "sources": len(sources),
                "clouds": pd.DataFrame(
                    sampled["net_radiation"][:SHOWN_DRAWS], columns=group["surface"].tolist()
                ),
            }
    return Result(**result, findings=findings)
