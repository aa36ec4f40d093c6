"""Compare several people's notes of one walk with the campaign's own, on a finished run.

Usage: python scripts/verbs/class_notes.py --campaign DIR --results DIR --out DIR --notes FILE …
"""

import sys
from pathlib import Path

from headland.base.errors import UserErrors
from headland.course import class_notes_page
from headland.files import settings, step, tables
from headland.files.writing import write_text
from headland.report import page

CONFIG = Path(__file__).resolve().parents[2] / "config"


def main() -> int:
    args = step.arguments(one=("campaign", "results", "out"), many=("notes",))
    try:
        S = settings.load(args.campaign, CONFIG)
        class_notes_page.refuse_missing(args.notes)
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    done = class_notes_page.compared(args.campaign, args.results, S, args.notes)
    tables.write_table(args.out / "intervals.csv", done.intervals, "class_intervals")
    tables.write_table(args.out / "surfaces.csv", done.effects, "class_effects")
    values = class_notes_page.context(done, S["title"])
    write_text(args.out / "class_notes.html", page.page("class_notes", values))
    told = f"{len(done.said)} rows or files with a finding"
    print(f"{done.people} people's notes of {len(done.intervals)} intervals compared; {told}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
