"""The quick look before driving home: reads what is in a campaign folder and leaves one page, look.html.

Usage: python scripts/verbs/look.py CAMPAIGN RESULTS [--follow [--beep]] [--every SECONDS]
Exit status: 0 nothing red, 1 something red, 2 campaign.yaml can't be used.
"""

import argparse
import sys
import time
from pathlib import Path

from headland.base.errors import UserErrors
from headland.field import look, said
from headland.field.follow import follow as watch
from headland.files.writing import write_text
from headland.report import page

CONFIG = Path(__file__).resolve().parents[2] / "config"
BELL = "\a"
"""A line by which the front door is asked for a beep."""


def seen_in(folder: Path) -> dict:
    """Everything that the page shows of a campaign folder as it is now."""
    return look.seen_in(folder, CONFIG)


def written(folder: Path, results: Path, every: float) -> dict:
    """Write the page; what it shows. every: s after which an open page reloads itself, 0 for never."""
    values = seen_in(folder)
    write_text(results / "look.html", page.page("look", {**values, "every": every}))
    return values


def look_at(folder: Path, results: Path, every: float) -> str:
    """Write the page and say what asks for something; the worst colour."""
    values = written(folder, results, every)
    print(*said.first(values), sep="\n", flush=True)
    return values["state"]


def follow(folder: Path, results: Path, every: float, wait=time.sleep, beep: bool = False) -> None:
    """Look whenever something in the folder has changed, until interrupted; say what is new each time.

    beep: whether to ask for a beep at each new lamp that is amber or red.
    """
    before: list | None = None

    def once() -> None:
        nonlocal before
        values = written(folder, results, every)
        lines = said.first(values) if before is None else said.since(values, before)
        print(*lines, sep="\n", flush=True)
        if beep and said.new_lamps(values["urgent"], before or []):
            print(BELL, flush=True)
        before = values["urgent"]

    watch(folder, once, every, wait)


def main() -> int:
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("campaign", type=Path)
    parser.add_argument("results", type=Path)
    parser.add_argument("--follow", action="store_true")
    parser.add_argument("--beep", action="store_true")
    parser.add_argument("--every", type=float, default=10.0)
    args = parser.parse_args()
    try:
        if args.follow:
            follow(args.campaign, args.results, args.every, beep=args.beep)
        return 1 if look_at(args.campaign, args.results, 0.0) == "red" else 0
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
