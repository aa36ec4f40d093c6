"""Check students' numbers against those of a finished run; write a page for each person or group and a table for the teacher.

Usage: python scripts/verbs/answers.py --campaign DIR --results DIR --answers FILE --out DIR [--hide-values true]
"""

import sys
from pathlib import Path

import pandas as pd

from headland.base import findings
from headland.base.errors import UserError, UserErrors
from headland.course import answers
from headland.course.survey import survey_of
from headland.files import config_tables, settings, step, tables, user_tables, writing
from headland.files.surfaces import surface_classes
from headland.report import report

ROOT = Path(__file__).resolve().parents[2]
OURS = ROOT / "workflow" / "headland"


def read_answers(path: Path) -> pd.DataFrame:
    """The table of answers. Raises UserErrors with everything that keeps it from being read."""
    if not path.is_file():
        raise UserErrors(
            [
                UserError(
                    str(path),
                    None,
                    "no such file",
                    "a CSV file (or XLSX) with the columns segment or surface, quantity, value, unit",
                )
            ]
        )
    table, found = user_tables.read_user_table(path, "answers")
    sentences = findings.sentences(config_tables.read_config_table(OURS / "checks" / "findings.csv"))
    said = [findings.describe(finding, "answers", sentences) for finding in found]
    errors = [
        UserError(path.name, row["line"], row["what"].rstrip("."), row["remedy"].rstrip("."))
        for row in said
        if row["severity"] == "error" and row["code"] not in ("wrong-delimiter", "wrong-encoding")
    ]
    if not errors and not len(table):
        errors = [UserError(path.name, None, "no answers in it", "one row an answer")]
    if errors:
        raise UserErrors(errors)
    return table


def main() -> int:
    args = step.arguments(one=("campaign", "results", "answers", "out"), many=("hide-values",))
    try:
        given = read_answers(args.answers)
        chosen = settings.load(args.campaign, ROOT / "config")
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    surfaces = surface_classes(ROOT / "config" / "surfaces.csv", chosen["overrides"]["surfaces"])
    labels = {name: entry["label"]["value"] for name, entry in surfaces.items()}
    slips = {
        row["code"]: row
        for row in config_tables.read_config_table(OURS / "course" / "wrong_answers.csv").to_dict("records")
    }
    survey = survey_of(args.campaign, args.results, chosen, surfaces)
    slips_, made = answers.slips_of(survey), {}
    wrong = [(code, answers.through(survey, slip, made)) for code, slip in slips_]
    segments = answers.through(survey, {}, made).segments
    sentences = findings.sentences(config_tables.read_config_table(OURS / "checks" / "findings.csv"))
    reasons = lambda *of: list(
        dict.fromkeys(
            findings.describe(f, "", sentences)["what"] for f in answers.withholding(survey, segments, *of)
        )
    )
    got = {name: tables.read_table(args.results / f"{name}.csv", name) for name in ("segments", "surfaces")}
    checked = answers.check(
        given, got, labels, wrong, slips, answers.two_slips(survey, slips_, wrong), reasons
    )
    hide = bool(args.hide_values)
    tables.write_table(
        args.out / "answers.csv", checked.drop(columns=answers.VALUES) if hide else checked, "answers_checked"
    )
    template, *styles = (
        path.read_text(encoding="utf-8")
        for path in (
            ROOT / "workflow" / "headland" / "report" / f"{name}"
            for name in ("answers.html.jinja", "style.css", "screen.css")
        )
    )
    files = answers.page_names(list(dict.fromkeys(checked["who"])))
    common = {"title": chosen["title"], "hide": hide, "slips": slips, "verdicts": answers.VERDICTS}
    for who, file in files.items():
        rows = answers.shown(checked[checked["who"] == who], labels, hide)
        writing.write_text(
            args.out / file, report.page(template, styles, {**common, "who": who, "rows": rows, "people": []})
        )
    people = [
        (who, files[who], list(row))
        for who, row in zip(answers.counted(checked).index, answers.counted(checked).to_numpy().tolist())
    ]
    writing.write_text(
        args.out / "teacher.html",
        report.page(
            template,
            styles,
            {**common, "who": "", "rows": answers.shown(checked, labels, hide), "people": people},
        ),
    )
    tally = checked["verdict"].value_counts()
    print(
        f"{len(checked)} answers of {len(files)} {'people or groups' if len(files) > 1 else 'person or group'}: "
        + ", ".join(f"{tally[name]} {words}" for name, words in answers.VERDICTS.items() if name in tally)
        + "."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
