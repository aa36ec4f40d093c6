"""Questions from a campaign's own numbers, with answers that the numbers bear out."""

import math
from pathlib import Path

import pandas as pd

from headland.course import exercises
from headland.files.surfaces import surface_classes

CLASSES = surface_classes(Path(__file__).parents[3] / "config" / "surfaces.csv", {})
SURFACES = pd.DataFrame(
    [
        {
            "surface": name,
            "sw_in": 800.0,
            "albedo": albedo,
            "lw_in": 340.0,
            "lw_out": 460.0,
            "surface_temperature": warm,
            "net_radiation": net,
            "net_radiation_common_sky": net,
            "net_radiation_common_sky_low": net - 20,
            "net_radiation_common_sky_high": net + 20,
            "ground_heat": 50.0,
            "sensible_heat": net - 50 - latent,
            "latent_heat": latent,
        }
        for name, albedo, warm, net, latent in (
            ("short_grass", 0.2, 24.0, 540.0, 350.0),
            ("bare_dry_soil", 0.25, 35.0, 440.0, 60.0),
        )
    ]
)
DIFFERENCES = pd.DataFrame(
    [
        {
            "surface_a": "bare_dry_soil",
            "surface_b": "short_grass",
            "quantity": "net_radiation_common_sky",
            "difference": -8.0,
            "difference_low": -12.0,
            "difference_high": -4.0,
            "distinguishable": "true",
        }
    ]
)
WORKED = pd.DataFrame(
    [
        {
            "set": "heron",
            "part": "sample",
            "item": "t",
            "key": key,
            "meaning": meaning,
            "working": "",
            "value": value,
            "unit": unit,
        }
        for key, meaning, value, unit in (
            ("", "shortwave in as logged", 12.0, "mV"),
            ("", "factor of shortwave in", 66.0, "W m-2 per mV"),
            ("calibrate.sw_in", "shortwave in", 792.0, "W m-2"),
            ("calibrate.lw_in_net", "net signal of longwave in", -95.0, "W m-2"),
            ("calibrate.lw_out_net", "net signal of longwave out", 12.0, "W m-2"),
        )
    ]
)
SAMPLES = pd.DataFrame({"sw_in": [800.0, 400.0], "sw_out": [160.0, 100.0]})


def test_every_question_has_an_answer_from_the_numbers():
    made = exercises.questions(exercises.Numbers(SURFACES, DIFFERENCES, WORKED, SAMPLES, CLASSES))
    assert len(made) == 7 and all(row.question.endswith(("?", ".")) and row.answer for row in made)
    answers = " ".join(row.answer for row in made)
    assert (
        "Most: short grass: 540" in answers
        and "8.0 / 800 = 1.00 %" in answers
        and "Ratio of sums: 0.2167. Mean of ratios: 0.2250" in answers
    )
    assert "−95.0 − (12.0) = −107.0" in answers and "shortwave in 792.00" in answers


def test_the_sheet_holds_no_answer():
    made = exercises.questions(exercises.Numbers(SURFACES, DIFFERENCES, WORKED, SAMPLES, CLASSES))
    assert all(row["answer"] == "" for row in exercises.numbered(made, with_answers=False))
    assert all(row["answer"] for row in exercises.numbered(made, with_answers=True))


def test_what_has_no_numbers_is_not_asked():
    bare = SURFACES.assign(
        net_radiation_common_sky=math.nan, surface_temperature=math.nan, latent_heat=math.nan
    )
    nothing = exercises.Numbers(bare, DIFFERENCES.iloc[:0], WORKED.iloc[:0], SAMPLES.iloc[:0], CLASSES)
    assert exercises.questions(nothing) == []


def test_a_few_samples_evenly_from_those_that_count():
    frame = pd.DataFrame({"n": range(10)})
    assert exercises.followed(frame, [n < 2 for n in range(10)], 3)["n"].tolist() == [2, 6, 9]
    assert len(exercises.followed(frame, [True] * 10)) == 0


def test_the_numbers_of_the_sheet_have_labels_and_values():
    made = exercises.questions(exercises.Numbers(SURFACES, DIFFERENCES, WORKED, SAMPLES, CLASSES))
    key = exercises.key(made).set_index("question")
    assert key.index.is_unique and key.loc["4a", "value"] == 0.21666666666666667
    labels = [label for row in exercises.numbered(made, with_answers=False) for label, _ in row["parts"]]
    assert labels == list(key.index)
    assert key.loc["1a", "value"] == 540.0 and key.loc["3a", "value"] == 0.01


def test_a_sample_that_the_report_works_out_is_no_question():
    surface = {"part": "surface", "key": "", "meaning": "", "working": "", "value": 0.0, "unit": ""}
    plover = WORKED.assign(set="plover")
    rows = pd.DataFrame(
        [
            {**surface, "set": "heron", "item": "bare dry soil"},
            {**surface, "set": "plover", "item": "short grass"},
        ]
    )
    both = pd.concat([WORKED, plover, rows], ignore_index=True)
    made = exercises.questions(exercises.Numbers(SURFACES, DIFFERENCES, both, SAMPLES, CLASSES))
    (asked,) = [one.question for one in made if "Work out one sample" in one.question]
    assert (
        "of set heron" in asked
    )  # plover's surface is first on the first page, so the report follows plover
