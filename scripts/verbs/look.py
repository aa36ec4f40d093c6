"""The quick look before driving home: reads what is in a campaign folder and leaves one page, look.html.

Usage: python scripts/verbs/look.py CAMPAIGN RESULTS [--follow] [--every SECONDS]
Exit status: 0 nothing red, 1 something red, 2 campaign.yaml can't be used.
"""

import argparse
import sys
import time
from pathlib import Path

import pandas as pd

from headland.base import findings
from headland.base.errors import UserErrors
from headland.base.findings import Finding
from headland.base.flags import excluding_flags, limits_of
from headland.base.times import since_1970
from headland.chain import calibrate, correct_longwave, ingest, notes, segment, weather
from headland.checks import channel_check
from headland.field import look
from headland.files import config_tables, logger_files, settings, user_tables, writing
from headland.files.uncertainty_terms import uncertainty_terms
from headland.physics import sun
from headland.physics.constants import RADIATION
from headland.report import figures, report

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "workflow" / "headland" / "report"


def read_set(
    folder: Path, name: str, entry: dict, register: pd.DataFrame, S: dict, air: pd.DataFrame, limits: dict
) -> tuple[look.Record, list[tuple[str, Finding]], list[look.Lamp]]:
    """A set as its files tell it, what was found with the step, and a lamp for each file that can't be opened."""
    layout, frames, found, lamps = entry["layout"], [logger_files.read_nothing(entry["layout"])], [], []
    for shown in entry["raw"]:
        try:
            with (folder / shown).open("rb") as stream:
                frame, some = logger_files.read_logger_file(
                    stream,
                    shown,
                    name,
                    layout,
                    utc_offset=notes.offset_of(entry["utc_offset"]),
                    logger_id=entry["logger_id"],
                )
        except OSError as problem:  # taken away while it was looked at, or on a stick that was pulled out
            lamps.append(
                look.Lamp(
                    name,
                    "files",
                    "red",
                    f"{shown} can't be opened ({problem.strerror or 'unreadable'}).",
                    "Copy it again, and look again.",
                )
            )
            continue
        frames.append(frame)
        found += [("ingest", finding) for finding in some]
    raw, some = ingest.join_files(frames, layout["interval"], name)
    found += [("ingest", finding) for finding in some]
    raw = raw.rename(columns={"time": "time_utc"})
    certificates, some = calibrate.choose_certificates(
        register,
        name,
        entry["logger_id"],
        layout["channels"],
        calibrate.measurement_day(raw["time_utc"]),
        S["methods"]["certificate"],
    )
    found += [("calibrate", finding) for finding in some] if len(register) else []
    sensed = calibrate.calibrate(raw, layout["channels"], certificates, entry["longwave"])
    samples, site = correct_longwave.corrected(sensed), S["site"]
    middles = ingest.middle_of_interval(samples["time_utc"], layout["stamp"], layout["interval"])
    elevation, azimuth = sun.position(middles, site["latitude"], site["longitude"], site["elevation"])
    samples = samples.assign(
        lw_in_net=sensed["lw_in_net"],
        lw_out_net=sensed["lw_out_net"],
        seconds=since_1970(middles),
        solar_elevation=elevation,
        solar_azimuth=azimuth,
        sw_clear=sun.clear_sky_global(elevation, middles, site["elevation"]),
        toa=sun.top_of_atmosphere(middles),
    )
    samples, some = look.screened(
        name, raw, sensed, samples, weather.at(middles, air, S["weather"]), certificates, entry, limits
    )
    return (
        look.Record(raw, samples, middles, certificates, entry),
        found + [("screen", finding) for finding in some],
        lamps,
    )


def read_if_there(folder: Path, file: str, kind: str) -> tuple[pd.DataFrame, list[Finding], str]:
    """A user's table, what is wrong with it and its name; an empty one and no name where there is none (or it went away)."""
    try:
        if file and (folder / file).is_file():
            return *user_tables.read_user_table(folder / file, kind), file
    except OSError:
        pass
    return user_tables.no_user_table(kind), [], ""


def look_at(folder: Path, results: Path, every: float) -> str:
    """Make the page anew; returns the worst colour. every: s after which an open page loads itself again, 0 for never."""
    values = seen_in(folder)
    write(results, {**values, "every": every})
    return values["state"]


def seen_in(folder: Path) -> dict:
    """All that the page shows of a campaign folder as it is now."""
    S = settings.load(folder, ROOT / "config", needs=())
    sentences = findings.sentences(
        config_tables.read_config_table(ROOT / "workflow" / "headland" / "checks" / "findings.csv")
    )
    limits = limits_of(config_tables.read_config_table(ROOT / "config" / "quality.csv"))
    terms, zone = uncertainty_terms(ROOT / "config" / "uncertainty.csv"), S["site"]["timezone"]
    register, some, _ = read_if_there(folder, "instruments.csv", "instruments")
    found, unopened = [("calibrate", finding) for finding in some], []
    try:
        air, _ = user_tables.read_weather([folder / S["weather_file"]] if S["weather_file"] else [])
    except OSError:
        air, _ = user_tables.read_weather([])
    records = {}
    for name, entry in S["sets"].items():
        records[name], some, lamps = read_set(folder, name, entry, register, S, air, limits)
        found, unopened = found + some, unopened + lamps
    samples = {name: record.samples for name, record in records.items()}
    table, some, file = read_if_there(folder, S["notes_file"], "notes")
    noted, more = look.noted_intervals(
        table, file or "notes", S, segment.span(record.middles for record in records.values())
    )
    found += [("segment", finding) for finding in (*some, *more)] + look.against_notes(
        records, noted, file, S, excluding_flags(limits), terms
    )
    lit = [*unopened, *look.of_findings(found, sentences)]
    sets = [
        {
            "name": name,
            "lamps": look.together(
                look.of_set(name, record, S["site"]), [lamp for lamp in lit if lamp.set == name]
            ),
            "files": ", ".join(record.entry["raw"]) or f"none that matches {record.entry['files']}",
            "runs": look.runs_table(record.samples, record.interval, zone),
        }
        for name, record in records.items()
    ]
    all_sets = [
        *look.between_sets(samples, lit),
        *look.of_notes(file, noted, list(records), lit),
        *(lamp for lamp in lit if lamp.set not in records),
    ]
    checked = channel_check.checks(
        noted, samples, {name: record.certificates for name, record in records.items()}
    )
    lamps = [
        *all_sets,
        *(lamp for entry in sets for lamp in entry["lamps"]),
        *(lamp for check in checked for lamp in check["lamps"]),
    ]
    return {
        "title": S["title"],
        "site": S["site"],
        "state": look.worst(lamps),
        "words": look.WORDS,
        "sets": sets,
        "together": all_sets,
        "checks": checked,
        "urgent": [lamp for state in ("red", "amber") for lamp in lamps if lamp.state == state],
        "names": look.NAMES,
        "channels": RADIATION,
        "untested": list(
            dict.fromkeys(
                f"{lamp.subject}{f' ({lamp.set})' if lamp.set else ''}"
                for lamp in lamps
                if lamp.state == "grey"
            )
        ),
        "seen": sum(len(frame) for frame in samples.values()),
        "figure": report.embedded(
            figures.svg(
                look.timeline(
                    samples, {name: record.interval for name, record in records.items()}, noted, zone
                )
            )
        ),
    }


def write(results: Path, values: dict) -> None:
    template, styles = (
        (TEMPLATES / "look.html.jinja").read_text(encoding="utf-8"),
        [(TEMPLATES / name).read_text(encoding="utf-8") for name in ("style.css", "screen.css")],
    )
    page = results / "look.html"
    fresh = page.with_name("look.html.new")
    writing.write_text(fresh, report.page(template, styles, values))
    fresh.replace(page)  # a page that is open never loads half of it


def state_of(folder: Path) -> list:
    """What tells that something in the folder has changed: every file with its size and date."""
    found = []
    for path in sorted(folder.rglob("*")):
        try:
            status = path.stat()
            found.append((str(path), status.st_size, status.st_mtime_ns))
        except OSError:  # gone between being listed and being asked
            continue
    return found


def follow(folder: Path, results: Path, every: float, wait=time.sleep) -> None:
    """Look once, and then again whenever something in the folder has changed since the last look began, asking every so many s; until interrupted. Raises UserErrors at the first look only."""
    before, ever = None, False
    while True:
        now = state_of(folder)
        if now != before:
            before = now
            try:
                say(look_at(folder, results, every))
                ever = True
            except UserErrors as problem:
                if not ever:
                    raise
                print(*problem.errors, sep="\n", flush=True)  # campaign.yaml is being edited
        wait(every)


def say(state: str) -> None:
    print(f"{state.upper()}: {look.WORDS[state]}", flush=True)


def main() -> int:
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("campaign", type=Path)
    parser.add_argument("results", type=Path)
    parser.add_argument("--follow", action="store_true")
    parser.add_argument("--every", type=float, default=10.0)
    args = parser.parse_args()
    try:
        if args.follow:
            follow(args.campaign, args.results, args.every)
        state = look_at(args.campaign, args.results, 0.0)
        say(state)
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    return 1 if state == "red" else 0


if __name__ == "__main__":
    sys.exit(main())
