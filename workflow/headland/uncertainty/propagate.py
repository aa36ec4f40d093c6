"""Step 8: from the errors of certificates, heads, carrying, tables and ground to intervals.

Monte Carlo in the manner of JCGM 101:2008. Each error that could have had another value is one source,
shared by what shares it: a band, a sensor, a set, a surface class (`sources`). The measurement model
(`model`, `groups`) is run once for all draws, so what two numbers share moves them together and cancels in
their difference (`differences`). Linear propagation (JCGM 100:2008) of the same sources is a check, and
gives the budget (`linear`, `budget`).

Known effects of one sign (a cold sky, a warm window, the carrier's shadow and body) are corrected by the
middle of their range (JCGM 100:2008, 3.2.4), unless `one_sided` leaves them in. What the textbook formula
gives without corrections is kept beside the value, as `<quantity>_by_hand`. Either way the intervals account
for these effects, and each value is inside its own interval.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.groups import GROUPINGS, counted_segments, seen_from_spots
from headland.uncertainty import intercompare
from headland.uncertainty.beside import Beside, measured_beside_estimated
from headland.uncertainty.budget import budget, linear_check
from headland.uncertainty.common_moment import differences_at_common_moment, skies_too_different
from headland.uncertainty.differences import PairDraws, course_sources, differences, with_course
from headland.uncertainty.draws import Errors, Source, middles, moved, one_at_a_time, scores
from headland.uncertainty.groups import (
    QUANTITIES,
    GroupDraws,
    Grouping,
    grouped,
    grouping_of,
    visits_at,
    with_class_values,
)
from headland.uncertainty.inputs import INCOMING, Inputs, shade_of
from headland.uncertainty.intervals import with_intervals
from headland.uncertainty.linear import contributions, linear_parts
from headland.uncertainty.model import MEASURED, measured, of_whole_walks
from headland.uncertainty.of_visits import visits_with_intervals
from headland.uncertainty.pairs import COMPARED, Pairs, pairs_of
from headland.uncertainty.sources import KNOWN_EFFECTS, instrument_sources
from headland.uncertainty.sources_field import lie_sources
from headland.uncertainty.sources_group import FEWEST_LOOKS, class_sources, ground_sources, sky_sources
from headland.uncertainty.terms import is_on

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
    measured_visits: pd.DataFrame
    measured: pd.DataFrame
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
    inputs: Inputs, seed: int, draws: int, set_scale: str = "none", one_sided: str = "correct"
) -> Result:
    """Intervals for everything that users get.

    inputs: what steps 1 to 7 leave. seed, draws: of the random numbers. set_scale, one_sided: as in
    campaign.yaml. Printed values are the model's own without errors, which are those of steps 6 and 7 unless
    sets are put on one scale or known effects are corrected.
    """
    sampling = Sampling(seed, draws)
    scale, findings = intercompare.scale_of(inputs.segments, set_scale)
    instruments = _of_instruments(inputs, sampling, scale, one_sided)
    moved_surfaces = _moved(inputs, sampling, instruments, "surfaces")
    surfaces = _of_groups(moved_surfaces, instruments)
    compared = _of_pairs(inputs, sampling, instruments, moved_surfaces, surfaces)
    fields = _of_groups(_moved(inputs, sampling, instruments, "fields"), instruments)
    own_columns = inputs.segments.drop(columns=list(MEASURED))
    fluxes = (
        instruments.on_scale.values,
        instruments.on_scale.draws,
        lambda errors: measured(inputs.segments, instruments.shade, errors, instruments.scale),
    )
    given = Beside(inputs, instruments.sources, instruments.xi, sampling.scores, fluxes)
    measured_visits, measured_surfaces = measured_beside_estimated(given)
    return Result(
        segments=pd.concat([own_columns, instruments.on_scale.table], axis=1),
        fields=_table(fields, "fields"),
        surfaces=_table(surfaces, "surfaces"),
        visits=visits_with_intervals(
            inputs,
            instruments.sources,
            instruments.xi,
            sampling.scores,
            fluxes,
        ),
        measured_visits=measured_visits,
        measured=measured_surfaces,
        differences=differences(compared, _as_visited(surfaces, compared.pairs)),
        budget=budget(surfaces, compared, inputs.terms),
        linear=linear_check(surfaces),
        intercomparison=intercompare.comparison(
            inputs.segments, instruments.as_read.table, instruments.as_read.draws, instruments.side_by_side
        ),
        clouds=pd.DataFrame(
            surfaces.draws["net_radiation"][:SHOWN_DRAWS], columns=surfaces.groups["surface"].tolist()
        ),
        sources=len(surfaces.sources),
        findings=findings
        + without_interval(surfaces, inputs.segments)
        + without_interval(fields, inputs.segments),
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
    asked = ("side_by_side_", "walked_", "emissivity")
    errors = {name: rows for name, rows in errors.items() if name.startswith(asked)}

    def with_table(draws: Errors, scale: intercompare.Scale | None) -> SegmentDraws:
        plain = measured(segments, shade, middles(corrected), scale)
        values = {name: plain[name][0] for name in MEASURED}
        one = one_at_a_time(sources)
        shifted = of_whole_walks(measured(segments, shade, one, scale), segments, one)
        parts = contributions({name: shifted[name] for name in MEASURED})
        walked = of_whole_walks(draws, segments, errors)
        table = with_intervals(values, walked, linear_parts(parts, sources, [xi]), {})
        return SegmentDraws(plain, draws, table.assign(**by_hand(segments)))

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


@dataclass(frozen=True)
class Moved:
    """Groups with their own errors, as drawn and one at a time.

    grouping: which segments make which group. own: the groups' sources, with their scores `xi`. sources:
    those of the instruments and these. drawn: errors of the groups in the draws. errors, shifted: errors and
    segments with one source off at a time.
    """

    grouping: Grouping
    own: list[Source]
    xi: np.ndarray
    sources: list[Source]
    drawn: Errors
    errors: Errors
    shifted: Errors


def _moved(inputs: Inputs, sampling: Sampling, instruments: Instruments, kind: str) -> Moved:
    """Draw the errors of groups. kind: `surfaces` or `fields`."""
    segments, surfaces, terms = inputs.segments, inputs.surfaces, inputs.terms
    groups = with_class_values(inputs.means[kind], inputs.balances[kind], surfaces)
    grouping = grouping_of(segments, groups, GROUPINGS[kind], inputs.balances["visits"])
    own = [
        *class_sources(segments, groups, surfaces, terms, grouping.visits),
        *ground_sources(groups, terms),
        *sky_sources(groups, surfaces, terms),
    ]
    own += lie_sources(segments, surfaces, terms) if kind == "surfaces" else []
    xi = sampling.scores(own)
    sources = [*instruments.sources, *own]
    errors = one_at_a_time(sources)
    shifted = measured(segments, instruments.shade, errors, instruments.scale)
    return Moved(grouping, own, xi, sources, moved(own, xi), errors, shifted)


def _of_groups(group: Moved, instruments: Instruments) -> GroupDraws:
    """Run the model on the errors of groups and on those of their segments."""
    plain = grouped(instruments.on_scale.values, group.grouping, {})
    parts = contributions(grouped(group.shifted, group.grouping, group.errors))
    groups = group.grouping.groups
    return GroupDraws(
        groups,
        group.sources,
        values={name: rows[0] for name, rows in plain.items()},
        draws=grouped(instruments.on_scale.draws, group.grouping, group.drawn),
        parts=parts,
        linear=linear_parts(parts, group.sources, [instruments.xi, group.xi]),
        unknown=~(groups["independent"].to_numpy(float) >= FEWEST_LOOKS),
    )


def _of_pairs(
    inputs: Inputs, sampling: Sampling, instruments: Instruments, group: Moved, found: GroupDraws
) -> PairDraws:
    """Bring the surfaces to a common moment, in all draws, and add what stays unknown of the course."""
    values, grouping = instruments.on_scale.values, group.grouping
    pairs = pairs_of(grouping, values, inputs.surfaces, inputs.course)

    def at_common_moment(flux: Errors, errors: Errors) -> Errors:
        return differences_at_common_moment(flux, grouping, pairs, errors, inputs.surfaces)

    with_course_on = is_on(inputs.terms, "course")
    course = course_sources(pairs) if with_course_on else []
    xi = sampling.scores(course)
    draws, parts = with_course(
        at_common_moment(instruments.on_scale.draws, group.drawn),
        contributions(at_common_moment(group.shifted, group.errors)),
        course,
        xi,
    )
    sources = [*group.sources, *course]
    first, second = pairs.pairs.T
    return PairDraws(
        pairs,
        sources,
        values={name: rows[0] for name, rows in at_common_moment(values, {}).items()},
        draws=draws,
        parts=parts,
        linear=linear_parts(parts, sources, [instruments.xi, group.xi, xi]),
        unknown=found.unknown[first] | found.unknown[second],
        course={name: np.nan_to_num(pairs.uncertainty[name]) * with_course_on for name in COMPARED},
        too_different={name: skies_too_different(values, pairs, name) for name in COMPARED},
    )


def _as_visited(found: GroupDraws, pairs: Pairs) -> Errors:
    """Differences of the surfaces' values as they were visited, by quantity in its unit (pairs)."""
    first, second = pairs.pairs.T
    return {name: found.values[name][first] - found.values[name][second] for name in COMPARED}


def _table(found: GroupDraws, kind: str) -> pd.DataFrame:
    """The table of groups that users get. Without looks at the ground only the sky's terms have ends."""
    counts = found.groups[[*GROUPINGS[kind], "segments", "samples_used"]]
    without = {name: found.unknown for name in QUANTITIES if name not in INCOMING}
    table = with_intervals(found.values, found.draws, found.linear, without)
    return pd.concat([counts, table.assign(**by_hand(found.groups))], axis=1)


def by_hand(means: pd.DataFrame) -> dict[str, np.ndarray]:
    """Columns `<quantity>_by_hand`: the measured quantities of step 6 without corrections, W m-2 or degC."""
    return {f"{name}_by_hand": means[name].to_numpy(float) for name in MEASURED}


def without_interval(found: GroupDraws, segments: pd.DataFrame) -> list[Finding]:
    """A finding for each group with too few looks at its ground, which says whether it was stood on."""
    counted, findings = counted_segments(segments), []
    for row in found.groups[found.unknown].to_dict("records"):
        own = [counted[name] == row[name] for name in ("surface", "field") if name in row]
        seen = seen_from_spots(counted[np.logical_and.reduce(own)])
        facts = {
            "group": f"The field {row['field']}" if "field" in row else f"The surface {row['surface']}",
            "looks": f"{row['independent']:.1f}",
        }
        facts |= {"seen": seen} if seen else {}
        findings.append(Finding("interval-unknown", "spots" if seen else "", facts=facts))
    return findings
