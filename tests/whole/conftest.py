"""The chain, run as a person runs it, on a copy of the project, so that nothing is left behind in it."""

import fcntl
import hashlib
import json
import os
import re
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

    def planned(self) -> set[str]:
        """Names of the rules that a dry run would run."""
        assert self.status == 0, self.printed[-2000:]
        return set(re.findall(r"^(\w+) +\d+$", self.printed, re.M)) - {"all", "total"}

    def jobs(self) -> set[str]:
        """Names of the rules that ran."""
        return {
            line.split("(Rule: ")[1].rstrip(")")
            for line in self.printed.splitlines()
            if line.startswith("Finished jobid") and "(Rule: " in line
        } - {"all"}


def digests(folder: Path) -> dict[str, str]:
    """Of every file in a folder, by its path there."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


class Project:
    """A copy of the project in which the chain runs; or of a copy, with all that was run there.

    What is compiled is copied too: Python uses it while the source has the same date and size, and no copy
    compiles the package again.
    """

    def __init__(self, folder: Path, origin: Path = ROOT):
        self.folder = folder
        names = ["Snakefile", "pyproject.toml", "config", "workflow", "scripts", "demo_inputs"]
        for name in names if origin == ROOT else [*names, "results", ".snakemake"]:
            source, target = origin / name, folder / name
            if source.is_dir():
                unfinished = shutil.ignore_patterns("*.pyc.*")  # as another process writes them
                shutil.copytree(source, target, ignore=unfinished)
            else:
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(source, target)

    def run(
        self, campaign: Path | str, results: Path, *words: str, whole: bool = False, draws: int = 16384
    ) -> Outcome:
        """Run the chain: to the tables, or whole with figures and report.

        words: further ones for Snakemake. draws: fewer where nobody looks at the intervals.
        """
        tables = ("checks.csv", "datapackage.json")
        wanted = [*words, *([] if whole else [self.near(results / name) for name in tables])]
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
            f"draws={draws}",
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

    def near(self, path: Path) -> str:
        """A result as the rules name it: relative where it is inside the project's folder."""
        return str(path.relative_to(self.folder) if path.is_relative_to(self.folder) else path)


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
        kept, home = (folder / f"demo{name}" for name in (".json", " project"))
        results = home / "results" / "demo"
        if not kept.exists():
            made = Project(home).run("demo_inputs", results, whole=True)
            kept.write_text(json.dumps([made.status, made.printed]), encoding="utf-8")
    status, printed = json.loads(kept.read_text(encoding="utf-8"))
    return Demo(results, status, printed, home)
