"""Raw files of any bytes and of any size."""

import io
import tracemalloc

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from headland.chain.ingest import join_files
from headland.files import logger_files, logger_text
from headland.files.logger_files import read_logger_file

from .made_logger import CHANNELS, HEADER, SOUND, UTC, codes, identified, layout, read

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


@settings(max_examples=150)
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


@settings(max_examples=100)
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


@settings(max_examples=100)
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


@settings(max_examples=30)
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
