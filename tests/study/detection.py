"""How often mistakes are named, alone and several at once, and how often sound campaigns are silent:
docs/detection.md.

PYTHONPATH=tests:workflow python -m study.detection [--seeds 20] [--sound 300] [--together 100] [--results
FILE] [--again TEXT …] [--early] [--page]

Each campaign leaves a line in the results file, and one that is there is not run again, so the study can be
stopped at any time and goes on where it was; `--again` runs those anew whose key holds a text, as after a
change of what concerns them. `--page` runs nothing and writes the page from what is there."""

from __future__ import annotations

import argparse
import gc
import json
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

from study import bases, dated, sound, trial
from study.detection_page import ROWS, page

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "detection.md"
RESULTS = Path(tempfile.gettempdir()) / "headland-detection.jsonl"
BY_SIZE = "## How large a mistake must be"
"""The last section of the page, which `study.power` writes."""


def commit() -> str:
    """The state of the code: its commit, with a mark where files differ from it."""

    def ask(*words: str) -> str:
        done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True)
        return done.stdout.strip()

    changed = ask("status", "--porcelain", "--", "workflow", "config", "tests")
    return ask("rev-parse", "--short", "HEAD") + "+" * bool(changed)


# What is run -----------------------------------------------------------------------------------------


def silent(number: int, to: str = "diagnose") -> dict[str, object]:
    kind, spec = sound.without_mistake(number)
    return {
        "kind": kind,
        "sky": spec.sky.kind,
        "sets": len(spec.sets),
        "alarms": trial.alarms(trial.told(trial.simulate(spec), to)),
    }


def of_seed(seed: int, seeds: int, count: int) -> range:
    """The numbers, of so many campaigns, that are run beside one of the seeds."""
    return range(seed * count // seeds, (seed + 1) * count // seeds)


def jobs(seeds: int, sound_ones: int, together: int) -> Iterator[tuple[str, Callable[[], dict]]]:
    """Key and work of every campaign, from seed to seed, so that a study stopped early is a smaller one of
    the same make."""
    for seed in range(seeds):
        for row in ROWS:
            for kind in row.skies:
                yield (
                    f"alone/{row.title}/{kind}/{seed}",
                    lambda row=row, seed=seed, kind=kind: trial.tried(row, seed, kind),
                )
        for number in of_seed(seed, seeds, sound_ones):
            yield f"sound/{number}", lambda number=number: silent(number)
        for count in (2, 3):
            for number in of_seed(seed, seeds, together):
                yield (
                    f"together/{count}/{number}",
                    lambda count=count, number=number: trial.tried_together(
                        trial.drawn(ROWS, bases.together, number, count)
                    ),
                )


def early(count: int) -> Iterator[tuple[str, Callable[[], dict]]]:
    """The sound campaigns once more, up to the step that assigns samples to notes."""
    for number in range(count):
        yield f"early/{number}", lambda number=number: silent(number, "segment")


def read(file: Path) -> dict[str, dict]:
    """The latest line of each campaign."""
    lines = file.read_text(encoding="utf-8").splitlines() if file.is_file() else []
    return {entry["key"]: entry for entry in map(json.loads, lines)}


def run(work: dict[str, Callable[[], dict]], file: Path) -> None:
    """Run what is to be run, by key, a line each in the results file."""
    state, begun = commit(), time.time()
    gc.freeze()
    for number, (key, tried) in enumerate(work.items(), 1):
        result = tried()
        with file.open("a", encoding="utf-8") as stream:
            stream.write(
                json.dumps(
                    {"key": key, "commit": state, "day": date.today().isoformat(), **result},
                    ensure_ascii=False,
                )
                + "\n"
            )
        left = (time.time() - begun) / number * (len(work) - number) / 60.0
        remarks = [str(result[name]) for name in ("wrong", "alarms") if result.get(name)]
        print(
            f"{number}/{len(work)}, {left:.0f} min left: {key}: "
            f"{result.get('verdict', result.get('verdicts', ''))} {' '.join(remarks)}",
            flush=True,
        )


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="study.detection",
        description="How often mistakes are named: makes docs/detection.md from simulated campaigns.",
    )
    parser.add_argument("--seeds", type=int, default=20, help="campaigns a row and sky")
    parser.add_argument("--sound", type=int, default=300, help="campaigns without a mistake")
    parser.add_argument(
        "--together", type=int, default=100, help="campaigns with two, and as many with three mistakes"
    )
    parser.add_argument("--results", type=Path, default=RESULTS, help="file to which results are added")
    parser.add_argument(
        "--again", nargs="+", default=[], metavar="TEXT", help="run those anew whose key holds a text"
    )
    parser.add_argument(
        "--early",
        action="store_true",
        help="run the sound campaigns once more up to the step that assigns samples to notes, where a "
        "change concerns no later one",
    )
    parser.add_argument(
        "--remark",
        default="",
        help="a sentence for the top of the page, as on what was changed between states of the code",
    )
    parser.add_argument(
        "--page", action="store_true", help="write the page from what is there, and run nothing"
    )
    asked = parser.parse_args()
    every = list(jobs(asked.seeds, asked.sound, asked.together))
    more = list(early(asked.sound))
    if not asked.page:
        done = read(asked.results)
        anew = [(key, work) for text in asked.again for key, work in every if text in key]
        run(
            dict(
                [
                    *anew,
                    *(more if asked.early else ()),
                    *((key, work) for key, work in every if key not in done),
                ]
            ),
            asked.results,
        )
    results = read(asked.results)
    by_size = dated.LINE.sub("", PAGE.read_text(encoding="utf-8")).partition(BY_SIZE)
    text = page({key: results[key] for key, _ in [*every, *more] if key in results}, asked.remark)
    PAGE.write_text(text + "".join(["\n", *by_size[1:]]) if by_size[1] else text, encoding="utf-8")
    dated.made(PAGE)


if __name__ == "__main__":
    main()
