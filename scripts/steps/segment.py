"""Step 5, all sets at once, because the notes are one file: which sample belongs to which noted interval, and whether it counts."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from headland.base import untold
from headland.base.errors import UserErrors
from headland.base.findings import Finding
from headland.base.flags import also_flagged, excluding_flags, has_any, limits_of, merged
from headland.base.time_text import time_decimals
from headland.chain import ingest, notes, place, segment
from headland.checks import clocks, notes_and_runs, shade
from headland.files import config_tables, step, tables, user_tables

SUN = ["solar_elevation", "solar_azimuth", "sw_clear"]


def rows(corrected: Path, screened: Path, found: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """A set's samples as they are written, in pieces: those of the steps before, with what is found here of each."""
    for one, two in zip(
        tables.read_pieces(corrected, "samples_corrected"),
        tables.read_pieces(screened, "samples_screened", SUN),
        strict=True,
    ):
        yield one.assign(**two, **found.loc[one.index])


def main() -> None:
    args = step.arguments(
        one=("notes", "limits", "noted", "findings", "untold"),
        many=("corrected", "screened", "certificates", "segmented", "outlines", "tracks", "places"),
    )
    settings = args.settings
    sets = list(settings["sets"])
    intervals = {name: entry["interval"] for name, entry in settings["sets"].items()}
    corrected, screened = dict(zip(sets, args.corrected)), dict(zip(sets, args.screened))
    # of all sets at once only this is held
    samples = {
        name: tables.beside(
            tables.read_table(corrected[name], "samples_corrected", ["time_utc", "sw_in"]),
            tables.read_table(screened[name], "samples_screened", ["flags"], "category"),
            screened[name],
        )
        for name in sets
    }
    middle = lambda name: ingest.middle_of_interval(
        samples[name]["time_utc"], settings["sets"][name]["stamp"], intervals[name]
    )
    unknown = []
    table, findings = user_tables.read_user_table(args.notes, "notes")
    noted, found = notes.intervals(
        table,
        args.notes.name,
        settings["timezone"],
        settings["shift"],
        segment.span(map(middle, sets)),
        sets,
        settings["surfaces"],
        {name: entry["utc_offset"] for name, entry in settings["sets"].items()},
    )
    findings += found
    segments, found = segment.list_segments(noted, settings["sensor_height"], settings["walking_speed"])
    findings += segment.in_file(found, args.notes.name)
    if not len(segments):
        findings.append(Finding("no-segment", file=args.notes.name))
    checks = noted[noted["activity"] == "clock_check"]
    moments = {name: segment.corrected_moments(middle(name), checks[checks["set"] == name]) for name in sets}
    findings += segment.in_file(
        notes_and_runs.notes_against_runs(
            segments,
            checks,
            moments,
            intervals,
            notes.shift_of(settings["shift"]).total_seconds(),
            walks=settings["walking_speed"] > 0,
            tell=unknown.append,
        ),
        args.notes.name,
    )
    excluding = excluding_flags(limits_of(config_tables.read_config_table(args.limits)))
    sky = lambda name: samples[name][["sw_in"]].assign(
        **tables.read_table(screened[name], "samples_screened", ["solar_elevation", "sw_clear"])
    )
    shaded = (
        shade.upward_shaded(
            sky, {name: samples[name]["flags"] for name in sets}, moments, intervals, unknown.append
        )
        if settings["walking_speed"] > 0
        else {}
    )
    ground, found = place.read(
        args.outlines,
        args.tracks,
        settings.get("tracks", {}),
        settings.get("positions", {}).get("field_name", ""),
    )
    findings += found

    def noted_of(name: str, certificate: Path, path: Path) -> pd.DataFrame:
        """What the notes say of a set's samples, written; returns `time_utc`, `sw_in`, `flags` and `segment`, all that is still needed."""
        own = segments[segments["set"] == name]
        response = segment.response_time(tables.read_table(certificate, "certificates"))
        placed, found = segment.assign(
            middle(name),
            checks[checks["set"] == name],
            own,
            intervals[name],
            response,
            settings["walking_speed"] > 0,
        )
        if ground:
            located = ground.located(name, moments[name])
            placed, more = (
                place.placed(
                    placed,
                    moments[name],
                    located,
                    own,
                    list(ground.outlines),
                    uncertainty=settings["positions"]["uncertainty"],
                    interval=intervals[name],
                    response_time=response,
                )
                if settings["walking_speed"] > 0
                else (placed, [])
            )
            found = found + more
            tables.write_table(args.places[sets.index(name)], located, "places")
        frame = samples[name].assign(
            segment=placed["segment"], flags=merged(samples[name]["flags"], placed["flags"])
        )
        if name in shaded:
            frame["flags"] = also_flagged(frame["flags"], "upward-shaded", shaded[name])
            findings.extend(shade.shaded_findings(name, frame["segment"], shaded[name], moments[name]))
        frame["flags"] = segment.without_meant_covers(own, frame)
        out = has_any(frame["flags"], excluding)
        findings.extend(
            segment.in_file(
                found + segment.covers(own, frame) + segment.counts(own, frame, out), args.notes.name
            )
        )
        step.say(
            f"{name}: {len(frame)} samples, {(frame['segment'] != '').sum()} in a noted interval, {((frame['segment'] != '') & ~out).sum()} count"
        )
        tables.write_pieces(
            path,
            rows(corrected[name], screened[name], placed.assign(flags=frame["flags"])),
            "samples_segmented",
            {"middle_utc": time_decimals(placed["middle_utc"])},
        )
        return frame

    by_sun = []
    for name, certificate, path in zip(sets, args.certificates, args.segmented):
        noted_samples = {name: noted_of(name, certificate, path)}
        by_sun += clocks.clocks_against_sun(
            noted_samples,
            {name: middle(name)},
            moments,
            intervals,
            segments,
            excluding=excluding,
            walks=settings["walking_speed"] > 0,
            site=settings["site"],
            tell=unknown.append,
        )
    tables.write_table(args.noted, segments, "noted")
    tables.write_findings(args.findings, findings + by_sun)
    tables.write_table(args.untold, untold.frame(unknown), "untold")


if __name__ == "__main__":
    try:
        main()
    except UserErrors as problem:
        sys.exit(str(problem))
