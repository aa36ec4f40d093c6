"""Packing an archive: a zip around a bag (RFC 8493). The same files give the same bytes. Standard library
only.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import BinaryIO

from headland.record.names import faults_of_names

MANIFEST, TAG_MANIFEST = "manifest-sha256.txt", "tagmanifest-sha256.txt"
DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
MOST_FILES = 20_000
LARGEST = 2**31 - 1
"""Bytes of the zip, and of all that is packed into it: what the plain zip format holds on every system."""
ROOM_BESIDE = 100_000_000
"""Bytes that are left for the zip's own parts."""
PIECE = 1 << 20
DATE = (1980, 1, 1, 0, 0, 0)
"""The date of every entry, the earliest of the format: a date of packing would make equal contents unequal
bytes.
"""
ORDINARY_FILE = 0o100644 << 16
UNIX = 3


class Refused(Exception):
    """Why a file is no archive of ours, is dangerous, or can't be packed: one plain line each."""

    def __init__(self, faults: list[str]):
        super().__init__("\n".join(faults))
        self.faults = faults


def as_packed(name: str) -> zipfile.ZipInfo:
    """An entry's description as every archive has it."""
    entry = zipfile.ZipInfo(name, DATE)
    entry.compress_type, entry.external_attr, entry.create_system = zipfile.ZIP_DEFLATED, ORDINARY_FILE, UNIX
    return entry


def pack(
    stream: BinaryIO,
    top: str,
    payload: Mapping[str, Path | bytes],
    tags: Mapping[str, bytes],
    info: Mapping[str, str],
) -> None:
    """Write a bag as a zip.

    Parameters
    ----------
    top : name of the bag's folder.
    payload : contents of data/ by name, as paths or bytes.
    tags : further files beside data/.
    info : lines of bag-info.txt; the size is added.

    Raises Refused where a name can't be archived or the whole is too large.
    """
    names = [*(f"{top}/data/{name}" for name in payload), *(f"{top}/{name}" for name in tags)]
    if faults := faults_of_names(names):
        raise Refused(faults)
    total = sum(_size(content) for content in payload.values())
    if total > LARGEST - ROOM_BESIDE or len(payload) > MOST_FILES - 10:
        limit = f"({MOST_FILES} files, 2 GB)"
        raise Refused([f"{len(payload)} files of {total} bytes: more than an archive can hold {limit}"])
    with zipfile.ZipFile(stream, "w") as archive:
        digests = {
            f"data/{name}": _add(archive, f"{top}/data/{name}", payload[name]) for name in sorted(payload)
        }
        lines = {"Payload-Oxum": f"{total}.{len(payload)}", **info}
        all_tags = {
            "bagit.txt": DECLARATION,
            "bag-info.txt": "".join(f"{key}: {_one_line(value)}\n" for key, value in lines.items()).encode(),
            MANIFEST: _manifest(digests),
            **tags,
        }
        tag_digests = {name: _add(archive, f"{top}/{name}", all_tags[name]) for name in sorted(all_tags)}
        _add(archive, f"{top}/{TAG_MANIFEST}", _manifest(tag_digests))


def _size(content: Path | bytes) -> int:
    return len(content) if isinstance(content, bytes) else content.stat().st_size


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _manifest(digests: Mapping[str, str]) -> bytes:
    return "".join(f"{digests[name]}  {name}\n" for name in sorted(digests)).encode("utf-8")


def _add(archive: zipfile.ZipFile, name: str, content: Path | bytes) -> str:
    """Add one file and return its SHA-256."""
    digest = hashlib.sha256()
    source = io.BytesIO(content) if isinstance(content, bytes) else content.open("rb")
    with source, archive.open(as_packed(name), "w") as target:
        while piece := source.read(PIECE):
            digest.update(piece)
            target.write(piece)
    return digest.hexdigest()
