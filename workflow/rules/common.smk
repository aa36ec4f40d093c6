# What the rule files share: the campaigns' settings, checked; names of files; which code a step reaches.
#
# One run serves one campaign (config keys campaign and results) or many (campaigns: results folder to campaign folder). Every path of a result begins with
# the wildcard {results}; what a rule needs of the campaign behind it is a function of the wildcards.

import json
import os
import re
import sys
from functools import cache
from pathlib import Path

ROOT = Path(workflow.basedir)
sys.path.insert(0, str(ROOT / "workflow"))
# the process that jobs are forked from finds the package by this
os.environ["PYTHONPATH"] = str(ROOT / "workflow")
# a step has one core: products of small matrices over several would only make cores wait for each other
os.environ["OPENBLAS_NUM_THREADS"] = "1"
import tomllib

from headland.base import basics
from headland.files import jobs, settings

VERSION = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
LIMITS = "config/quality.csv"
CLASSES = "config/surfaces.csv"
TERMS = "config/uncertainty.csv"


def near(path):
    """A path as short as it goes: relative to the project's root where it is inside."""
    path = Path(os.path.abspath(ROOT / path))
    return str(path.relative_to(ROOT)) if path.is_relative_to(ROOT) else str(path)


class Campaign:
    """A campaign's settings, and its files as lists, empty where there is none. UserErrors where a setting is wrong."""

    def __init__(self, folder):
        self.folder = folder
        self.S = S = settings.load(ROOT / folder, ROOT / "config")
        inside = lambda name: [f"{folder}/{name}"] if name else []
        self.sets = list(S["sets"])
        self.site = {key: S["site"][key] for key in ("latitude", "longitude", "elevation")}
        self.channels = {name: entry["layout"]["channels"] for name, entry in S["sets"].items()}
        self.clocks = {name: {"interval": entry["layout"]["interval"], "stamp": entry["layout"]["stamp"], "utc_offset": entry["utc_offset"]}
                       for name, entry in S["sets"].items()}
        self.notes, self.register = f"{folder}/{S['notes_file']}", f"{folder}/instruments.csv"
        self.weather, self.station, self.outlines = inside(S["weather_file"]), inside(S["station_file"]), inside(S["outlines_file"])
        self.tracks = list(dict.fromkeys(path for file in S["track_files"].values() for path in inside(file)))
        # positions by place need both: without an outline a track says nothing of fields
        self.placed = bool(self.outlines and self.tracks)
        self.by_station = S["methods"]["incoming_terms"] == "station"

    def raw(self, name):
        return [f"{self.folder}/{file}" for file in self.S["sets"][name]["raw"]]


try:
    CAMPAIGNS = {near(results): Campaign(near(folder)) for results, folder in (
        config.get("campaigns") or {config.get("results") or ROOT / "results" / Path(ROOT / config["campaign"]).name: config["campaign"]}).items()}
    settings.uncertainty_terms(ROOT / TERMS)
except basics.UserErrors as problem:
    print(*problem.errors, sep="\n", file=sys.stderr)
    raise SystemExit(2)


wildcard_constraints:
    results="|".join(re.escape(results) for results in CAMPAIGNS),
    set="[A-Za-z][A-Za-z0-9_-]*",


def of(wildcards):
    """The campaign behind a results folder."""
    return CAMPAIGNS[wildcards.results]


def as_json(value):
    """Settings of a step on its command line. A step gets only the keys it uses, so that another key's change does not rerun it."""
    return json.dumps(value, ensure_ascii=False, sort_keys=False)


def steps(step, *names):
    """Paths of files that a step leaves behind."""
    return [f"{{results}}/steps/{step}/{name}" for name in names]


def paths_of_sets(results, like, step, ending=".csv"):
    """A step's file of each set in a results folder, or under the wildcard {results}. like: results folder of a campaign with these sets."""
    return [f"{results}/steps/{step}/{name}{ending}" for name in CAMPAIGNS[like].sets]


def of_sets(step, ending=".csv"):
    """A step's file of each set, in the order of the campaign."""
    return lambda wildcards: paths_of_sets(wildcards.results, wildcards.results, step, ending)


@cache
def code(step):
    """A step's script and every module of the package that it reaches."""
    return [str(path.relative_to(ROOT)) for path in jobs.reached(ROOT / "scripts" / "steps" / f"{step}.py")]


def schemas(*names):
    """What a step reads or writes tables by."""
    return [f"workflow/schemas/{name}.json" for name in names]


@cache
def _digest(path, size, changed):
    return basics.digest(Path(path))


def digest(path):
    """SHA-256 of a file, worked out once a run."""
    known = (ROOT / path).stat()
    return _digest(str(ROOT / path), known.st_size, known.st_mtime_ns)


def held(paths):
    """What files of a campaign hold, as a parameter of the step that reads them. By the date alone, one replaced while its step read it would pass for read.

    A function of the wildcards alone gives it: Snakemake remembers no parameter that is worked out from `input`.
    """
    return [digest(path) for path in paths]


CHAIN = ("ingest", "calibrate", "correct_longwave", "screen", "segment", "summarise", "balance", "propagate")
AFTER = ("diagnose", "checks", "datapackage", "workbook", "figures_of_samples", "figures", "worked", "report", "report_pdf", "changes")
PROVENANCE = ("code", "schemas", "inputs", "layout")
"""Names of inputs that a step's script is not told: they are there so that a change of them reruns it."""

# on a cluster each step is called by a Snakemake of its own, to which loading for others would be a loss
if workflow.is_main_process:
    jobs.preload(dict.fromkeys(
        jobs.module_name(ROOT / path) for step in CHAIN + AFTER for path in code(step)[1:]))


def job(step, input, output, params, log):
    """Run a step's script with the files and settings of its rule, by their names, in a process of its own."""
    files = {name: paths for name, paths in (*input.items(), *output.items()) if name not in PROVENANCE}
    jobs.run(ROOT / "scripts" / "steps" / f"{step}.py", jobs.words(files, dict(params.items()).get("settings")), ROOT / str(log))
