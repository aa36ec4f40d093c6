"""The quick look before driving home: reads what is in a campaign folder and leaves one page, look.html.

Usage: python scripts/look.py CAMPAIGN RESULTS [--follow] [--every SECONDS]
Exit status: 0 nothing red, 1 something red, 2 campaign.yaml can't be used.
"""

import argparse
import math
import sys
import time
from pathlib import Path

import package_path  # noqa: F401
import pandas as pd
from headland import calibrate, channel_check, correct_longwave, figures, ingest, look, notes, report, screen, segment, settings, sun, tables, weather
from headland.constants import RADIATION
from headland.findings import Finding

ROOT = Path(__file__).resolve().parents[1]
TEMPLATES = ROOT / "workflow" / "report"


def read_set(folder: Path, name: str, entry: dict, register: pd.DataFrame, site: dict) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, list[Finding], list[look.Lamp]]:
    """A set's rows as logged, its samples as `look.of_set` wants them, its certificates, what was found, and a lamp for each file that can't be opened."""
    layout, frames, findings, lamps = entry["layout"], [ingest.read_nothing(entry["layout"])], [], []
    for shown in entry["raw"]:
        try:
            with (folder / shown).open("rb") as stream:
                frame, found = ingest.read_logger_file(stream, shown, name, layout, notes.offset_of(entry["utc_offset"]), entry["logger_id"])
        except OSError as problem:              # taken away while it was looked at, or on a stick that was pulled out
            lamps.append(look.Lamp(name, "files", "red", f"{shown} can't be opened ({problem.strerror or 'unreadable'}).", "Copy it again, and look again."))
            continue
        frames.append(frame)
        findings += found
    raw, found = ingest.join_files(frames, layout["interval"], name)
    findings += found
    raw = raw.rename(columns={"time": "time_utc"})
    certificates, found = calibrate.choose_certificates(register, name, entry["logger_id"], layout["channels"], calibrate.measurement_day(raw["time_utc"]), "latest")
    findings += found if len(register) else []
    sensed = calibrate.calibrate(raw, layout["channels"], certificates, entry["longwave"])
    samples = correct_longwave.corrected(sensed)
    middle = ingest.middle_of_interval(samples["time_utc"], layout["stamp"], layout["interval"])
    elevation, _ = sun.position(middle, site["latitude"], site["longitude"], site["elevation"])
    samples = samples.assign(
        lw_in_net=sensed["lw_in_net"], lw_out_net=sensed["lw_out_net"], seconds=pd.DatetimeIndex(middle).as_unit("us").asi8 / 1e6, solar_elevation=elevation,
        sw_clear=sun.clear_sky_global(elevation, middle, site["elevation"]), top_of_atmosphere=sun.top_of_atmosphere(middle))
    return raw, samples, certificates, findings, lamps


def read_if_there(folder: Path, file: str, kind: str) -> tuple[pd.DataFrame, list[Finding], str]:
    """A user's table, what is wrong with it and its name; an empty one and no name where there is none (or it went away)."""
    try:
        if file and (folder / file).is_file():
            return *tables.read_user_table(folder / file, kind), file
    except OSError:
        pass
    return tables.no_user_table(kind), [], ""


def look_at(folder: Path, results: Path, every: float) -> str:
    """Make the page anew; returns the worst colour. every: s after which an open page loads itself again, 0 for never."""
    S = settings.load(folder, ROOT / "config", needs=())
    sentences = {(row["code"], row["variant"]): row for row in tables.read_config_table(ROOT / "workflow" / "headland" / "findings.csv").to_dict("records")}
    limits = screen.limits_of(tables.read_config_table(ROOT / "config" / "quality.csv"))
    register, found, _ = read_if_there(folder, "instruments.csv", "instruments")
    lamps = look.of_findings("", "instruments.csv", look.faults(found, sentences, "calibrate"))
    try:
        air, _ = tables.read_weather([folder / S["weather_file"]] if S["weather_file"] else [])
    except OSError:
        air, _ = tables.read_weather([])
    raws, samples, middles, certificates, sets = {}, {}, {}, {}, []
    for name, entry in S["sets"].items():
        raws[name], samples[name], certificates[name], found, unopened = read_set(folder, name, entry, register, S["site"])
        layout = entry["layout"]
        middles[name] = ingest.middle_of_interval(samples[name]["time_utc"], layout["stamp"], layout["interval"])
        temperature = pd.Series(weather.at(middles[name], air, S["weather"])["air_temperature"]).median() if len(samples[name]) else math.nan
        own = [*unopened, *look.of_findings(name, "files", look.faults(found, sentences, "ingest"))]
        own += look.of_set(name, samples[name], raws[name], entry, limits, S["site"], temperature)
        lamps += own
        sets.append({"name": name, "lamps": own, "files": ", ".join(entry["raw"]) or f"none that matches {entry['files']}",
                     "runs": look.runs_table(samples[name], layout["interval"], S["site"]["timezone"])})
    table, found, file = read_if_there(folder, S["notes_file"], "notes")
    noted, more = look.noted_intervals(table, file or "notes", S, segment.span(middles.values()))
    told = [(severity, f"{place}: {what}" if place else what, remedy) for severity, place, what, remedy in look.faults([*found, *more], sentences, "segment")]
    together = [*look.between_sets(samples), *look.of_notes(file, noted, told, samples)]
    checked = channel_check.checks(noted, samples, certificates)
    lamps += [*together, *(lamp for check in checked for lamp in check["lamps"])]
    values = {
        "title": S["title"], "site": S["site"], "state": look.worst(lamps), "words": look.WORDS, "every": every, "sets": sets, "together": together, "checks": checked,
        "urgent": [lamp for state in ("red", "amber") for lamp in lamps if lamp.state == state], "names": look.NAMES, "channels": RADIATION,
        "untested": list(dict.fromkeys(f"{lamp.subject}{f' ({lamp.set})' if lamp.set else ''}" for lamp in lamps if lamp.state == "grey")),
        "seen": sum(len(frame) for frame in samples.values()),
        "figure": report.embedded(figures.svg(look.timeline(samples, {name: entry["layout"]["interval"] for name, entry in S["sets"].items()}, noted, S["site"]["timezone"])))}
    write(results, values)
    return values["state"]


def write(results: Path, values: dict) -> None:
    template, styles = (TEMPLATES / "look.html.jinja").read_text(encoding="utf-8"), [(TEMPLATES / name).read_text(encoding="utf-8") for name in ("style.css", "screen.css")]
    page = results / "look.html"
    fresh = page.with_name("look.html.new")
    tables.write_text(fresh, report.page(template, styles, values))
    fresh.replace(page)                         # a page that is open never loads half of it


def state_of(folder: Path) -> list:
    """What tells that something in the folder has changed: every file with its size and date."""
    found = []
    for path in sorted(folder.rglob("*")):
        try:
            status = path.stat()
            found.append((str(path), status.st_size, status.st_mtime_ns))
        except OSError:                         # gone between being listed and being asked
            continue
    return found


def main() -> int:
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("campaign", type=Path)
    parser.add_argument("results", type=Path)
    parser.add_argument("--follow", action="store_true")
    parser.add_argument("--every", type=float, default=10.0)
    args = parser.parse_args()
    before, ever = None, False
    while True:
        now = state_of(args.campaign)
        if now != before:
            before = now
            try:
                state = look_at(args.campaign, args.results, args.every if args.follow else 0.0)
                print(f"{state.upper()}: {look.WORDS[state]}", flush=True)
                ever = True
            except tables.UserErrors as problem:
                print(*problem.errors, sep="\n", file=sys.stdout if ever else sys.stderr, flush=True)
                if not ever:
                    return 2
        if not args.follow:
            return 1 if state == "red" else 0
        time.sleep(args.every)


if __name__ == "__main__":
    sys.exit(main())
