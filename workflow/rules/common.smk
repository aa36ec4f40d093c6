# What the steps share: the campaigns of this run, the files of each, and how a step is called.
#
# A run is for one campaign (the settings `campaign` and `results`) or for many (the setting `campaigns`:
# campaign folders by results folder). The path of each result begins with the wildcard {results}. What a
# step needs of its campaign is a function of the wildcards.

import json
import os
import re
import shutil
import sys
import tomllib
from functools import cache
from pathlib import Path

ROOT = Path(workflow.basedir)
sys.path.insert(0, str(ROOT / "workflow"))

from headland.base.errors import UserErrors
from headland.files import credit, digests, imports, jobs, settings, step_settings, writing
from headland.files.own_numbers import course_rows, quality_rows
from headland.files.uncertainty_terms import uncertainty_terms

VERSION = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
LIMITS = "config/quality.csv"
CLASSES = "config/surfaces.csv"
TERMS = "config/uncertainty.csv"
COURSE = "config/course.csv"

CHAIN = ("ingest", "calibrate", "correct_longwave", "screen", "segment", "summarise", "balance", "propagate")
AFTER = (
    "diagnose",
    "checks",
    "datapackage",
    "workbook",
    "equations",
    "questions",
    "figures_of_samples",
    "figures",
    "worked",
    "report",
    "report_pdf",
    "changes",
    "geojson",
    "netcdf",
)
NOT_HANDED_ON = ("code", "schemas", "inputs", "layout", "folder")
"""Names of files that a step's script does not get.

A change of them reruns the step, or it gets the files inside.
"""


def near(path):
    """A path relative to the project's root where it is inside; otherwise absolute."""
    path = Path(os.path.abspath(ROOT / path))
    return str(path.relative_to(ROOT)) if path.is_relative_to(ROOT) else str(path)


# Campaigns -----------------------------------------------------------------------------------------------


class Campaign:
    """A campaign's settings and its files.

    Lists are empty where there is no file. UserErrors where a setting is wrong.
    """

    def __init__(self, folder):
        self.folder = folder
        self.S = settings.load(ROOT / folder, ROOT / "config")
        self.sets = list(self.S["sets"])
        self.notes = f"{folder}/{self.S['notes_file']}"
        self.register = f"{folder}/instruments.csv"
        self.weather = self._inside(self.S["weather_file"])
        self.station = self._inside(self.S["station_file"])
        self.ground = self._inside(self.S["ground_file"])
        self.levels = self._inside(self.S["levels_file"])
        self.outlines = self._inside(self.S["outlines_file"])
        tracks = dict.fromkeys(name for name in self.S["track_files"].values() if name)
        self.tracks = [f"{folder}/{name}" for name in tracks]
        # positions by place need both: without an outline a track does not say which field it is in
        self.placed = bool(self.outlines and self.tracks)
        self.by_station = self.S["methods"]["incoming_terms"] == "station"
        raw = [path for name in self.sets for path in self.raw(name)]
        self.raw_mb = sum((ROOT / path).stat().st_size for path in raw) / 1e6

    def _inside(self, name):
        return [f"{self.folder}/{name}"] if name else []

    def raw(self, name):
        """The logger files of a set."""
        return [f"{self.folder}/{file}" for file in self.S["sets"][name]["raw"]]


def folders_of_run():
    """Campaign folders by results folder."""
    if config.get("campaigns"):
        return config["campaigns"]
    campaign = config["campaign"]
    results = config.get("results") or ROOT / "results" / Path(ROOT / campaign).name
    return {results: campaign}


try:
    CAMPAIGNS = {near(results): Campaign(near(folder)) for results, folder in folders_of_run().items()}
    uncertainty_terms(ROOT / TERMS)
    course_rows(ROOT / COURSE)
    quality_rows(ROOT / LIMITS)
except UserErrors as problem:
    print(*problem.errors, sep="\n", file=sys.stderr)
    raise SystemExit(2)


wildcard_constraints:
    results="|".join(re.escape(results) for results in CAMPAIGNS),
    set="|".join(sorted({re.escape(name) for campaign in CAMPAIGNS.values() for name in campaign.sets})),


def of(wildcards):
    """The campaign behind a results folder."""
    return CAMPAIGNS[wildcards.results]


# Files ---------------------------------------------------------------------------------------------------


def steps(step, *names):
    """Paths of files that a step leaves behind."""
    return [f"{{results}}/steps/{step}/{name}" for name in names]


def of_sets(step, ending=".csv"):
    """A step's file of each set, in the order of the campaign, as a function of the wildcards."""

    def paths(wildcards):
        return [f"{wildcards.results}/steps/{step}/{name}{ending}" for name in of(wildcards).sets]

    return paths


def found_before(wildcards):
    """Findings of the steps before 6: an error withholds the numbers that it makes untrustworthy."""
    per_set = [of_sets(step, "_findings.csv") for step in ("1_ingest", "2_calibrate", "4_screen")]
    joint = f"{wildcards.results}/steps/5_segment/all_findings.csv"
    return [*(path for paths in per_set for path in paths(wildcards)), joint]


@cache
def code(step):
    """A step's script and every module of the package that it reaches."""
    script = ROOT / "scripts" / "steps" / f"{step}.py"
    return [str(path.relative_to(ROOT)) for path in imports.reached(script)]


def schemas(*names):
    """The schemas by which a step reads or writes tables."""
    return [f"workflow/schemas/{name}.json" for name in names]


@cache
def _digest(path, size, changed):
    return digests.digest(Path(path))


def digest(path):
    """SHA-256 of a file, computed once a run."""
    known = (ROOT / path).stat()
    return _digest(str(ROOT / path), known.st_size, known.st_mtime_ns)


def held(paths):
    """Contents of a campaign's files, as a parameter of the step that reads them.

    The date alone does not serve: a file that is replaced while its step reads it would pass for read.
    Compute it from the wildcards only, because Snakemake remembers no parameter that is computed from
    `input`.
    """
    return [digest(path) for path in paths]


# Calls ---------------------------------------------------------------------------------------------------


def as_json(value):
    """Settings of a step on its command line.

    A step gets only the keys it uses; a change of others does not rerun it.
    """
    return json.dumps(value, ensure_ascii=False, sort_keys=False)


def memory(least, times_raw):
    """Memory that a step needs in MB: `least`, and a multiple of the size of the campaign's logger files."""

    def megabytes(wildcards):
        return round(least + times_raw * of(wildcards).raw_mb)

    return megabytes


def job(step, input, output, params, log, **more):
    """Run a step's script in a process of its own, with the files and settings of its rule by their names.

    more: files that are neither input nor output by themselves, because they are in a folder that is.
    """
    named = (*input.items(), *output.items(), *more.items())
    files = {name: paths for name, paths in named if name not in NOT_HANDED_ON}
    line = jobs.words(files, dict(params.items()).get("settings"))
    jobs.run(ROOT / "scripts" / "steps" / f"{step}.py", line, ROOT / str(log))


def made_in(folder, campaign):
    """The files of all sets that the step segment writes into a folder, by the names of its options."""
    folder = ROOT / folder
    folder.mkdir(exist_ok=True)
    segmented = [folder / f"{name}.csv" for name in campaign.sets]
    places = [folder / f"{name}_places.csv" for name in campaign.sets]
    return {"segmented": segmented, **({"places": places} if campaign.placed else {})}


def give_place(folder, target, log):
    """Give a file of a temporary folder its own place, without a second copy where the file system allows."""
    source, target = ROOT / folder / Path(target).name, ROOT / target
    with writing.whole(target) as part:
        try:
            os.link(source, part)
        except OSError:
            shutil.copyfile(source, part)
    (ROOT / str(log)).write_text(f"{target.name}: {target.stat().st_size} bytes\n", encoding="utf-8")


# Steps find the package by the first. They have one core each: linear algebra on several would only make them
# wait.
os.environ.update(PYTHONPATH=str(ROOT / "workflow"), OPENBLAS_NUM_THREADS="1")

# Steps are forked from a process that has loaded what they import, so each starts in milliseconds. On a
# cluster a Snakemake of its own runs each step, and loading for others would cost time.
if workflow.is_main_process:
    modules = [imports.module_name(ROOT / path) for step in CHAIN + AFTER for path in code(step)[1:]]
    jobs.preload(dict.fromkeys(modules))
