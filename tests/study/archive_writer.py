"""Archives whole and false: as Headland packs them, and by a writer that can lie in every field of a zip, as
Python's own can't.
"""

from __future__ import annotations

import hashlib
import io
import random
import struct
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field

from headland.record import intact, pack, season_archive

Draw = random.Random
Files = dict[str, bytes]


# Sound archives
# ---------------------------------------------------------------------------------------------------------


def payload(**more: bytes) -> Files:
    """What goes into data/ of the smallest whole archive."""
    files = {
        name.removeprefix("data/"): b"{}" if name.endswith(".json") else b"a,b\n1,2\n"
        for name in intact.ALWAYS_THERE
        if name.startswith("data/")
    }
    described = {
        "settings.json": b'{"campaign": {"title": "x"}, "inputs": []}',
        "versions.json": b'{"headland": "0", "python": "3.11", "system": "x", "libraries": {"a": "1"}}',
        "datapackage.json": b'{"resources": []}',
        "ro-crate-metadata.json": b'{"@graph": []}',
        "inputs/x/campaign.yaml": b"title: x\n",
    }
    return files | described | more


def packed(more: Mapping[str, bytes] | None = None, tags: Mapping[str, bytes] | None = None) -> bytes:
    """An archive as Headland packs it: its checksums are right, whatever it holds."""
    stream = io.BytesIO()
    beside = {"README.txt": b"read me\n", **(tags or {})}
    pack.pack(stream, "x", payload(**(more or {})), beside, {"Title": "x"})
    return stream.getvalue()


def season(inner: Mapping[str, bytes]) -> bytes:
    """An archive of a season with the given archives of campaigns."""
    stream = io.BytesIO()
    files = dict.fromkeys(("season/season.csv", "season/heads.csv"), b"a\n1\n")
    files |= {"season/datapackage.json": b'{"resources": []}'}
    files |= {season_archive.CAMPAIGNS + name: content for name, content in inner.items()}
    pack.pack(stream, "x", files, {"README.txt": b"read me\n"}, {})
    return stream.getvalue()


def contents(archive: bytes) -> Files:
    with zipfile.ZipFile(io.BytesIO(archive)) as opened:
        return {info.filename: opened.read(info) for info in opened.infolist()}


# A writer of zips that may lie
# ---------------------------------------------------------------------------------------------------------

FIELDS = ("needs", "flags", "method", "time", "date", "crc", "packed", "size")
HONEST = (20, 0, 8, 0, 0x21)


@dataclass
class Entry:
    """A file in a zip. local, central: fields that differ from the truth, by name. raw: its packed bytes."""

    name: bytes
    content: bytes = b"x"
    raw: bytes | None = None
    attributes: int = 0o100644 << 16
    local: dict = field(default_factory=dict)
    central: dict = field(default_factory=dict)
    extra_local: bytes = b""
    extra_central: bytes = b""
    comment: bytes = b""
    name_local: bytes | None = None
    before: bytes = b""

    def packed_content(self) -> bytes:
        return deflated(self.content) if self.raw is None else self.raw


def deflated(content: bytes) -> bytes:
    work = zlib.compressobj(zlib.Z_DEFAULT_COMPRESSION, zlib.DEFLATED, -15)
    return work.compress(content) + work.flush()


def written(
    entries: list[Entry], *, head: bytes = b"", tail: bytes = b"", end: Mapping | None = None
) -> bytes:
    """A zip of entries. end: fields of its end that differ from the truth."""
    out, directory = bytearray(head), bytearray()
    for entry in entries:
        out += entry.before
        raw, place = entry.packed_content(), len(out)
        true = dict(zip(FIELDS, HONEST, strict=False))
        true |= {"crc": zlib.crc32(entry.content), "packed": len(raw), "size": len(entry.content)}
        lying = true | entry.local
        name = entry.name if entry.name_local is None else entry.name_local
        values = [lying[key] for key in FIELDS]
        out += struct.pack("<4s5H3L2H", b"PK\3\4", *values, len(name), len(entry.extra_local))
        out += name + entry.extra_local + raw
        lying = true | {"offset": place} | entry.central
        values = [lying[key] for key in FIELDS]
        lengths = len(entry.name), len(entry.extra_central), len(entry.comment)
        directory += struct.pack(
            "<4s6H3L5H2L", b"PK\1\2", 3 << 8 | 20, *values, *lengths, 0, 0, entry.attributes, lying["offset"]
        )
        directory += entry.name + entry.extra_central + entry.comment
    last = {"count": len(entries), "length": len(directory), "start": len(out), **(end or {})}
    closing = struct.pack(
        "<4s4H2LH", b"PK\5\6", 0, 0, *[last["count"]] * 2, last["length"], last["start"], len(tail)
    )
    return bytes(out + directory + closing + tail)


def entries_of(archive: bytes, changed: Mapping[str, bytes] | None = None) -> list[Entry]:
    """The files of an archive, some with other contents; the checksum of the manifest follows them."""
    files = contents(archive) | dict(changed or {})
    tags, own = "x/tagmanifest-sha256.txt", "x/manifest-sha256.txt"
    if changed and tags not in changed:
        lines = [
            f"{hashlib.sha256(content).hexdigest()}  {name.removeprefix('x/')}\n".encode()
            for name, content in sorted(files.items())
            if not name.startswith("x/data/") and name != tags
        ]
        files[tags] = b"".join(lines)
    assert own in files
    return [Entry(name.encode(), content) for name, content in files.items()]


def by_another_program(entries: list[Entry]) -> bytes:
    """A zip of entries with dates, as other programs write them."""
    for entry in entries:
        entry.local, entry.central = {"date": 0x5A21} | entry.local, {"date": 0x5A21} | entry.central
    return written(entries)


def with_one(**fields) -> bytes:
    """The smallest archive, written by this writer, with one entry more."""
    return written([*entries_of(packed()), Entry(**fields)])


def with_lie(draw: Draw, **fields) -> bytes:
    """The smallest archive, in which one entry lies."""
    entries = entries_of(packed())
    chosen = draw.choice(entries)
    for key, value in fields.items():
        setattr(chosen, key, value)
    return written(entries)


def extra(kind: int, content: bytes) -> bytes:
    return struct.pack("<2H", kind, len(content)) + content
