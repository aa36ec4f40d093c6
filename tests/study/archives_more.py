"""More kinds of hostile archives: other containers, names that only look different, descriptions that two
readers take for two things, and tables that are small for a zip and large for a comparison.
"""

from __future__ import annotations

import gzip
import io
import json
import struct
import tarfile
import zlib
from collections.abc import Callable

from study.archive_writer import (
    Draw,
    Entry,
    by_another_program,
    contents,
    deflated,
    entries_of,
    packed,
    season,
    with_one,
    written,
)

ALIKE = (
    ("x/data/é.csv", "x/data/e\u0301.csv"),
    ("x/data/K.csv", "x/data/\u212a.csv"),
    ("x/data/s.csv", "x/data/\u017f.csv"),
    ("x/data/ǆ.csv", "x/data/Ǆ.csv"),
    ("x/data/a.csv", "x/DATA/A.csv"),
    ("x/data/ss/a.csv", "x/data/ß/b.csv"),
    ("x/data/a", "x/data/a/b"),
)
"""Names that some system takes for one, or of which one must be a folder."""
OUTSIDE = ("../../etc/passwd", "file:///etc/passwd", "http://127.0.0.1/a", "/etc/passwd", "a\x1b[2J", "", ".")


def names_alike(draw: Draw) -> bytes:
    one, other = draw.choice(ALIKE)
    more = [Entry(name.encode(), local={"flags": 0x800}, central={"flags": 0x800}) for name in (one, other)]
    return written([*entries_of(packed()), *more])


def same_name(draw: Draw) -> bytes:
    """One name with two contents, of which one is sound."""
    entries = entries_of(packed())
    chosen = draw.choice(entries)
    other = Entry(chosen.name, b"other")
    return written([other, *entries] if draw.random() < 0.5 else [*entries, other])


def another_container(draw: Draw) -> bytes:
    """A tar with devices and links, packed or not, a page that is also a zip, a zip in a zip."""
    stream = io.BytesIO()
    with tarfile.open(fileobj=stream, mode="w") as tar:
        for kind in (tarfile.CHRTYPE, tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.FIFOTYPE):
            member = tarfile.TarInfo("x/data/a")
            member.type, member.linkname = kind, "/etc/passwd"
            tar.addfile(member)
    tarred = stream.getvalue()
    page = b"%PDF-1.7\n" + packed() + b"\n%%EOF\n"
    inner = written([Entry(b"x.zip", packed())])
    return draw.choice((tarred, gzip.compress(tarred), b"7z\xbc\xaf\x27\x1c" + bytes(200), page, inner))


def shared_content(draw: Draw) -> bytes:
    """Thousands of files that claim one packed content, which unpacks to much."""
    entries = entries_of(packed())
    packed_content = deflated(bytes(10_000_000))
    first = Entry(b"x/data/0", bytes(10_000_000), packed_content)
    place = len(written(entries)) - sum(46 + len(one.name) for one in entries) - 22
    same = {"offset": place, "crc": zlib.crc32(bytes(10_000_000)), "packed": len(packed_content)}
    more = [
        Entry(b"x/data/%d" % number, b"", b"", central=same | {"size": 10_000_000})
        for number in range(1, draw.randint(50, 2000))
    ]
    return written([*entries, first, *more])


def end_of_64_bits(draw: Draw) -> bytes:
    """A second end of the zip, for numbers beyond 32 bits, that says other things than the first."""
    plain = written(entries_of(packed()))
    whole, end = plain[:-22], plain[-22:]
    count, far = draw.choice((1, 2**63, 2**64 - 1)), draw.choice((0, len(whole), 2**63))
    record = struct.pack("<4sQ2H2L4Q", b"PK\6\6", 44, 45, 45, 0, 0, count, count, 46, far)
    locator = struct.pack("<4sLQL", b"PK\6\7", 0, draw.choice((len(whole), 0, 2**63)), 1)
    numbers = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, 0xFFFF, 0xFFFF, 0xFFFFFFFF, 0xFFFFFFFF, 0)
    return whole + record + locator + draw.choice((numbers, end))


def false_descriptor(draw: Draw) -> bytes:
    """Sizes behind a content that differ from those before it."""
    entries = entries_of(packed())
    chosen = draw.choice(entries)
    raw = chosen.packed_content()
    lie = struct.pack(
        "<3L", draw.choice((0, 7, zlib.crc32(chosen.content))), draw.choice((0, 1, len(raw))), 1
    )
    chosen.raw = raw + b"PK\7\10" + lie
    chosen.local = {"flags": 8, "crc": 0, "packed": 0, "size": 0}
    chosen.central = {"flags": 8, "packed": len(raw)}
    return by_another_program(entries)


def odd_dates(draw: Draw) -> bytes:
    """Dates that no calendar has, of some of the files."""
    entries = entries_of(packed())
    for entry in draw.sample(entries, draw.randint(1, len(entries) - 1)):
        moment = {"date": draw.choice((0, 0xFFFF, 0x01FF, 0xFF00)), "time": draw.choice((0, 0xFFFF))}
        entry.local, entry.central = dict(moment), dict(moment)
    return written(entries)


def other_letters(draw: Draw) -> bytes:
    """A name whose bytes are other letters for each program, or that is given twice."""
    name = draw.choice((b"x/data/\x82.csv", b"x/data/\xc3\xa9.csv", b"x/data/\x8e\xff"))
    flags = {"flags": draw.choice((0, 0x800))}
    return with_one(name=name, name_local=draw.choice((None, b"x/data/b.csv")), local=flags, central=flags)


def said_twice(draw: Draw) -> bytes:
    """A description that says a thing twice: one reader takes the first, another the last."""
    name, text = draw.choice(
        (
            ("settings.json", b'{"campaign": {"title": "a"}, "campaign": {"title": "b"}, "inputs": []}'),
            ("settings.json", b'{"inputs": [], "campaign": {"sets": {"a": 1, "a": 2}}}'),
            ("versions.json", b'{"headland": "1", "headland": "2", "libraries": {}}'),
            ("datapackage.json", b'{"resources": [{"path": "a"}], "resources": []}'),
            ("ro-crate-metadata.json", b'{"@graph": [], "@graph": [{"@id": "a", "@type": "File"}]}'),
        )
    )
    return packed({name: text})


def loose(draw: Draw) -> bytes:
    """A description that is no strict JSON: numbers that JSON lacks, or another encoding than UTF-8."""
    text = contents(packed())["x/data/settings.json"].decode()
    return packed(
        {
            "settings.json": draw.choice(
                (
                    text.encode("utf-16"),
                    text.encode("utf-8-sig"),
                    text.replace("{", '{"a": NaN, ', 1).encode(),
                    text.replace("{", '{"a": [-Infinity], ', 1).encode(),
                )
            )
        }
    )


def outside(draw: Draw) -> bytes:
    """Descriptions that name files elsewhere."""
    path = draw.choice(OUTSIDE)
    described = {
        "ro-crate-metadata.json": {"@graph": [{"@id": path, "@type": draw.choice(("File", ["File", "X"]))}]},
        "datapackage.json": {"resources": [{"path": path}]},
        "settings.json": {"inputs": [{"path": path}], "campaign": {}},
    }
    name = draw.choice(sorted(described))
    return packed({name: json.dumps(described[name]).encode()})


def numbers(draw: Draw) -> bytes:
    """Numbers that no reader holds, in the place of lists."""
    number = draw.choice((b"1e999999", b"-" + b"9" * 4000, b"NaN", b"-Infinity", b"1" * 4301))
    name, key = draw.choice((("settings.json", b"inputs"), ("datapackage.json", b"resources")))
    return packed({name: b'{"' + key + b'": ' + number + b"}"})


def sizes_twice(draw: Draw) -> bytes:
    """A bag-info.txt with more than one size, or one that is none."""
    key = "x/bag-info.txt"
    right = contents(packed())[key]
    more = draw.choice(
        (b"Payload-Oxum: 1.1\n", b"payload-oxum : 2.2\n", b"Payload-Oxum\n", b"\x0bPayload-Oxum: 1.1")
    )
    return written(entries_of(packed(), {key: draw.choice((right + more, more + right, more))}))


def season_of_itself(draw: Draw) -> bytes:
    """Campaigns in a season that are seasons, links, or one archive many times."""
    kind = draw.randrange(3)
    if kind == 0:
        return season({"a.zip": season({"b.zip": packed()})})
    if kind == 1:
        return season(
            {f"{n}.zip": packed({"results/a.csv": b"a\n" * 10 + bytes([n % 250])}) for n in range(300)}
            | {"z.zip": b""}
        )
    return season({"a.zip": with_one(name=b"x/data/link", content=b"a", attributes=0o120777 << 16)})


MORE: dict[str, Callable[[Draw], bytes]] = {
    "names that only look different": names_alike,
    "one name, two contents": same_name,
    "another container": another_container,
    "one content for thousands": shared_content,
    "a second end of 64 bits": end_of_64_bits,
    "false sizes behind a content": false_descriptor,
    "dates that there are none": odd_dates,
    "letters of another code": other_letters,
    "a description that says a thing twice": said_twice,
    "a description that is no strict JSON": loose,
    "a description of files elsewhere": outside,
    "numbers that nobody holds": numbers,
    "sizes twice": sizes_twice,
    "a season of seasons": season_of_itself,
}


# Two sound archives, of which both attack the comparison
# ------------------------------------------------------------------------------------------------------------


def wide_tables(draw: Draw) -> tuple[bytes, bytes]:
    """Many tables of very many columns, which differ in each."""
    columns, rows = draw.choice(((900, 100), (900, 10_000), (249_000, 1)))
    count = 45_000_000 // (2 * columns * (rows + 1))
    head = b",".join([b"a"] * columns) + b"\n"
    one, other = (head + (b",".join([cell] * columns) + b"\n") * rows for cell in (b"1", b"2"))
    tables = [{f"results/{n}.csv": text for n in range(count)} for text in (one, other)]
    return packed(tables[0]), packed(tables[1])


def many_libraries(draw: Draw) -> bytes:
    """Versions of very many libraries."""
    libraries = {f"l{number}": "1" for number in range(draw.choice((10_000, 300_000)))}
    return packed({"versions.json": json.dumps({"libraries": libraries}).encode()})


def files_elsewhere(draw: Draw) -> bytes:
    """Very many inputs and programs that only one archive has."""
    return packed({f"{draw.choice(('inputs/x', 'project'))}/{n}" + "a" * 150: b"" for n in range(15_000)})


MORE_PAIRS: dict[str, Callable[[Draw], bytes | tuple[bytes, bytes]]] = {
    "compared: tables of very many columns": wide_tables,
    "compared: very many libraries": many_libraries,
    "compared: very many files": files_elsewhere,
}
