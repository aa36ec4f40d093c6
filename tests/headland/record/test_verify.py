"""Archives: every byte and every file is accounted for; what could do harm is refused; two makings are compared by column."""

import io
import random
import struct
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from headland.base.errors import UserErrors
from headland.files import settings
from headland.record import bag, verify
from headland.report import workbook

ROOT = Path(__file__).parents[3]
LOCK = b"one==1.0 \\\n    --hash=sha256:" + b"0" * 64 + b"\n"
TABLE = b"surface,albedo,sw_in\nshort_grass,0.2000,800.12\nstubble,0.2500,801.00\n"


def payload(**more):
    files = {
        name.removeprefix("data/"): b"{}" if name.endswith(".json") else b"a,b\n1,2\n"
        for name in verify.ALWAYS_THERE
        if name.startswith("data/")
    }
    return (
        files
        | {
            "project/requirements.lock": LOCK,
            "results/surfaces.csv": TABLE,
            "inputs/x/campaign.yaml": b"title: x\n",
        }
        | more
    )


def packed(files=None, **more):
    stream = io.BytesIO()
    bag.pack(
        stream,
        "x",
        payload() if files is None else files,
        {"README.txt": b"read me\n", **more},
        {"Title": "x"},
    )
    return stream.getvalue()


def found(content):
    """What is wrong with an archive, whether it was refused or only found changed."""
    try:
        return verify.faults(bag.opened(io.BytesIO(content)))
    except bag.Refused as problem:
        return problem.faults


def again(content, change=lambda files: files):
    """The archive packed by Python's own writer, after a change of its files."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        files = change({item.filename: archive.read(item) for item in archive.infolist()})
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return stream.getvalue()


def entry(name="x/data/evil", content=b"x", mode=0o100644, **fields):
    """An archive with one entry more, written with the given fields."""
    stream = io.BytesIO(packed())
    info = zipfile.ZipInfo("placeholder")
    info.filename, info.external_attr = name, mode << 16
    for key, value in fields.items():
        setattr(info, key, value)
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr(info, content)
    return stream.getvalue()


def many():
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for number in range(bag.MOST_FILES + 1):
            archive.writestr(zipfile.ZipInfo(f"x/{number}"), b"")
    return stream.getvalue()


def central(content, offset, value):
    """Overwrite bytes in the directory's first entry."""
    at = content.index(b"PK\1\2")
    return content[: at + offset] + value + content[at + offset + len(value) :]


def overlapping():
    """Two names for one place in the zip, as bombs have them."""
    content = packed()
    at = content.index(b"PK\1\2")
    second = content.index(b"PK\1\2", at + 4)
    return content[: second + 42] + struct.pack("<L", 0) + content[second + 46 :]


# Intact ------------------------------------------------------------------------------------------------------------------


def test_a_sound_archive_has_no_fault_and_the_same_bytes_each_time():
    assert found(packed()) == [] and packed() == packed()


def test_every_changed_byte_is_found():
    """Each byte of the zip in turn, in one of its bits: contents, headers, directory, end, and the bits that say nothing."""
    content, draw = packed(), random.Random(7)
    for place in sorted(draw.sample(range(len(content)), 400)) + list(range(len(content) - 22, len(content))):
        changed = bytearray(content)
        changed[place] ^= 1 << draw.randrange(8)
        assert found(bytes(changed)), place


@pytest.mark.parametrize(
    "change, wanted",
    [
        (
            lambda f: f | {"x/data/results/surfaces.csv": TABLE.replace(b"0.25", b"0.26")},
            "data/results/surfaces.csv: changed",
        ),
        (lambda f: f | {"x/data/results/more.csv": b"1"}, "data/results/more.csv: added"),
        (
            lambda f: {k: v for k, v in f.items() if k != "x/data/results/surfaces.csv"},
            "data/results/surfaces.csv: missing",
        ),
        (
            lambda f: {k.replace("surfaces", "surfacez"): v for k, v in f.items()},
            "data/results/surfaces.csv: renamed to data/results/surfacez.csv",
        ),
        (lambda f: f | {"x/README.txt": b"other"}, "README.txt: changed"),
    ],
)
def test_what_became_of_a_file_is_named(change, wanted):
    assert [line for line in found(again(packed(), change)) if line.startswith(wanted)]


def test_packed_anew_by_another_program_is_intact():
    content = again(packed())
    assert found(content) == [] and verify.packed_anew(bag.opened(io.BytesIO(content)))


# Harmful -----------------------------------------------------------------------------------------------------------------


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


@pytest.mark.parametrize(
    "line",
    [
        b"--extra-index-url elsewhere\n",
        b"evil @ file:///evil.whl\n",
        b"evil==1.0\n",
        b"-e .\n",
        b"--find-links /tmp\n",
    ],
)
def test_a_changed_lock_is_found_even_with_matching_checksums(line):
    archive = bag.opened(io.BytesIO(packed(payload(**{"project/requirements.lock": LOCK + line}))))
    assert verify.faults(archive) == [] and verify.faults_of_lock(archive)


def test_the_projects_own_lock_passes():
    archive = bag.opened(
        io.BytesIO(
            packed(payload(**{"project/requirements.lock": (ROOT / "requirements.lock").read_bytes()}))
        )
    )
    assert verify.faults_of_lock(archive) == []


def test_tags_in_the_archives_yaml_are_not_followed(tmp_path):
    archive = bag.opened(
        io.BytesIO(
            packed(
                payload(
                    **{"inputs/x/campaign.yaml": b"title: !!python/object/apply:os.system ['touch evil']\n"}
                )
            )
        )
    )
    archive.unpack("data/inputs/", tmp_path)
    with pytest.raises(UserErrors):
        settings.load(tmp_path / "x", ROOT / "config")
    assert not Path("evil").exists()


def test_changed_programs_are_named_before_anything_runs():
    first, other = (
        bag.opened(io.BytesIO(packed(payload(**{"project/scripts/headland.py": text}))))
        for text in (b"1", b"2")
    )
    ours = {
        name.removeprefix(verify.CODE): digest
        for name, digest in first.digests.items()
        if name.startswith(verify.CODE)
    }
    assert verify.other_code(first, ours) == [] and verify.other_code(other, ours) == ["scripts/headland.py"]
    assert verify.digest_of_code(first) != verify.digest_of_code(other)


@pytest.mark.parametrize("text", ['=HYPERLINK("x")', "+1+1", "-1+1", "@SUM(1)", "'=1+1"])
def test_no_cell_of_the_workbook_is_a_formula(text):
    resource = {
        "path": "t.csv",
        "description": "d",
        "schema": {
            "fields": [
                {"name": "field", "type": "string", "description": "f"},
                {"name": "n", "type": "number", "unit": "W m-2", "description": "n"},
            ]
        },
    }
    content = workbook.workbook([resource], {"t.csv": [[text, "-1.50"]]})
    sheet = openpyxl.load_workbook(io.BytesIO(content))["t"]
    assert (
        sheet["A3"].data_type == "s"
        and sheet["A3"].value == text.removeprefix("'")
        and sheet["A3"].quotePrefix
    )
    assert sheet["B3"].value == -1.5 and sheet["B3"].number_format == "0.00" and sheet["B2"].value == "W m-2"
    assert content == workbook.workbook([resource], {"t.csv": [[text, "-1.50"]]})


# The same numbers --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "old, new, apart, rounding",
    [
        (
            b"0.2500",
            b"0.2501",
            [],
            ["surfaces.csv, column albedo: 1 of 2 cells, such as 0.2500 and now 0.2501"],
        ),
        (
            b"0.2500",
            b"0.2510",
            ["surfaces.csv, column albedo: 1 of 2 cells, such as 0.2500 and now 0.2510"],
            [],
        ),
        (b"0.2500", b"", ["surfaces.csv, column albedo: 1 of 2 cells, such as 0.2500 and now empty"], []),
        (
            b"sw_in\n",
            b"sw_out\n",
            ["surfaces.csv, columns: surface, albedo, sw_in became surface, albedo, sw_out"],
            [],
        ),
        (b"stubble,0.2500,801.00\n", b"", ["surfaces.csv, rows: 2 became 1"], []),
    ],
)
def test_differences_are_listed_with_their_column(old, new, apart, rounding):
    first, other = (
        bag.opened(io.BytesIO(packed(payload(**{"results/surfaces.csv": text}))))
        for text in (TABLE, TABLE.replace(old, new))
    )
    result = verify.compared(first, other)
    assert (result.apart, result.rounding) == (apart, rounding)
    assert verify.compared(first, first).apart == []


def test_checking_needs_the_standard_library_alone():
    import subprocess

    code = "import sys; sys.path.insert(0, 'workflow'); from headland.record import bag, verify; print(*sorted({m.partition('.')[0] for m in sys.modules} - set(sys.stdlib_module_names)))"
    said = subprocess.run(
        [sys.executable, "-I", "-S", "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    assert set(said) <= {"headland", "__main__"}


@pytest.mark.parametrize("again, words", [(b"a,\xff\n1,2\n", "UTF-8"), (b"a,b\x00\x1b[2J\n1,2\n", "columns")])
def test_a_table_that_is_no_text_any_more_is_told_in_a_plain_line(again, words):
    (line,), rounding = verify.columns_apart(b"a,b\n1,2\n", again)
    assert words in line and line.isprintable() and not rounding
