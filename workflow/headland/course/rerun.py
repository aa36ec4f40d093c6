"""The chain once more on a finished run, from the samples as stored to the balance, with or without a slip in
it.

A wrong answer has no formula of its own: it is the chain with one thing changed (`Slip`), so that
everything that follows from the slip follows here as well.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import pandas as pd

from headland.base import findings
from headland.base.flags import merged
from headland.base.frames import Held
from headland.base.groups import GROUPINGS
from headland.chain import calibrate, incoming, segment, summarise
from headland.chain.ingest import middle_of_interval
from headland.physics import heat, radiation
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.longwave import irradiance
from headland.uncertainty import intercompare, model
from headland.uncertainty.groups import grouping_of

OF_PLACE = frozenset({"edge", "overlap", "low-head"})
"""The flags that a sample has because of the interval in which it lies."""


@dataclass(frozen=True)
class Survey:
    """What the chain works on, from the samples as stored to the balance.

    raw, segmented: by set, as steps 1 and 5 leave them. certificates: by set, those in force. sets: by set
    its `channels`, `longwave`, `interval`, `stamp`, `utc_offset` (s). register: instruments.csv with factors
    in W m-2 per mV. noted: every interval and clock check. segments: the listed segments (step 5). balances:
    step 7's table of the surfaces. visits: step 7's. air: by set, the air temperature at each sample, degC.
    notes_offset: of the notes' zone from UTC on the day, s. found: what steps 1 to 5 found. set_scale: as in
    campaign.yaml. fixed, stamp: a fixed station whose incoming terms replace the sets' own.
    """

    raw: Mapping[str, pd.DataFrame]
    segmented: Mapping[str, pd.DataFrame]
    certificates: Mapping[str, pd.DataFrame]
    sets: Mapping[str, Mapping]
    register: pd.DataFrame
    noted: pd.DataFrame
    segments: pd.DataFrame
    balances: pd.DataFrame
    visits: pd.DataFrame
    surfaces: Mapping[str, Mapping]
    excluding: frozenset[str]
    walks: bool
    notes_offset: float
    air: Mapping[str, np.ndarray]
    found: Sequence[findings.Finding] = ()
    set_scale: str = "none"
    fixed: pd.DataFrame | None = None
    stamp: str = "end"


@dataclass(frozen=True)
class Outcome:
    """The values of segments and surfaces, each by its name."""

    segments: pd.DataFrame
    surfaces: pd.DataFrame


@dataclass(frozen=True)
class Slip:
    """What is changed; what stays None is done right.

    lw_in, lw_out: how the longwave term comes from the net signal, W m-2, and the body temperature, K. body:
    by set, what is taken for the body temperature, K. certificates: by set. shift: s by which a set's notes
    are taken too late, from the set's entry. swap: two sets whose notes are exchanged. kept: flags that keep
    no sample out. surfaces: class properties. net: net radiation from the four terms. fractions: ground heat
    fraction by surface. forms: other visits (of step 7) from the visits and their segments. set_scale, found:
    of the survey. last: another outcome from the survey, its samples and the outcome so far.
    """

    lw_in: Callable | None = None
    lw_out: Callable | None = None
    body: Mapping[str, np.ndarray] | None = None
    certificates: Mapping[str, pd.DataFrame] | None = None
    shift: Callable[[Mapping], float] | None = None
    swap: tuple[str, str] | None = None
    kept: frozenset[str] | None = None
    surfaces: Mapping[str, Mapping] | None = None
    net: Callable | None = None
    fractions: Mapping[bool, float] | None = None
    forms: Callable[[pd.DataFrame, pd.DataFrame], pd.DataFrame] | None = None
    set_scale: str | None = None
    found: tuple | None = None
    last: Callable[[Survey, Mapping[str, pd.DataFrame], Outcome], Outcome] | None = None

    @property
    def parts(self) -> dict[str, Any]:
        """What is changed, by name."""
        every = {field.name: getattr(self, field.name) for field in fields(self)}
        return {name: value for name, value in every.items() if value is not None}

    def beside(self, other: Slip) -> Slip | None:
        """Both slips together; None where both change the same thing."""
        if set(self.parts) & set(other.parts):
            return None
        return replace(self, **other.parts)


NO_SLIP = Slip()
REACH_SEGMENTS = ("lw_in", "lw_out", "body", "certificates", "shift", "swap", "kept", "surfaces", "found")
"""The parts of a slip that change the means of segments."""


def samples_of(survey: Survey, slip: Slip = NO_SLIP) -> dict[str, pd.DataFrame]:
    """The samples of every set as step 5 leaves them, with the terms that the slip gives."""
    result = {}
    certificates = slip.certificates or survey.certificates
    for name, entry in survey.sets.items():
        sensed = calibrate.sensed(Held(survey.raw[name]), certificates[name], entry).whole()
        terms = {column: sensed[column] for column in ("sw_in", "sw_out", "lw_in_net", "lw_out_net")}
        for channel, rule in (("lw_in", slip.lw_in), ("lw_out", slip.lw_out)):
            kelvin = sensed[f"body_temperature_{channel}"].to_numpy(float) + ZERO_CELSIUS
            if slip.body is not None:
                kelvin = slip.body[name]
            terms[channel] = (rule or irradiance)(sensed[f"{channel}_net"].to_numpy(float), kelvin)
        result[name] = survey.segmented[name].assign(**terms)
    return result


def placed(
    survey: Survey, samples: Mapping[str, pd.DataFrame], shift: Callable | None = None
) -> dict[str, pd.DataFrame]:
    """The same samples, assigned again to the survey's segments. shift: as in `Slip`."""
    result = {}
    for name, frame in samples.items():
        entry, own = survey.sets[name], survey.segments[survey.segments["set"] == name].copy()
        for column in ("start_utc", "end_utc"):
            own[column] += pd.to_timedelta(shift(entry) if shift else 0.0, unit="s")
        checks = survey.noted[(survey.noted["set"] == name) & (survey.noted["activity"] == "clock_check")]
        found, _ = segment.in_segments(
            middle_of_interval(frame["time_utc"], entry["stamp"], entry["interval"]),
            own,
            checks,
            survey.certificates[name],
            interval=entry["interval"],
            walks=survey.walks,
        )
        others = {text: _without_place(text) for text in frame["flags"].unique()}
        result[name] = frame.assign(
            segment=found["segment"],
            position=found["position"],
            middle_utc=found["middle_utc"],
            flags=merged(frame["flags"].map(others), found["flags"]),
        )
    return result


def _without_place(flags: str) -> str:
    return " ".join(flag for flag in flags.split() if flag not in OF_PLACE)


def segments_of(survey: Survey, samples: Mapping[str, pd.DataFrame], slip: Slip = NO_SLIP) -> pd.DataFrame:
    """Means of the segments, as step 6 has them."""
    excluding = set(survey.excluding - (slip.kept or frozenset()))
    samples = {name: incoming.with_sky_memory(frame, excluding) for name, frame in samples.items()}
    return summarise.averaged(
        survey.segments,
        samples,
        {"sets": survey.sets, "stamp": survey.stamp},
        excluding=excluding,
        surfaces=slip.surfaces or survey.surfaces,
        found_before=survey.found,
        fixed=survey.fixed,
    )[0]


def on_scale(survey: Survey, segments: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> pd.DataFrame:
    """Means of segments with all sets on the scale that the campaign asks for, as step 8 puts them."""
    scale, _ = intercompare.scale_of(segments, survey.set_scale)
    if scale is None:
        return segments
    flux = intercompare.on_one_scale({c: segments[c].to_numpy(float)[None, :] for c in RADIATION}, scale, {})
    emissivity = np.array([surfaces[s]["emissivity"]["value"] if s else 1.0 for s in segments["surface"]])
    flux |= model.derived(flux, segments, emissivity)
    values = {
        name: np.nan_to_num(value[0]) if name.startswith("albedo_") else value[0]
        for name, value in flux.items()
    }
    return segments.assign(**values)


def outcome(survey: Survey, segments: pd.DataFrame, slip: Slip = NO_SLIP) -> Outcome:
    """Segments and surfaces from the means of segments; without a slip what the chain reports."""
    surfaces, net = slip.surfaces or survey.surfaces, slip.net or radiation.net_radiation
    segments = on_scale(survey, segments, surfaces)
    groups = summarise.under_one_sky(segments, surfaces, ["surfaces"])[1]["surfaces"]
    off = net(*(groups[name] for name in RADIATION)) - groups["net_radiation"]
    groups = groups.assign(
        **{name: groups[name] + off for name in ("net_radiation", "net_radiation_common_sky")}
    )
    segments = segments.assign(net_radiation=net(*(segments[name] for name in RADIATION)))
    known = survey.balances.set_index("surface").reindex(groups["surface"]).reset_index()
    known = known.assign(reason=known["reason"].fillna("unknown"))
    grouping = grouping_of(segments, groups, GROUPINGS["surfaces"], survey.visits)
    visits = grouping.visits
    if slip.fractions:
        own = visits["day"].map(slip.fractions)
        visits = visits.assign(fraction=own, offset=visits["offset"].where(own != 0.0, 0.0))
    if slip.forms:
        visits = slip.forms(visits, segments)
    terms = heat.estimate(
        known,
        visits,
        grouping.members,
        visit_net=segments["net_radiation"].to_numpy(float),
        net=groups["net_radiation"].to_numpy(float),
    )
    return Outcome(segments.set_index("segment"), groups.assign(**terms).set_index("surface"))


def through(survey: Survey, slip: Slip, made: dict) -> Outcome:
    """The chain with a slip in it, with two, or with none.

    made: samples and segments made before, by the parts of a slip that reach them; it is added to.
    """
    changed = _changed(survey, slip)
    key = tuple(id(getattr(slip, name)) for name in REACH_SEGMENTS)
    if key not in made:
        samples = samples_of(changed, slip)
        if slip.shift or slip.swap:
            samples = placed(changed, samples, slip.shift)
        made[key] = samples, segments_of(changed, samples, slip)
    samples, segments = made[key]
    result = outcome(changed, segments, slip)
    return slip.last(changed, samples, result) if slip.last else result


def _changed(survey: Survey, slip: Slip) -> Survey:
    """The survey as a slip leaves it before the samples are computed."""
    names = ("certificates", "set_scale", "found")
    changed = replace(survey, **{name: slip.parts[name] for name in names if name in slip.parts})
    if slip.swap is None:
        return changed
    a, b = slip.swap
    exchanged = {a: b, b: a}
    return replace(
        changed,
        segments=survey.segments.assign(set=survey.segments["set"].replace(exchanged)),
        noted=survey.noted.assign(set=survey.noted["set"].replace(exchanged)),
    )


def part_of(survey: Survey, kind: str, item: str) -> Survey:
    """The survey with the segments that one segment or surface needs: its own, and those that lend a sky or a
    scale.

    The common sky needs all segments.
    """
    own = survey.segments["segment" if kind == "segments" else "surface"] == item
    lending = ("sky_monitor",) if survey.set_scale == "none" else ("sky_monitor", "side_by_side")
    return replace(survey, segments=survey.segments[own | survey.segments["activity"].isin(lending)])


def value_in(outcome_: Outcome, kind: str, item: str, quantity: str) -> float:
    """A value of an outcome; NaN where it has none. kind: `segments` or `surfaces`."""
    table = getattr(outcome_, kind)
    return float(table[quantity].get(item, np.nan)) if quantity in table else np.nan
