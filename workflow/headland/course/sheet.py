"""The sheet of questions on a finished run: the numbers that it is made of, and the table to answer it in."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

import pandas as pd

from headland.base.flags import excluding_flags, limits_of
from headland.course import exercises
from headland.course.written import expected_unit
from headland.files import options, step, tables
from headland.files.own_numbers import quality_rows
from headland.files.surfaces import surface_classes

READS = {
    "classes": options.CLASSES,
    "limits": options.LIMITS,
    "surfaces": step.table("surfaces"),
    "differences": step.table("differences"),
    "worked": step.table("worked"),
    "segmented": step.of_sets("samples_segmented"),
}
CONFIG = Path(__file__).resolve().parents[3] / "config"


def numbers_of(results: Path, S: Mapping) -> exercises.Numbers:
    """What the questions are made of, from what a run left. S: the campaign's settings."""
    classes = surface_classes(CONFIG / "surfaces.csv", S["overrides"]["surfaces"])
    surfaces, differences = (
        tables.read_table(results / f"{name}.csv", name) for name in ("surfaces", "differences")
    )
    worked = tables.read_table(results / "steps" / "9_report" / "worked.csv", "worked")
    excluding = excluding_flags(limits_of(quality_rows(CONFIG / "quality.csv")))
    sets = worked.loc[worked["part"] == "segment", "set"].unique()[:1]
    segmented = {
        name: tables.read_table(results / "steps" / "5_segment" / f"{name}.csv", "samples_segmented")
        for name in sets
    }
    samples = exercises.sample_to_follow(worked, segmented, excluding)
    return exercises.Numbers(surfaces, differences, worked, samples, classes, _visits(results))


def _visits(results: Path) -> pd.DataFrame:
    """Visits with what a weather station would say and the surface temperature of each."""
    steps = results / "steps"
    visits = tables.read_table(steps / "7_balance" / "visits.csv", "visit_balance")
    beside = tables.read_table(steps / "7_balance" / "weather_station.csv", "weather_station")
    means = tables.read_table(steps / "6_summarise" / "segments.csv", "segment_means")
    columns = [
        "segment",
        "relative_humidity",
        "wind_speed",
        "net_radiation_station",
        "reference_evapotranspiration",
    ]
    # the station's wind is the one at 2 m, which its formulas want
    table = visits.drop(columns="wind_speed").merge(beside[columns], on="segment", validate="one_to_one")
    return table.merge(means[["segment", "surface_temperature"]], on="segment", validate="one_to_one")


def questions_of(files: step.Files) -> list[str]:
    """The questions without their answers, from the files of a step."""
    samples = exercises.sample_to_follow(
        files["worked"], files["segmented"], excluding_flags(files["limits"])
    )
    numbers = exercises.Numbers(
        files["surfaces"], files["differences"], files["worked"], samples, files["classes"]
    )
    return [one.question for one in exercises.questions(numbers)]


def answers_form(made: Sequence[exercises.Question]) -> str:
    """The table in which the questions are answered, as `answers` reads it."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(("who", "question", "quantity", "value", "unit", "uncertainty"))
    for row in exercises.key(made).to_dict("records"):
        unit = expected_unit(row["quantity"]).split(" or ")[0]
        writer.writerow(("", row["question"], row["name"], "", unit, ""))
    return stream.getvalue()
