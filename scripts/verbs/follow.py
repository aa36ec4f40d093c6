"""Stays, watches a campaign folder, and brings its results up to date after each change: the page first, the
rest after it.

Usage: python scripts/verbs/follow.py --campaign DIR --results DIR [--every SECONDS] -- WORDS_FOR_SNAKEMAKE…
One process runs the same rules each time, with everything loaded. A line `FOLLOW begin`, `FOLLOW page STATUS
SECONDS` or `FOLLOW rest STATUS SECONDS` says where it is; between these lines Snakemake says what it does.
"""

import argparse
import sys
import time
from multiprocessing import forkserver
from pathlib import Path

from headland.field.follow import follow
from headland.files.writing import write_text
from headland.report import following

ROOT = Path(__file__).resolve().parents[2]


def made(words: list[str], target: str = "") -> int:
    """Run Snakemake in this process, for one file or for all; its exit status."""
    # not above: each job that is forked reads this file anew, and would load Snakemake
    from snakemake.cli import args_to_api, parse_args

    asked = ["--target-files-omit-workdir-adjustment", *words, "--", target] if target else words
    try:
        parser, arguments = parse_args(asked)
        return 0 if args_to_api(arguments, parser) else 1
    except SystemExit as ended:  # settings that can't be used: the Snakefile has said why
        return ended.code if isinstance(ended.code, int) else 2


def _near(path: Path) -> str:
    """A path as the rules name it: relative where it is inside the project's folder."""
    return str(path.relative_to(ROOT) if path.is_relative_to(ROOT) else path)


def say(*words: object) -> None:
    print("FOLLOW", *words, flush=True)


class Follower:
    """What is done at each change. words: for Snakemake."""

    def __init__(self, campaign: Path, results: Path, words: list[str]):
        self.campaign, self.results, self.words = campaign, results, words
        self.ever = False

    def refresh(self) -> None:
        """The page, then the rest. At the first call, when all is up to date, the libraries are loaded."""
        if not self.ever:
            self.ever = True
            made(self.words)
            forkserver.ensure_running()
            self.show()
            say("ready")
            return
        began = time.perf_counter()
        say("begin")
        status = made(self.words, _near(self.results / "report.html"))
        if status == 0:
            self.show()
        say("page", status, f"{time.perf_counter() - began:.1f}")
        if status == 0:
            status = made(self.words)
            say("rest", status, f"{time.perf_counter() - began:.1f}")

    def show(self) -> None:
        """Write the page that loads itself again, and after it the mark that makes an open one do so."""
        page = (self.results / "report.html").read_text(encoding="utf-8")
        mark = following.mark_of(page)
        write_text(self.results / "follow.html", following.reloading(page, mark))
        write_text(self.results / "follow.js", following.mark_file(mark))


def main() -> None:
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("--campaign", type=Path, required=True)
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--every", type=float, default=0.5)
    parser.add_argument("words", nargs="+")
    args = parser.parse_args()
    follower = Follower(args.campaign, args.results, args.words)
    follow(args.campaign, follower.refresh, args.every)


if __name__ == "__main__":
    sys.exit(main())
