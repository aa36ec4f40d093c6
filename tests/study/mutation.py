"""Study: single changes to the package, and whether the tests notice them.

    PYTHONPATH=tests:workflow python -m study.mutation reach          # once: which tests run what
    PYTHONPATH=tests:workflow python -m study.mutation run --seed 1 --count 100
    PYTHONPATH=tests:workflow python -m study.mutation page

Works on a copy of the project in the folder given by --work, and continues where it stopped. The tests of the
changed module's own room come first, then those of other rooms, each only where it enters the changed block;
`--wider` tries what is left on the remaining tests of the package and on the whole chain.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from pathlib import Path

from study import dated
from study.mutants import Mutant, drawn, relocated
from study.mutation_copy import FORKED, ROOT, copied, forked, watched
from study.mutation_loop import ANEW, NOTICED, UNENDING, UNNOTICED, Loop
from study.mutation_order import stages, within
from study.mutation_page import PAGE, page
from study.reached import Watch

FOLDERS = ("tests/headland", "tests/published", "tests/simulate")
"""Whose tests are tried block by block."""
WIDER = ("tests/scripts", "tests/whole")


# Which tests run what ---------------------------------------------------------------------------------------


class Written(Watch):
    """Writes down what it saw when pytest ends."""

    def __init__(self, path: Path):
        super().__init__()
        self.path = path

    def pytest_sessionfinish(self):
        self.path.write_text(json.dumps(self.tests))


def reach(work: Path, again: Sequence[str] = ()) -> None:
    """Runs each test file that has changed since, or is named, with the blocks noting their use."""
    tree, kept = copied(work), work / "reached"
    kept.mkdir(exist_ok=True)
    for path in sorted(one for folder in FOLDERS for one in (tree / folder).rglob("test_*.py")):
        name = path.relative_to(tree).as_posix()
        target = kept / f"{name.replace('/', '+')}.json"
        if target.exists() and name not in again and target.stat().st_mtime > path.stat().st_mtime:
            continue
        code = forked(tree, [name], [_Late(target)], 900.0)
        print(f"{time.strftime('%H:%M:%S')} {name}: {code}", flush=True)


class _Late:
    """Makes the plugin in the process that runs the tests, before a conftest.py loads the package."""

    def __init__(self, path: Path):
        self.path = path

    def pytest_load_initial_conftests(self, early_config):
        early_config.pluginmanager.register(Written(self.path))


def reached(work: Path) -> dict[str, dict]:
    """What `reach` wrote, by test."""
    found: dict[str, dict] = {}
    for path in sorted((work / "reached").glob("*.json")):
        found |= json.loads(path.read_text())
    return found


# One change -------------------------------------------------------------------------------------------------


class Chosen:
    """Runs only the chosen tests, in the order given, and writes down the first that failed."""

    def __init__(self, tests: Sequence[str] | None, known: frozenset[str], path: Path):
        self.order = {name: place for place, name in enumerate(tests)} if tests is not None else None
        self.known, self.path = known, path

    def pytest_collection_modifyitems(self, items):
        if self.order is None:
            items[:] = [one for one in items if one.nodeid not in self.known]
        else:
            items[:] = [one for one in items if one.nodeid in self.order]
            items.sort(key=lambda one: self.order[one.nodeid])

    def pytest_runtest_logreport(self, report):
        if report.failed:
            self.path.write_text(report.nodeid)

    def pytest_collectreport(self, report):
        if report.failed:
            self.path.write_text(report.nodeid)


def tried(mutant: Mutant, tree: Path, known: dict[str, dict], most: float, wider: bool = False) -> dict:
    """What the tests say to one change."""
    path, started = tree / "workflow" / "headland" / mutant.module, time.monotonic()
    source, stamp = path.read_bytes(), path.stat().st_mtime
    said: dict = {"verdict": UNNOTICED, "by": "", "tests": 0, "left": 0}
    failing = frozenset(name for name, one in known.items() if not one["ok"])
    path.write_bytes(mutant.applied(source))
    os.utime(path, (stamp, stamp + 10.0 + zlib.crc32(mutant.name.encode()) % 10**6))
    try:
        rounds: list[list[str] | None] = list(stages(mutant, tree, known))
        if wider:
            rounds.append(None)
        for tests in filter(lambda one: one is None or one, rounds):
            _try(said, tests, tree, (known, failing), most * (10.0 if tests is None else 1.0))
            if said["verdict"] != UNNOTICED:
                break
    finally:
        path.write_bytes(source)
        os.utime(path, (stamp, stamp))
    return {**asdict(mutant), **said, "seconds": round(time.monotonic() - started, 1)}


def _try(said: dict, tests: list[str] | None, tree: Path, about: tuple, most: float) -> None:
    known, failing = about
    kept = None if tests is None else within(tests, known, most)
    files = list(WIDER) if kept is None else list(dict.fromkeys(name.partition("::")[0] for name in kept))
    with tempfile.NamedTemporaryFile(suffix=".txt") as first:
        plugin = Chosen(kept, failing, Path(first.name))
        limit = 3.0 * most + 60.0 if kept is None else 3.0 * sum(known[name]["s"] for name in kept) + 60.0
        code = forked(tree, ["-x", *files], [plugin], limit)
        said["by"] = Path(first.name).read_text()
    said["tests"] += len(kept or ())
    said["left"] += len(tests or ()) - len(kept or ())
    if code is None:
        said["verdict"] = UNENDING
    elif code not in (0, 5):
        said["verdict"] = NOTICED


# The study --------------------------------------------------------------------------------------------------


def commit() -> str:
    return subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, check=True, capture_output=True, text=True
    ).stdout.strip()


def preload() -> None:
    """Libraries that most tests need, so that no test process loads them again."""
    import hypothesis  # noqa: F401
    import matplotlib.figure  # noqa: F401
    import numpy  # noqa: F401
    import pandas  # noqa: F401
    import pytest  # noqa: F401
    import scipy.stats  # noqa: F401
    import yaml  # noqa: F401


class Draw:
    """The changes that a seed drew, and what was said to each: a file of the work folder."""

    def __init__(self, work: Path, seed: int, count: int, package: Path):
        self.file = work / f"draw_{seed}.json"
        self.state, self.day = commit(), date.today().isoformat()
        if self.file.exists():
            self.read()
        else:
            new = {"verdict": "", "first": ""}
            self.results = {one.name: asdict(one) | new for one in drawn(seed, count, package)}

    def read(self) -> None:
        self.results: dict[str, dict] = json.loads(self.file.read_text())

    def keep(self, name: str, said: Mapping) -> None:
        one = self.results[name]
        one |= {key: said[key] for key in ("verdict", "by", "tests", "seconds")}
        one |= {"commit": self.state, "day": self.day, "left": said.get("left", 0)}
        if said["verdict"] != ANEW and not one["first"]:
            one["first"] = said["verdict"]
        self.file.write_text(json.dumps(self.results, indent=1))
        print(time.strftime("%H:%M:%S"), said["verdict"], said["seconds"], name, said["by"], flush=True)

    def open_(self, wanted: set[str], package: Path) -> dict[str, Mutant]:
        """The changes with one of the verdicts, where the package now has them, by their first names."""
        found = {}
        for name, one in self.results.items():
            if one["verdict"] in wanted:
                mutant = Mutant(**{key: one[key] for key in Mutant.__dataclass_fields__})
                moved = relocated(mutant, package)
                found |= {name: moved} if moved else {}
        return found


def run(work: Path, seed: int, count: int, asked: argparse.Namespace) -> None:
    """Tries the changes of a seed that have no result yet, or again those that were not noticed. What can't
    be put into a loaded package is tried with the package loaded anew."""
    tree = copied(work)
    package, known = tree / "workflow" / "headland", reached(work)
    draw = Draw(work, seed, count, package)

    def tests_of(mutant: Mutant) -> list[tuple[str, float]]:
        ranked = sum(stages(mutant, tree, known), [])
        return [(name, known[name]["s"]) for name in within(ranked, known, asked.most)]

    if not asked.wider:
        wanted = draw.open_({"", UNNOTICED} if asked.again else {""}, package)
        wanted = {name: one for name, one in wanted.items() if one.room not in asked.without}
        names = {one: name for name, one in wanted.items()}
        if names:
            looped(tree, list(names), (tests_of, lambda one, said: draw.keep(names[one], said)))
            draw.read()
    for name, mutant in draw.open_({UNNOTICED} if asked.wider else {ANEW}, package).items():
        draw.keep(name, tried(mutant, tree, known, asked.most, asked.wider))


def looped(tree: Path, mutants: list[Mutant], about: tuple) -> None:
    """One run of pytest over the copy, for all these changes."""
    child = os.fork()
    if not child:
        os.chdir(tree)
        sys.path[:] = [
            one for one in sys.path if one and not one.startswith((f"{ROOT}/tests", f"{ROOT}/workflow"))
        ]
        sys.modules["study"].__path__ = [str(tree / "tests" / "study")]
        sys.dont_write_bytecode = False
        import pytest

        pytest.main([*FORKED, "-s", *FOLDERS], plugins=[Loop(mutants, *about, watched)])
        os._exit(0)
    os.waitpid(child, 0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("what", choices=("reach", "run", "page"))
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "headland_mutation")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--most", type=float, default=40.0, help="seconds of tests a stage")
    parser.add_argument("--without", nargs="*", default=[], metavar="ROOM", help="leave rooms for later")
    parser.add_argument("--again", action="store_true", help="try again what was not noticed")
    parser.add_argument("--wider", action="store_true", help="try what is left on the whole chain")
    asked = parser.parse_args()
    asked.work.mkdir(parents=True, exist_ok=True)
    os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    preload()
    if asked.what == "reach":
        reach(asked.work)
    elif asked.what == "run":
        run(asked.work, asked.seed, asked.count, asked)
    else:
        draws = {path.stem.rpartition("_")[2]: path for path in asked.work.glob("draw_*.json")}
        PAGE.write_text(page({seed: json.loads(draws[seed].read_text()) for seed in sorted(draws, key=int)}))
        dated.made(PAGE)


if __name__ == "__main__":
    main()
