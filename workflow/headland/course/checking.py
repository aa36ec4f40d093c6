"""The answer check on a finished run: everything that the answers are compared with, and their verdicts."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from headland.base import findings
from headland.course import exercises, sheet
from headland.course.answers import VALUES, VERDICTS, Reference, check
from headland.course.finished import survey_of
from headland.course.pairs import two_slips
from headland.course.rerun import NO_SLIP, Outcome, Survey, through
from headland.course.slips import slips_of
from headland.course.withheld import withholding
from headland.course.written import OF_SURFACES
from headland.files import tables
from headland.files.config_tables import config_rows
from headland.files.surfaces import surface_classes

__all__ = ["VALUES", "checked", "known_slips", "reference_of"]
HERE = Path(__file__).parent
CONFIG = HERE.parents[2] / "config"


def known_slips() -> dict[str, dict[str, str]]:
    """The rows of wrong_answers.csv by code."""
    rows = config_rows(HERE / "wrong_answers.csv")
    return {row["code"]: row for row in rows}


def formulas() -> dict[str, str]:
    """The formula of each quantity, as a hint gives it."""
    rows = config_rows(HERE / "formulas.csv")
    return {row["quantity"]: row["formula"] for row in rows}


def reference_of(
    survey: Survey, reported: Mapping[str, pd.DataFrame], labels: Mapping[str, str], attempt: int = 1
) -> Reference:
    """What answers are compared with. reported: `segments` and `surfaces` as users get them, and the key of
    the sheet of questions where there is one.
    """
    slips = slips_of(survey)
    made: dict = {}
    wrong: list[tuple[str, Outcome]] = [(code, through(survey, slip, made)) for code, slip in slips]
    right = through(survey, NO_SLIP, made)
    segments = right.segments
    got = {**reported} | {
        kind: by_hand(reported[kind], getattr(right, kind)) for kind in ("segments", "surfaces")
    }

    sentences = findings.sentences()

    def reasons(kind: str, item: str, quantity: str) -> list[str]:
        found = withholding(survey, segments, kind, item, quantity)
        said = (str(findings.describe(finding, "", sentences)["what"]) for finding in found)
        return list(dict.fromkeys(said))

    pairs = two_slips(survey, slips, wrong)
    return Reference(got, labels, wrong, known_slips(), formulas(), pairs, reasons, attempt, reported)


def by_hand(table: pd.DataFrame, followed: pd.DataFrame) -> pd.DataFrame:
    """A table of results with the values that students get by hand in place of the best estimates.

    followed: the same quantities without the correction of known effects, by segment or surface. Intervals
    reach to both, so that either number lies within the uncertainty.
    """
    followed = followed.reindex(table[table.columns[0]])
    columns = {}
    for name in OF_SURFACES:
        if name not in table or name not in followed:
            continue
        value = followed[name].set_axis(table.index).fillna(table[name]).where(table[name].notna())
        columns[name] = value
        columns[f"{name}_low"] = table[f"{name}_low"].clip(upper=value)
        columns[f"{name}_high"] = table[f"{name}_high"].clip(lower=value)
    return table.assign(**columns)


def checked(
    campaign: Path, results: Path, S: Mapping, given: pd.DataFrame, attempt: int = 1
) -> tuple[pd.DataFrame, dict, dict[str, str]]:
    """Every answer with its verdict, what all pages share, and what people call the surfaces.

    S: the campaign's settings. given: the table of answers.
    """
    surfaces = surface_classes(CONFIG / "surfaces.csv", S["overrides"]["surfaces"])
    labels = {name: entry["label"]["value"] for name, entry in surfaces.items()}
    survey = survey_of(campaign, results, S, surfaces, CONFIG)
    got = {name: tables.read_table(results / f"{name}.csv", name) for name in ("segments", "surfaces")}
    if given["question"].str.strip().any():
        got["questions"] = exercises.key(exercises.questions(sheet.numbers_of(results, S)))
    table = check(given, reference_of(survey, got, labels, attempt))
    return table, {"title": S["title"], "slips": known_slips(), "verdicts": VERDICTS}, labels
