"""More readers of tables: what a run left, as the season reads it, and the project's own tables of config."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

import chain
from headland.base import untold
from headland.base.errors import refuse
from headland.base.flags import excluding_flags, joined, limits_of
from headland.chain import checks, screen
from headland.files import tables
from headland.files.config_tables import config_rows
from headland.files.own_numbers import course_rows, quality_rows
from headland.files.surfaces import NEEDED, surface_classes
from headland.physics.constants import RADIATION
from headland.record import season_page
from headland.report import figures, page
from headland.uncertainty.course import Visits, contrast, course_sizes
from study import mutate
from study.fuzz_guard import ROOT, plain
from study.fuzz_inputs import folders
from study.fuzz_readers import Reader, laid_out
from study.mutate import Case

OURS = ROOT / "workflow" / "headland"


@cache
def season_cases() -> list[Case]:
    """Results of two campaigns as the season reads them, one with sets side by side and a station."""
    cases: list[Case] = []
    for case in folders()[1:3]:
        with tempfile.TemporaryDirectory() as place:
            folder = laid_out(Path(place) / "day", case)
            out, results = chain.run(folder, draws=64), Path(place) / "results"
            made = checks.run(
                out.found,
                untold.frame(out.untold),
                chain.SENTENCES,
                config_rows(OURS / "checks" / "untold.csv"),
            )
            written = {
                "segments.csv": (out.result.segments, "segments"),
                "surfaces.csv": (out.result.surfaces, "surfaces"),
                "checks.csv": (made.tables["checks"], "checks"),
                "steps/7_balance/surfaces.csv": (out.balances["surfaces_balance"], "group_balance"),
                "steps/8_propagate/intercomparison.csv": (out.result.intercomparison, "intercomparison"),
                "steps/8_diagnose/against_station.csv": (out.against_station, "against_station"),
            } | {
                f"steps/2_calibrate/{name}_certificates.csv": (table, "certificates")
                for name, table in out.certificates.items()
            }
            for name, (table, kind) in written.items():
                (results / name).parent.mkdir(parents=True, exist_ok=True)
                tables.write_table(results / name, table, kind)
            cases.append({f"results/{name}": (results / name).read_bytes() for name in written})
            cases[-1] |= {f"day/{name}": content for name, content in case.items()}
    return cases


def read_seasons(folder: Path) -> int:
    """A season of one campaign whose results were changed, with its tables and page."""
    campaigns, failed = season_page.read_each([(folder / "day", folder / "results")], ROOT / "config")
    for _, why in failed:
        plain(why, "why a campaign is left out")
    if failed:
        raise refuse("results", None, failed[0][1], "whole results")
    table, heads, values = season_page.run(campaigns, failed)
    tables.write_table(folder / "season.csv", table, "season")
    tables.write_table(folder / "heads.csv", heads, "season_heads")
    page.page("season", values)
    return 0


def of_results(name: str) -> Sequence[Callable]:
    return mutate.of_kind(name) if name.startswith("results/") else (lambda content, draw: content,)


def read_course(folder: Path) -> int:
    """The course of surfaces, as the plan and step 8 take it, and an interval from it."""
    sizes = course_sizes(course_rows(folder / "config" / "course.csv"))
    hours = np.array([0.0, 0.5, 1.0, 1.5])
    surface, ones = np.array([0, 1, 0, 1]), np.ones(4)
    visits = Visits(hours, surface, np.arange(4), np.zeros(4), ones, field=surface, recorded=ones)
    for size in sizes.values():
        found = contrast(visits, size)
        assert np.isfinite(found.uncertainty) and np.isfinite(found.weights).all()
    return 0


def read_quality(folder: Path) -> int:
    """Limits of flags, and samples screened by them."""
    limits = limits_of(quality_rows(folder / "config" / "quality.csv"))
    excluding_flags(limits)
    terms = [0.0, 300.0, 1400.0, np.nan]
    samples = pd.DataFrame(dict.fromkeys(RADIATION, terms) | {"solar_elevation": [-5.0, 10.0, 60.0, 20.0]})
    joined(screen.flags(samples, limits, 20.0, np.array([0.0, 240.0, 1200.0, 470.0])))
    return 0


def read_classes(folder: Path) -> int:
    """Surface classes, and a campaign's class and override on them."""
    paving = surface_classes(ROOT / "config" / "surfaces.csv", {})["paving"]
    given = {"short_grass": {"albedo": 0.2}, "own": {name: paving[name]["value"] for name in NEEDED}}
    known = surface_classes(folder / "config" / "surfaces.csv", given)
    for name in known:
        figures.look(known, name)
        figures.label(known, name)
    return 0


def of_config(name: str) -> Callable[[], list[Case]]:
    return lambda: [{f"config/{name}.csv": (ROOT / "config" / f"{name}.csv").read_bytes()}]


TABLES: dict[str, Reader] = {
    "seasons": Reader(season_cases, read_seasons, of_results, times=4.0),
    "course": Reader(of_config("course"), read_course),
    "quality": Reader(of_config("quality"), read_quality),
    "classes": Reader(of_config("surfaces"), read_classes),
}
