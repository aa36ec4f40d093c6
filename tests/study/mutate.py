"""Changes to files that keep them nearly what they were: a cell, a key, a line, a member of a workbook, an
entry of an archive, a few bytes.

A case is what a reader is given: contents by file name. `mutated` gives another case, drawn by a generator,
so that a seed says all of it.
"""

from __future__ import annotations

import copy
import io
import random
import re
import struct
import zipfile
from collections.abc import Callable, Mapping, Sequence

import yaml

Case = dict[str, bytes]

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
NASTY_YAML = (
    None,
    True,
    False,
    0,
    -1,
    1,
    2,
    1e308,
    -1e308,
    0.5,
    10**17,
    10**18 * 9,
    float("inf"),
    float("nan"),
    [],
    {},
    [[]],
    {"": ""},
    {"a": {"b": {"c": 1}}},
    [1, "a", None],
    {1: 2},
    *NASTY,
)
LINE_ENDS = (b"\n", b"\r\n", b"\r", b"\n\r", b"\x0b", b"\x0c", b"\x1e", "\x85".encode(), "\u2028".encode())


def text_of(raw: bytes) -> str:
    return raw.decode("utf-8", "surrogateescape")


def bytes_of(text: str) -> bytes:
    try:
        return text.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:
        return text.encode("utf-8", "surrogatepass")


# Any bytes
# -----------------------------------------------------------------------------------------------------------


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
# --------------------------------------------------------------------------------------------------------------


def table(raw: bytes, draw: random.Random) -> bytes:
    """One change of a delimited table: of a cell, a line, a column, its header."""
    lines = text_of(raw).split("\n")
    mark = max(",;\t|", key=text_of(raw).count)
    full = [i for i, line in enumerate(lines) if line.strip()] or [0]
    i, j = draw.choice(full), draw.choice(full)
    header = next((k for k in full if mark in lines[k]), full[0])
    cells = lines[i].split(mark)
    place = draw.randrange(len(cells))
    names = lines[header].split(mark)

    def of_column(change: Callable[[list[str], int], None]) -> None:
        column = draw.randrange(len(names))
        for k in full:
            own = lines[k].split(mark)
            if len(own) > column:
                change(own, column)
                lines[k] = mark.join(own)

    match draw.randrange(16):
        case 0 | 1 | 2 | 3 | 4:
            cells[place] = draw.choice(
                (
                    draw.choice(NASTY),
                    draw.choice(NASTY),
                    cells[place] + draw.choice(NASTY),
                    draw.choice(lines[j].split(mark)),
                    number_near(cells[place], draw),
                )
            )
            if draw.random() < 0.2:
                cells[place] = '"' + cells[place].replace('"', '""') + '"'
            lines[i] = mark.join(cells)
        case 5:
            names[draw.randrange(len(names))] = draw.choice(
                (draw.choice(NASTY), draw.choice(names), draw.choice(names).upper(), draw.choice(names)[:-1])
            )
            lines[header] = mark.join(names)
        case 6:
            del lines[i]
        case 7:
            lines.insert(j, lines[i])
        case 8:
            lines[i], lines[j] = lines[j], lines[i]
        case 9:
            of_column(lambda own, c: own.pop(c))
        case 10:
            value = draw.choice(NASTY)
            of_column(lambda own, c: own.insert(c, value))
        case 11:
            other = draw.randrange(len(names))
            of_column(lambda own, c: own.__setitem__(c, own[min(other, len(own) - 1)]))
        case 12:
            lines = (
                [line.replace(mark, draw.choice(";\t,| ")) for line in lines]
                if draw.random() < 0.5
                else [line.replace(".", ",") for line in lines]
            )
        case 13:
            lines[j:j] = [draw.choice(NASTY) * draw.choice((1, 1, 30)), mark * draw.choice((1, 50, 3000))][
                : draw.choice((1, 2))
            ]
        case 14:
            lines[i:j] = [] if i < j else lines[i : i + 5] * draw.choice((3, 100))
        case 15:
            value = draw.choice(NASTY)
            column = draw.randrange(len(names))
            for k in full[1:]:
                own = lines[k].split(mark)
                if len(own) > column and k > header:
                    own[column] = value
                    lines[k] = mark.join(own)
    return bytes_of("\n".join(lines))[:400_000]


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


# YAML
# ----------------------------------------------------------------------------------------------------------------


def settings(raw: bytes, draw: random.Random) -> bytes:
    """One change of a YAML file: of a value or key anywhere in its tree, or of a line."""
    if draw.random() < 0.6:
        try:
            tree = yaml.safe_load(raw)
            places = list(_places(tree))
            if places:
                holder, key = draw.choice(places)
                match draw.randrange(6):
                    case 0 | 1 | 2:
                        holder[key] = copy.deepcopy(draw.choice(NASTY_YAML))
                    case 3:
                        other, twin = draw.choice(places)
                        holder[key] = copy.deepcopy(other[twin])
                    case 4 if isinstance(holder, dict):
                        holder[draw.choice((draw.choice(NASTY), str(key)[:-1], str(key).upper()))] = (
                            holder.pop(key)
                        )
                    case _:
                        del holder[key]
                return bytes_of(yaml.safe_dump(tree, sort_keys=False, allow_unicode=draw.random() < 0.5))[
                    :400_000
                ]
        except (yaml.YAMLError, RecursionError, ValueError, TypeError, AttributeError):
            pass
    lines = text_of(raw).split("\n")
    i = draw.randrange(len(lines))
    key, colon, value = lines[i].partition(":")
    match draw.randrange(9):
        case 0 | 1:
            lines[i] = f"{key}: {draw.choice(NASTY)}"
        case 2:
            lines[i] = (
                f"{key}: {draw.choice(('!!python/object/apply:os.system [x]', '!!binary aGk=', '!x y', '&a [*a]', '*a', '[' * 100 + ']' * 100, '{a: ' * 60, '|', '>-', '? a', '- - - -', '<<: *x', '!!timestamp 2025-01-01', '!!set {a}', '0o17', '.inf', '1_0', '190:20', '!!float x'))}"
            )
        case 3:
            lines[i] = " " * draw.choice((1, 2, 5)) + lines[i]
        case 4:
            lines[i] = lines[i].lstrip()
        case 5:
            lines.insert(i, lines[draw.randrange(len(lines))])
        case 6:
            del lines[i]
        case 7:
            lines[i] = f"{key}: " + draw.choice(
                (
                    '"\\ud800"',
                    '"\\x1b[2J"',
                    '"\\u202e"',
                    '"\\0"',
                    '"\\N\\_\\L\\P"',
                    "'",
                    '"',
                    '"\\U0010FFFF"',
                    "\u202e",
                    "\x9b",
                )
            )
        case 8:
            lines[i] = f"{draw.choice(NASTY)}{colon}{value}"
    return bytes_of("\n".join(lines))[:400_000]


def _places(tree) -> list[tuple]:
    found, waiting = [], [tree]
    while waiting and len(found) < 5000:
        here = waiting.pop()
        keys = list(here) if isinstance(here, dict) else range(len(here)) if isinstance(here, list) else ()
        for key in keys:
            found.append((here, key))
            waiting.append(here[key])
    return found


# Workbooks and archives
# ----------------------------------------------------------------------------------------------


def zipped(files: Mapping[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def unzipped(raw: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        return {
            item.filename: archive.read(item) for item in archive.infolist() if item.file_size < 2_000_000
        }


BOMB = (
    b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "'
    + b"a" * 1000
    + b'">'
    + b"".join(b'<!ENTITY %c "%s">' % (c, b"&%c;" % (c - 1) * 30) for c in b"bcdef")
    + b"]><x>&f;</x>"
)
NUMBERS = (
    b"0",
    b"-1",
    b"1",
    b"3",
    b"16384",
    b"1048576",
    b"1048577",
    b"99999999",
    b"1000000000000",
    b"1e300",
    b"nan",
    b"inf",
    b"x",
    b"",
    b"A1",
    b"XFD1048576",
    b"A1:XFD1048576",
    b"ZZZZZZ1",
    b"A0",
    b"A-1",
    b"A1000000000",
    b"b",
    b"d",
    b"e",
    b"n",
    b"s",
    b"str",
    b"inlineStr",
    b"2025-08-20T10:00:00",
    b"0.5",
    b"-0.5",
    b"44000.52",
    b"2958466",
    b"1e10",
)


def xml(raw: bytes, draw: random.Random) -> bytes:
    """One change of an XML file: of an attribute, a text, an element."""
    pick = draw.randrange(9)
    if pick < 4:
        found = list(re.finditer(rb'([A-Za-z:]+)="([^"]*)"', raw))
        if found:
            part = draw.choice(found)
            return (
                raw[: part.start(2)]
                + draw.choice((*NUMBERS, *(v[2] for v in found[:40])))
                + raw[part.end(2) :]
            )
    if pick < 7:
        found = list(re.finditer(rb">([^<]*)<", raw))
        if found:
            part, text = draw.choice(found), draw.choice((draw.choice(NUMBERS), bytes_of(draw.choice(NASTY))))
            if draw.random() < 0.7:
                text = text.replace(b"&", b"&amp;").replace(b"<", b"&lt;")
            return raw[: part.start(1)] + text + raw[part.end(1) :]
    found = list(re.finditer(rb"<[^>]*>", raw))
    if found and pick == 7:
        part = draw.choice(found)
        return (
            raw[: part.start()]
            + draw.choice((b"", part[0] * 2, b"<!-- -->", b"<![CDATA[x]]>", b"<a>", b"</a>"))
            + raw[part.end() :]
        )
    return draw.choice(
        (
            BOMB,
            raw.replace(b"?>", b'?><!DOCTYPE x [<!ENTITY y SYSTEM "file:///etc/passwd">]>', 1).replace(
                b"</v>", b"&y;</v>"
            ),
            cut(raw, draw),
            b"",
            b"<" * 5000 + raw,
            b"<a>" * 20_000,
        )
    )


def workbook(raw: bytes, draw: random.Random) -> bytes:
    """One change of a workbook: in one of its parts, of its parts, of the zip."""
    if draw.random() < 0.15:
        return package(raw, draw)
    try:
        files = unzipped(raw)
        name = draw.choice([n for n in files if "sheet1" in n] * 6 + list(files))
    except (OSError, zipfile.BadZipFile, ValueError, IndexError, NotImplementedError, RuntimeError, EOFError):
        return bits(raw, draw)
    except Exception:  # zlib and others: what is no zip any more is changed as bytes
        return bits(raw, draw)
    match draw.randrange(12):
        case 0:
            del files[name]
        case 1:
            files[draw.choice(list(files))] = files[name]
        case 2:
            files[name] = draw.choice((b"\0" * 2_000_000, b"<?xml version='1.0'?>" + b" " * 2_000_000, BOMB))
        case _:
            files[name] = xml(files[name], draw)
    return zipped(files)


HOSTILE_NAMES = (
    "x/../../evil",
    "/etc/evil",
    "..\\evil",
    "C:/evil",
    "x/\x1b[2J",
    "x/con.txt",
    "x/" + "a" * 300,
    "x/data",
    "x//a",
    "x/.",
    "x/README.TXT",
    "é/a",
    "x/e\u0301",
    "x/\u202egpj.exe",
    "x/a\nb",
    "",
    "/",
    "x/" * 400 + "a",
)
FIELDS = (
    (4, "<H"),
    (6, "<H"),
    (8, "<H"),
    (10, "<H"),
    (12, "<H"),
    (14, "<H"),
    (16, "<L"),
    (20, "<L"),
    (24, "<L"),
    (28, "<H"),
    (30, "<H"),
    (32, "<H"),
    (34, "<H"),
    (36, "<H"),
    (38, "<L"),
    (42, "<L"),
)
"""Offsets and kinds of the fields of an entry in a zip's directory."""


def package(raw: bytes, draw: random.Random) -> bytes:
    """One change of a zip: a field of its directory or end, an entry added with a harmful name or kind, an
    entry changed, bytes.
    """
    starts = [m.start() for m in re.finditer(rb"PK\x01\x02", raw)]
    pick = draw.randrange(8)
    if pick < 2 and starts:
        at, (offset, kind) = draw.choice(starts), draw.choice(FIELDS)
        size = struct.calcsize(kind)
        if at + offset + size <= len(raw):
            return (
                raw[: at + offset]
                + struct.pack(
                    kind,
                    draw.choice((0, 1, 3, 8, 14, 99, 2 ** (8 * size) - 1, draw.randrange(2 ** (8 * size)))),
                )
                + raw[at + offset + size :]
            )
    if pick == 2:
        at = raw.rfind(b"PK\5\6") + draw.randrange(22)
        return raw[:at] + bytes([draw.choice((0, 1, 255, draw.randrange(256)))]) + raw[at + 1 :]
    if pick == 3:
        stream = io.BytesIO(raw)
        try:
            with zipfile.ZipFile(stream, "a") as archive:
                info = zipfile.ZipInfo("placeholder")
                info.filename, info.external_attr = (
                    draw.choice((*HOSTILE_NAMES, *archive.namelist()[:3])),
                    draw.choice((0o100644, 0o120777, 0o020666, 0o010666, 0o040755, 0o104755, 0)) << 16,
                )
                archive.writestr(
                    info,
                    draw.choice((b"x", b"/etc/passwd", b"\0" * 3_000_000, b"")),
                    draw.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)),
                )
            return stream.getvalue()
        except Exception:  # no zip any more
            return bits(raw, draw)
    if pick == 4:
        return draw.choice(
            (
                raw + b"PK\5\6" + b"\0" * 18,
                b"#!/bin/sh\n" + raw,
                raw[: -draw.randrange(1, 200)],
                raw + raw,
                zipped({"x/a": raw}),
            )
        )
    return draw.choice((bits, cut, inserted))(raw, draw)


def archive(raw: bytes, draw: random.Random, pack: Callable[[Mapping[str, bytes]], bytes]) -> bytes:
    """One change of an archive of a run: of a file in it, packed as it should be (`pack`, contents of data/
    by name) or otherwise; or of the zip.
    """
    if draw.random() < 0.5:
        return package(raw, draw)
    try:
        files = unzipped(raw)
    except Exception:
        return bits(raw, draw)
    name = draw.choice(list(files) or [""])
    match draw.randrange(6):
        case 0:
            files.pop(name, None)
        case 1:
            files[draw.choice((*HOSTILE_NAMES, *files))] = files.get(name, b"")
        case _:
            files[name] = draw.choice((table, settings, json_text, bits, cut, inserted))(
                files.get(name, b""), draw
            )
    if draw.random() < 0.6:
        try:
            return pack(
                {
                    n.removeprefix("x/data/"): content
                    for n, content in files.items()
                    if n.startswith("x/data/")
                }
            )
        except Exception:  # the packer refuses it; then it is packed by Python's own
            pass
    try:
        return zipped(files)
    except (ValueError, UnicodeError, struct.error):
        return bits(raw, draw)


def json_text(raw: bytes, draw: random.Random) -> bytes:
    """One change of a JSON text: of a value or name in it."""
    found = list(re.finditer(rb'"[^"]*"|\b\d+\b|\[|\{|null|true', raw))
    value = draw.choice(
        (
            b"null",
            b"1e999",
            b"-1",
            b"[]",
            b"{}",
            b'""',
            b"NaN",
            b'"\\ud800"',
            b'"\\u202e\\u001b"',
            b"[" * 2000,
            b"1" * 6000,
            b'{"a":' * 2000,
            b'["a", 1, null]',
            b'{"path": 5}',
            b"true",
        )
    )
    if not found:
        return value
    part = draw.choice(found)
    return raw[: part.start()] + value + raw[part.end() :]


# A case
# --------------------------------------------------------------------------------------------------------------


def of_kind(name: str) -> Sequence[Callable[[bytes, random.Random], bytes]]:
    """The changes that suit a file, the likelier ones more than once."""
    anything = (bits, cut, inserted, encoded)
    match name.rpartition(".")[2]:
        case "csv":
            return (table,) * 12 + anything
        case "yaml":
            return (settings,) * 12 + anything
        case "xlsx":
            return (workbook,) * 14 + anything
    return anything


def mutated(
    case: Mapping[str, bytes],
    draw: random.Random,
    kinds: Callable[[str], Sequence[Callable]] = of_kind,
    fixed: Sequence[str] = (),
) -> Case:
    """A case with one to a few changes in its files. fixed: names of files that stay as they are."""
    changed = dict(case)
    names = [name for name in sorted(changed) if name not in fixed]
    for _ in range(draw.choice((1, 1, 1, 2, 2, 3, 5))):
        name = draw.choice(names)
        changed[name] = draw.choice(kinds(name))(changed[name], draw)
    return changed
