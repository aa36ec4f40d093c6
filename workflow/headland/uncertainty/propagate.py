"""Step 8: from the errors of certificates, heads, carrying, tables and ground to intervals.

Monte Carlo in the manner of JCGM 101:2008. Each error that could have had another value is one source,
shared by what shares it: a band, a sensor, a set, a surface class (`sources`). The measurement model
(`model`, `groups`) is run once for all draws, so what two numbers share moves them together and cancels in
their difference (`differences`). Linear propagation (JCGM 100:2008) of the same sources is a check, and
gives the budget (`linear`, `budget`).

Effects of one sign (a cold sky, a warm window, the carrier's shadow and body) are left in the values, which
are the textbook ones, unless `one_sided` corrects them. Either way the intervals account for them, and each
value is inside its own interval.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.groups import GROUPINGS
from headland.uncertainty import intercompare
from headland.uncertainty.budget import budget, linear_check
from headland.uncertainty.differences import GroupDraws, differences
from headland.uncertainty.draws import Errors, Source, middles, moved, one_at_a_time, scores
from headland.uncertainty.groups import QUANTITIES, grouped, grouping_of, visits_at, with_class_values
from headland.uncertainty.inputs import INCOMING, Inputs, shade_of
from headland.uncertainty.intervals import with_intervals
from headland.uncertainty.linear import contributions, linear_parts
from headland.uncertainty.model import MEASURED, measured
from headland.uncertainty.of_visits import visits_with_intervals
from headland.uncertainty.sources import KNOWN_EFFECTS, instrument_sources
from headland.uncertainty.sources_group import (
    FEWEST_LOOKS,
    class_sources,
    ground_sources,
    sky_sources,
)

SHOWN_DRAWS = 400
"""Draws of each surface's net radiation that are kept for the picture of what two surfaces share."""


@dataclass(frozen=True)
class Result:
    """What users get from step 8, as frames, with the number of sources and the findings."""

    segments: pd.DataFrame
    fields: pd.DataFrame
    surfaces: pd.DataFrame
    visits: pd.DataFrame
    differences: pd.DataFrame
    budget: pd.DataFrame
    linear: pd.DataFrame
    intercomparison: pd.DataFrame
    clouds: pd.DataFrame
    sources: int
    findings: list[Finding]


@dataclass(frozen=True)
class Sampling:
    """The random numbers of a run: from one seed, so many draws."""

    seed: int
    draws: int

    def scores(self, sources: list[Source]) -> np.ndarray:
        return scores(sources, self.seed, self.draws)


@dataclass(frozen=True)
class SegmentDraws:
    """What the draws say of the segments.

    values: as printed (1 x segments). draws: (draws x segments). table: values with their intervals.
    """

    values: Errors
    draws: Errors
    table: pd.DataFrame


@dataclass(frozen=True)
class Instruments:
    """The errors of instruments and carrying, with their scores, and the segments that they made.

    on_scale: with the sets on one scale, where asked for. as_read: each set on its own.
    side_by_side: errors of the ground under sets side by side.
    """

    sources: list[Source]
    xi: np.ndarray
    shade: Callable
    scale: intercompare.Scale | None
    on_scale: SegmentDraws
    as_read: SegmentDraws
    side_by_side: Errors


def propagate(
    inputs: Inputs, seed: int, draws: int, set_scale: str = "none", one_sided: str = "leave"
) -> Result:
    """Intervals for everything that users get.

    inputs: what steps 1 to 7 leave. seed, draws: of the random numbers. set_scale, one_sided: as in
    campaign.yaml. Printed values are the model's own without errors, which are those of steps 6 and 7 unless
    sets are put on one scale or known effects are corrected.
    """
    sampling = Sampling(seed, draws)
    scale, findings = intercompare.scale_of(inputs.segments, set_scale)
    instruments = _of_instruments(inputs, sampling, scale, one_sided)
    surfaces = _of_groups(inputs, sampling, instruments, "surfaces")
    fields = _of_groups(inputs, sampling, instruments, "fields")
    own_columns = inputs.segments.drop(columns=list(MEASURED))
    return Result(
        segments=pd.concat([own_columns, instruments.on_scale.table], axis=1),
        fields=_table(fields, "fields"),
        surfaces=_table(surfaces, "surfaces"),
        visits=visits_with_intervals(
            inputs,
            instruments.sources,
            instruments.xi,
            sampling.scores,
            (
                instruments.on_scale.values,
                instruments.on_scale.draws,
                lambda errors: measured(inputs.segments, instruments.shade, errors, instruments.scale),
            ),
        ),
        differences=differences(surfaces),
        budget=budget(surfaces, inputs.terms),
        linear=linear_check(surfaces),
        intercomparison=intercompare.comparison(
            inputs.segments, instruments.as_read.table, instruments.as_read.draws, instruments.side_by_side
        ),
        clouds=pd.DataFrame(
            surfaces.draws["net_radiation"][:SHOWN_DRAWS], columns=surfaces.groups["surface"].tolist()
        ),
        sources=len(surfaces.sources),
        findings=findings + _without_interval(surfaces) + _without_interval(fields),
    )


def _of_instruments(
    inputs: Inputs, sampling: Sampling, scale: intercompare.Scale | None, one_sided: str
) -> Instruments:
    """Draw the errors of instruments and carrying, and run the model on them for all segments."""
    segments, shade = inputs.segments, shade_of(inputs.segments, inputs.carrying)
    instruments = instrument_sources(segments, inputs.certificates, inputs.terms)
    groups = with_class_values(inputs.means["surfaces"], inputs.balances["surfaces"], inputs.surfaces)
    visits = visits_at(inputs.balances["visits"], segments)
    classes = class_sources(segments, groups, inputs.surfaces, inputs.terms, visits)
    sources = [*instruments, *(source for source in classes if source.term == "emissivity")]
    corrected = [source for source in instruments if source.term in KNOWN_EFFECTS and one_sided == "correct"]
    xi = sampling.scores(sources)
    errors = moved(sources, xi)
    as_read = measured(segments, shade, errors)
    on_scale = measured(segments, shade, errors, scale) if scale else as_read
    # the errors are the most of what this step holds: from here on only these are asked for
    errors = {name: rows for name, rows in errors.items() if name.startswith("side_by_side_")}

    def with_table(draws: Errors, scale: intercompare.Scale | None) -> SegmentDraws:
        plain = measured(segments, shade, middles(corrected), scale)
        values = {name: plain[name][0] for name in MEASURED}
        shifted = measured(segments, shade, one_at_a_time(sources), scale)
        parts = contributions({name: shifted[name] for name in MEASURED})
        table = with_intervals(values, draws, linear_parts(parts, sources, [xi]), {})
        return SegmentDraws(plain, draws, table)

    as_read_with_table = with_table(as_read, None)
    return Instruments(
        instruments,
        xi[: len(instruments)],
        shade,
        scale,
        on_scale=with_table(on_scale, scale) if scale else as_read_with_table,
        as_read=as_read_with_table,
        side_by_side=errors,
    )


def _of_groups(inputs: Inputs, sampling: Sampling, instruments: Instruments, kind: str) -> GroupDraws:
    """Draw the errors of groups, and run the model on them and on those of their segments.

    kind: `surfaces` or `fields`.
    """
    segments, surfaces, terms = inputs.segments, inputs.surfaces, inputs.terms
    groups = with_class_values(inputs.means[kind], inputs.balances[kind], surfaces)
    grouping = grouping_of(segments, groups, GROUPINGS[kind], inputs.balances["visits"])
    own = [
        *class_sources(segments, groups, surfaces, terms, grouping.visits),
        *ground_sources(groups, terms),
        *sky_sources(groups, surfaces, terms),
    ]
    xi = sampling.scores(own)
    sources = [*instruments.sources, *own]
    plain = grouped(instruments.on_scale.values, grouping, {})
    draws = grouped(instruments.on_scale.draws, grouping, moved(own, xi))
    errors = one_at_a_time(sources)
    shifted = measured(segments, instruments.shade, errors, instruments.scale)
    parts = contributions(grouped(shifted, grouping, errors))
    return GroupDraws(
        groups,
        sources,
        values={name: rows[0] for name, rows in plain.items()},
        draws=draws,
        parts=parts,
        linear=linear_parts(parts, sources, [instruments.xi, xi]),
        unknown=~(groups["independent"].to_numpy(float) >= FEWEST_LOOKS),
    )


def _table(found: GroupDraws, kind: str) -> pd.DataFrame:
    """The table of groups that users get. Without looks at the ground only the sky's terms have ends."""
    counts = found.groups[[*GROUPINGS[kind], "segments", "samples_used"]]
    without = {name: found.unknown for name in QUANTITIES if name not in INCOMING}
    return pd.concat([counts, with_intervals(found.values, found.draws, found.linear, without)], axis=1)


def _without_interval(found: GroupDraws) -> list[Finding]:
    """A finding for each group with too few looks at its ground."""
    return [
        Finding(
            "interval-unknown",
            facts={
                "group": f"The field {row['field']}" if "field" in row else f"The surface {row['surface']}",
                "looks": f"{row['independent']:.1f}",
            },
        )
        for row in found.groups[found.unknown].to_dict("records")
    ]
