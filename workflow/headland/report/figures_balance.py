"""The figure of the energy balance: one panel for each flux, dots with intervals."""

from __future__ import annotations

from collections.abc import Mapping

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from headland.report.figures import STYLE, WIDTH, dot, named, nothing, order

FLUXES = (
    ("net_radiation", "Q*, measured"),
    ("ground_heat", "G, assumed"),
    ("sensible_heat", "H, assumed"),
    ("latent_heat", "LE, assumed"),
)
"""Column and title of each panel."""


BELOW = 0.3
"""How far under its surface's dot a measured flux is drawn, in rows."""


def titles(measured: pd.DataFrame) -> list[str]:
    """Titles of the panels: a flux is partly measured where the balance uses measurements of it."""
    used = set(measured.loc[measured["used"].isin((True, "true")), "quantity"])
    return [title.replace("assumed", "partly measured") if name in used else title for name, title in FLUXES]


def beside(axes: Axes, rows: pd.DataFrame, y: float) -> None:
    """Measured fluxes of one surface as open diamonds on thin intervals, under the surface's dot."""
    for row in rows.to_dict("records"):
        axes.plot([row["measured_low"], row["measured_high"]], [y + BELOW] * 2, color="#444444", lw=0.7)
        axes.plot(
            [row["measured"]], [y + BELOW], marker="D", mfc="white", mec="black", mew=0.6, ms=3.5, ls="none"
        )


def balance(table: pd.DataFrame, surfaces: Mapping[str, Mapping], measured: pd.DataFrame) -> Figure:
    """Net radiation, ground, sensible and latent heat of each surface, all on one scale. measured: rows of
    measured.csv.
    """
    if not len(table) or not table["net_radiation"].notna().any():
        return nothing("No surface has a net radiation.")
    names = order(table)
    rows = table.set_index("surface", drop=False).loc[names]
    columns = [f"{name}{end}" for name, _ in FLUXES for end in ("", "_low", "_high")]
    values = rows[columns].to_numpy(float)
    own = measured[measured["surface"].isin(names)]
    spread = np.append(values.ravel(), own[["measured", "measured_low", "measured_high"]].to_numpy(float))
    low, high = min(float(np.nanmin(spread)), 0.0), max(float(np.nanmax(spread)), 0.0)
    pad = 0.05 * (high - low)
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 0.72 + 0.21 * len(names)), layout="constrained")
        panels = figure.subplots(1, len(FLUXES), sharey=True, sharex=True)
        for axes, (name, _), title in zip(panels, FLUXES, titles(own), strict=True):
            for y, row in enumerate(rows.to_dict("records")):
                dot(axes, row, name, y, surfaces)
                mine = (own["surface"] == row["surface"]) & (own["quantity"] == name)
                beside(axes, own[mine], y)
            if rows[name].isna().all():
                axes.text(0.5, 0.5, "not estimated", transform=axes.transAxes, ha="center", style="italic")
            axes.axvline(0.0, color="black", lw=0.6)
            axes.set_title(title, loc="left", style="italic" if "assumed" in title else "normal")
            axes.set(xlim=(low - pad, high + pad), ylim=(len(names) - 0.4, -0.6))
            axes.locator_params(axis="x", nbins=4)
        panels[0].set_yticks(range(len(names)), named(surfaces, names))
        figure.supxlabel("W m⁻²", fontsize=STYLE["axes.labelsize"])
    return figure
