"""Whether the packed bytes of a content in a zip hold that content alone. Standard library only."""

from __future__ import annotations

import zipfile
import zlib
from typing import BinaryIO

from headland.record.pack import PIECE


def ends_with(stream: BinaryIO, info: zipfile.ZipInfo, start: int) -> bool:
    """Whether the packed bytes of a content hold that content and nothing more.

    `zipfile` stops at the declared size and passes over what follows: bytes after the end of a packed stream,
    a stream that goes on, or other bits than zeros after the end mark in its last byte.
    """
    if info.compress_type == zipfile.ZIP_STORED:
        return info.compress_size == info.file_size
    if not info.compress_size:
        return False
    inflate, left, size = zlib.decompressobj(-15), info.compress_size, 0
    stream.seek(start)
    try:
        while left > 1:
            packed = stream.read(min(PIECE, left - 1))
            left -= len(packed)
            if not packed or inflate.eof:
                return False
            size += _inflated(inflate, packed, info.file_size - size)
        before, last = inflate.copy(), stream.read(1)
        size += _inflated(inflate, last, info.file_size - size)
    except (zlib.error, ValueError):
        return False
    whole = size == info.file_size and inflate.eof and not inflate.unused_data
    return whole and not _has_spare_bits(before, last)


def _inflated(inflate, packed: bytes, most: int) -> int:
    """How many bytes come out of some packed ones. Raises ValueError where they are more than `most`."""
    size = 0
    while packed and not inflate.eof:
        size += len(inflate.decompress(packed, PIECE))
        packed = inflate.unconsumed_tail
        if size > most:
            raise ValueError
    return size


def _has_spare_bits(before, last: bytes) -> bool:
    """Whether bits are set after the end mark in the last byte of a stream, where packing leaves zeros.

    before: the decompressor before that byte. The highest bit set in the byte belongs to the end mark, unless
    bits were set after it: then the stream ends as well without it.
    """
    highest = 1 << last[0].bit_length() - 1 if last[0] else 0
    try:
        with_it, without = before.copy(), before.copy()
        same = with_it.decompress(last) == without.decompress(bytes([last[0] & ~highest]))
    except zlib.error:
        return False
    return bool(highest) and same and without.eof
