"""The chain, run as a person runs it, on a copy of the project, so that nothing is left behind in it."""

import fcntl
import json
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest

from headland.files import tables

ROOT = Path(__file__).parents[2]
TABLES = ("segments", "surfaces", "fields", "differences", "measured", "uncertainty_budget", "checks")


@dataclass
class Outcome:
    """What one run left: its folder, its exit status, what it printed."""

    folder: Path
    status: int
    printed: str

    def table(self, name: str) -> pd.DataFrame:
        return tables.read_table(self.folder / f"{name}.csv", name)

    def codes(self, *severities: str) -> list[str]:
        checks = self.table("checks")
        return sorted(checks.loc[checks["severity"].isin(severities or ("error", "warning", "note")), "code"])

    def jobs(self) -> set[str]:
        """Names of the rules that ran."""
        return {
            line.split("(Rule: ")[1].rstrip(")")
            for line in self.printed.splitlines()
            if line.startswith("Finished jobid") and "(Rule: " in line
        } - {"all"}


class Project:
    """A copy of the project in which the chain runs."""

    def __init__(self, folder: Path):
        self.folder = folder
        for name in ("Snakefile", "pyproject.toml", "config", "workflow", "scripts", "demo_inputs"):
            source, target = ROOT / name, folder / name
            if source.is_dir():
                shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(source, target)

    def run(self, campaign: Path | str, results: Path, *targets: str, whole: bool = False) -> Outcome:
        """Run the chain: to the tables, or whole with figures and report."""
        wanted = list(targets) or (
            [] if whole else [str(results / "checks.csv"), str(results / "datapackage.json")]
        )
        command = [
            sys.executable,
            "-m",
            "snakemake",
            *wanted,
            "--snakefile",
            "Snakefile",
            "--workflow-profile",
            "config/profiles/laptop",
            "--cores",
            "2",
            "--config",
            f"campaign={campaign}",
            f"results={results}",
        ]
        environment = {
            key: value
            for key, value in os.environ.items()
            if key not in ("PYTHONPATH", "PYTHONDONTWRITEBYTECODE")
        }
        run = subprocess.run(
            command,
            cwd=self.folder,
            env=environment,
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            timeout=600,
        )
        return Outcome(results, run.returncode, run.stdout)


@pytest.fixture(scope="module")
def project(tmp_path_factory) -> Project:
    return Project(tmp_path_factory.mktemp("a project"))  # with a space, as folders of people have


@dataclass
class Demo(Outcome):
    """A run of the demo, and the copy of the project in which it was made."""

    project: Path


@pytest.fixture(scope="session")
def demo_run(tmp_path_factory) -> Demo:
    """The demo, run whole once for the tests of all processes. No test writes into it."""
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = folder.parent  # that of all processes
    with (folder / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        kept, home, results = (folder / f"demo{name}" for name in (".json", " project", " results"))
        if not kept.exists():
            made = Project(home).run("demo_inputs", results / "demo", whole=True)
            kept.write_text(json.dumps([made.status, made.printed]), encoding="utf-8")
    status, printed = json.loads(kept.read_text(encoding="utf-8"))
    return Demo(results / "demo", status, printed, home)
