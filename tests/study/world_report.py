"""The page on the claims: counts of all records with binomial intervals, by heads, order, sky, quantity."""

from __future__ import annotations

import platform
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.metadata import version

import pandas as pd

from study import world_tables as tables
from study.world_rates import coverage, width
from study.world_tables import ORDERS, table
from study.world_truth import HEAT, SEVEN

HEADS = ("A", "B", "C", "unknown")
KINDS = ("segment", "field", "surface")


def counts_of(frame: pd.DataFrame, column: str, names: Sequence[str]) -> str:
    """Return how many campaigns there are of each kind, in words."""
    by = frame.drop_duplicates("campaign")[column].value_counts()
    return ", ".join(f"{name} {by.get(name, 0)}" for name in names)


def split(values: pd.DataFrame) -> dict[tuple[str, str], pd.DataFrame]:
    """Return the rows of each kind and quantity."""
    return {(str(kind), str(quantity)): own for (kind, quantity), own in values.groupby(["kind", "quantity"])}


def coverage_by(values: pd.DataFrame, column: str, names: Sequence[str]) -> str:
    """Return coverage of the seven quantities, with a column for all and one for each kind of campaign."""
    rows, parts = [], split(values)
    for kind in KINDS:
        for quantity in SEVEN:
            own = parts.get((kind, quantity), values[:0])
            cells = [coverage(own[own[column] == name]).text() for name in names]
            rows.append([kind, quantity, str(len(own)), coverage(own).text(), *cells])
    return table(["of", "quantity", "intervals", "all", *names], rows)


def left_out(values: pd.DataFrame) -> str:
    """Return coverage against both truths: over all stored seconds, and over the used samples alone."""
    rows, parts = [], split(values)
    for quantity in SEVEN:
        cells = [quantity]
        for kind in KINDS:
            own = parts.get((kind, quantity), values[:0])
            cells += [f"{coverage(own).share:.2f}", f"{coverage(own, 'truth_used').share:.2f}"]
        rows.append(cells)
    head = ["quantity", *(f"{kind}, {over}" for kind in KINDS for over in ("stored", "used"))]
    return table(head, rows)


def widths(values: pd.DataFrame) -> str:
    """Return widths beside errors, and the side on which intervals miss."""
    rows, parts = [], split(values)
    for kind in KINDS:
        for quantity in SEVEN:
            own = parts.get((kind, quantity), values[:0])
            one = width(own)
            if one is None:
                continue
            by = [width(own[own["heads"] == name]) for name in HEADS]
            factors = [f"{part.factor:.2f}" if part else "–" for part in by]
            digits = 4 if quantity == "albedo" else 2
            sizes = [f"{size:.{digits}f}" for size in (one.bias, one.error, one.half)]
            sides = [f"{one.below:.3f}", f"{one.above:.3f}"]
            rows.append([kind, quantity, *sizes, f"{one.ratio:.2f}", *sides, f"{one.factor:.2f}", *factors])
    head = ["of", "quantity", "bias", "rms error", "half-width", "ratio", "truth below", "truth above"]
    return table([*head, "factor", *(f"factor {name}" for name in HEADS)], rows)


def heat(values: pd.DataFrame) -> str:
    """Return coverage and width over net radiation of ground, sensible and latent heat."""
    rows, parts = [], split(values)
    for kind in ("field", "surface"):
        for quantity in HEAT:
            own = parts.get((kind, quantity), values[:0])
            own = own[own["net"].notna()]
            if own.empty:
                continue
            half = 0.5 * (own["high"] - own["low"])
            share = half.mean() / own["net"].abs().mean()
            by = [coverage(own[own["heads"] == name]).text() for name in HEADS]
            one = width(own)
            factor = f"{one.factor:.1f}" if one else "–"
            bias = f"{one.bias:.1f}" if one else "–"
            rows.append([kind, quantity, coverage(own).text(), f"{share:.2f}", bias, factor, *by])
    return table(["of", "quantity", "all", "half-width / net", "bias", "factor", *HEADS], rows)


def page(records: dict[str, list[dict]], heading: str) -> str:
    """Return the page. records: of each kind of campaigns; heading: a word at its head, such as `before`."""
    whole = {kind: [row for row in rows if "broken" not in row] for kind, rows in records.items()}
    values = tables.values_of(whole["campaigns"])
    if values.empty:
        raise SystemExit("no campaign in the results folder has an interval")
    commits = Counter(row["commit"] for rows in records.values() for row in rows)
    broken = [row for rows in records.values() for row in rows if "broken" in row]
    libraries = ", ".join(f"{name} {version(name)}" for name in ("numpy", "scipy", "pandas"))
    ran = ", ".join(f"{len(rows)} {kind}" for kind, rows in records.items())
    title = f"# Claims on the independent world{': ' + heading if heading else ''}"
    head = [
        title,
        f"Made by `PYTHONPATH=tests:workflow python -m study.world page` on {datetime.now(UTC):%Y-%m-%d}, "
        f"with Python {platform.python_version()}, {libraries}.",
        "Commit of the workflow and the world (campaigns): "
        + ", ".join(f"{name} ({count})" for name, count in commits.items())
        + f". Run: {ran}; {len(broken)} broke off. Draws of the propagation: "
        + ", ".join(str(draws) for draws in sorted({row["draws"] for row in records["campaigns"]}))
        + ".",
        INTRODUCTION,
        "## The claims",
        tables.claims(whole, values),
        "## How often intervals hold the truth",
        f"Campaigns by class of the heads: {counts_of(values, 'heads', HEADS)}. By order of visits: "
        f"{counts_of(values, 'order', ORDERS)}. By sky: {counts_of(values, 'sky', tables.SKIES)}.",
        "### By class of the heads",
        coverage_by(values, "heads", HEADS),
        "### By order of visits",
        coverage_by(values, "order", ORDERS),
        "### By sky",
        coverage_by(values, "sky", tables.SKIES),
        "### What left-out samples cost",
        LEFT_OUT,
        left_out(values),
        "## Width of the intervals",
        WIDTHS,
        widths(values),
        "## Ground, sensible and latent heat",
        HEATS,
        heat(values),
        *tables.pairs(whole),
        *tables.silence(whole["campaigns"]),
        *tables.mistakes(whole["mistakes"]),
        *tables.broken(broken),
    ]
    return "\n\n".join(head) + "\n"


INTRODUCTION = """Days, heads, people and ground are drawn by `tests/world`, which shares no code, table or
assumption with the workflow. A campaign goes through the whole chain from its logger files and notes.
`tests/study/world_truth.py` says how results are matched with the truth. Square brackets hold 95 %
intervals of a share (Clopper and Pearson), by the number of independent trials that the scatter from
campaign to campaign allows."""
LEFT_OUT = """The truth of a segment covers all stored seconds of its noted interval. The chain averages the
used samples only. *Used* compares with the truth over exactly these seconds."""
WIDTHS = """*Bias* is the mean of value − truth, *rms error* that of the interval's middle. *Ratio* is the
mean half-width over 1.96 times the rms error; it stands for the width over that of a model with the right
distributions. *Factor* is what all half-widths must be multiplied by so that 95 % of the intervals hold the
truth: over 1 they are too narrow, under 1 too wide."""
HEATS = """*Half-width / net* is the mean half-width over the mean of the net radiation of the same rows,
without its sign. The measured crop day is no part of this study."""
