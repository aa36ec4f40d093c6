"""Whether an archive is intact and complete. Standard library only; nothing of an archive is executed."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from headland.record import season_archive
from headland.record.bag import Bag
from headland.record.names import LONGEST_NAME, fault_of_name, shown
from headland.record.pack import DECLARATION, MANIFEST, MOST_FILES, TAG_MANIFEST, Refused

BESIDE_DATA = ("README.txt", "bagit.txt", "bag-info.txt", MANIFEST, TAG_MANIFEST)
"""All files beside data/. Another one, such as a manifest of other digests, could tell other programs other
things.
"""
RESULTS = (
    "checks.csv",
    "segments.csv",
    "surfaces.csv",
    "fields.csv",
    "differences.csv",
    "uncertainty_budget.csv",
    "report.html",
)
DESCRIPTIONS = (
    "data/settings.json",
    "data/versions.json",
    "data/ro-crate-metadata.json",
    "data/datapackage.json",
)
ALWAYS_THERE = (
    *BESIDE_DATA,
    *DESCRIPTIONS,
    "data/CITATION.cff",
    *(f"data/results/{name}" for name in RESULTS),
    "data/project/Snakefile",
    "data/project/requirements.lock",
    "data/project/scripts/headland.py",
    "data/project/config/config.yaml",
)
"""What each archive holds beside the campaign's own files."""
OF_SEASON = (*BESIDE_DATA, season_archive.TABLE, "data/season/heads.csv", "data/season/datapackage.json")
"""What each archive of a season holds beside the archives of its campaigns."""
LARGEST_DESCRIPTION = 8_000_000
"""Bytes of a description: as values it takes up to thirty times the memory."""
LARGEST_MANIFEST = MOST_FILES * (64 + 3 + LONGEST_NAME)
"""Bytes of a manifest: for each file a checksum, two blanks, a name and the end of the line."""
LARGEST_TAG = 1_000_000
"""Bytes of bagit.txt and bag-info.txt: a few lines."""
MOST_WRONG = 200
"""Lines of a manifest that are named where they are no checksums."""


def faults(bag: Bag) -> list[str]:
    """Everything in which an archive differs from its own checksums and from a whole one.

    Each line begins with a file's name.
    """
    found = list(bag.damaged)
    if not bag.packed_anew:
        found += [
            f"{shown(name)}: its entry in the zip (date, rights, remark, place) is not as it was packed"
            for name in bag.otherwise_packed
        ]
        used = "Headland packs no folders"
    else:
        used = "it holds no file"
    folders = bag.empty_folders if bag.packed_anew else _all_folders(bag)
    found += [f"{shown(name)}: an added folder; {used}" for name in folders]
    found += _differences_from_manifests(bag)
    needed = OF_SEASON if season_archive.TABLE in bag.entries else ALWAYS_THERE
    found += [f"{name}: an archive should hold it" for name in needed if name not in bag.entries]
    beside = [name for name in bag.entries if not name.startswith("data/") and name not in BESIDE_DATA]
    found += [f"{shown(name)}: {_why_not_beside(name)}" for name in beside]
    if not bag.damaged:
        found += _faults_of_descriptions(bag)
    return found


def _all_folders(bag: Bag) -> list[str]:
    return [info.filename for info in bag.zip.infolist() if info.is_dir()]


def _why_not_beside(name: str) -> str:
    if name == "fetch.txt":
        return "asks to fetch files from elsewhere; an archive of Headland holds all its files"
    return "no file of this name belongs beside data/"


def _differences_from_manifests(bag: Bag) -> list[str]:
    """Files that are missing, renamed, added or changed, and lines of the manifests that are no checksums."""
    listed: dict[str, str] = {}
    found = []
    for manifest in (MANIFEST, TAG_MANIFEST):
        digests, wrong = _listed(bag, manifest)
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
    return found


def _listed(bag: Bag, manifest: str) -> tuple[dict[str, str], list[str]]:
    """Digests by name as a manifest lists them, and its lines that are none."""
    of_data = manifest == MANIFEST
    try:
        lines = bag.read(manifest, LARGEST_MANIFEST).decode("utf-8").split("\n", MOST_FILES + 1)
    except (Refused, UnicodeDecodeError):
        return {}, [] if manifest not in bag.entries or bag.damaged else [f"{manifest}: not readable"]
    digests: dict[str, str] = {}
    wrong: list[str] = []
    if len(lines) > MOST_FILES + 1:
        wrong.append(f"{manifest}: more than {MOST_FILES} lines")
    for number, line in enumerate(lines[:-1] if lines[-1] == "" else lines[: MOST_FILES + 1], 1):
        if len(wrong) >= MOST_WRONG:
            break
        found = re.fullmatch(r"([0-9a-f]{64})  (.+)", line)
        sound = found and not fault_of_name(found[2]) and found[2].startswith("data/") is of_data
        if found and sound and found[2] not in digests:
            digests[found[2]] = found[1]
        else:
            place = "in data/" if of_data else "beside data/"
            wrong.append(f"{manifest}: line {number} is no checksum of a file {place}: {shown(line[:80])}")
    return digests, wrong


def _faults_of_descriptions(bag: Bag) -> list[str]:
    """Files that the archive's descriptions list but it lacks, and descriptions that can't be read."""
    found = []
    for name, faults_of in (("bagit.txt", _faults_of_declaration), ("bag-info.txt", _faults_of_info)):
        if name in bag.entries:
            try:
                found += faults_of(bag.read(name, LARGEST_TAG), bag)
            except Refused as problem:
                found += problem.faults
    for name in DESCRIPTIONS:
        if name not in bag.entries:
            continue
        try:
            paths = _spoken_of(name, described(bag, name))
        except Refused as problem:
            found += problem.faults
            continue
        missing = [path for path in paths if f"data/{path}" not in bag.entries]
        found += [f"data/{shown(path)}: missing; {name} lists it" for path in missing]
    return found


def _faults_of_declaration(text: bytes, bag: Bag) -> list[str]:
    return [] if text == DECLARATION else ["bagit.txt: does not declare a bag of version 1.0"]


def _faults_of_info(text: bytes, bag: Bag) -> list[str]:
    """Whether bag-info.txt gives the size and the number of the files in data/, once."""
    files = [entry for name, entry in bag.entries.items() if name.startswith("data/")]
    wanted = f"Payload-Oxum: {sum(entry.file_size for entry in files)}.{len(files)}"
    lines = text.decode("utf-8", "replace").splitlines()
    sizes = [line for line in lines if line.partition(":")[0].strip().lower() == "payload-oxum"]
    return [] if sizes == [wanted] else [f"bag-info.txt: it should say {wanted}, once"]


def described(bag: Bag, name: str) -> dict:
    """One of the archive's JSON files. Raises Refused where it is none."""
    try:
        text = bag.read(name, LARGEST_DESCRIPTION).decode("utf-8")
        value = json.loads(text, object_pairs_hook=_once, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise Refused([f"{name}: not readable as JSON, or it gives a key twice"]) from None
    if not isinstance(value, dict):
        raise Refused([f"{name}: not as Headland writes it"])
    return value


def _no_constant(name: str) -> Any:
    """JSON has no NaN and no Infinity, and other readers refuse them."""
    raise ValueError(name)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Entries by their keys. ValueError where a key is there twice: another reader might take the other."""
    value = dict(pairs)
    if len(value) < len(pairs):
        raise ValueError
    return value


def _spoken_of(name: str, value: Mapping) -> Iterable[str]:
    """Paths below data/ of the files that a description lists.

    Raises Refused where it holds no list of them.
    """
    keys = {"data/settings.json": "inputs", "data/datapackage.json": "resources"}
    if name in keys:
        return [str(item.get("path")) for item in _items(name, value, keys[name])]
    if name == "data/ro-crate-metadata.json":
        items = _items(name, value, "@graph")
        return [str(item.get("@id")) for item in items if "File" in _as_list(item.get("@type"))]
    return []


def _items(name: str, value: Mapping, key: str) -> list[dict]:
    items = value.get(key)
    if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
        raise Refused([f"{name}: its {key} is no list of entries"])
    return items


def _as_list(value: object) -> list:
    return value if isinstance(value, list) else [value]
