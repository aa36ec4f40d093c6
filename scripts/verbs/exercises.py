"""A sheet of questions from a finished run's own numbers, and, in a folder of its own, the key.

Usage: python scripts/verbs/exercises.py --campaign DIR --results DIR --out DIR
"""

import sys
from pathlib import Path

import pandas as pd

from headland.base.errors import UserErrors
from headland.base.flags import excluding_flags, has_any, limits_of
from headland.course import exercises
from headland.files import config_tables, settings, step, tables, writing
from headland.files.surfaces import surface_classes
from headland.report import report

ROOT = Path(__file__).resolve().parents[2]


def main() -> int:
    args = step.arguments(one=("campaign", "results", "out"))
    try:
        chosen = settings.load(args.campaign, ROOT / "config")
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    classes = surface_classes(ROOT / "config" / "surfaces.csv", chosen["overrides"]["surfaces"])
    surfaces, differences = (
        tables.read_table(args.results / f"{name}.csv", name) for name in ("surfaces", "differences")
    )
    worked = tables.read_table(args.results / "steps" / "9_report" / "worked.csv", "worked")
    excluding = excluding_flags(limits_of(config_tables.read_config_table(ROOT / "config" / "quality.csv")))
    samples = pd.DataFrame({"sw_in": [], "sw_out": []})
    for set_, item in (
        worked.loc[worked["part"] == "segment", ["set", "item"]]
        .drop_duplicates()
        .head(1)
        .itertuples(index=False)
    ):
        own = tables.read_table(
            args.results / "steps" / "5_segment" / f"{set_}.csv", "samples_segmented"
        ).query("segment == @item")
        samples = exercises.followed(own, has_any(own["flags"], excluding))
    made = exercises.questions(surfaces, differences, worked, samples, classes)
    template, *styles = (
        path.read_text(encoding="utf-8")
        for path in (
            ROOT / "workflow" / "headland" / "report" / name
            for name in ("exercises.html.jinja", "style.css", "screen.css")
        )
    )
    for path, key in ((args.out / "sheet.html", False), (args.out / "key" / "key.html", True)):
        writing.write_text(
            path,
            report.page(
                template,
                styles,
                {"title": chosen["title"], "key": key, "rows": exercises.numbered(made, key)},
            ),
        )
    print(f"{len(made)} questions; the key lies apart, in the folder key.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
