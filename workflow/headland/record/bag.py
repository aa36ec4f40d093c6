"""Opening an archive that may come from anywhere: nothing in it is unpacked before all of it has been
checked.

Standard library only, so that an archive can be checked where nothing is installed. `zipfile` reads the zip.
Three things that it lets through are checked here, each held by a test: a directory of any size
(`_refuse_directory`), bytes between and around the files (`_Layout`), and bytes after the end of a packed
content (`packed_end.ends_with`).
"""

from __future__ import annotations

import hashlib
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import IO, BinaryIO

from headland.record.names import LONGEST_NAME, faults_of_names, shown
from headland.record.pack import LARGEST, MOST_FILES, PIECE, Refused, as_packed
from headland.record.packed_end import ends_with

MOST_FOLD, ALWAYS_ALLOWED = 100, 100_000_000
"""An archive that unpacks to more than so many times its size, and to more than so many bytes, is a bomb
(ours: 3 to 10).
"""
LARGEST_READ = 50_000_000
"""Bytes of a content that is read as a whole."""
MOST_BESIDE = 64
"""Bytes that another program may put beside an entry (its own dates and rights)."""
DATES_AND_OWNERS = {0x000A, 0x5455, 0x5855, 0x7855, 0x7875, 0xCAFE}
"""Kinds of fields beside an entry that say nothing of its name or content (from memory)."""
SIZES = 0x0001
"""The kind of the field that holds sizes which do not fit the header."""
NO_ROOM = 0xFFFFFFFF
"""A size in a header that does not fit there."""
DECISIVE_FLAGS = 0x2869
"""Flags that change how an entry is read: encrypted, sizes behind it, patched, names in UTF-8, masked."""
DESCRIPTOR = (12, 16)
"""Bytes after a content that another program packed without knowing its size."""
_END, _ENTRY, _LOCAL = struct.Struct("<4s4H2LH"), 46, 30
_ZIP64_END, _ZIP64_END_SIZE = b"PK\6\7", 20
_UNREADABLE = (
    zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, struct.error,
    NotImplementedError, RuntimeError, EOFError, ValueError, OverflowError, IndexError,
)  # fmt: skip
"""What `zipfile` raises on damaged bytes."""
KINDS = {
    stat.S_IFLNK: "a link",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFIFO: "a pipe",
    stat.S_IFSOCK: "a socket",
}


@dataclass
class Bag:
    """An archive that was checked: its files, the digest of each, and what is wrong.

    entries: by name below the bag's folder. empty_folders: names of folders that hold no file. damaged:
    contents that can't be read. otherwise_packed: names of files whose entry in the zip (date, rights,
    remark, place) is not as Headland packs it; their content may be right.
    """

    zip: zipfile.ZipFile
    top: str
    entries: dict[str, zipfile.ZipInfo]
    empty_folders: list[str] = field(default_factory=list)
    digests: dict[str, str] = field(default_factory=dict)
    damaged: list[str] = field(default_factory=list)
    otherwise_packed: list[str] = field(default_factory=list)

    @property
    def size(self) -> int:
        """Bytes of all contents."""
        return sum(entry.file_size for entry in self.entries.values())

    @property
    def packed_anew(self) -> bool:
        """Whether another program packed all of it: then dates and rights of the entries say nothing."""
        return len(self.otherwise_packed) == len(self.entries)

    def open(self, name: str) -> IO[bytes]:
        """The content of one file as a stream. Raises Refused where it is not there."""
        if name not in self.entries:
            raise Refused([f"{shown(name)}: not there"])
        return self.zip.open(self.entries[name])

    def read(self, name: str, most: int = LARGEST_READ) -> bytes:
        """The content of one file.

        Raises Refused where it is not there, damaged or larger than `most` bytes.
        """
        if name in self.entries and self.entries[name].file_size > most:
            raise Refused([f"{shown(name)}: larger than {most} bytes"])
        try:
            with self.open(name) as stream:
                return stream.read()
        except _UNREADABLE:
            raise Refused([f"{shown(name)}: it is damaged"]) from None

    def unpack(self, prefix: str, folder: Path) -> None:
        """Write the files whose names begin with `prefix` below a new folder of the caller's."""
        for name in self.entries:
            if name.startswith(prefix):
                path = folder / name.removeprefix(prefix)
                path.parent.mkdir(parents=True, exist_ok=True)
                with self.open(name) as source, path.open("xb") as target:
                    while piece := source.read(PIECE):
                        target.write(piece)


def refuse_large(stream: BinaryIO) -> int:
    """Raise Refused where a file is larger than an archive can be. Returns its size."""
    whole = stream.seek(0, 2)
    stream.seek(0)
    if whole > LARGEST:
        raise Refused([f"{whole} bytes are more than an archive can have (2 GB)"])
    return whole


def may_unpack_to(whole: int) -> int:
    """Bytes to which an archive of so many bytes may unpack."""
    return max(MOST_FOLD * whole, ALWAYS_ALLOWED)


def opened(stream: BinaryIO, most: int | None = None) -> Bag:
    """Check an archive without unpacking it.

    most: bytes to which it may unpack; by default those that its size allows. Raises Refused where it is no
    such archive or holds something harmful: then nothing in it should be touched.
    """
    whole = _refuse_directory(stream)
    try:
        archive = zipfile.ZipFile(stream)
        infos = archive.infolist()
    except _UNREADABLE:
        raise Refused(["the zip's directory is damaged"]) from None
    if not all(info.filename for info in infos):
        raise Refused(["a file in the zip has no name"])
    files = [info for info in infos if not info.is_dir()]
    top = _refuse_harmful(infos, files, whole, may_unpack_to(whole) if most is None else most)
    layout = _Layout(stream, archive.start_dir, infos)
    layout.refuse_gaps(whole)
    bag = Bag(archive, top, {info.filename.removeprefix(f"{top}/"): info for info in files})
    used = {parent for info in files for parent in _folders(info.filename)}
    bag.empty_folders = [info.filename for info in infos if info.is_dir() and info.filename not in used]
    in_order = all(one.header_offset < next_one.header_offset for one, next_one in pairwise(infos))
    for name, info in bag.entries.items():
        if not (in_order and layout.is_as_packed(info)):
            bag.otherwise_packed.append(name)
        bag.digests[name], sound = _digest(archive, info)
        if not (sound and ends_with(stream, info, layout.content(info))):
            bag.damaged.append(f"{shown(name)}: it is damaged")
        elif not layout.agrees(info):
            bag.damaged.append(f"{shown(name)}: the zip describes it twice, and not alike")
    return bag


def _folders(name: str) -> Iterator[str]:
    parts = name.split("/")
    return ("/".join(parts[:count]) + "/" for count in range(1, len(parts)))


def _refuse_directory(stream: BinaryIO) -> int:
    """Raise Refused before a directory is read that is too large, or not where Headland writes it. Returns
    the size.

    `zipfile` reads a directory of any size into memory, and passes over bytes before and after the zip.
    """
    whole = refuse_large(stream)
    if whole < _END.size:
        raise Refused([f"{whole} bytes are no archive"])
    before_end = max(whole - _END.size - _ZIP64_END_SIZE, 0)
    stream.seek(before_end)
    tail = stream.read()
    mark, disk, first_disk, here, count, length, start, comment = _END.unpack(tail[-_END.size :])
    plain = mark == b"PK\5\6" and not (disk or first_disk or comment) and here == count
    if not plain or start + length + _END.size != whole or tail.startswith(_ZIP64_END):
        raise Refused(
            ["the end of the zip is not as Headland writes it: the file is cut off, damaged, or no zip"]
        )
    if count > MOST_FILES or length > MOST_FILES * (_ENTRY + LONGEST_NAME):
        raise Refused([f"it holds {count} files, more than {MOST_FILES}, or names that are too long"])
    return whole


def _refuse_harmful(infos: list[zipfile.ZipInfo], files: list[zipfile.ZipInfo], whole: int, most: int) -> str:
    """Raise Refused where an entry could do harm; return the name of the one folder that holds all.

    whole: bytes of the zip. most: bytes to which it may unpack.
    """
    refused = [f"{shown(info.filename)}: {kind}" for info in infos if (kind := _harmful(info))]
    refused += [
        f"{shown(info.filename)}: its place or size is beyond the end of the zip"
        for info in infos
        if max(info.header_offset, info.compress_size) > whole
    ]
    refused += faults_of_names([info.filename.removesuffix("/") for info in files])
    refused += [
        f"{shown(info.filename)}: {fault}"
        for info in infos
        if info.is_dir()
        for fault in faults_of_names([info.filename.removesuffix("/")])
    ]
    if refused:
        raise Refused(refused)
    unpacked = sum(info.file_size for info in infos)
    if unpacked > most:
        times = f"{unpacked // whole} times its own size"
        refused.append(f"it would unpack to {unpacked} bytes, {times}; no more than {most} are allowed")
    tops = sorted({info.filename.split("/")[0] for info in infos})
    if len(tops) != 1 or not all("/" in info.filename for info in infos):
        refused.append(f"it should hold one folder and holds {', '.join(map(shown, tops[:5])) or 'nothing'}")
    if refused:
        raise Refused(refused)
    return tops[0]


def _harmful(info: zipfile.ZipInfo) -> str:
    """What an entry is that no archive of ours holds; empty where it is an ordinary file or folder."""
    kind = stat.S_IFMT(info.external_attr >> 16)
    if kind in KINDS:
        return KINDS[kind]
    if info.flag_bits & 0x2041:
        return "encrypted"
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return f"packed by a method that is not used here ({info.compress_type})"
    if info.orig_filename != info.filename:
        return "a name that ends at a character that some programs pass over"
    if info.is_dir() and (info.file_size or info.compress_size > 2):
        return "a folder with a content"
    if info.comment or len(info.extra) > MOST_BESIDE:
        return "more beside its entry than a packing program writes"
    if not _fields(info.extra).keys() <= {*DATES_AND_OWNERS, SIZES}:
        return "a field beside its entry that could give it another name"
    return ""


def _fields(extra: bytes) -> dict[int, bytes]:
    """The fields beside an entry by their kind; -1 for bytes that are none."""
    found: dict[int, bytes] = {}
    while len(extra) >= 4:
        kind, length = struct.unpack("<2H", extra[:4])
        if kind in found or len(extra) < 4 + length:
            return {-1: extra}
        found[kind], extra = extra[4 : 4 + length], extra[4 + length :]
    return found if not extra else {-1: extra}


class _Layout:
    """Where the entries are in the zip, byte by byte."""

    def __init__(self, stream: BinaryIO, directory: int, infos: list[zipfile.ZipInfo]):
        self.stream, self.directory = stream, directory
        self.infos = sorted(infos, key=lambda info: info.header_offset)
        self.headers = {info.header_offset: self._header(info) for info in self.infos}

    def _header(self, info: zipfile.ZipInfo) -> bytes:
        """The bytes before a content: fixed part, name, extra field."""
        self.stream.seek(info.header_offset)
        fixed = self.stream.read(_LOCAL)
        if len(fixed) < _LOCAL:
            return fixed
        name, extra = struct.unpack("<2H", fixed[-4:])
        return fixed + self.stream.read(min(name, LONGEST_NAME * 4) + min(extra, MOST_BESIDE + 1))

    def content(self, info: zipfile.ZipInfo) -> int:
        """The place at which a packed content begins."""
        return info.header_offset + len(self.headers[info.header_offset])

    def refuse_gaps(self, whole: int) -> None:
        """Raise Refused where entries overlap, or bytes are in no entry."""
        end, refused = 0, []
        for info in self.infos:
            gap = info.header_offset - end
            if gap < 0:
                refused.append(f"{shown(info.filename)}: it overlaps another file in the zip")
            elif gap:
                refused.append(f"{shown(info.filename)}: {gap} bytes before it are in no file")
            end = self.content(info) + info.compress_size
            if info.flag_bits & 8:
                end = self._after_descriptor(end)
        if end != self.directory and not refused:
            refused.append(f"{abs(self.directory - end)} bytes before the zip's directory are in no file")
        names = sum(_ENTRY + len(_encoded(info)) + len(info.extra) for info in self.infos)
        if self.directory + names + _END.size != whole and not refused:
            refused.append("the zip's directory holds bytes of no file")
        if refused:
            raise Refused(refused)

    def _after_descriptor(self, end: int) -> int:
        """The end of an entry whose sizes follow its content: with or without a mark of its own."""
        self.stream.seek(end)
        return end + DESCRIPTOR[self.stream.read(4) == b"PK\7\10"]

    def agrees(self, info: zipfile.ZipInfo) -> bool:
        """Whether the header before a content says the same of it as the directory.

        A program that reads a zip from its beginning goes by that header alone.
        """
        header = self.headers[info.header_offset]
        _, _, flags, method, _, _, *sums, length, _ = struct.unpack("<4s5H3L2H", header[:_LOCAL])
        beside = _fields(header[_LOCAL + length :])
        if not beside.keys() <= {*DATES_AND_OWNERS, SIZES}:
            return False
        wanted = [info.CRC, info.compress_size, info.file_size]
        long = beside.get(SIZES) == struct.pack("<2Q", info.file_size, info.compress_size)
        if info.flag_bits & 8:
            self.stream.seek(self.content(info) + info.compress_size)
            behind = self.stream.read(DESCRIPTOR[1]).removeprefix(b"PK\7\10")
            sums_agree = struct.pack("<3L", *wanted) == behind[:12] and sums in ([0, 0, 0], wanted)
        else:
            sums_agree = sums == wanted or (long and sums == [info.CRC, NO_ROOM, NO_ROOM])
        same_flags = not (flags ^ info.flag_bits) & DECISIVE_FLAGS
        return same_flags and method == info.compress_type and sums_agree

    def is_as_packed(self, info: zipfile.ZipInfo) -> bool:
        """Whether each byte of an entry beside its content is as `pack` writes it."""
        ours = as_packed(info.filename)
        ours.CRC, ours.compress_size, ours.file_size = info.CRC, info.compress_size, info.file_size
        header = ours.FileHeader(zip64=False)
        ours.flag_bits = info.flag_bits & 0x800 if not info.filename.isascii() else 0
        alike = all(
            getattr(info, name) == getattr(ours, name)
            for name in (
                "date_time", "create_system", "create_version", "extract_version", "reserved", "flag_bits",
                "compress_type", "external_attr", "internal_attr", "volume", "extra", "comment",
            )
        )  # fmt: skip
        return alike and self.headers[info.header_offset] == header


def _encoded(info: zipfile.ZipInfo) -> bytes:
    """A name as the directory has it."""
    return info.orig_filename.encode("utf-8" if info.flag_bits & 0x800 else "cp437")


def _digest(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> tuple[str, bool]:
    """The SHA-256 of a content, and whether all of it can be read."""
    digest = hashlib.sha256()
    try:
        with archive.open(info) as stream:
            while piece := stream.read(PIECE):
                digest.update(piece)
    except _UNREADABLE:
        return digest.hexdigest(), False
    return digest.hexdigest(), True
