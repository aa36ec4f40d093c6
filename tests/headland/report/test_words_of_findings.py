"""Sentences and cells of the seventh page: findings, checks that could not be made, sets side by side."""

import math

import pandas as pd
import pytest

from headland.report import page_findings

NAN = math.nan


def check(**changes):
    usual = {
        "severity": "error",
        "code": "own-shade",
        "step": "segment",
        "remedy": "Look.",
        "what": "Seen.",
        "file": "notes.csv",
        "line": 4.0,
        "set": "heron",
        "channel": "",
        "start_utc": pd.NaT,
        "end_utc": pd.NaT,
    }
    return usual | changes


@pytest.mark.parametrize("count, listed, more", [(1, 1, 0), (4, 4, 0), (5, 3, 2), (9, 3, 6)])
def test_of_many_findings_of_one_kind_three_are_listed(count, listed, more):
    checks = pd.DataFrame([check(line=float(n), what=f"Seen {n}.") for n in range(2, 2 + count)])
    (row,) = page_findings.findings_table(checks)["rows"]
    lines = row[2]["text"].split("\n")
    assert lines[0] == "notes.csv, line 2, heron: Seen 2." and len(lines) == listed + bool(more)
    assert not more or lines[-1] == f"{more} more like these in checks.csv."
    assert (row[0]["text"], row[0]["severity"]) == ("error", "severity-error")
    assert (row[1]["text"], row[1]["below"], row[3]["text"]) == ("own-shade", "segment", "Look.")
    errors = page_findings.errors(checks)
    assert [one["count"] for one in errors] == [1] * listed + ([more] if more else [])
    assert not more or errors[-1]["what"] == f"{more} more like these; the findings give each."
    assert not more or errors[-1]["where"] == (
        f"notes.csv, lines {', '.join(str(n) for n in range(5, 2 + count))}, heron"
    )


def test_the_same_words_of_several_places_are_one_line_with_their_times():
    start = pd.Timestamp("2026-05-21 10:00:30", tz="UTC")
    end = start + pd.Timedelta(minutes=5)
    checks = pd.DataFrame([check(start_utc=start, end_utc=end), check(line=7.0, start_utc=start), check()])
    (row,) = page_findings.findings_table(checks)["rows"]
    assert row[2]["text"] == "notes.csv, line 4, heron; notes.csv, line 7, heron: Seen."
    assert row[2]["below"] == "2026-05-21 10:00:30 to 2026-05-21 10:05:30; 2026-05-21 10:00:30"


@pytest.mark.parametrize("key", ["severity", "code", "step", "remedy"])
def test_findings_of_other_kinds_have_rows_of_their_own_up_to_fourteen(key):
    checks = pd.DataFrame([check(**{key: f"k{n}"}) for n in range(15)])
    assert len(page_findings.findings_table(checks)["rows"]) == 14
    assert len(page_findings.findings_table(checks[:3])["rows"]) == 3


@pytest.mark.parametrize("key", ["code", "file", "set", "channel", "remedy"])
def test_errors_of_other_kinds_are_listed_apart(key):
    checks = pd.DataFrame([check(**{key: f"k{n}"}) for n in range(6)] + [check(severity="warning")])
    assert len(page_findings.errors(checks)) == 6


def test_fifty_lines_of_a_file_are_named():
    for count, more in ((53, ""), (54, ", and 1 more")):
        checks = pd.DataFrame([check(line=float(n), set="") for n in range(1, count + 1)])
        where = page_findings.errors(checks)[-1]["where"]
        assert where == f"notes.csv, lines {', '.join(str(n) for n in range(4, 54))}{more}"
    nowhere = pd.DataFrame([check(line=NAN, set="", channel="sw_in")] * 6)
    assert page_findings.errors(nowhere)[-1]["where"] == "notes.csv, sw_in"


@pytest.mark.parametrize(
    "changes, said",
    [
        ({"code": "no-segment"}, "every number: there is none"),
        ({}, "the segment of this row of the notes of set heron, its field and its surface"),
        ({"line": 1.0}, "every number of set heron"),
        ({"line": NAN, "set": ""}, "every number"),
        (
            {"step": "screen", "channel": "lw_out", "set": ""},
            "outgoing longwave, surface temperature, net radiation and what is estimated from it",
        ),
        (
            {"step": "screen", "channel": "body_temperature"},
            "both longwave terms and the surface temperature of set heron",
        ),
    ],
)
def test_which_numbers_an_error_concerns(changes, said):
    assert page_findings.concerned(check(**changes)) == said


@pytest.mark.parametrize(
    "changes, said",
    [
        ({}, "notes.csv, line 4, heron"),
        ({"line": NAN}, "notes.csv, heron"),
        ({"file": ""}, "heron"),
        ({"file": "", "set": "", "channel": "sw_in lw_in"}, "sw_in lw_in"),
        ({"file": "", "set": ""}, "–"),
    ],
)
def test_where_a_finding_is(changes, said):
    assert page_findings.place(check(**changes)) == said


def test_checks_that_could_not_be_made_by_reason_with_their_channels_and_sets():
    rows = [
        ("x", "no-beam", "heron", "sw_in"),
        ("x", "no-beam", "teal", "sw_in lw_in"),
        ("y", "no-beam", "heron", ""),
        ("z", "dry", "", "sw_in sw_out lw_in lw_out"),
        ("x", "dry", "teal", ""),
    ]
    table = pd.DataFrame(rows, columns=["code", "reason", "set", "channel"])
    table = table.assign(why="no W m-2: " + table["reason"], settles="sun in " + table["reason"])
    made = page_findings.untold_table(table, ["heron", "teal"])["rows"]
    assert [[cell["text"] for cell in row] for row in made] == [
        ["no W m⁻²: no-beam", "x of sw_in, lw_in; y (set heron)", "sun in no-beam"],
        ["no W m⁻²: dry", "z; x (set teal)", "sun in dry"],
    ]


@pytest.mark.parametrize(
    "skies, reason, said",
    [
        (["clear", "clear", "broken"], "no-clear-sky", "Page 1 calls 2 of 3 segments clear,"),
        (["broken"], "no-beam", ""),
        (["clear"], "dry", ""),
    ],
)
def test_why_a_clear_segment_may_not_do_for_a_check(skies, reason, said):
    words = page_findings.clear_words(pd.Series(skies), pd.DataFrame({"reason": [reason]}))
    assert words.startswith(said) and bool(words) == bool(said)


def test_sets_side_by_side_have_a_ratio_of_shortwave_alone():
    row = {
        "set_a": "heron",
        "set_b": "teal",
        "field": "Moor",
        "channel": "sw_out",
        "start_utc": pd.Timestamp("2026-05-21 10:05Z"),
        "difference": -1.5,
        "difference_low": -4.0,
        "difference_high": 2.0,
        "ratio": 0.98,
        "ratio_low": 0.95,
        "ratio_high": 1.04,
        "e_n": 0.416,
    }
    made = page_findings.intercomparison_table(pd.DataFrame([row, row | {"channel": "lw_in"}]))
    first, second = ([cell["text"] for cell in line] for line in made["rows"])
    assert first == [
        "heron − teal",
        "Moor, 10:05",
        "shortwave out",
        "−1.5 (−4.0 to 2.0)",
        "0.980 (0.950 to 1.040)",
        "0.42",
    ]
    assert second[2] == "longwave in" and second[4] == "–"
    assert [one["text"] for one in made["columns"]] == [True, True, True, False, False, False]


def test_a_set_against_the_station_has_its_records_and_ratio():
    row = {
        "set": "heron",
        "channel": "lw_in",
        "start_utc": pd.Timestamp("2026-05-21 10:05Z"),
        "end_utc": pd.Timestamp("2026-05-21 11:45Z"),
        "records": 12.0,
        "ratio": 1.012,
        "ratio_low": 0.96,
        "ratio_high": 1.06,
        "e_n": 0.234,
    }
    (line,) = page_findings.against_station_table(pd.DataFrame([row]))["rows"]
    assert [cell["text"] for cell in line] == [
        "heron",
        "longwave in",
        "10:05 to 11:45",
        "12",
        "1.012 (0.960 to 1.060)",
        "0.23",
    ]


def test_which_certificate_is_used_and_how_many_correct():
    table = pd.DataFrame({"temperature_coefficient": [1.0, NAN, 2.0], "window_coefficient": NAN})
    assert page_findings.certificate_words("latest", table) == (
        "The latest certificate dated on or before the day is used. Coefficients of certificates correct "
        "2 heads for temperature."
    )
    both = table.assign(window_coefficient=[1.0, NAN, NAN])
    assert page_findings.certificate_words("interpolate", both) == (
        "Between two certificates the factor changes linearly with time. Coefficients of certificates "
        "correct 2 heads for temperature and 1 head for the sun on the window."
    )
