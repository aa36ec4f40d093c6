"""Step 8: the interval of every number. The model and its sources are in `headland.uncertainty`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import pandas as pd

from headland.base.frames import Made
from headland.base.groups import GROUPINGS
from headland.chain import beside_words, states, weather
from headland.files import options, step
from headland.uncertainty import inputs, propagate
from headland.uncertainty.course import CourseSizes, course_sizes

BALANCES = ("visits_balance", "visits_estimated", "measured_fluxes", "fields_balance", "surfaces_balance")
READS = {
    "segments_means": step.table("segment_means"),
    "fields_means": step.table("group_means"),
    "surfaces_means": step.table("group_means"),
    "visits_balance": step.table("visit_balance"),
    "visits_estimated": step.table("visit_balance"),
    "measured_fluxes": step.table("measured_fluxes"),
    "fields_balance": step.table("group_balance"),
    "surfaces_balance": step.table("group_balance"),
    "certificates": step.together("certificates"),
    "classes": options.CLASSES,
    "terms": options.TERMS,
    "course": options.COURSE,
    "weather": options.silent(options.WEATHER),
}
WRITES = {
    **{name: name for name in ("segments", "fields", "surfaces", "differences", "intercomparison", "clouds")},
    **{name: name for name in ("visits", "measured_visits", "measured")},
    "budget": "uncertainty_budget",
    "linear": "linear_check",
}


class Known(NamedTuple):
    """What the intervals need beside the numbers: certificates in force, of all sets; class properties; rows
    of uncertainty.csv; sizes of the course between visits by quantity; rows of the weather table.
    """

    certificates: pd.DataFrame
    surfaces: Mapping[str, Mapping]
    terms: Mapping[str, Mapping]
    course: Mapping[str, CourseSizes]
    air: pd.DataFrame


def intervals(
    averaged: Mapping[str, pd.DataFrame],
    balances: Mapping[str, pd.DataFrame],
    settings: Mapping,
    known: Known,
) -> propagate.Result:
    """The interval of every number. The rest as for `run`."""
    carrying, segments = settings["carrying"], averaged["segments"]
    temperature = weather.temperature_of(segments, known.air, settings)
    wind = weather.wind_of(segments, known.air, settings)
    return propagate.propagate(
        inputs.Inputs(
            inputs.prepare(segments, carrying, temperature, known.surfaces, wind),
            {kind: averaged[kind] for kind in GROUPINGS},
            {
                "visits": balances["visits_balance"],
                **{
                    name: balances[name]
                    for name in ("visits_estimated", "measured_fluxes")
                    if name in balances
                },
                **{kind: balances[f"{kind}_balance"] for kind in GROUPINGS},
            },
            known.certificates,
            known.surfaces,
            known.terms,
            carrying,
            known.course,
        ),
        settings["seed"],
        settings["draws"],
        settings["methods"]["set_scale"],
        settings["methods"]["one_sided"],
    )


def run(
    averaged: Mapping[str, pd.DataFrame],
    balances: Mapping[str, pd.DataFrame],
    settings: Mapping,
    *,
    certificates: pd.DataFrame,
    surfaces: Mapping[str, Mapping],
    terms: Mapping[str, Mapping],
    course: Sequence[Mapping[str, str]],
    air: pd.DataFrame,
) -> Made:
    """The tables that users get, with the interval of every number.

    averaged: `segments`, `fields` and `surfaces` of step 6. balances: `visits_balance`, `fields_balance`
    and `surfaces_balance` of step 7. certificates: in force, of all sets. surfaces: class properties.
    terms: rows of uncertainty.csv. course: rows of course.csv. air: rows of the weather table. settings:
    `carrying`, `weather`, `seed`, `draws` and `methods` (`set_scale`, `one_sided`). Makes `segments`,
    `fields`, `surfaces`, `visits`, `measured_visits`, `measured`, `differences`, `budget`, `linear`,
    `intercomparison` and `clouds`.
    """
    known = Known(certificates, surfaces, terms, course_sizes(course), air)
    result = intervals(averaged, balances, settings, known)
    names = ("segments", "fields", "surfaces", "visits", "differences", "budget", "linear", "intercomparison")
    made = {name: getattr(result, name) for name in names}
    for name in ("measured_visits", "measured"):
        made[name] = beside_words.with_reasons(getattr(result, name), surfaces)
    for kind in GROUPINGS:
        made[kind] = states.joined(made[kind], averaged[kind], kind)
    return Made({**made, "clouds": in_rows(result.clouds)}, result.findings, [])


def in_rows(clouds: pd.DataFrame) -> pd.DataFrame:
    """Draws of each surface (a column each) as rows of `surface`, `net_radiation` and `draw` (from 1)."""
    rows = clouds.melt(var_name="surface", value_name="net_radiation")
    return rows.assign(draw=rows.groupby("surface").cumcount() + 1)
