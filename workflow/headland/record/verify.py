"""Whether an archive is intact and complete, and whether a second making gave the same numbers.

Standard library only, like `bag`: it runs where nothing is installed. Nothing of an archive is executed here.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from headland.record.bag import DECLARATION, MANIFEST, TAG_MANIFEST, Bag, Refused, fault_of_name, shown

ALWAYS_THERE = (
    "README.txt",
    "bagit.txt",
    "bag-info.txt",
    MANIFEST,
    TAG_MANIFEST,
    "data/ro-crate-metadata.json",
    "data/datapackage.json",
    "data/CITATION.cff",
    "data/settings.json",
    "data/versions.json",
    "data/results/checks.csv",
    "data/results/segments.csv",
    "data/results/surfaces.csv",
    "data/results/fields.csv",
    "data/results/differences.csv",
    "data/results/uncertainty_budget.csv",
    "data/results/report.html",
    "data/project/Snakefile",
    "data/project/requirements.lock",
    "data/project/scripts/headland.py",
    "data/project/config/config.yaml",
)
"""What each archive holds beside the campaign's own files."""
LOCK_LINE = re.compile(
    r"(?:[A-Za-z0-9._-]+==[A-Za-z0-9._+!-]+(?: ; [A-Za-z0-9._ <>=!'\"()]+)?(?: \\)?|    --hash=sha256:[0-9a-f]{64}(?: \\)?|#.*|)"
)
"""A line of a lock: a name with its version, or a digest. An option, an address or a path is no such line."""
CODE = "data/project/"


# Intact and complete -------------------------------------------------------------------------------------------------


def faults(bag: Bag) -> list[str]:
    """Everything in which an archive differs from its own checksums and from a whole one; a file's name begins each line."""
    found = list(bag.damaged)
    if bag.otherwise_packed and not packed_anew(bag):
        found += [
            f"{shown(name)}: its entry in the zip (date, rights, remark, place) is not as it was packed"
            for name in bag.otherwise_packed
        ]
    listed: dict[str, str] = {}
    for name, payload in ((MANIFEST, True), (TAG_MANIFEST, False)):
        digests, wrong = _listed(bag, name, payload)
        listed |= digests
        found += wrong
    present = {name for name in bag.entries if name != TAG_MANIFEST}
    missing, added = sorted(set(listed) - present), sorted(present - set(listed))
    for name in missing:
        twin = next((other for other in added if bag.digests[other] == listed[name]), None)
        if twin:
            added.remove(twin)
        found.append(f"{shown(name)}: renamed to {shown(twin)}" if twin else f"{shown(name)}: missing")
    found += [f"{shown(name)}: added; no checksum lists it" for name in added]
    already = {line.partition(":")[0] for line in bag.damaged}
    found += [
        f"{shown(name)}: changed; its content is not what its checksum says"
        for name in sorted(present & set(listed))
        if bag.digests[name] != listed[name] and shown(name) not in already
    ]
    found += [
        f"{name}: an archive should hold it"
        for name in ALWAYS_THERE
        if name not in bag.entries and name not in missing
    ]
    if "fetch.txt" in bag.entries:
        found.append(
            "fetch.txt: asks to fetch files from elsewhere; an archive of Headland holds all its files"
        )
    if not bag.damaged:
        found += _faults_inside(bag)
    return found


def packed_anew(bag: Bag) -> bool:
    """Whether another program packed all of it: then dates and rights of the entries say nothing."""
    return len(bag.otherwise_packed) == len(bag.entries)


def _listed(bag: Bag, manifest: str, payload: bool) -> tuple[dict[str, str], list[str]]:
    """Digests by name as a manifest lists them, and its lines that are none."""
    try:
        text = bag.read(manifest).decode("utf-8")
    except (Refused, UnicodeDecodeError):
        return {}, [] if manifest not in bag.entries or bag.damaged else [f"{manifest}: not readable"]
    digests, wrong = {}, []
    for number, line in enumerate(text.splitlines(), 1):
        found = re.fullmatch(r"([0-9a-f]{64})  (.+)", line)
        if (
            not found
            or fault_of_name(found[2])
            or found[2].startswith("data/") is not payload
            or found[2] in digests
        ):
            wrong.append(
                f"{manifest}: line {number} is no checksum of a file {'in data/' if payload else 'beside data/'}: {shown(line[:80])}"
            )
        else:
            digests[found[2]] = found[1]
    return digests, wrong


def _faults_inside(bag: Bag) -> list[str]:
    """What the archive's own descriptions speak of and it does not hold, and descriptions that can't be read."""
    found = []
    if "bagit.txt" in bag.entries and bag.read("bagit.txt") != DECLARATION:
        found.append("bagit.txt: does not declare a bag of version 1.0")
    for name in (
        "data/settings.json",
        "data/versions.json",
        "data/ro-crate-metadata.json",
        "data/datapackage.json",
    ):
        if name not in bag.entries:
            continue
        try:
            value = described(bag, name)
        except Refused as problem:
            found += problem.faults
            continue
        for path in _spoken_of(name, value):
            if f"data/{path}" not in bag.entries:
                found.append(f"data/{shown(path)}: missing; {name} speaks of it")
    return found


def described(bag: Bag, name: str) -> dict:
    """One of the archive's JSON files. Raises Refused where it is none."""
    try:
        value = json.loads(bag.read(name))
    except (ValueError, RecursionError):
        raise Refused([f"{name}: not readable as JSON"]) from None
    if not isinstance(value, dict):
        raise Refused([f"{name}: not as Headland writes it"])
    return value


def _spoken_of(name: str, value: Mapping) -> Iterable[str]:
    """Paths below data/ of the files that a description lists."""
    if name.endswith("settings.json"):
        listed, key = value.get("inputs"), "path"
    elif name.endswith("datapackage.json"):
        listed, key = value.get("resources"), "path"
    elif name.endswith("ro-crate-metadata.json"):
        files = [
            item
            for item in value.get("@graph", ())
            if isinstance(item, dict) and "File" in _as_list(item.get("@type"))
        ]
        listed, key = files, "@id"
    else:
        listed, key = [], ""
    return [str(item.get(key)) for item in _as_list(listed) if isinstance(item, dict)]


def _as_list(value: object) -> list:
    return value if isinstance(value, list) else [] if value is None else [value]


# Before anything of it is executed -------------------------------------------------------------------------------------


def digest_of_code(bag: Bag) -> str:
    """One SHA-256 for all the programs and settings in the archive: of the lines of its manifest that list them."""
    lines = [f"{digest}  {name}\n" for name, digest in sorted(bag.digests.items()) if name.startswith(CODE)]
    return hashlib.sha256("".join(lines).encode("utf-8")).hexdigest()


def other_code(bag: Bag, ours: Mapping[str, str]) -> list[str]:
    """Names of the project's files whose content is not the same here and in the archive. ours: SHA-256 by name."""
    theirs = {
        name.removeprefix(CODE): digest for name, digest in bag.digests.items() if name.startswith(CODE)
    }
    return sorted(name for name in theirs.keys() | ours.keys() if theirs.get(name) != ours.get(name))


def faults_of_lock(bag: Bag) -> list[str]:
    """Lines of the archive's lock that could fetch something else than the libraries with the digests it names."""
    try:
        lines = bag.read("data/project/requirements.lock", 5_000_000).decode("utf-8").splitlines()
    except UnicodeDecodeError:
        return ["data/project/requirements.lock: not text"]
    found = [
        f"data/project/requirements.lock: line {number} is neither a library with its version nor its checksum: {shown(line[:80])}"
        for number, line in enumerate(lines, 1)
        if not LOCK_LINE.fullmatch(line)
    ]
    for number, (line, following) in enumerate(zip(lines, [*lines[1:], ""]), 1):
        if "==" in line and not line.startswith("#") and not following.startswith("    --hash="):
            found.append(
                f"data/project/requirements.lock: line {number} names a library without a checksum: {shown(line[:80])}"
            )
    return found


# The same numbers --------------------------------------------------------------------------------------------------------


@dataclass
class Comparison:
    """Two archives of one campaign, table by table: `apart` says where numbers differ, `rounding` where by the last printed digit, `others` files."""

    tables: int = 0
    apart: list[str] = field(default_factory=list)
    rounding: list[str] = field(default_factory=list)
    others: list[str] = field(default_factory=list)


def compared(first: Bag, again: Bag) -> Comparison:
    """The results in two archives: tables column by column, other files by their content."""
    result = Comparison()
    prefix = "data/results/"
    for name in sorted(
        name for name in first.entries.keys() | again.entries.keys() if name.startswith(prefix)
    ):
        short = name.removeprefix(prefix)
        if name not in again.entries or name not in first.entries:
            place = result.apart if name.endswith(".csv") else result.others
            place.append(f"{shown(short)}: {'not made again' if name in first.entries else 'made only now'}")
        elif name.endswith(".csv"):
            result.tables += 1
            if first.digests[name] != again.digests[name]:
                apart, rounding = columns_apart(
                    *(archive.read(name, 500_000_000) for archive in (first, again))
                )
                result.apart += [f"{shown(short)}, {line}" for line in apart]
                result.rounding += [f"{shown(short)}, {line}" for line in rounding]
        elif first.digests[name] != again.digests[name]:
            result.others.append(f"{shown(short)}: other bytes")
    return result


def columns_apart(first: bytes, again: bytes) -> tuple[list[str], list[str]]:
    """In which columns two files of one table differ: by more than the last printed digit, and by no more than that."""
    try:
        (head, *rows), (other_head, *other_rows) = (
            list(csv.reader(io.StringIO(raw.decode("utf-8"), newline=""))) or [[]] for raw in (first, again)
        )
    except UnicodeDecodeError:
        return ["not readable as text in UTF-8"], []
    except csv.Error as problem:
        return [f"not readable as a table ({problem})"], []
    if head != other_head:
        return [f"columns: {shown(', '.join(head))} became {shown(', '.join(other_head))}"], []
    if len(rows) != len(other_rows):
        return [f"rows: {len(rows)} became {len(other_rows)}"], []
    apart, rounding = [], []
    for column, name in enumerate(head):
        pairs = [
            (row[column], other[column])
            for row, other in zip(rows, other_rows)
            if row[column : column + 1] != other[column : column + 1] and len(row) > column < len(other)
        ]
        if not pairs:
            continue
        near = all(_by_last_digit(*pair) for pair in pairs)
        (rounding if near else apart).append(
            f"column {shown(name)}: {len(pairs)} of {len(rows)} cells, such as {shown(pairs[0][0]) or 'empty'} and now {shown(pairs[0][1]) or 'empty'}"
        )
    if any(len(row) != len(other) for row, other in zip(rows, other_rows)):
        apart.append("rows of other lengths")
    if not apart and not rounding:
        rounding.append("the same cells, written otherwise")
    return apart, rounding


def _by_last_digit(first: str, again: str) -> bool:
    """Whether two printed numbers are neighbours in their last digit."""
    if not all(re.fullmatch(r"-?\d+(\.\d+)?", text) for text in (first, again)):
        return False
    decimals = {len(text.partition(".")[2]) for text in (first, again)}
    whole = [int(text.replace(".", "")) for text in (first, again)]
    return len(decimals) == 1 and abs(whole[0] - whole[1]) <= 1


def versions_apart(first: Mapping, again: Mapping) -> list[str]:
    """What computed the two: each difference in one line. Both as versions.json has them."""

    def flat(versions: Mapping) -> dict[str, str]:
        libraries = versions.get("libraries")
        return {
            **{str(k): str(v) for k, v in versions.items() if k != "libraries"},
            **(libraries if isinstance(libraries, dict) else {}),
        }

    one, other = flat(first), flat(again)
    return [
        f"{shown(name)}: {shown(str(one.get(name, 'absent')))}, here {shown(str(other.get(name, 'absent')))}"
        for name in sorted(one.keys() | other.keys())
        if one.get(name) != other.get(name)
    ]


def plain_list(lines: Sequence[str], most: int = 20) -> list[str]:
    """Lines for people: no more than `most`, and how many were left out."""
    return [*lines[:most], *([f"and {len(lines) - most} more"] if len(lines) > most else [])]
