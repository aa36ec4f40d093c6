"""Watching a folder: something is done once, and again whenever a file in the folder has changed."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

from headland.base.errors import UserErrors


def state_of(folder: Path) -> list[tuple[str, int, int]]:
    """Every file of a folder with its size and date: what shows that something has changed."""
    found = []
    for path in sorted(folder.rglob("*")):
        try:
            status = path.stat()
            found.append((str(path), status.st_size, status.st_mtime_ns))
        except OSError:  # gone between being listed and being asked
            continue
    return found


def follow(folder: Path, do: Callable[[], None], every: float, wait: Callable = time.sleep) -> None:
    """Do something once, and again whenever the folder has changed since it was last begun, until
    interrupted.

    every: s between two looks at the folder. Raises UserErrors the first time only; later they are printed,
    because a file is being edited.
    """
    before, ever = None, False
    while True:
        now = state_of(folder)
        if now != before:
            before = now
            try:
                do()
                ever = True
            except UserErrors as problem:
                if not ever:
                    raise
                print(*problem.errors, sep="\n", file=sys.stdout, flush=True)
        wait(every)
