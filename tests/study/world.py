"""Campaigns of the independent world for each claim, and the page that sums them up.

    PYTHONPATH=tests:workflow python -m study.world CLAIM --campaigns N [--seed S] [--results FOLDER]
    PYTHONPATH=tests:workflow python -m study.world page --results FOLDER [--heading TEXT] [--remarks FILE]

Claims: coverage, heat, sound, width, undecided, identical, differing, mistakes. Each campaign leaves one JSON
line in FOLDER/<kind>.jsonl with the commit of what was studied. A campaign that has a line for this commit is
not run again, so a study can be stopped at any time and goes on where it was.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from datetime import UTC, datetime
from pathlib import Path

from study import dated, world_claims

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "world.md"
RESULTS = Path(tempfile.gettempdir()) / "headland-world"
STUDIED = ("workflow", "config", "tests/world", "tests/chain.py")
"""What a result depends on, apart from the study itself."""
MOST_PROCESSES = 2


def commit() -> str:
    """Return the last commit of what is studied, with a plus where files differ from it."""

    def ask(*words: str) -> str:
        done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True)
        return done.stdout.strip()

    changed = ask("status", "--porcelain", "--untracked-files=no", "--", *STUDIED)
    return ask("log", "-1", "--format=%h", "--", *STUDIED) + "+" * bool(changed)


def lines(path: Path) -> Iterator[dict]:
    """Yield the records of a file; a line that was cut off is left out."""
    if not path.exists():
        return
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            yield json.loads(line)
        except json.JSONDecodeError:
            continue


def one(kind: str, number: int, seed: int, draws: int, state: str) -> dict:
    """Return the record of one campaign. A run that breaks leaves its last line of trace."""
    start = time.perf_counter()
    head = {"number": number, "seed": seed, "draws": draws, "commit": state}
    try:
        body = world_claims.RUNS[kind][0](number, seed, draws)
    except Exception as error:
        body = {"broken": "".join(traceback.format_exception_only(error)).strip()}
        body["where"] = traceback.format_exc().strip().splitlines()[-3].strip()
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%MZ")
    return head | {"at": now, "wall_s": round(time.perf_counter() - start, 1)} | body


def gently() -> None:
    """Let other work on the machine go first."""
    os.nice(max(0, 10 - os.nice(0)))


def progress(kind: str, done: int, total: int, started: float) -> None:
    """Show how far the study is on standard error."""
    each = (time.perf_counter() - started) / done
    left = each * (total - done) / 60
    print(
        f"{kind}: {done} of {total}, {each:.1f} s each, about {left:.0f} min left",
        file=sys.stderr,
        flush=True,
    )


def study(kind: str, args: argparse.Namespace) -> None:
    """Run the campaigns of a kind that have no line yet."""
    path = args.results / f"{kind}.jsonl"
    path.parent.mkdir(parents=True, exist_ok=True)
    state = commit()
    seed = world_claims.RUNS[kind][1] if args.seed is None else args.seed
    there = {
        row["number"]
        for row in lines(path)
        if (row["seed"], row["draws"], row["commit"]) == (seed, args.draws, state)
    }
    wanted = [number for number in range(args.campaigns) if number not in there]
    print(f"{kind}: {len(there)} there, {len(wanted)} to run, commit {state}", file=sys.stderr)
    started = time.perf_counter()
    processes = max(1, min(args.processes, MOST_PROCESSES))
    with ProcessPoolExecutor(processes, initializer=gently) as pool, path.open("a", encoding="utf-8") as file:
        if path.stat().st_size and not path.read_bytes().endswith(b"\n"):
            file.write("\n")
        jobs = [pool.submit(one, kind, number, seed, args.draws, state) for number in wanted]
        for done, job in enumerate(as_completed(jobs), 1):
            file.write(json.dumps(job.result(), separators=(",", ":")) + "\n")
            file.flush()
            progress(kind, done, len(wanted), started)


def main() -> None:
    """Run the campaigns of a claim, or write the page."""
    parser = argparse.ArgumentParser(description="Claims on the independent world; results are JSON lines.")
    parser.add_argument("claim", choices=[*world_claims.CLAIMS, "page"])
    parser.add_argument("--campaigns", type=int, default=100, help="how many, from the first seed on")
    parser.add_argument("--seed", type=int, help="first seed; default: one for each kind of campaign")
    parser.add_argument("--results", type=Path, default=RESULTS, help="folder of the JSON lines")
    parser.add_argument("--draws", type=int, default=512, help="draws of the propagation")
    parser.add_argument("--processes", type=int, default=2, help=f"at most {MOST_PROCESSES}")
    parser.add_argument("--page", type=Path, default=PAGE, help="the page that `page` writes")
    parser.add_argument("--heading", default="", help="words at the head of the page, such as: before")
    parser.add_argument("--remarks", type=Path, help="a Markdown file that the page ends with")
    args = parser.parse_args()
    if args.claim != "page":
        study(world_claims.CLAIMS[args.claim], args)
        return
    from study import world_report

    records = {kind: list(lines(args.results / f"{kind}.jsonl")) for kind in world_claims.RUNS}
    text = world_report.page(records, args.heading)
    if args.remarks:
        text += "\n" + args.remarks.read_text(encoding="utf-8")
    args.page.write_text(text, encoding="utf-8")
    dated.made(args.page)


if __name__ == "__main__":
    main()
