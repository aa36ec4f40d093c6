"""What the notes alone show: two surfaces in one field, narrow strips, heads too near a canopy."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.groups import COUNTED
from headland.physics.geometry import NEAR_HEIGHT, SMALLEST_HEIGHT, view_within_strip

NEIGHBOURS = 0.2
"""Share of the downward view beside a strip from which it is named (common practice, no source)."""


def ground_noted(segments: pd.DataFrame, walks: bool) -> list[Finding]:
    """One finding for each field with two surfaces, each strip narrower than the view, and each low head.

    segments: noted intervals with `segment`, `set`, `field`, `surface`, `activity`, `height`, `canopy_height`
    and `width` (m), `notes_row`. walks: whether anybody walks; elsewhere the height is not judged.
    """
    counted = segments[segments["activity"].isin(COUNTED) & (segments["field"] != "")]
    findings = heads_too_low(segments) if walks else []
    for name, rows in counted.groupby("field", sort=False):
        findings += _two_surfaces(str(name), rows) + _narrow(str(name), rows)
    return findings


def heads_too_low(rows: pd.DataFrame) -> list[Finding]:
    """One finding for each set and field over whose canopy the head was too low, or near.

    rows: noted intervals, as for `ground_noted`.
    """
    findings = []
    low, near = rows["height"] < SMALLEST_HEIGHT, rows["height"] < NEAR_HEIGHT
    for variant, where in (("", low), ("near", near & ~low)):
        hit = rows[where]
        for _, own in hit.groupby(["set", "field"], sort=False):
            first = own.sort_values("height").iloc[0]
            facts = {
                "height": f"{first['height']:.2f}",
                "canopy": f"{first['canopy_height']:.2f}",
                "segment": own["segment"].iloc[0],
                "field": first["field"],
                "count": len(own),
                "least": f"{SMALLEST_HEIGHT:g}",
            }
            line = int(own["notes_row"].min())
            findings.append(Finding("head-too-low", variant, first["set"], "", line, facts=facts))
    return findings


def _two_surfaces(name: str, rows: pd.DataFrame) -> list[Finding]:
    counts = rows["surface"].value_counts(sort=False)
    if len(counts) < 2:
        return []
    fewest = rows[rows["surface"] == counts.idxmin()]
    listed = ", ".join(f"{surface} in {count}" for surface, count in counts.items())
    lines = ", ".join(str(line) for line in fewest["notes_row"])
    facts = {"field": name, "surfaces": listed, "rare": counts.idxmin(), "lines": lines}
    line = int(fewest["notes_row"].min())
    return [Finding("field-inconsistent", "surfaces", line=line, facts=facts)]


def _narrow(name: str, rows: pd.DataFrame) -> list[Finding]:
    """One finding for a field; the share is that of the row that sees most of the neighbours."""
    width = rows["width"].to_numpy(float) if "width" in rows else np.full(len(rows), np.nan)
    height = rows["height"].to_numpy(float)
    beside = 1.0 - view_within_strip(np.where(width > 0, width, np.inf) / 2.0, np.maximum(height, 0.01))
    hit = beside > NEIGHBOURS
    if not hit.any():
        return []
    worst = int(np.argmax(beside))
    facts = {
        "field": name,
        "width": f"{width[worst]:g}",
        "height": f"{height[worst]:.2f}",
        "share": f"{100 * beside[worst]:.0f}",
        "count": int(hit.sum()),
    }
    return [Finding("strip-narrow", line=int(rows["notes_row"].to_numpy()[hit].min()), facts=facts)]
