"""The sixth page: what is followed, and the working of each step, by hand."""

import pandas as pd
import pytest

from headland.report import page_one_number, worked, worked_segment
from headland.report.differences import COMMON

from .test_words_of_later_pages import NAN


def test_the_set_is_followed_whose_surface_ranks_highest():
    assert page_one_number.followed_set({"heron": "c", "teal": "a", "rail": "a"}, ["b", "a", "c"]) == "teal"
    assert page_one_number.followed_set({"heron": "z", "teal": "c"}, ["b", "a", "c"]) == "teal"
    assert page_one_number.followed_set({}, ["a"]) == ""


@pytest.mark.parametrize(
    "value, shown", [(9.9999, "9.9999"), (10.0, "10.00"), (-9.5, "−9.5000"), (-10.5, "−10.50"), (NAN, "–")]
)
def test_small_values_have_four_decimals(value, shown):
    assert page_one_number.shown(value, "W m-2") == shown


def test_the_mean_of_a_surface_by_hand_is_weighted_and_lists_eight():
    def of(count):
        means = pd.DataFrame(
            {
                "activity": "walk",
                "weight": [100.0, *[300.0] * (count - 1)],
                COMMON: [500.0 + n for n in range(count)],
            }
        )
        (row,) = worked_segment.of_surface(
            "short grass", pd.concat([means, means[:1].assign(weight=0.0), means[:1].assign(**{COMMON: NAN})])
        )
        return row

    two = of(2)
    assert (
        two["value"] == pytest.approx(500.75)
        and two["working"] == "weighted by the samples used: 500.0, 501.0"
    )
    assert two["meaning"] == "short grass: mean under the common sky of 2 segments"
    assert of(8)["working"].endswith("506.0, 507.0") and of(9)["working"].endswith("506.0, …")
    assert (
        worked_segment.of_surface("x", pd.DataFrame({"activity": ["dark"], "weight": 1.0, COMMON: 1.0})) == []
    )


BALANCE = {
    "fraction": 0.1,
    "offset": 0.0,
    "split": "evaporative_fraction",
    "coefficient": 0.5,
    "day": True,
    "pressure": 1000.0,
    "air_temperature": 20.0,
}


def workings(**changes):
    return {
        row["key"]: (row["meaning"], row["working"])
        for row in worked_segment.of_balance(400.0, BALANCE | changes)
    }


def test_each_step_of_a_balance_shows_its_numbers():
    found = workings()
    assert found["balance.ground_heat"] == ("ground heat (estimate)", "0.100 × 400.00")
    assert found["balance.latent_heat"] == ("latent heat (estimate)", "0.5 × 360.00")
    assert found["balance.sensible_heat"] == ("sensible heat (estimate)", "400.00 − 40.00 − 180.00")
    assert found["balance.evaporation"][1] == "3600 × 180.00 / (2.454 × 10⁶)"
    assert found["balance.bowen_ratio"][1] == "180.00 / 180.00"
    assert workings(offset=-20.0)["balance.ground_heat"][1] == "0.100 × 400.00 + −20.00"
    assert workings(split="none")["balance.latent_heat"][1] == "a dry surface: nothing evaporates"
    assert workings(method="plate")["balance.plate"][0] == "ground heat (measured)"
    green = workings(split="de_bruin_holtslag", coefficient=NAN)[""]
    assert green == ("psychrometric constant γ", "at 1000.0 hPa")
    latent = workings(split="de_bruin_holtslag", coefficient=NAN)["balance.latent_heat"][1]
    assert latent.startswith("1 × 0.1447 / (0.1447 + 0.066") and latent.endswith("× 360.00 + 20")
    assert workings(split="priestley_taylor", coefficient=1.26)["balance.latent_heat"][1].startswith(
        "1.26 × 0.1447 /"
    )
    bulk = workings(split="bulk_transfer", coefficient=1.0, latent_offset=-150.0)
    assert bulk["balance.latent_heat"] == ("latent heat (measured)", "360.00 − 150.00 (bulk transfer)")
    assert set(workings(split="not_estimated")) == {"balance.ground_heat"}


@pytest.mark.parametrize("speed, guarded", [(0.8, True), (0.0, False)])
def test_the_share_of_the_view_within_the_guard_is_of_walks(speed, guarded):
    samples = pd.DataFrame({"x": range(60)})
    rows = worked_segment._counted(samples, samples[:45], {"notes_row": 7, "speed": speed, "height": 1.5})
    assert [row["value"] for row in rows] == [60.0, *[pytest.approx(0.9)] * guarded, 45.0]
    assert (
        rows[0]["working"] == "line 7 of the notes"
        and rows[-1]["working"] == "60 − 15 at the edges or flagged"
    )
    assert not guarded or rows[1]["working"] == "4.50² / (4.50² + 1.50²)"


@pytest.mark.parametrize(
    "changes, chosen",
    [
        ({}, "b1"),
        ({"latent_heat": [1.0, NAN, NAN, 1.0]}, "a1"),
        ({COMMON: [500.0, 600.0, NAN, 450.0]}, "b1"),
        ({"samples_used": [50, 60, 60, 50]}, "b1"),
        ({"weight": [1.0, 0.0, 1.0, 1.0]}, "b2"),
        ({"activity": ["walk", "dark", "dark", "walk"]}, "a1"),
    ],
)
def test_the_segment_that_is_followed_is_whole_of_the_brightest_surface_and_longest(changes, chosen):
    table = pd.DataFrame(
        {
            "segment": ["a1", "b1", "b2", "a2"],
            "set": "heron",
            "surface": ["a", "b", "b", "a"],
            "activity": "walk",
            "weight": 1.0,
            "samples_used": [90, 70, 60, 80],
            COMMON: [500.0, 600.0, 600.0, 450.0],
        }
    )
    changes = {"latent_heat": [1.0, 1.0, 1.0, 1.0]} | changes
    balances = table[["segment"]].assign(latent_heat=changes.pop("latent_heat"))
    assert worked.chosen_segment(table.assign(**changes), balances, "heron") == chosen
