# What the rule files share: the campaign's settings, checked; names of files; which code a step reaches.

import ast
import json
import os
import sys
from pathlib import Path

ROOT = Path(workflow.basedir)
sys.path.insert(0, str(ROOT / "workflow"))
# jobs are called as `python scripts/…`: that must be this environment's Python, wherever it is
os.environ["PATH"] = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"

import ctypes.util
import tomllib

from headland import settings, tables

VERSION = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]


def near(path):
    """A path as short as it goes: relative to the project's root where it is inside."""
    path = Path(os.path.abspath(ROOT / path))
    return str(path.relative_to(ROOT)) if path.is_relative_to(ROOT) else str(path)


CAMPAIGN = near(config["campaign"])
RESULTS = near(config.get("results") or ROOT / "results" / Path(ROOT / CAMPAIGN).name)

try:
    S = settings.load(ROOT / CAMPAIGN, ROOT / "config")
    settings.uncertainty_terms(ROOT / "config" / "uncertainty.csv")
except tables.UserErrors as problem:
    print(*problem.errors, sep="\n", file=sys.stderr)
    raise SystemExit(2)

SETS = list(S["sets"])
SITE = {key: S["site"][key] for key in ("latitude", "longitude", "elevation")}
CHANNELS = {name: entry["layout"]["channels"] for name, entry in S["sets"].items()}
CLOCKS = {name: {"interval": entry["layout"]["interval"], "stamp": entry["layout"]["stamp"], "utc_offset": entry["utc_offset"]}
          for name, entry in S["sets"].items()}
NOTES = f"{CAMPAIGN}/{S['notes_file']}"
REGISTER = f"{CAMPAIGN}/instruments.csv"
WEATHER = [f"{CAMPAIGN}/{S['weather_file']}"] if S["weather_file"] else []
STATION = [f"{CAMPAIGN}/{S['station_file']}"] if S["station_file"] else []
# positions by place need both: without an outline a track says nothing of fields
OUTLINES = [f"{CAMPAIGN}/{S['outlines_file']}"] if S["outlines_file"] else []
TRACKS = {name: f"{CAMPAIGN}/{file}" for name, file in S["track_files"].items() if file}
PLACED = bool(OUTLINES and TRACKS)
LIMITS = "config/quality.csv"
CLASSES = "config/surfaces.csv"


wildcard_constraints:
    set="[A-Za-z][A-Za-z0-9_-]*",


def as_json(value):
    """Settings of a step on its command line. A step gets only the keys it uses, so that another key's change does not rerun it."""
    return json.dumps(value, ensure_ascii=False, sort_keys=False)


def steps(step, *names):
    """Paths of files that a step leaves behind."""
    return [f"{RESULTS}/steps/{step}/{name}" for name in names]


def of_sets(step, ending=".csv"):
    """A step's file of each set, in the order of the campaign."""
    return steps(step, *(f"{name}{ending}" for name in SETS))


def raw_files(name):
    return [f"{CAMPAIGN}/{file}" for file in S["sets"][name]["raw"]]


def code(step):
    """A step's script and every module of the package that it reaches, with the schemas they read tables by."""
    package, seen, waiting = ROOT / "workflow" / "headland", [], [ROOT / "scripts" / f"{step}.py"]
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        seen.append(path)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "headland":
                names = [node.module.split(".")[1]] if "." in node.module else [alias.name for alias in node.names]
                waiting += [package / f"{name}.py" for name in names]
            elif isinstance(node, ast.Import) and any(alias.name == "package_path" for alias in node.names):
                waiting.append(ROOT / "scripts" / "package_path.py")
    return [str(path.relative_to(ROOT)) for path in [seen[0], *sorted(seen[1:])]]


def schemas(*names):
    return [f"workflow/schemas/{name}.json" for name in names]


def text_layout_is_there():
    """Whether the library that lays out text for the PDF can be found on this machine."""
    return any(ctypes.util.find_library(name) for name in ("pango-1.0", "pango-1.0-0", "libpango-1.0-0"))
