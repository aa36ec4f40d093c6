"""Answers of the questions, worked out by hand: each number, which surface is meant, what is not asked."""

import pandas as pd
import pytest

from headland.course import exercises
from headland.physics.constants import SIGMA

from .test_exercises import CLASSES, DIFFERENCES, SAMPLES, SURFACES, WORKED


def asked(about, **changes):
    """Answer and numbers of the question that has these words; None where it is not asked."""
    given = {
        "surfaces": SURFACES,
        "differences": DIFFERENCES,
        "worked": WORKED,
        "samples": SAMPLES,
        "classes": CLASSES,
    }
    made = [one for one in exercises.questions(exercises.Numbers(**given | changes)) if about in one.question]
    assert len(made) < 2
    return (made[0].answer, {part.name: part.value for part in made[0].parts}) if made else None


def test_the_surface_that_is_least_black_is_taken_as_black():
    """460 W m-2 are what a black surface of 27 degC emits."""
    answer, numbers = asked("emissivity 1")
    emissivity = {name: CLASSES[name]["emissivity"]["value"] for name in SURFACES["surface"]}
    assert emissivity["bare_dry_soil"] < emissivity["short_grass"]
    assert (
        numbers["black"] == pytest.approx((460.0 / SIGMA) ** 0.25 - 273.15) and 26.0 < numbers["black"] < 28.0
    )
    assert answer.startswith(
        f"From 35.00 °C (emissivity {emissivity['bare_dry_soil']:g}) to {numbers['black']:.2f} °C"
    )
    cooler = SURFACES.assign(surface_temperature=[24.0, float("nan")])
    assert asked("emissivity 1", surfaces=cooler)[0].startswith("From 24.00 °C")


def test_most_and_least_are_told_with_what_decides():
    """Five hundredths of 800 W m-2 are 40; bodies of 35 and 24 degC emit 511 and 442 W m-2."""
    answer, numbers = asked("gains most")
    assert numbers == {"most": 540.0, "least": 440.0}
    assert (
        "Most: short grass: 540 [520, 560] W m⁻², albedo 0.200, 24.0 °C. Least: bare dry soil: 440 [420, 460]"
        in answer
    )
    emitted = SIGMA * (308.15**4 - 297.15**4)
    assert f"the albedo makes about 40 W m⁻² and the temperature about {emitted:.0f} W m⁻²" in answer
    dark = SURFACES.assign(albedo=float("nan"))
    assert "decides" not in asked("gains most", surfaces=dark)[0].partition("same for both.")[2]
    assert asked("gains most", surfaces=SURFACES[:1], differences=DIFFERENCES[:0]) is None


def pair(difference, quantity="net_radiation_common_sky", other="bare_dry_soil", **changes):
    return (
        DIFFERENCES.iloc[0].to_dict()
        | {"difference": difference, "quantity": quantity, "surface_a": other}
        | changes
    )


def test_the_pair_that_is_closest_is_asked_about():
    rows = pd.DataFrame(
        [
            pair(-30.0),
            pair(6.0, distinguishable="false"),
            pair(1.0, "albedo"),
            pair(2.0, difference_low=float("nan")),
        ]
    )
    surfaces = SURFACES.assign(sw_in=[700.0, 800.0])
    answer, numbers = asked("closest together", differences=rows, surfaces=surfaces)
    assert answer.startswith(
        "The difference is 6.0 [−12.0, −4.0] W m⁻² under the common sky: no, zero is inside"
    )
    assert "6.0 / 750 = 0.80 %" in answer and numbers["share"] == pytest.approx(6.0 / 750.0)
    assert "yes, zero is outside" in asked("closest together")[0]
    assert asked("closest together", differences=rows[2:]) is None


def test_without_both_net_signals_nobody_asks_for_the_missing_correction():
    answer, numbers = asked("forgets to add")
    assert numbers == {"difference": -107.0} and "−95.0 − (12.0) = −107.0" in answer
    assert asked("forgets to add", worked=WORKED[WORKED["key"] != "calibrate.lw_out_net"]) is None


@pytest.mark.parametrize("dim, count", [(50.0, None), (50.1, 2)])
def test_ratios_are_of_samples_with_more_than_50_of_sun(dim, count):
    found = asked(
        "average the ratios", samples=pd.DataFrame({"sw_in": [800.0, dim], "sw_out": [160.0, 25.05]})
    )
    assert (found is None) == (count is None)
    if found:
        assert found[1]["albedo"] == pytest.approx(185.05 / 850.1)
        assert found[1]["mean of ratios"] == pytest.approx(0.35)


def test_wet_and_dry_are_those_of_most_and_least_evaporation():
    answer, _ = asked("Where does the energy go")
    assert (
        "short grass: Q* 540 = H 140 + LE 350 + G 50; bare dry soil: Q* 440 = H 330 + LE 60 + G 50" in answer
    )
    assert (
        asked("Where does the energy go", surfaces=SURFACES.assign(ground_heat=[50.0, float("nan")])) is None
    )


def test_a_sample_by_hand_lists_what_was_stored_and_the_terms():
    stored = WORKED.iloc[0].to_dict()
    more = pd.DataFrame(
        [
            stored | {"meaning": "body temperature", "value": 21.456, "unit": "degC"},
            stored | {"meaning": "wind", "value": 3.0},
        ]
    )
    answer, numbers = asked("Work out one sample", worked=pd.concat([WORKED, more], ignore_index=True))
    assert (
        answer == "In W m⁻²: shortwave in 792.00; net signal of longwave in −95.00; "
        "net signal of longwave out 12.00."
    )
    assert numbers["shortwave in"] == 792.0
    (question,) = [
        one.question
        for one in exercises.questions(
            exercises.Numbers(
                SURFACES, DIFFERENCES, pd.concat([WORKED, more], ignore_index=True), SAMPLES, CLASSES
            )
        )
        if "Work out one sample" in one.question
    ]
    assert (
        "shortwave in as logged 12.0000 mV and body temperature 21.46 °C. "
        "Factors in W m⁻² per mV: shortwave in 66.00." in question
    )
    assert "wind" not in question


@pytest.mark.parametrize(
    "count, places", [(1, [0]), (2, [0, 9]), (4, [0, 3, 6, 9]), (10, range(10)), (12, range(10))]
)
def test_samples_are_followed_evenly_from_the_first_to_the_last(count, places):
    """Of fewer samples than are asked for each is there once."""
    frame = pd.DataFrame({"n": range(10)})
    assert exercises.followed(frame, [False] * 10, count)["n"].tolist() == list(places)


def test_numbers_of_the_sheet_are_lettered():
    assert [exercises.label(0, 0), exercises.label(2, 1), exercises.label(9, 25), exercises.label(0, 26)] == [
        "1a",
        "3b",
        "10z",
        "1a",
    ]
    segment = {"part": "segment", "set": "heron", "item": "s1"}
    frame = pd.DataFrame(
        {"segment": ["s1"] * 6 + ["s2"], "flags": ["edge", "", "", "", "", "", ""], "sw_in": range(7)}
    )
    found = exercises.sample_to_follow(pd.DataFrame([segment]), {"heron": frame}, {"edge"})
    assert found["sw_in"].tolist() == [1, 2, 4, 5]
    assert len(exercises.sample_to_follow(pd.DataFrame([segment])[:0], {}, set())) == 0
