"""Runs a step's script as a job: in a process of its own, forked from one that has the libraries loaded.

To start a Python and load what a step needs takes a second or two, and a chain has twenty steps. Forked from
a process that has loaded everything once, a step starts in milliseconds, and still shares nothing with
another. Its output goes to its log, its memory is freed when it ends, and its failure ends no other job.
"""

from __future__ import annotations

import contextlib
import errno
import gc
import multiprocessing
import os
import runpy
import sys
import threading
from collections.abc import Iterable, Mapping, Sequence
from multiprocessing.connection import wait
from pathlib import Path

FORKS = multiprocessing.get_context("forkserver")
DISK_FULL = errno.ENOSPC
"""Exit status of a job that found no room."""
ONE_AT_A_TIME = threading.Lock()
"""Held while a process is started or its end is noted: the library's list of processes is not safe for
threads.
"""


class JobFailed(Exception):
    """A script ended with an exit status other than 0; its log says why."""


def preload(modules: Iterable[str]) -> None:
    """Name the modules that the process from which jobs are forked loads when the first job starts.

    A module that can't be found is left to the job to complain about.
    """
    FORKS.set_forkserver_preload(list(modules))


def words(files: Mapping[str, str | Sequence[str]], settings: str | None) -> list[str]:
    """The command line of a script, as `step.arguments` reads it.

    files: by option, with `_` for `-`. settings: JSON.
    """
    line = ["--settings", settings] if settings is not None else []
    for name, given in files.items():
        paths = [given] if isinstance(given, str) else [str(path) for path in given]
        line += [f"--{name.replace('_', '-')}", *paths]
    return line


def run(script: Path, line: Sequence[str], log: Path) -> None:
    """Run a script to its end, with its output in the log. Raises JobFailed where it does not end well.

    May be called from several threads.
    """
    process = FORKS.Process(target=_work, args=(str(script), list(line), str(log)))
    with ONE_AT_A_TIME:
        process.start()
    wait([process.sentinel])
    with ONE_AT_A_TIME:
        process.join()
    if process.exitcode:
        ended = (
            f"ended with exit status {process.exitcode}"
            if process.exitcode > 0
            else f"was ended by signal {-process.exitcode}, perhaps for lack of memory"
        )
        ended += ", the disk being full" if process.exitcode == DISK_FULL else ""
        raise JobFailed(f"{script.name} {ended}; its log is {log}")


def _work(script: str, line: list[str], log: str) -> None:
    """What a job's process does."""
    # what was loaded before is no garbage: looking through it again and again takes as long as some steps
    gc.freeze()
    threading.Thread(target=_end_with_parent, daemon=True).start()
    Path(log).parent.mkdir(parents=True, exist_ok=True)
    said = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o666)
    for stream in (1, 2):
        os.dup2(said, stream)
    sys.argv = [script, *line]
    sys.path.insert(0, str(Path(script).parent))
    try:
        runpy.run_path(script, run_name="__main__")
    except OSError as problem:
        if problem.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            with contextlib.suppress(OSError):  # the log may lie on it too
                print(problem.strerror, flush=True)  # the front door puts it into words
            os._exit(DISK_FULL)
        raise


def _end_with_parent() -> None:
    """A job must not go on writing when the run that asked for it has been killed: the next run may already
    be at work.
    """
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
    os._exit(1)
