"""The archive as a file: a zip around a bag (RFC 8493), which this module alone packs and opens.

Standard library only, so that an archive can be checked where nothing is installed. An archive is packed in one way: the same
files give the same bytes, and every byte that is not as it was packed can be found. What is opened may come from anywhere:
nothing is unpacked before all of it has been checked, and names, kinds and sizes that could do harm are refused.
"""

from __future__ import annotations

import hashlib
import re
import struct
import unicodedata
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

MANIFEST, TAG_MANIFEST = "manifest-sha256.txt", "tagmanifest-sha256.txt"
DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
MOST_FILES = 20_000
LARGEST = 2**31 - 1
"""Bytes of the zip, and of all that is packed into it: what the plain zip format holds on every system."""
MOST_FOLD, ALWAYS_ALLOWED = 100, 100_000_000
"""An archive that unpacks to more than so many times its own size, and to more than so many bytes, is a bomb (ours: 3 to 10 times)."""
PIECE = 1 << 20
PROJECT = (
    "Snakefile",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "CITATION.cff",
    "pyproject.toml",
    "requirements.in",
    "requirements.lock",
    "requirements-dev.in",
    "requirements-dev.lock",
    "config",
    "demo_inputs",
    "docs",
    "scripts",
    "tests",
    "workflow",
)
MIDNIGHT_1980 = 0x0021
"""The date of every entry, the earliest that a zip can say: a date of packing would make equal contents unequal bytes."""
ORDINARY_FILE = 0o100644 << 16
RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)")
_LOCAL, _CENTRAL, _END = struct.Struct("<4s5H3L2H"), struct.Struct("<4s6H3L5H2L"), struct.Struct("<4s4H2LH")
_MADE_BY, _NEEDS = 3 << 8 | 20, 20  # Unix; zip 2.0


class Refused(Exception):
    """What makes a file no archive of ours, or a dangerous one: one plain line each."""

    def __init__(self, faults: list[str]):
        super().__init__("\n".join(faults))
        self.faults = faults


def fault_of_name(name: str) -> str:
    """Why a file in an archive may not have this name; empty where it may. Such a name leaves no folder and means one thing on every system."""
    parts = name.split("/")
    if not all(c.isprintable() for c in name):
        return "a character that does not print"
    if any(c in name for c in '\\:*?"<>|%'):
        return 'one of the characters \\ : * ? " < > | %'
    if any(part in ("", ".", "..") for part in parts):
        return "a path that climbs, or begins or ends with /"
    if any(part[-1] in " ." or RESERVED.match(part) for part in parts):
        return "a part that some systems can't hold (it ends with a blank or a dot, or is a device's name)"
    if any(len(part.encode("utf-8", "surrogatepass")) > 200 for part in parts) or len(name) > 1000:
        return "a name that is too long"
    return ""


def shown(name: str) -> str:
    """A name as it can be printed: nothing in it steers a terminal."""
    return "".join(
        c if c.isprintable() else c.encode("unicode_escape", "surrogatepass").decode("ascii") for c in name
    )[:200]


def faults_of_names(names: list[str]) -> list[str]:
    """All that is wrong with a set of names, each alone and together: two that some system takes for one, a file where a folder must be."""
    faults = [f"{shown(name)}: {fault}" for name in names if (fault := fault_of_name(name))]
    alike = Counter(_folded(name) for name in names)
    faults += [
        f"{shown(name)}: there is another file of this name, or of one that some systems take for it"
        for name in names
        if alike[_folded(name)] > 1
    ]
    folders = {_folded(str(parent)) for name in names for parent in Path(name).parents}
    return faults + [
        f"{shown(name)}: a file where a folder of this name is" for name in names if _folded(name) in folders
    ]


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def project_files(root: Path) -> dict[str, Path]:
    """The project's own files by name, as they go into an archive: its source, settings, tests and pages, and nothing that tools or runs left."""
    found = {}
    for name in PROJECT:
        path = root / name
        for file in sorted(path.rglob("*")) if path.is_dir() else [path]:
            own = file.relative_to(root)
            if (
                file.is_file()
                and not file.is_symlink()
                and not any(
                    part.startswith((".", "__pycache__")) or part.endswith(("~", ".pyc"))
                    for part in own.parts
                )
            ):
                found[own.as_posix()] = file
    return found


# Packing -------------------------------------------------------------------------------------------------------------


def pack(
    stream: BinaryIO,
    top: str,
    payload: Mapping[str, Path | bytes],
    tags: Mapping[str, bytes],
    info: Mapping[str, str],
) -> None:
    """Write a bag as a zip. The same contents give the same bytes.

    top: name of the bag's folder. payload: contents of data/ by name, as paths or bytes. tags: further files beside data/. info: lines of
    bag-info.txt; the size is added. Raises Refused where a name can't be archived or all of it is too large.
    """
    faults = faults_of_names(
        [*(f"{top}/data/{name}" for name in payload), *(f"{top}/{name}" for name in tags)]
    )
    if faults:
        raise Refused(faults)
    sizes = {
        name: len(content) if isinstance(content, bytes) else content.stat().st_size
        for name, content in payload.items()
    }
    if sum(sizes.values()) > LARGEST - PIECE * 100 or len(sizes) > MOST_FILES - 10:
        raise Refused(
            [
                f"{len(sizes)} files of {sum(sizes.values())} bytes: more than an archive can hold ({MOST_FILES} files, 2 GB)"
            ]
        )
    digests = {}
    with zipfile.ZipFile(stream, "w") as archive:
        for name in sorted(payload):
            digests[f"data/{name}"] = _add(archive, f"{top}/data/{name}", payload[name])
        lines = {"Payload-Oxum": f"{sum(sizes.values())}.{len(sizes)}", **info}
        tags = {
            "bagit.txt": DECLARATION,
            "bag-info.txt": "".join(f"{key}: {_one_line(value)}\n" for key, value in lines.items()).encode(),
            MANIFEST: _manifest(digests),
            **tags,
        }
        tag_digests = {name: _add(archive, f"{top}/{name}", tags[name]) for name in sorted(tags)}
        _add(archive, f"{top}/{TAG_MANIFEST}", _manifest(tag_digests))


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _manifest(digests: Mapping[str, str]) -> bytes:
    return "".join(f"{digests[name]}  {name}\n" for name in sorted(digests)).encode("utf-8")


def _add(archive: zipfile.ZipFile, name: str, content: Path | bytes) -> str:
    """Add one file and return its SHA-256."""
    entry = zipfile.ZipInfo(name)  # its date is 1980-01-01
    entry.compress_type, entry.external_attr, entry.create_system = zipfile.ZIP_DEFLATED, ORDINARY_FILE, 3
    digest = hashlib.sha256()
    with archive.open(entry, "w") as target:
        if isinstance(content, bytes):
            pieces = iter([content])
        else:
            source = content.open("rb")
            pieces = iter(lambda: source.read(PIECE), b"")
        for piece in pieces:
            digest.update(piece)
            target.write(piece)
        if not isinstance(content, bytes):
            source.close()
    return digest.hexdigest()


# Opening -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Entry:
    """One file in the zip, as its directory describes it."""

    name: str
    method: int
    crc: int
    packed: int
    size: int
    offset: int
    as_packed: bool


@dataclass
class Bag:
    """An archive that was looked through: where its files are, what each holds, what is wrong with it.

    entries: by name below the bag's folder. damaged: what can't be read, named. otherwise_packed: names of files whose content may be
    right, but whose entry in the zip (date, rights, remark, place) is not as it was packed.
    """

    stream: BinaryIO
    top: str
    entries: dict[str, Entry]
    digests: dict[str, str] = field(default_factory=dict)
    damaged: list[str] = field(default_factory=list)
    otherwise_packed: list[str] = field(default_factory=list)

    def read(self, name: str, most: int = 50_000_000) -> bytes:
        """The content of one file. Raises Refused where it is not there, damaged or larger than `most` bytes."""
        entry = self.entries.get(name)
        if entry is None or entry.size > most:
            raise Refused(
                [f"{shown(name)}: not there" if entry is None else f"{shown(name)}: larger than {most} bytes"]
            )
        return b"".join(_content(self.stream, entry))

    def unpack(self, prefix: str, folder: Path) -> None:
        """Write the files whose names begin with `prefix` below a new folder of the caller's."""
        for name, entry in self.entries.items():
            if name.startswith(prefix):
                path = folder / name.removeprefix(prefix)
                path.parent.mkdir(parents=True, exist_ok=True)
                with path.open("xb") as target:
                    target.writelines(_content(self.stream, entry))


def opened(stream: BinaryIO) -> Bag:
    """Look through an archive without unpacking it.

    Raises Refused where it is no such archive or holds what could do harm: then nothing in it should be touched.
    """
    whole, entries = stream.seek(0, 2), _directory(stream)
    refused = faults_of_names([entry.name for entry in entries])
    unpacked = sum(entry.size for entry in entries)
    if unpacked > max(MOST_FOLD * whole, ALWAYS_ALLOWED):
        refused.append(f"it would unpack to {unpacked} bytes, {unpacked // whole} times its own size")
    tops = sorted({entry.name.split("/")[0] for entry in entries})
    if len(tops) != 1 or not all("/" in entry.name for entry in entries):
        refused.append(f"it should hold one folder and holds {', '.join(map(shown, tops[:5])) or 'nothing'}")
    end = 0
    for entry in sorted(entries, key=lambda entry: entry.offset):
        if entry.offset < end:
            refused.append(f"{shown(entry.name)}: it overlaps another file in the zip")
        end = entry.offset + len(_header(entry)) + entry.packed
    if refused:
        raise Refused(refused)
    bag, end = Bag(stream, tops[0], {entry.name.removeprefix(f"{tops[0]}/"): entry for entry in entries}), 0
    for name, entry in bag.entries.items():
        stream.seek(entry.offset)
        if not entry.as_packed or entry.offset != end or stream.read(len(_header(entry))) != _header(entry):
            bag.otherwise_packed.append(name)
        end = entry.offset + len(_header(entry)) + entry.packed
        digest = hashlib.sha256()
        try:
            for piece in _content(stream, entry):
                digest.update(piece)
        except Refused as problem:
            bag.damaged += problem.faults
        bag.digests[name] = digest.hexdigest()
    return bag


def _directory(stream: BinaryIO) -> list[Entry]:
    """The entries of the zip's directory, but for those of folders, which hold nothing."""
    whole = stream.seek(0, 2)
    if whole < _END.size or whole > LARGEST:
        raise Refused([f"{whole} bytes are no archive" if whole < _END.size else "larger than 2 GB"])
    stream.seek(whole - _END.size)
    mark, disk, first_disk, here, count, length, start, comment = _END.unpack(stream.read(_END.size))
    if (
        mark != b"PK\5\6"
        or disk
        or first_disk
        or comment
        or here != count
        or start + length + _END.size != whole
    ):
        raise Refused(
            ["the end of the zip is not as Headland writes it: the file is cut off, damaged, or no zip"]
        )
    if count > MOST_FILES:
        raise Refused([f"it holds {count} files, more than {MOST_FILES}"])
    stream.seek(start)
    directory, position = stream.read(length), 0
    entries, refused = [], []
    for _ in range(count):
        if position + _CENTRAL.size > length:
            raise Refused(["the zip's directory is cut off or damaged"])
        (
            mark,
            made_by,
            needs,
            flags,
            method,
            time,
            date,
            crc,
            packed,
            size,
            name_length,
            extra,
            remark,
            disk,
            inside,
            outside,
            offset,
        ) = _CENTRAL.unpack_from(directory, position)
        raw = directory[position + _CENTRAL.size : position + _CENTRAL.size + name_length]
        position += _CENTRAL.size + name_length + extra + remark
        if mark != b"PK\1\2" or len(raw) != name_length:
            raise Refused(
                ["the zip's directory is damaged" + (f" after {shown(entries[-1].name)}" if entries else "")]
            )
        name = raw.decode("utf-8", "surrogateescape")
        if kind := _harmful(outside >> 16, flags, method, raw):
            refused.append(f"{shown(name)}: {kind}")
        as_packed = (made_by, needs, flags, method, time, date, extra, remark, disk, inside, outside) == (
            _MADE_BY,
            _NEEDS,
            _flags(raw),
            8,
            0,
            MIDNIGHT_1980,
            0,
            0,
            0,
            0,
            ORDINARY_FILE,
        )
        if not name.endswith("/") or size or packed > 2:
            entries.append(Entry(name, method, crc, packed, size, offset, as_packed))
    if refused:
        raise Refused(refused)
    if position != length:
        raise Refused(["the zip's directory is damaged at its end"])
    return entries


def _flags(raw: bytes) -> int:
    return 0 if raw.isascii() else 0x800  # the name is in UTF-8


def _header(entry: Entry) -> bytes:
    """An entry's own header, as `pack` writes it."""
    raw = entry.name.encode("utf-8", "surrogateescape")
    return (
        _LOCAL.pack(
            b"PK\3\4",
            _NEEDS,
            _flags(raw),
            8,
            0,
            MIDNIGHT_1980,
            entry.crc,
            entry.packed,
            entry.size,
            len(raw),
            0,
        )
        + raw
    )


def _harmful(mode: int, flags: int, method: int, raw: bytes) -> str:
    """What an entry is that no archive of ours holds; empty where it is an ordinary file."""
    kinds = {
        0o120000: "a link",
        0o020000: "a device",
        0o060000: "a device",
        0o010000: "a pipe",
        0o140000: "a socket",
    }
    if (mode & 0o170000) in kinds:
        return kinds[mode & 0o170000]
    if flags & 0x2041:
        return "encrypted"
    if method not in (0, 8):
        return f"packed by a method that is not used here ({method})"
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return "a name that is not UTF-8"
    return ""


def _content(stream: BinaryIO, entry: Entry) -> Iterator[bytes]:
    """The content of an entry in pieces, never more than the directory says. Raises Refused where a byte of it is not as it was packed."""
    name = shown(entry.name.partition("/")[2])
    damaged = Refused([f"{name}: it is damaged"])
    stream.seek(entry.offset)
    try:
        mark, _, _, method, _, _, _, _, _, name_length, extra = _LOCAL.unpack(stream.read(_LOCAL.size))
    except struct.error:
        raise damaged from None
    if mark != b"PK\3\4" or method != entry.method or stream.read(name_length) != entry.name.encode("utf-8"):
        raise Refused([f"{name}: the zip names it otherwise in another place, or its header is damaged"])
    stream.seek(extra, 1)
    size, crc = 0, 0
    try:
        for piece in _inflated(stream, entry) if entry.method else _stored(stream, entry):
            size, crc = size + len(piece), zlib.crc32(piece, crc)
            if size > entry.size:
                raise damaged
            yield piece
    except (zlib.error, EOFError):
        raise damaged from None
    if size != entry.size or crc != entry.crc:
        raise damaged


def _stored(stream: BinaryIO, entry: Entry) -> Iterator[bytes]:
    """A content that was packed as it is. Raises EOFError where the zip ends before it."""
    left = entry.packed
    while left:
        piece = stream.read(min(PIECE, left))
        if not piece:
            raise EOFError
        left -= len(piece)
        yield piece


def _inflated(stream: BinaryIO, entry: Entry) -> Iterator[bytes]:
    """A compressed content in pieces of bounded size. Raises EOFError or zlib.error where it is not whole, or more follows it."""
    inflate, left = zlib.decompressobj(-15), entry.packed
    while left:
        packed = stream.read(
            min(PIECE, max(left - 1, 1))
        )  # the last byte by itself, for the look at its spare bits
        if not packed or inflate.eof:
            raise EOFError
        left -= len(packed)
        before, last = inflate.copy(), packed[0]
        while packed and not inflate.eof:
            yield inflate.decompress(packed, PIECE)
            packed = inflate.unconsumed_tail
        if inflate.unused_data:
            raise EOFError
    if not inflate.eof or _has_spare_bits(before, last):
        raise EOFError


def _has_spare_bits(inflate, last: int) -> bool:
    """Whether the bits that fill up the last byte, which say nothing, are other than the zeros that were packed.

    inflate: as it was before the stream's last byte. The highest bit set in that byte is part of the end mark, unless something was added.
    """
    if not last:
        return False
    try:
        other = inflate.copy()
        return (
            other.decompress(bytes([last & ~(1 << last.bit_length() - 1)]))
            == inflate.decompress(bytes([last]))
            and other.eof
        )
    except zlib.error:
        return False
