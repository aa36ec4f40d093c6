"""The programs in an archive, before anything of it is executed. Standard library only."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping

from headland.record.bag import Bag
from headland.record.names import shown
from headland.record.pack import Refused

CODE, WHEELS, LOCK = "data/project/", "data/wheels/", "data/project/requirements.lock"
LARGEST_LOCK = 5_000_000
LOCK_LINE = re.compile(
    r"(?:[A-Za-z0-9._-]+==[A-Za-z0-9._+!-]+(?: ; [A-Za-z0-9._ <>=!'\"()]+)?(?: \\)?"
    r"|    --hash=sha256:[0-9a-f]{64}(?: \\)?|#.*|)"
)
"""A line of a lock: a name with its version, or a digest. An option, an address or a path is no such line."""


def digest_of_code(bag: Bag) -> str:
    """One SHA-256 for all the programs and settings in the archive: of their digests and names."""
    lines = [f"{digest}  {name}\n" for name, digest in sorted(bag.digests.items()) if name.startswith(CODE)]
    return hashlib.sha256("".join(lines).encode("utf-8")).hexdigest()


def other_code(bag: Bag, ours: Mapping[str, str]) -> list[str]:
    """Names of the project's files that are not the same here and in the archive. ours: SHA-256 by name."""
    theirs = {
        name.removeprefix(CODE): digest for name, digest in bag.digests.items() if name.startswith(CODE)
    }
    return sorted(name for name in theirs.keys() | ours.keys() if theirs.get(name) != ours.get(name))


def _lock(bag: Bag) -> list[str]:
    try:
        return bag.read(LOCK, LARGEST_LOCK).decode("utf-8").splitlines()
    except UnicodeDecodeError:
        raise Refused([f"{LOCK}: not text"]) from None


def faults_of_lock(bag: Bag) -> list[str]:
    """Lines of the archive's lock that could fetch anything but libraries with the digests it lists."""
    try:
        lines = _lock(bag)
    except Refused as problem:
        return problem.faults
    found = [
        f"{LOCK}: line {number} is neither a library with its version nor its checksum: {shown(line[:80])}"
        for number, line in enumerate(lines, 1)
        if not LOCK_LINE.fullmatch(line)
    ]
    following = [*lines[1:], ""]
    for number, (line, next_line) in enumerate(zip(lines, following, strict=True), 1):
        if "==" in line and not line.startswith("#") and not next_line.startswith("    --hash="):
            found.append(f"{LOCK}: line {number} names a library without a checksum: {shown(line[:80])}")
    return found


def faults_of_wheels(bag: Bag) -> list[str]:
    """Files in the archive's wheels/ that may not be used.

    Only a wheel whose digest is in the lock is used: a source package runs a program of its own while it is
    installed.
    """
    locked = set(re.findall(r"--hash=sha256:([0-9a-f]{64})", "\n".join(_lock(bag))))
    found = []
    for name, digest in bag.digests.items():
        if not name.startswith(WHEELS):
            continue
        if not name.endswith(".whl"):
            found.append(f"{shown(name)}: no wheel; a source package would run a program of its own")
        elif digest not in locked:
            found.append(f"{shown(name)}: no checksum in {LOCK} lists it")
    return found
