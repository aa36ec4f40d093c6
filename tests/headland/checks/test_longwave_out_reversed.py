"""Reversed leads of the lower longwave head are named; a crop cooler than the air is not."""

import pytest

from study.made import diagnosed, emission, found, unmade


def net_of(ground: float, body: float) -> float:
    """Net signal, W m-2, of the lower head above ground of a temperature, degC."""
    return float(emission(ground) - emission(body))


def reversed_(said) -> bool:
    return any(code == "sign-reversed" and "lw_out" in channel for code, _, channel in found(said))


@pytest.mark.parametrize("body", [23.0, 27.0])
@pytest.mark.parametrize("cooler", [1.0, 4.0, 6.0])
def test_a_crop_cooler_than_the_air_is_no_reversed_lead(body, cooler):
    said = diagnosed(body=body, lw_out=net_of(20.0 - cooler, body), sw_out=180.0)
    assert not reversed_(said) and "lw_out" not in said.wrong
    assert cooler + body - 20.0 <= 4.0 or ("sign-reversed", "cool-ground") in unmade(said)


def test_without_an_air_temperature_nothing_is_said():
    said = diagnosed(air=float("nan"), body=27.0, lw_out=net_of(8.0, 27.0), sw_out=180.0)
    assert not reversed_(said)


def test_an_air_temperature_of_the_afternoon_makes_no_reversed_lead_in_the_morning():
    """The weather table gives 30 degC, the air is at 20 degC, the crop at 17 degC."""
    assert not reversed_(diagnosed(air=30.0, body=24.0, lw_out=net_of(17.0, 24.0), sw_out=180.0))


def test_hot_dry_ground_with_reversed_leads_is_named():
    said = diagnosed(body=24.0, lw_out=-net_of(40.0, 24.0), sw_out=180.0)
    assert ("sign-reversed", "", "lw_out") in found(said)
    assert not reversed_(diagnosed(body=24.0, lw_out=net_of(40.0, 24.0), sw_out=180.0))
