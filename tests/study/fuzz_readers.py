"""The readers of untrusted input, each with its sound inputs and the changes that suit them."""

from __future__ import annotations

import io
import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

import numpy as np
import pandas as pd

import chain
from headland.base import findings
from headland.chain import calibrate, ingest, notes, place, segment, weather
from headland.course import answers, answers_page, packs
from headland.course.rerun import Outcome
from headland.field import day as days
from headland.field import new_folder, plan, timetable
from headland.files import logger_files, settings, tables, user_tables, writing, yaml_files
from headland.files.required import read_required
from headland.files.uncertainty_terms import uncertainty_terms
from headland.physics import plane
from headland.record import bag, compare, intact, names, pack, programs
from study import mutate, mutate_packed, mutate_text, mutate_yaml
from study.fuzz_guard import ROOT, plain, told
from study.fuzz_inputs import (
    OFFSETS,
    SPAN,
    campaign_for,
    classes,
    folders,
    loggers,
    of_file,
    phone_cases,
    timed_cases,
    with_layouts,
)
from study.mutate import Case


@dataclass(frozen=True)
class Reader:
    """What is fuzzed: inputs that are sound, and a function that reads one from a folder and returns how many
    findings it has.

    The function may end in UserErrors or Refused. fixed: files that stay as they are. times: of the time that
    others may take.
    """

    seeds: Callable[[], list[Case]]
    read: Callable[[Path], int]
    kinds: Callable[[str], Sequence[Callable]] = mutate.of_kind
    fixed: tuple[str, ...] = ()
    times: float = 1.0


def laid_out(folder: Path, case: Mapping[str, bytes]) -> Path:
    """A case as files in a folder of its own, which is made anew."""
    shutil.rmtree(folder, ignore_errors=True)
    for name, content in case.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return folder


def read_layout(folder: Path) -> int:
    """The file of a set by its layout, through the settings, with samples and findings as step 1 has them."""
    chosen = settings.load(folder, folder / "config", needs=())
    entry, found, frames = (
        chosen["sets"]["curlew"],
        [],
        [logger_files.read_nothing(chosen["sets"]["curlew"]["layout"])],
    )
    for shown in entry["raw"]:
        with (folder / shown).open("rb") as stream:
            frame, some = logger_files.read_logger_file(
                stream,
                shown,
                "curlew",
                entry["layout"],
                utc_offset=notes.offset_of(entry["utc_offset"]),
                logger_id=entry["logger_id"],
            )
        frames.append(frame)
        found += some
    samples, some = ingest.join_files([*frames, *frames[-1:]], entry["layout"]["interval"], "curlew")
    tables.write_table(folder / "out.csv", samples.rename(columns={"time": "time_utc"}), "samples_raw")
    return left(folder, found + some, "ingest")


def left(folder: Path, found: list, step: str) -> int:
    """Findings put into words, and the same after they were written and read."""
    count = told(found, step)
    tables.write_findings(folder / "findings.csv", found[:200])
    told(tables.read_findings(folder / "findings.csv"), step)
    return count


def read_settings(folder: Path) -> int:
    chosen = settings.load(folder, ROOT / "config", needs=())
    settings.changed(chosen)
    writing.write_json(folder / "settings.json", chosen)
    return 0


def read_notes(folder: Path, name: str) -> int:
    table, found = user_tables.read_user_table(folder / name, "notes")
    noted, some = notes.intervals(
        table, name, notes.notes_clock("Europe/Ljubljana", "00:00:00", SPAN), list(classes()), OFFSETS
    )
    listed, more = segment.list_segments(noted, 1.5, 0.8)
    return left(folder, [*found, *some, *more], "segment")


def read_register(folder: Path) -> int:
    register, found = user_tables.read_user_table(folder / "instruments.csv", "instruments")
    for method in ("latest", "interpolate"):
        for name, logger in (("curlew", "C-11"), ("lapwing", "L-24")):
            table, some = calibrate.choose_certificates(
                register, name, logger, loggers()[0][0]["channels"], day=SPAN[0].date(), method=method
            )
            tables.write_table(folder / "certificates.csv", table, "certificates")
            found += some
    return left(folder, found, "calibrate")


def read_air(folder: Path) -> int:
    air, found = user_tables.read_weather([folder / "weather.csv"])
    weather.at(pd.Series(pd.DatetimeIndex(SPAN)), air, {})
    return left(folder, found, "balance")


def read_station(folder: Path) -> int:
    return left(folder, user_tables.read_station([folder / "station.csv"])[1], "diagnose")


def read_timed(folder: Path, kind: str) -> int:
    """A table of records in time: its moments, and the findings."""
    read = {"ground": user_tables.read_ground, "levels": user_tables.read_levels}[kind]
    return left(folder, read([folder / f"{kind}.csv"])[1], "balance")


PLACES = {
    "track.gpx": (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="made for a test" '
        'xmlns="http://www.topografix.com/GPX/1/1"><trk><name>walk</name><trkseg>\n'
        + "".join(
            f'<trkpt lat="45.93{second:03}" lon="14.87{second:03}"><ele>310.5</ele>'
            f"<time>2025-08-20T10:{30 + second // 60:02}:{second % 60:02}Z</time></trkpt>\n"
            for second in range(0, 300, 10)
        )
        + "</trkseg></trk></gpx>\n"
    ).encode(),
    "fields.geojson": b"""{"type": "FeatureCollection", "features": [
 {"type": "Feature", "properties": {"name": "Lower meadow"}, "geometry": {"type": "Polygon",
  "coordinates": [[[14.87, 45.93], [14.8702, 45.93], [14.8702, 45.9302], [14.87, 45.9302], [14.87, 45.93]]]}},
 {"type": "Feature", "properties": {"name": "Dry tilth"}, "geometry": {"type": "MultiPolygon",
  "coordinates": [[[[14.8702, 45.9302, 310], [14.8704, 45.9302, 310], [14.8704, 45.9304, 310],
   [14.8702, 45.9302, 310]]]]}}]}
""",
}
"""A track and outlines of fields, made up."""


def read_places(folder: Path) -> int:
    """A track and the outlines, down to where each sample was taken."""
    ground, found = place.read(
        [folder / "fields.geojson"], [folder / "track.gpx"], {"curlew": "track.gpx"}, "name"
    )
    if ground:
        moments = np.arange(SPAN[0].timestamp(), SPAN[0].timestamp() + 300.0)
        located = ground.located("curlew", moments)
        tables.write_table(folder / "places.csv", located, "places")
        for rings in ground.outlines.values():
            plane.longest_chord(rings, 80.0)
    return left(folder, found, "segment")


@cache
def finished() -> chain.Outcome:
    """A finished run, which answers are held against."""
    with tempfile.TemporaryDirectory() as place:
        return chain.run(laid_out(Path(place) / "x", folders()[0]), draws=64)


@cache
def answer_cases() -> list[Case]:
    name = finished().result.segments["segment"].iloc[0]
    return [
        {
            "answers.csv": (
                "who,segment,surface,quantity,value,unit,uncertainty\n"
                + f'ann,{name},,net_radiation,512.4,W m-2,10\nbob,,short_grass,albedo,"0,23",%,\n'
                f"ann,,short grass,surface_temperature,25.1,degC,0.5\n,{name},,sw_in,800,W/m²,\n"
                "bob,,short_grass,evaporation,0.4,mm/h,\n"
            ).encode()
        }
    ]


def read_answers(folder: Path) -> int:
    given = read_required(folder / "answers.csv", "answers", "answers")
    result, labels = finished().result, {name: entry["label"]["value"] for name, entry in classes().items()}
    outcome = Outcome(result.segments.set_index("segment"), result.surfaces.set_index("surface"))
    reference = answers.Reference(
        {"segments": result.segments, "surfaces": result.surfaces},
        labels,
        [("edges-included", outcome)],
        {"edges-included": {"hint": "h", "formula": "", "what": "w"}},
    )
    checked = answers.check(given, reference)
    tables.write_table(folder / "checked.csv", checked, "answers_checked")
    for file in answers_page.contexts(checked, {}, labels, hide=False):
        (folder / file).write_text("x")
    return int((checked["verdict"] == "unreadable").sum())


PLANNED = {
    "campaign.yaml": campaign_for("comma-clock", "C-11").replace(
        b"title: t", b"plan: {date: '2026-05-21', rounds: 2}\ntitle: t"
    ),
    "plan.csv": b"field,surface,length,headings,outline\nLower meadow,short_grass,80,80,\n"
    b"Dry tilth,bare_dry_soil,60,60-120 240,\nYard,paving,40,any,\n",
}


def read_plan(folder: Path) -> int:
    """Fields and hours of a plan, the best headings, the timetable."""
    chosen = settings.load(folder, ROOT / "config", needs=())
    fields = plan.fields_of(folder, classes(), chosen["positions"]["field_name"])
    start, end, moments = plan.hours_of(chosen)
    inside = days.sky(moments[::12], chosen["site"], 20.0, 60.0)
    fields = plan.with_headings(fields, inside, chosen["carrying"])
    entry = chosen["plan"]
    asked = timetable.Day(
        start,
        end,
        chosen["carrying"]["walking_speed"] or 0.8,
        entry["minutes_between"],
        entry["sky_monitor"],
        entry["rounds"],
        chosen["seed"],
    )
    visits, _ = timetable.timetable(fields, list(chosen["sets"]), asked)
    tables.write_table(folder / "timetable.csv", visits, "timetable")
    return 0


def read_groups(folder: Path) -> int:
    packs.dealt(packs.read_groups(folder / "groups.csv"), list(classes())[:3])
    return 0


def read_sample(folder: Path) -> int:
    """A logger's file from which a new folder is made.

    Its layout must be one that the settings can read, apart from what a person fills in.
    """
    labels = {name: entry["label"]["value"] for name, entry in classes().items()}
    new_folder.made(folder / "made", [folder / "logger.csv"], "made", labels)
    yaml_files.read_yaml(folder / "made" / "campaign.yaml", "campaign.yaml")
    return 0


def read_terms(folder: Path) -> int:
    uncertainty_terms(folder / "uncertainty.csv")
    return 0


def packed(files: Mapping[str, bytes]) -> bytes:
    stream = io.BytesIO()
    pack.pack(stream, "x", files, {"README.txt": b"read me\n"}, {"Title": "x"})
    return stream.getvalue()


@cache
def archives() -> list[Case]:
    files = {
        name.removeprefix("data/"): b"{}" if name.endswith(".json") else b"a,b\n1,2\n"
        for name in intact.ALWAYS_THERE
        if name.startswith("data/")
    }
    files |= {
        "project/requirements.lock": b"one==1.0 \\\n    --hash=sha256:" + b"0" * 64 + b"\n",
        "inputs/x/campaign.yaml": b"title: x\n",
        "results/surfaces.csv": b"surface,albedo\nshort_grass,0.2000\n",
        "settings.json": b'{"campaign": {"title": "x"}, "inputs": [{"path": "inputs/x/campaign.yaml"}]}',
        "versions.json": b'{"headland": "0.1.0", "python": "3.11", "system": "Linux", '
        b'"libraries": {"numpy": "2.0"}}',
        "datapackage.json": b'{"resources": [{"path": "results/surfaces.csv"}]}',
        "ro-crate-metadata.json": b'{"@graph": [{"@id": "results/surfaces.csv", "@type": "File"}]}',
    }
    return [{"run.zip": packed(files)}]


def read_archive(folder: Path) -> int:
    """An archive as `verify` looks through it, up to where its programs would be run: unpacked, and compared
    with the sound one.
    """
    with (folder / "run.zip").open("rb") as stream:
        first, archive = bag.opened(io.BytesIO(archives()[0]["run.zip"])), bag.opened(stream)
        faults = intact.faults(archive)
        for line in faults:
            plain(line, "a fault of an archive")
        if faults:
            return len(faults)
        chosen, versions = (
            intact.described(archive, f"data/{name}.json") for name in ("settings", "versions")
        )
        said = [
            *programs.other_code(archive, {"scripts/headland.py": "0"}),
            *programs.faults_of_lock(archive),
            programs.digest_of_code(archive),
        ]
        archive.unpack("data/inputs/", folder / "unpacked")
        said += compare.versions_apart(versions, {"python": "3.11"})
        for one, two in ((first, archive), (archive, first)):
            result = compare.compared(one, two)
            said += [*result.apart, *result.rounding, *result.others]
        for line in (*said, names.shown(str(chosen)) or "-"):
            plain(line, "a line about an archive")
    return 0


def whole(folder: Path, to: str) -> int:
    """A whole campaign through the chain."""
    outcome = chain.run(folder, draws=64, to=to)
    for step in dict.fromkeys(step for step, _ in outcome.found):
        left(folder, [finding for where, finding in outcome.found if where == step], step)
    findings.folded(outcome.found)
    tables.write_table(
        folder / "out" / "segments.csv",
        outcome.segments if to == "summarise" else outcome.result.segments,
        "segment_means" if to == "summarise" else "segments",
    )
    return len(outcome.found)


def of_archive(name: str) -> Sequence[Callable]:
    return (partial(mutate_packed.archive, pack=packed),)


def of_logger(name: str) -> Sequence[Callable]:
    return (mutate_text.table,) * 6 + (
        mutate_text.bits,
        mutate_text.cut,
        mutate_text.inserted,
        mutate_text.encoded,
    )


def of_places(name: str) -> Sequence[Callable]:
    return (mutate_yaml.json_text if name.endswith("json") else mutate_packed.xml,) * 8 + (
        mutate_text.bits,
        mutate_text.cut,
        mutate_text.inserted,
        mutate_text.encoded,
    )


def of_folder(name: str) -> Sequence[Callable]:
    return of_logger(name) if name.startswith("logger/") else mutate.of_kind(name)


CONFIGURED = ("config/surfaces.csv", "campaign.yaml")
READERS: dict[str, Reader] = {
    "layout": Reader(with_layouts, read_layout, fixed=(*CONFIGURED, "logger/a.csv")),
    "logger": Reader(with_layouts, read_layout, of_folder, fixed=(*CONFIGURED, "config/layouts/mine.yaml")),
    "settings": Reader(of_file("campaign.yaml"), read_settings),
    "notes": Reader(of_file("notes.csv"), partial(read_notes, name="notes.csv")),
    "workbook": Reader(of_file("notes.xlsx"), partial(read_notes, name="notes.xlsx")),
    "register": Reader(of_file("instruments.csv"), read_register),
    "weather": Reader(of_file("weather.csv"), read_air),
    "station": Reader(of_file("station.csv"), read_station),
    "ground": Reader(timed_cases("ground"), partial(read_timed, kind="ground")),
    "levels": Reader(timed_cases("levels"), partial(read_timed, kind="levels")),
    "phone": Reader(phone_cases, partial(read_notes, name="notes.csv")),
    "answers": Reader(answer_cases, read_answers),
    "plan": Reader(lambda: [dict(PLANNED)], read_plan, fixed=("campaign.yaml",)),
    "groups": Reader(
        lambda: [{"groups.csv": b"group,surfaces\nfoxes,short_grass bare_dry_soil\nowls,\n"}], read_groups
    ),
    "sample": Reader(
        lambda: [{"logger.csv": content} for _, content, _ in loggers()], read_sample, of_logger
    ),
    "terms": Reader(
        lambda: [{"uncertainty.csv": (ROOT / "config" / "uncertainty.csv").read_bytes()}], read_terms
    ),
    "places": Reader(lambda: [dict(PLACES)], read_places, of_places),
    "archive": Reader(archives, read_archive, of_archive),
    "to-means": Reader(lambda: list(folders()), partial(whole, to="summarise"), of_folder, times=4.0),
    "to-intervals": Reader(lambda: list(folders()), partial(whole, to="propagate"), of_folder, times=4.0),
}
