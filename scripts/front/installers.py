"""What the machine must have, how the user gets it, and why setting up failed."""

import importlib.util
import os
import re
import runpy
import shlex
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from front import places, problems
from front.problems import CannotStart
from front.screen import Screen, plain


class Need(NamedTuple):
    """Something that the machine itself must have, and the packages that bring it."""

    what: str
    apt: "tuple[str, ...]"
    brew: "tuple[str, ...]"


VENV_MODULE = Need(
    "Python's own module for environments (venv with ensurepip)",
    (f"python3.{sys.version_info[1]}-venv",),
    (f"python@3.{sys.version_info[1]}",),
)


SHARED = Path(__file__).parents[2] / "workflow" / "headland" / "report" / "pango.py"


def can_make_environments() -> bool:
    importlib.invalidate_caches()
    return all(importlib.util.find_spec(name) for name in ("venv", "ensurepip"))


def has_pango() -> bool:
    """Whether the libraries that WeasyPrint opens are there."""
    return not _workflows_test()["is_missing"]()


def pango() -> Need:
    """Pango, which lays out the PDF."""
    return Need("Pango, which lays out the PDF", _workflows_test()["APT"], _workflows_test()["BREW"])


@cache
def _workflows_test() -> "dict[str, Any]":
    """The workflow's own test for Pango, run as a file: the package may not be importable yet."""
    return runpy.run_path(str(SHARED))


def remedy(need: Need) -> str:
    """How to get what is missing, in one line."""
    apt = shlex.join(["sudo", "apt-get", "install", *need.apt])
    brew = shlex.join(["brew", "install", *need.brew])
    return (
        f"Debian/Ubuntu: {apt}; macOS: {brew}; Windows: inside WSL, {apt}. "
        "Or run the same command with --install, which does it."
    )


def install(need: Need, screen: Screen) -> None:
    """Install what is missing with the system's own installer; print each command first."""
    for command in commands_for(need):
        screen.line(f"Running: {shlex.join(command)}")
        with setup_log().open("a") as log:
            # in this terminal, where sudo can ask for the password
            status = subprocess.call(
                command,
                env={**os.environ, "DEBIAN_FRONTEND": "noninteractive"},
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
            )
        if status:
            raise CannotStart(f"`{shlex.join(command)}` failed: {reason_of_failure()}")


def commands_for(need: Need) -> "list[list[str]]":
    """The commands that install what is missing here."""
    if sys.platform == "darwin" and shutil.which("brew"):
        return [["brew", "install", *need.brew]]
    if not shutil.which("apt-get"):
        raise CannotStart(
            "--install works with apt-get (Debian, Ubuntu) and brew (macOS), and finds neither here. "
            f"Install by hand: {need.what}."
        )
    prefix = [] if os.geteuid() == 0 else ["sudo"]
    if prefix and not shutil.which("sudo"):
        by_hand = shlex.join(["apt-get", "install", *need.apt])
        raise CannotStart(
            f"To install for the whole machine, --install needs root or sudo. As root: {by_hand}"
        )
    return [
        [*prefix, "apt-get", "update"],
        [*prefix, "apt-get", "install", "--yes", "--no-install-recommends", *need.apt],
    ]


REASONS = (
    (
        r"CERTIFICATE_VERIFY_FAILED",
        "the package index shows a certificate that this computer does not trust; correct this computer's "
        "clock where it is wrong; a network that inspects traffic has a certificate of its own: "
        "ask who runs it, and set PIP_CERT to its file",
    ),
    (
        r"name resolution|NewConnectionError|NameResolutionError|Network is unreachable|[Cc]onnection refused"
        r"|ConnectTimeout|Could not resolve|[Cc]onnection timed out|Max retries|Failed to establish",
        "the network can't be reached, or the package index on it; "
        "connect this computer and run the same command again",
    ),
    (
        r"DO NOT MATCH THE HASHES",
        "a downloaded library is not the one in the lock file: its checksum differs",
    ),
    (r"[Pp]ermission denied", "a file could not be written; check who owns the project's folder"),
    (r"No matching distribution", "a library is not available ready-made for this computer and Python"),
)


def setup_log() -> Path:
    """What was said while the environment was set up."""
    return places.base() / ".venv.log"


def reason_of_failure() -> str:
    """Why setting up failed, in plain words where they are known, with the last lines of its log."""
    lines = setup_log().read_text(encoding="utf-8", errors="replace").splitlines()[-40:]
    said = "\n".join(lines)
    known = [words for pattern, words in REASONS if re.search(pattern, said)]
    machine = problems.of_machine(lines)
    reason = machine[:1].lower() + machine[1:-1] if machine else next(iter(known), "its last lines show why")
    last = [f"  {plain(line)[:200]}" for line in lines if line.strip()][-5:]
    return "\n".join([f"{reason}.", *last, f"All of it: {places.short(setup_log())}"])
