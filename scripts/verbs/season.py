"""Many campaigns into one table and report, from what the chain left of each.

Usage: python scripts/verbs/season.py [--with-errors] SUMMARY CAMPAIGN RESULTS [CAMPAIGN RESULTS ...]
Leaves season.csv, heads.csv, datapackage.json, season.html and season.pdf in SUMMARY. A campaign whose
results can't be read, or that has errors in its findings, is named, the others go on: exit status 1.
--with-errors: campaigns with errors are in as well.
"""

import sys
from pathlib import Path

from headland.files import config_tables, tables, writing
from headland.record import season_page
from headland.report import page, pdf

WITH_ERRORS = "--with-errors"
ROOT = Path(__file__).resolve().parents[2]
CONFIG, QUANTITIES = ROOT / "config", ROOT / "workflow" / "headland" / "quantities.csv"


def main(summary: Path, places: list[Path], with_errors: bool) -> int:
    pairs = zip(places[::2], places[1::2], strict=True)
    campaigns, failed = season_page.read_each(pairs, CONFIG)
    if not with_errors:
        campaigns, left = season_page.without_errors(campaigns)
        failed += left
    table, heads, values = season_page.run(campaigns, failed)
    tables.write_table(summary / "season.csv", table, "season")
    tables.write_table(summary / "heads.csv", heads, "season_heads")
    writing.write_text(summary / "season.html", page.page("season", values))
    quantities = config_tables.config_rows(QUANTITIES)
    writing.write_json(summary / "datapackage.json", season_page.described(summary, quantities))
    print(*pdf.beside([summary / "season.html"]), sep="\n")
    for name, why in failed:
        print(f"Not in the table: {name}: {why}")
    return 1 if failed else 0


if __name__ == "__main__":
    words = [word for word in sys.argv[1:] if word != WITH_ERRORS]
    folders = [Path(word) for word in words]
    sys.exit(main(folders[0], folders[1:], WITH_ERRORS in sys.argv[1:]))
