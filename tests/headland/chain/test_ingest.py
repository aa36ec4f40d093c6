"""Step 1: raw files to samples. No published values: files with known content, limiting cases, and real
days.
"""

import csv
import datetime
import io
import random
import time
import tracemalloc
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headland.chain import ingest
from headland.chain.ingest import join_files, middle_of_interval
from headland.files import logger_files, logger_text
from headland.files.logger_files import read_logger_file
from headland.files.logger_stamps import spread_shared_stamps

REAL = Path(__file__).parents[3].parent / "shared" / "real"
CHANNELS = ("sw_in", "sw_out", "lw_in", "lw_out", "body_temperature")
UTC = datetime.timedelta(0)
HEADER = "stamp,a,b,c,d,e\n"
SOUND = "".join(f"2026-05-21 10:00:{second:02d},{second}.5,20,-90.25,3,18.1\n" for second in range(20))


def layout(*columns, **changes):
    """A complete layout: comma-separated, with names; `columns` are those of the five channels."""
    channels = {
        channel: {"column": column, "unit": "mV"}
        for channel, column in zip(CHANNELS, columns or "abcde", strict=True)
    }
    return {
        "delimiter": ",",
        "decimal": ".",
        "encoding": "utf-8",
        "skip_lines": 0,
        "names": True,
        "lines_after_names": 0,
        "missing": ["", "NaN"],
        "interval": 1.0,
        "stamp": "end",
        "channels": channels,
        "time": {"column": "stamp", "format": "%Y-%m-%d %H:%M:%S"},
    } | changes


def read(content, plan=None, utc_offset=UTC, name="logger/heron_1.csv"):
    raw = content if isinstance(content, bytes) else content.encode("utf-8")
    return read_logger_file(
        io.BytesIO(raw), name, "heron", plan or layout(), utc_offset=utc_offset, logger_id="L-07"
    )


def codes(findings):
    return [(finding.code, finding.variant) for finding in findings]


def only(findings, code, variant=""):
    """The one finding there is, which must be this."""
    assert codes(findings) == [(code, variant)]
    assert findings[0].set == "heron" and findings[0].file == "logger/heron_1.csv"
    return findings[0]


def moments(*texts):
    return pd.DatetimeIndex(pd.to_datetime(list(texts), format="ISO8601", utc=True)).as_unit("us")


def time_of(cells, plan_time, **changes):
    """Times read from rows that hold `cells` before five sound channels, by position."""
    rows = "".join(",".join(str(cell) for cell in row) + ",1,2,3,4,5\n" for row in cells)
    first = len(cells[0]) + 1
    return read(rows, layout(*range(first, first + 5), names=False, time=plan_time, **changes))


# Sound files
# ------------------------------------------------------------------------------------------------------


def test_frame_of_a_sound_file():
    frame, findings = read(HEADER + SOUND, utc_offset=datetime.timedelta(hours=2))
    assert findings == []
    assert list(frame) == ["time", *CHANNELS, "file", "line"]
    assert str(frame["time"].dtype) == "datetime64[us, UTC]"
    assert (
        frame["time"].iloc[[0, -1]].tolist()
        == moments("2026-05-21T08:00:00Z", "2026-05-21T08:00:19Z").tolist()
    )
    assert frame["sw_in"].tolist() == [second + 0.5 for second in range(20)]
    assert (frame["lw_in"] == -90.25).all() and frame["lw_in"].dtype == float
    assert frame["line"].tolist() == list(range(2, 22))
    assert set(frame["file"]) == {"logger/heron_1.csv"}


def test_two_thermometers_and_battery():
    plan = layout()
    plan["channels"] = {
        name: {"column": i, "unit": "V"}
        for i, name in enumerate(
            [
                "sw_in",
                "sw_out",
                "lw_in",
                "lw_out",
                "body_temperature_lw_in",
                "body_temperature_lw_out",
                "battery",
            ],
            2,
        )
    }
    frame, findings = read(
        "2026-05-21 10:00:00,1,2,3,4,5,6,12.5\n",
        plan | {"names": False, "time": {"column": 1, "format": "%Y-%m-%d %H:%M:%S"}},
    )
    assert findings == []
    assert frame.loc[0, ["body_temperature_lw_in", "body_temperature_lw_out", "battery"]].tolist() == [
        5,
        6,
        12.5,
    ]


@pytest.mark.parametrize(
    "content, changes",
    [
        (HEADER.replace(",", ";") + "2026-05-21 10:00:00;1,5;2;3;4;5\n", {"delimiter": ";", "decimal": ","}),
        (HEADER.replace(",", "\t") + "2026-05-21 10:00:00\t1.5\t2\t3\t4\t5\n", {"delimiter": "\t"}),
        (
            "two lines\nbefore, the names\n" + HEADER + "unit,mV\n2026-05-21 10:00:00,1.5,2,3,4,5\n",
            {"skip_lines": 2, "lines_after_names": 1},
        ),
        ('"stamp","a","b","c","d","e"\n"2026-05-21 10:00:00","1.5", "2",3,4,5\n', {}),
        (
            'stamp,"a, with a comma",b,c,d,e\n2026-05-21 10:00:00,1.5,2,3,4,5\n',
            {
                "channels": {
                    name: {"column": column, "unit": "mV"}
                    for name, column in zip(CHANNELS, ["a, with a comma", *"bcde"], strict=True)
                }
            },
        ),
        (HEADER + "2026-05-21 10:00:00,+1.5, 2 ,3.0e0,.4e1,5.\n", {}),
        (HEADER + "2026-05-21 10:00:00,1.5,2,3,4,5,\n", {}),
        (HEADER.strip() + ",\n2026-05-21 10:00:00,1.5,2,3,4,5\n", {}),
        ("\ufeff" + HEADER + "2026-05-21 10:00:00,1.5,2,3,4,5", {}),
        (HEADER.replace("\n", "\r\n") + "2026-05-21 10:00:00,1.5,2,3,4,5\r\n", {}),
        (HEADER.replace("\n", "\r") + "2026-05-21 10:00:00,1.5,2,3,4,5\r", {}),
        (
            HEADER.replace(",", "  ") + " 2026-05-21T10:00:00  1.5 2 3\t4 5 \n",
            {"delimiter": "whitespace", "time": {"column": "stamp", "format": "%Y-%m-%dT%H:%M:%S"}},
        ),
        ((HEADER + "2026-05-21 10:00:00,1.5,2,3,4,5\n").encode("utf-16"), {"encoding": "utf-16"}),
        ((HEADER + "2026-05-21 10:00:00,1.5,2,3,4,5\n").encode("utf-16-be"), {"encoding": "utf-16"}),
        (
            (HEADER + "Grad °C\n2026-05-21 10:00:00,1.5,2,3,4,5\n").encode("latin-1"),
            {"encoding": "latin-1", "lines_after_names": 1},
        ),
        (
            (HEADER + "\x96 °C\n2026-05-21 10:00:00,1.5,2,3,4,5\n").encode("latin-1"),
            {"encoding": "cp1252", "lines_after_names": 1},
        ),
    ],
    ids=range(16),
)
def test_ways_of_writing_the_same_row(content, changes):
    frame, findings = read(content, layout(**changes))
    assert findings == []
    assert frame["time"].tolist() == moments("2026-05-21T10:00:00Z").tolist()
    assert frame.loc[0, list(CHANNELS)].tolist() == [1.5, 2, 3, 4, 5]


def test_missing_markers_are_missing_values():
    plan = layout(missing=["", "NaN", "-9999"])
    frame, findings = read(HEADER + SOUND + "2026-05-21 10:00:20,,NaN,nan,-9999.00,-9998\n", plan)
    assert findings == []
    assert np.isnan(frame.iloc[-1][["sw_in", "sw_out", "lw_in", "lw_out"]].astype(float)).all()
    assert frame["body_temperature"].iloc[-1] == -9998
    comma = (HEADER + "2026-05-21 10:00:00,1,2,3,4,-9999,9\n").replace(",", ";").replace("9;9", "9,9")
    frame, findings = read(comma, layout(missing=["-9999.9"], delimiter=";", decimal=","))
    assert findings == [] and np.isnan(frame["body_temperature"][0])


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_written_frame_reads_back(data):
    draw = data.draw
    delimiter, decimal = draw(
        st.sampled_from([(",", "."), (";", ","), (";", "."), ("\t", "."), ("|", ","), ("whitespace", ".")])
    )
    names, quoted = draw(st.booleans()), draw(st.booleans()) and delimiter != "whitespace"
    skipped, after = draw(st.integers(0, 3)), draw(st.integers(0, 2))
    encoding, end = (
        draw(st.sampled_from(["utf-8", "latin-1", "cp1252", "utf-16"])),
        draw(st.sampled_from(["\n", "\r\n"])),
    )
    number = st.one_of(st.floats(-2000, 2000).map(lambda x: x + 0.0), st.none())
    values = draw(st.lists(st.lists(number, min_size=5, max_size=5), min_size=2, max_size=30))
    start = draw(st.datetimes(datetime.datetime(1990, 1, 1), datetime.datetime(2060, 1, 1))).replace(
        microsecond=0
    )
    stamps = [start + datetime.timedelta(seconds=i) for i in range(len(values))]

    def written(value):
        return "NaN" if value is None else repr(value).replace(".", decimal)

    lines = [f"# preamble {i} für alle" for i in range(skipped)]
    lines += ["stamp a b c d e".replace(" ", " " if delimiter == "whitespace" else delimiter)] * names
    lines += [f"units {i}" for i in range(after)]
    for stamp, row in zip(stamps, values, strict=True):
        cells = [stamp.strftime("%Y%m%d/%H%M%S"), *map(written, row)]
        lines.append(
            (" " if delimiter == "whitespace" else delimiter).join(
                f'"{cell}"' if quoted else cell for cell in cells
            )
        )
    columns = "abcde" if names else range(2, 7)
    plan = layout(
        *columns,
        delimiter=delimiter,
        decimal=decimal,
        encoding=encoding,
        skip_lines=skipped,
        names=names,
        lines_after_names=after,
        time={"column": "stamp" if names else 1, "format": "%Y%m%d/%H%M%S"},
    )
    frame, findings = read((end.join(lines) + end).encode(encoding), plan)
    assert findings == []
    expected = np.array(
        [[np.nan if value is None else value for value in row] for row in values], dtype=float
    )
    np.testing.assert_array_equal(frame[list(CHANNELS)].to_numpy(), expected)
    assert frame["time"].tolist() == pd.DatetimeIndex(stamps).tz_localize("UTC").tolist()
    assert frame["line"].tolist() == [skipped + names + after + 1 + i for i in range(len(values))]


# Times
# ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "cells, plan, expected",
    [
        (["21/05/2026 14:05"], {"column": 1, "format": "%d/%m/%Y %H:%M"}, "2026-05-21T14:05:00Z"),
        (
            ["2026-05-21T14:05:06.250Z"],
            {"column": 1, "format": "%Y-%m-%dT%H:%M:%S.%fZ"},
            "2026-05-21T14:05:06.25Z",
        ),
        (["2026-05-21 14:05:06"], {"column": 1, "format": "%Y-%m-%d %H:%M:%S.%f"}, "2026-05-21T14:05:06Z"),
        (["5/21/26 2:05:06 PM"], {"column": 1, "format": "%m/%d/%y %I:%M:%S %p"}, "2026-05-21T14:05:06Z"),
        (["2026-141 14:05"], {"column": 1, "format": "%Y-%j %H:%M"}, "2026-05-21T14:05:00Z"),
        (
            ["2026-05-21 14:05:06+0200"],
            {"column": 1, "format": "%Y-%m-%d %H:%M:%S%z"},
            "2026-05-21T12:05:06Z",
        ),
        (
            ["14:05:06", "21.05.2026"],
            {"columns": [2, 1], "format": "%d.%m.%Y %H:%M:%S"},
            "2026-05-21T14:05:06Z",
        ),
        ([2026, 5, 21, 14, 5], dict(year=1, month=2, day=3, hour=4, minute=5), "2026-05-21T14:05:00Z"),
        (
            [2026, 5, 21, 14, 5, "6.75"],
            dict(year=1, month=2, day=3, hour=4, minute=5, second=6),
            "2026-05-21T14:05:06.75Z",
        ),
        (
            [2026, 141, 14, 5, 6],
            dict(year=1, day_of_year=2, hour=3, minute=4, second=5),
            "2026-05-21T14:05:06Z",
        ),
        ([2026, 141, 1405, 6], dict(year=1, day_of_year=2, hhmm=3, second=4), "2026-05-21T14:05:06Z"),
        ([2026, 141, 5], dict(year=1, day_of_year=2, hhmm=3), "2026-05-21T00:05:00Z"),
        ([2026, 141, "0005"], dict(year=1, day_of_year=2, hhmm=3), "2026-05-21T00:05:00Z"),
        ([2026, 141, 2400], dict(year=1, day_of_year=2, hhmm=3), "2026-05-22T00:00:00Z"),
        ([2024, 366, 2400], dict(year=1, day_of_year=2, hhmm=3), "2025-01-01T00:00:00Z"),
        ([2024, 2, 29, 24], dict(year=1, month=2, day=3, hour=4), "2024-03-01T00:00:00Z"),
        ([2026, "141.25"], dict(year=1, day_of_year=2), "2026-05-21T06:00:00Z"),
        ([2026, 141, "14.5"], dict(year=1, day_of_year=2, hour=3), "2026-05-21T14:30:00Z"),
        ([1779372306], {"column": 1, "unit": "s", "since": "1970-01-01"}, "2026-05-21T14:05:06Z"),
        (
            ["1779372306.125"],
            {"column": 1, "unit": "s", "since": "1970-01-01T00:00:00Z"},
            "2026-05-21T14:05:06.125Z",
        ),
        ([1779372306125], {"column": 1, "unit": "ms", "since": "1970-01-01"}, "2026-05-21T14:05:06.125Z"),
        ([845], {"column": 1, "unit": "min", "since": "2026-05-21"}, "2026-05-21T14:05:00Z"),
        (["14.5"], {"column": 1, "unit": "h", "since": "2026-05-21"}, "2026-05-21T14:30:00Z"),
        (["1.5"], {"column": 1, "unit": "d", "since": "2026-05-20T00:00:00"}, "2026-05-21T12:00:00Z"),
    ],
)
def test_ways_of_writing_a_time(cells, plan, expected):
    frame, findings = time_of([cells], plan)
    assert findings == []
    assert frame["time"].tolist() == moments(expected).tolist()


def test_offset_is_not_applied_where_stamps_carry_their_zone():
    offset = datetime.timedelta(hours=5)
    row = "2026-05-21 10:00:00+0100,1,2,3,4,5\n"
    frame, _ = read(
        HEADER + row, layout(time={"column": "stamp", "format": "%Y-%m-%d %H:%M:%S%z"}), utc_offset=offset
    )
    assert frame["time"][0] == pd.Timestamp("2026-05-21T09:00:00Z")
    since = {"column": "stamp", "unit": "s", "since": "2026-05-21T00:00:00+01:00"}
    frame, _ = read(HEADER + "3600,1,2,3,4,5\n", layout(time=since), utc_offset=offset)
    assert frame["time"][0] == pd.Timestamp("2026-05-21T00:00:00Z")
    frame, _ = read(
        HEADER + "3600,1,2,3,4,5\n", layout(time=since | {"since": "2026-05-21"}), utc_offset=offset
    )
    assert frame["time"][0] == pd.Timestamp("2026-05-20T20:00:00Z")


@pytest.mark.parametrize(
    "bad",
    [
        [16, 5, 21, 1000],
        [2026, 13, 1, 1000],
        [2026, 4, 31, 1000],
        [2025, 2, 29, 1000],
        [2026, 5, 21, 2401],
        [2026, 5, 21, 1060],
        [2026, 5, 21, "10.5"],
        [2026, "5.5", 21, 1000],
        [2026, 5, 21, "NaN"],
        ["", 5, 21, 1000],
        [2026, 5, 0, 1000],
        [2026, 5, -3, 1000],
    ],
)
def test_parts_that_are_no_moment_are_damage(bad):
    good = [[2026, 5, 21, 1000 + minute] for minute in range(5)]
    frame, findings = time_of(
        [*good[:3], bad, *good[3:]], dict(year=1, month=2, day=3, hhmm=4), interval=60.0
    )
    assert codes(findings) == [("row-damaged", "")]
    assert findings[0].line == 4 and findings[0].facts["count"] == 1
    assert frame["line"].tolist() == [1, 2, 3, 5, 6]


@pytest.mark.parametrize(
    "bad",
    [
        "now",
        "today",
        "NaN",
        "",
        "2026-05-21 25:00:00",
        "2026-02-30 10:00:00",
        "0001-01-01 00:00:00",
        "9999-12-31 23:59:59",
        "2026-05-21 10:00",
    ],
)
def test_texts_that_are_no_moment_are_damage(bad):
    lines = SOUND.splitlines(keepends=True)
    frame, findings = read(HEADER + "".join(lines[:5]) + f"{bad},1,2,3,4,5\n" + "".join(lines[5:]))
    assert only(findings, "row-damaged").line == 7
    assert len(frame) == 20


@pytest.mark.parametrize(
    "plan, variant",
    [
        ({"column": 1, "format": "%Q"}, "time-format"),
        ({"column": 1, "format": "%H:%M:%S"}, "time-parts"),
        ({"column": 1, "format": "%Y %H:%M"}, "time-parts"),
        ({"column": 1, "format": "%"}, "time-format"),
        ({"column": 1, "unit": "s", "since": "last week"}, "time-format"),
        ({"year": 1, "day_of_year": 1, "minute": 1}, "time-parts"),
        ({"year": 1, "day_of_year": 1, "hour": 1, "second": 1}, "time-parts"),
    ],
)
def test_a_time_that_no_file_could_fit(plan, variant):
    frame, findings = time_of([["2026"]], plan)
    only(findings, "layout-mismatch", variant)
    assert frame.empty and list(frame) == ["time", *CHANNELS, "file", "line"]


def test_time_format_that_does_not_fit():
    frame, findings = read(HEADER + SOUND, layout(time={"column": "stamp", "format": "%d/%m/%Y %H:%M"}))
    finding = only(findings, "layout-mismatch", "time")
    assert finding.line == 2 and finding.facts == {
        "found": "2026-05-21 10:00:00",
        "expected": "%d/%m/%Y %H:%M",
    }
    assert frame.empty
    _, findings = time_of([["2026", "5"]] * 3, {"column": 2, "unit": "d", "since": "1000-01-01"})
    assert only(findings, "layout-mismatch", "time").facts["found"] == "5"


# Stamps coarser than the interval
# ---------------------------------------------------------------------------------


def second(*texts):
    return moments(*texts).asi8


def test_tenths_of_a_second_with_whole_second_stamps():
    # three rows of the first second, all ten of the next, two of the last
    stamps = second("2026-05-21T10:00:00Z") + 1_000_000 * np.repeat([0, 1, 2], [3, 10, 2])
    spread = (spread_shared_stamps(stamps, 1.0, 0.1) - stamps[0]) / 100_000
    assert spread.tolist() == [7, 8, 9, *range(10, 20), 20, 21]


def test_seconds_with_minute_stamps_and_a_pause():
    rows = [("10:00", 20), ("10:01", 60), ("10:02", 15), ("11:30", 10), ("11:31", 30)]
    text = "".join(f"2026-05-21 {clock},1,2,3,4,5\n" * count for clock, count in rows)
    frame, findings = read(HEADER + text, layout(time={"column": "stamp", "format": "%Y-%m-%d %H:%M"}))
    assert findings == []
    clocks = frame["time"].dt.strftime("%H:%M:%S").tolist()
    assert [clocks[i] for i in (0, 19, 20, 79, 80, 94, 95, 104, 105, 134)] == [
        "10:00:40",
        "10:00:59",
        "10:01:00",
        "10:01:59",
        "10:02:00",
        "10:02:14",
        "11:30:50",
        "11:30:59",
        "11:31:00",
        "11:31:29",
    ]


def test_a_pause_across_a_minute_that_leaves_no_gap_of_stamps():
    stamps = 60_000_000 * np.repeat([0, 1, 2, 3], [60, 30, 20, 60])
    spread = spread_shared_stamps(stamps, 60.0, 1.0) / 1e6
    assert spread[60:110].tolist() == [*range(60, 90), *range(160, 180)]


def test_groups_alone_and_too_full():
    assert spread_shared_stamps(np.zeros(4, dtype=np.int64), 1.0, 0.1).tolist() == [
        0,
        100_000,
        200_000,
        300_000,
    ]
    assert spread_shared_stamps(np.zeros(4, dtype=np.int64), 1.0, 0.5).tolist() == [
        0,
        250_000,
        500_000,
        750_000,
    ]
    untouched = np.array([0, 60_000_000, 120_000_000])
    assert spread_shared_stamps(untouched, 60.0, 1.0).tolist() == untouched.tolist()
    assert spread_shared_stamps(np.array([], dtype=np.int64), 60.0, 1.0).tolist() == []


@pytest.mark.parametrize(
    "plan, cells",
    [
        ({"column": 1, "unit": "s", "since": "2026-05-21"}, [[36000], [36000], [36001], [36001]]),
        (
            {"column": 1, "format": "%Y-%m-%d %H:%M:%S.%f"},
            [[f"2026-05-21 10:00:0{s}.0"] for s in (0, 0, 1, 1)],
        ),
        (
            dict(year=1, month=2, day=3, hour=4, minute=5, second=6),
            [[2026, 5, 21, 10, 0, s] for s in (0, 0, 1, 1)],
        ),
        ({"column": 1, "unit": "h", "since": "2026-05-21"}, [["10.0"], ["10.0"], ["10.1"], ["10.1"]]),
    ],
)
def test_resolution_is_known_from_the_finest_figure(plan, cells):
    interval = {"h": 180.0}.get(plan.get("unit"), 0.5)
    if "%f" in str(plan):
        interval = 0.05
    frame, findings = time_of(cells, plan, interval=interval)
    assert findings == []
    apart = frame["time"].diff().dt.total_seconds().tolist()
    assert apart[1] == interval and apart[3] == interval


def test_printed_decimals_tell_the_resolution():
    """Tenths printed, twenty rows a second: the first tenth began in its middle."""
    for plan, start in (
        ({"column": 1, "unit": "s", "since": "2026-05-21"}, "36000"),
        ({"column": 1, "format": "%Y-%m-%d %H:%M:%S.%f"}, "2026-05-21 10:00:00"),
    ):
        frame, _ = time_of([[f"{start}.{tenth}"] for tenth in (0, 1, 1, 2)], plan, interval=0.05)
        assert (frame["time"].dt.microsecond // 1000).tolist() == [50, 100, 150, 200]


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_partial_seconds_are_put_back(data):
    """Rows stored in runs at 1/m s, their stamps cut off to the second: each run's times come back to
    within a row.
    """
    draw = data.draw
    m = draw(st.integers(2, 20))
    true, at = [], draw(st.integers(0, 50 * m))
    for _ in range(draw(st.integers(1, 6))):
        at += draw(st.integers(2 * m, 200 * m))  # a pause of two seconds or more
        begin = -(-at // m) * m - at  # rows to the next full second
        length = begin + draw(st.integers(1, 8)) * m + draw(st.integers(0, m - 1))
        true += range(at, at + length)
        at += length
    index = np.array(true, dtype=np.int64)
    stamps = index // m * 1_000_000
    spread = spread_shared_stamps(stamps, 1.0, 1 / m)
    assert np.all(np.diff(spread) > 0)
    assert np.array_equal(spread // 1_000_000, stamps // 1_000_000)
    # a run that fills but one second and stands alone can't be told from one that begins at its stamp: it
    # does
    np.testing.assert_allclose(spread, index * 1e6 / m, atol=1)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(1, 25)), min_size=1, max_size=30), st.floats(0.05, 0.9)
)
def test_spread_rows_stay_in_their_second_and_order(groups, interval):
    seconds = np.cumsum([step for step, _ in groups])
    stamps = 1_000_000 * np.repeat(seconds, [count for _, count in groups]).astype(np.int64)
    spread = spread_shared_stamps(stamps, 1.0, interval)
    assert np.array_equal(spread // 1_000_000, stamps // 1_000_000)
    assert np.all(np.diff(spread) >= 0)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(1, 10), min_size=1, max_size=12), st.randoms(use_true_random=False))
def test_runs_of_files_in_any_order_join_to_one_order(counts, rng):
    """Files that each hold a few seconds at 0.1 s, handed over in any order."""
    frames = []
    for i, count in enumerate(counts):
        text = "".join(
            f"2026-05-21 10:{i:02d}:{s:02d},{i},{s},{k},4,5\n" for s in range(count) for k in range(10)
        )
        frames.append(read(HEADER + text, layout(interval=0.1), name=f"{i}.csv")[0])
    rng.shuffle(frames)
    joined, findings = join_files(frames, 0.1, "heron")
    assert findings == []
    assert joined["time"].is_monotonic_increasing and len(joined) == 10 * sum(counts)
    assert joined["sw_in"].is_monotonic_increasing


@pytest.mark.parametrize(
    "stamp, expected", [("start", "10:00:30"), ("end", "09:59:30"), ("instant", "10:00:00")]
)
def test_middle_of_interval(stamp, expected):
    index = moments("2026-05-21T10:00:00Z")
    middle = middle_of_interval(pd.Series(index), stamp, 60.0)
    assert (
        middle.dt.strftime("%H:%M:%S").tolist() == [expected] and str(middle.dtype) == "datetime64[us, UTC]"
    )
    assert middle_of_interval(index, stamp, 60.0).strftime("%H:%M:%S").tolist() == [expected]
    bare = middle_of_interval(np.array(["2026-05-21T10:00:00"], dtype="datetime64[us]"), stamp, 60.0)
    assert str(bare[0])[11:19] == expected


# Identity
# ---------------------------------------------------------------------------------------------------------


def identified(pattern=r"logger (\S+)", line=1):
    return layout(skip_lines=1, identity={"logger_id": {"line": line, "pattern": pattern}})


def test_identity_that_agrees():
    frame, findings = read("# logger L-07 of the fen\n" + HEADER + SOUND, identified())
    assert findings == [] and len(frame) == 20


def test_file_of_another_logger_is_refused():
    frame, findings = read("# logger L-08\n" + HEADER + SOUND, identified())
    finding = only(findings, "pair-broken", "file")
    assert finding.line == 1 and finding.facts == {"found": "L-08", "expected": "L-07"}
    assert frame.empty


@pytest.mark.parametrize("first, line", [("# no name here", 1), ("# logger L-08", 99)])
def test_identity_not_found_is_a_warning(first, line):
    frame, findings = read(first + "\n" + HEADER + SOUND, identified(line=line))
    only(findings, "pair-broken", "not-found")
    assert len(frame) == 20


@pytest.mark.parametrize("pattern", [r"logger L-07", r"(a)\1", r"(?=x)(x)", r"(logger", "\\Q(logger"])
def test_a_pattern_that_can_not_be_used(pattern):
    frame, findings = read("# logger L-07\n" + HEADER + SOUND, identified(pattern))
    if findings and findings[0].code == "pair-broken":
        only(findings, "pair-broken", "not-found")
    else:
        only(findings, "layout-mismatch", "pattern")
        assert frame.empty


@pytest.mark.parametrize(
    "pattern", [r"^(a+)+$", r"((a|aa)+)+$", r"(a*)*b", r"(.*a){20}(b)", r"(\w+\s?)*!", r"(a?){50}a{50}(b)"]
)
def test_no_pattern_hangs(pattern):
    start = time.perf_counter()
    read("a" * 400_000 + "\n" + HEADER + SOUND, identified(pattern))
    assert time.perf_counter() - start < 2.0


# Damage
# -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "bad, reason",
    [
        ("2026-05-21 10:00:07,1,2,3", "4 columns, not 6"),
        ("2026-05-21 10:00:07,1,2,3,4,5,6", "7 columns, not 6"),
        ("2026-05-21 10:00:07,1,x,3,4,5", '"x" (sw_out) is not a number'),
        ("2026-05-21 10:00:07,inf,2,3,4,5", "inf"),
        ("2026-05-21 10:00:07,1e400,2,3,4,5", "1e400"),
        ("2026-05-21 10:00:07,0x10,2,3,4,5", "0x10"),
        ("2026-05-21 10:00:07,1_000,2,3,4,5", "1_000"),
        ("2026-05-21 10:00:07,١,2,3,4,5", "not a number"),
        ("2026-05-21 10:00:07,Infinity,2,3,4,5", "Infinity"),
        ("2026-05-21 10:00:07,1 2,2,3,4,5", "1 2"),
        ("2026-05-21 10:00:07,--1,2,3,4,5", "--1"),
        ("2026-05-21 1o:00:07,1,2,3,4,5", '"2026-05-21 1o:00:07" is not a time'),
        (",1,2,3,4,5", "is not a time"),
        (",,,,,", "is not a time"),
        ('"2026-05-21 10:00:07,1,2,3,4,5', "1 column, not 6"),
        ("\0" * 300, "1 column, not 6"),
        ("x" * 50_000, "1 column, not 6"),
    ],
)
def test_damaged_rows_are_dropped_counted_and_named(bad, reason):
    lines = SOUND.splitlines(keepends=True)
    lines[7:7] = [bad + "\n"]
    frame, findings = read(HEADER + "".join(lines))
    finding = only(findings, "row-damaged")
    assert finding.line == 9 and finding.facts["count"] == 1 and finding.facts["lines"] == "9"
    assert reason in finding.facts["reason"]
    assert len(frame) == 20 and 9 not in frame["line"].tolist()


def test_many_damaged_rows_are_listed_by_the_first_few():
    frame, findings = read(HEADER + SOUND + "garbled\n" * 8 + SOUND)
    finding = only(findings, "row-damaged")
    assert finding.facts["count"] == 8 and finding.facts["lines"] == "22, 23, 24, 25, 26, ..."
    assert len(frame) == 40


def test_bytes_that_are_no_text_damage_their_line_only():
    frame, findings = read((HEADER + SOUND).encode().replace(b"10:00:05,5", b"10:00:05,\xff5"))
    assert "no text" in only(findings, "row-damaged").facts["reason"]
    assert len(frame) == 19


def test_blank_lines_and_a_repeated_header_are_counted_quietly():
    plan = layout(skip_lines=1, lines_after_names=1)
    head = "# preamble\n" + HEADER + "units,mV\n"
    frame, findings = read(head + SOUND + "\n  \n" + head + SOUND.replace("10:00", "10:01") + "\n\n", plan)
    finding = only(findings, "lines-skipped")
    assert finding.facts == {"blank": 2, "repeated": 3}
    assert len(frame) == 40
    assert read(HEADER + SOUND + "\n\n\x1a")[1] == []


@pytest.mark.parametrize(
    "end",
    [
        "2026-05-21 10:0",
        "2026-05-21 10:00:20,1,2",
        "2026-05-21 10:00:20,1,2\n",
        "2026-05-21 10:00:20,1,2,3,4,-",
    ],
)
def test_a_last_line_cut(end):
    frame, findings = read(HEADER + SOUND + end)
    assert only(findings, "file-truncated").line == 22
    assert len(frame) == 20


def test_a_last_line_without_its_end_is_a_row():
    frame, findings = read(HEADER + SOUND.rstrip("\n"))
    assert findings == [] and len(frame) == 20


def test_damage_before_a_cut():
    frame, findings = read(HEADER + SOUND + "garbled\n2026-05-21 10:0")
    assert codes(findings) == [("row-damaged", ""), ("file-truncated", "")]
    assert [finding.line for finding in findings] == [22, 23] and findings[0].facts["count"] == 1


@pytest.mark.parametrize("content", [b"", HEADER, HEADER + "\n\n", "\n", " ", HEADER.strip(), "\0" * 5000])
def test_no_row_of_data(content):
    frame, findings = read(content)
    only(findings, "file-empty")
    assert frame.empty and str(frame["time"].dtype) == "datetime64[us, UTC]" and frame["sw_in"].dtype == float


def test_only_row_cut():
    frame, findings = read(HEADER + "2026-05-21 10:0")
    assert codes(findings) == [("file-truncated", ""), ("file-empty", "")] and frame.empty


# What the layout says and the file is not
# ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    "encoded, declared, fits",
    [
        (("°C\n" + HEADER + SOUND).encode("latin-1"), "utf-8", "latin-1"),
        (("\x96°C\n" + HEADER + SOUND).encode("latin-1"), "utf-8", "cp1252"),
        (("°C\n" + HEADER + SOUND).encode("utf-8"), "latin-1", "utf-8"),
        (("°C\n" + HEADER + SOUND).encode("utf-8"), "ascii", "utf-8"),
        (("°C\n" + HEADER + SOUND).encode("utf-8-sig"), "cp1252", "utf-8"),
        (("°C\n" + HEADER + SOUND).encode("utf-16"), "utf-8", "utf-16"),
        (("°C\n" + HEADER + SOUND).encode("utf-16-be"), "latin-1", "utf-16"),
        (("°C\n" + HEADER + SOUND).encode("utf-8"), "utf-16", "utf-8"),
        (("°C\n" + HEADER + SOUND).encode("latin-1"), "utf-16", "latin-1"),
        (
            ("-\n" + HEADER + SOUND.replace("\n", ",°C\n").replace("10:0", "10:0")).encode("latin-1"),
            "utf-8",
            "latin-1",
        ),
    ],
)
def test_wrong_encoding_is_named(encoded, declared, fits):
    frame, findings = read(encoded, layout(encoding=declared, skip_lines=1))
    assert only(findings, "wrong-encoding").facts == {"declared": declared, "fits": fits}
    assert frame.empty


@pytest.mark.parametrize(
    "content",
    [bytes(range(256)) * 40, b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0 \0\0", random.Random(1).randbytes(9000)],
)
def test_a_binary_file(content):
    frame, findings = read(content)
    only(findings, "wrong-encoding", "binary")
    assert frame.empty


SEMICOLONS = (HEADER + SOUND).replace(",", ";")


@pytest.mark.parametrize(
    "content, changes, expected",
    [
        (SEMICOLONS.replace(".", ","), {"delimiter": ";"}, [("decimal-comma", ".", ",")]),
        (SEMICOLONS, {"delimiter": ";", "decimal": ","}, [("decimal-comma", ",", ".")]),
        (SEMICOLONS, {}, [("wrong-delimiter", '","', '";"')]),
        ((HEADER + SOUND).replace(",", "\t"), {}, [("wrong-delimiter", '","', '"\\t" (a tab)')]),
        (HEADER + SOUND, {"delimiter": "\t"}, [("wrong-delimiter", '"\\t" (a tab)', '","')]),
        (HEADER + SOUND, {"delimiter": "whitespace"}, [("wrong-delimiter", "whitespace", '","')]),
        (
            (HEADER + SOUND).replace(" 10", "T10").replace(",", "  "),
            {"time": {"column": "stamp", "format": "%Y-%m-%dT%H:%M:%S"}},
            [("wrong-delimiter", '","', "whitespace")],
        ),
        (SEMICOLONS.replace(".", ","), {}, [("wrong-delimiter", '","', '";"'), ("decimal-comma", ".", ",")]),
        (SEMICOLONS.replace(".", ","), {"decimal": ","}, [("wrong-delimiter", '","', '";"')]),
    ],
)
def test_another_decimal_mark_or_delimiter_fits(content, changes, expected):
    frame, findings = read(content, layout(**changes))
    assert [(f.code, f.facts["declared"], f.facts["fits"]) for f in findings] == expected
    assert frame.empty


def test_another_delimiter_fits_columns_by_position():
    plan = layout(2, 3, 4, 5, 6, names=False, time={"column": 1, "format": "%Y-%m-%d %H:%M:%S"})
    _, findings = read(SOUND.replace(",", ";"), plan)
    assert only(findings, "wrong-delimiter").line == 1


def test_wrong_delimiter_and_wrong_time_format_are_told_together():
    _, findings = read(SEMICOLONS, layout(time={"column": "stamp", "format": "%d/%m/%Y"}))
    assert codes(findings) == [("wrong-delimiter", ""), ("layout-mismatch", "time")]


def test_all_columns_that_the_file_has_not():
    _, findings = read(HEADER.replace(",b,", ",B1,") + SOUND, layout("a", "b1", "humidity", "d", "e"))
    assert codes(findings) == [("layout-mismatch", "column")] * 2
    first, second_ = findings
    assert (
        first.line == 1 and first.facts["key"] == "channels.sw_out.column" and first.facts["column"] == "b1"
    )
    assert first.facts["hint"] == '; did you mean "B1"?' and second_.facts["hint"] == ""
    assert first.facts["found"] == "stamp, a, B1, c, d, e"


@pytest.mark.parametrize(
    "content, changes, variant, line",
    [
        (HEADER.replace("b", "a") + SOUND, {}, "column-twice", 1),
        (HEADER + SOUND.replace("18.1", "18.1,7"), {}, "columns", 2),
        ("# one\n# two\n" + HEADER + SOUND, {"skip_lines": 1}, "skip-lines", 3),
        (HEADER + SOUND, {"skip_lines": 2}, "skip-lines", 1),
        (HEADER + SOUND.replace(",20,", ",dry,"), {}, "number", 2),
        (HEADER + "a\na,b\na,b,c\n" + "".join(SOUND.splitlines(True)[:2]), {}, "uneven", 5),
    ],
)
def test_layouts_that_do_not_fit(content, changes, variant, line):
    frame, findings = read(content, layout(**changes))
    assert variant in [finding.variant for finding in findings]
    assert findings[0].code == "layout-mismatch" and findings[0].line == line
    assert frame.empty


def test_rows_of_uneven_length():
    plan = layout(2, 3, 4, 5, 6, names=False, time={"column": 1, "format": "%Y-%m-%d %H:%M:%S"})
    content = "".join("2026-05-21 10:00:00" + ",1" * (5 + i % 7) + "\n" for i in range(35))
    assert only(read(content, plan)[1], "layout-mismatch", "uneven").facts["columns"] == 6


def test_a_channel_that_holds_no_numbers():
    _, findings = read(HEADER + SOUND.replace(",20,", ",dry,"))
    finding = only(findings, "layout-mismatch", "number")
    assert finding.channel == "sw_out" and finding.facts == {
        "key": "channels.sw_out.column",
        "column": 3,
        "found": "dry",
    }


def test_position_beyond_the_columns():
    plan = layout(2, 3, 4, 5, 9, names=False, time={"column": 1, "format": "%Y-%m-%d %H:%M:%S"})
    assert only(read(SOUND, plan)[1], "layout-mismatch", "position").facts == {
        "key": "channels.body_temperature.column",
        "position": 9,
        "columns": 6,
    }


def test_positions_need_no_names_that_fit():
    plan = layout(2, 3, 4, 5, 6, time={"column": 1, "format": "%Y-%m-%d %H:%M:%S"})
    frame, findings = read("just a title\n" + SOUND, plan)
    assert findings == [] and len(frame) == 20


def test_rows_that_the_layout_passes_over_are_told():
    frame, findings = read(HEADER + SOUND, layout(lines_after_names=2))
    finding = only(findings, "layout-mismatch", "skipped-rows")
    assert finding.facts == {"count": 2, "lines": "2, 3"} and len(frame) == 18


def test_several_things_wrong_are_told_together():
    plan = identified() | {"delimiter": ";"}
    _, findings = read("# logger L-08\n" + HEADER + SOUND, plan)
    assert codes(findings) == [("pair-broken", "file"), ("wrong-delimiter", "")]


# Whatever the bytes
# -------------------------------------------------------------------------------------------------


PLANS = [
    layout(),
    layout(delimiter="whitespace"),
    layout(delimiter=";", decimal=","),
    identified(),
    layout(encoding="utf-16"),
    layout(encoding="latin-1", skip_lines=1, lines_after_names=1),
    layout(2, 3, 4, 5, 6, names=False, time={"column": 1, "unit": "d", "since": "1899-12-30"}),
    layout(
        1, 2, 3, 4, 5, names=False, missing=[], time=dict(year=1, day_of_year=2, hour=3, minute=4, second=5)
    ),
    layout(
        1,
        1,
        1,
        1,
        1,
        names=False,
        missing=["1e999"],
        time=dict(year=1, month=1, day=1, hhmm=1),
        interval=0.01,
    ),
]
BITS = st.sampled_from(
    [
        b"2026-05-21 10:00:00",
        b"1.5",
        b"-9",
        b"1e400",
        b"NaN",
        b",",
        b";",
        b"\t",
        b" ",
        b"\n",
        b"\r",
        b"\r\n",
        b'"',
        b'""',
        b"\0",
        b"\xff",
        b"\xc3\xa9",
        b"\xef\xbf\xbf",
        b"\xfe\xff",
        b"stamp,a,b,c,d,e\n",
        b"logger L-07",
        b"2026",
        b"12",
        b"now",
        b"\x1a",
        b"2026-05-21 10:00:00,1,2,3,4,5\n",
        b"2026,5,21,10,20\n",
    ]
)


@settings(max_examples=400, deadline=None)
@given(st.one_of(st.binary(max_size=400), st.lists(BITS, max_size=60).map(b"".join)), st.sampled_from(PLANS))
def test_arbitrary_bytes_never_raise(content, plan):
    frame, findings = read(content, plan)
    assert list(frame) == ["time", *CHANNELS, "file", "line"]
    assert str(frame["time"].dtype) == "datetime64[us, UTC]" and frame["time"].notna().all()
    assert not np.isinf(frame[list(CHANNELS)].to_numpy(dtype=float)).any()
    assert len(frame) or findings
    assert frame["line"].is_monotonic_increasing and not frame["line"].duplicated().any()
    joined, more = join_files([frame], plan["interval"], "heron")
    assert list(joined) == list(frame)
    for finding in findings + more:
        for value in finding.facts.values():
            assert isinstance(value, (str, int))
            str(value).encode("utf-8")


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.one_of(BITS, st.binary(max_size=30)).map(lambda raw: raw.replace(b"\n", b"").replace(b"\r", b"")),
        max_size=12,
    ),
    st.data(),
)
def test_each_line_is_a_row_or_counted(rubbish, data):
    """Nothing is dropped silently: lines = rows kept + lines found."""
    lines = [line.encode() for line in (SOUND + SOUND.replace("10:00", "10:01")).splitlines()]
    for line in rubbish:
        lines.insert(data.draw(st.integers(10, len(lines))), line)
    frame, findings = read(HEADER.encode() + b"\n".join(lines))
    counted = {finding.code: finding.facts for finding in findings}
    assert set(counted) <= {"row-damaged", "file-truncated", "lines-skipped"}
    found = counted.get("row-damaged", {}).get("count", 0) + ("file-truncated" in counted)
    skipped = counted.get("lines-skipped", {"blank": 0, "repeated": 0})
    while lines and not lines[-1].strip(b" \t\x1a"):
        lines.pop()  # blank lines at the end of a file are not worth a word
    assert len(lines) == len(frame) + found + skipped["blank"] + skipped["repeated"]


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.sampled_from(
            [
                "%Y",
                "%y",
                "%m",
                "%d",
                "%j",
                "%H",
                "%M",
                "%S",
                "%f",
                "%z",
                "%Z",
                "%p",
                "%b",
                "%a",
                "%I",
                "%U",
                "%G",
                "%V",
                "%u",
                "%c",
                "%x",
                "%X",
                "%%",
                "%s",
                "%E",
                "-",
                ":",
                ".",
                " ",
                "(",
                "[",
                "\\",
                "?P",
                "*",
                "mixed",
                "é",
            ]
        ),
        min_size=1,
        max_size=8,
    ).map("".join),
    st.text(st.sampled_from("0123456789-:. +Z"), max_size=25),
)
def test_no_time_format_raises(form, text):
    frame, findings = read(
        HEADER + f"{text},1,2,3,4,5\n" * 3, layout(time={"column": "stamp", "format": form})
    )
    assert len(frame) or findings


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 300), st.sampled_from(["\n", "\r\n", "\r"]), st.sampled_from(["utf-8", "utf-16"]))
def test_the_size_of_pieces_does_not_matter(size, end, encoding):
    content = (
        (HEADER + SOUND + "garbled\n\n" + SOUND.replace("10:00", "10:01") + "cut")
        .replace("\n", end)
        .encode(encoding)
    )
    plan = layout(encoding=encoding)
    whole, findings = read(content, plan)
    assert len(whole) == 40 and codes(findings) == [
        ("row-damaged", ""),
        ("file-truncated", ""),
        ("lines-skipped", ""),
    ]
    before = logger_text.BLOCK, logger_files.SAMPLE
    logger_text.BLOCK, logger_files.SAMPLE = max(size, 80), 5
    try:
        pieces, again = read(content, plan)
    finally:
        logger_text.BLOCK, logger_files.SAMPLE = before
    pd.testing.assert_frame_equal(pieces, whole)
    assert again == findings


class Endless(io.RawIOBase):
    """A stream of `pieces` blocks that is never in memory as a whole, and remembers the most that was asked
    for.
    """

    def __init__(self, head, block, pieces):
        self.blocks, self.most = iter([head, *[block] * pieces]), 0

    def read(self, size=-1):
        self.most = max(self.most, size) if size >= 0 else 10**12
        return next(self.blocks, b"")


def test_a_large_file_is_read_in_pieces():
    block = (SOUND * 200).encode()
    stream = Endless(HEADER.encode(), block, 30)
    frame, findings = read_logger_file(stream, "n", "s", layout(), utc_offset=UTC, logger_id="L")
    assert stream.most <= logger_text.BLOCK and len(frame) == 30 * 4000 and findings == []
    assert frame["line"].iloc[-1] == 30 * 4000 + 1
    no_end = Endless((HEADER + SOUND).encode(), b"x" * 1_000_000, 60)  # a line of 60 MB
    tracemalloc.start()
    frame, findings = read_logger_file(no_end, "n", "s", layout(), utc_offset=UTC, logger_id="L")
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(frame) == 20 and codes(findings) == [("file-truncated", "")]
    assert most < 20e6


def test_a_day_at_one_a_second_is_read_whole():
    stamps = pd.date_range("2026-05-21", periods=86400, freq="s").strftime("%Y-%m-%d %H:%M:%S")
    content = (
        HEADER.strip()
        + ",f,g,h\n"
        + "".join(f"{stamp},512.345,80.125,-90.250,3.500,18.123,12.600,1.000,2.000\n" for stamp in stamps)
    ).encode()
    frame, findings = read(content)
    assert len(frame) == 86400 and findings == []


# The files of a set
# -----------------------------------------------------------------------------------------------


def frame_of(clocks, name="one.csv", value=1.0, day="2026-05-21"):
    values = np.broadcast_to(np.asarray(value, dtype=float), len(clocks))
    content = HEADER + "".join(
        f"{clock if len(clock) > 8 else day + ' ' + clock},{v},2,3,4,5\n"
        for clock, v in zip(clocks, values, strict=True)
    )
    return read(content, name=name)[0]


def clocks(start, count, step=1):
    first = datetime.datetime.fromisoformat(f"2026-05-21T{start}")
    return [
        (first + datetime.timedelta(seconds=i * step)).strftime("%Y-%m-%d %H:%M:%S") for i in range(count)
    ]


def test_join_sorts_files_by_time():
    joined, findings = join_files(
        [frame_of(clocks("11:00:00", 30), "b.csv"), frame_of(clocks("10:00:00", 30), "a.csv")], 1.0, "heron"
    )
    assert findings == []
    assert (
        joined["time"].is_monotonic_increasing and joined["file"].tolist() == ["a.csv"] * 30 + ["b.csv"] * 30
    )
    assert list(joined.index) == list(range(60))


@pytest.mark.parametrize("frames", [[], [frame_of([])]])
def test_join_of_nothing(frames):
    joined, findings = join_files(frames, 1.0)
    assert joined.empty and findings == [] and str(joined["time"].dtype) == "datetime64[us, UTC]"


def test_a_block_downloaded_twice_is_dropped_and_counted():
    first, second_ = (
        frame_of(clocks("10:00:00", 60), "a.csv", np.arange(60)),
        frame_of(clocks("10:00:40", 60), "b.csv", np.arange(40, 100)),
    )
    joined, findings = join_files([first, second_], 1.0, "heron")
    assert codes(findings) == [("rows-duplicated", "")] and findings[0].facts["count"] == 20
    assert findings[0].set == "heron" and findings[0].file == "b.csv" and findings[0].line == 2
    assert (findings[0].start_utc, findings[0].end_utc) == ("2026-05-21T10:00:40Z", "2026-05-21T10:00:59Z")
    assert joined["sw_in"].tolist() == list(range(100))


def test_a_block_twice_in_one_file_is_no_clock_fault():
    once = clocks("10:00:00", 60)
    joined, findings = join_files([frame_of(once + once[20:] + clocks("10:01:00", 30))], 1.0)
    assert codes(findings) == [("rows-duplicated", "")] and findings[0].facts["count"] == 40
    assert len(joined) == 90


def test_missing_values_are_equal_to_themselves():
    text = HEADER + "2026-05-21 10:00:00,,2,3,4,5\n" * 2
    joined, findings = join_files([read(text)[0]], 1.0)
    assert codes(findings) == [("rows-duplicated", "")] and len(joined) == 1


def test_equal_stamps_with_different_values():
    first, second_ = (
        frame_of(clocks("10:00:00", 30), "a.csv", 1),
        frame_of(clocks("10:00:20", 30), "b.csv", 2),
    )
    joined, findings = join_files([first, second_], 1.0, "heron")
    assert codes(findings) == [("rows-duplicated", "different")] and findings[0].facts["count"] == 10
    assert joined["sw_in"].tolist() == [1] * 30 + [2] * 20


def test_rows_are_taken_by_their_places_in_any_order():
    frames = [
        frame_of(clocks("10:00:00", 5), "b.csv", np.arange(5)),
        frame_of([]),
        frame_of(clocks("09:00:00", 5), "a.csv", np.arange(5, 10)),
    ]
    places, _ = ingest.in_order(frames, 1.0)
    assert places.tolist() == [5, 6, 7, 8, 9, 0, 1, 2, 3, 4]
    taken = ingest.rows_at(frames, np.array([9, 0, 6, 1]))
    assert (
        taken["sw_in"].tolist() == [9, 0, 6, 1]
        and taken["file"].tolist() == ["a.csv", "b.csv", "a.csv", "b.csv"]
        and list(taken.index) == [0, 1, 2, 3]
    )


def test_clock_backwards():
    joined, findings = join_files([frame_of(clocks("10:00:00", 30) + clocks("09:30:00", 30))], 1.0, "heron")
    assert codes(findings) == [("clock-backwards", "")]
    assert findings[0].line == 32 and findings[0].file == "one.csv"
    assert findings[0].facts == {
        "before": "2026-05-21T10:00:29Z",
        "after": "2026-05-21T09:30:00Z",
        "count": 1,
    }
    assert joined["time"].is_monotonic_increasing and len(joined) == 60


def test_clock_backwards_over_the_same_time_with_other_values():
    _, findings = join_files(
        [frame_of(clocks("10:00:00", 60) + clocks("10:00:30", 30), value=np.arange(90))], 1.0
    )
    assert codes(findings) == [("clock-backwards", ""), ("rows-duplicated", "different")]


def test_clock_reset_to_a_default_date():
    stamps = (
        clocks("10:00:00", 30)
        + [stamp.replace("2026-05-21", "2000-01-01") for stamp in clocks("00:00:00", 30)]
        + clocks("11:00:00", 30)
    )
    _, findings = join_files([frame_of(stamps)], 1.0)
    assert codes(findings) == [("clock-reset", "")]
    assert (
        findings[0].line == 32
        and findings[0].facts["count"] == 2
        and findings[0].facts["after"] == "2000-01-01T00:00:00Z"
    )


def test_clock_reset_between_files():
    early = [stamp.replace("2026", "2000") for stamp in clocks("10:00:00", 30)]
    _, findings = join_files([frame_of(clocks("10:00:00", 30), "a.csv"), frame_of(early, "b.csv")], 1.0)
    assert codes(findings) == [("clock-reset", "files")]
    assert findings[0].file == "a.csv" and findings[0].facts["other"] == "b.csv"
    days = [
        frame_of([s.replace("05-21", day) for s in clocks("10:00:00", 30)], day)
        for day in ("05-01", "05-21", "06-11")
    ]
    assert join_files(days, 1.0)[1] == []  # three weeks apart is a course, not a reset


@pytest.mark.parametrize(
    "step, declared, found", [(1, 1.0, None), (2, 1.0, "2"), (1, 2.0, "1"), (60, 1.0, "60"), (1, 1.005, None)]
)
def test_sampling_interval(step, declared, found):
    _, findings = join_files([frame_of(clocks("10:00:00", 50, step))], declared, "heron")
    assert codes(findings) == ([("sampling-interval", "")] if found else [])
    if found:
        assert (
            findings[0].facts == {"found": found, "declared": f"{declared:g}"}
            and findings[0].file == "one.csv"
        )


def test_sampling_interval_with_pauses_and_few_rows():
    pauses = [clock for minute in range(20) for clock in clocks(f"10:{minute:02d}:00", 5)]
    assert join_files([frame_of(pauses)], 1.0)[1] == []
    assert join_files([frame_of(clocks("10:00:00", 5, 60))], 1.0)[1] == []
    minutes = frame_of([clock for hour in range(20) for clock in clocks(f"{hour:02d}:00:00", 3, 60)])
    assert join_files([minutes], 60.0)[1] == []
    assert codes(join_files([minutes], 45.0)[1]) == [("sampling-interval", "")]


def test_sampling_interval_behind_coarse_stamps():
    """Five rows a second where ten are declared: the rows are spread by what the file shows, so that it is
    seen.
    """
    text = HEADER + "".join(
        f"2026-05-21 10:{s // 60:02d}:{s % 60:02d},1,2,{k},4,5\n" for s in range(120) for k in range(5)
    )
    frame, _ = read(text, layout(interval=0.1))
    _, findings = join_files([frame], 0.1)
    assert codes(findings) == [("sampling-interval", "")] and findings[0].facts["found"] == "0.2"


def test_interval_that_stamps_round():
    """1.5 s between rows, stamps in whole seconds: steps of 1 and 2 s are no disagreement."""
    rounded = [frame_of([f"10:{int(1.5 * i) // 60:02d}:{int(1.5 * i) % 60:02d}" for i in range(200)])]
    assert join_files(rounded, 1.5)[1] == []
    assert join_files(rounded, 1.5 * 1.005)[1] == []
    _, findings = join_files(rounded, 1.7)
    assert codes(findings) == [("sampling-interval", "")] and float(
        findings[0].facts["found"]
    ) == pytest.approx(1.5, abs=0.01)
    half_hours = frame_of([f"{i // 2:02d}:{i % 2 * 30:02d}:00" for i in range(48)])
    assert join_files([half_hours], 1800.0)[1] == []
    assert codes(join_files([half_hours], 1750.0)[1]) == [("sampling-interval", "")]


# Real days
# ----------------------------------------------------------------------------------------------------------


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
