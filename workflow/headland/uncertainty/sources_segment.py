"""Errors that are new in each segment: its sky, a heading not noted, noise, the ground side by side; and what
lies beside a strip."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.physics.constants import RADIATION
from headland.uncertainty import intercompare
from headland.uncertainty.draws import Source
from headland.uncertainty.terms import Rows, is_on, sources_of

HEADINGS = ("heading", "incoming_heading")


def segment_sources(segments: pd.DataFrame, rows: Rows) -> list[Source]:
    """All errors that are one segment's own."""
    sources = []
    for index in range(len(segments)):
        here = np.zeros(len(segments))
        here[index] = 1.0
        segment = segments.iloc[index]
        sources += sources_of(rows, "diffuse_fraction", segment["segment"], {"diffuse_fraction": here})
        sources += heading_sources(segment, here, rows)
        sources += noise_sources(segment, here, rows)
        sources += left_out_sources(segment, here, rows)
    for channel in ("sw_out", "lw_out"):
        sources += side_by_side_sources(segments, channel, rows)
    return sources + neighbour_sources(segments, rows)


def neighbour_sources(segments: pd.DataFrame, rows: Rows) -> list[Source]:
    """What lies beside each strip: as much brighter and warmer at every visit."""
    strips = segments["neighbours"].to_numpy(float) > 0
    sources = []
    for field in dict.fromkeys(segments["field"][strips]):
        here = (segments["field"] == field).to_numpy(float)
        for term in ("neighbour_albedo", "neighbour_longwave"):
            sources += sources_of(rows, term, str(field), {term: here})
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


def side_by_side_sources(segments: pd.DataFrame, channel: str, rows: Rows) -> list[Source]:
    """The ground under sets side by side, which is not quite the same for each. channel: an outgoing term."""
    sources = []
    for index, size in intercompare.ground_scatter(segments, channel).items():
        if is_on(rows, "side_by_side") and size > 0:
            here = np.arange(len(segments)) == index
            unit = f"{segments['segment'].iloc[index]}/{channel}"
            sources.append(Source("side_by_side", unit, {f"side_by_side_{channel}": here * size}))
    return sources
