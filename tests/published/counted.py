"""The values of the tables beside this file, counted by what they are.

    PYTHONPATH=tests:workflow python -m published.counted

writes docs/published.md; a test compares the page with the tables.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from pathlib import Path

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "docs" / "published.md"

TABLES = frozenset(
    {
        "constants.SOLAR_CONSTANT",
        "constants.SIGMA",
        "measured.usual_closure",
        "station.crop",
        "station.ground_fraction",
        "surfaces.surface_classes",
    }
)
"""Adapters that return an entry of our own tables: nothing is computed."""

KINDS = {
    "printed": "a source prints the value, and the package computes it",
    "formula": "a source prints the formula or its coefficients, and the value was computed from them",
    "table": "an entry of our own tables beside the value that a source prints",
    "package": "another package prints the value",
    "anchor": "the value was computed once, without a printed one: it guards against change",
    "practice": "common practice, without a source",
}
"""The kinds and what they are. Only the first counts as a published value."""

BALANCE = ("3_net_radiation", "4_ground_heat", "6_evaporation", "14_station_and_measured")
"""Tables on the energy balance: a weather station, ground heat, evaporation, measured fluxes."""

BEFORE = 48
"""Printed values in those tables before heat fluxes were measured and a weather station was computed."""

WORKS = (
    ("FAO-56", r"FAO-56|Harrison 1963; FAO-56"),
    ("FAO 1990", r"FAO 1990"),
    ("JCGM 100:2008 (GUM)", r"JCGM 100"),
    ("JCGM 101:2008", r"JCGM 101"),
    ("Siegel & Howell", r"Siegel & Howell|Howell catalogue"),
    ("Reda & Andreas 2004/2008", r"Reda & Andreas|Spencer 1971; Reda"),
    ("almanac", r"almanac"),
    ("WGS 84, length of a degree", r"length of a degree"),
)
"""Works that are cited in several ways; for others the source's words up to a comma, semicolon or bracket
are the work."""


def rows() -> list[dict[str, str]]:
    """Every row, with the file it is in."""
    found = []
    for path in sorted(HERE.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            found += [{**row, "file": path.stem} for row in csv.DictReader(stream)]
    return found


def kind(row: dict[str, str]) -> str:
    """What a row is, one of `KINDS`: judged by how its value is known and by what is run."""
    how = row["how"]
    if row["function"] in TABLES:
        return "table"
    if how.startswith("common practice"):
        return "practice"
    if "package's value" in row["source"]:
        return "package"
    if "anchor" in how:
        return "anchor"
    if "(form)" in how or "form" in row["source"].split() or "coefficients" in how or how == "recomputed":
        return "formula"
    return "printed"


def work(row: dict[str, str]) -> str:
    """The work that prints a row's value."""
    for name, pattern in WORKS:
        if re.match(pattern, row["source"]):
            return name
    return re.split(r"[,;(]| eq\.", row["source"])[0].strip()


def verified(row: dict[str, str]) -> bool:
    """Whether the printed value was seen, in print or in a text that repeats it."""
    return row["how"].startswith("verified")


def page() -> str:
    """The page of docs."""
    everything = rows()
    kinds = Counter(map(kind, everything))
    printed = [row for row in everything if kind(row) == "printed"]
    seen = Counter(work(row) for row in printed if verified(row))
    works = Counter(map(work, printed))
    lines = [
        "# Published values in the tests",
        "",
        "Made by `PYTHONPATH=tests:workflow python -m published.counted` from the tables in "
        "`tests/published`. `tests/published/test_published.py` runs every row.",
        "",
        f"A source prints **{len(printed)}** values that the package computes, in {len(works)} works. "
        f"{sum(seen.values())} of them were seen in a text that repeats the print (verified); "
        f"{len(printed) - sum(seen.values())} were recalled and agree with the computation. "
        "No original was at hand. All other rows are tests as well, but no published values.",
        "",
        "| kind | rows | what it is |",
        "|---|---|---|",
        *(f"| {name} | {kinds[name]} | {what} |" for name, what in KINDS.items()),
        f"| all | {len(everything)} | |",
        "",
        "## By work",
        "",
        "| work | printed values | verified | recalled |",
        "|---|---|---|---|",
    ]
    for name, count in sorted(works.items(), key=lambda one: (-one[1], one[0])):
        lines.append(f"| {name} | {count} | {seen[name]} | {count - seen[name]} |")
    return "\n".join([*lines, *of_balance(everything), ""])


def of_balance(everything: list[dict[str, str]]) -> list[str]:
    """The lines on the energy balance. everything: as `rows` gives it."""
    own = [row for row in everything if row["file"] in BALANCE]
    printed = [row for row in own if kind(row) == "printed"]
    counts = Counter((row["file"], kind(row)) for row in own)
    seen = sum(map(verified, printed))
    lines = [
        "",
        "## The energy balance",
        "",
        f"**{len(printed)}** of the printed values concern the energy balance, a weather station and "
        f"measured fluxes ({seen} verified, {len(printed) - seen} recalled); {len(printed) - BEFORE} of them "
        f"came with these. {len(own) - len(printed)} more rows compare our own tables with their source, or "
        "were computed by us, and are not among them.",
        "",
        f"| table | {' | '.join(KINDS)} |",
        "|---" * (len(KINDS) + 1) + "|",
    ]
    return lines + [
        f"| `{file}.csv` | {' | '.join(str(counts[file, name]) for name in KINDS)} |" for file in BALANCE
    ]


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
