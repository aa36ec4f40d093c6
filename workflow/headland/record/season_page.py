"""The season's tables and page, from what the chain left of each campaign."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import pandas as pd

from headland.base.errors import UserErrors, refuse
from headland.base.words import plain
from headland.files import settings, tables
from headland.files.digests import digest
from headland.files.schemas import table_schema
from headland.files.surfaces import surface_classes
from headland.record import season
from headland.report import figures, package, page, wording


def read(campaign: Path, results: Path, config: Path) -> dict:
    """What the season needs of one campaign. config: the project's folder.

    Raises UserErrors, OSError, KeyError or ValueError where its results are not whole.
    """
    S = settings.load(campaign, config, needs=())
    segments = whole(results / "segments.csv", "segments")
    air = whole(results / "steps" / "7_balance" / "surfaces.csv", "group_balance")
    certificates = pd.concat(
        [
            whole(results / "steps" / "2_calibrate" / f"{name}_certificates.csv", "certificates")
            for name in S["sets"]
        ],
        ignore_index=True,
    )
    compared, station = (
        results / "steps" / step / f"{name}.csv"
        for step, name in (("8_propagate", "intercomparison"), ("8_diagnose", "against_station"))
    )
    surfaces = whole(results / "surfaces.csv", "surfaces")
    checks = whole(results / "checks.csv", "checks")
    if not len(surfaces):
        raise ValueError("it has no surface with a value")
    return {
        "name": campaign.name,
        "title": S["title"],
        "date": segments["start_utc"].min().strftime("%Y-%m-%d"),
        "surfaces": surfaces,
        "errors": int((checks["severity"] == "error").sum()),
        "air": dict(zip(air["surface"], air["air_temperature"], strict=True)),
        "classes": surface_classes(config / "surfaces.csv", S["overrides"]["surfaces"]),
        "certificates": certificates,
        "compared": whole(compared, "intercomparison") if compared.is_file() else None,
        "station": whole(station, "against_station") if station.is_file() else None,
    }


def whole(path: Path, kind: str) -> pd.DataFrame:
    """A table that the chain left. Raises UserErrors where it lacks columns: it was changed since."""
    table = tables.read_table(path, kind)
    always = [field["name"] for field in table_schema(kind)["fields"] if not field.get("optional")]
    lacking = [name for name in always if name not in table]
    if lacking:
        wanted = "the table as the run left it; delete it and run again"
        raise refuse(path.name, None, f"it lacks {', '.join(lacking[:5])}", wanted)
    return table


def read_each(places: Iterable[tuple[Path, Path]], config: Path) -> tuple[list[dict], list[tuple[str, str]]]:
    """What can be read of campaigns, and the names of the others with the reason.

    places: campaign folders with their results. config: the project's folder.
    """
    campaigns, failed = [], []
    for campaign, results in places:
        try:
            campaigns.append(read(campaign, results, config))
        except (UserErrors, OSError, KeyError, ValueError) as problem:
            failed.append((campaign.name, plain(str(problem))[:200]))
    return campaigns, failed


def gathered(parts: list[pd.DataFrame], kind: str) -> pd.DataFrame:
    """One table of a kind, with its columns even where no campaign has a row."""
    if parts:
        return pd.concat(parts, ignore_index=True)
    return pd.DataFrame(columns=[field["name"] for field in table_schema(kind)["fields"]])


REMEDY = "Correct the campaign, or add it as it is with --with-errors."
"""What to do about a campaign that is left out."""


def cell(row: dict, quantity: str, digits: int) -> dict[str, str]:
    """A value of the season's page and its interval, in words."""
    low, high = (row.get(f"{quantity}_{end}", float("nan")) for end in ("low", "high"))
    value, interval = wording.valued(row[quantity], low, high, digits)
    return {"value": value, "interval": interval}


def without_errors(campaigns: list[dict]) -> tuple[list[dict], list[tuple[str, str]]]:
    """Campaigns without errors, and the names of the others with the reason and what to do: wrong numbers
    don't belong beside those of other days.
    """
    left = [
        (c["name"], f"{wording.count(c['errors'], 'error')} in its findings. {REMEDY}")
        for c in campaigns
        if c["errors"]
    ]
    return [c for c in campaigns if not c["errors"]], left


def run(campaigns: list[dict], failed: Sequence[tuple[str, str]]) -> tuple[pd.DataFrame, pd.DataFrame, dict]:
    """The rows of season.csv and heads.csv, and the values of the page.

    campaigns: as `read` gives each. failed: names of campaigns that can't be read, with the reason.
    """
    read_ = sorted(campaigns, key=lambda c: (c["date"], c["name"]))
    sky = season.season_sky([c["surfaces"] for c in campaigns])
    table = gathered(
        [season.rows(c["name"], c["date"], c["surfaces"], c["air"], c["classes"], sky=sky) for c in read_],
        "season",
    )
    heads = gathered(
        [
            part
            for c in read_
            for key, made in (("compared", season.heads), ("station", season.heads_against_station))
            if c[key] is not None and len(part := made(c["name"], c["date"], c[key], c["certificates"]))
        ],
        "season_heads",
    )
    return table, heads, _values(read_, failed, sky, table, heads)


def _values(
    read_: list[dict],
    failed: Sequence[tuple[str, str]],
    sky: tuple[float, float],
    table: pd.DataFrame,
    heads: pd.DataFrame,
) -> dict:
    classes = {name: entry for c in read_ for name, entry in c["classes"].items()}
    return {
        "campaigns": [
            {"name": c["name"], "title": c["title"], "date": c["date"], "surfaces": len(c["surfaces"])}
            for c in read_
        ],
        "failed": failed,
        "sky": [wording.number(x, 0) for x in sky],
        "quantities": season.QUANTITIES,
        "rows": [
            {
                "surface": figures.label(classes, row["surface"]),
                "date": row["date"],
                "campaign": row["campaign"],
                "state": row["state"],
                "cells": [cell(row, q, d) for q, (_, d) in season.QUANTITIES.items()],
            }
            for row in table.sort_values("surface", kind="stable").to_dict("records")
        ],
        "heads": [
            {
                **row,
                "band": figures.COMPONENTS[row["channel"]][0],
                "ratio": wording.valued(row["ratio"], row["ratio_low"], row["ratio_high"], 3),
                "allowed": wording.number(row["allowed_percent"], 1),
                "e_n": wording.number(row["e_n"], 2),
                "word": {True: "agree", False: "DIFFER"}.get(row["agree"], "–"),
            }
            for row in heads.to_dict("records")
        ],
        "drift": [
            {
                **row,
                "band": figures.COMPONENTS[row["channel"]][0],
                "percent": wording.number(row["percent"], 2),
            }
            for row in season.drift(heads)
        ],
        "surfaces_words": surfaces_words(table, classes),
        "surfaces_figure": page.embedded(figures.svg(season.surfaces_figure(table, classes))),
        "heads_figure": page.embedded(figures.svg(season.heads_figure(heads))),
    }


def surfaces_words(table: pd.DataFrame, classes: Mapping[str, Mapping]) -> str:
    """The figure of the surfaces in words: what each had, from its least to its greatest."""
    parts = []
    for name, part in table.groupby("surface", sort=True):
        words = [
            f"{title} {wording.span(part[quantity].min(), part[quantity].max(), decimals)}"
            for quantity, (title, decimals) in season.QUANTITIES.items()
            if part[quantity].notna().any()
        ]
        parts.append(f"{figures.label(classes, str(name))}: {', '.join(words) or 'no value'}")
    return f"{'; '.join(parts)}." if parts else "No surface has a value."


TABLES = {"season.csv": "season", "heads.csv": "season_heads"}
"""The season's tables and their schemas."""


def described(folder: Path, quantities: Sequence[Mapping[str, str]]) -> dict:
    """The Data Package of the season's tables: title, unit and meaning of every column. folder: theirs."""
    by_quantity = {row["quantity"]: row for row in quantities}
    resources = [
        package.resource(
            name, digest(folder / name), (folder / name).stat().st_size, table_schema(kind), by_quantity
        )
        for name, kind in TABLES.items()
    ]
    return package.package("season", "A season of net-radiation surveys", resources)
