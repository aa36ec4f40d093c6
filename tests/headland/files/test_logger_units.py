"""The units of a layout against those that the file gives: one finding with the right remedy, or none."""

import pytest

from .made_logger import HEADER, SOUND, layout, read


def with_units(units, body="degC"):
    channels = layout()["channels"]
    channels["body_temperature"] = {**channels["body_temperature"], "unit": body}
    return read(HEADER + units + "\n" + SOUND, layout(lines_after_names=1, channels=channels))


def found(findings):
    return [(f.code, f.variant, f.channel, f.facts.get("found")) for f in findings]


def test_the_units_of_the_layout_are_silent():
    frame, findings = with_units("-,mV,mV,mV,mV,degC")
    assert len(frame) == 20 and findings == []


def test_another_unit_of_four_channels_is_one_finding():
    frame, findings = with_units("-,uV,uV,uV,uV,degC")
    assert found(findings) == [("layout-mismatch", "unit", "sw_in sw_out lw_in lw_out", "uV")]
    assert len(frame) == 0 and findings[0].line == 2


@pytest.mark.parametrize(
    "unit, variant", [("kOhm", "unit-resistance"), ("K", "unit"), ("°F", "unit-other"), ("mV", "unit-other")]
)
def test_the_unit_of_a_thermometer(unit, variant):
    _, findings = with_units(f"-,mV,mV,mV,mV,{unit}")
    assert [(f.code, f.variant, f.channel) for f in findings] == [
        ("layout-mismatch", variant, "body_temperature")
    ]


def test_kohm_declared_as_ohm_needs_no_other_thermometer():
    _, findings = with_units("-,mV,mV,mV,mV,kOhm", body="ohm")
    assert [(f.variant, f.facts["declared"]) for f in findings] == [("unit", "ohm")]


@pytest.mark.parametrize("line", ["a,b,c,d,e,f", "-,mV,,,,", "free text about the logger"])
def test_a_line_that_gives_no_units_is_left_alone(line):
    frame, findings = with_units(line)
    assert len(frame) == 20 and findings == []
