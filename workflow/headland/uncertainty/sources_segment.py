"""Errors that are new in each segment: its sky, a heading not noted, noise, the ground side by side; and what
lies beside a strip."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.physics import longwave
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.uncertainty import intercompare
from headland.uncertainty.draws import Source
from headland.uncertainty.inputs import reflected_share
from headland.uncertainty.terms import Rows, is_on, of_range, of_term, sources_of

HEADINGS = ("heading", "incoming_heading")

SNOW = 0.4
"""Albedo from which a strip is taken as snow (Oke 1987, Table 1.1: old snow 0.40; from memory)."""


def segment_sources(segments: pd.DataFrame, rows: Rows) -> list[Source]:
    """All errors that are one segment's own."""
    sources = []
    for index in range(len(segments)):
        here = np.zeros(len(segments))
        here[index] = 1.0
        segment = segments.iloc[index]
        sources += sources_of(rows, "diffuse_fraction", segment["segment"], {"diffuse_fraction": here})
        sources += heading_sources(segment, here, rows)
        sources += levelling_of_pass(segment, here, rows)
        sources += noise_sources(segment, here, rows)
        sources += left_out_sources(segment, here, rows)
        sources += left_out_ground_sources(segment, here, rows)
    for channel in ("sw_out", "lw_out"):
        sources += side_by_side_sources(segments, channel, rows)
    return sources + neighbour_sources(segments, rows)


def neighbour_sources(segments: pd.DataFrame, rows: Rows) -> list[Source]:
    """What lies beside each strip: one albedo and one warmth at every visit.

    The table has the albedo of the ground beside, and its emission over that of a black body of the air's
    temperature for the sun on it. The model takes both less what the head read: n = albedo - SW_out / SW_in
    and n_L = emission - L_out. In the dark, and beside snow, where snow lies as well, nothing is known of the
    neighbours but that they differ.
    """
    strips = segments["neighbours"].to_numpy(float) > 0
    albedo, air = reflected_share(segments), segments["air_temperature"].to_numpy(float) + ZERO_CELSIUS
    lit = np.isfinite(albedo) & np.isfinite(air)
    known = lit & (np.nan_to_num(albedo) < SNOW)
    read = {"neighbour_albedo": np.nan_to_num(albedo)}
    read["neighbour_warmth"] = segments["lw_out"].to_numpy(float) - longwave.own_emission(air)
    sun = {"neighbour_albedo": np.ones(len(segments)), "neighbour_warmth": segments["sw_in"].to_numpy(float)}
    acts = {"neighbour_albedo": "neighbour_albedo", "neighbour_warmth": "neighbour_longwave"}
    sources = []
    for field in dict.fromkeys(segments["field"][strips]):
        here = (segments["field"] == field).to_numpy(float)
        for term, error in acts.items():
            if is_on(rows, term):
                size = of_term(rows[term])
                shift = {error: np.where(lit, here * sun[term], 0.0) * size.sigma}
                middle = {error: np.where(known, here * (sun[term] * size.middle - read[term]), 0.0)}
                sources.append(Source(term, str(field), shift, middle, size.distribution))
        sources += sources_of(rows, "neighbour_longwave", str(field), {"neighbour_longwave": here})
    return sources


def heading_sources(segment: pd.Series, here: np.ndarray, rows: Rows) -> list[Source]:
    """A heading that the notes do not have.

    Who carries the upper heads carries the lower ones, so the two headings are one error, unless the incoming
    terms are another set's.
    """
    unknown = [name for name in HEADINGS if np.isnan(segment[name])]
    if segment["incoming_set"] == segment["set"]:
        together = [unknown] if unknown else []
    else:
        together = [[name] for name in unknown]
    sources = []
    for names in together:
        of_monitor = names == ["incoming_heading"]
        unit = f"{segment['segment']}/incoming_heading" if of_monitor else segment["segment"]
        sources += sources_of(rows, "heading", unit, dict.fromkeys(names, here))
    return sources


def levelling_of_pass(segment: pd.Series, here: np.ndarray, rows: Rows) -> list[Source]:
    """Who carries a set holds its upper heads anew each time. A sky monitor stands as it was levelled."""
    if segment["incoming_set"] != segment["set"] or not segment["carrier_view"] > 0:
        return []
    sources = []
    for way in ("along", "across"):
        unit = f"{segment['segment']}/{way}"
        sources += sources_of(rows, "levelling_pass", unit, {f"level_{way}": here})
    return sources


def noise_sources(segment: pd.Series, here: np.ndarray, rows: Rows) -> list[Source]:
    """Noise of each channel's mean, W m-2, as step 6 found it in the samples."""
    sources = []
    for channel in RADIATION:
        size = segment[f"noise_{channel}"]
        if is_on(rows, "noise") and size > 0:
            unit = f"{segment['segment']}/{channel}"
            sources.append(Source("noise", unit, {f"zero_{channel}": here * size}))
    return sources


def left_out_sources(segment: pd.Series, here: np.ndarray, rows: Rows) -> list[Source]:
    """The sun over the samples that do not count, as step 6 found it.

    Its standard uncertainty is the difference of the means itself. What is reflected goes with it, so the
    albedo stays as it is.
    """
    size = abs(segment["left_out"])
    if not is_on(rows, "left_out") or not size > 0:
        return []
    albedo = segment["sw_out"] / segment["sw_in"] if segment["sw_in"] > 0 else 0.0
    shift = {"zero_sw_in": here * size, "zero_sw_out": here * size * albedo}
    return [Source("left_out", segment["segment"], shift)]


def left_out_ground_sources(segment: pd.Series, here: np.ndarray, rows: Rows) -> list[Source]:
    """The ground under the samples that do not count, as step 6 found it.

    What was walked in the noted time is between the samples used and all of them: a rectangle as wide as
    their difference. It concerns the segment alone: a field is not its edges.
    """
    sources = []
    for channel in ("sw_out", "lw_out"):
        bound = abs(segment[f"left_out_{channel}"])
        if is_on(rows, "left_out_ground") and bound > 0:
            size, unit = of_range(-bound, bound), f"{segment['segment']}/{channel}"
            shift = {f"walked_{channel}": here * size.sigma}
            sources.append(Source("left_out_ground", unit, shift, {}, size.distribution))
    return sources


def side_by_side_sources(segments: pd.DataFrame, channel: str, rows: Rows) -> list[Source]:
    """The ground under sets side by side, which is not quite the same for each. channel: an outgoing term."""
    sources = []
    for index, size in intercompare.ground_scatter(segments, channel).items():
        if is_on(rows, "side_by_side") and size > 0:
            here = np.arange(len(segments)) == index
            unit = f"{segments['segment'].iloc[index]}/{channel}"
            sources.append(Source("side_by_side", unit, {f"side_by_side_{channel}": here * size}))
    return sources
