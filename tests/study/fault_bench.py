"""A copy of the project to do harm to.

What an undisturbed run gives there, and whether the next run recovers.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import os
import re
import shutil
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import psutil

from simulate import specs
from simulate.campaign import simulate

ROOT = Path(__file__).resolve().parents[2]
OF_THE_RUN = re.compile(r"\.log$|^changes\.|^\.headland/|^steps/previous_run/|\.part$")
"""What a run leaves that may differ: what it said, whose it is, and how it differs from the run before."""
PASSED_ON = ("steps/5_segment/sets/", "steps/5_segment/")
"""Where a step leaves files for the next rule, which gives them this place and removes the folder."""
MINUTES = 20
"""A run takes half a minute; on a computer that others use at night, it has taken five."""
WAIT = ("Another run is writing", "Snakemake is already working")


class Broken(Exception):
    """A fault that was not recovered from, or left something half-written."""


def digests(results: Path) -> dict[str, str]:
    """SHA-256 of each result, by its path."""
    files = {str(path.relative_to(results)): path for path in sorted(results.rglob("*")) if path.is_file()}
    return {
        name: hashlib.sha256(path.read_bytes()).hexdigest()
        for name, path in files.items()
        if not OF_THE_RUN.search(name)
    }


@dataclasses.dataclass
class Bench:
    """A copy of the project, a campaign, and what an undisturbed run makes of it."""

    folder: Path
    said: Counter = dataclasses.field(default_factory=Counter)

    def __post_init__(self):
        self.project, self.campaign = self.folder / "project", self.folder / "day"
        self.results = self.project / "results" / "day"
        left_out = shutil.ignore_patterns(".*", "results", "tests", "docs", "demo_inputs", "__pycache__")
        shutil.copytree(ROOT, self.project, ignore=left_out)
        (self.project / ".venv").symlink_to(Path(sys.prefix))
        config = self.project / "config" / "config.yaml"
        text = config.read_text(encoding="utf-8")
        config.write_text(re.sub(r"(?m)^draws: \d+", "draws: 256", text), encoding="utf-8")
        simulate(specs.minimal()).write(self.campaign)
        self.refresh()

    def refresh(self) -> None:
        """Let an undisturbed run define what is right."""
        self.clear()
        began = time.monotonic()
        status, said = self.call()
        self.takes = time.monotonic() - began
        if status not in (0, 1) or not (self.results / "report.html").exists():
            raise Broken(f"the undisturbed run ended with {status}: {said}")
        self.right = digests(self.results)

    def clear(self) -> None:
        shutil.rmtree(self.results, ignore_errors=True)

    def start(self, *before, **more) -> subprocess.Popen:
        """The front door on the campaign. before: words that start it, such as those of another program."""
        command = [*before, sys.executable, "scripts/headland.py", "report", self.campaign, "--cores", "1"]
        return subprocess.Popen(
            command,
            cwd=self.project,
            text=True,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            **more,
        )

    def call(self, *before, **more) -> tuple[int, str]:
        """Let the front door run to its end; its exit status, and what it said."""
        door = self.start(*before, **more)
        try:
            said = door.communicate(timeout=MINUTES * 60)[0]
        except subprocess.TimeoutExpired:
            end(door, "all")
            raise Broken(f"a run did not end in {MINUTES} minutes") from None
        return door.returncode, said

    def nothing_half_written(self) -> None:
        for name, sha in digests(self.results).items():
            if self.right.get(name.replace(*PASSED_ON)) != sha:
                raise Broken(f"{name} is half-written or stale under its name")

    def recovers(self, at_once: bool = False) -> None:
        """The same command again gives the right bytes; where it says to wait, it is called again.

        at_once: being told to wait is a fault.
        """
        began = time.monotonic()
        while True:
            status, said = self.call()
            asked = next((words for words in WAIT if words in said), None)
            if status != 2 or not asked or time.monotonic() - began > 600:
                break
            if at_once:
                raise Broken(f"the next run was told to wait: {said}")
            self.said[asked] += 1
            time.sleep(1)
        if "Traceback" in said:
            raise Broken(f"a trace was shown: {said}")
        now = digests(self.results)
        wrong = sorted(name for name in {*now, *self.right} if now.get(name) != self.right.get(name))
        if wrong:
            other = ", ".join(wrong)
            raise Broken(
                f"exit {status}; other bytes than an undisturbed run: {other}; it said: {said[-600:]}"
            )

    def told(self, status: int, said: str, again: bool = True) -> str:
        """What a run said last that could not end well: in plain lines, and with nothing half-written."""
        if status not in (1, 2) or "Traceback" in said or "fault of Headland" in said:
            raise Broken(f"exit {status}; it said: {said[-800:]}")
        self.nothing_half_written()
        if again:
            self.recovers()
        return said.strip().splitlines()[-1].strip()


def end(door: subprocess.Popen, whom: str) -> None:
    """SIGKILL to the front door, its process group, the Snakemake that it called, or all that descends
    from it.
    """
    with contextlib.suppress(psutil.NoSuchProcess, ProcessLookupError):
        top = psutil.Process(door.pid)
        below = top.children(recursive=True)
        if whom == "group":
            os.killpg(door.pid, 9)
            return
        chosen = {
            "front door": [top],
            "Snakemake": [process for process in below if process.ppid() == door.pid] or [top],
            "all": [top, *below],
        }[whom]
        for process in chosen:
            with contextlib.suppress(psutil.NoSuchProcess):
                process.kill()
