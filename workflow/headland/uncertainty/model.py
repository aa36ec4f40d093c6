"""The measurement model: what each segment measures, had the instruments and their carrying erred.

It is the model of the intervals in docs/method.md, one small function a term, in the same order and with the
same names. Each function takes the segments' means, as rows (1 x segments), and the errors of the draws
(draws x segments); an error that no source makes is 0. Errors are named after what they act on:

    factor_<channel>      relative error of the sensitivity
    zero_<channel>        W m-2
    response_<channel>    s, by which the head lags
    directional           W m-2 in a beam of 1000 W m-2
    level_along, level_across   degrees of levelling, along and across the walk
    heading, incoming_heading   degrees, where the notes have none
    diffuse_fraction      1
    cooling_<sw channel>  W m-2 per W m-2 of net longwave, by which a shortwave head loses or gains heat
    body_<lw channel>     K, of the body temperature
    window_<lw channel>   W m-2 of longwave per W m-2 of shortwave, by the sun on the window
    own_shade             times the plate's shadow
    stick_side            degrees from the heading to the right, where the stick is held
    carrier_dark          1 - the carrier's light over the ground's
    carrier_there         0 or 1
    carrier_warmth        K above the air
    emissivity            1
    neighbour_albedo      1, by which the ground beside a strip reflects more than the head read
    neighbour_longwave    W m-2, by which it emits more
    side_by_side_<channel>  W m-2, by which the ground under one set differed side by side
    walked_sw_out, walked_lw_out  W m-2, by which all that was walked differed from the samples used
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.physics import longwave, radiation
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.uncertainty.draws import Errors, error
from headland.uncertainty.intercompare import Scale, on_one_scale

LOWEST_SUN = 3.0
"""Degrees: with the sun lower there is no beam to speak of, and tan Z is of no use (common practice, no
source)."""

FULL_BEAM = 1000.0
"""W m-2: the beam for which a directional error is stated (ISO 9060); a stronger one makes no larger
error."""

MEASURED = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
"""The measured quantities of a segment."""

NET_LONGWAVE = {"sw_in": "lw_in_net", "sw_out": "lw_out_net"}
"""The net longwave on the side of each shortwave head."""

THERMOMETER = {"lw_in": "incoming_body_temperature", "lw_out": "body_temperature"}
"""The body temperature that belongs to each longwave head."""


def across(frame: pd.DataFrame, name: str) -> np.ndarray:
    """A column as a row (1 x segments or groups), to be combined with errors over draws."""
    return frame[name].to_numpy(float)[None, :]


def measured(
    segments: pd.DataFrame, shade: Callable, errors: Errors, scale: Scale | None = None
) -> dict[str, np.ndarray]:
    """The measured quantities of each segment, had the instruments and their carrying erred.

    segments: as `inputs.prepare` leaves them. shade: as `inputs.shade_of` gives it. errors: over
    (draws x segments), by the names above. scale: how sets are put on one scale, or None.
    Returns the quantities of `MEASURED` and the sums behind the albedo, each (draws x segments); fluxes in
    W m-2, temperature in degC.
    """
    beam = beam_over(segments, errors)
    flux = {"sw_in": incoming_shortwave(segments, beam, errors)}
    flux["sw_out"] = outgoing_shortwave(segments, beam, shade, errors)
    flux["lw_in"] = longwave_of("lw_in", segments, flux["sw_in"], errors)
    flux["lw_out"] = longwave_of("lw_out", segments, flux["sw_out"], errors)
    flux["lw_out"] = without_carrier(segments, flux["lw_out"], errors)
    flux = flux | without_neighbours(segments, flux, errors)
    if scale is not None:
        flux = on_one_scale(flux, scale, errors)
    emissivity = across(segments, "emissivity") + error(errors, "emissivity")
    return flux | derived(flux, segments, emissivity)


def of_whole_walks(flux: Errors, segments: pd.DataFrame, errors: Errors) -> dict[str, np.ndarray]:
    """The same quantities of all that was walked in the noted time, edges of fields included.

    flux: as `measured` gives it. errors: as for it.
    """
    walked = {name: flux[name] + error(errors, f"walked_{name}") for name in ("sw_out", "lw_out")}
    emissivity = across(segments, "emissivity") + error(errors, "emissivity")
    whole = {**flux, **walked}
    return whole | derived(whole, segments, emissivity)


# Shortwave ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Beam:
    """The sun's beam over each segment.

    there: whether the sun is high enough for one. zenith: of the sun, radians; 0 without a beam.
    diffuse: share of SW_in that is not beam. level: the beam on a level surface, B, W m-2.
    """

    there: np.ndarray
    zenith: np.ndarray
    diffuse: np.ndarray
    level: np.ndarray


def beam_over(segments: pd.DataFrame, errors: Errors) -> Beam:
    """The beam, from the measured SW_in and its diffuse fraction."""
    elevation = across(segments, "solar_elevation")
    there = elevation > LOWEST_SUN
    zenith = np.radians(np.where(there, 90.0 - elevation, 0.0))
    diffuse = across(segments, "diffuse_fraction") + error(errors, "diffuse_fraction")
    diffuse = np.clip(diffuse, 0.0, 1.0)
    level = np.where(there, (1.0 - diffuse) * np.clip(across(segments, "sw_in"), 0.0, None), 0.0)
    return Beam(there, zenith, diffuse, level)


def sun_from_ahead(segments: pd.DataFrame, heading: str, errors: Errors) -> np.ndarray:
    """phi, the sun's azimuth minus the heading, degrees; a heading that is not noted is drawn.

    heading: `heading` of the lower heads, or `incoming_heading` of the upper ones.
    """
    noted = across(segments, heading)
    return across(segments, "solar_azimuth") - np.where(np.isnan(noted), error(errors, heading), noted)


def incoming_shortwave(segments: pd.DataFrame, beam: Beam, errors: Errors) -> np.ndarray:
    """SW_in, W m-2: the reading with the errors of the upper shortwave head."""
    return (
        across(segments, "sw_in") * (1.0 + error(errors, "factor_sw_in"))
        + directional(beam, errors)
        + levelling(segments, beam, errors)
        + cooling("sw_in", segments, errors)
        + lag("sw_in", segments, errors)
        + error(errors, "zero_sw_in")
    )


def directional(beam: Beam, errors: Errors) -> np.ndarray:
    """W m-2: the directional error, in proportion to the beam normal to the sun up to 1000 W m-2."""
    normal = beam.level / np.cos(beam.zenith)
    return np.minimum(normal / FULL_BEAM, 1.0) * error(errors, "directional")


def levelling(segments: pd.DataFrame, beam: Beam, errors: Errors) -> np.ndarray:
    """W m-2: a head off level by t along and t' across the walk, B (t cos phi + t' sin phi) tan Z."""
    phi = np.radians(sun_from_ahead(segments, "incoming_heading", errors))
    along = np.radians(error(errors, "level_along"))
    sideways = np.radians(error(errors, "level_across"))
    tilt = along * np.cos(phi) + sideways * np.sin(phi)  # towards the sun
    return beam.level * tilt * np.tan(beam.zenith)


def cooling(channel: str, segments: pd.DataFrame, errors: Errors) -> np.ndarray:
    """W m-2: what a cold sky takes from the upper shortwave head, and warm ground gives to the lower one.

    In proportion to the net longwave on that side.
    """
    return -error(errors, f"cooling_{channel}") * across(segments, NET_LONGWAVE[channel])


def lag(channel: str, segments: pd.DataFrame, errors: Errors) -> np.ndarray:
    """W m-2: what a slow head is behind, its time constant times the rate of change of what it reads."""
    return across(segments, f"rate_{channel}") * error(errors, f"response_{channel}")


def outgoing_shortwave(segments: pd.DataFrame, beam: Beam, shade: Callable, errors: Errors) -> np.ndarray:
    """SW_out, W m-2: the reading with the errors of the lower head, over the part of the ground it sees."""
    reading = (
        across(segments, "sw_out") * (1.0 + error(errors, "factor_sw_out"))
        + cooling("sw_out", segments, errors)
        + lag("sw_out", segments, errors)
        + error(errors, "zero_sw_out")
    )
    return reading / seen(segments, beam, shade, errors)


def seen(segments: pd.DataFrame, beam: Beam, shade: Callable, errors: Errors) -> np.ndarray:
    """Part of the reflected light that arrives: 1 - the carrier's shadow - what its body takes away.

    1 - (1 - k_d) F_shade e - F_carrier (1 - q), with q the carrier's albedo over the ground's. The carrier is
    behind the head along the stick, which may be held to a side.
    """
    phi = np.nan_to_num(sun_from_ahead(segments, "heading", errors)) - error(errors, "stick_side")
    shaded = (1.0 - beam.diffuse) * shade(phi) * error(errors, "own_shade")
    body = across(segments, "carrier_view") * error(errors, "carrier_dark")
    return 1.0 - np.where(beam.there, shaded, 0.0) - body


# Longwave -------------------------------------------------------------------------------------------------


def longwave_of(channel: str, segments: pd.DataFrame, shortwave: np.ndarray, errors: Errors) -> np.ndarray:
    """L_in or L_out, W m-2: the reading with the errors of its head.

    The factor's error acts on the net signal alone. shortwave: what falls on the head's window, W m-2.
    """
    return (
        across(segments, channel)
        + across(segments, f"{channel}_net") * error(errors, f"factor_{channel}")
        + emission(channel, segments, errors)
        - error(errors, f"window_{channel}") * shortwave
        + lag(channel, segments, errors)
        + error(errors, f"zero_{channel}")
    )


def emission(channel: str, segments: pd.DataFrame, errors: Errors) -> np.ndarray:
    """W m-2: what an error of the body temperature adds to the head's own emission."""
    body = across(segments, THERMOMETER[channel]) + ZERO_CELSIUS
    erred = body + error(errors, f"body_{channel}")
    return longwave.own_emission(erred) - longwave.own_emission(body)


def without_carrier(segments: pd.DataFrame, lw_out: np.ndarray, errors: Errors) -> np.ndarray:
    """L_out of the ground alone, W m-2: the carrier's warm body fills a part of the view."""
    hidden = across(segments, "carrier_view") * error(errors, "carrier_there")
    air = across(segments, "air_temperature") + ZERO_CELSIUS
    carrier = longwave.own_emission(air + error(errors, "carrier_warmth"))
    return (lw_out - hidden * carrier) / (1.0 - hidden)


def without_neighbours(segments: pd.DataFrame, flux: Errors, errors: Errors) -> dict[str, np.ndarray]:
    """SW_out and L_out of a strip alone, W m-2: what lies beside it fills a part of the view."""
    share = across(segments, "neighbours")
    brighter = error(errors, "neighbour_albedo") * np.clip(flux["sw_in"], 0.0, None)
    return {
        "sw_out": flux["sw_out"] - share * brighter,
        "lw_out": flux["lw_out"] - share * error(errors, "neighbour_longwave"),
    }


# What follows from the four terms ---------------------------------------------------------------------------


def derived(flux: Errors, segments: pd.DataFrame, emissivity) -> dict[str, np.ndarray]:
    """Albedo with the sums behind it, net radiation and surface temperature of segments.

    flux: the four terms, W m-2 (draws x segments). emissivity: of the ground.
    Returns each over (draws x segments); temperature in degC.
    """
    result = {}
    with np.errstate(invalid="ignore", divide="ignore"):
        # the sums behind the albedo move like the means: sample by sample the errors are the same
        for name in ("sw_in", "sw_out"):
            reading, total = across(segments, name), across(segments, f"albedo_{name}")
            result[f"albedo_{name}"] = np.where(reading > 0, total * flux[name] / reading, np.nan)
        lit = across(segments, "albedo_sw_in") > 0
        result["albedo"] = np.where(lit, result["albedo_sw_out"] / result["albedo_sw_in"], np.nan)
    result["net_radiation"] = radiation.net_radiation(*(flux[channel] for channel in RADIATION))
    kelvin = longwave.surface_temperature(flux["lw_out"], flux["lw_in"], emissivity)
    result["surface_temperature"] = kelvin - ZERO_CELSIUS
    return result
