"""The values of the tables beside this file, counted by what they are.

    PYTHONPATH=tests:workflow python -m published.counted

writes docs/published.md; a test compares the page with the tables.
"""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

from published.works import BIB, WORKS, work_of

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

LIMITS = frozenset(
    {
        "screen.part_of_limit",
        "screen.end",
        "screen.over_emission",
        "screen.beside_air",
        "screen.beside_out",
        "screen.reflected",
        "uncertainty.directional",
        "uncertainty.class_limit",
        "uncertainty.response_time",
        "heat.santanello.peak",
        "heat.santanello.period",
        "soil.heat_capacity.of_part",
        "station.grass_albedo",
        "station.resistance_ratio",
        "sun.diffuse_fraction.clearest",
    }
)
"""Adapters that run the code until a limit or constant shows that it holds."""

AGAIN = "again: "
"""Begins `how` of a printed value that another row, named after it, counts already."""

KINDS = {
    "result": "a source prints the value, and the package computes it",
    "limit": "a source prints the limit or constant, and running the package shows that it holds it",
    "again": "a value that another row counts, through a second function, an inverse or in another unit",
    "unplaced": "a table prints the value, but in which work is not known",
    "formula": "a source prints the formula or its coefficients, and the value was computed from them",
    "table": "an entry of our own tables beside the value that a source prints",
    "package": "another package prints the value",
    "anchor": "the value was computed once, without a printed one: it guards against change",
    "practice": "common practice, without a source",
}
"""The kinds and what they are."""

PUBLISHED = ("result", "limit")
"""The kinds that count as published values."""

BALANCE = ("3_net_radiation", "4_ground_heat", "6_evaporation", "14_station_and_measured")
"""Tables on the energy balance: a weather station, ground heat, evaporation, measured fluxes."""

BEFORE = 48
"""Printed values in those tables before heat fluxes were measured and a weather station was computed."""


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
    marks = {
        "table": row["function"] in TABLES,
        "again": how.startswith(AGAIN),
        "practice": how.startswith("common practice"),
        "package": "package's value" in row["source"],
        "anchor": "anchor" in how,
        "formula": "(form)" in how
        or "form" in row["source"].split()
        or "coefficients" in how
        or how == "recomputed",
        "unplaced": not work_of(row["source"]),
        "limit": row["function"] in LIMITS,
    }
    return next((name for name, is_so in marks.items() if is_so), "result")


def published(table: list[dict[str, str]]) -> list[dict[str, str]]:
    """The rows that count as published values."""
    return [row for row in table if kind(row) in PUBLISHED]


def verified(row: dict[str, str]) -> bool:
    """Whether the printed value was seen, in print or in a text that repeats it."""
    return row["how"].startswith("verified")


def page() -> str:
    """The page of docs."""
    everything = rows()
    kinds = Counter(map(kind, everything))
    printed = published(everything)
    seen = sum(map(verified, printed))
    lines = [
        "# Published values in the tests",
        "",
        "Made by `PYTHONPATH=tests:workflow python -m published.counted` from the tables in "
        "`tests/published`. `tests/published/test_published.py` runs every row.",
        "",
        f"Sources print **{len(printed)}** values that the package reproduces, in "
        f"**{len(set(map(work, printed)))}** works: {kinds['result']} results, and {kinds['limit']} limits "
        f"and constants. {seen} of them were seen in a text that repeats the print (verified); "
        f"{len(printed) - seen} were recalled and agree with the computation. "
        "No original was at hand. All other rows are tests as well, but no published values.",
        "",
        "| kind | rows | what it is |",
        "|---|---|---|",
        *(f"| {name} | {kinds[name]} | {what} |" for name, what in KINDS.items()),
        f"| all | {len(everything)} | |",
        "",
        *by_work(printed),
        *of_balance(everything),
    ]
    return "\n".join([*lines, ""])


def work(row: dict[str, str]) -> str:
    """The work that prints a row's value."""
    return work_of(row["source"])


def by_work(printed: list[dict[str, str]]) -> list[str]:
    """The lines on each work. printed: as `published` gives it."""
    counts = Counter(map(work, printed))
    seen = Counter(work(row) for row in printed if verified(row))
    limits = Counter(work(row) for row in printed if kind(row) == "limit")
    single = sum(count == 1 for count in counts.values())
    lines = [
        "## By work",
        "",
        f"A work is one publication. {single} of them print one value each.",
        "",
        "| work | values | limits and constants | verified | recalled | what it is |",
        "|---|---|---|---|---|---|",
    ]
    what = {name: f"in `{BIB}`" if entry == BIB else entry for name, _, entry in WORKS}
    for name, count in sorted(counts.items(), key=lambda one: (-one[1], one[0])):
        numbers = f"{count} | {limits[name]} | {seen[name]} | {count - seen[name]}"
        lines.append(f"| {name} | {numbers} | {what[name]} |")
    return lines


def of_balance(everything: list[dict[str, str]]) -> list[str]:
    """The lines on the energy balance. everything: as `rows` gives it."""
    own = [row for row in everything if row["file"] in BALANCE]
    printed = published(own)
    counts = Counter((row["file"], kind(row)) for row in own)
    seen = sum(map(verified, printed))
    lines = [
        "",
        "## The energy balance",
        "",
        f"**{len(printed)}** of the published values concern the energy balance, a weather station and "
        f"measured fluxes ({seen} verified, {len(printed) - seen} recalled); {len(printed) - BEFORE} of them "
        f"came with these or later. {len(own) - len(printed)} more rows are no published values.",
        "",
        f"| table | {' | '.join(KINDS)} |",
        "|---" * (len(KINDS) + 1) + "|",
    ]
    return lines + [
        f"| `{file}.csv` | {' | '.join(str(counts[file, name]) for name in KINDS)} |" for file in BALANCE
    ]


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
