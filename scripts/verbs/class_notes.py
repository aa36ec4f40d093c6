"""Compare several people's notes of one walk with the campaign's own, on a finished run.

Usage: python scripts/verbs/class_notes.py --campaign DIR --results DIR --out DIR --notes FILE …
"""

import sys

from headland.base import findings
from headland.base.errors import UserError, UserErrors
from headland.course import answers, class_notes
from headland.course.survey import ROOT, noted_in, survey_of
from headland.files import config_tables, settings, step, tables, writing
from headland.files.surfaces import surface_classes
from headland.report import report


def main() -> int:
    args = step.arguments(one=("campaign", "results", "out"), many=("notes",))
    try:
        chosen = settings.load(args.campaign, ROOT / "config")
        missing = [
            UserError(str(path), None, "no such file", "a file of notes, CSV or XLSX")
            for path in args.notes
            if not path.is_file()
        ]
        twice = {path.stem for path in args.notes if [p.stem for p in args.notes].count(path.stem) > 1}
        missing += [
            UserError(name, None, "two files of this name", "a name of its own for each person's file")
            for name in sorted(twice)
        ]
        if missing:
            raise UserErrors(missing)
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    surfaces = surface_classes(ROOT / "config" / "surfaces.csv", chosen["overrides"]["surfaces"])
    survey = survey_of(args.campaign, args.results, chosen, surfaces)
    sentences = {
        (row["code"], row["variant"]): row
        for row in config_tables.read_config_table(
            ROOT / "workflow" / "headland" / "checks" / "findings.csv"
        ).to_dict("records")
    }
    people, values, said = {}, {}, []
    for path in args.notes:
        noted, segments, found = noted_in(path, chosen, survey.raw)
        people[path.stem], values[path.stem] = segments, class_notes.values_by(survey, noted, segments)
        said += [
            {"who": path.stem, "line": row["line"] or "", "what": row["what"]}
            for row in (findings.describe(f, "segment", sentences) for f in found)
        ]
    intervals = class_notes.intervals(survey.segments, people)
    effects = class_notes.effects(
        answers.outcome(survey, answers.segments_of(survey, answers.samples_of(survey))), values
    )
    tables.write_table(args.out / "intervals.csv", intervals, "class_intervals")
    tables.write_table(args.out / "surfaces.csv", effects, "class_effects")
    called = lambda name: surfaces[name]["label"]["value"] if name in surfaces else name
    number = report.number
    parts = [
        (
            "Intervals",
            "Starts and ends against the campaign's own notes, in s: earliest, latest, standard deviation.",
            report.words_table(
                (
                    "segment",
                    "surface",
                    "noted by",
                    "start",
                    "sd",
                    "end",
                    "sd",
                    "labels that disagree",
                    "missed by",
                ),
                [
                    (
                        r["segment"],
                        called(r["surface"]),
                        r["noted_by"],
                        report.span(r["start_earliest"], r["start_latest"], 0),
                        number(r["start_sd"], 0),
                        report.span(r["end_earliest"], r["end_latest"], 0),
                        number(r["end_sd"], 0),
                        r["other_labels"] or "–",
                        r["missed_by"] or "–",
                    )
                    for r in intervals.to_dict("records")
                ],
                numeric=(2, 3, 4, 5, 6),
            ),
        ),
        (
            "Net radiation",
            "Net radiation of each surface by different people's notes, in W m⁻².",
            report.words_table(
                ("surface", "people", "lowest", "highest", "sd"),
                [
                    (
                        called(r["surface"]),
                        r["people"],
                        *(number(r[k], 1) for k in ("lowest", "highest", "sd")),
                    )
                    for r in class_notes.spread(effects).to_dict("records")
                ],
                numeric=(1, 2, 3, 4),
            ),
        ),
        (
            "By person",
            "What each person's notes change, in W m⁻² of net radiation.",
            report.words_table(
                ("who", *map(called, effects["surface"].unique())),
                [
                    (who, *(number(d, 1) for d in own["difference"]))
                    for who, own in effects.groupby("who", sort=False)
                ],
                numeric=range(1, effects["surface"].nunique() + 1),
            ),
        ),
        (
            "What was found in the files",
            "Rows that could not be read or placed.",
            report.words_table(("who", "line", "what"), [(s["who"], s["line"], s["what"]) for s in said]),
        ),
    ]
    template, *styles = (
        path.read_text(encoding="utf-8")
        for path in (
            ROOT / "workflow" / "headland" / "report" / name
            for name in ("class_notes.html.jinja", "style.css", "screen.css")
        )
    )
    writing.write_text(
        args.out / "class_notes.html",
        report.page(template, styles, {"title": chosen["title"], "parts": parts, "count": len(people)}),
    )
    print(
        f"{len(people)} people's notes of {len(intervals)} intervals compared; {len(said)} rows or files with something to say."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
