"""A sheet of questions from a finished run's own numbers, and, in a folder of its own, the key.

Usage: python scripts/verbs/exercises.py --campaign DIR --results DIR --out DIR
"""

import sys
from pathlib import Path

import pandas as pd

from headland.chain import screen
from headland.course import exercises
from headland.files import settings, step, tables
from headland.report import page

ROOT = Path(__file__).resolve().parents[2]


def main() -> int:
    args = step.arguments(one=("campaign", "results", "out"))
    try:
        chosen = settings.load(args.campaign, ROOT / "config")
    except tables.UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    classes = settings.surface_classes(ROOT / "config" / "surfaces.csv", chosen["overrides"]["surfaces"])
    surfaces, differences = (
        tables.read_table(args.results / f"{name}.csv", name) for name in ("surfaces", "differences")
    )
    worked = tables.read_table(args.results / "steps" / "9_report" / "worked.csv", "worked")
    excluding = screen.excluding(screen.limits_of(tables.read_config_table(ROOT / "config" / "quality.csv")))
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
        samples = exercises.followed(own, screen.has_any(own["flags"], excluding))
    made = exercises.questions(surfaces, differences, worked, samples, classes)
    for path, key in ((args.out / "sheet.html", False), (args.out / "key" / "key.html", True)):
        tables.write_text(
            path,
            page.page(
                "exercises", {"title": chosen["title"], "key": key, "rows": exercises.numbered(made, key)}
            ),
        )
    print(f"{len(made)} questions; the key lies apart, in the folder key.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
