"""The comparison of several people's notes: read, computed, and shown as tables of a page."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from headland.base import findings
from headland.base.errors import UserError, UserErrors
from headland.course import class_notes
from headland.course.finished import noted_in, survey_of
from headland.course.rerun import outcome, samples_of, segments_of
from headland.files.surfaces import surface_classes
from headland.report.cells import words_table
from headland.report.wording import number, span

CONFIG = Path(__file__).resolve().parents[3] / "config"


@dataclass(frozen=True)
class Comparison:
    """Several people's notes compared. said: what was found in their files. labels: what people call a
    surface."""

    intervals: pd.DataFrame
    effects: pd.DataFrame
    said: Sequence[Mapping[str, object]]
    labels: Mapping[str, str]
    people: int


def refuse_missing(paths: Sequence[Path]) -> None:
    """Raise UserErrors for files that are not there, and for two files of one name."""
    stems = [path.stem for path in paths]
    errors = [
        UserError(str(path), None, "no such file", "a file of notes, CSV or XLSX")
        for path in paths
        if not path.is_file()
    ]
    errors += [
        UserError(name, None, "two files of this name", "a name of its own for each person's file")
        for name in sorted({name for name in stems if stems.count(name) > 1})
    ]
    if errors:
        raise UserErrors(errors)


def compared(campaign: Path, results: Path, S: Mapping, paths: Sequence[Path]) -> Comparison:
    """The notes of several people against the campaign's own, on a finished run. S: settings."""
    surfaces = surface_classes(CONFIG / "surfaces.csv", S["overrides"]["surfaces"])
    survey = survey_of(campaign, results, S, surfaces, CONFIG)
    people, values, said = {}, {}, []
    sentences = findings.sentences()
    for path in paths:
        noted, segments, found = noted_in(path, S, survey.raw)
        people[path.stem] = segments
        values[path.stem] = class_notes.values_by(survey, noted, segments)
        rows = (findings.describe(finding, "segment", sentences) for finding in found)
        said += [{"who": path.stem, "line": row["line"] or "", "what": row["what"]} for row in rows]
    reference = outcome(survey, segments_of(survey, samples_of(survey)))
    return Comparison(
        class_notes.intervals(survey.segments, people),
        class_notes.effects(reference, values),
        said,
        {name: entry["label"]["value"] for name, entry in surfaces.items()},
        len(people),
    )


def context(done: Comparison, title: str) -> dict:
    """The values of the page."""

    def called(name: str) -> str:
        return done.labels.get(name, name)

    return {
        "title": title,
        "count": done.people,
        "parts": [
            _intervals(done.intervals, called),
            _net_radiation(done.effects, called),
            _by_person(done.effects, called),
            (
                "What was found in the files",
                "Rows that could not be read or placed.",
                words_table(("who", "line", "what"), [(s["who"], s["line"], s["what"]) for s in done.said]),
            ),
        ],
    }


def _intervals(intervals: pd.DataFrame, called: Callable[[str], str]) -> tuple:
    head = ("segment", "surface", "noted by", "start", "sd", "end", "sd", "labels that disagree", "missed by")
    rows = [
        (
            row["segment"],
            called(row["surface"]),
            row["noted_by"],
            span(row["start_earliest"], row["start_latest"], 0),
            number(row["start_sd"], 0),
            span(row["end_earliest"], row["end_latest"], 0),
            number(row["end_sd"], 0),
            row["other_labels"] or "–",
            row["missed_by"] or "–",
        )
        for row in intervals.to_dict("records")
    ]
    caption = (
        "Starts and ends against the campaign's own notes, in s: earliest to latest, standard deviation."
    )
    return "Intervals", caption, words_table(head, rows, numeric=(2, 3, 4, 5, 6))


def _net_radiation(effects: pd.DataFrame, called: Callable[[str], str]) -> tuple:
    rows = [
        (called(row["surface"]), row["people"], *(number(row[k], 1) for k in ("lowest", "highest", "sd")))
        for row in class_notes.spread(effects).to_dict("records")
    ]
    head = ("surface", "people", "lowest", "highest", "sd")
    caption = "Net radiation of each surface by different people's notes, in W m⁻²."
    return "Net radiation", caption, words_table(head, rows, numeric=(1, 2, 3, 4))


def _by_person(effects: pd.DataFrame, called: Callable[[str], str]) -> tuple:
    surfaces = effects["surface"].unique()
    rows = [
        (who, *(number(difference, 1) for difference in own["difference"]))
        for who, own in effects.groupby("who", sort=False)
    ]
    caption = "What each person's notes change, in W m⁻² of net radiation."
    return (
        "By person",
        caption,
        words_table(("who", *map(called, surfaces)), rows, numeric=range(1, len(surfaces) + 1)),
    )
