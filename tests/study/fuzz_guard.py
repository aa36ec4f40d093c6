"""What no reader may do with an input: end in anything but results or plain errors, take too long, take too
much memory, leave its folder.
"""

from __future__ import annotations

import faulthandler
import os
import resource
import signal
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import chain
from headland.base import findings

ROOT = Path(__file__).parents[2]
LONGEST = 2000
"""Characters of a message to people."""
SENTENCES = chain.SENTENCES


class Broken(Exception):
    """An end that is neither results nor a plain error: what is wrong with it."""


class TooLong(BaseException):
    """The time for one input is over."""


def plain(text: str, what: str) -> None:
    """Raise Broken where a message is not one short line of printable characters."""
    if not text.strip() or not text.isprintable() or len(text) > LONGEST:
        raise Broken(
            f"{what} is no plain line: {text[:300]!r}"
            + (f" ... ({len(text)} characters)" if len(text) > 300 else "")
        )


def told(found: Sequence[findings.Finding], step: str) -> int:
    """How many findings there are, each put into words as the report and the console have them."""
    for finding in found:
        row = findings.describe(finding, step, SENTENCES)
        for key in ("what", "remedy"):
            plain(row[key], f"{key} of {finding.code}")
        plain(f"{row['file']} {row['set']} {row['channel']}.", f"place of {finding.code}")
    return len(found)


WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
NEVER = (
    "subprocess.Popen",
    "os.system",
    "os.exec",
    "os.posix_spawn",
    "os.fork",
    "os.forkpty",
    "socket.connect",
    "socket.bind",
    "socket.getaddrinfo",
    "pickle.find_class",
    "urllib.Request",
)
CHANGES = (
    "os.mkdir",
    "os.remove",
    "os.rename",
    "os.rmdir",
    "os.link",
    "os.symlink",
    "os.truncate",
    "os.chmod",
    "os.utime",
    "shutil.rmtree",
    "shutil.move",
    "shutil.copyfile",
)
READABLE = [
    str(ROOT),
    "/usr/share/zoneinfo",
    "/usr/lib",
    "/proc/self",
    "/dev/null",
    "/etc/mime.types",
    *sys.path[3:],
    os.path.realpath(sys.prefix),  # an environment may be a link
    sys.base_prefix,
    "/sys/fs/cgroup/",  # how many processors a library may use
]
_guarded: list[str] = []
_outside: list[str] = []


def _watch(event: str, args: tuple) -> None:
    """Notes what a reader does beyond its folder while one is guarded."""
    if not _guarded:
        return
    if event in NEVER:
        _outside.append(f"{event} {str(args[:2])[:200]}")
    elif event == "open" and isinstance(args[0], (str, bytes)) or event in CHANGES:
        path = (
            os.path.realpath(os.fsdecode(args[0])) if isinstance(args[0], (str, bytes, os.PathLike)) else ""
        )
        writes = event != "open" or bool((args[2] or 0) & WRITES)
        if (
            path
            and not path.startswith(_guarded[0])
            and (writes or not any(path.startswith(place) for place in READABLE))
        ):
            _outside.append(f"{event} {path}")


sys.addaudithook(_watch)


@contextmanager
def guarded(folder: Path, seconds: float) -> Iterator[None]:
    """Raise Broken where what is done within needs too much time or memory, or leaves the folder."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    folder.mkdir(parents=True, exist_ok=True)
    tempfile.tempdir, place = str(folder), tempfile.tempdir
    sys.dont_write_bytecode, kept = (
        True,
        sys.dont_write_bytecode,
    )  # a module that is first imported here would be compiled beside its source
    _guarded[:], _outside[:] = [os.path.realpath(folder)], []
    signal.signal(signal.SIGPROF, _over)
    signal.setitimer(signal.ITIMER_PROF, seconds, 1.0)
    faulthandler.dump_traceback_later(
        seconds * 20 + 60, exit=True
    )  # code that no signal reaches; the next start finds the input
    try:
        yield
    except TooLong as problem:
        raise Broken(f"more than {seconds:g} s") from problem
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        faulthandler.cancel_dump_traceback_later()
        _guarded.clear()
        tempfile.tempdir, sys.dont_write_bytecode = place, kept
    if _outside:
        raise Broken(f"left its folder: {_outside[0]}")
    if (grown := resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) > 500_000:
        raise Broken(f"took {grown // 1000} MB")


def _over(*_) -> None:
    raise TooLong
