"""Runs a step's script as a job: in a process of its own, forked from one that has the libraries loaded.

A Python that starts, and loads what a step needs, takes a second or two, and a chain has twenty steps: forked
from a process that has loaded everything once, a step starts in some milliseconds, and still shares nothing
with another. It writes what it says into its log, its memory is given back when it ends, and where it fails
or is killed no other job is.
"""

from __future__ import annotations

import ast
import contextlib
import errno
import gc
import multiprocessing
import os
import runpy
import sys
import threading
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from multiprocessing.connection import wait
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[1]
FORKS = multiprocessing.get_context("forkserver")
DISK_FULL = errno.ENOSPC
"""Exit status of a job that found no room."""
ONE_AT_A_TIME = threading.Lock()
"""Held while a process is started or its end is noted: the library's own list of processes is not made for
threads.
"""


class JobFailed(Exception):
    """A script ended with another exit status than 0; its log tells why."""


@cache
def _imported(path: Path) -> list[Path]:
    """The files of the package that a Python file of ours imports, however the import is written."""
    tree = ast.parse(path.read_text(encoding="utf-8"), str(path))
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            package = module_name(path).split(".")[: -node.level] if node.level else []
            base = ".".join([*package, *([node.module] if node.module else [])])
            names |= {base, *(f"{base}.{alias.name}" for alias in node.names)}
    parents = {".".join(name.split(".")[:count]) for name in names for count in range(1, name.count(".") + 2)}
    return [
        file for name in sorted(parents) if name.split(".")[0] == PACKAGE.name for file in _files_of(name)
    ]


def _files_of(name: str) -> list[Path]:
    """The file of a module or package of ours by its dotted name; none where the name is that of something in
    a module.
    """
    path = PACKAGE.parent.joinpath(*name.split("."))
    return [file for file in (path.with_suffix(".py"), path / "__init__.py") if file.is_file()]


def module_name(path: Path) -> str:
    """The dotted name of a module of the package: headland.chain.segment. A script outside it has its own
    name alone.
    """
    if not path.is_relative_to(PACKAGE):
        return path.stem
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def reached(script: Path) -> list[Path]:
    """A script, and every module of the package that it imports or that these do, in the order of their
    names.
    """
    seen, waiting = [], [script]
    while waiting:
        path = waiting.pop()
        if path not in seen:
            seen.append(path)
            waiting += _imported(path)
    return [script, *sorted(seen[1:])]


def preload(modules: Iterable[str]) -> None:
    """What the process that jobs are forked from loads when the first job starts. A module that can't be
    found is left to the job to complain of.
    """
    FORKS.set_forkserver_preload(list(modules))


def words(files: Mapping[str, str | Sequence[str]], settings: str | None) -> list[str]:
    """The command line of a script, as `step.arguments` reads it. files: by option, with `_` for `-`.
    settings: JSON.
    """
    line = ["--settings", settings] if settings is not None else []
    for name, paths in files.items():
        line += [f"--{name.replace('_', '-')}", *([paths] if isinstance(paths, str) else map(str, paths))]
    return line


def run(script: Path, line: Sequence[str], log: Path) -> None:
    """Run a script to its end with what it says in its log; JobFailed where it does not end well. From as
    many threads as wanted.
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
    # what was loaded before it began is no garbage: to look through it again and again takes as long as many a step
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
                print(
                    f"The disk is full ({problem.strerror}): make room and run the same command again.",
                    flush=True,
                )
            os._exit(DISK_FULL)
        raise


def _end_with_parent() -> None:
    """A job must not go on writing when the run that asked for it has been killed: the next run may already
    be at work.
    """
    multiprocessing.parent_process().join()
    os._exit(1)
