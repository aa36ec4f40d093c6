"""The energy balance of single visits with its intervals: what a station or one walk says of the ground it
sees.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from headland.base.classes import MEASURED_TERMS
from headland.physics import heat
from headland.uncertainty.draws import Errors, Source, moved, one_at_a_time
from headland.uncertainty.groups import visits_at, with_class_values
from headland.uncertainty.inputs import Inputs
from headland.uncertainty.intervals import with_intervals
from headland.uncertainty.linear import contributions, linear_parts
from headland.uncertainty.sources_group import class_sources

BALANCE_TERMS = (
    "ground_heat_fraction",
    "latent_heat_fraction",
    "ground_heat_hour",
    "ground_heat_storage",
    "ground_heat_choudhury",
    "ground_heat_santanello",
    "ground_heat_hysteresis",
    "latent_heat_none",
    "latent_heat_de_bruin_holtslag",
    *MEASURED_TERMS,
)
"""The terms of uncertainty.csv that concern the energy balance alone."""

NAMED = ("segment", "set", "surface", "field", "start_utc", "end_utc", "day", "reason")
"""Columns of step 7's visits that come before the numbers."""

Fluxes = Callable[[Errors], Errors]


def visits_with_intervals(
    inputs: Inputs,
    instruments: list[Source],
    xi: np.ndarray,
    scores: Callable[[list[Source]], np.ndarray],
    fluxes: tuple[Errors, Errors, Fluxes],
) -> pd.DataFrame:
    """Net radiation and the estimated terms of every visit, each with its interval.

    Parameters
    ----------
    inputs : what steps 1 to 7 leave.
    instruments, xi : errors of instruments and carrying, and their scores.
    scores : gives the scores of further sources.
    fluxes : of the segments: as printed, drawn, and as a function of errors.

    A visit represents the ground that it saw: ground that was not walked adds no error to it.
    """
    plain, drawn, measured = fluxes
    visits = visits_at(inputs.balances["visits"], inputs.segments)
    groups = with_class_values(inputs.means["surfaces"], inputs.balances["surfaces"], inputs.surfaces)
    own = [
        source
        for source in class_sources(inputs.segments, groups, inputs.surfaces, inputs.terms, visits)
        if source.term in BALANCE_TERMS
    ]
    counted = np.flatnonzero(visits["surface"].notna())
    shown = visits.iloc[counted].reset_index(drop=True)
    members = np.eye(len(visits))[counted]

    def terms(flux: Errors, errors: Errors) -> dict[str, np.ndarray]:
        every = flux["net_radiation"]
        net = every[:, counted]
        estimated = heat.estimate(shown, visits, members, visit_net=every, net=net, errors=errors)
        return {"net_radiation": net, **estimated}

    own_xi, sources = scores(own), [*instruments, *own]
    one = one_at_a_time(sources)
    parts = contributions(terms(measured(one), one))
    table = with_intervals(
        {name: rows[0] for name, rows in terms(plain, {}).items()},
        terms(drawn, moved(own, own_xi)),
        linear_parts(parts, sources, [xi, own_xi]),
        {},
    )
    return pd.concat([shown[list(NAMED)], table], axis=1)
