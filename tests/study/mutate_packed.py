"""Changes to workbooks, archives and XML: of a part, a field of the directory, an element, a few bytes."""

from __future__ import annotations

import io
import random
import re
import struct
import zipfile
from collections.abc import Callable, Mapping

from study.mutate_text import NASTY, bits, bytes_of, cut, inserted, table, zipped
from study.mutate_yaml import json_text, settings


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
