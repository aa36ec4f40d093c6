"""Calibration: factors and their inverses, the Pt100, certificates and the units a logger may store."""

import datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.chain import calibrate, correct_longwave
from headland.physics import instruments, longwave
from headland.physics.constants import ZERO_CELSIUS

DAY = datetime.date(2026, 5, 21)
REGISTER = [
    "line",
    "set",
    "logger_id",
    "channel",
    "sensor_id",
    "factor",
    "factor_unit",
    "programmed_factor",
    "expanded_uncertainty_percent",
    "certificate_date",
    "response_time_95",
    "instrument_class",
    "coverage_factor",
    "reference",
    "calibration_temperature",
    "temperature_coefficient",
    "window_coefficient",
    "remark",
]


def register(*rows):
    base = {
        "set": "heron",
        "logger_id": "H-1",
        "sensor_id": "S",
        "factor_unit": "W m-2 per mV",
        "programmed_factor": np.nan,
        "expanded_uncertainty_percent": 3.0,
        "response_time_95": 12.0,
        "instrument_class": "B",
        "coverage_factor": np.nan,
        "reference": "",
        "calibration_temperature": np.nan,
        "temperature_coefficient": np.nan,
        "window_coefficient": np.nan,
        "remark": "",
    }
    return pd.DataFrame([{**base, "line": line, **row} for line, row in enumerate(rows, 2)], columns=REGISTER)


def full_register(**changes):
    return register(
        *(
            {"channel": channel, "factor": 70.0, "certificate_date": "2025-05-21", **changes}
            for channel in calibrate.RADIATION
        )
    )


def channels(unit="mV", temperature="degC"):
    return {channel: {"column": channel, "unit": unit} for channel in calibrate.RADIATION} | {
        "body_temperature": {"column": "t", "unit": temperature}
    }


def choose(table, unit="mV", method="latest", day=DAY, logger="H-1"):
    return calibrate.choose_certificates(table, "heron", logger, channels(unit), day=day, method=method)


def codes(findings):
    return [(finding.code, finding.variant) for finding in findings]


@given(st.floats(1.0, 1000.0))
def test_factor_and_responsivity_are_each_other_s_inverse(value):
    assert instruments.factor_from_responsivity(instruments.factor_from_responsivity(value)) == pytest.approx(
        value, rel=1e-12
    )


def test_a_responsivity_of_10_uv_per_w_m2_is_a_factor_of_100():
    assert instruments.factor_from_responsivity(10.0) == 100.0
    # 1 mV is 1000 uV, and 1000 uV at 10 uV per W m-2 are 100 W m-2
    assert calibrate.net_signal(1.0, instruments.factor_from_responsivity(10.0)) == pytest.approx(
        1000.0 / 10.0
    )


@given(st.floats(-500.0, 1500.0), st.floats(5.0, 250.0), st.floats(5.0, 250.0))
def test_rescaling_is_undone_by_the_factors_the_other_way_round(flux, factor, programmed):
    there = calibrate.rescaled(flux, factor, programmed)
    assert calibrate.rescaled(there, programmed, factor) == pytest.approx(flux, rel=1e-9, abs=1e-9)
    assert there == pytest.approx(calibrate.net_signal(flux / programmed, factor), rel=1e-9, abs=1e-9)


THREE = [
    {"channel": "sw_in", "factor": f, "certificate_date": d}
    for f, d in ((60.0, "2022-05-21"), (64.0, "2026-05-01"), (70.0, "2026-06-10"))
]


@pytest.mark.parametrize(
    "day, factor, later",
    [
        ("2026-05-21", 64.0, False),
        ("2026-05-01", 64.0, False),
        ("2026-04-30", 60.0, False),
        ("2026-06-10", 70.0, False),
        ("2020-01-01", 60.0, True),
    ],
)
def test_the_newest_certificate_not_later_than_the_day(day, factor, later):
    chosen = calibrate.certificate_in_force(register(*THREE), datetime.date.fromisoformat(day))
    assert (chosen["factor"], chosen["later"]) == (factor, later)
    assert (
        calibrate.certificate_in_force(register(*reversed(THREE)), datetime.date.fromisoformat(day))["factor"]
        == factor
    )


@pytest.mark.parametrize(
    "day, factor",
    [
        ("2026-05-21", 67.0),  # 20 of the 40 days between 1 May and 10 June
        ("2026-05-01", 64.0),
        ("2026-06-10", 70.0),
        ("2027-01-01", 70.0),
        ("2020-01-01", 60.0),
    ],
)
def test_interpolation_between_certificates_and_none_beyond(day, factor):
    chosen = calibrate.certificate_in_force(register(*THREE), datetime.date.fromisoformat(day), "interpolate")
    assert chosen["factor"] == pytest.approx(factor)


def test_the_register_s_responsivity_gives_the_factor():
    plain, _ = choose(full_register(factor=100.0, programmed_factor=80.0))
    inverse, _ = choose(full_register(factor=10.0, programmed_factor=12.5, factor_unit="uV per W m-2"))
    assert inverse["factor"].tolist() == plain["factor"].tolist() == [100.0] * 4
    assert inverse["programmed_factor"].tolist() == plain["programmed_factor"].tolist() == [80.0] * 4


def test_a_sound_register_is_silent():
    table, findings = choose(full_register())
    assert findings == [] and table["channel"].tolist() == list(calibrate.RADIATION)
    assert table["age_months"].tolist() == pytest.approx([12.0] * 4, abs=0.05)


@pytest.mark.parametrize(
    "changes, unit, expected",
    [
        ({"certificate_date": "2024-05-01"}, "mV", ("certificate-old", "")),
        ({"certificate_date": "2026-05-22"}, "mV", ("certificate-later", "")),
        ({"factor": np.nan}, "mV", ("certificate-missing", "needed")),
        ({"certificate_date": ""}, "mV", ("certificate-missing", "needed")),
        ({"factor_unit": ""}, "mV", ("certificate-missing", "needed")),
        ({"factor": np.nan}, "W m-2", ("certificate-missing", "as-logged")),
        ({"programmed_factor": 68.0}, "W m-2", ("factor-outdated", "")),
        ({"programmed_factor": 62.2}, "W m-2", ("factor-outdated", "")),
        ({"programmed_factor": 62.0}, "W m-2", ("pair-broken", "programmed")),
        ({"programmed_factor": 79.1}, "W m-2", ("pair-broken", "programmed")),
        ({"programmed_factor": 1000.0 / 70.0}, "W m-2", ("factor-outdated", "")),
        ({"programmed_factor": 7.0}, "W m-2", ("factor-outdated", "")),
    ],
)
def test_what_is_wrong_with_the_register_is_found_once_a_channel(changes, unit, expected):
    table, findings = choose(full_register(**changes), unit)
    assert codes(findings) == [expected] * 4
    assert len(table) == 4
    if expected[0] == "certificate-missing":
        assert table["factor"].isna().all() if unit == "mV" else (table["factor"] == 1.0).all()


@pytest.mark.parametrize(
    "programmed, expected", [(70.0, []), (70.06, []), (69.94, []), (70.08, [1]), (69.92, [1])]
)
def test_the_same_programmed_factor_rounded_is_not_worth_a_word(programmed, expected):
    found = choose(full_register(programmed_factor=programmed), "W m-2")[1]
    assert codes(found) == [("factor-outdated", "")] * 4 * len(expected)


def test_exchanged_factors_are_no_other_sensors():
    register = full_register(programmed_factor=70.0)
    lines = {channel: register.index[register["channel"] == channel][0] for channel in ("sw_in", "lw_in")}
    register["programmed_factor"] = register["programmed_factor"].astype(float)
    register.loc[lines["sw_in"], ["factor", "programmed_factor"]] = [70.0, 90.0]
    register.loc[lines["lw_in"], ["factor", "programmed_factor"]] = [90.0, 70.0]
    assert codes(choose(register, "W m-2")[1]) == [("factors-exchanged", "programmed")]


def test_a_logger_that_the_register_pairs_with_another_set_is_named_once():
    _, findings = choose(full_register(), logger="H-2")
    assert codes(findings) == [("pair-broken", "register")]
    assert findings[0].facts == {"found": "H-1", "expected": "H-2"} and findings[0].line == 2


def raw(unit_value, temperature=25.0):
    return pd.DataFrame(
        {
            "time_utc": pd.to_datetime(["2026-05-21T10:00:00Z"]),
            **{c: [unit_value] for c in calibrate.RADIATION},
            "body_temperature": [temperature],
        }
    )


def certificates(factor=70.0, programmed=np.nan):
    return pd.DataFrame(
        [{"channel": c, "factor": factor, "programmed_factor": programmed} for c in calibrate.RADIATION]
    )


def test_millivolts_and_microvolts_give_the_same():
    a = calibrate.calibrate(raw(2.0), channels("mV"), certificates(), "net")
    b = calibrate.calibrate(raw(2000.0), channels("uV"), certificates(), "net")
    assert a["sw_in"].item() == pytest.approx(140.0) and a["lw_out_net"].item() == pytest.approx(140.0)
    pd.testing.assert_frame_equal(a, b)


def test_a_flux_as_logged_is_rescaled_from_the_programmed_factor():
    result = calibrate.calibrate(raw(100.0), channels("W m-2"), certificates(70.0, 56.0), "net")
    assert result["sw_in"].item() == pytest.approx(125.0) and result["lw_in_net"].item() == pytest.approx(
        125.0
    )


def test_a_flux_as_logged_without_a_programmed_factor_stays():
    assert (
        calibrate.calibrate(raw(100.0), channels("W m-2"), certificates(70.0), "net")["sw_out"].item()
        == 100.0
    )


def test_the_logger_s_own_correction_goes_before_the_factor_changes_and_comes_back_after():
    emission = float(longwave.own_emission(25.0 + ZERO_CELSIUS))
    net = -80.0
    samples = raw(net + emission)
    sensed = calibrate.calibrate(samples, channels("W m-2"), certificates(70.0, 56.0), "corrected")
    assert sensed["lw_in_net"].item() == pytest.approx(net * 70.0 / 56.0)
    assert sensed["sw_in"].item() == pytest.approx(
        (net + emission) * 70.0 / 56.0
    )  # shortwave has no own emission
    assert correct_longwave.corrected(sensed)["lw_in"].item() == pytest.approx(net * 70.0 / 56.0 + emission)


def test_corrected_and_net_loggers_end_at_the_same_irradiance():
    emission = float(longwave.own_emission(25.0 + ZERO_CELSIUS))
    a = correct_longwave.corrected(calibrate.calibrate(raw(-80.0), channels("W m-2"), certificates(), "net"))
    b = correct_longwave.corrected(
        calibrate.calibrate(raw(-80.0 + emission), channels("W m-2"), certificates(), "corrected")
    )
    assert a["lw_in"].item() == pytest.approx(b["lw_in"].item()) and a["lw_out"].item() == pytest.approx(
        b["lw_out"].item()
    )


def test_each_head_keeps_its_own_thermometer():
    two = {k: v for k, v in channels().items() if k != "body_temperature"} | {
        "body_temperature_lw_in": {"column": 1, "unit": "degC"},
        "body_temperature_lw_out": {"column": 2, "unit": "K"},
    }
    frame = (
        raw(1.0)
        .drop(columns="body_temperature")
        .assign(body_temperature_lw_in=20.0, body_temperature_lw_out=295.15)
    )
    result = calibrate.calibrate(frame, two, certificates(), "net")
    assert result["body_temperature_lw_in"].item() == 20.0 and result[
        "body_temperature_lw_out"
    ].item() == pytest.approx(22.0)


def test_a_channel_without_a_factor_has_no_values():
    assert np.isnan(calibrate.calibrate(raw(1.0), channels(), certificates(np.nan), "net")["sw_in"].item())


def test_the_measurement_day_is_no_default_date_of_a_clock():
    times = pd.Series(
        pd.to_datetime(
            ["2026-05-21T23:40:00Z", "2026-05-21T23:50:00Z", "2000-01-01T00:00:00Z", "2000-01-01T00:00:10Z"]
        )
    )
    assert calibrate.measurement_day(times) == DAY
    assert calibrate.measurement_day(times.iloc[:0]) == datetime.date.max
    assert choose(full_register(), day=datetime.date.max)[1] == []


def test_age_in_months():
    assert calibrate.age_in_months("2025-05-21", DAY) == pytest.approx(365 / 365.25 * 12)


# Thermometers, and sets that the settings do not have


def thermometers_of(table, *, own=("body_temperature",), unit="ohm", layout=None):
    """The thermometer of each longwave head, and findings. own: columns of the layout."""
    more = {"thermometer": layout} if layout else {}
    body = {column: {"column": column, "unit": unit, **more} for column in own}
    heads = {channel: {"column": channel, "unit": "mV"} for channel in calibrate.RADIATION}
    chosen, found = calibrate.choose_certificates(
        table, "heron", "H-1", heads | body, day=DAY, method="latest"
    )
    return dict(zip(chosen["channel"], chosen["thermometer"], strict=True)), found


def with_thermometer(*rows):
    """The full register and rows of thermometers: channel, text, date."""
    more = [
        {"channel": channel, "thermometer": text, "certificate_date": date, "factor": np.nan}
        for channel, text, date in rows
    ]
    table = pd.concat([full_register().assign(thermometer=""), register(*more).assign(
        thermometer=[text for _, text, _ in rows])], ignore_index=True)  # fmt: skip
    return table.assign(line=range(2, len(table) + 2))


def test_a_resistance_has_the_register_s_latest_thermometer_else_the_layout_s_else_a_pt100():
    none = full_register()
    assert thermometers_of(none, unit="degC")[0]["lw_in"] == ""
    assert thermometers_of(none)[0] == {"sw_in": "", "sw_out": "", "lw_in": "pt100", "lw_out": "pt100"}
    assert thermometers_of(none, layout="pt1000")[0]["lw_out"] == "pt1000"
    known = with_thermometer(("body_temperature", "pt1000", "2024-01-01"))
    assert thermometers_of(known)[0]["lw_in"] == "pt1000"
    assert thermometers_of(known, layout="pt100")[0]["lw_in"] == "pt1000"
    newer = with_thermometer(
        ("body_temperature", "pt100", "2025-01-01"), ("body_temperature", "pt1000", "2024-01-01")
    )
    assert thermometers_of(newer, layout="pt1000")[0]["lw_in"] == "pt100"


def test_each_head_has_its_own_thermometer_where_the_layout_has_two():
    table = with_thermometer(("body_temperature_lw_out", "pt1000", "2024-01-01"))
    own = ("body_temperature_lw_in", "body_temperature_lw_out")
    found = thermometers_of(table, own=own)[0]
    assert (found["lw_in"], found["lw_out"]) == ("pt100", "pt1000")


def test_a_thermometer_that_can_t_be_read_is_named_once_with_its_line():
    table = with_thermometer(("body_temperature", "pt77", "2024-01-01"))
    chosen, findings = thermometers_of(table)
    (one,) = [finding for finding in findings if finding.code == "value-invalid"]
    assert (one.file, one.line, one.facts["column"]) == ("instruments.csv", 6, "thermometer")
    assert one.facts["value"] == "pt77" and chosen["lw_in"] == chosen["lw_out"] == "pt100"


def test_a_misspelt_set_of_the_register_is_named_once_with_all_its_lines():
    table = pd.concat([full_register(), full_register(set="herom"), full_register(set="zz")])
    table = table.assign(line=range(2, len(table) + 2))
    found = calibrate._unknown_sets(table, ["heron", "plover"])
    assert [(f.code, f.line, f.facts["lines"], f.facts["value"]) for f in found] == [
        ("value-invalid", 6, [6, 7, 8, 9], "herom")
    ]
    assert 'did you mean "heron"' in found[0].facts["hint"] and found[0].facts["allowed"] == "heron or plover"
    assert calibrate._unknown_sets(full_register(set=""), ["heron"]) == []
