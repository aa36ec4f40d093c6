"""Samples and segments as NetCDF, read back by another reader of the format."""

import io

import numpy as np
import pandas as pd
import pytest
from scipy.io import netcdf_file

from headland.record import netcdf

SITE = {"latitude": 45.9, "longitude": 14.8, "elevation": 310.0}
FIELDS = {
    "samples": [
        {"name": "time_utc", "type": "datetime", "description": "when"},
        {"name": "sw_in", "type": "number", "unit": "W m-2", "description": "incoming shortwave"},
        {"name": "position", "type": "number", "unit": "m", "description": "along the walk"},
    ],
    "segments": [
        {"name": "segment", "type": "string", "description": "name"},
        {"name": "albedo", "type": "number", "description": "albedo"},
        {"name": "albedo_low", "type": "number", "quantity": "albedo", "description": "lower end"},
        {"name": "albedo_high", "type": "number", "quantity": "albedo", "description": "upper end"},
        {"name": "samples", "type": "integer", "unit": "1", "description": "how many"},
    ],
}
STANDARD = {"albedo": "surface_albedo", "sw_in": "surface_downwelling_shortwave_flux_in_air"}
FLAGS = ["missing", "edge", "frozen"]


def frame(start, flags, segments, sw_in):
    times = pd.date_range(start, periods=len(flags), freq="1s", tz="UTC")
    return pd.DataFrame({"time_utc": times, "flags": flags, "segment": segments, "sw_in": sw_in})


@pytest.fixture(scope="module")
def read():
    samples = {
        "heron": frame(
            "2026-05-21T10:00:00", ["", "edge", "edge frozen"], ["", "h1", "h1"], [1.0, 2.0, np.nan]
        ),
        "plover": frame("2026-05-21T11:00:00", ["missing", ""], ["p2", "p2"], [4.0, 5.0]),
    }
    segments = pd.DataFrame(
        {
            "segment": ["h1", "p2"], "field": ["Yard", "Größe"], "surface": ["paving", None],
            "start_utc": pd.to_datetime(["2026-05-21T10:00:01Z", "2026-05-21T11:00:00Z"]),
            "end_utc": pd.to_datetime(["2026-05-21T10:00:03Z", "2026-05-21T11:00:02Z"]),
            "albedo": [0.2, np.nan], "albedo_low": [0.19, np.nan], "albedo_high": [0.21, np.nan],
            "samples": [2, 2],
        }
    )  # fmt: skip
    content = netcdf.dataset(
        samples, segments, fields=FIELDS, standard_names=STANDARD, flags=FLAGS, site=SITE,
        attributes={"title": "A day"},
    )  # fmt: skip
    return netcdf_file(io.BytesIO(content), "r", mmap=False)


def test_samples_are_in_the_order_of_the_sets_with_their_times(read):
    start = pd.Timestamp("2026-05-21T10:00:00Z").timestamp()
    assert read.variables["time"][:] == pytest.approx(start + np.array([0, 1, 2, 3600, 3601]))
    assert read.variables["set"][:].tolist() == [0, 0, 0, 1, 1]
    assert read.variables["set"].flag_meanings == b"heron plover"
    assert read.variables["set"].flag_values.tolist() == [0, 1]
    assert read.variables["sw_in"][[0, 1, 3, 4]].tolist() == [1.0, 2.0, 4.0, 5.0]
    assert read.variables["sw_in"][2] == read.variables["sw_in"]._FillValue
    assert "position" not in read.variables


def test_each_sample_names_its_segment_and_its_flags(read):
    assert read.variables["segment_of_sample"][:].tolist() == [-1, 0, 0, 1, 1]
    assert read.variables["flags"][:].tolist() == [0, 2, 2 + 4, 1, 0]
    assert read.variables["flags"].flag_masks.tolist() == [1, 2, 4]
    assert read.variables["flags"].flag_meanings == b"missing edge frozen"


def test_a_segment_has_its_middle_its_ends_and_its_words(read):
    first = pd.Timestamp("2026-05-21T10:00:01Z").timestamp()
    assert read.variables["segment_time"][:] == pytest.approx([first + 1.0, first + 3600.0])
    assert read.variables["segment_time_bounds"][:].tolist()[0] == [first, first + 2.0]
    words = {
        name: [b"".join(row).decode().rstrip() for row in read.variables[f"segment_{name}"][:]]
        for name in ("name", "field", "surface")
    }
    assert words == {"name": ["h1", "p2"], "field": ["Yard", "Größe"], "surface": ["paving", ""]}


def test_numbers_have_units_standard_names_and_the_ends_of_their_intervals(read):
    albedo = read.variables["segment_albedo"]
    assert albedo[0] == 0.2 and albedo[1] == albedo._FillValue
    assert albedo.units == b"1" and albedo.standard_name == b"surface_albedo"
    assert albedo.ancillary_variables == b"segment_albedo_low segment_albedo_high"
    assert not hasattr(read.variables["segment_samples"], "ancillary_variables")
    assert not hasattr(read.variables["segment_albedo_low"], "ancillary_variables")
    assert read.variables["segment_albedo_low"].standard_name == b"surface_albedo"
    assert read.variables["sw_in"].units == b"W m-2"
    assert read.variables["sw_in"].standard_name == STANDARD["sw_in"].encode()
    assert read.variables["segment_samples"][:].tolist() == [2, 2]
    assert "segment_segment" not in read.variables


def test_the_site_is_where_it_is(read):
    got = {name: float(read.variables[name].data) for name in ("latitude", "longitude", "altitude")}
    assert got == {"latitude": 45.9, "longitude": 14.8, "altitude": 310.0}
    assert (
        read.variables["altitude"].positive == b"up" and read.variables["latitude"].units == b"degrees_north"
    )
    assert read.title == b"A day"


def test_as_many_flags_as_allowed_fit_a_number_of_32_bits():
    flags = [f"f{k}" for k in range(netcdf.MOST_FLAGS)]
    assert 1 << (len(flags) - 1) <= np.iinfo("i4").max < 1 << len(flags)
