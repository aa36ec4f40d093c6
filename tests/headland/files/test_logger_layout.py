"""What a layout says and a raw file is not."""

import random
import re

import pytest

from .made_logger import HEADER, SOUND, codes, identified, layout, only, read


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


QUOTED = HEADER + re.sub(r"(-?\d+)\.(\d+)", r'"\1,\2"', SOUND)


def test_quoted_decimal_commas_between_commas():
    frame, findings = read(QUOTED)
    fault = only(findings, "decimal-comma")
    assert (fault.facts["declared"], fault.facts["fits"]) == (".", ",") and frame.empty
    mended, findings = read(QUOTED, layout(decimal=","))
    assert not findings and mended.equals(read(HEADER + SOUND)[0])


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
