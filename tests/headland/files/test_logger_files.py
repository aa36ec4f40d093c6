"""Rows of one raw file: sound files, the identity of the logger, damaged lines."""

import datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hang import ends

from .made_logger import CHANNELS, HEADER, SOUND, codes, identified, layout, moments, only, read


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


@settings(max_examples=60)
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
    with ends():
        _, findings = read("a" * 400_000 + "\n" + HEADER + SOUND, identified(pattern))
    assert findings


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
