"""Changes to bytes, texts and delimited tables: a cell, a line, a column, an encoding, a few bytes."""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Callable, Mapping

NASTY = (
    "",
    " ",
    "0",
    "-0",
    "-1",
    "1",
    "1e308",
    "1e999",
    "-1e-320",
    "nan",
    "NaN",
    "inf",
    "-inf",
    "1,5",
    "1_000",
    "0x10",
    "٣",
    "１２",
    "1.2.3",
    "1e",
    "--1",
    "9" * 30,
    "9" * 400,
    "1" * 5000 + "x",
    "true",
    "null",
    "None",
    "=1+1",
    "@SUM(A1)",
    "+1",
    "|x",
    "<script>alert(1)</script>",
    "a & b",
    "&#0;",
    "\\input{x}",
    "$\\frac{1}{0$",
    "$",
    "{0}",
    "{channel}",
    "%s",
    "%n",
    "{{7*7}}",
    "{% x %}",
    "../../etc/passwd",
    "/etc/passwd",
    "C:\\x",
    "~",
    "**",
    "*",
    "[",
    "\0",
    "\x1b[2J",
    "\x07",
    "\x7f",
    "\x85",
    "\x9b",
    "\u202e",
    "\u200f",
    "\u200d",
    "\u2028",
    "\ufeff",
    "\uffff",
    "\ud800",
    "e\u0301" * 40,
    "a" * 400,
    "a" * 10_000,
    "é" * 10_000,
    "🦆",
    "名",
    "אב",
    "2026-02-30",
    "2025-08-20",
    "0000-00-00",
    "0001-01-01",
    "9999-12-31",
    "99999-01-01",
    "20250820",
    "2025-W34-3",
    "24:00",
    "24:01",
    "00:00",
    "23:59:60",
    "12:32:00",
    "12:31",
    "-1:00",
    "2025-08-20T10:31:00Z",
    "2025-08-20T10:31:00+14:00",
    "2262-04-12T00:00:00Z",
    "1677-09-21",
    "now",
    "today",
    "NaT",
    '"',
    "'",
    '""',
    "a\nb",
    "\r",
    "\r\n",
    "\t",
    ";",
    ",",
    "walk",
    "stand",
    "side_by_side",
    "sky_monitor",
    "dark",
    "channel_check",
    "clock_check",
    "curlew",
    "CURLEW",
    "curlew ",
    "short_grass",
    "snow",
    "shallow_water",
    "sw_in sw_out lw_in lw_out",
    "lw_out lw_in sw_out sw_in",
    "uV per W m-2",
    "W m-2 per mV",
    "W m-2",
    "K",
    "degC",
    "%",
    "net_radiation",
    "albedo",
    "0-360",
    "350-10",
    "1000000",
    "1e-300",
    "0.001",
    "359.99",
    "1 " * 300,
    "#REF!",
)
"""Texts that readers stumble over: numbers at the edges, times, markup, formulas, paths, control and
direction marks, words that mean something elsewhere.
"""

LINE_ENDS = (b"\n", b"\r\n", b"\r", b"\n\r", b"\x0b", b"\x0c", b"\x1e", "\x85".encode(), "\u2028".encode())


def text_of(raw: bytes) -> str:
    return raw.decode("utf-8", "surrogateescape")


def bytes_of(text: str) -> bytes:
    try:
        return text.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:
        return text.encode("utf-8", "surrogatepass")


def zipped(files: Mapping[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


# Any bytes
# ---------------------------------------------------------------------------------------------


def bits(raw: bytes, draw: random.Random) -> bytes:
    changed = bytearray(raw or b"\0")
    for _ in range(draw.choice((1, 1, 2, 8))):
        changed[draw.randrange(len(changed))] = draw.choice((draw.randrange(256), 0, 255, 10, 13, 34, 44))
    return bytes(changed)


def cut(raw: bytes, draw: random.Random) -> bytes:
    a, b = sorted(draw.randrange(len(raw) + 1) for _ in range(2))
    return draw.choice(
        (
            raw[:a],
            raw[b:],
            raw[:a] + raw[b:],
            raw[:b] + raw[a:b] + raw[b:],
            raw[:a] + raw[a:b] * draw.choice((2, 20)),
        )
    )[:400_000]


def inserted(raw: bytes, draw: random.Random) -> bytes:
    at = draw.randrange(len(raw) + 1)
    piece = draw.choice(
        (
            bytes(draw.randrange(256) for _ in range(draw.choice((1, 4, 64)))),
            b"\0" * draw.choice((1, 16, 5000)),
            bytes_of(draw.choice(NASTY)),
            b"\xef\xbb\xbf",
            b"\xff\xfe",
            draw.choice(LINE_ENDS),
        )
    )
    return raw[:at] + piece + raw[at:]


def encoded(raw: bytes, draw: random.Random) -> bytes:
    """The same text in another encoding or with other line ends."""
    text = raw.decode("utf-8", "replace")
    return draw.choice(
        (
            lambda: text.encode("utf-16"),
            lambda: text.encode("utf-16-be"),
            lambda: text.encode("utf-16-le"),
            lambda: text.encode("latin-1", "replace") + b"\xe9\x96",
            lambda: b"\xef\xbb\xbf" + raw,
            lambda: text.encode("utf-32"),
            lambda: text.encode("cp037", "replace"),
            lambda: raw.replace(b"\n", draw.choice(LINE_ENDS)),
            lambda: b"",
            lambda: b"\n" * 5,
            lambda: bytes(draw.randrange(256) for _ in range(3000)),
            lambda: zipped({"a": raw}),
        )
    )()


# Tables
# ---------------------------------------------------------------------------------------------


class _Table:
    """The lines of a delimited table, with the places that a change is drawn for."""

    def __init__(self, raw: bytes, draw: random.Random):
        self.draw = draw
        self.lines = text_of(raw).split("\n")
        self.mark = max(",;\t|", key=text_of(raw).count)
        self.full = [i for i, line in enumerate(self.lines) if line.strip()] or [0]
        self.i, self.j = draw.choice(self.full), draw.choice(self.full)
        self.header = next((k for k in self.full if self.mark in self.lines[k]), self.full[0])
        self.cells = self.lines[self.i].split(self.mark)
        self.place = draw.randrange(len(self.cells))
        self.names = self.lines[self.header].split(self.mark)

    def cell(self) -> None:
        cells, place, draw = self.cells, self.place, self.draw
        cells[place] = draw.choice(
            (
                draw.choice(NASTY),
                draw.choice(NASTY),
                cells[place] + draw.choice(NASTY),
                draw.choice(self.lines[self.j].split(self.mark)),
                number_near(cells[place], draw),
            )
        )
        if draw.random() < 0.2:
            cells[place] = '"' + cells[place].replace('"', '""') + '"'
        self.lines[self.i] = self.mark.join(cells)

    def name(self) -> None:
        names, draw = self.names, self.draw
        names[draw.randrange(len(names))] = draw.choice(
            (draw.choice(NASTY), draw.choice(names), draw.choice(names).upper(), draw.choice(names)[:-1])
        )
        self.lines[self.header] = self.mark.join(names)

    def line_missing(self) -> None:
        del self.lines[self.i]

    def line_twice(self) -> None:
        self.lines.insert(self.j, self.lines[self.i])

    def lines_exchanged(self) -> None:
        lines, i, j = self.lines, self.i, self.j
        lines[i], lines[j] = lines[j], lines[i]

    def column_missing(self) -> None:
        self._of_column(lambda own, c: own.pop(c))

    def column_added(self) -> None:
        value = self.draw.choice(NASTY)
        self._of_column(lambda own, c: own.insert(c, value))

    def column_twice(self) -> None:
        other = self.draw.randrange(len(self.names))
        self._of_column(lambda own, c: own.__setitem__(c, own[min(other, len(own) - 1)]))

    def marks(self) -> None:
        draw = self.draw
        self.lines = (
            [line.replace(self.mark, draw.choice(";\t,| ")) for line in self.lines]
            if draw.random() < 0.5
            else [line.replace(".", ",") for line in self.lines]
        )

    def lines_added(self) -> None:
        draw, j = self.draw, self.j
        added = [draw.choice(NASTY) * draw.choice((1, 1, 30)), self.mark * draw.choice((1, 50, 3000))]
        self.lines[j:j] = added[: draw.choice((1, 2))]

    def lines_repeated(self) -> None:
        lines, i, j = self.lines, self.i, self.j
        lines[i:j] = [] if i < j else lines[i : i + 5] * self.draw.choice((3, 100))

    def column_filled(self) -> None:
        value = self.draw.choice(NASTY)
        column = self.draw.randrange(len(self.names))
        for k in self.full[1:]:
            own = self.lines[k].split(self.mark)
            if len(own) > column and k > self.header:
                own[column] = value
                self.lines[k] = self.mark.join(own)

    def _of_column(self, change: Callable[[list[str], int], object]) -> None:
        column = self.draw.randrange(len(self.names))
        for k in self.full:
            own = self.lines[k].split(self.mark)
            if len(own) > column:
                change(own, column)
                self.lines[k] = self.mark.join(own)


_OF_TABLES = (
    *(_Table.cell,) * 5,
    _Table.name,
    _Table.line_missing,
    _Table.line_twice,
    _Table.lines_exchanged,
    _Table.column_missing,
    _Table.column_added,
    _Table.column_twice,
    _Table.marks,
    _Table.lines_added,
    _Table.lines_repeated,
    _Table.column_filled,
)


def table(raw: bytes, draw: random.Random) -> bytes:
    """One change of a delimited table: of a cell, a line, a column, its header."""
    changed = _Table(raw, draw)
    _OF_TABLES[draw.randrange(len(_OF_TABLES))](changed)
    return bytes_of("\n".join(changed.lines))[:400_000]


def number_near(cell: str, draw: random.Random) -> str:
    """A number in the text made another: larger, negative, with another number of digits."""
    found = list(re.finditer(r"\d+", cell))
    if not found:
        return cell[::-1]
    part = draw.choice(found)
    other = draw.choice(
        (
            str(draw.randrange(100)),
            "0",
            "-" + part[0],
            part[0] + "0" * draw.choice((1, 3, 10)),
            str(int(part[0][:15]) + draw.choice((-1, 1, 59, 3600))),
        )
    )
    return cell[: part.start()] + other + cell[part.end() :]
