"""What the register states beside a factor: coverage factors, coefficients, thermometers, and cells that mean
nothing where they are."""

import datetime

import numpy as np
import pytest

from headland.chain import calibrate
from headland.files import user_tables
from headland.physics.constants import RADIATION

HEADER = (
    "set,logger_id,channel,sensor_id,factor,factor_unit,expanded_uncertainty_percent,certificate_date,"
    "coverage_factor,reference,calibration_temperature,temperature_coefficient,window_coefficient"
)
DAY = datetime.date(2026, 5, 21)
ONE = {channel: {"unit": "mV", "column": channel} for channel in (*RADIATION, "body_temperature")}
TWO = {
    channel: {"unit": "mV", "column": channel}
    for channel in (*RADIATION, "body_temperature_lw_in", "body_temperature_lw_out")
}


def chosen(tmp_path, cells, channels=ONE, extra=""):
    """The certificates in force and all findings. cells: the last five columns of every head by channel."""
    lines = [
        f"heron,H-1,{channel},S-{channel},70,W m-2 per mV,3,2025-05-21,{cells.get(channel, ',,,,')}"
        for channel in RADIATION
    ]
    path = tmp_path / "instruments.csv"
    path.write_text("\n".join([HEADER, *lines, *([extra] if extra else [])]) + "\n", encoding="utf-8")
    register, found = user_tables.read_user_table(path, "instruments")
    table, told = calibrate.choose_certificates(register, "heron", "H-1", channels, day=DAY, method="latest")
    return table.set_index("channel"), found + told


def test_cells_reach_the_certificate_in_force(tmp_path):
    cells = {"sw_in": ",Lower Lab,22.5,-1.5,", "lw_in": ",,,,0.004"}
    table, found = chosen(tmp_path, cells)
    assert found == []
    assert table.loc[
        "sw_in", ["reference", "calibration_temperature", "temperature_coefficient"]
    ].tolist() == [
        "Lower Lab",
        22.5,
        -1.5,
    ]
    assert table.loc["lw_in", "window_coefficient"] == 0.004
    rest = table.loc[["sw_out", "lw_out"]]
    assert (
        rest[["calibration_temperature", "temperature_coefficient", "window_coefficient"]]
        .isna()
        .all(axis=None)
    )
    assert (rest["reference"] == "").all()


@pytest.mark.parametrize("k, expanded", [("", 3.0), ("2", 3.0), ("1", 6.0), ("3", 2.0), ("1.96", 3.0612245)])
def test_an_expanded_uncertainty_is_brought_to_k_2(tmp_path, k, expanded):
    table, found = chosen(tmp_path, {"sw_in": f"{k},,,,"})
    assert found == []
    assert table["expanded_uncertainty_percent"].tolist() == pytest.approx([expanded, 3.0, 3.0, 3.0])


@pytest.mark.parametrize(
    "cells, column, allowed",
    [
        ("0.5,,,,", "coverage_factor", "a number from 1 to 4"),
        ("two,,,,", "coverage_factor", "a number with a decimal point"),
        (",,293,,", "calibration_temperature", "a number from -40 to 60 degC"),
        (",,,15,", "temperature_coefficient", "a number from -10 to 10 % per 25 K"),
        (",,,,5", "window_coefficient", "a number from 0 to 0.05"),
        (",,,,-0.001", "window_coefficient", "a number from 0 to 0.05"),
    ],
)
def test_a_cell_out_of_range_is_named_and_not_used(tmp_path, cells, column, allowed):
    table, found = chosen(tmp_path, {"lw_in": cells})
    (finding,) = found
    assert (finding.code, finding.file, finding.line) == ("value-invalid", "instruments.csv", 4)
    assert finding.facts["column"] == column and finding.facts["allowed"] == allowed
    if column in table:
        assert np.isnan(table.loc["lw_in", column])


def test_a_window_coefficient_of_a_shortwave_head_means_nothing(tmp_path):
    table, (finding,) = chosen(tmp_path, {"sw_out": ",,,,0.004"})
    assert (finding.code, finding.line, finding.facts["value"]) == ("value-invalid", 3, "0.004")
    assert finding.facts["allowed"] == "an empty cell: only longwave heads have such a window"
    assert np.isnan(table.loc["sw_out", "window_coefficient"])


def test_a_coverage_factor_without_an_uncertainty_means_nothing(tmp_path):
    extra = "heron,H-1,sw_in,S-1,70,W m-2 per mV,,2020-01-01,2.1,,,,"
    _, (finding,) = chosen(tmp_path, {}, extra=extra)
    assert finding.facts["column"] == "coverage_factor" and finding.line == 6
    assert "expanded_uncertainty_percent" in finding.facts["allowed"]


def test_a_thermometer_has_no_coefficient_of_sensitivity(tmp_path):
    extra = "heron,H-1,body_temperature,T-1,,,,2025-01-01,,,20,1,"
    _, found = chosen(tmp_path, {}, extra=extra)
    assert [finding.facts["column"] for finding in found] == [
        "calibration_temperature",
        "temperature_coefficient",
    ]
    assert all(finding.line == 6 and finding.set == "heron" for finding in found)


def test_whose_thermometer_is_whose(tmp_path):
    one, _ = chosen(tmp_path, {})
    two, _ = chosen(tmp_path, {}, TWO)
    assert one["body_channel"].tolist() == ["", "", "body_temperature", "body_temperature"]
    assert two["body_channel"].tolist() == ["", "", "body_temperature_lw_in", "body_temperature_lw_out"]
