"""The field plan and the notes form for a day to come.

Usage: python scripts/verbs/plan.py CAMPAIGN RESULTS
Leaves plan.html, plan.pdf, timetable.csv, form.html, form.pdf, notes.xlsx and phone.html.
Exit status: 0 done, 2 campaign.yaml or plan.csv can't be used.
"""

import argparse
import sys
from pathlib import Path

from headland.base.errors import UserErrors
from headland.field import form, phone, plan
from headland.files import settings, tables
from headland.files.own_numbers import course_rows
from headland.files.saved_workbook import saved
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.files.writing import write_text
from headland.report import page, pdf
from headland.uncertainty.course import course_sizes

CONFIG = Path(__file__).resolve().parents[2] / "config"


def main() -> int:
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("campaign", type=Path)
    parser.add_argument("results", type=Path)
    args = parser.parse_args()
    try:
        S = settings.load(args.campaign, CONFIG, needs=())
        surfaces = surface_classes(CONFIG / "surfaces.csv", S["overrides"]["surfaces"])
        course = course_sizes(course_rows(CONFIG / "course.csv"))
        made = plan.made(args.campaign, S, surfaces, uncertainty_terms(CONFIG / "uncertainty.csv"), course)
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    write_text(args.results / "plan.html", page.page("plan", plan.context(made, S)))
    write_text(args.results / "form.html", page.page("form", form.context(made.visits, S)))
    zone = S["notes"]["timezone"]
    write_text(
        args.results / "phone.html",
        phone.made(S["title"], zone, list(S["sets"]), list(S["surfaces"]), made.visits),
    )
    tables.write_table(args.results / "timetable.csv", made.visits, "timetable")
    (args.results / "notes.xlsx").write_bytes(saved(form.workbook(made.visits, S)))
    print(*pdf.beside([args.results / "plan.html", args.results / "form.html"]), sep="\n")
    print(args.results / "notes.xlsx", args.results / "phone.html", sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
