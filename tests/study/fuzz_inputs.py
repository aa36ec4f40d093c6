"""Sound inputs of the readers, which the study changes."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pandas as pd
import yaml

from headland.files.schemas import table_schema
from headland.files.surfaces import surface_classes
from simulate import campaign as simulated
from simulate import specs
from simulate.spec import Visit
from study.fuzz_guard import ROOT
from study.mutate import Case

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
    for s, order in zip(sets, (fields, fields[::-1]), strict=True):
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


def timed_cases(kind: str) -> Callable[[], list[Case]]:
    """A table of records in time, with every column of its schema and ten moments."""
    names = [field["name"] for field in table_schema(kind)["fields"] if field["name"] != "time_utc"]
    rows = "".join(
        f"2025-08-20T10:{minute}:00Z," + ",".join(str(2 + column % 3) for column in range(len(names))) + "\n"
        for minute in range(30, 40)
    )
    return lambda: [{f"{kind}.csv": f"time_utc,{','.join(names)}\n{rows}".encode()}]


def phone_cases() -> list[Case]:
    """Notes as the page for a phone writes them: every column, quotes where a cell needs them."""
    names = [field["name"] for field in table_schema("notes")["fields"]]
    visits: tuple[dict[str, str], ...] = (
        {"set": "curlew", "start": "12:31:00", "activity": "clock_check"},
        {
            "set": "curlew",
            "start": "12:33:00",
            "end": "12:35:10",
            "field": "Lower meadow",
            "surface": "short_grass",
        },
        {
            "set": "lapwing",
            "start": "12:36:00",
            "end": "12:38:00",
            "field": 'a "b", c',
            "remark": 'cloud, "thin"',
        },
    )
    lines = [",".join(names)]
    for visit in visits:
        cells = [({"date": "2025-08-20"} | visit).get(name, "") for name in names]
        lines.append(",".join('"' + c.replace('"', '""') + '"' if set(c) & set(',"') else c for c in cells))
    return [{"notes.csv": "\n".join([*lines, ""]).encode()}]


@cache
def loggers() -> tuple[tuple[dict, bytes, str], ...]:
    """Layouts of many kinds, a file of each, its logger."""
    made = simulated.simulate(specs.many_sets(9)).files()
    chosen = yaml.safe_load(made["campaign.yaml"])
    found = []
    for entry in chosen["sets"].values():
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
