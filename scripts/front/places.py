"""Where things are: the project's folder, what belongs to this user, and what children may write.

A project's folder that belongs to the user holds the environment, the results and what is remembered
between runs. One that others share, or that can't be written, is only read: the user's cache folder holds
all that instead.
"""

import hashlib
import os
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LINKED = ("Snakefile", "config", "demo_inputs", "pyproject.toml", "scripts", "workflow")
"""What a step finds by its path from the project's folder."""


LONGEST_FOR_SOCKETS = 60
"""Bytes of a folder in which processes can still meet: the name of a socket there has about 100."""


def demo() -> Path:
    return ROOT / "demo_inputs"


def lock() -> Path:
    """The libraries that users need."""
    return ROOT / "requirements.lock"


def lock_of_tests() -> Path:
    """The libraries that tests and checks need beside them."""
    return ROOT / "requirements-dev.lock"


def printable(text: str) -> str:
    """Text with a question mark for each character that could steer a terminal.

    Names may come from anywhere.
    """
    return "".join(c if c.isprintable() else "?" for c in text)


def short(path: Path) -> str:
    """A path as the user would type it, fit to be printed."""
    here = Path.cwd()
    return printable(str(path.relative_to(here) if path.is_relative_to(here) else path))


def digest(path: Path) -> str:
    """A short name for a path, without the path in it."""
    return hashlib.sha256(os.fsencode(path)).hexdigest()[:16]


def version() -> str:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]


def is_own() -> bool:
    """Whether the project's folder belongs to this user and can be written."""
    return ROOT.stat().st_uid == os.geteuid() and os.access(ROOT, os.W_OK)


def cache() -> Path:
    """The user's cache folder; RuntimeError where the user has no home folder."""
    given = os.environ.get("XDG_CACHE_HOME", "")
    if os.path.isabs(given):
        return Path(given)
    return Path.home() / ("Library/Caches" if sys.platform == "darwin" else ".cache")


def base() -> Path:
    """The folder of all that is kept between runs: the project's own, or one in the user's cache."""
    return ROOT if is_own() else cache() / "headland" / digest(ROOT)


def state() -> Path:
    """What Snakemake and the front door remember between runs."""
    return base() / ".snakemake"


def results_of(name: str) -> Path:
    """Where results go unless the user names a folder."""
    return (ROOT if is_own() else Path.cwd()) / "results" / name


def prepare_base() -> None:
    """Make the folder of what is kept.

    Outside the project's folder, links there lead to what steps need of it.
    """
    state().mkdir(parents=True, exist_ok=True)
    if base() == ROOT:
        return
    for name in LINKED:
        link = base() / name
        if (ROOT / name).exists() and not link.exists():
            part = link.with_name(f".{name}.{os.getpid()}")
            part.symlink_to(ROOT / name)
            part.replace(link)


def temporary() -> str:
    """A folder for temporary files.

    The system's where one can be written, never the folder that the user is in.
    """
    found = Path(tempfile.gettempdir())
    if found != Path.cwd() or "TMPDIR" in os.environ:
        too_long = len(os.fsencode(found)) > LONGEST_FOR_SOCKETS
        return "/tmp" if too_long and os.access("/tmp", os.W_OK) else str(found)
    own = state() / "tmp"
    own.mkdir(parents=True, exist_ok=True)
    return str(own)
