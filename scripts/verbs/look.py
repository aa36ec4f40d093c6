"""The quick look before driving home: reads what is in a campaign folder and leaves one page, look.html.

Usage: python scripts/verbs/look.py CAMPAIGN RESULTS [--follow] [--every SECONDS]
Exit status: 0 nothing red, 1 something red, 2 campaign.yaml can't be used.
"""

import argparse
import sys
import time
from pathlib import Path

from headland.base.errors import UserErrors
from headland.field import lamps, look
from headland.field.follow import follow as watch
from headland.files.writing import write_text
from headland.report import page

CONFIG = Path(__file__).resolve().parents[2] / "config"


def seen_in(folder: Path) -> dict:
    """Everything that the page shows of a campaign folder as it is now."""
    return look.seen_in(folder, CONFIG)


def look_at(folder: Path, results: Path, every: float) -> str:
    """Write the page; returns the worst colour. every: s after which an open page reloads itself, 0 for
    never."""
    values = seen_in(folder)
    write_text(results / "look.html", page.page("look", {**values, "every": every}))
    print(f"{values['state'].upper()}: {lamps.WORDS[values['state']]}", flush=True)
    return values["state"]


def follow(folder: Path, results: Path, every: float, wait=time.sleep) -> None:
    """Look whenever something in the folder has changed, until interrupted."""
    watch(folder, lambda: look_at(folder, results, every), every, wait)


def main() -> int:
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("campaign", type=Path)
    parser.add_argument("results", type=Path)
    parser.add_argument("--follow", action="store_true")
    parser.add_argument("--every", type=float, default=10.0)
    args = parser.parse_args()
    try:
        if args.follow:
            follow(args.campaign, args.results, args.every)
        return 1 if look_at(args.campaign, args.results, 0.0) == "red" else 0
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
