"""Hostile archives: what `verify` makes of each. `PYTHONPATH=tests:workflow python -m study.archives`.

Each archive is checked by a process of its own with bounded memory and time. It must end with 1 or 2, in
plain printable lines, without the word intact and without a trace, and write nothing. A comparison of two
sound archives may also end with 0 or find a difference.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from study.archive_writer import Draw, packed
from study.archives_made import KINDS, PAIRS

ROOT = Path(__file__).resolve().parents[2]
MEMORY = 700_000_000
"""Bytes of addresses that a check may take."""
SECONDS = 20
"""Seconds of processor time that a check may take."""
MOST_LINES, LONGEST = 230, 1000


@dataclass
class Ended:
    """How checks of one kind ended: how many, the longest time and most memory, what broke a rule."""

    runs: int = 0
    seconds: float = 0.0
    megabytes: float = 0.0
    broken: list[str] = field(default_factory=list)


MEASURED = """
import atexit, os, runpy, sys
end = int(sys.argv[1])
def peak():
    with open("/proc/self/status") as status:
        os.write(end, next(line for line in status if line.startswith("VmHWM:")).encode())
atexit.register(peak)
del sys.argv[:2]
runpy.run_path(sys.argv[0], run_name="__main__")
"""
"""Runs a script and writes the most memory that it took.

What the system counts for a child holds the memory of its parent, from before it became another program.
"""


def limited() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def faults(status: int, said: str, pair: bool) -> Iterator[str]:
    """What is wrong with how a check ended."""
    if status not in ((0, 1, 2) if pair else (1, 2)):
        yield f"exit {status}"
    if "Traceback" in said or "MemoryError" in said:
        yield f"a trace: {said.strip().splitlines()[-1][:200]!r}"
    lines = said.split("\n")
    praised = any(line.startswith(("Intact", "The files are whole", "A season, intact")) for line in lines)
    if not pair and praised and not any("NOT INTACT" in line for line in lines):  # said of its campaigns
        yield "it is called intact"
    if not said.strip() or len(lines) > MOST_LINES:
        yield f"{len(lines)} lines"
    for line in lines:
        if len(line) > LONGEST or not line.isprintable():
            yield f"no plain line: {line[:120]!r}"
            return


def check(folder: Path, made: Callable[[Path], None], ended: Ended, pair: bool = False) -> None:
    """Make an archive in a folder, check it, and note how that ended."""
    place, own = folder / "here", folder / "tmp"
    for part in (place, own):
        part.mkdir(parents=True, exist_ok=True)
    made(place / "a.zip")
    names = ["a.zip"]
    if pair:
        names = ["sound.zip", "a.zip"]
        if not (place / names[0]).exists():
            (place / names[0]).write_bytes(packed())
    before = {path.name: path.stat().st_mtime_ns for path in place.iterdir()}
    environment = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT / "workflow"), "TMPDIR": str(own)}
    environment |= {"PYTHONDONTWRITEBYTECODE": "1", "HOME": str(own), "LC_ALL": "C.UTF-8"}
    read, write = os.pipe()
    script = str(ROOT / "scripts" / "verbs" / "verify.py")
    command = [sys.executable, "-S", "-s", "-P", "-c", MEASURED, str(write), script, *names]
    process = subprocess.Popen(
        command, cwd=place, env=environment, preexec_fn=limited, pass_fds=[write], stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    os.close(write)
    said = process.stdout.read().decode("utf-8", "backslashreplace")
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    ended.runs += 1
    ended.seconds = max(ended.seconds, used.ru_utime + used.ru_stime)
    with os.fdopen(read) as peak:
        words = peak.read().split()  # VmHWM: 12345 kB; nothing of a program that was killed
    ended.megabytes = max(ended.megabytes, int(words[1]) / 1000 if words else MEMORY / 1e6)
    ended.broken += faults(process.returncode, said, pair)
    after = {path.name: path.stat().st_mtime_ns for path in place.iterdir()}
    if after != before or any(own.iterdir()):
        ended.broken.append("it wrote a file")
    for path in place.iterdir():
        path.unlink()


def sparse(path: Path, draw: Draw) -> None:
    """A file that claims to be huge and takes no room."""
    with path.open("wb") as stream:
        stream.truncate(draw.choice((2**31, 2**40, 2**42)))


def one_or_two(make: Callable[[Draw], bytes | tuple[bytes, bytes]], path: Path, draw: Draw) -> None:
    """Write what a maker returns: one archive, or two that are compared."""
    made = make(draw)
    if isinstance(made, tuple):
        path.with_name("sound.zip").write_bytes(made[0])
        made = made[1]
    path.write_bytes(made)


def study(each: int, only: str = "", say: Callable[[str], None] = print) -> dict[str, Ended]:
    """Check so many archives of each kind."""
    ended: dict[str, Ended] = {}
    writers: dict[str, Callable[[Path, Draw], object]] = {"a file of terabytes": sparse}
    writers |= {kind: partial(one_or_two, make) for kind, make in (KINDS | PAIRS).items()}
    with tempfile.TemporaryDirectory(prefix="headland-hostile-") as place:
        for kind, write in writers.items():
            if only not in kind:
                continue
            began, ended[kind] = time.monotonic(), Ended()
            for number in range(each):
                draw = random.Random(f"{kind} {number}")
                check(Path(place), lambda path, w=write, d=draw: w(path, d), ended[kind], pair=kind in PAIRS)
            one = ended[kind]
            say(
                f"{kind}: {one.runs} archives, at most {one.seconds:.1f} s and {one.megabytes:.0f} MB, "
                f"{len(one.broken)} BROKEN {one.broken[:3]} ({time.monotonic() - began:.0f} s)"
            )
    return ended


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--each", type=int, default=4, help="archives of each kind")
    parser.add_argument("--only", default="", help="kinds whose name holds this text")
    arguments = parser.parse_args()
    ended = study(arguments.each, arguments.only, lambda line: print(line, flush=True))
    broken = sum(len(one.broken) for one in ended.values())
    print(f"All: {sum(one.runs for one in ended.values())} archives of {len(ended)} kinds, {broken} broken.")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
