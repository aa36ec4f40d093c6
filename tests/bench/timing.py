"""How figures are timed: a copy of the project to run in, and two commands in turn."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import psutil

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).parent
DEMO = ROOT / "demo_inputs"
FIGURES: dict[str, tuple[str, float, Callable]] = {}


def figure(words: str, target: float):
    def enter(function):
        FIGURES[function.__name__] = (words, target, function)
        return function

    return enter


class Bench:
    """A copy of the project to run in, and how often."""

    def __init__(self, folder: Path, runs: int, season: int):
        self.folder, self.runs, self.season, self.watch_memory = folder, runs, season, False
        self.project = folder / "project"
        self.project.mkdir()
        for name in (
            "Snakefile",
            "pyproject.toml",
            "config",
            "workflow",
            "scripts",
            "demo_inputs",
            "requirements.lock",
        ):
            (shutil.copytree if (ROOT / name).is_dir() else shutil.copy)(ROOT / name, self.project / name)
        (self.project / ".venv").symlink_to(ROOT / ".venv")
        self.environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")} | {
            "PYTHONUTF8": "1",
            "PYTHONHASHSEED": "0",
            "MPLBACKEND": "Agg",
            "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        }

    def timed(self, *command) -> float:
        """Wall time of a command, s; RuntimeError with its last lines where it fails.

        `most_memory` then has what its largest process took, MB (seen ten times a second).
        """
        self.most_memory = 0.0
        with tempfile.TemporaryFile("w+") as said:
            began = time.perf_counter()
            running = psutil.Popen(
                [str(word) for word in command],
                cwd=self.project,
                env=self.environment,
                stdout=said,
                stderr=subprocess.STDOUT,
            )
            while running.poll() is None:
                for process in [running, *running.children(recursive=True)] if self.watch_memory else []:
                    with contextlib.suppress(psutil.Error):
                        self.most_memory = max(self.most_memory, process.memory_info().rss / 2**20)
                with contextlib.suppress(psutil.TimeoutExpired):
                    running.wait(0.1)
            took = time.perf_counter() - began
            if running.returncode:
                said.seek(0)
                raise RuntimeError("\n".join(said.read().splitlines()[-12:]))
        return took

    def chain(self, campaigns: dict, recorded: Path | None = None, *more) -> float:
        start = (
            [sys.executable, HERE / "recorded.py", recorded]
            if recorded
            else [sys.executable, "-m", "snakemake"]
        )
        return self.timed(*start, *self.chain_words(campaigns), *more)

    def chain_words(self, campaigns: dict) -> list:
        """What Snakemake is asked for. campaigns: campaign folders by results folder."""
        named = json.dumps({str(results): str(campaign) for results, campaign in campaigns.items()})
        return [
            "--snakefile",
            self.project / "Snakefile",
            "--workflow-profile",
            self.project / "config/profiles/laptop",
            "--cores",
            "2",
            "--config",
            f"campaigns= {named} ",
        ]

    def fresh(self, name: str) -> Path:
        folder = self.folder / name
        shutil.rmtree(folder, ignore_errors=True)
        return folder

    def demo_copy(self) -> Path:
        folder = self.fresh("day")
        shutil.copytree(DEMO, folder)
        return folder

    def some_campaigns(self, count: int) -> dict:
        """Campaigns of two sets and four hours, each with another sky.

        Results folders to campaign folders.
        """
        from bench import hours

        made = {}
        for number in range(count):
            folder = self.folder / "season" / f"day{number:02}"
            if not folder.exists():
                hours.written(folder, number)
            made[self.folder / "season results" / folder.name] = folder
        return made


def in_turn(bench: Bench, ours: Callable[[], float], other: Callable[[], float]) -> dict:
    pairs = [(ours(), other()) for _ in range(bench.runs)]
    return {
        "ratio": statistics.median(a / b for a, b in pairs),
        "ours_s": statistics.median(a for a, _ in pairs),
        "other_s": statistics.median(b for _, b in pairs),
    }
