"""A sheet of questions from a finished run's own numbers, a table to answer them in, and, in a folder of its
own, the key.

Usage: python scripts/verbs/exercises.py --campaign DIR --results DIR --out DIR
"""

import sys
from pathlib import Path

from headland.base.errors import UserErrors
from headland.course import exercises, sheet
from headland.files import settings, step
from headland.files.writing import write_text
from headland.report import page

CONFIG = Path(__file__).resolve().parents[2] / "config"


def main() -> int:
    args = step.arguments(one=("campaign", "results", "out"))
    try:
        S = settings.load(args.campaign, CONFIG)
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    made = exercises.questions(sheet.numbers_of(args.results, S))
    for path, key in ((args.out / "sheet.html", False), (args.out / "key" / "key.html", True)):
        rows = exercises.numbered(made, key)
        values = {"title": S["title"], "key": key, "rows": rows}
        write_text(path, page.page("exercises", values))
    write_text(args.out / "sheet.csv", sheet.answers_form(made))
    print(f"{len(made)} questions. Answers go into sheet.csv; the key is apart, in the folder key.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
