"""Errors that all segments of a set share: of its heads as they are mounted and carried.

Most hold for the whole campaign, levelling for a day.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.base.classes import GRADES, UNKNOWN_GRADE
from headland.physics.constants import RADIATION
from headland.physics.radiation import ALBEDO_ELEVATION
from headland.uncertainty.directional import directional_sources
from headland.uncertainty.draws import Source
from headland.uncertainty.heads import Heads, has_two_thermometers
from headland.uncertainty.inputs import reflected_share
from headland.uncertainty.terms import PERCENT, Rows, around, is_on, of_term, sources_of

SHOCK = 3.0
"""How many times larger than usual the temperature difference between head and thermometer is, on top of its
usual size, while the body temperature runs faster than the limit of `thermal-shock` (common practice, no
source: 0.3 K becomes 1.2 K)."""

DARKEST = 0.03
"""Albedo below which the carrier's light over the ground's is worked out no further (common practice, no
source)."""


def set_sources(heads: Heads, name: str, certificates: pd.DataFrame, rows: Rows) -> list[Source]:
    """All errors that the segments of one set share. name: of the set. certificates: those in force."""
    upper, lower = heads.upper[name], heads.lower[name]
    grade = grade_of(name, certificates)
    return [
        *directional_sources(heads.segments, upper, name, rows[f"directional_{grade}"]),
        *levelling_of_days(heads.segments, upper, name, rows),
        *body_sources(heads, name, certificates, rows),
        *window_sources(heads, name, certificates, rows),
        *logger_gain(heads, name, rows),
        *sources_of(rows, "own_shade", name, {"own_shade": lower}),
        *sources_of(rows, "stick_side", name, {"stick_side": lower}),
        *carrier_reflection(heads.segments, lower, name, rows),
        *carrier_warmth(lower, name, rows),
    ]


def grade_of(name: str, certificates: pd.DataFrame) -> str:
    """The class of a set's upper shortwave head; the widest where none is known."""
    head = (certificates["set"] == name) & (certificates["channel"] == "sw_in")
    classes = certificates.loc[head, "instrument_class"].tolist()
    return classes[0] if classes and classes[0] in GRADES else UNKNOWN_GRADE


def body_sources(heads: Heads, name: str, certificates: pd.DataFrame, rows: Rows) -> list[Source]:
    """The errors of the body temperatures of a set's longwave heads.

    One thermometer errs for both heads, and the upper head differs from it. Two thermometers err each for
    itself, and each head differs from its own, so net longwave keeps the errors of both.
    """
    upper, lower = heads.upper[name], heads.lower[name]
    grade = grade_of(name, certificates)
    shocked = 1.0 + SHOCK * heads.segments["thermal_shock"].to_numpy(float)
    if not has_two_thermometers(name, certificates):
        reach = {"body_lw_in": upper, "body_lw_out": lower}
        return [
            *sources_of(rows, "body_temperature", name, reach, grade=grade),
            *sources_of(rows, "body_gradient", name, {"body_lw_in": upper * shocked}),
        ]
    sources = []
    for channel, mine in (("lw_in", upper), ("lw_out", lower)):
        unit, error = f"{name}/{channel}", f"body_{channel}"
        sources += sources_of(rows, "body_temperature", unit, {error: mine}, grade=grade)
        sources += sources_of(rows, "body_gradient", unit, {error: mine * shocked})
    return sources


def logger_gain(heads: Heads, name: str, rows: Rows) -> list[Source]:
    """The gain of a set's logger, which all its channels share."""
    reach = {f"factor_{channel}": heads.of(name, channel) for channel in RADIATION}
    return sources_of(rows, "logger_gain", name, reach, PERCENT)


def window_sources(heads: Heads, name: str, certificates: pd.DataFrame, rows: Rows) -> list[Source]:
    """The sun on the windows of a set's longwave heads.

    A coefficient of the certificate is a known effect of that head alone, and a part of it stays unknown.
    Heads without one share what is usual, as much as the wind leaves of it.
    """
    own = certificates[certificates["set"] == name].set_index("channel")["window_coefficient"]
    sunlit = heads.segments["window_heating"].to_numpy(float)
    usual, sources = {}, []
    for channel, mine in (("lw_in", heads.upper[name]), ("lw_out", heads.lower[name])):
        error, coefficient = f"window_{channel}", own.get(channel, math.nan)
        if math.isnan(coefficient):
            usual[error] = mine * sunlit
            continue
        part = sources_of(rows, "window_stated", f"{name}/{channel}", {error: mine * coefficient})
        sources += around({error: mine * coefficient}, part)
    return sources + (sources_of(rows, "window", name, usual) if usual else [])


def levelling_of_days(segments: pd.DataFrame, upper: np.ndarray, name: str, rows: Rows) -> list[Source]:
    """A set is levelled again each day: one error along the walk and one across it, for every day."""
    sources = []
    for day in dict.fromkeys(segments["day"]):
        today = upper * (segments["day"] == day).to_numpy(float)
        if today.any():
            sources += sources_of(rows, "levelling", f"{name}/{day}/along", {"level_along": today})
            sources += sources_of(rows, "levelling", f"{name}/{day}/across", {"level_across": today})
    return sources


def carrier_reflection(segments: pd.DataFrame, lower: np.ndarray, name: str, rows: Rows) -> list[Source]:
    """The carrier's light over the ground's, q, acts on the model as what is missing, 1 - q.

    An upright side gets half of the diffuse light, half of what the ground reflects, and of the beam up to
    B tan Z: the more the lower the sun. Clothes reflect a part of it, the ground its albedo of SW_in. So over
    dark ground, and under a low sun, a carrier is bright.
    """
    clothes, facing = of_term(rows["carrier_reflection"]), of_term(rows["carrier_lit"])
    albedo = reflected_share(segments)
    dark = np.where(np.isfinite(albedo), lower, 0.0)
    ground = np.clip(np.nan_to_num(albedo, nan=1.0), DARKEST, None)
    beam = dark * light_of_side(segments)
    light = dark * (segments["diffuse_fraction"].to_numpy(float) + ground) / 2.0 / ground
    lit = beam * facing.middle * is_on(rows, "carrier_lit")
    shift = {"carrier_dark": -(light + lit) * clothes.sigma}
    middle = {"carrier_dark": dark - light * clothes.middle}
    sources = [Source("carrier_reflection", name, shift, middle, clothes.distribution)]
    side = sources_of(rows, "carrier_lit", name, {"carrier_dark": -beam * clothes.middle})
    return sources * is_on(rows, "carrier_reflection") + side


def light_of_side(segments: pd.DataFrame) -> np.ndarray:
    """The beam on an upright side that faces the sun, over what the ground reflects, (segments).

    (1 - k_d) tan Z / albedo; 0 in the dark. The sun counts as at 10 degrees at least: no albedo is taken
    lower.
    """
    elevation = np.clip(segments["solar_elevation"].to_numpy(float), ALBEDO_ELEVATION, 90.0)
    beam = (1.0 - segments["diffuse_fraction"].to_numpy(float)) / np.tan(np.radians(elevation))
    albedo = reflected_share(segments)
    lit = np.isfinite(albedo) & np.isfinite(beam)
    return np.where(lit, beam / np.clip(np.where(lit, albedo, 1.0), DARKEST, None), 0.0)


def carrier_warmth(lower: np.ndarray, name: str, rows: Rows) -> list[Source]:
    """The carrier's warmth above the air; with it the carrier is in the longwave view at all."""
    if not is_on(rows, "carrier_warmth"):
        return []
    size = of_term(rows["carrier_warmth"])
    middle: Mapping = {"carrier_warmth": lower * size.middle, "carrier_there": lower}
    return [Source("carrier_warmth", name, {"carrier_warmth": lower * size.sigma}, middle, size.distribution)]
