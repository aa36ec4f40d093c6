"""Hostile archives, by kind. Each maker gets a source of chance and returns the bytes of one archive."""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Callable

from study.archive_writer import (
    Draw,
    Entry,
    by_another_program,
    contents,
    deflated,
    entries_of,
    extra,
    packed,
    season,
    with_lie,
    with_one,
    written,
)
from study.archives_more import MORE, MORE_PAIRS

NAMES = {
    "climbs": [b"x/../../evil", b"/etc/evil", b"x/a/../../../evil", b"../x/evil"],
    "another system's path": [b"x\\..\\evil", b"C:/evil", b"//host/evil", b"x/data/a:stream"],
    "steers a terminal": [b"x/\x1b[2Jevil", b"x/\x07bell", "x/\u202etxt.exe".encode(), b"x/a\r\nIntact"],
    "a device's name": [b"x/con.txt", b"x/LPT1", b"x/nul", b"x/data/aux.csv"],
    "a long name": [
        b"x/" + b"a" * 300,
        b"x/" + b"a/" * 30_000,
        b"x/" + "é".encode() * 150,
        b"x/" + b"b/" * 40,
    ],
    "no text as a name": [b"x/\xff\xfe", b"x/\x00a", b"x/data/a\x00.csv", b"x/\xed\xa0\x80"],
    "ends in a blank or a dot": [b"x/evil ", b"x/evil.", b"x/data /evil", b"x/... /a"],
    "one name twice": [b"x/README.txt", b"x/readme.TXT", b"x/data", "x/README\u200b.txt".encode()],
}
LINKS = (0o120777, 0o020666, 0o060666, 0o010666, 0o140666)


def by_name(kind: str) -> Callable[[Draw], bytes]:
    def make(draw: Draw) -> bytes:
        name = draw.choice(NAMES[kind])
        flags = {} if name.isascii() or b"\xff" in name else {"flags": 0x800}
        return with_one(name=name, local=dict(flags), central=dict(flags))

    return make


def bomb(draw: Draw) -> bytes:
    return with_one(
        name=b"x/data/bomb", content=bytes([draw.randrange(256)]) * draw.randint(120, 200) * 10**6
    )


def false_size(draw: Draw) -> bytes:
    content = b"text " * draw.randint(10, 1000)
    return with_one(
        name=b"x/data/a",
        content=content[:40],
        raw=deflated(content),
        central={"crc": zlib.crc32(content[:40])},
    )


def lines_without_end(name: str) -> Callable[[Draw], bytes]:
    """A file of the bag that is nothing but lines, and packs to almost nothing."""

    def make(draw: Draw) -> bytes:
        text = draw.choice((b"\n", b"a\n", b"\r", b"0" * 63 + b"\n")) * draw.randint(10, 11) * 4_000_000
        return written(entries_of(packed(), {name: text[:45_000_000]}))

    return make


def zip64(draw: Draw) -> bytes:
    """Places and sizes beyond every number that a file can have."""
    far = struct.pack("<Q", draw.choice((2**64 - 1, 2**63, 2**62, 2**40)))
    what = draw.choice(("offset", "packed", "size"))
    flags = {"flags": draw.choice((0, 8))}
    return with_lie(draw, central={what: 0xFFFFFFFF, **flags}, extra_central=extra(1, far), local=flags)


def second_name(draw: Draw) -> bytes:
    """A name beside the entry, which some unpacking programs take instead of the first."""
    entries = entries_of(packed())
    chosen = draw.choice(entries)
    other = struct.pack("<BL", 1, zlib.crc32(chosen.name)) + draw.choice((b"../evil", b"/etc/x", b"x/data/b"))
    where = draw.choice((("extra_local",), ("extra_central",), ("extra_local", "extra_central")))
    for key in where:
        setattr(chosen, key, extra(0x7075, other))
    return draw.choice((written, by_another_program))(entries)


def local_lie(draw: Draw) -> bytes:
    """The header before a content says another thing than the directory: a program that reads from the
    beginning unpacks another file.
    """
    lies = ({"method": 0}, {"size": 1}, {"packed": 1}, {"flags": 1}, {"crc": 7}, {"flags": 0x800})
    entries = entries_of(packed())
    draw.choice(entries).local = dict(draw.choice(lies))
    return by_another_program(entries)


def described(draw: Draw) -> bytes:
    """A description that is no such description, under right checksums."""
    name = draw.choice(("settings", "datapackage", "ro-crate-metadata"))
    texts = (
        b"[" * 100_000, b'{"a":' * 100_000, b"null", b"[]", b'{"inputs": null}', b"\xff\xfe{\0}\0",
        b'{"@graph": 1, "resources": 2, "inputs": 3}', b'{"inputs": [1], "resources": [1], "@graph": [1]}',
        b'{"inputs": ' + b"9" * 5000 + b"}", b'{"inputs": [' + b"{}," * 1_400_000 + b"{}]}",
        b'{"@graph": [' + b'{"@type":"File"},' * 400_000 + b"{}]}",
    )  # fmt: skip
    return packed({f"{name}.json": draw.choice(texts)})


def nested_season(draw: Draw) -> bytes:
    """Archives in an archive, each a hundred times its size."""
    kind = draw.randrange(3)
    if kind == 0:
        inner = packed({"results/zeros.csv": bytes(90_000_000)})
        return season({f"{number}.zip": inner for number in range(draw.randint(100, 200))})
    if kind == 1:
        return season({"a.zip": season({"b.zip": b"no zip"}), "c.zip": bomb(draw)})
    return season({f"{number}.zip": bytes(number % 50) for number in range(draw.randint(500, 3000))})


def beside(draw: Draw) -> bytes:
    name = draw.choice(
        ("fetch.txt", "manifest-md5.txt", "manifest-sha512.txt", "setup.py", "tagmanifest-md5.txt")
    )
    return packed(tags={name: b"http://127.0.0.1/evil 1 data/evil\n"})


def manifest_lies(draw: Draw) -> bytes:
    key = "x/manifest-sha256.txt"
    right = contents(packed())[key]
    zeros = b"0" * 64
    texts = (
        right + zeros + b"  data/../../etc/passwd\n", right + right, right + zeros + b" *data/a\n",
        right.upper(), right.replace(b"\n", b"\r\n"), b"", right[:-30], b"\xef\xbb\xbf" + right,
        right + zeros + b"  data/a\x1b[2J\n", right + zeros + b"  data/" + b"a" * 5_000_000 + b"\n",
        right.replace(b"data/", b"DATA/"), right + zeros + b"  README.txt\n",
    )  # fmt: skip
    return written(entries_of(packed(), {key: draw.choice(texts)}))


def hidden(draw: Draw) -> bytes:
    """Bytes in no file."""
    entries = entries_of(packed())
    kind = draw.randrange(5)
    if kind == 0:
        draw.choice(entries).before = b"hidden"
    elif kind == 1:
        return b"#!/bin/sh\nevil\n" + packed()
    elif kind == 2:
        return packed() + draw.choice((b"evil", packed()))
    elif kind == 3:
        return written(entries, tail=b"a comment")
    else:
        chosen = draw.choice(entries)
        chosen.raw = deflated(chosen.content) + b"hidden"
    return written(entries)


def cut(draw: Draw) -> bytes:
    whole = packed()
    return draw.choice(
        (whole[: draw.randrange(len(whole))], b"", b"PK\5\6" + bytes(18), b"no zip" * 20, bytes(10**6))
    )


def flipped(draw: Draw) -> bytes:
    changed = bytearray(packed())
    for _ in range(draw.randint(1, 8)):
        changed[draw.randrange(len(changed))] ^= 1 << draw.randrange(8)
    return bytes(changed)


def many_files(draw: Draw) -> bytes:
    number = draw.randint(20_001, 40_000)
    return written([Entry(f"x/{one}".encode(), b"", b"\3\0") for one in range(number)])


def false_end(draw: Draw) -> bytes:
    """An end of the zip with wrong numbers."""
    key = draw.choice(("count", "length", "start"))
    return written(entries_of(packed()), end={key: draw.choice((0, 1, 0xFFFF, 0x7FFF))})


def overlapping(draw: Draw) -> bytes:
    entries = entries_of(packed())
    one = draw.randrange(1, len(entries))
    entries[one].central = {"offset": 0}
    return written(entries)


def added(draw: Draw) -> bytes:
    """A file or folder that no checksum lists, a missing one, another content."""
    files = contents(packed())
    kind, name = draw.randrange(4), draw.choice([name for name in files if "/data/" in name])
    if kind == 0:
        return with_one(name=b"x/data/results/more.csv")
    if kind == 1:
        return with_one(name=draw.choice((b"x/data/evil/", b"x/evil/", b"y/")), content=b"", raw=b"\3\0")
    return written([
        Entry(entry.name, entry.content + b" ") if kind == 2 else entry
        for entry in entries_of(packed())
        if kind == 2 or entry.name != name.encode()
    ])  # fmt: skip


def beside_entry(draw: Draw) -> bytes:
    """Remarks and fields beside an entry, up to what the format holds."""
    text = b"a" * draw.randint(100, 60_000)
    key, value = draw.choice(
        (("comment", text), ("extra_central", extra(0x4242, text)), ("extra_local", text))
    )
    return with_lie(draw, **{key: value})


def packing(draw: Draw) -> bytes:
    """Other methods, encryption, patches."""
    lie = draw.choice(
        ({"method": 14}, {"method": 12}, {"method": 99}, {"flags": 1}, {"flags": 0x40}, {"flags": 0x20})
    )
    return with_lie(draw, central=dict(lie), local=dict(lie))


KINDS: dict[str, Callable[[Draw], bytes]] = {
    **{f"name: {kind}": by_name(kind) for kind in NAMES},
    "a link, a device, a pipe": lambda draw: with_one(
        name=b"x/data/link", content=b"/etc/passwd", attributes=draw.choice(LINKS) << 16
    ),
    "a bomb": bomb,
    "a content longer than its size": false_size,
    "a manifest of lines without end": lines_without_end("x/manifest-sha256.txt"),
    "a tag manifest of lines without end": lines_without_end("x/tagmanifest-sha256.txt"),
    "a bag-info of lines without end": lines_without_end("x/bag-info.txt"),
    "a bagit.txt of lines without end": lines_without_end("x/bagit.txt"),
    "sizes and places of 64 bits": zip64,
    "a second name beside the entry": second_name,
    "two headers that disagree": local_lie,
    "a description that is none": described,
    "archives in an archive": nested_season,
    "files beside data/": beside,
    "a manifest that lies": manifest_lies,
    "bytes in no file": hidden,
    "cut off, or no zip": cut,
    "bits flipped": flipped,
    "too many files": many_files,
    "an end with wrong numbers": false_end,
    "two files in one place": overlapping,
    "added, missing, changed": added,
    "remarks beside an entry": beside_entry,
    "other packings": packing,
    **MORE,
}


# Two sound archives, of which the second attacks the comparison
# ---------------------------------------------------------------------------------------------------------


def deep_settings(draw: Draw) -> bytes:
    """Settings nested as deep as JSON is read."""
    depth = draw.choice((200, 330, 600, 900))
    return packed(
        {"settings.json": b'{"inputs": [], "campaign": ' + b'{"a":' * depth + b"1" + b"}" * depth + b"}"}
    )


def long_keys(draw: Draw) -> bytes:
    """Long keys above many values: each value's full name is long."""
    above = "a" * draw.randint(1000, 5000)
    values: dict = {f"k{number}": number for number in range(100_000)}
    for _ in range(40):
        values = {above: values}
    return packed({"settings.json": json.dumps({"inputs": [], "campaign": values}).encode()})


def versions(draw: Draw) -> bytes:
    """Versions that are no texts."""
    value = draw.choice((5, None, [1], {"a": 1}, True, 1e400, "\ud800", "\x1b[2J"))
    entries = {"libraries": draw.choice(({"a": value}, value, [value])), "python": value}
    return packed({"versions.json": json.dumps(entries).encode()})


def table(draw: Draw) -> bytes:
    """A table that is none of ours."""
    texts = (
        b"\n" * 90_000_000, b"," * 900_000 + b"\n", b'"' + b"a\n" * 1_000_000, b"a,b\n" + b"1\n" * 20_000_000,
        b"\xff\xfe", b"a,b\n\x001,2\n", b"a,b\n" + b"9" * 5000 + b",1\n", b"a,\x1b[2J\n1,2\n",
        b"a,b\n" + b",\n" * 10_000_000, b"a" * 3_000_000,
    )  # fmt: skip
    return packed({"results/surfaces.csv": draw.choice(texts)})


PAIRS: dict[str, Callable[[Draw], bytes | tuple[bytes, bytes]]] = {
    "compared: deep settings": deep_settings,
    "compared: long keys": long_keys,
    "compared: versions that are no texts": versions,
    "compared: a table that is none": table,
    **MORE_PAIRS,
}
