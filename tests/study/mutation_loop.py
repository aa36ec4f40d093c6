"""Many changes in one run of pytest: tests are collected once, and each change is tried in a fork of the
process that has them."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from study.mutants import Mutant
from study.swapped import CanNot, swap

NOTICED, UNENDING, UNNOTICED, ANEW = "noticed", "does not end", "not noticed", "to be loaded anew"


class Loop:
    """A plugin of pytest that runs no test itself, but every change's tests in a fork."""

    def __init__(
        self,
        mutants: Iterable[Mutant],
        tests_of: Callable[[Mutant], list[tuple[str, float]]],
        keep: Callable[[Mutant, dict], None],
        watch: Callable[[int, float], int | None],
    ):
        """tests_of: node ids and seconds, in the order to run. keep: is given the result. watch: waits for a
        process within seconds of its time."""
        self.mutants, self.tests_of, self.keep, self.watch = mutants, tests_of, keep, watch
        self.failed = ""

    def pytest_runtest_logreport(self, report):
        if report.failed:
            self.failed = report.nodeid

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session):
        items = {item.nodeid: item for item in session.items}
        package = Path.cwd() / "workflow" / "headland"
        for mutant in self.mutants:
            chosen = [(items[name], cost) for name, cost in self.tests_of(mutant) if name in items]
            started = time.monotonic()
            said = self.tried(mutant, package / mutant.module, chosen)
            self.keep(mutant, said | {"seconds": round(time.monotonic() - started, 1)})
        return True

    def tried(self, mutant: Mutant, path: Path, chosen: list) -> dict:
        said = {"verdict": UNNOTICED, "by": "", "tests": len(chosen)}
        if not chosen:
            return said
        source, stamp = path.read_bytes(), path.stat().st_mtime
        read, write = os.pipe()
        path.write_bytes(mutant.applied(source))
        os.utime(path, (stamp, stamp + 10.0))
        try:
            child = os.fork()
            if not child:
                os.close(read)
                self.in_child(mutant, source, path, [item for item, _ in chosen], write)
            os.close(write)
            code = self.watch(child, 5.0 * sum(cost for _, cost in chosen) + 30.0)
            by = os.read(read, 4096).decode()
            os.close(read)
        finally:
            path.write_bytes(source)
            os.utime(path, (stamp, stamp))
        if code is None:
            return said | {"verdict": UNENDING}
        if code == 2:
            return said | {"verdict": ANEW}
        return said | ({"verdict": NOTICED, "by": by} if code else {})

    def in_child(self, mutant: Mutant, source: bytes, path: Path, items: list, write: int) -> None:
        code = 1
        try:
            os.setsid()
            quiet = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(quiet, stream)
            sys.stdout = sys.stderr = open(os.devnull, "w")  # noqa: SIM115
            try:
                swap(mutant, source, path)
            except CanNot:
                os._exit(2)
            except Exception as problem:  # the module does not load with the change
                os.write(write, f"loading: {problem!r}".encode()[:2000])
                os._exit(1)
            for place, item in enumerate(items):
                following = items[place + 1] if place + 1 < len(items) else None
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
                if self.failed:
                    os.write(write, self.failed.encode()[:2000])
                    os._exit(1)
            code = 0
        except BaseException as problem:
            os.write(write, f"broke: {problem!r}".encode()[:2000])
        finally:
            os._exit(code)
