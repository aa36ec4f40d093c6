"""Archives that the tests of this room are made from."""

import io
import struct
import zipfile
from pathlib import Path

from headland.record import bag, intact
from headland.record.intact import ALWAYS_THERE
from headland.record.pack import MOST_FILES, Refused, pack

ROOT = Path(__file__).parents[3]


LOCK = b"one==1.0 \\\n    --hash=sha256:" + b"0" * 64 + b"\n"


TABLE = b"surface,albedo,sw_in\nshort_grass,0.2000,800.12\nstubble,0.2500,801.00\n"


def payload(**more):
    empty = {
        "settings.json": b'{"inputs": []}',
        "datapackage.json": b'{"resources": []}',
        "ro-crate-metadata.json": b'{"@graph": []}',
    }
    files = {
        name.removeprefix("data/"): b"{}" if name.endswith(".json") else b"a,b\n1,2\n"
        for name in ALWAYS_THERE
        if name.startswith("data/")
    }
    return (
        files
        | empty
        | {
            "project/requirements.lock": LOCK,
            "results/surfaces.csv": TABLE,
            "inputs/x/campaign.yaml": b"title: x\n",
        }
        | more
    )


def packed(files=None, **more):
    stream = io.BytesIO()
    pack(
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
        return intact.faults(bag.opened(io.BytesIO(content)))
    except Refused as problem:
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
        for number in range(MOST_FILES + 1):
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
