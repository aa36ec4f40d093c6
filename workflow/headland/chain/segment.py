"""Step 5: which sample belongs to which noted interval, where on the field it was taken, and whether it
counts.

A segment is a noted interval with the samples that were stored in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import also_flagged, excluding_flags, has_any, merged
from headland.base.frames import Made, Pieces
from headland.base.time_text import time_decimals
from headland.base.untold import Untold
from headland.chain import clock_checks, covers, notes, place, unused
from headland.chain.recording import Recording, Screened, recording
from headland.checks import clocks, ground_noted, notes_and_runs, shade
from headland.checks.runs import noted_within, runs
from headland.checks.shade_alone import shaded_alone
from headland.files import options, step
from headland.physics import geometry, instruments

READS = {
    "notes": options.NOTES,
    "limits": options.LIMITS,
    "corrected": step.stored_of_sets("samples_corrected"),
    "screened": step.stored_of_sets("samples_screened"),
    "certificates": step.of_sets("certificates"),
    "outlines": step.PATHS,
    "tracks": step.PATHS,
}
WRITES = {"segmented": "samples_segmented*", "noted": "noted", "places": "places*"}

FLAGS = ("", "edge", "low-head", "overlap")
"""What `assign` says of a sample."""

STANDING = ("stand", "side_by_side", "sky_monitor", "dark", "channel_check")


def positions(count: int, interval: float, speed: float, length: float = np.nan):
    """Distance from the start of a transect, m, at the middle of each of its samples.

    Speed times recorded time, so that an interruption, in which one stands, does not count; scaled to the
    noted length (m) where there is one.
    """
    along = (np.arange(count) + 0.5) * interval * speed
    return along * (length / (count * interval * speed)) if length > 0 and count and speed > 0 else along


def edge(position, total: float, height: float, settling: float):
    """Where a sample along a transect is kept apart: nearer to either end than three heights, or the head
    not settled yet.

    position: m from the start. total: m, the transect's length. height: m, of the head over what it looks
    at. settling: m walked within the head's 95 % response time, added at the start.
    """
    guard = geometry.GUARD_RADIUS * height
    return (position < guard + settling) | (position > total - guard)


def identifier(set_name: str, start) -> str:
    """A segment's name: its set and its start in UTC, so that a note added elsewhere changes no other's
    name.
    """
    return f"{set_name}-{start:%m%d-%H%M}"


def _unique(names: list[str]) -> list[str]:
    seen: dict[str, int] = {}
    result = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        result.append(name if seen[name] == 1 else f"{name}.{seen[name]}")
    return result


def list_segments(
    noted: pd.DataFrame, sensor_height: float, walking_speed: float
) -> tuple[pd.DataFrame, list[Finding]]:
    """The noted intervals that may hold samples, and findings on the ground that was noted.

    Adds the name of each, the head's height over its canopy and the speed in it. Clock checks are no
    segments.

    Parameters
    ----------
    noted : as `notes.intervals` returns them.
    sensor_height : m.
    walking_speed : m s-1, 0 where nobody walks.
    """
    rows = noted[noted["activity"] != "clock_check"].copy().reset_index(drop=True)
    named = zip(rows["set"], rows["start_utc"], strict=True)
    rows["segment"] = _unique([identifier(name, start) for name, start in named])
    # to the millimetre: 1.2 - 1.1 is not less than 0.1
    rows["height"] = (sensor_height - rows["canopy_height"].fillna(0.0)).round(3)
    standing = rows["activity"].isin(STANDING)
    rows["speed"] = np.where(standing, 0.0, rows["speed"].fillna(walking_speed) if walking_speed > 0 else 0.0)
    return rows, ground_noted.ground_noted(rows, walks=walking_speed > 0)


def assign(
    middle: pd.Series,
    checks: pd.DataFrame,
    segments: pd.DataFrame,
    *,
    interval: float,
    response_time: float,
    walks: bool,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Segment, position and guard flags of each sample of one set, and findings on its clock.

    Parameters
    ----------
    middle : of each sample's averaging interval by the logger's clock, in UTC, ascending.
    checks : the set's clock checks.
    segments : the set's own.
    interval : s.
    response_time : s (95 %).
    walks : whether anybody walks in this campaign: where nobody does there are no edges.

    Returns, in the samples' order: `middle_utc` (the middle by the corrected clock), `segment` (empty where
    no note covers the sample), `position` (m) and `flags` (of this step).
    """
    moments = clock_checks.corrected_moments(middle, checks)
    # of each sample the place of its segment and of its flag in the words below
    names, flags = np.zeros(len(middle), np.int32), np.zeros(len(middle), np.int8)
    position = np.full(len(middle), np.nan)
    words = ["", *sorted(segments["segment"])]
    called = {name: place for place, name in enumerate(words)}
    for row in segments.to_dict("records"):
        inside = (moments >= row["start_utc"].timestamp()) & (moments < row["end_utc"].timestamp())
        taken = inside & (names != 0)
        flags[taken] = FLAGS.index("overlap")
        mine = np.flatnonzero(inside & ~taken)
        names[mine] = called[row["segment"]]
        if len(mine) and walks:
            along, flag = guards(row, moments[mine], interval, response_time)
            position[mine] = along
            flags[mine] = flag
    corrected = pd.DatetimeIndex((np.round(moments * 1e3).astype("int64") * 1000).view("datetime64[us]"))
    placed = {
        "middle_utc": corrected.tz_localize("UTC"),
        "segment": _texts(names, words),
        "position": position,
        "flags": _texts(flags, FLAGS),
    }
    return pd.DataFrame(placed, copy=False), clock_checks.clock_findings(checks)


def guards(
    row: Mapping, moments: np.ndarray, interval: float, response_time: float
) -> tuple[np.ndarray, np.ndarray]:
    """Position (m, NaN where nobody walked) of a segment's samples, and the place in FLAGS of what keeps each
    apart.

    Parameters
    ----------
    row : the segment.
    moments : of its samples, s.
    interval, response_time : s (the response to 95 %).
    """
    count = len(moments)
    nowhere = np.full(count, np.nan)
    if row["height"] < geometry.SMALLEST_HEIGHT:
        return nowhere, np.full(count, FLAGS.index("low-head"))
    if row["speed"] <= 0:
        unsettled = moments - moments[0] < response_time - interval / 2
        return nowhere, unsettled * FLAGS.index("edge")
    position = positions(count, interval, row["speed"], row["length"])
    total = row["length"] if row["length"] > 0 else count * interval * row["speed"]
    settling = response_time * total / (count * interval)
    return position, edge(position, total, row["height"], settling) * FLAGS.index("edge")


def _texts(places: np.ndarray, words: Sequence[str]) -> pd.Categorical:
    return pd.Categorical.from_codes(places, pd.Index(list(words), dtype="str"))


def in_file(findings: Sequence[Finding], file: str) -> list[Finding]:
    """The same findings, placed in the file of the notes."""
    return [
        Finding(f.code, f.variant, f.set, file, f.line, f.start_utc, f.end_utc, f.channel, f.facts)
        for f in findings
    ]


def response_time(certificates: pd.DataFrame) -> float:
    """The slowest head's 95 % response time, s; the default where the register gives none."""
    known = certificates["response_time_95"].dropna()
    return float(known.max()) if len(known) else instruments.RESPONSE_TIME


# The step
# --------------------------------------------------------------------------------------------------------


def noted_intervals(
    table: pd.DataFrame, moments: tuple | None, settings: Mapping
) -> tuple[pd.DataFrame, list[Finding]]:
    """The notes as intervals in UTC, clock checks included, and what is wrong with them.

    moments: first and last moment recorded. settings: `notes_file`, `timezone`, `shift`, `surfaces`, and
    `sets` with the `utc_offset` of each.
    """
    offsets = {name: entry["utc_offset"] for name, entry in settings["sets"].items()}
    return notes.intervals(
        table,
        settings["notes_file"],
        notes.notes_clock(settings["timezone"], settings["shift"], moments),
        settings["surfaces"],
        offsets,
    )


def listed(
    table: pd.DataFrame, moments: tuple | None, settings: Mapping
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding], list[Finding]]:
    """The noted intervals, those of them that may hold samples, and what is wrong with the notes and with
    the ground that they note. As for `noted_intervals`, with `sensor_height` and `walking_speed`.
    """
    noted, findings = noted_intervals(table, moments, settings)
    segments, of_ground = list_segments(noted, settings["sensor_height"], settings["walking_speed"])
    return noted, segments, findings, of_ground


def in_segments(
    middle: pd.Series,
    own: pd.DataFrame,
    checks: pd.DataFrame,
    certificates: pd.DataFrame,
    *,
    interval: float,
    walks: bool,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Where the samples of one set are, as `assign` returns it. own, checks: the set's segments and clock
    checks. certificates: its own, in force.
    """
    slowest = response_time(certificates)
    return assign(middle, checks, own, interval=interval, response_time=slowest, walks=walks)


@dataclass
class _Survey:
    """All sets, the segments, all noted intervals (clock checks included), and what was found so far.

    moments: of each set's samples, s since 1970, by the clock as far as it is corrected.
    """

    settings: Mapping
    sets: Mapping[str, Recording]
    segments: pd.DataFrame
    noted: pd.DataFrame
    excluding: set[str]
    ground: place.Ground | None
    moments: dict[str, np.ndarray] = field(default_factory=dict)
    shaded: dict[str, np.ndarray] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    untold: list[Untold] = field(default_factory=list)

    def __post_init__(self):
        self.moments = {
            name: clock_checks.corrected_moments(one.middle(), clock_checks.checks_of(self.noted, name))
            for name, one in self.sets.items()
        }

    @property
    def walks(self) -> bool:
        """Whether anybody walks in this campaign."""
        return self.settings["walking_speed"] > 0

    @property
    def intervals(self) -> dict[str, float]:
        """s between the samples of each set."""
        return {name: one.interval for name, one in self.sets.items()}

    def of_notes(self, findings: Sequence[Finding]) -> None:
        """Keep findings, placed in the file of the notes."""
        self.findings += in_file(findings, self.settings["notes_file"])

    def compare_notes_with_runs(self) -> None:
        """Whether the notes are those of these recordings."""
        shift = notes.shift_of(self.settings["shift"]).total_seconds()
        found = notes_and_runs.notes_against_runs(
            self.segments,
            self.noted[self.noted["activity"] == "clock_check"],
            self.moments,
            self.intervals,
            shift,
            walks=self.walks,
            tell=self.untold.append,
        )
        self.of_notes(found)

    def look_for_shadows(self) -> None:
        """Which samples of each set were taken with its upper head in a shadow. Where nobody walks, none is
        sought.
        """
        if self.walks:
            self.shaded = shade.upward_shaded(
                lambda name: self.sets[name].sky(),
                {name: one.samples["flags"] for name, one in self.sets.items()},
                self.moments,
                self.intervals,
                self.untold.append,
                turns=shade.turns_of(self.segments, self.sets),
            )

    def place_set(self, name: str) -> tuple[pd.DataFrame, pd.DataFrame | None]:
        """Segment, position and flags of a set's samples, and where they were taken (None without outlines
        and tracks).
        """
        one, own = self.sets[name], self.segments[self.segments["set"] == name]
        given = {"interval": one.interval, "response_time": response_time(one.tables.certificates)}
        checks, certificates = clock_checks.checks_of(self.noted, name), one.tables.certificates
        placed, found = in_segments(
            one.middle(), own, checks, certificates, interval=one.interval, walks=self.walks
        )
        located = self.ground.located(name, self.moments[name]) if self.ground else None
        if self.ground and located is not None and self.walks:
            uncertainty = self.settings["positions"]["uncertainty"]
            fields = list(self.ground.outlines)
            placed, more = place.placed(
                placed, self.moments[name], located, own, fields, uncertainty=uncertainty, **given
            )
            found = found + more
        flags = merged(one.samples["flags"], placed["flags"])
        if name in self.shaded:
            moments, beside = self.moments[name], self.shaded[name]
            segments = placed["segment"].astype(object).to_numpy()
            field_of = dict(zip(own["segment"], own["field"], strict=True))
            ground = pd.Series([field_of.get(segment, "") for segment in segments], dtype=object).to_numpy()
            seen = one.light().assign(flags=flags)
            alone = shaded_alone(seen, ground, moments, one.interval)
            for variant, shaded in (("", beside), ("alone", alone & ~beside)):
                flags = also_flagged(flags, "upward-shaded", shaded)
                self.findings += shade.shaded_findings(name, list(segments), shaded, moments, variant)
        frame = one.samples.assign(segment=placed["segment"], flags=flags)
        frame["flags"] = covers.without_meant_covers(own, frame)
        out = has_any(frame["flags"], self.excluding)
        recorded, within = runs(self.moments[name], one.interval), noted_within(self.segments)
        self.of_notes(found + covers.covers(own, frame) + unused.counts(own, frame, out, recorded, within))
        self.findings += unused.set_unused(name, own, frame["segment"], out)
        return placed.assign(flags=frame["flags"]), located

    def clock_against_sun(self, name: str, placed: pd.DataFrame) -> list[Finding]:
        """Whether the sun's course agrees with a set's clock."""
        one = self.sets[name]
        frame = one.samples.assign(segment=placed["segment"], flags=placed["flags"])
        return clocks.clocks_against_sun(
            {name: frame},
            {name: one.middle()},
            self.moments,
            self.intervals,
            self.segments,
            excluding=self.excluding,
            walks=self.walks,
            site=self.settings["site"],
            tell=self.untold.append,
        )


def run(
    table: pd.DataFrame,
    sets: Mapping[str, Screened],
    limits: Mapping[str, Mapping],
    ground: place.Ground | None,
    settings: Mapping,
) -> Made:
    """Which sample of each set belongs to which noted interval, where it was taken, and whether it counts.

    table: rows of the notes. limits: rows of quality.csv by flag. ground: outlines and tracks, None where
    there are none. settings: as for `noted_intervals`, with `site`, `sensor_height`, `walking_speed`,
    `positions`, and of each set the `stamp` and `interval`. Makes `noted`, and of each set `segmented` and
    (with a ground) `places`.
    """
    recordings = {name: recording(one, settings["sets"][name]) for name, one in sets.items()}
    moments = clock_checks.span(one.middle() for one in recordings.values())
    noted, segments, findings, too_low = listed(table, moments, settings)
    survey = _Survey(settings, recordings, segments, noted, excluding_flags(limits), ground)
    survey.findings += findings
    survey.of_notes(too_low)
    if not len(segments):
        survey.findings.append(Finding("no-segment", file=settings["notes_file"]))
    survey.compare_notes_with_runs()
    survey.look_for_shadows()
    segmented, places, by_sun = {}, {}, []
    for name, one in recordings.items():
        placed, located = survey.place_set(name)
        by_sun += survey.clock_against_sun(name, placed)
        rows = one.rows(placed, settings["site"])
        segmented[name] = Pieces(rows, {"middle_utc": time_decimals(placed["middle_utc"])})
        if located is not None:
            places[name] = located
    made = {"noted": segments, "segmented": segmented, "places": places}
    return Made(made, survey.findings + by_sun, survey.untold)
