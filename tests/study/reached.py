"""Which tests run which part of the package: each test file once, in a process of its own, with the package's
blocks (function bodies and their branches and loops) noting that they were entered.

A change is then tried on the tests that enter its block, instead of on all.
"""

from __future__ import annotations

import ast
import builtins
import importlib.machinery
import os
import sys
from pathlib import Path

import pytest

BODIES = ("body", "orelse", "finalbody")
PROCESS = "starts a process"
"""In the place of a block: a test that starts a process may enter any."""


def _seconds() -> float:
    """Of this process and those that it started."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def blocks(module: str, tree: ast.Module) -> list[tuple[int, int, str, list[ast.stmt]]]:
    """First and last line, name and statements of each block in functions; a block's name is its function,
    dotted, and its number there."""
    found: list[tuple[int, int, str, list[ast.stmt]]] = []

    def walk(node: ast.AST, names: tuple[str, ...], inside: bool) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                is_function = not isinstance(child, ast.ClassDef)
                into = (*names, child.name)
                if is_function:
                    note(child.body, into)
                walk(child, into, is_function)
            else:
                if inside and isinstance(child, ast.If | ast.For | ast.While | ast.Try | ast.ExceptHandler):
                    for part in BODIES:
                        note(getattr(child, part, []), names)
                walk(child, names, inside)

    def note(body: list[ast.stmt], names: tuple[str, ...]) -> None:
        if body:
            name = f"{module}:{'.'.join(names)}"
            number = sum(one[2].rpartition("#")[0] == name for one in found)
            found.append((body[0].lineno, body[-1].end_lineno or 0, f"{name}#{number}", body))

    walk(tree, (), False)
    return found


class Noting(importlib.machinery.SourceFileLoader):
    """Loads a module so that its blocks note that they were entered."""

    def get_code(self, fullname):
        path = Path(self.path)
        tree = ast.parse(path.read_bytes())
        module = "/".join(path.parts[-2:])
        for _, _, name, body in blocks(module, tree):
            call = ast.parse(f"__entered__({name!r})").body[0]
            first = body[0]
            is_text = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
            body.insert(1 if is_text else 0, ast.fix_missing_locations(ast.copy_location(call, first)))
        return compile(ast.fix_missing_locations(tree), str(path), "exec")


class Finder:
    """Finds the package's modules for `Noting`."""

    @staticmethod
    def find_spec(name, path=None, target=None):
        if not name.startswith("headland"):
            return None
        spec = importlib.machinery.PathFinder.find_spec(name, path, target)
        if spec and spec.origin and spec.origin.endswith(".py"):
            spec.loader = Noting(name, spec.origin)
        return spec


class Watch:
    """A plugin of pytest: what each test entered, by itself and by its fixtures, how long it took, and how it
    ended."""

    def __init__(self):
        self.now: set[str] = set()
        self.fixtures: dict[str, set[str]] = {}
        self.tests: dict[str, dict] = {}
        self.started = 0
        sys.addaudithook(self.note_process)
        builtins.__entered__ = lambda name: self.now.add(name)
        sys.meta_path.insert(0, Finder)

    def note_process(self, event: str, _) -> None:
        if event in ("subprocess.Popen", "os.fork", "os.posix_spawn"):
            self.started += 1

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef, request):
        before, self.now, started = self.now, set(), self.started
        try:
            return (yield)
        finally:
            key = f"{fixturedef.baseid}::{fixturedef.argname}"
            if self.started > started:
                self.now.add(PROCESS)
            self.fixtures.setdefault(key, set()).update(self.now)
            before |= self.now
            self.now = before

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item, nextitem):
        self.now, start, started = set(), _seconds(), self.started
        self.tests[item.nodeid] = {"ok": True}
        try:
            return (yield)
        finally:
            used = getattr(item, "_fixtureinfo", None)
            keys = [
                f"{one.baseid}::{one.argname}"
                for several in (used.name2fixturedefs.values() if used else ())
                for one in several
            ]
            entered = self.now.union(*(self.fixtures.get(key, set()) for key in keys))
            entered |= {PROCESS} if self.started > started else set()
            self.tests[item.nodeid] |= {"s": round(_seconds() - start, 3), "in": sorted(entered)}

    def pytest_runtest_logreport(self, report):
        if report.failed or report.skipped:
            self.tests[report.nodeid]["ok"] = False
