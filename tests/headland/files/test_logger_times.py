"""Times in a raw file, as loggers write them."""

import datetime

import pandas as pd
import pytest

from .made_logger import CHANNELS, HEADER, SOUND, codes, layout, moments, only, read, time_of


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
