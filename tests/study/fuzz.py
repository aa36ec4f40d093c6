"""Untrusted input: every reader, and whole campaigns, on files changed at random. `python -m study.fuzz
READER --runs N`, or `all`.

A changed input (`study.mutate`) must give results or plain errors: no other exception, no hang, no memory
without bound, no look or step outside its folder. Guided by coverage: an input that takes the project's code
along a way not taken before (a pair of lines executed one after the other) is kept and changed further.
Inputs, counts and what broke are kept in a folder, so that a study can be stopped and taken up again:
--folder, by default beside the project.
"""

from __future__ import annotations

import argparse
import dataclasses
import gc
import hashlib
import json
import random
import resource
import shutil
import sys
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from headland.base.errors import UserErrors
from headland.record import pack
from study import mutate
from study.fuzz_guard import ROOT, Broken, TooLong, guarded, plain
from study.fuzz_more import ALL as READERS
from study.fuzz_readers import Reader, laid_out
from study.mutate import Case

OURS = str(ROOT / "workflow" / "headland")
FOLDER = ROOT.parent / "fuzzing"
SECONDS, MEMORY = 4.0, 1_500_000_000
"""CPU seconds and bytes that one input may take; a whole campaign may take four times the time."""
WATCHED = 10
"""One input of so many is watched for new ways: watching makes it three to four times slower."""
KEPT = 2000
"""Inputs that a reader keeps for further changes."""


# The ways that code took
# ---------------------------------------------------------------------------------------------


class Ways:
    """Pairs of lines of the project that were executed one after the other in one function."""

    def __init__(self):
        self.taken: set[tuple] = set()
        self.ours: dict = {}

    def _call(self, frame, event, arg):
        code = frame.f_code
        known = self.ours.get(code)
        if known is None:
            known = self.ours[code] = code.co_filename.startswith(OURS)
        if not known:
            return None
        last, add = 0, self.taken.add

        def line(frame, event, arg):
            nonlocal last
            if event == "line":
                add((code, last, frame.f_lineno))
                last = frame.f_lineno
            return line

        return line

    @contextmanager
    def watched(self) -> Iterator[None]:
        sys.settrace(self._call)
        try:
            yield
        finally:
            sys.settrace(None)


# The loop
# ------------------------------------------------------------------------------------------------------------


@dataclass
class Tally:
    """What a reader's study came to so far."""

    runs: int = 0
    results: int = 0
    findings: int = 0
    refused: int = 0
    broken: int = 0
    ways: int = 0
    seconds: float = 0.0


def ended(reader: Reader, folder: Path) -> str:
    """How reading a case ended: `results`, `findings` or `refused`.

    Raises what must not come out of a reader, Broken among it.
    """
    with guarded(folder, SECONDS * reader.times), warnings.catch_warnings(record=True) as noise:
        warnings.simplefilter("always")
        try:
            end = "findings" if reader.read(folder) else "results"
        except UserErrors as problem:
            for error in problem.errors:
                plain(str(error), "an error")
                plain(error.file, "the file of an error")
            end = "refused"
        except pack.Refused as problem:
            for line in problem.faults:
                plain(line, "a fault")
            end = "refused"
    for warning in noise:
        if not issubclass(warning.category, (DeprecationWarning, ResourceWarning, PendingDeprecationWarning)):
            raise Broken(
                f"a warning on the console: {warning.category.__name__} {str(warning.message)[:150]} "
                f"({Path(warning.filename).name}:{warning.lineno})"
            )
    return end


def watched_end(reader: Reader, folder: Path, ways: Ways) -> str:
    """How reading ended, with the ways it took; read again unwatched where it was only too slow to watch."""
    try:
        with ways.watched():
            return ended(reader, folder)
    except Broken as problem:
        if not isinstance(problem.__cause__, TooLong):
            raise
    return ended(reader, folder)


def signature(problem: BaseException) -> str:
    """What tells two breaks apart: the kind of exception, and the innermost place in the project."""
    frames = [
        frame
        for frame in traceback.extract_tb(problem.__traceback__)
        if frame.filename.startswith((OURS, str(ROOT / "scripts"), str(ROOT / "tests" / "chain")))
    ]
    cause = problem.__cause__ if isinstance(problem, Broken) and problem.__cause__ is not None else None
    if cause is not None:
        frames = [
            frame for frame in traceback.extract_tb(cause.__traceback__) if frame.filename.startswith(OURS)
        ] or frames
    place = f"{Path(frames[-1].filename).stem}-{frames[-1].name}" if frames else ""
    words = " ".join(str(problem).split()[:7]) if isinstance(problem, Broken) else ""
    return "".join(
        c if c.isalnum() or c in "-_" else "_" for c in f"{type(problem).__name__}_{place}_{words}"
    )[:110]


def keep(folder: Path, case: Mapping[str, bytes], most: int) -> None:
    """Keep a case in a folder, by its digest, if there are fewer than `most`."""
    if folder.is_dir() and len(list(folder.iterdir())) >= most:
        return
    digest = hashlib.sha256(
        b"\0".join(name.encode() + content for name, content in sorted(case.items()))
    ).hexdigest()[:12]
    laid_out(folder / digest, case)


def kept(folder: Path) -> list[Case]:
    return (
        [
            {
                file.relative_to(one).as_posix(): file.read_bytes()
                for file in sorted(one.rglob("*"))
                if file.is_file()
            }
            for one in sorted(folder.iterdir())
        ]
        if folder.is_dir()
        else []
    )


def study(
    name: str, runs: int, place: Path, minutes: float = 1e9, say: Callable[[str], None] = lambda line: None
) -> Tally:
    """Go on with a reader's study until it has had so many inputs in all, or minutes are over. place: the
    study's folder.
    """
    reader, own, now = READERS[name], place / name, place / "now" / name
    state = own / "tally.json"
    tally = Tally(**json.loads(state.read_text())) if state.is_file() else Tally()
    sound = reader.seeds()
    if now.is_dir():  # the process ended in the middle of an input
        keep(own / "broken" / "ended-the-process", next(iter(kept(now.parent)), {}), 20)
    ways, corpus = Ways(), []
    for case in sound:
        with ways.watched():
            assert ended(reader, laid_out(now, case)) != "refused", f"{name}: a sound input was refused"
    for case in kept(own / "kept"):
        corpus.append(case)
        with ways.watched(), suppress(Exception, TooLong):
            ended(reader, laid_out(now, case))
    began, last = time.monotonic(), 0.0
    draw = random.Random(f"{name} {tally.runs}")
    before = tally.seconds
    while tally.runs < runs and time.monotonic() - began < minutes * 60:
        parent = (
            draw.choice(sound)
            if not corpus or draw.random() < 0.3
            else draw.choice(corpus[-300:] if draw.random() < 0.5 else corpus)
        )
        case = mutate.mutated(parent, draw, reader.kinds, reader.fixed)
        laid_out(now, case)
        known = len(ways.taken)
        try:
            end = watched_end(reader, now, ways) if tally.runs % WATCHED == 0 else ended(reader, now)
            setattr(tally, end, getattr(tally, end) + 1)
        except (Exception, TooLong) as problem:
            sys.settrace(None)
            tally.broken += 1
            folder = own / "broken" / signature(problem)
            keep(folder, case, 4)
            (folder.with_suffix(".txt")).write_text(
                "".join(traceback.format_exception(problem))[-6000:],
                encoding="utf-8",
                errors="backslashreplace",
            )
        tally.runs += 1
        if len(ways.taken) > known and sum(map(len, case.values())) < 200_000:
            corpus.append(case)
            keep(own / "kept", case, KEPT)
        if time.monotonic() - last > 5.0 or tally.runs == runs:
            last = time.monotonic()
            tally.ways, tally.seconds = len(ways.taken), before + last - began
            own.mkdir(parents=True, exist_ok=True)
            state.write_text(json.dumps(dataclasses.asdict(tally)))
            say(
                f"{name}: {tally.runs} inputs, {tally.results} results, {tally.findings} with findings, "
                f"{tally.refused} refused, {tally.broken} BROKEN, {tally.ways} ways, {len(corpus)} kept, "
                f"{(tally.seconds - before) and tally.runs / tally.seconds:.0f} a second"
            )
            gc.collect()
    shutil.rmtree(now, ignore_errors=True)
    return tally


def main() -> int:
    parser = argparse.ArgumentParser(
        description="Fuzz the readers of untrusted input; what broke is kept in FOLDER/READER/broken."
    )
    parser.add_argument("reader", choices=[*READERS, "all"])
    parser.add_argument(
        "--runs", type=int, default=10_000, help="inputs in all, those of earlier starts included"
    )
    parser.add_argument("--minutes", type=float, default=1e9, help="stop after so long")
    parser.add_argument("--folder", type=Path, default=FOLDER)
    args = parser.parse_args()
    sys.dont_write_bytecode = True
    limit = (
        int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize() + MEMORY
        if Path("/proc/self/statm").is_file()
        else resource.RLIM_INFINITY
    )
    resource.setrlimit(resource.RLIMIT_AS, (limit, resource.RLIM_INFINITY))
    total = Counter()
    for name in READERS if args.reader == "all" else [args.reader]:
        tally = study(name, args.runs, args.folder, args.minutes, lambda line: print(line, flush=True))
        total.update(dataclasses.asdict(tally))
    print(f"All: {total['runs']} inputs, {total['broken']} broken.")
    return 1 if total["broken"] else 0


if __name__ == "__main__":
    sys.exit(main())
