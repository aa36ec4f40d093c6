"""The figure of the energy balance: one panel for each flux, dots with intervals."""

from __future__ import annotations

from collections.abc import Mapping

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from headland.report.figures import STYLE, WIDTH, dot, named, nothing, order

FLUXES = (
    ("net_radiation", "Q*, measured"),
    ("ground_heat", "G, assumed"),
    ("sensible_heat", "H, assumed"),
    ("latent_heat", "LE, assumed"),
)
"""Column and title of each panel."""


def balance(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> Figure:
    """Net radiation, ground, sensible and latent heat of each surface, all on one scale."""
    if not len(table) or not table["net_radiation"].notna().any():
        return nothing("No surface has a net radiation.")
    names = order(table)
    rows = table.set_index("surface", drop=False).loc[names]
    columns = [f"{name}{end}" for name, _ in FLUXES for end in ("", "_low", "_high")]
    values = rows[columns].to_numpy(float)
    low, high = min(float(np.nanmin(values)), 0.0), max(float(np.nanmax(values)), 0.0)
    pad = 0.05 * (high - low)
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 0.72 + 0.21 * len(names)), layout="constrained")
        panels = figure.subplots(1, len(FLUXES), sharey=True, sharex=True)
        for axes, (name, title) in zip(panels, FLUXES, strict=True):
            for y, row in enumerate(rows.to_dict("records")):
                dot(axes, row, name, y, surfaces)
            if rows[name].isna().all():
                axes.text(0.5, 0.5, "not estimated", transform=axes.transAxes, ha="center", style="italic")
            axes.axvline(0.0, color="black", lw=0.6)
            axes.set_title(title, loc="left", style="normal" if name == "net_radiation" else "italic")
            axes.set(xlim=(low - pad, high + pad), ylim=(len(names) - 0.4, -0.6))
            axes.locator_params(axis="x", nbins=4)
        panels[0].set_yticks(range(len(names)), named(surfaces, names))
        figure.supxlabel("W m⁻²", fontsize=STYLE["axes.labelsize"])
    return figure
