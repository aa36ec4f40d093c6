"""Untrusted input: every reader, and whole campaigns, on files changed at random. `python -m study.fuzz
READER --runs N`, or `all`.

A changed input (`study.mutate`) must give results or plain errors: no other exception, no hang, no memory
without bound, no look or step outside its folder. Guided by coverage: an input that takes the project's code
along a way not taken before (a pair of lines executed one after the other) is kept and changed further.
Inputs, counts and what broke are kept in a folder, so that a study can be stopped and taken up again:
--folder, by default beside the project.
"""

from __future__ import annotations

import argparse
import dataclasses
import faulthandler
import gc
import hashlib
import io
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

import numpy as np
import pandas as pd
import yaml

import chain
from headland.base import findings
from headland.base.errors import UserErrors
from headland.chain import calibrate, ingest, notes, place, segment, weather
from headland.course import answers, answers_page, packs
from headland.course.rerun import Outcome
from headland.field import day as days
from headland.field import new_folder, plan, timetable
from headland.files import logger_files, settings, tables, user_tables, writing, yaml_files
from headland.files.required import read_required
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.physics import plane
from headland.record import bag, compare, intact, names, pack, programs
from simulate import campaign as simulated
from simulate import specs
from simulate.spec import Visit
from study import mutate
from study.mutate import Case

ROOT = Path(__file__).parents[2]
sys.path.insert(
    1, str(ROOT / "scripts" / "verbs")
)  # after workflow: scripts/headland.py must not stand for the package
OURS = str(ROOT / "workflow" / "headland")
FOLDER = ROOT.parent / "fuzzing"
SECONDS, MEMORY = 4.0, 1_500_000_000
"""CPU seconds and bytes that one input may take; a whole campaign may take four times the time."""
LONGEST = 2000
"""Characters of a message to people."""
WATCHED = 10
"""One input of so many is watched for new ways: watching makes it three to four times slower."""
KEPT = 2000
"""Inputs that a reader keeps for further changes."""
SENTENCES = chain.SENTENCES


# What is no plain end
# ------------------------------------------------------------------------------------------------


class Broken(Exception):
    """An end that is neither results nor a plain error: what is wrong with it."""


class TooLong(BaseException):
    """The time for one input is over."""


def plain(text: str, what: str) -> None:
    """Raise Broken where a message is not one short line of printable characters."""
    if not text.strip() or not text.isprintable() or len(text) > LONGEST:
        raise Broken(
            f"{what} is no plain line: {text[:300]!r}{f' ... ({len(text)} characters)' if len(text) > 300 else ''}"
        )


def told(found: Sequence[findings.Finding], step: str) -> int:
    """How many findings there are, each put into words as the report and the console have them."""
    for finding in found:
        row = findings.describe(finding, step, SENTENCES)
        for key in ("what", "remedy"):
            plain(row[key], f"{key} of {finding.code}")
        plain(f"{row['file']} {row['set']} {row['channel']}.", f"place of {finding.code}")
    return len(found)


WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
NEVER = (
    "subprocess.Popen",
    "os.system",
    "os.exec",
    "os.posix_spawn",
    "os.fork",
    "os.forkpty",
    "socket.connect",
    "socket.bind",
    "socket.getaddrinfo",
    "pickle.find_class",
    "urllib.Request",
)
CHANGES = (
    "os.mkdir",
    "os.remove",
    "os.rename",
    "os.rmdir",
    "os.link",
    "os.symlink",
    "os.truncate",
    "os.chmod",
    "os.utime",
    "shutil.rmtree",
    "shutil.move",
    "shutil.copyfile",
)
READABLE = [
    str(ROOT),
    "/usr/share/zoneinfo",
    "/usr/lib",
    "/proc/self",
    "/dev/null",
    "/etc/mime.types",
    *sys.path[3:],
    os.path.realpath(sys.prefix),  # an environment may be a link
    sys.base_prefix,
    "/sys/fs/cgroup/",  # how many processors a library may use
]
_guarded: list[str] = []
_outside: list[str] = []


def _watch(event: str, args: tuple) -> None:
    """Notes what a reader does beyond its folder while one is guarded."""
    if not _guarded:
        return
    if event in NEVER:
        _outside.append(f"{event} {str(args[:2])[:200]}")
    elif event == "open" and isinstance(args[0], (str, bytes)) or event in CHANGES:
        path = (
            os.path.realpath(os.fsdecode(args[0])) if isinstance(args[0], (str, bytes, os.PathLike)) else ""
        )
        writes = event != "open" or bool((args[2] or 0) & WRITES)
        if (
            path
            and not path.startswith(_guarded[0])
            and (writes or not any(path.startswith(place) for place in READABLE))
        ):
            _outside.append(f"{event} {path}")


sys.addaudithook(_watch)


@contextmanager
def guarded(folder: Path, seconds: float) -> Iterator[None]:
    """Raise Broken where what is done within needs too much time or memory, or leaves the folder."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    folder.mkdir(parents=True, exist_ok=True)
    tempfile.tempdir, place = str(folder), tempfile.tempdir
    sys.dont_write_bytecode, kept = (
        True,
        sys.dont_write_bytecode,
    )  # a module that is first imported here would be compiled beside its source
    _guarded[:], _outside[:] = [os.path.realpath(folder)], []
    signal.signal(signal.SIGPROF, _over)
    signal.setitimer(signal.ITIMER_PROF, seconds, 1.0)
    faulthandler.dump_traceback_later(
        seconds * 20 + 60, exit=True
    )  # code that no signal reaches; the next start finds the input
    try:
        yield
    except TooLong as problem:
        raise Broken(f"more than {seconds:g} s") from problem
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        faulthandler.cancel_dump_traceback_later()
        _guarded.clear()
        tempfile.tempdir, sys.dont_write_bytecode = place, kept
    if _outside:
        raise Broken(f"left its folder: {_outside[0]}")
    if (grown := resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) > 500_000:
        raise Broken(f"took {grown // 1000} MB")


def _over(*_) -> None:
    raise TooLong


# The readers
# ---------------------------------------------------------------------------------------------------------


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


SITE = {"latitude": 45.93, "longitude": 14.87, "elevation": 310.0}
SPAN = tuple(pd.Timestamp(f"2025-08-20T{hour}:30:00Z").to_pydatetime() for hour in ("10", "11"))
SETS, OFFSETS = ["curlew", "lapwing"], {"curlew": "+01:00", "lapwing": "+00:00"}


@cache
def classes() -> dict:
    return surface_classes(ROOT / "config" / "surfaces.csv", {})


def short(**changes) -> specs.Spec:
    """Two sets over two fields in a few minutes, with every kind of note."""
    fields = (
        specs.field("Lower meadow", "short_grass", length=30),
        specs.field("Dry tilth", "bare_dry_soil", length=30),
    )
    sets = specs.two_sets()
    visits = [Visit(s.name, 0, activity="clock_check") for s in sets] + [
        Visit(s.name, 30, "Lower meadow", "channel_check", lasts=40, remark="sw_in sw_out lw_in lw_out")
        for s in sets
    ]
    visits += [Visit(s.name, 100, "Lower meadow", "side_by_side", lasts=40) for s in sets]
    for s, order in zip(sets, (fields, fields[::-1])):
        at = 160.0
        for f in order:
            some, at = specs.walks(s.name, f, at, 1, 0.8, turn=20.0)
            visits += some
            at += 30
    visits += [Visit(s.name, 420, activity="clock_check") for s in sets]
    return specs.Spec("Two sets, minutes", "2025-08-20 12:30:00", fields, sets, tuple(visits), seed=5).with_(
        **changes
    )


@cache
def folders() -> tuple[Case, ...]:
    """Small sound campaigns: one set; two sets with every kind of note; notes in a workbook with a layout of
    their own; a station.
    """
    made = [
        simulated.simulate(spec).files()
        for spec in (specs.minimal(), short(), few_rows(specs.inline_layout()), specs.station())
    ]
    cases = [
        {name: content for name, content in files.items() if not name.startswith("truth")} for files in made
    ]
    cases[1]["station.csv"] = b"time_utc,sw_in,sw_out,lw_in,lw_out\n" + b"".join(
        b"2025-08-20T10:%02d:00Z,800.5,160.1,350,430\n" % minute for minute in range(30, 50)
    )
    return tuple(cases)


def few_rows(spec: specs.Spec) -> specs.Spec:
    return spec.with_(
        fields=spec.fields[:1],
        visits=tuple(v for v in spec.visits if v.field in ("", spec.fields[0].name))[:3],
    )


def of_file(name: str) -> Callable[[], list[Case]]:
    return lambda: [{name: case[name]} for case in folders() if name in case]


@cache
def loggers() -> tuple[tuple[dict, bytes, str], ...]:
    """Layouts of many kinds, a file of each, its logger."""
    made = simulated.simulate(specs.many_sets(9)).files()
    chosen = yaml.safe_load(made["campaign.yaml"])
    found = []
    for name, entry in chosen["sets"].items():
        file = next(
            file
            for file in sorted(made)
            if file.startswith("logger/") and Path(file).match(entry["files"].split("/")[-1])
        )
        layout = entry["layout"]
        layout = (
            yaml.safe_load((ROOT / "config" / "layouts" / f"{layout}.yaml").read_text(encoding="utf-8"))
            if isinstance(layout, str)
            else layout
        )
        found.append((layout, b"".join(made[file].splitlines(keepends=True)[:45]), entry["logger_id"]))
    return tuple(found)


def campaign_for(layout: str, logger_id: str) -> bytes:
    return yaml.safe_dump(
        {
            "title": "t",
            "site": {"name": "s", **SITE, "timezone": "Europe/Ljubljana"},
            "sets": {
                "curlew": {
                    "logger_id": logger_id,
                    "utc_offset": "+01:00",
                    "files": "logger/*",
                    "layout": layout,
                    "longwave": "net",
                }
            },
        }
    ).encode()


def with_layouts() -> list[Case]:
    own = (ROOT / "config" / "surfaces.csv").read_bytes()
    return [
        {
            "config/layouts/mine.yaml": yaml.safe_dump(layout, sort_keys=False).encode(),
            "config/surfaces.csv": own,
            "campaign.yaml": campaign_for("mine", logger),
            "logger/a.csv": content,
        }
        for layout, content, logger in loggers()
    ]


def read_layout(folder: Path) -> int:
    """The file of a set by its layout, through the settings; its samples and findings as step 1 leaves them."""
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


PLACES = {
    "track.gpx": (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="made for a test" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>walk</name><trkseg>\n'
        + "".join(
            f'<trkpt lat="45.93{second:03}" lon="14.87{second:03}"><ele>310.5</ele><time>2025-08-20T10:{30 + second // 60:02}:{second % 60:02}Z</time></trkpt>\n'
            for second in range(0, 300, 10)
        )
        + "</trkseg></trk></gpx>\n"
    ).encode(),
    "fields.geojson": b"""{"type": "FeatureCollection", "features": [
 {"type": "Feature", "properties": {"name": "Lower meadow"}, "geometry": {"type": "Polygon", "coordinates": [[[14.87, 45.93], [14.8702, 45.93], [14.8702, 45.9302], [14.87, 45.9302], [14.87, 45.93]]]}},
 {"type": "Feature", "properties": {"name": "Dry tilth"}, "geometry": {"type": "MultiPolygon", "coordinates": [[[[14.8702, 45.9302, 310], [14.8704, 45.9302, 310], [14.8704, 45.9304, 310], [14.8702, 45.9302, 310]]]]}}]}
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
                f"ann,,short grass,surface_temperature,25.1,degC,0.5\n,{name},,sw_in,800,W/m²,\nbob,,short_grass,evaporation,0.4,mm/h,\n"
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
    "plan.csv": b"field,surface,length,headings,outline\nLower meadow,short_grass,80,80,\nDry tilth,bare_dry_soil,60,60-120 240,\nYard,paving,40,any,\n",
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
        "versions.json": b'{"headland": "0.1.0", "python": "3.11", "system": "Linux", "libraries": {"numpy": "2.0"}}',
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
    return (partial(mutate.archive, pack=packed),)


def of_logger(name: str) -> Sequence[Callable]:
    return (mutate.table,) * 6 + (mutate.bits, mutate.cut, mutate.inserted, mutate.encoded)


def of_places(name: str) -> Sequence[Callable]:
    return (mutate.json_text if name.endswith("json") else mutate.xml,) * 8 + (
        mutate.bits,
        mutate.cut,
        mutate.inserted,
        mutate.encoded,
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


# The ways that code took
# ---------------------------------------------------------------------------------------------


class Ways:
    """Pairs of lines of the project that were executed one after the other in one function."""

    def __init__(self):
        self.taken: set[tuple] = set()
        self.ours: dict = {}

    def _call(self, frame, event, arg):
        code = frame.f_code
        known = self.ours.get(code)
        if known is None:
            known = self.ours[code] = code.co_filename.startswith(OURS)
        if not known:
            return None
        last, add = 0, self.taken.add

        def line(frame, event, arg):
            nonlocal last
            if event == "line":
                add((code, last, frame.f_lineno))
                last = frame.f_lineno
            return line

        return line

    @contextmanager
    def watched(self) -> Iterator[None]:
        sys.settrace(self._call)
        try:
            yield
        finally:
            sys.settrace(None)


# The loop
# ------------------------------------------------------------------------------------------------------------


@dataclass
class Tally:
    """What a reader's study came to so far."""

    runs: int = 0
    results: int = 0
    findings: int = 0
    refused: int = 0
    broken: int = 0
    ways: int = 0
    seconds: float = 0.0


def laid_out(folder: Path, case: Mapping[str, bytes]) -> Path:
    """A case as files in a folder of its own, which is made anew."""
    shutil.rmtree(folder, ignore_errors=True)
    for name, content in case.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return folder


def ended(reader: Reader, folder: Path) -> str:
    """How reading a case ended: `results`, `findings` or `refused`.

    Raises what must not come out of a reader, Broken among it.
    """
    with guarded(folder, SECONDS * reader.times), warnings.catch_warnings(record=True) as noise:
        warnings.simplefilter("always")
        try:
            end = "findings" if reader.read(folder) else "results"
        except UserErrors as problem:
            for error in problem.errors:
                plain(str(error), "an error")
                plain(error.file, "the file of an error")
            end = "refused"
        except pack.Refused as problem:
            for line in problem.faults:
                plain(line, "a fault")
            end = "refused"
    for warning in noise:
        if not issubclass(warning.category, (DeprecationWarning, ResourceWarning, PendingDeprecationWarning)):
            raise Broken(
                f"a warning on the console: {warning.category.__name__} {str(warning.message)[:150]} ({Path(warning.filename).name}:{warning.lineno})"
            )
    return end


def signature(problem: BaseException) -> str:
    """What tells two breaks apart: the kind of exception, and the innermost place in the project."""
    frames = [
        frame
        for frame in traceback.extract_tb(problem.__traceback__)
        if frame.filename.startswith((OURS, str(ROOT / "scripts"), str(ROOT / "tests" / "chain")))
    ]
    cause = problem.__cause__ if isinstance(problem, Broken) and problem.__cause__ is not None else None
    if cause is not None:
        frames = [
            frame for frame in traceback.extract_tb(cause.__traceback__) if frame.filename.startswith(OURS)
        ] or frames
    place = f"{Path(frames[-1].filename).stem}-{frames[-1].name}" if frames else ""
    words = " ".join(str(problem).split()[:7]) if isinstance(problem, Broken) else ""
    return "".join(
        c if c.isalnum() or c in "-_" else "_" for c in f"{type(problem).__name__}_{place}_{words}"
    )[:110]


def keep(folder: Path, case: Mapping[str, bytes], most: int) -> None:
    """Keep a case in a folder, by its digest, if there are fewer than `most`."""
    if folder.is_dir() and len(list(folder.iterdir())) >= most:
        return
    digest = hashlib.sha256(
        b"\0".join(name.encode() + content for name, content in sorted(case.items()))
    ).hexdigest()[:12]
    laid_out(folder / digest, case)


def kept(folder: Path) -> list[Case]:
    return (
        [
            {
                file.relative_to(one).as_posix(): file.read_bytes()
                for file in sorted(one.rglob("*"))
                if file.is_file()
            }
            for one in sorted(folder.iterdir())
        ]
        if folder.is_dir()
        else []
    )


def study(
    name: str, runs: int, place: Path, minutes: float = 1e9, say: Callable[[str], None] = lambda line: None
) -> Tally:
    """Go on with a reader's study until it has had so many inputs in all, or minutes are over. place: the
    study's folder.
    """
    reader, own, now = READERS[name], place / name, place / "now" / name
    state = own / "tally.json"
    tally = Tally(**json.loads(state.read_text())) if state.is_file() else Tally()
    sound = reader.seeds()
    if now.is_dir():  # the process ended in the middle of an input
        keep(own / "broken" / "ended-the-process", next(iter(kept(now.parent)), {}), 20)
    ways, corpus = Ways(), []
    for case in sound:
        with ways.watched():
            assert ended(reader, laid_out(now, case)) != "refused", f"{name}: a sound input was refused"
    for case in kept(own / "kept"):
        corpus.append(case)
        with ways.watched():
            try:
                ended(reader, laid_out(now, case))
            except (Exception, TooLong):
                pass
    began, last = time.monotonic(), 0.0
    draw = random.Random(f"{name} {tally.runs}")
    before = tally.seconds
    while tally.runs < runs and time.monotonic() - began < minutes * 60:
        parent = (
            draw.choice(sound)
            if not corpus or draw.random() < 0.3
            else draw.choice(corpus[-300:] if draw.random() < 0.5 else corpus)
        )
        case = mutate.mutated(parent, draw, reader.kinds, reader.fixed)
        laid_out(now, case)
        known = len(ways.taken)
        try:
            with ways.watched() if tally.runs % WATCHED == 0 else nullcontext():
                end = ended(reader, now)
            setattr(tally, end, getattr(tally, end) + 1)
        except (Exception, TooLong) as problem:
            sys.settrace(None)
            tally.broken += 1
            folder = own / "broken" / signature(problem)
            keep(folder, case, 4)
            (folder.with_suffix(".txt")).write_text(
                "".join(traceback.format_exception(problem))[-6000:],
                encoding="utf-8",
                errors="backslashreplace",
            )
        tally.runs += 1
        if len(ways.taken) > known and sum(map(len, case.values())) < 200_000:
            corpus.append(case)
            keep(own / "kept", case, KEPT)
        if time.monotonic() - last > 5.0 or tally.runs == runs:
            last = time.monotonic()
            tally.ways, tally.seconds = len(ways.taken), before + last - began
            own.mkdir(parents=True, exist_ok=True)
            state.write_text(json.dumps(dataclasses.asdict(tally)))
            say(
                f"{name}: {tally.runs} inputs, {tally.results} results, {tally.findings} with findings, {tally.refused} refused, {tally.broken} BROKEN, {tally.ways} ways, {len(corpus)} kept, "
                f"{(tally.seconds - before) and tally.runs / tally.seconds:.0f} a second"
            )
            gc.collect()
    shutil.rmtree(now, ignore_errors=True)
    return tally


def main() -> int:
    parser = argparse.ArgumentParser(
        description="Fuzz the readers of untrusted input; what broke is kept in FOLDER/READER/broken."
    )
    parser.add_argument("reader", choices=[*READERS, "all"])
    parser.add_argument(
        "--runs", type=int, default=10_000, help="inputs in all, those of earlier starts included"
    )
    parser.add_argument("--minutes", type=float, default=1e9, help="stop after so long")
    parser.add_argument("--folder", type=Path, default=FOLDER)
    args = parser.parse_args()
    sys.dont_write_bytecode = True
    limit = (
        int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize() + MEMORY
        if Path("/proc/self/statm").is_file()
        else resource.RLIM_INFINITY
    )
    resource.setrlimit(resource.RLIMIT_AS, (limit, resource.RLIM_INFINITY))
    total = Counter()
    for name in READERS if args.reader == "all" else [args.reader]:
        tally = study(name, args.runs, args.folder, args.minutes, lambda line: print(line, flush=True))
        total.update(dataclasses.asdict(tally))
    print(f"All: {total['runs']} inputs, {total['broken']} broken.")
    return 1 if total["broken"] else 0


if __name__ == "__main__":
    sys.exit(main())
