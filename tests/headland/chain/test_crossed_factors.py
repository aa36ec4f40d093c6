"""Factors exchanged between channels: against other certificates, and against the logger's program."""

import math

import pandas as pd
import pytest

from headland.chain.crossed_factors import LEAST_COPIED, LEFT_COPIED, crossed, exchanged_factors
from headland.physics.constants import RADIATION

FACTORS = {"sw_in": 70.0, "sw_out": 64.0, "lw_in": 100.0, "lw_out": 92.0}


def register(newer=None, older=None, oldest=None):
    """Up to three certificates a channel, the newest in force."""
    rows = []
    for date, values in (("2023-01-01", oldest), ("2024-01-01", older), ("2025-01-01", newer or FACTORS)):
        for channel in RADIATION if values else ():
            rows.append({"channel": channel, "sensor_id": f"S-{channel}", "certificate_date": date,
                         "factor": values[channel], "programmed_factor": math.nan})  # fmt: skip
    return pd.DataFrame(rows)


def codes(table, programmed=None, unit="mV"):
    certificates = table[table["certificate_date"] == "2025-01-01"].copy()
    if programmed:
        certificates["programmed_factor"] = certificates["channel"].map(programmed)
    found = exchanged_factors("curlew", certificates, table, dict.fromkeys(RADIATION, unit))
    return [(one.variant, one.channel) for one in found]


def with_(**changes):
    return FACTORS | changes


@pytest.mark.parametrize("away, seen", [(0.019, False), (0.021, True)])
def test_a_factor_must_be_two_percent_from_its_own_known_value(away, seen):
    known = (100.0, 100.0 * math.exp(away))
    assert crossed((known[1], known[0]), known) == seen


@pytest.mark.parametrize("left, seen", [(0.29, True), (0.31, False)])
def test_less_than_three_tenths_of_the_distance_may_be_left(left, seen):
    """Both factors miss the other's known value by that share of what they miss their own by."""
    d = 0.1
    known = (100.0, 100.0 * math.exp(d))
    miss = left * d / (1.0 + left)  # the way to the other's value, d = miss + way to the own one
    own = (100.0 * math.exp(d - miss), 100.0 * math.exp(miss))
    assert crossed(own, known) == seen


@pytest.mark.parametrize("away, seen", [(0.0049, False), (0.0051, True)])
def test_copied_factors_are_seen_from_half_a_percent(away, seen):
    known = (100.0, 100.0 * math.exp(away))
    assert crossed((known[1], known[0]), known, least=LEAST_COPIED, left=LEFT_COPIED) == seen


def test_an_unknown_factor_is_not_exchanged():
    assert not crossed((math.nan, 100.0), (100.0, 120.0))
    assert not crossed((120.0, 100.0), (100.0, 0.0))


def test_exchanged_against_the_certificate_before():
    swapped = with_(sw_in=64.0, sw_out=70.0)
    assert codes(register(swapped, FACTORS)) == [("serial", "sw_in sw_out")]
    assert codes(register(FACTORS, FACTORS)) == []
    assert codes(register(swapped)) == []


def test_the_latest_of_the_other_certificates_is_the_known_one():
    """The oldest is exchanged as well, and would hide it."""
    swapped = with_(sw_in=64.0, sw_out=70.0)
    assert codes(register(swapped, older=FACTORS, oldest=swapped)) == [("serial", "sw_in sw_out")]
    assert codes(register(FACTORS, older=FACTORS, oldest=swapped)) == []


def test_a_certificate_without_a_factor_or_serial_number_is_none():
    table = register(with_(sw_in=64.0, sw_out=70.0), FACTORS)
    assert codes(table.assign(factor=table["factor"].where(table["certificate_date"] != "2024-01-01"))) == []
    assert codes(table.assign(sensor_id="")) == []


def test_heads_that_share_a_serial_number_are_told_by_their_channel():
    """A whole set may have one; its factors do not differ because another head's are others."""
    sound = register(FACTORS, FACTORS).assign(sensor_id="S-1")
    assert codes(sound) == []
    apart = sound[(sound["certificate_date"] == "2025-01-01") | (sound["channel"] == "lw_out")]
    assert codes(apart) == []
    exchanged = register(with_(sw_in=64.0, sw_out=70.0), FACTORS).assign(sensor_id="S-1")
    assert codes(exchanged) == [("serial", "sw_in sw_out")]


def test_exchanged_in_the_logger_s_program_where_it_stores_fluxes():
    wrong = with_(lw_in=92.0, lw_out=100.0)
    assert codes(register(), wrong, "W m-2") == [("programmed", "lw_in lw_out")]
    assert codes(register(), wrong, "mV") == []
    assert codes(register(), FACTORS, "W m-2") == []


@pytest.mark.parametrize(
    "one, two, seen",
    [
        ("sw_in", "lw_out", True),  # 70 and 92 are 0.27 apart
        ("sw_in", "sw_out", False),  # 70 and 64 are 0.09 apart: no more than one sensor's certificates may be
    ],
)
def test_a_program_of_older_certificates_shows_an_exchange_of_plainly_other_sensors(one, two, seen):
    """The logger has older factors, 3 % off, in the places where the register has them exchanged."""
    programmed = with_(**{one: 1.03 * FACTORS[two], two: 0.97 * FACTORS[one]})
    expected = [("programmed", f"{one} {two}")] if seen else []
    assert codes(register(), programmed, "W m-2") == expected


@pytest.mark.parametrize("off, seen", [(0.0009, True), (0.0011, False)])
def test_a_copy_is_the_other_s_factor_but_for_rounding(off, seen):
    """Sensors of like factors, programmed from older certificates, cross by chance."""
    factors = with_(sw_out=83.6, lw_in=81.7)
    programmed = factors | {"sw_out": 81.7 * (1.0 + off), "lw_in": 83.6}
    assert codes(register(factors), programmed, "W m-2") == [("programmed", "sw_out lw_in")] * seen
