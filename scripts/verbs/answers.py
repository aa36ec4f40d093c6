"""Check students' numbers against those of a finished run: a page for each person or group, a table for the
teacher.

Usage: python scripts/verbs/answers.py --campaign DIR --results DIR --answers FILE --out DIR [--hide-values
true] [--attempt N]
"""

import sys
from pathlib import Path

from headland.base.errors import UserErrors
from headland.course import answers_page, checking
from headland.files import settings, step, tables
from headland.files.required import read_required
from headland.files.writing import write_text
from headland.report import page

CONFIG = Path(__file__).resolve().parents[2] / "config"
EXPECTED = "a CSV file (or XLSX) with the columns segment or surface, quantity, value, unit"


def main() -> int:
    args = step.arguments(one=("campaign", "results", "answers", "out"), many=("hide-values", "attempt"))
    try:
        given = read_required(args.answers, "answers", EXPECTED)
        S = settings.load(args.campaign, CONFIG)
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    attempt = int(str(args.attempt[0])) if args.attempt else 1
    checked, common, labels = checking.checked(args.campaign, args.results, S, given, attempt)
    hide = bool(args.hide_values)
    table = checked.drop(columns=checking.VALUES) if hide else checked
    tables.write_table(args.out / "answers.csv", table, "answers_checked")
    for file, values in answers_page.contexts(checked, common, labels, hide).items():
        write_text(args.out / file, page.page("answers", values))
    print(answers_page.in_one_line(checked))
    return 0


if __name__ == "__main__":
    sys.exit(main())
