"""A copy of the project in which its code is changed, and tests in processes of their own."""

from __future__ import annotations

import contextlib
import filecmp
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).parents[2]
FORKED = "-m not study and not slurm", "-p", "no:cacheprovider", "-q", "--no-header", "--tb=no"


def copied(work: Path) -> Path:
    """The project's files as they are here, in a folder of their own."""
    tree = work / "tree"
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, check=True, capture_output=True, text=True,
    ).stdout.split("\0")  # fmt: skip
    names = {name for name in listed if name and (ROOT / name).is_file()}
    for path in [path for path in tree.rglob("*") if path.is_file() and path.suffix != ".pyc"]:
        if ".venv" not in path.parts and path.relative_to(tree).as_posix() not in names:
            path.unlink()
    for name in sorted(names):
        if not (tree / name).exists() or not filecmp.cmp(ROOT / name, tree / name, shallow=False):
            (tree / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, tree / name)
    if not (tree / ".venv").exists():
        (tree / ".venv").symlink_to(sys.prefix)
    shared = ROOT.parent / "shared"
    if shared.exists() and not (work / "shared").exists():
        (work / "shared").symlink_to(shared)
    return tree


def forked(tree: Path, arguments: Sequence[str], plugins: Sequence, limit: float) -> int | None:
    """What pytest returns in a process of its own that has the libraries already; None beyond the limit in
    seconds of its processor time, or six times that by the clock."""
    child = os.fork()
    if not child:
        os.setsid()
        os.chdir(tree)
        quiet = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(quiet, stream)
        sys.path[:] = [one for one in sys.path if one and not one.startswith(str(ROOT / "tests"))]
        sys.path[:] = [one for one in sys.path if not one.startswith(str(ROOT / "workflow"))]
        for name in [name for name in sys.modules if name.partition(".")[0] in ("study", "headland")]:
            del sys.modules[name]
        sys.dont_write_bytecode = False  # the copy keeps what is compiled; a change has a time of its own
        import pytest

        code = 99
        try:
            code = int(pytest.main([*FORKED, *arguments], plugins=list(plugins)))
        finally:
            os._exit(code)
    return watched(child, limit, patience=6.0, pause=0.1)


def _end(group: int) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.killpg(group, signal.SIGKILL)


def _seconds_of(process: int) -> float:
    try:
        fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except (FileNotFoundError, ProcessLookupError):
        return 0.0
    return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")


def watched(child: int, limit: float, patience: float = 20.0, pause: float = 0.02) -> int | None:
    """The exit code of a process; None where it needs more than so many seconds of its own time, or
    `patience` times that by the clock. pause: s between two looks at it."""
    started = time.monotonic()
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            _end(child)
            return os.waitstatus_to_exitcode(status)
        if _seconds_of(child) > limit or time.monotonic() - started > patience * limit:
            _end(child)
            os.waitpid(child, 0)
            return None
        time.sleep(pause)
