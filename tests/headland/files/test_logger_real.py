"""Raw files of real days."""

import csv

import pandas as pd
import pytest

from headland.chain.ingest import join_files, middle_of_interval
from headland.files.logger_files import read_logger_file

from .made_logger import CHANNELS, REAL, UTC, layout, moments


def real(name, plan):
    path = REAL / name
    if not path.is_file():
        pytest.skip(f"{path.name} is not there")
    with path.open("rb") as stream:
        frame, findings = read_logger_file(stream, name, "real", plan, utc_offset=UTC, logger_id="L")
    joined, more = join_files([frame], plan["interval"], "real")
    assert findings == [] and more == [] and len(joined) == len(frame)
    return joined


def window(frame, first, last):
    return frame[frame["time"].dt.strftime("%H:%M").between(first, last)].mean(numeric_only=True)


def channels(**columns):
    return {name: {"column": column, "unit": "W m-2"} for name, column in columns.items()}


def test_real_valley():
    """SURFRAD, Alamosa 2016-01-01. Means of stamps 18:37 to 19:36 (README there), half of the last figure
    printed.
    """
    plan = layout(
        delimiter="whitespace",
        skip_lines=2,
        names=False,
        missing=["-9999.9"],
        interval=60.0,
        time=dict(year=1, month=3, day=4, hour=5, minute=6),
        channels=channels(
            sw_in=9, sw_out=11, lw_in=17, lw_out=23, body_temperature_lw_in=19, body_temperature_lw_out=25
        ),
    )
    frame = real("valley_1min/slv16001.dat", plan)
    assert len(frame) == 1440 and frame["line"].iloc[[0, -1]].tolist() == [3, 1442]
    assert (
        frame["time"].iloc[[0, -1]].tolist()
        == moments("2016-01-01T00:00:00Z", "2016-01-01T23:59:00Z").tolist()
    )
    expected = {
        "sw_in": 577.1,
        "sw_out": 100.6,
        "lw_in": 183.3,
        "lw_out": 330.5,
        "body_temperature_lw_in": -3.7,
        "body_temperature_lw_out": -5.4,
    }
    means = window(frame, "18:37", "19:36")
    for name, value in expected.items():
        assert means[name] == pytest.approx(value, abs=0.05), name
    frame = real("valley_1min/slv16001.dat", plan | {"channels": plan["channels"] | channels(battery=29)})
    assert frame["battery"].isna().all()  # a column of -9999.9


@pytest.mark.parametrize(
    "first, last, sw_in, sw_out, lw_in, lw_out, body",
    [
        ("18:30", "19:00", 324.2, 58.3, 409.4, 454.6, 27.1),
        ("20:30", "21:00", 890.1, 151.3, 393.5, 486.4, 31.0),
    ],
)
def test_real_crop(first, last, *, sw_in, sw_out, lw_in, lw_out, body):
    """Lamont 2019-06-01, half hours (README there)."""
    plan = layout(
        interval=1800.0,
        time={"column": "time_utc", "format": "%Y-%m-%d %H:%M:%S"},
        channels=channels(
            sw_in="sw_in_W_m2",
            sw_out="sw_out_W_m2",
            lw_in="lw_in_W_m2",
            lw_out="lw_out_W_m2",
            body_temperature="body_temp_degC",
            battery="battery_V",
        ),
    )
    frame = real("crop_30min/radiation_and_soil.csv", plan)
    assert len(frame) == 48
    means = window(frame, first, last)
    assert means[list(CHANNELS)].tolist() == pytest.approx([sw_in, sw_out, lw_in, lw_out, body], abs=0.05)
    middle = middle_of_interval(frame["time"], "end", 1800.0)
    assert middle[0] == pd.Timestamp("2019-05-31T23:45:00Z")


def test_real_pasture():
    """Lamont 2019-01-01, minutes; compared with a plain reading of the same columns."""
    names = {
        "sw_in": "sw_in_W_m2",
        "sw_out": "sw_out_W_m2",
        "lw_in": "lw_in_net_signal_W_m2",
        "lw_out": "lw_out_net_signal_W_m2",
        "body_temperature_lw_in": "lw_in_case_temp_K",
        "body_temperature_lw_out": "lw_out_case_temp_K",
    }
    plan = layout(
        interval=60.0, time={"column": "time_utc", "format": "%Y-%m-%d %H:%M:%S"}, channels=channels(**names)
    )
    frame = real("pasture_1min/radiation_1min.csv", plan)
    with (REAL / "pasture_1min/radiation_1min.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(frame) == len(rows) == 1440
    for channel, name in names.items():
        assert frame[channel].tolist() == [float(row[name]) for row in rows]
    assert frame["time"].dt.strftime("%Y-%m-%d %H:%M:%S").tolist() == [row["time_utc"] for row in rows]
