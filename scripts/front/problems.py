"""What can go wrong, in plain words: faults of the user's, of the machine's and of Headland's own."""

import errno
import re
from collections.abc import Iterable
from pathlib import Path

from front import places, runlog


class CannotStart(Exception):
    """Something that the user can correct prevents the run: exit status 2."""


class Fault(Exception):
    """A step failed, or Headland itself: exit status 1."""


class Stopped(BaseException):
    """A signal asked to stop: exit status 128 + its number."""


AGAIN = "and run the same command again."

MACHINE_FAULTS = (
    (
        r"No space left on device|\[Errno 28\]|File too large|\[Errno 27\]|[Dd]isk quota exceeded"
        r"|database or disk is full|the disk being full",
        f"The disk is full: make room {AGAIN}",
    ),
    (
        r"MemoryError|Unable to allocate|Cannot allocate memory|\[Errno 12\]|std::bad_alloc"
        r"|perhaps for lack of memory|Killed process|OUT_OF_MEMORY|failed to map segment",
        "The memory is full: close other programs, or use fewer cores (--cores 1), " + AGAIN,
    ),
    (
        r"can't start new thread|Resource temporarily unavailable|\[Errno 11\]"
        r"|Too many open files|\[Errno 24\]",
        "The memory is full, or the computer allows no more processes or open files: close other programs, "
        "or use fewer cores (--cores 1), " + AGAIN,
    ),
    (
        r"No locks available|\[Errno 37\]",
        "The file system keeps no locks, so two runs could not be kept apart: "
        "name a folder on another disk with --results, " + AGAIN,
    ),
    (
        r"No usable temporary directory",
        "No folder for temporary files can be written: set TMPDIR to a folder that can, " + AGAIN,
    ),
    (
        r"Read-only file system|\[Errno 30\]",
        "{place} is read-only: correct that, or name another folder, " + AGAIN,
    ),
    (
        r"Input/output error|\[Errno 5\]|Stale file handle|\[Errno 116\]|Transport endpoint",
        "A disk or a network drive does not answer as it should: check it " + AGAIN,
    ),
    (
        r"File name too long|\[Errno 36\]|AF_UNIX path too long",
        "A path is longer than this computer allows: use shorter names of folders, " + AGAIN,
    ),
    (
        r"Permission denied|\[Errno 13\]|Operation not permitted|\[Errno 1\]",
        "You may not read or write {place}: check who owns it, " + AGAIN,
    ),
)
"""What a system says of a machine's faults, and the plain line for each, with the place where it is named."""
NO_PLACE = {"{place} is": "A folder that has to be written is", "{place}": "a file or folder that this needs"}
"""What stands where the place is not named."""

OF_THE_SYSTEM = {
    errno.ENOSPC: "No space left on device",
    errno.EDQUOT: "Disk quota exceeded",
    errno.EFBIG: "File too large",
    errno.ENOMEM: "Cannot allocate memory",
    errno.EAGAIN: "Resource temporarily unavailable",
    errno.EMFILE: "Too many open files",
    errno.ENOLCK: "No locks available",
    errno.EROFS: "Read-only file system",
    errno.EIO: "Input/output error",
    errno.ESTALE: "Stale file handle",
    errno.ENAMETOOLONG: "File name too long",
    errno.EACCES: "Permission denied",
    errno.EPERM: "Operation not permitted",
}


def of_machine(lines: Iterable[str]) -> str:
    """The plain line for the first machine's fault that is named in a program's lines; empty where none
    is.
    """
    text = "\n".join(lines)
    for pattern, sentence in MACHINE_FAULTS:
        if re.search(pattern, text):
            place = re.search(rf"(?:{pattern})[^\n'\"]*(['\"])(?P<place>[^\n]+?)\1(?:\n|$| ->)", text)
            return with_place(sentence, place["place"] if place else "")
    return ""


def with_place(sentence: str, place: str) -> str:
    """A machine's fault with the file or folder that it concerns, where that is known."""
    if place:
        return sentence.replace("{place}", places.short(Path(place)))
    for part, words in NO_PLACE.items():
        sentence = sentence.replace(part, words)
    return sentence


def of_system(problem: BaseException) -> str:
    """The plain line for an exception that the machine caused; empty where it did not."""
    if isinstance(problem, MemoryError):
        return of_machine(["MemoryError"])
    if isinstance(problem, OSError) and problem.errno in OF_THE_SYSTEM:
        named = f": {problem.filename!r}" if isinstance(problem.filename, str) else ""
        return of_machine([OF_THE_SYSTEM[problem.errno] + named])
    return of_machine([str(problem)]) if isinstance(problem, FileNotFoundError) else ""


def please_report() -> str:
    """What to say where Headland itself is at fault."""
    where = runlog.shown()
    kept = f" with the file {where}, which names neither you nor your folders" if where else ""
    return f"This is a fault of Headland, not of yours or of your data. Please report it{kept}."
