"""Why a measured flux differs from the estimated one, in words."""

import math

import pandas as pd
import pytest

from headland.chain.beside_words import because, with_reasons

ROW = {
    "way": "plate",
    "quantity": "ground_heat",
    "net_radiation": 400.0,
    "estimated": 40.0,
    "measured": 80.0,
    "gap": 40.0,
    "gap_low": 10.0,
    "gap_high": 70.0,
    "closure": math.nan,
    "bowen_measured": math.nan,
    "bowen_estimated": math.nan,
}


def said(**changes):
    return because(ROW | changes, {})


def test_a_ground_heat_flux_in_parts_of_net_radiation():
    assert said().startswith("20 % of net radiation goes through the ground, and not 10 %: a sparser")
    less = said(measured=20.0, gap=-20.0, gap_low=-30.0, gap_high=-10.0)
    assert less.startswith("5 % of net radiation goes through the ground, and not 10 %: a denser")
    night = said(
        net_radiation=-60.0, estimated=-30.0, measured=-45.0, gap=-15.0, gap_low=-20.0, gap_high=-5.0
    )
    assert night.startswith("75 % of net radiation goes through the ground, and not 50 %: a sparser")


def test_without_an_estimate_or_an_interval_or_a_gap():
    assert said(estimated=math.nan) == (
        "nothing is estimated at these visits, because no textbook fraction holds"
    )
    assert said(gap_low=math.nan, gap_high=math.nan) == "the gap has no interval"
    for ends in ({"gap_low": -1.0}, {"gap_low": 0.0}, {"gap_low": -9.0, "gap_high": 0.0}):
        assert said(**ends) == "no gap beyond the two intervals"
    assert said(way="another_way") == ""


@pytest.mark.parametrize(
    "quantity, gap, word",
    [
        ("sensible_heat", 40.0, "carries more heat than the fractions leave"),
        ("sensible_heat", -40.0, "carries less heat than the fractions leave"),
        ("latent_heat", 40.0, "leaves more for evaporation than the fractions give"),
        ("latent_heat", -40.0, "leaves less for evaporation than the fractions give"),
    ],
)
def test_what_the_wind_carries(quantity, gap, word):
    ends = {"gap": gap, "gap_low": gap - 10.0, "gap_high": gap + 10.0}
    assert word in said(way="bulk_transfer", quantity=quantity, **ends)


def test_bowen_ratios_are_those_of_both_fluxes_of_one_visit():
    """Measured 150 of sensible and 100 of latent heat, estimated 50 and 200: 1.50 and 0.25."""
    pair = [
        ROW | {"segment": "a", "way": "two_heights", "quantity": "sensible_heat", "measured": 150.0,
               "estimated": 50.0},
        ROW | {"segment": "a", "way": "two_heights", "quantity": "latent_heat", "measured": 100.0,
               "estimated": 200.0},
        ROW | {"segment": "b", "way": "two_heights", "quantity": "latent_heat", "measured": 1.0,
               "estimated": 1.0, "gap_low": -1.0},
    ]  # fmt: skip
    told = with_reasons(pd.DataFrame(pair).drop(columns=["bowen_measured", "bowen_estimated"]), {})
    assert told["because"].tolist() == [
        "the measured Bowen ratio is 1.50, and the fractions give 0.25: the surface is drier than its class"
    ] * 2 + ["no gap beyond the two intervals"]
    moister = [one | {"measured": one["estimated"], "estimated": one["measured"]} for one in pair[:2]]
    assert (
        "0.25, and the fractions give 1.50: the surface is moister"
        in (with_reasons(pd.DataFrame(moister), {})["because"].iloc[0])
    )
    of_surfaces = pd.DataFrame(pair[:2]).rename(columns={"segment": "surface"})
    assert with_reasons(of_surfaces, {})["because"].str.contains("1.50").all()


@pytest.mark.parametrize("closure, told", [(0.89, True), (0.91, False), (math.nan, False)])
def test_a_station_that_does_not_close_says_so(closure, told):
    station = said(way="flux_station", quantity="latent_heat", closure=closure, bowen_measured=1.0,
                   bowen_estimated=2.0)  # fmt: skip
    assert ("the station's H + LE is only 0.89 of its net radiation" in station) == told
    assert "only" not in said(closure=0.5)
