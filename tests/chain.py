"""The chain in one process and in memory, for studies of many campaigns. The rules run the same functions, one step a job.

It does what the scripts do, in their order; `tests/whole/test_in_process.py` holds it to the tables that the rules leave.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from headland.base import findings
from headland.base.findings import Finding
from headland.base.flags import also_flagged, excluding_flags, has_any, joined, limits_of, merged
from headland.base.groups import GROUPINGS
from headland.base.untold import Untold
from headland.chain import (
    balance,
    calibrate,
    correct_longwave,
    ingest,
    notes,
    place,
    screen,
    segment,
    summarise,
    weather,
)
from headland.checks import clocks as clock_checks
from headland.checks import instruments, notes_and_runs, shade
from headland.checks.against_station import Station
from headland.checks.campaign import Campaign
from headland.checks.one_set import SetRecord
from headland.checks.surfaces import Means
from headland.checks.together import checked_together
from headland.files import config_tables, logger_files, settings, user_tables
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.physics import evaporation, sun
from headland.uncertainty.course import course_sizes
from headland.uncertainty import inputs, propagate

ROOT = Path(__file__).parents[1]
SENTENCES = findings.sentences()


@dataclass
class Outcome:
    """What the chain made of a campaign: frames as the steps hand them on, every finding with its step, and what could not be told."""

    settings: dict
    samples: dict[str, pd.DataFrame]
    certificates: dict[str, pd.DataFrame]
    noted: pd.DataFrame
    segments: pd.DataFrame
    means: dict[str, pd.DataFrame]
    balances: dict[str, pd.DataFrame]
    result: propagate.Result | None
    found: list[tuple[str, Finding]]
    untold: list[Untold]
    against_station: pd.DataFrame | None = None

    def codes(self, *severities: str) -> list[str]:
        """Codes of what was found, with repetitions, of the given severities (all where none is given)."""
        rows = [findings.describe(f, step, SENTENCES) for step, f in findings.folded(self.found)]
        return sorted(row["code"] for row in rows if not severities or row["severity"] in severities)


def run(campaign: Path, config: Path = ROOT / "config", draws: int = 1024, to: str = "propagate") -> Outcome:
    """Run the steps on a campaign folder. to: `segment` to stop before any mean, `summarise`, or `propagate`."""
    S = settings.load(campaign, config)
    site, surfaces = S["site"], surface_classes(config / "surfaces.csv", S["overrides"]["surfaces"])
    limits = limits_of(config_tables.read_config_table(config / "quality.csv"))
    excluding = excluding_flags(limits)
    files = [campaign / S["weather_file"]] if S["weather_file"] else []
    air, _ = user_tables.read_weather(files)
    found: list[tuple[str, Finding]] = []
    untold: list[Untold] = []
    note = lambda step, some: found.extend((step, f) for f in some)
    clocks = {
        name: {"interval": entry["layout"]["interval"], "stamp": entry["layout"]["stamp"]}
        for name, entry in S["sets"].items()
    }
    samples, certificates, middles = {}, {}, {}
    for name, entry in S["sets"].items():
        layout, frames = entry["layout"], []
        if not entry["raw"]:
            note(
                "ingest",
                [
                    Finding(
                        "set-without-files", set=name, file="campaign.yaml", facts={"pattern": entry["files"]}
                    )
                ],
            )
        for shown in entry["raw"]:
            with (campaign / shown).open("rb") as stream:
                frame, some = logger_files.read_logger_file(
                    stream,
                    shown,
                    name,
                    layout,
                    utc_offset=notes.offset_of(entry["utc_offset"]),
                    logger_id=entry["logger_id"],
                )
            frames.append(frame)
            note("ingest", some)
        raw, some = ingest.join_files(frames or [logger_files.read_nothing(layout)], layout["interval"], name)
        note("ingest", some)
        raw = raw.rename(columns={"time": "time_utc"})
        register, some = user_tables.read_user_table(campaign / "instruments.csv", "instruments")
        note("calibrate", some)
        certificates[name], some = calibrate.choose_certificates(
            register,
            name,
            entry["logger_id"],
            layout["channels"],
            calibrate.measurement_day(raw["time_utc"]),
            S["methods"]["certificate"],
        )
        note("calibrate", some)
        sensed = calibrate.calibrate(raw, layout["channels"], certificates[name], entry["longwave"])
        frame = correct_longwave.corrected(sensed)
        middles[name] = ingest.middle_of_interval(frame["time_utc"], layout["stamp"], layout["interval"])
        frame["solar_elevation"], frame["solar_azimuth"] = sun.position(
            middles[name], site["latitude"], site["longitude"], site["elevation"]
        )
        frame["sw_clear"] = sun.clear_sky_global(frame["solar_elevation"], middles[name], site["elevation"])
        around, toa = weather.at(middles[name], air, S["weather"]), sun.top_of_atmosphere(middles[name])
        flags = screen.flags(frame, limits, around["air_temperature"], toa)
        record = SetRecord(
            name,
            raw=raw,
            sensed=sensed,
            sun=frame.assign(toa=toa),
            air=weather.usual(around["air_temperature"]),
            certificates=certificates[name],
            channels=layout["channels"],
            longwave=entry["longwave"],
            interval=layout["interval"],
            limits=limits,
        )
        diagnosis = instruments.diagnosed(record)
        flags |= diagnosis.flags
        untold += diagnosis.untold
        note(
            "screen",
            screen.found(flags, limits, frame["time_utc"], name, diagnosis.wrong) + diagnosis.findings,
        )
        samples[name] = frame.assign(
            flags=pd.Series(joined(flags), frame.index, dtype=str),
            lw_in_net=sensed["lw_in_net"],
            lw_out_net=sensed["lw_out_net"],
        )
    table, some = user_tables.read_user_table(campaign / S["notes_file"], "notes")
    note("segment", some)
    noted, some = notes.intervals(
        table,
        S["notes_file"],
        S["notes"]["timezone"],
        S["notes"]["shift"],
        segment.span(middles.values()),
        list(S["sets"]),
        S["surfaces"],
        {name: entry["utc_offset"] for name, entry in S["sets"].items()},
    )
    note("segment", some)
    listed, some = segment.list_segments(
        noted, S["carrying"]["sensor_height"], S["carrying"]["walking_speed"]
    )
    note("segment", segment.in_file(some, S["notes_file"]))
    if not len(listed):
        note("segment", [Finding("no-segment", file=S["notes_file"])])
    checks = noted[noted["activity"] == "clock_check"]
    moments = {
        name: segment.corrected_moments(middles[name], checks[checks["set"] == name]) for name in S["sets"]
    }
    note(
        "segment",
        segment.in_file(
            notes_and_runs.notes_against_runs(
                listed,
                checks,
                moments,
                {name: clocks[name]["interval"] for name in S["sets"]},
                notes.shift_of(S["notes"]["shift"]).total_seconds(),
                walks=S["carrying"]["walking_speed"] > 0,
                tell=untold.append,
            ),
            S["notes_file"],
        ),
    )
    shaded = (
        shade.upward_shaded(
            samples.get,
            {name: frame["flags"] for name, frame in samples.items()},
            moments,
            {name: clocks[name]["interval"] for name in S["sets"]},
            untold.append,
        )
        if S["carrying"]["walking_speed"] > 0
        else {}
    )
    ground, some = place.read(
        [campaign / S["outlines_file"]] if S["outlines_file"] else [],
        [campaign / file for file in dict.fromkeys(S["track_files"].values()) if file],
        S["track_files"],
        S["positions"]["field_name"],
    )
    note("segment", some)
    for name in S["sets"]:
        own = listed[listed["set"] == name]
        placed, some = segment.assign(
            middles[name],
            checks[checks["set"] == name],
            own,
            clocks[name]["interval"],
            segment.response_time(certificates[name]),
            S["carrying"]["walking_speed"] > 0,
        )
        if ground and S["carrying"]["walking_speed"] > 0:
            placed, more = place.placed(
                placed,
                moments[name],
                ground.located(name, moments[name]),
                own,
                list(ground.outlines),
                uncertainty=S["positions"]["uncertainty"],
                interval=clocks[name]["interval"],
                response_time=segment.response_time(certificates[name]),
            )
            some = some + more
        frame = samples[name].assign(
            middle_utc=placed["middle_utc"],
            segment=placed["segment"],
            position=placed["position"],
            flags=merged(samples[name]["flags"], placed["flags"]),
        )
        if name in shaded:
            frame["flags"] = also_flagged(frame["flags"], "upward-shaded", shaded[name])
            note("segment", shade.shaded_findings(name, frame["segment"], shaded[name], moments[name]))
        frame["flags"] = segment.without_meant_covers(own, frame)
        note(
            "segment",
            segment.in_file(
                some
                + segment.covers(own, frame)
                + segment.counts(own, frame, has_any(frame["flags"], excluding)),
                S["notes_file"],
            ),
        )
        samples[name] = frame
    note(
        "segment",
        clock_checks.clocks_against_sun(
            samples,
            middles,
            moments,
            {name: clocks[name]["interval"] for name in S["sets"]},
            listed,
            excluding=excluding,
            walks=S["carrying"]["walking_speed"] > 0,
            site=site,
            tell=untold.append,
        ),
    )
    outcome = Outcome(S, samples, certificates, listed, pd.DataFrame(), {}, {}, None, found, untold)
    if to == "segment":
        return outcome
    fixed, _ = (
        user_tables.read_station([campaign / S["station_file"]])
        if S["methods"]["incoming_terms"] == "station"
        else (None, [])
    )
    samples = {name: summarise.with_sky_memory(frame, excluding) for name, frame in samples.items()}
    segments, some = summarise.segments(
        listed,
        samples,
        clocks,
        excluding,
        surfaces,
        findings.withheld(f for _, f in found),
        fixed,
        S["station"]["stamp"],
    )
    note("summarise", segment.in_file(some, S["notes_file"]))
    # what a table written and read again has by its schema, even without a row
    segments = segments.astype({"start_utc": "datetime64[us, UTC]", "end_utc": "datetime64[us, UTC]"})
    sky = summarise.reference_sky(segments)
    outcome.means = {kind: summarise.groups(segments, by, surfaces, sky) for kind, by in GROUPINGS.items()}
    outcome.segments = segments = summarise.with_common_sky(segments, surfaces, sky)
    note("summarise", summarise.found(outcome.means["surfaces"], sky))
    fallback = {"pressure": 10.0 * float(evaporation.pressure_at(site["elevation"])), **S["weather"]}
    for kind, means in outcome.means.items():
        middle = means["start_utc"] + (means["end_utc"] - means["start_utc"]) / 2
        outcome.balances[kind], some = balance.groups(
            means,
            segments,
            GROUPINGS[kind],
            surfaces,
            S["methods"],
            pd.DataFrame(weather.at(middle, air, fallback)),
            sun.seconds_after_noon(middle, site["longitude"]),
        )
        note("balance", some if kind == "surfaces" else [])
    if to == "summarise":
        return outcome
    terms = uncertainty_terms(config / "uncertainty.csv")
    temperature = weather.at(segments["start_utc"], air, S["weather"])["air_temperature"]
    prepared = inputs.prepare(segments, S["carrying"], temperature, surfaces)
    outcome.result = propagate.propagate(
        inputs.Inputs(
            prepared,
            outcome.means,
            outcome.balances,
            pd.concat(certificates.values(), ignore_index=True),
            surfaces,
            terms,
            S["carrying"],
            course_sizes(config_tables.read_config_table(config / "course.csv").to_dict("records")),
        ),
        S["seed"],
        draws,
        S["methods"]["set_scale"],
        S["methods"]["one_sided"],
    )
    note("propagate", outcome.result.findings)
    station, some = user_tables.read_station([campaign / S["station_file"]] if S["station_file"] else [])
    sources = Campaign(
        samples=samples,
        moments=moments,
        intervals={name: clocks[name]["interval"] for name in clocks},
        excluding=excluding,
        segments=prepared,
        certificates=pd.concat(certificates.values(), ignore_index=True),
        terms=terms,
        carrying=S["carrying"],
    )
    against, outcome.against_station = checked_together(
        sources,
        Means(outcome.result.segments, outcome.result.fields, temperature, S["notes_file"]),
        Station(station, S["station"]["stamp"]),
        surfaces,
        untold.append,
    )
    note("diagnose", some + against)
    return outcome
