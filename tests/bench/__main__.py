"""What costs what, as ratios within one run.

    PYTHONPATH=tests:workflow python -m bench [--runs N] [--season N] [--keep FILE] [figure ...]

Without names of figures: all. Each figure times two commands in turn, so that other programs of the machine
slow both, and gives the median of their ratios. With --keep, results are added to a JSON file; `--page
FILE` makes the tables of docs/performance.md from it, `--keep FILE --picture PNG` its picture.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import platform
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from bench import chains, computing, growth  # noqa: F401  their figures enter FIGURES
from bench.pages import page, picture
from bench.timing import FIGURES, Bench


def main(words: Sequence[str]) -> None:
    parser = argparse.ArgumentParser(prog="bench", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="figure", help=", ".join(FIGURES))
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--season", type=int, default=40, help="campaigns of the season")
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--page", type=Path)
    parser.add_argument("--picture", type=Path, help="draw the sizes kept with --keep")
    args = parser.parse_args(words)
    if args.page:
        print(page(args.page), end="")
        return
    if args.picture:
        picture(args.keep, args.picture)
        return
    for name in args.names or FIGURES:
        with tempfile.TemporaryDirectory(prefix="headland-bench-") as folder:
            words_, target, function = FIGURES[name]
            print(f"{words_} ...", flush=True)
            found = function(Bench(Path(folder), args.runs, args.season))
        print(f"  {found['ratio']:.3f} (target {target:g})  {found}", flush=True)
        if args.keep:
            before = json.loads(args.keep.read_text(encoding="utf-8")) if args.keep.exists() else {}
            machine = f"{os.cpu_count()} cores, Python {platform.python_version()}"
            args.keep.write_text(
                json.dumps(
                    before | {name: found | {"date": datetime.date.today().isoformat(), "machine": machine}},
                    indent=1,
                ),
                encoding="utf-8",
            )


if __name__ == "__main__":
    main(sys.argv[1:])
