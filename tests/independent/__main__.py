"""Writes docs/independent.md from a run's tables and this computation.

PYTHONPATH=tests python -m independent --results results/demo_inputs
"""

from __future__ import annotations

import argparse
import datetime as dt
import platform
from pathlib import Path

import numpy as np

from independent.compared import Row, compared
from study import dated

ROOT = Path(__file__).parents[2]
FOUND = "## What the comparison found"
PAGE = """# A second computation of the intervals

Made by `PYTHONPATH=tests python -m independent` on {date}, with Python {python}, numpy {numpy} and
{draws} draws.

`tests/independent` computes values and intervals of the demo campaign from its logger files, notes and
register. It was written from [method.md](method.md) alone, without reading the package, and shares no code
with it. The sun, the view factors and the random numbers are its own: plain random numbers, without strata
and without the control variate of (8.7b).

Criterion, fixed before the first comparison: values differ by at most 1 % of the half width, or by one unit
of the last digit; half widths differ by at most 5 %.

| table | numbers | within the criterion | largest difference of a value, half widths | ratio of half widths |
|---|---|---|---|---|
{summary}

Covered are segments, fields, surfaces and differences at a common moment, with the common sky and the
estimated energy balance. Not covered are sets on one scale, a fixed station, measured fluxes, strips, two
thermometers, what a certificate states beside its factor, and options that the demo does not use.

## Surfaces

Value and half width of the 95 % interval: of the report, of this computation, and the ratio of the half
widths. A star marks numbers outside the criterion.

| surface | quantity | report | here | report ± | here ± | ratio | |
|---|---|---|---|---|---|---|---|
{surfaces}

## Differences at a common moment

| surfaces | quantity | report | here | report ± | here ± | ratio | |
|---|---|---|---|---|---|---|---|
{differences}

"""


def number(value: float, quantity: str) -> str:
    places = {"albedo": 4, "evaporation": 3}.get(quantity, 2)
    text = f"{value:.{places}f}"
    return text.replace("-", "−")


def line(row: Row) -> str:
    name = row.name.replace("_", " ")
    four = (row.printed[0], row.own[0], row.half, row.own_half)
    cells = " | ".join(number(one, row.quantity) for one in four)
    star = "" if row.agrees else "\\*"
    return f"| {name} | {row.quantity} | {cells} | {row.ratio:.3f} | {star} |"


def summary(rows: list[Row]) -> str:
    lines = []
    for table in dict.fromkeys(row.table for row in rows):
        mine = [row for row in rows if row.table == table]
        worst = max(abs(row.off) for row in mine)
        ratios = [row.ratio for row in mine]
        good = sum(row.agrees for row in mine)
        lines.append(
            f"| {table}.csv | {len(mine)} | {good} | {worst:.3f} | {min(ratios):.3f} to {max(ratios):.3f} |"
        )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(prog="independent", description=__doc__.partition("\n")[0])
    parser.add_argument("--campaign", type=Path, default=ROOT / "demo_inputs")
    parser.add_argument("--results", type=Path, default=ROOT / "results" / "demo_inputs")
    parser.add_argument("--draws", type=int, default=200000)
    parser.add_argument("--page", type=Path, default=ROOT / "docs" / "independent.md")
    asked = parser.parse_args()
    rows = compared(asked.campaign, ROOT / "config", asked.results, asked.draws)
    old = asked.page.read_text(encoding="utf-8") if asked.page.exists() else ""
    page = PAGE.format(
        date=dt.date.today().isoformat(),
        python=platform.python_version(),
        numpy=np.__version__,
        draws=asked.draws,
        summary=summary(rows),
        surfaces="\n".join(line(row) for row in rows if row.table == "surfaces"),
        differences="\n".join(line(row) for row in rows if row.table == "differences"),
    )
    asked.page.write_text(page + FOUND + (old.partition(FOUND)[2] or "\n"), encoding="utf-8")
    dated.made(asked.page)
    print(summary(rows))
    for row in rows:
        if not row.agrees:
            print(f"{row.table} {row.name} {row.quantity}: {row.off:+.3f} half widths, ratio {row.ratio:.3f}")


if __name__ == "__main__":
    main()
