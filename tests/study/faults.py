"""What a run leaves when something goes wrong while it works, and what the next one makes of it. `python -m study.faults --kills 200`.

After each fault two things must hold: no file stands under the name of a result with other bytes than an undisturbed run gives it; and the same command, called again, gives the same bytes as an undisturbed run.
It runs in a copy of the project, on the smallest simulated campaign with few draws. What is asked of the user in between is only what the front door says: it may say to wait, and is called again.
"""

from __future__ import annotations

import argparse
import contextlib
import dataclasses
import hashlib
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil

from simulate import specs
from simulate.campaign import simulate

ROOT = Path(__file__).resolve().parents[2]
OF_THE_RUN = re.compile(r"\.log$|^changes\.|^steps/previous_run/|\.part$")
"""What a run leaves that may differ: what it said, and how it differs from the run before."""
WAIT = ("Another run is writing", "Snakemake is already working")
STEP = re.compile(r"\[\s*(\d+)/(\d+)\]")


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
        config.write_text(
            re.sub(r"(?m)^draws: \d+", "draws: 256", config.read_text(encoding="utf-8")), encoding="utf-8"
        )
        simulate(specs.minimal()).write(self.campaign)
        self.refresh()

    def refresh(self) -> None:
        """Let an undisturbed run say what is right."""
        self.clear()
        began = time.monotonic()
        status, said = self.call()
        self.takes = time.monotonic() - began
        if status not in (0, 1) or not (self.results / "report.html").exists():
            raise Broken(f"the undisturbed run ended with {status}: {said}")
        self.right = digests(self.results)

    def clear(self) -> None:
        shutil.rmtree(self.results, ignore_errors=True)

    def start(self, **more) -> subprocess.Popen:
        """The front door on the campaign."""
        return subprocess.Popen(
            [sys.executable, "scripts/headland.py", "report", self.campaign, "--cores", "1"],
            cwd=self.project,
            text=True,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            **more,
        )

    def call(self, **more) -> tuple[int, str]:
        door = self.start(**more)
        try:
            said = door.communicate(timeout=300)[0]
        except subprocess.TimeoutExpired:
            end(door, "all")
            raise Broken("a run did not end in 5 minutes") from None
        return door.returncode, said

    def nothing_half_written(self) -> None:
        for name, sha in digests(self.results).items():
            if self.right.get(name) != sha:
                raise Broken(f"{name} stands half-written or stale under its name")

    def recovers(self) -> None:
        """The same command again, and again where the front door says to wait, gives the right bytes."""
        waited = time.monotonic()
        while True:
            status, said = self.call()
            asked = next((words for words in WAIT if words in said), None)
            if status != 2 or not asked or time.monotonic() - waited > 600:
                break
            self.said[asked] += 1
            time.sleep(1)
        if "Traceback" in said:
            raise Broken(f"a trace was shown: {said}")
        now = digests(self.results)
        if now != self.right:
            wrong = sorted(name for name in {*now, *self.right} if now.get(name) != self.right.get(name))
            raise Broken(
                f"exit {status}; other bytes than an undisturbed run: {', '.join(wrong)}; it said: {said[-600:]}"
            )


def end(door: subprocess.Popen, whom: str) -> None:
    """SIGKILL to the front door, to the Snakemake that it called, or to all that descends from it."""
    with contextlib.suppress(psutil.NoSuchProcess):
        top = psutil.Process(door.pid)
        below = top.children(recursive=True)
        chosen = {
            "front door": [top],
            "Snakemake": [p for p in below if p.ppid() == door.pid] or [top],
            "all": [top, *below],
        }[whom]
        for process in chosen:
            with contextlib.suppress(psutil.NoSuchProcess):
                process.kill()


def kill_once(bench: Bench, whom: str, step: int | None, chance: random.Random) -> bool:
    """Start a run and kill it: when it says that it begins the given step and a moment after, or at any time. Whether it was still running."""
    door = bench.start()
    begun = threading.Event()

    def read() -> None:
        for line in door.stdout:
            found = STEP.search(line)
            if found and (int(found[1]) >= (step or 0)):
                begun.set()
        begun.set()

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    if step is None:
        with contextlib.suppress(subprocess.TimeoutExpired):
            door.wait(chance.uniform(0.0, bench.takes / 3))
    else:
        begun.wait(120)
        time.sleep(chance.uniform(0.0, 0.4))
    running = door.poll() is None
    if running:
        end(door, whom)
    try:
        door.wait(120)  # where Snakemake alone was killed, the front door says so and ends
    except subprocess.TimeoutExpired:
        end(door, "all")
        raise Broken(f"{whom} killed: the front door did not end") from None
    return running


def kills(bench: Bench, number: int, seed: int) -> Iterator[str]:
    """Kills in rows of up to eight, each of the run that goes on from the one before, then a run that is left alone: every step gets its share. Half of them come at the beginning
    of the run's first to third step, half at any time in a third of what a run takes."""
    chance = random.Random(seed)
    counts: Counter = Counter()
    while sum(counts.values()) < number:
        bench.clear()
        for place in range(8):
            # Snakemake goes on without its front door, and the next run is told to wait: the last of a row
            whom = "front door" if place == 7 else ("all", "Snakemake")[place % 2]
            step = chance.randint(1, 3) if chance.random() < 0.5 else None
            try:
                running = kill_once(bench, whom, step, chance)
                counts[whom] += running
                bench.nothing_half_written()
            except Broken as problem:
                raise Broken(
                    f"after {dict(counts)}, {whom} killed at {'step %d' % step if step else 'any time'}: {problem}"
                ) from None
            if not running or sum(counts.values()) >= number:
                break
        bench.recovers()
        yield f"{sum(counts.values())} kills so far: " + ", ".join(
            f"{whom} {count}" for whom, count in counts.items()
        )


def disk_full(bench: Bench) -> str:
    """No file may grow beyond 20 kB, as if the disk were full."""
    bench.clear()
    status, said = bench.call(
        preexec_fn=lambda: (
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN),
            resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000)),
        )
    )
    return _told(bench, status, said)


def tmpfs(bench: Bench, options: str) -> contextlib.AbstractContextManager:
    @contextlib.contextmanager
    def mounted() -> Iterator[None]:
        bench.results.mkdir(parents=True, exist_ok=True)
        subprocess.run(["mount", "-t", "tmpfs", "-o", options, "headland-faults", bench.results], check=True)
        try:
            yield
        finally:
            subprocess.run(["umount", "--lazy", bench.results], check=True)

    return mounted()


def small_disk(bench: Bench) -> str:
    """A file system of 300 kB, which is then made larger (needs root)."""
    bench.clear()
    with tmpfs(bench, "size=300k"):
        told = _told(bench, *bench.call(), again=False)
        subprocess.run(["mount", "-o", "remount,size=50m", bench.results], check=True)
        bench.recovers()
    return told


def read_only(bench: Bench) -> str:
    """The results folder can't be written, and then can (needs root)."""
    bench.clear()
    with tmpfs(bench, "size=50m"):
        subprocess.run(["mount", "-o", "remount,ro", bench.results], check=True)
        told = _told(bench, *bench.call(), again=False)
        subprocess.run(["mount", "-o", "remount,rw", bench.results], check=True)
        bench.recovers()
    return told


def clocks(bench: Bench) -> str:
    """Dates of inputs and of code years back or a day ahead, then of results; where the front door says what to do about it, that is done."""
    bench.clear()
    inputs = [path for path in bench.campaign.rglob("*") if path.is_file()] + [
        *(bench.project / "workflow").rglob("*.py"),
        *(bench.project / "config").rglob("*.csv"),
    ]
    try:
        for path in inputs:
            os.utime(path, (1.0e9, 1.0e9))
        bench.recovers()
        for moment in (1.0e9 - 10, time.time() + 172800):
            for path in bench.results.rglob("*"):
                os.utime(path, (moment, moment))
            bench.recovers()
        for path in inputs:
            os.utime(path, (time.time() + 86400,) * 2)
        bench.clear()
        told = _told(bench, *bench.call(), again=False)
        for folder in (bench.campaign, bench.project / "config", bench.project / "workflow"):
            subprocess.run(["find", folder, "-newermt", "now", "-exec", "touch", "{}", "+"], check=True)
        bench.recovers()
    finally:
        for path in inputs:
            os.utime(path)
    return f"the right bytes each time; {told}"


def clock_of_the_run(bench: Bench) -> str:
    """The machine's clock a year behind for one run, and right for the next (needs faketime)."""
    bench.clear()
    door = subprocess.run(
        [
            "faketime",
            "-f",
            "-365d",
            sys.executable,
            "scripts/headland.py",
            "report",
            bench.campaign,
            "--cores",
            "1",
        ],
        cwd=bench.project,
        capture_output=True,
        text=True,
        timeout=300,
    )
    bench.nothing_half_written()
    bench.recovers()
    return f"exit {door.returncode}, then the right bytes"


def two_at_once(bench: Bench) -> str:
    """Two runs of one campaign at the same time."""
    bench.clear()
    first = bench.start()
    time.sleep(bench.takes / 3)
    status, said = bench.call()
    first.communicate(timeout=300)
    if status != 2 or WAIT[0] not in said:
        raise Broken(f"the second was not told to wait: {status} {said}")
    bench.recovers()
    return said.strip().splitlines()[-1]


def replaced(bench: Bench) -> str:
    """The notes and the logger's file replaced while each step runs: the next run gives what a run on the new ones gives."""
    notes, logger = (
        bench.campaign / "notes.csv",
        next(path for path in sorted((bench.campaign / "logger").rglob("*")) if path.is_file()),
    )
    kept = {path: path.read_bytes() for path in (notes, logger)}
    changed = {notes: kept[notes] + b"\n", logger: kept[logger].rsplit(b"\n", 3)[0] + b"\n"}
    first = bench.right
    for path, content in changed.items():
        path.write_bytes(content)
    bench.refresh()
    for at in (0.3, 0.5, 0.7, 0.9):
        bench.clear()
        for path, content in kept.items():
            path.write_bytes(content)
        door = bench.start()
        time.sleep(at * bench.takes)
        for path, content in changed.items():
            path.write_bytes(content)
        door.communicate(timeout=300)
        bench.recovers()
    for path, content in kept.items():
        path.write_bytes(content)
    bench.right = first
    bench.recovers()
    return "the bytes of a run on the new files, at four moments; back again too"


def lost_environment(bench: Bench) -> str:
    """The environment taken away while a run works, then there again, as the front door makes it anew where it is missing."""
    bench.clear()
    door, environment = bench.start(), bench.project / ".venv"
    time.sleep(bench.takes / 4)
    environment.unlink()
    door.communicate(timeout=300)
    bench.nothing_half_written()
    environment.symlink_to(Path(sys.prefix))
    bench.recovers()
    return f"exit {door.returncode}, then the right bytes"


def _told(bench: Bench, status: int, said: str, again: bool = True) -> str:
    """That a run which could not end well said so in plain lines and left nothing half-written; what it said last."""
    if status not in (1, 2) or "Traceback" in said or "fault of Headland" in said:
        raise Broken(f"exit {status}; it said: {said[-800:]}")
    bench.nothing_half_written()
    if again:
        bench.recovers()
    return said.strip().splitlines()[-1].strip()


OTHERS: dict[str, Callable[[Bench], str]] = {
    "disk full (no file beyond 20 kB)": disk_full,
    "disk full (300 kB file system)": small_disk,
    "results read-only": read_only,
    "dates in the future and the past": clocks,
    "machine's clock a year behind": clock_of_the_run,
    "two runs at once": two_at_once,
    "inputs replaced while running": replaced,
    "environment lost while running": lost_environment,
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=["kills", "others", *OTHERS])
    arguments = parser.parse_args()
    broken = 0
    with tempfile.TemporaryDirectory(prefix="headland-faults-") as folder:
        bench = Bench(Path(folder))
        print(f"an undisturbed run: {bench.takes:.1f} s, {len(bench.right)} files", flush=True)
        if arguments.only != "kills":
            for name, fault in (
                (name, fault) for name, fault in OTHERS.items() if arguments.only in (None, "others", name)
            ):
                try:
                    print(f"{name}: {fault(bench)}", flush=True)
                except Broken as problem:
                    broken += 1
                    print(f"BROKEN {name}: {problem}", flush=True)
                    bench.refresh()
        if arguments.only in (None, "kills"):
            try:
                for line in kills(bench, arguments.kills, arguments.seed):
                    print(line, flush=True)
            except Broken as problem:
                broken += 1
                print(f"BROKEN {problem}", flush=True)
        print(f"what was said before going on: {dict(bench.said)}")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
