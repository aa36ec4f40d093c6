"""Opening archives: every byte is accounted for, and a harmful archive is refused within bounds of memory and
time.
"""

import io
import random
import struct
import subprocess
import sys
import tracemalloc
import zipfile
import zlib

import pytest

from hang import ends
from headland.record import bag
from headland.record.names import LONGEST_NAME
from headland.record.pack import Refused

from .made import ROOT, again, central, entry, found, many, overlapping, packed, payload


def test_a_sound_archive_has_no_fault_and_the_same_bytes_each_time():
    assert found(packed()) == [] and packed() == packed()


def test_every_changed_byte_is_found():
    """Each byte of the zip in turn, in one of its bits: contents, headers, directory, end, and the bits that
    say nothing.
    """
    content, draw = packed(), random.Random(7)
    for place in sorted(draw.sample(range(len(content)), 400)) + list(range(len(content) - 22, len(content))):
        changed = bytearray(content)
        changed[place] ^= 1 << draw.randrange(8)
        assert found(bytes(changed)), place


HOSTILE = {
    "climbs": (lambda: entry("x/../../evil"), "climbs"),
    "from the root": (lambda: entry("/etc/evil"), "climbs"),
    "backslashes": (lambda: entry("x\\..\\evil"), "one of the characters"),
    "a drive": (lambda: entry("C:/evil"), "one of the characters"),
    "a terminal's commands in a name": (lambda: entry("x/\x1b[2Jevil"), "does not print"),
    "a device's name": (lambda: entry("x/con.txt"), "some systems can't hold"),
    "a very long name": (lambda: entry("x/" + "a" * 300), "too long"),
    "a link": (lambda: entry(content=b"/etc/passwd", mode=0o120777), "a link"),
    "a device": (lambda: entry(mode=0o020666), "a device"),
    "a pipe": (lambda: entry(mode=0o010666), "a pipe"),
    "a bomb": (
        lambda: entry(content=b"\0" * 150_000_000, compress_type=zipfile.ZIP_DEFLATED),
        "times its own size",
    ),
    "a size that is a lie": (lambda: central(packed(), 24, struct.pack("<L", 3)), "damaged"),
    "two files in one place": (overlapping, "overlaps"),
    "too many files": (many, "more than"),
    "one name twice": (lambda: entry("x/README.txt"), "another file of this name"),
    "names that differ in capitals": (lambda: entry("x/readme.TXT"), "another file of this name"),
    "a file where a folder is": (lambda: entry("x/data"), "a file where a folder"),
    "encrypted": (lambda: central(packed(), 8, b"\1\0"), "encrypted"),
    "another packing": (lambda: entry(compress_type=zipfile.ZIP_LZMA), "a method that is not used"),
    "a program before the zip": (lambda: b"#!/bin/sh\nevil\n" + packed(), "the end of the zip"),
    "something after the zip": (lambda: packed() + b"evil", "the end of the zip"),
    "cut off": (lambda: packed()[:-100], "the end of the zip"),
    "no zip": (lambda: b"no zip at all, but long enough to look at", "the end of the zip"),
    "two folders": (lambda: entry("y/evil"), "one folder"),
    "a checksum of a file elsewhere": (
        lambda: again(
            packed(), lambda f: f | {"x/manifest-sha256.txt": b"0" * 64 + b"  data/../../etc/passwd\n"}
        ),
        "no checksum of a file",
    ),
    "files to fetch": (
        lambda: packed(**{"fetch.txt": b"http://127.0.0.1/evil 1 data/evil\n"}),
        "fetch.txt: asks to fetch",
    ),
    "nested without end": (
        lambda: packed(payload(**{"settings.json": b"[" * 100_000})),
        "not readable as JSON",
    ),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_archive_is_refused(name):
    make, wanted = HOSTILE[name]
    lines = found(make())
    assert any(wanted in line for line in lines), lines
    assert all(line.isprintable() for line in lines)


def test_checking_needs_the_standard_library_alone():
    import subprocess

    code = (
        "import sys; sys.path.insert(0, 'workflow'); "
        "from headland.record import bag, compare, intact, programs, rerun; "
        "print(*sorted({m.partition('.')[0] for m in sys.modules} - set(sys.stdlib_module_names)))"
    )
    said = subprocess.run(
        [sys.executable, "-I", "-S", "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    assert set(said) <= {"headland", "__main__"}


# What the library's reader lets through: each of these is why something is checked here


def raw_entry(name, content, packed_content, size=None):
    """A zip of one file whose packed bytes are as given: local header, content, directory, end."""
    crc, size = zlib.crc32(content), len(content) if size is None else size
    fields = (20, 0, 8, 0, 0x21, crc, len(packed_content), size, len(name), 0)
    local = struct.pack("<4s5H3L2H", b"PK\3\4", *fields) + name + packed_content
    made = struct.pack("<4s6H3L5H2L", b"PK\1\2", 3 << 8 | 20, *fields, 0, 0, 0, 0o100644 << 16, 0) + name
    return local + made + struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, 1, 1, len(made), len(local), 0)


def deflated(content):
    work = zlib.compressobj(9, zlib.DEFLATED, -15)
    return work.compress(content) + work.flush()


def damaged(content):
    """What is damaged in a zip of one file, and what the library reads of it."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        read = archive.read(archive.namelist()[0])
    return bag.opened(io.BytesIO(content)).damaged, read


def test_the_archive_of_one_file_that_the_next_tests_change_is_sound():
    content = b"text " * 100
    assert damaged(raw_entry(b"x/a", content, deflated(content))) == ([], content)


def test_bytes_after_the_end_of_a_packed_content_are_found():
    content = b"text " * 100
    lines, read = damaged(raw_entry(b"x/a", content, deflated(content) + b"hidden"))
    assert read == content and lines == ["a: it is damaged"]


def test_many_bytes_after_the_end_of_a_packed_content_are_found():
    """More than is read at once."""
    content = b"text " * 100
    lines, read = damaged(raw_entry(b"x/a", content, deflated(content) + bytes(3 << 20)))
    assert read == content and lines == ["a: it is damaged"]


def test_a_content_that_goes_on_after_its_declared_size_is_found():
    content = b"text " * 100
    lines, read = damaged(raw_entry(b"x/a", content, deflated(content + b"hidden" * 100)))
    assert read == content and lines == ["a: it is damaged"]


@pytest.mark.parametrize("bit", range(8))
def test_bits_after_the_end_mark_are_found(bit):
    content = b"text " * 100
    packed_content = bytearray(deflated(content))
    packed_content[-1] ^= 1 << bit
    try:
        lines = bag.opened(io.BytesIO(raw_entry(b"x/a", content, bytes(packed_content)))).damaged
    except Refused as problem:
        lines = problem.faults
    assert lines


def gap(before):
    """An archive with bytes between its first file and the next, or before its directory, and right places
    for all.
    """
    content = packed()
    end = content.rindex(b"PK\5\6")
    start = struct.unpack("<L", content[end + 16 : end + 20])[0]
    directory, place = bytearray(content[start:end]), 0
    at = content.index(b"PK\3\4", 4) if before == "a file" else start
    while place < len(directory):
        names = struct.unpack("<3H", directory[place + 28 : place + 34])
        offset = struct.unpack("<L", directory[place + 42 : place + 46])[0]
        if offset >= at:
            directory[place + 42 : place + 46] = struct.pack("<L", offset + 6)
        place += 46 + sum(names)
    tail = content[end : end + 16] + struct.pack("<L", start + 6) + content[end + 20 :]
    return content[:at] + b"hidden" + content[at:start] + bytes(directory) + tail


@pytest.mark.parametrize("before", ["a file", "the directory"])
def test_bytes_in_no_file_are_found(before):
    with zipfile.ZipFile(io.BytesIO(gap(before))) as archive:
        assert archive.testzip() is None
    assert any("in no file" in line for line in found(gap(before)))


def within(megabytes, make):
    """Run the check within bounds; returns what was found."""
    tracemalloc.start()
    try:
        with ends():
            lines = found(make)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < megabytes * 1e6, peak
    return lines


def test_one_long_name_of_many_parts_takes_no_memory():
    name = "x/" + "a/" * 30_000 + "b"
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr(zipfile.ZipInfo(name), b"")
    assert any("too long" in line for line in within(20, stream.getvalue()))


def test_many_names_of_many_parts_take_no_memory():
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for number in range(2_000):
            archive.writestr(zipfile.ZipInfo(f"x/{'a/' * 400}{number}"), b"")
    assert any("too long" in line for line in within(60, stream.getvalue()))


def test_a_large_directory_is_refused_before_it_is_read():
    length = 20_000 * (46 + LONGEST_NAME) + 1
    content = b"\0" * length + struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, 1, 1, length, 0, 0)
    assert any("names that are too long" in line for line in within(25, content))


def test_a_directory_of_many_names_is_read():
    """Of 300 names of 80 letters it is larger than the number of files that are allowed."""
    files = {f"x/{number:03}{'a' * 75}": b"" for number in range(300)}
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name), content)
    assert set(bag.opened(io.BytesIO(stream.getvalue())).entries) == {name[2:] for name in files}


def test_a_packed_content_of_no_bytes_is_damaged():
    """Nothing is packed into two bytes, not into none."""
    assert damaged(raw_entry(b"x/a", b"", deflated(b"")))[0] == []
    assert bag.opened(io.BytesIO(raw_entry(b"x/a", b"", b""))).damaged == ["a: it is damaged"]


def test_a_second_end_for_large_archives_is_refused():
    """The library would follow it to a directory of any size."""
    content = packed()
    locator = struct.pack("<4sLQL", b"PK\6\7", 0, 0, 1)
    end = content.rindex(b"PK\5\6")
    start, length = struct.unpack("<L", content[end + 16 : end + 20])[0], len(locator)
    size = struct.unpack("<L", content[end + 12 : end + 16])[0] + length
    tail = content[end : end + 12] + struct.pack("<2L", size, start) + content[end + 20 :]
    assert any("the end of the zip" in line for line in found(content[:end] + locator + tail))


def test_a_name_that_ends_at_a_null_for_some_programs_is_refused():
    raw = raw_entry(b"x/a\0b", b"t", deflated(b"t"))
    assert any("pass over" in line or "does not print" in line for line in found(raw))


@pytest.mark.parametrize("kind", ["device", "pipe", "folder"])
def test_nothing_but_a_plain_file_is_opened(kind, tmp_path):
    import os

    path = {"device": "/dev/zero", "folder": str(tmp_path), "pipe": str(tmp_path / "pipe")}[kind]
    if kind == "pipe":
        os.mkfifo(path)
    said = subprocess.run(
        [sys.executable, ROOT / "scripts/verbs/verify.py", path],
        capture_output=True,
        text=True,
        timeout=60,
        env=os.environ | {"PYTHONPATH": str(ROOT / "workflow")},
    )
    assert said.returncode == 2 and said.stderr.count("\n") == 1 and "can't be read" in said.stderr
