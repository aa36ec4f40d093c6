"""Headland's front door: makes the project's own environment where there is none, then runs the chain.

    python3 scripts/headland.py demo
    python3 scripts/headland.py report CAMPAIGN [--results DIR]
    python3 scripts/headland.py test [arguments of pytest]

Exit status: 0 done, no finding worse than a warning; 1 done, with an error in the findings (or a fault of Headland);
2 could not start (usage, campaign.yaml, environment). Standard library only: it runs before anything is installed.
Each verb is a function `run_…` and a few lines in `command_line`.
"""

import os
import sys

OLDEST, NEWEST = (3, 11), (3, 14)       # Pythons that requirements.lock serves


def unsuited(version, system):
    """Why Headland can't run under this Python on this system, in one line; empty where it can."""
    found = "%d.%d" % tuple(version[:2])
    if system == "nt":
        return ("Headland runs on Linux, macOS and, on Windows, inside WSL: "
                "run `wsl --install`, then the same command in the window that it opens.")
    if tuple(version[:2]) < OLDEST:
        return ("Python 3.11 or later is needed, found %s. Debian 12, Ubuntu 24.04 or newer: sudo apt-get install python3; "
                "macOS: brew install python@3.13; Windows: inside WSL, sudo apt-get install python3." % found)
    if tuple(version[:2]) > NEWEST:
        return ("Python 3.11 to 3.14 is needed, found %s, which is newer than the libraries Headland is tested with. "
                "Debian/Ubuntu: sudo apt-get install python3; macOS: brew install python@3.13, then run this with python3.13; "
                "Windows: inside WSL, sudo apt-get install python3." % found)
    return ""


# Before anything that an old Python can't run: the whole file only has to parse there.
if unsuited(sys.version_info, os.name):
    print(unsuited(sys.version_info, os.name), file=sys.stderr)
    sys.exit(2)

import argparse
import collections
import contextlib
import csv
import ctypes
import difflib
import fcntl
import hashlib
import importlib.util
import json
import re
import shlex
import shutil
import signal
import subprocess
import threading
import time
import traceback
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "demo_inputs"
LOCK = ROOT / "requirements.lock"
VENV = ROOT / ".venv"
PYTHON = VENV / "bin" / "python"
STAMP = VENV / "made-from"
SETUP_LOG = ROOT / ".venv.log"
RUN_LOG = ROOT / ".snakemake" / "log" / "headland.log"
HELP = "python3 scripts/headland.py --help"


class CannotStart(Exception):
    """Something that the user can mend stands in the way: exit status 2."""


class Fault(Exception):
    """Headland itself failed: exit status 1."""


class Stopped(BaseException):
    """A signal asked to stop: exit status 128 + its number."""


# What the user sees --------------------------------------------------------------------------------------------------


def plain(text: str) -> str:
    """Text on one line, without anything that could steer a terminal: names and cells may come from anywhere."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


class Screen:
    """Plain lines; on a terminal also one line under them that is redrawn in place."""

    def __init__(self, stream):
        self.stream = stream
        self.live = stream.isatty() and os.environ.get("TERM", "dumb") != "dumb"
        self.colour = self.live and not os.environ.get("NO_COLOR")
        self.bottom: Callable[[], str] | None = None
        self.lock = threading.Lock()

    def line(self, text: str) -> None:
        with self.lock:
            self.stream.write(("\r\x1b[K" if self.bottom else "") + text + "\n")
            self._draw()

    def painted(self, text: str, code: str) -> str:
        return f"\x1b[{code}m{text}\x1b[0m" if self.colour else text

    @contextlib.contextmanager
    def under(self, text: Callable[[], str]) -> Iterator[None]:
        """While this lasts, what `text` returns stands under the lines, with the time since it began."""
        if not self.live:
            yield
            return
        began, ended = time.monotonic(), threading.Event()
        self.bottom = lambda: f"{text()}  {time.monotonic() - began:.0f} s"

        def redraw():
            while not ended.wait(0.5):
                with self.lock:
                    self._draw()

        ticker = threading.Thread(target=redraw, daemon=True)
        ticker.start()
        try:
            yield
        finally:
            ended.set()
            ticker.join()
            self.bottom = None
            self.stream.write("\r\x1b[K")
            self.stream.flush()

    def _draw(self) -> None:
        if self.bottom:
            self.stream.write("\r\x1b[K" + self.bottom()[: shutil.get_terminal_size().columns - 1])
        self.stream.flush()


def short(path: Path) -> str:
    """A path as the user would type it."""
    return str(path.relative_to(Path.cwd()) if path.is_relative_to(Path.cwd()) else path)


# Children ------------------------------------------------------------------------------------------------------------


def environment() -> dict[str, str]:
    """What children inherit: nothing that changes which Python code is found, or what it computes."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    return kept | {"PATH": f"{PYTHON.parent}{os.pathsep}{kept.get('PATH', os.defpath)}",
                   "PYTHONUTF8": "1", "PYTHONHASHSEED": "0", "PYTHONUNBUFFERED": "1", "MPLBACKEND": "Agg"}


def run(command: Sequence, each_line: Callable[[str], None] | None = None, env: dict[str, str] | None = None,
        pass_fds: Sequence[int] = ()) -> int:
    """Run a command in the project's root and return its exit status; it never outlives this process's will.

    With `each_line`, the command's lines (both streams) go there, and it gets a process group of its own, so that it
    and all that it started can be ended together. Without, it shares the terminal.
    """
    apart = each_line is not None
    child = subprocess.Popen(
        [str(part) for part in command], cwd=ROOT, env=env or environment(), pass_fds=pass_fds, start_new_session=apart,
        stdin=subprocess.DEVNULL if apart else None, stdout=subprocess.PIPE if apart else None,
        stderr=subprocess.STDOUT if apart else None, encoding="utf-8", errors="replace")
    try:
        if apart:
            for line in child.stdout:
                each_line(line.rstrip("\n"))
        return child.wait()
    except BaseException:
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGKILL):
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child.pid, number) if apart else child.send_signal(number)
            with contextlib.suppress(subprocess.TimeoutExpired):
                child.wait(timeout=5)
                break
        if apart:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(child.pid, signal.SIGKILL)        # what the child may have left behind
        raise


def hold(file, busy: Callable[[], None]) -> None:
    """Hold a file for this process (and children that inherit it) until it ends; `busy` is called where another has it."""
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        busy()
        fcntl.flock(file, fcntl.LOCK_EX)


# What the machine must have ------------------------------------------------------------------------------------------


class Need(NamedTuple):
    """Something of the machine's own, and the packages that bring it."""

    what: str
    apt: tuple[str, ...]
    brew: tuple[str, ...]


VENV_MODULE = Need("Python's own module for environments (venv with ensurepip)",
                   (f"python3.{sys.version_info[1]}-venv",), (f"python@3.{sys.version_info[1]}",))
TEXT_LAYOUT = Need("the text-layout library (Pango)",
                   ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"), ("pango",))
# What WeasyPrint 70 opens: names on Linux and on macOS.
LIBRARIES = [("libgobject-2.0.so.0", "libgobject-2.0.0.dylib"), ("libpango-1.0.so.0", "libpango-1.0.dylib"),
             ("libharfbuzz.so.0", "libharfbuzz.0.dylib"), ("libfontconfig.so.1", "libfontconfig.1.dylib"),
             ("libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib")]


def can_load(library: str) -> bool:
    try:
        ctypes.CDLL(library)
        return True
    except OSError:
        return False


def missing() -> list[Need]:
    """What this machine lacks; the module for environments is only asked for while there is none."""
    importlib.invalidate_caches()
    needs = []
    if not environment_is_made() and not all(importlib.util.find_spec(name) for name in ("venv", "ensurepip")):
        needs.append(VENV_MODULE)
    if not all(can_load(names[sys.platform == "darwin"]) for names in LIBRARIES):
        needs.append(TEXT_LAYOUT)
    return needs


def remedy(need: Need) -> str:
    apt = f"sudo apt-get install {' '.join(need.apt)}"
    return (f"Debian/Ubuntu: {apt}; macOS: brew install {' '.join(need.brew)}; Windows: inside WSL, {apt}. "
            "Or run the same command with --mend, which does it.")


def mend(needs: Sequence[Need], screen: Screen) -> None:
    """Install what is missing with the system's own installer, each command printed first."""
    if sys.platform == "darwin" and shutil.which("brew"):
        commands = [["brew", "install", *(name for need in needs for name in need.brew)]]
    elif shutil.which("apt-get"):
        prefix = [] if os.geteuid() == 0 else ["sudo"]
        if prefix and not shutil.which("sudo"):
            raise CannotStart("To install for the whole machine, --mend needs root or sudo. As root: apt-get install "
                              + " ".join(name for need in needs for name in need.apt))
        commands = [[*prefix, "apt-get", "update"],
                    [*prefix, "apt-get", "install", "--yes", "--no-install-recommends",
                     *(name for need in needs for name in need.apt)]]
    else:
        raise CannotStart("--mend knows apt-get (Debian, Ubuntu) and brew (macOS), and finds neither here. "
                          f"Install by hand: {'; '.join(need.what for need in needs)}.")
    for command in commands:
        screen.line(f"Running: {shlex.join(command)}")
        with SETUP_LOG.open("a") as log:
            # in this terminal, where sudo can ask for the password
            status = subprocess.call(command, env={**os.environ, "DEBIAN_FRONTEND": "noninteractive"},
                                     stdin=subprocess.DEVNULL, stdout=log, stderr=subprocess.STDOUT)
        if status:
            raise CannotStart(f"`{shlex.join(command)}` failed: {reason_of_failure()}")


REASONS = [
    (r"name resolution|NewConnectionError|NameResolutionError|Network is unreachable|[Cc]onnection refused|ConnectTimeout"
     r"|Could not resolve|[Cc]onnection timed out|Max retries|Failed to establish",
     "the network, or the package index on it, can't be reached; connect this computer and run the same command again"),
    (r"No space left", "the disk is full; make room and run the same command again"),
    (r"DO NOT MATCH THE HASHES", "a downloaded library is not the one that Headland was tested with (its checksum differs)"),
    (r"[Pp]ermission denied", "a file could not be written; see who owns the project's folder"),
    (r"No matching distribution", "a library is not to be had ready-made for this computer and Python"),
]


def reason_of_failure() -> str:
    """Why setting up failed, in plain words where they are known, with the last lines of its log."""
    lines = SETUP_LOG.read_text(encoding="utf-8", errors="replace").splitlines()[-40:]
    reason = next((words for pattern, words in REASONS if re.search(pattern, "\n".join(lines))), "its last lines tell why")
    last = [f"  {plain(line)}" for line in lines if line.strip()][-5:]
    return "\n".join([f"{reason}.", *last, f"All of it: {short(SETUP_LOG)}"])


# The project's own environment ---------------------------------------------------------------------------------------


def stamp() -> str:
    """What an environment is made from: the lock file and this Python."""
    return f"{hashlib.sha256(LOCK.read_bytes()).hexdigest()} {sys.version_info[0]}.{sys.version_info[1]}\n"


def environment_is_made() -> bool:
    """Whether `.venv` is whole and of today's lock file: the stamp is written last."""
    return PYTHON.exists() and STAMP.is_file() and STAMP.read_text() == stamp()


def make_environment(screen: Screen) -> None:
    """Make `.venv` anew from requirements.lock."""
    if VENV.is_dir() and any(VENV.iterdir()) and not (VENV / "pyvenv.cfg").exists():
        raise CannotStart(f"{short(VENV)} is not an environment made here; move it away and run the same command again.")
    screen.line("Setting up the environment (about two minutes, once) ...")
    # pip takes ready-made libraries only. Two come as source: both work as plain Python, and a compiler that does
    # nothing (`true`) leaves out the optional speed-up of one of them, so that no machine needs a real one.
    make = [sys._base_executable, "-m", "venv", "--clear", VENV]
    fill = [PYTHON, "-m", "pip", "install", "--require-hashes", "--requirement", LOCK, "--no-input", "--no-user",
            "--compile", "--disable-pip-version-check", "--only-binary", ":all:", "--no-binary", "connection-pool,immutables"]
    fetched = 0

    def note(line: str) -> None:
        nonlocal fetched
        fetched += line.startswith("Collecting ")
        log.write(line + "\n")

    with SETUP_LOG.open("a", encoding="utf-8", errors="replace") as log, \
            screen.under(lambda: f"  {fetched} libraries fetched" if fetched else "  starting"):
        failed = run(make, note) or run(fill, note, env=environment() | {"CC": "true"})
    if failed:
        raise CannotStart(f"The environment could not be set up: {reason_of_failure()}")
    STAMP.write_text(stamp())


def prepare(arguments: argparse.Namespace, screen: Screen) -> str:
    """See to it that the environment is there; return the notice of what can't be made for lack of a library."""
    try:
        with SETUP_LOG.open("a") as held:
            if not environment_is_made():
                hold(held, lambda: screen.line("Another run is setting up the environment; waiting for it ..."))
            needs = missing()
            if needs or not environment_is_made():
                held.truncate(0)
            if needs and arguments.mend:
                mend(needs, screen)
                needs = missing()
            if VENV_MODULE in needs:
                raise CannotStart(f"Missing: {VENV_MODULE.what}. {remedy(VENV_MODULE)}")
            if not environment_is_made():
                make_environment(screen)
    except OSError as problem:
        raise CannotStart(f"The environment can't be written in {ROOT}: {problem.strerror}.") from None
    if TEXT_LAYOUT in needs:
        return f"Without {TEXT_LAYOUT.what} everything but report.pdf is made. {remedy(TEXT_LAYOUT)}"
    return ""


# The chain -----------------------------------------------------------------------------------------------------------


class Steps:
    """Reads Snakemake's lines, says one plain line a step, and keeps what is needed to explain a failure."""

    def __init__(self, screen: Screen):
        self.screen = screen
        self.total = self.started = self.done = 0
        self.messages: dict[str, str] = {}
        self.failures: list[dict[str, str]] = []
        self.nothing_to_do = self.locked = self.in_failure = False

    def bar(self) -> str:
        filled = round(30 * self.done / self.total) if self.total else 0
        return f"[{'#' * filled}{'.' * (30 - filled)}] {self.done} of {self.total or '?'} steps done"

    def read(self, line: str) -> None:
        if self.in_failure and (entry := re.fullmatch(r"    (jobid|log): (.*)", line)):
            self.failures[-1][entry[1]] = re.sub(r" \(check log file.*", "", entry[2])
            return
        self.in_failure = self.in_failure and line.startswith("    ")
        if job := re.match(r"Job (\d+): (.*)", line):
            self.messages[job[1]] = plain(job[2])
            self._say(self.messages[job[1]])
        elif rule := re.match(r"(?:local)?(?:rule|checkpoint) (\w+):$", line):
            self._say(rule[1])
        elif steps := re.match(r"(\d+) of (\d+) steps \(", line):
            self.done, self.total = int(steps[1]), int(steps[2])
        elif total := re.match(r"total +(\d+)$", line):
            self.total = int(total[1])
        elif error := re.match(r"Error in (?:rule|checkpoint) (\w+)", line):
            self.failures.append({"rule": error[1]})
            self.in_failure = True
        elif line.startswith("Nothing to be done"):
            self.nothing_to_do = True
        elif "Directory cannot be locked" in line:
            self.locked = True

    def _say(self, message: str) -> None:
        self.started += 1
        self.screen.line(f"[{self.started:>{len(str(self.total))}}/{self.total}] {message}")

    def explained(self) -> list[str]:
        """Which step failed and where its log is; the log's last line too, where it is written for people."""
        lines = []
        for failure in self.failures:
            what = self.messages.get(failure.get("jobid", ""), "")
            lines.append(f"This step failed: {what + ' ' if what else ''}({failure['rule']})")
            if "log" in failure:
                log = ROOT / failure["log"]
                lines.append(f"  its log: {short(log)}")
                last = last_line(log)
                if last and not re.match(r"\s|[\w.]*(Error|Exception|Interrupt|Exit|Warning|Traceback)\b", last):
                    lines.append(f"  which ends: {plain(last)}")
        return lines


def last_line(file: Path) -> str:
    try:
        lines = file.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    return next((line for line in reversed(lines) if line.strip()), "")


RUNNING_HERE = """
import os, psutil, sys
for process in psutil.process_iter(["cmdline", "cwd"]):
    words, folder = process.info["cmdline"] or [], process.info["cwd"]
    if folder == sys.argv[1] and any(w.endswith("snakemake/__main__.py") or os.path.basename(w) == "snakemake" for w in words):
        print(process.pid)
"""


def run_snakemake(campaign: Path, results: Path | None, cores: int, screen: Screen, targets: Sequence[str] = ()) -> None:
    """Run the chain up to date, or raise with what stands in the way. A lock that a killed run left is removed:

    it is left over when no living process holds the lock file below (Snakemake inherits it from this program) and no
    Snakemake that somebody called directly works in the project's folder.
    """
    # Snakemake reads a value as YAML, stripping quotes from its ends first: blanks keep them, and quotes keep `: ` and ` #`.
    quoted = {"campaign": campaign, "results": results}
    config = [f"{key}= {json.dumps(str(path), ensure_ascii=False)} " for key, path in quoted.items() if path]
    command = [PYTHON, "-m", "snakemake", *targets, "--snakefile", ROOT / "Snakefile", "--directory", ROOT,
               "--workflow-profile", ROOT / "config" / "profiles" / "laptop", "--cores", cores, "--rerun-incomplete",
               "--config", *config]
    RUN_LOG.parent.mkdir(parents=True, exist_ok=True)
    place = hashlib.sha256(str(results or campaign.name).encode()).hexdigest()[:16]
    with (ROOT / ".snakemake" / f"{place}.lock").open("w") as held:
        hold(held, refuse_second_run)
        steps = attempt(command, held.fileno(), screen)
        if steps.locked:
            found: list[str] = []
            run([PYTHON, "-c", RUNNING_HERE, ROOT], found.append)
            if found:
                raise CannotStart(f"Snakemake is already working in this folder (process {', '.join(found)}); "
                                  "wait until it is done, or end it, and run the same command again.")
            screen.line("An earlier run was cut off; what it left half done is done again.")
            run([*command, "--unlock"], lambda line: None)
            steps = attempt(command, held.fileno(), screen)
    if steps.failed:
        raise Fault("\n".join([*steps.explained(), "This is a fault of Headland, not of yours or your data. Please report it "
                               f"with {'that log' if steps.failures else 'the file'} {short(RUN_LOG)}".replace("that log ", "that log and ")
                               + "."]))
    if steps.nothing_to_do:
        screen.line("Everything is up to date.")
