"""Units as exports write them."""

import pytest

from headland.base.units import unit_in, unit_of


@pytest.mark.parametrize(
    "text, unit",
    [
        ("W/m2", "W m-2"),
        ("W m⁻²", "W m-2"),
        ("W/m²", "W m-2"),
        ("[W m^-2]", "W m-2"),
        ("(W·m**-2)", "W m-2"),
        ("mV", "mV"),
        ("MV", "mV"),
        ("°C", "degC"),
        ("hPa", "hPa"),
        ("m/s", "m s-1"),
        ("%", "%"),
        ("lux", ""),
        ("", ""),
    ],
)
def test_a_unit_as_the_project_writes_it(text, unit):
    assert unit_of(text) == unit


@pytest.mark.parametrize(
    "name, below, unit",
    [
        ("SW_in", "mV", "mV"),
        ("SW_in [mV]", "", "mV"),
        ("SW_in (W/m2)", "", "W m-2"),
        ("SW_in_mV", "", "mV"),
        ("SW_in_Wm2", "", ""),
        ("SW_in_W_m2", "", "W m-2"),
        ("SW_in_W_m-2", "", "W m-2"),
        ("T_body_degC", "", "degC"),
        ("T_K", "", "K"),
        ("R_kohm", "", "kohm"),
        # the line of units comes first, then the brackets
        ("SW_in [mV]", "W/m2", "W m-2"),
        ("SW_in [mV]", "Avg", "mV"),
        ("SW_in_uV [mV]", "", "mV"),
        ("SW_in [1] [mV]", "", "mV"),
        ("SW_in", "Avg", ""),
    ],
)
def test_the_unit_of_a_column(name, below, unit):
    assert unit_in(name, below) == unit
