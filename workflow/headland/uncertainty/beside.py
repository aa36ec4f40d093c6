"""Measured heat fluxes beside the estimated ones, each with its interval, and the gap between them.

Estimate and measurement are of the same visits and share their net radiation, so its errors cancel in the gap
as far as they act alike.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.physics import heat
from headland.physics.measured_forms import ESTIMATE, GROUND, SPLITS, applied
from headland.uncertainty.draws import Errors, Source, moved, one_at_a_time
from headland.uncertainty.groups import visits_at, with_class_values
from headland.uncertainty.inputs import Inputs
from headland.uncertainty.intervals import interval, with_intervals
from headland.uncertainty.linear import contributions, linear_parts
from headland.uncertainty.of_visits import BALANCE_TERMS, Fluxes
from headland.uncertainty.sources_group import class_sources

QUANTITIES = {
    **dict.fromkeys(GROUND, ("ground_heat",)),
    **dict.fromkeys(SPLITS, ("sensible_heat", "latent_heat")),
}
"""The fluxes that a way of measuring gives."""

PARTS = ("estimated", "measured", "gap")
NUMBERS = ("net_radiation", *(f"{part}{end}" for part in PARTS for end in ("", "_low", "_high")), "closure")
OF_VISITS = ("segment", "surface", "field", "start_utc", "end_utc", "way", "quantity", *NUMBERS, "used")
OF_SURFACES = ("surface", "way", "quantity", "visits", *NUMBERS, "used")


@dataclass(frozen=True)
class Drawn:
    """What one variant of the balance gives for some groups of visits, by quantity.

    values: one a group. draws: (draws x groups). table: values with their intervals.
    """

    values: Errors
    draws: Errors
    table: pd.DataFrame


@dataclass(frozen=True)
class Beside:
    """What both variants are made from.

    instruments, xi: errors of instruments and carrying, and their scores. scores: gives those of further
    sources. fluxes: of the segments, as printed, drawn, and as a function of errors.
    """

    inputs: Inputs
    instruments: list[Source]
    xi: np.ndarray
    scores: Callable[[list[Source]], np.ndarray]
    fluxes: tuple[Errors, Errors, Fluxes]

    def of(self, visits: pd.DataFrame, members: np.ndarray) -> Drawn:
        """The fluxes of groups by one variant of the visits' forms. members: (groups x visits)."""
        plain, drawn, measured = self.fluxes
        own, sources = self._sources(visits), []
        sources = [*self.instruments, *own]
        shown = pd.DataFrame({"reason": ["" if row.any() else "none" for row in members]})

        def terms(flux: Errors, errors: Errors) -> dict[str, np.ndarray]:
            every = flux["net_radiation"]
            net = np.nan_to_num(every) @ shares(members).T
            return heat.estimate(shown, visits, members, visit_net=every, net=net, errors=errors)

        xi = self.scores(own)
        one = one_at_a_time(sources)
        values = {name: rows[0] for name, rows in terms(plain, {}).items()}
        draws = terms(drawn, moved(own, xi))
        linear = linear_parts(contributions(terms(measured(one), one)), sources, [self.xi, xi])
        return Drawn(values, draws, with_intervals(values, draws, linear, {}))

    def _sources(self, visits: pd.DataFrame) -> list[Source]:
        inputs = self.inputs
        groups = with_class_values(inputs.means["surfaces"], inputs.balances["surfaces"], inputs.surfaces)
        every = class_sources(inputs.segments, groups, inputs.surfaces, inputs.terms, visits)
        return [source for source in every if source.term in BALANCE_TERMS]


def shares(members: np.ndarray) -> np.ndarray:
    """Weights of visits in groups that sum to 1, where there are any."""
    total = members.sum(axis=1, keepdims=True)
    return members / np.where(total > 0.0, total, 1.0)


def measured_beside_estimated(given: Beside) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Rows of visits (columns `OF_VISITS`) and of surfaces (`OF_SURFACES`), one a way and flux.

    Source: method.md, section 7.11.
    """
    balances, segments = given.inputs.balances, given.inputs.segments
    rows = balances.get("measured_fluxes")
    if rows is None or not (rows["reason"] == "").any():
        return pd.DataFrame(columns=list(OF_VISITS)), pd.DataFrame(columns=list(OF_SURFACES))
    known = rows[rows["reason"] == ""]
    estimated, chosen = (visits_at(balances[name], segments) for name in ("visits_estimated", "visits"))
    of_visits, of_surfaces = [], []
    for way in QUANTITIES:
        own = known[known["way"] == way]
        if len(own):
            both = Both(given, way, estimated, known, chosen)
            of_visits += both.of_visits()
            of_surfaces += both.of_surfaces()
    return pd.DataFrame(of_visits, columns=list(OF_VISITS)), pd.DataFrame(
        of_surfaces, columns=list(OF_SURFACES)
    )


class Both:
    """One way of measuring beside the estimate."""

    def __init__(
        self, given: Beside, way: str, estimated: pd.DataFrame, rows: pd.DataFrame, chosen: pd.DataFrame
    ):
        self.given, self.way = given, way
        own = rows[rows["way"] == way]
        with_ground = rows[rows["taken"].eq(True) | (rows["way"] == way)]
        ground, split = ((way,), ESTIMATE) if way in GROUND else (GROUND, way)
        self.estimated = estimated
        self.measured = applied(estimated, with_ground, ground, split)
        known = np.isfinite(given.fluxes[0]["net_radiation"][0])
        self.there = estimated["segment"].isin(own["segment"]).to_numpy(bool) & known
        self.closure = estimated["segment"].map(own.set_index("segment")["closure"]).to_numpy(float)
        self.used = (chosen["method" if way in GROUND else "split"] == way).to_numpy(bool)
        printed = np.isfinite(estimated[QUANTITIES[way][0]].to_numpy(float))
        self.compared = self.there & printed

    def of_visits(self) -> list[dict]:
        """A row a visit and flux."""
        places = np.flatnonzero(self.there)
        eye = np.eye(len(self.estimated))[places]
        records = self._records(eye * self.compared, eye)
        named = self.estimated.iloc[places][["segment", "surface", "field", "start_utc", "end_utc"]]
        return [
            {**row, **record}
            for row, one in zip(named.to_dict("records"), records, strict=True)
            for record in one
        ]

    def of_surfaces(self) -> list[dict]:
        """A row a surface and flux: means by recorded time over the visits that have both, or, where none has
        an estimate, over those that were measured.
        """
        weight = self.estimated["weight"].fillna(0.0).to_numpy(float)
        names = list(dict.fromkeys(self.estimated.loc[self.there, "surface"]))
        of_both, of_measured = [], []
        for name in names:
            inside = (self.estimated["surface"] == name).to_numpy(bool)
            both = inside & self.compared
            of_both.append(both * weight)
            of_measured.append((both if both.any() else inside & self.there) * weight)
        counts = [int((row > 0.0).sum()) for row in of_measured]
        records = self._records(np.array(of_both), np.array(of_measured))
        return [
            {"surface": name, "visits": count, **record}
            for name, count, one in zip(names, counts, records, strict=True)
            for record in one
        ]

    def _records(self, of_estimate: np.ndarray, of_measurement: np.ndarray) -> list[list[dict]]:
        """The numbers of groups of visits: a list of fluxes each."""
        estimated = self.given.of(self.estimated, of_estimate)
        measured = self.given.of(self.measured, of_measurement)
        net = np.nan_to_num(self.given.fluxes[0]["net_radiation"][0]) @ shares(of_measurement).T
        closure = np.nan_to_num(self.closure) @ shares(of_measurement).T
        used = (self.used @ of_measurement.T) > 0.0
        return [
            [
                {
                    "way": self.way,
                    "quantity": name,
                    "net_radiation": net[index],
                    **numbers(estimated, measured, name, index),
                    "closure": closure[index] if self.way == "flux_station" else np.nan,
                    "used": bool(used[index]),
                }
                for name in QUANTITIES[self.way]
            ]
            for index in range(len(of_measurement))
        ]


def numbers(estimated: Drawn, measured: Drawn, name: str, index: int) -> Mapping[str, float]:
    """Estimate, measurement and their gap (measured minus estimated), W m-2, with the ends of intervals."""
    found: dict[str, float] = {}
    for part, drawn in (("estimated", estimated), ("measured", measured)):
        for end in ("", "_low", "_high"):
            found[f"{part}{end}"] = float(drawn.table[f"{name}{end}"].iloc[index])
    gap = measured.values[name][index] - estimated.values[name][index]
    low, high = interval(measured.draws[name][:, index] - estimated.draws[name][:, index], gap)
    return {**found, "gap": float(gap), "gap_low": float(low), "gap_high": float(high)}
