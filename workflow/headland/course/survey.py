"""What the chain worked on in a finished run, read again for those scripts that run a part of it anew. No command of its own."""

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import excluding_flags, limits_of
from headland.chain import calibrate, notes, segment
from headland.course import answers
from headland.files import config_tables, tables, user_tables

ROOT = Path(__file__).resolve().parents[3]


def noted_in(
    path: Path, chosen: dict, raw: Mapping[str, pd.DataFrame]
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding]]:
    """The intervals of a file of notes, the segments that they make, and what is wrong with the file. chosen: settings. raw: samples by set."""
    table, findings = user_tables.read_user_table(path, "notes")
    noted, found = notes.intervals(
        table,
        path.name,
        chosen["notes"]["timezone"],
        chosen["notes"]["shift"],
        segment.span(frame["time_utc"] for frame in raw.values()),
        list(chosen["sets"]),
        chosen["surfaces"],
        {name: entry["utc_offset"] for name, entry in chosen["sets"].items()},
    )
    segments, more = segment.list_segments(
        noted, chosen["carrying"]["sensor_height"], chosen["carrying"]["walking_speed"]
    )
    return noted, segments, [*findings, *found, *more]


def survey_of(campaign: Path, results: Path, chosen: dict, surfaces: dict) -> answers.Survey:
    """What the chain worked on in the run whose results these are."""
    sets, steps = list(chosen["sets"]), results / "steps"
    of_sets = lambda folder, ending, kind: {
        name: tables.read_table(steps / folder / f"{name}{ending}", kind) for name in sets
    }
    raw = of_sets("1_ingest", ".csv", "samples_raw")
    register, _ = user_tables.read_user_table(campaign / "instruments.csv", "instruments")
    noted, segments, _ = noted_in(campaign / chosen["notes_file"], chosen, raw)
    middle = segments["start_utc"].min()
    return answers.Survey(
        raw=raw,
        segmented=of_sets("5_segment", ".csv", "samples_segmented"),
        certificates=of_sets("2_calibrate", "_certificates.csv", "certificates"),
        sets={
            name: {
                "channels": entry["layout"]["channels"],
                "longwave": entry["longwave"],
                "interval": entry["layout"]["interval"],
                "stamp": entry["layout"]["stamp"],
                "utc_offset": notes.offset_of(entry["utc_offset"]).total_seconds(),
            }
            for name, entry in chosen["sets"].items()
        },
        register=calibrate.register_factors(register),
        noted=noted,
        segments=segments,
        surfaces=surfaces,
        balances=tables.read_table(steps / "7_balance" / "surfaces.csv", "group_balance"),
        excluding=frozenset(
            excluding_flags(limits_of(config_tables.read_config_table(ROOT / "config" / "quality.csv")))
        ),
        found=[
            one
            for file in (
                *(
                    steps / folder / f"{name}_findings.csv"
                    for folder in ("1_ingest", "2_calibrate", "4_screen")
                    for name in sets
                ),
                steps / "5_segment" / "all_findings.csv",
            )
            for one in tables.read_findings(file)
        ],
        set_scale=chosen["methods"]["set_scale"],
        stamp=chosen["station"]["stamp"],
        fixed=user_tables.read_station([campaign / chosen["station_file"]])[0]
        if chosen["methods"]["incoming_terms"] == "station"
        else None,
        walks=chosen["carrying"]["walking_speed"] > 0,
        notes_offset=middle.tz_convert(chosen["notes"]["timezone"]).utcoffset().total_seconds()
        if len(segments)
        else 0.0,
    )
