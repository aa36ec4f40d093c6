"""What a run leaves when something goes wrong while it works, and what the next one makes of it.

    PYTHONPATH=tests:workflow python -m study.faults --kills 200

After each fault two things must hold. No file has the name of a result and other bytes than an undisturbed
run gives it. The same command, called again, gives the same bytes as an undisturbed run. The study runs in
a copy of the project, on the smallest simulated campaign with few draws. In between it only does what the
front door says.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import re
import resource
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from study.fault_bench import WAIT, Bench, Broken, end

STEP = re.compile(r"\[\s*(\d+)/(\d+)\]")


def kill_once(bench: Bench, whom: str, step: int | None, within: float, chance: random.Random) -> bool:
    """Start a run and kill it.

    When it says that it begins the given step and a moment after, or at any time within so many seconds.
    Whether it was still running.
    """
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
            door.wait(chance.uniform(0.0, within))
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


WHOM = ("group", "Snakemake", "front door", "all")


STEPS = 20
"""A run has a few more: one that is over is no kill."""


def kills(bench: Bench, number: int, seed: int, row: int, killed: Sequence[str]) -> Iterator[str]:
    """Kills in rows, each of a run that goes on from the one before; then an undisturbed run.

    So every step gets its share. In a row of several, half of the kills come at the beginning of the run's
    first to third step, half at any time in a third of what a run takes; a kill alone comes at any step, or
    any time. Each run is started at once after the kill before. row: kills in a row. killed: who, in turn.
    """
    chance = random.Random(seed)
    counts: Counter = Counter()
    last, within = (3, bench.takes / 3) if row > 1 else (STEPS, bench.takes)
    while sum(counts.values()) < number:
        bench.clear()
        for place in range(row):
            whom = killed[place % len(killed)]
            step = chance.randint(1, last) if chance.random() < 0.5 else None
            try:
                running = kill_once(bench, whom, step, within, chance)
                counts[whom] += running
                bench.nothing_half_written()
            except Broken as problem:
                moment = f"step {step}" if step else "any time"
                raise Broken(f"after {dict(counts)}, {whom} killed at {moment}: {problem}") from None
            if not running or sum(counts.values()) >= number:
                break
        bench.recovers(at_once=True)
        listed = ", ".join(f"{whom} {count}" for whom, count in counts.items())
        yield f"{sum(counts.values())} kills so far: {listed}"


def no_large_file() -> None:
    """No file may grow beyond 20 kB, as if the disk were full."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))


def disk_full(bench: Bench) -> str:
    """No file may grow beyond 20 kB."""
    bench.clear()
    return bench.told(*bench.call(preexec_fn=no_large_file))


def little_memory() -> None:
    """Each process may have 700 MB of addresses."""
    resource.setrlimit(resource.RLIMIT_AS, (700_000_000, 700_000_000))


def memory_full(bench: Bench) -> str:
    """Too little memory for the steps."""
    bench.clear()
    return bench.told(*bench.call(preexec_fn=little_memory))


def without_home(bench: Bench) -> str:
    """No home folder, no name, and no temporary folder but the system's: the right bytes all the same."""
    bench.clear()
    status, said = bench.call(env={"PATH": os.environ["PATH"]})
    bench.recovers()
    return f"exit {status}: {said.strip().splitlines()[-1]}"


@contextlib.contextmanager
def tmpfs(bench: Bench, options: str) -> Iterator[None]:
    """The results on a file system of their own (needs root)."""
    bench.results.mkdir(parents=True, exist_ok=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", options, "headland-faults", bench.results], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "--lazy", bench.results], check=True)


def small_disk(bench: Bench, size: str = "300k") -> str:
    """A small file system, which is then made larger (needs root)."""
    bench.clear()
    with tmpfs(bench, f"size={size}"):
        told = bench.told(*bench.call(), again=False)
        subprocess.run(["mount", "-o", "remount,size=50m", bench.results], check=True)
        bench.recovers()
    return told


def read_only(bench: Bench) -> str:
    """The results folder can't be written, and then can (needs root)."""
    bench.clear()
    with tmpfs(bench, "size=50m"):
        subprocess.run(["mount", "-o", "remount,ro", bench.results], check=True)
        told = bench.told(*bench.call(), again=False)
        subprocess.run(["mount", "-o", "remount,rw", bench.results], check=True)
        bench.recovers()
    return told


def clocks(bench: Bench) -> str:
    """Dates of inputs and of code years back or a day ahead, then of results; where the front door says
    what to do about it, that is done.
    """
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
        told = bench.told(*bench.call(), again=False)
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
    """The notes and the logger's file replaced while each step runs.

    The next run gives what a run on the new ones gives.
    """
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
    """The environment taken away while a run works, then there again, as the front door makes it anew
    where it is missing.
    """
    bench.clear()
    door, environment = bench.start(), bench.project / ".venv"
    time.sleep(bench.takes / 4)
    environment.unlink()
    door.communicate(timeout=300)
    bench.nothing_half_written()
    environment.symlink_to(Path(sys.prefix))
    bench.recovers()
    return f"exit {door.returncode}, then the right bytes"


OTHERS: dict[str, Callable[[Bench], str]] = {
    "disk full (no file beyond 20 kB)": disk_full,
    "disk full (300 kB file system)": small_disk,
    "disk full (500 kB file system)": lambda bench: small_disk(bench, "500k"),
    "memory full (700 MB a process)": memory_full,
    "no home, no name": without_home,
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
    parser.add_argument("--row", type=int, default=8, help="kills before an undisturbed run")
    parser.add_argument("--killed", choices=WHOM, nargs="+", default=WHOM, help="who is killed, in turn")
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
                for line in kills(bench, arguments.kills, arguments.seed, arguments.row, arguments.killed):
                    print(line, flush=True)
            except Broken as problem:
                broken += 1
                print(f"BROKEN {problem}", flush=True)
        print(f"what was said before going on: {dict(bench.said)}")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
