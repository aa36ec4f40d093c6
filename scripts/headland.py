"""Headland's front door: makes the project's own environment where there is none, then runs the chain.

    python3 scripts/headland.py demo
    python3 scripts/headland.py report CAMPAIGN [--results DIR]
    python3 scripts/headland.py plan CAMPAIGN [--results DIR]
    python3 scripts/headland.py look CAMPAIGN [--results DIR] [--follow]
    python3 scripts/headland.py season FOLDER... [--results DIR] [--profile slurm]
    python3 scripts/headland.py new FOLDER [--from-file FILE]… | new FOLDER --from CAMPAIGN --groups GROUPS.csv
    python3 scripts/headland.py answers CAMPAIGN ANSWERS.csv [--out DIR] [--hide-values]
    python3 scripts/headland.py exercises CAMPAIGN [--out DIR]
    python3 scripts/headland.py class-notes CAMPAIGN NOTES… [--out DIR]
    python3 scripts/headland.py archive CAMPAIGN [--results DIR] [--out FILE.zip]
    python3 scripts/headland.py verify FILE.zip [--run]
    python3 scripts/headland.py test [arguments of pytest]

Exit status: 0 done, no finding worse than a warning; 1 done, with an error in the findings (or a fault of Headland);
2 could not start (usage, campaign.yaml, environment). Standard library only: it runs before anything is installed.
Each verb is a function `run_…` and a few lines in `command_line`.
"""

import os
import sys

OLDEST, NEWEST = (3, 11), (3, 14)  # Pythons that requirements.lock serves


def unsuited(version, system):
    """Why Headland can't run under this Python on this system, in one line; empty where it can."""
    found = "%d.%d" % tuple(version[:2])
    if system == "nt":
        return (
            "Headland runs on Linux, macOS and, on Windows, inside WSL: "
            "run `wsl --install`, then the same command in the window that it opens."
        )
    if tuple(version[:2]) < OLDEST:
        return (
            "Python 3.11 or later is needed, found %s. Debian (12 or later) and Ubuntu (24.04 or later): "
            "sudo apt-get install python3; macOS: brew install python@3.13; "
            "Windows: inside WSL, sudo apt-get install python3." % found
        )
    if tuple(version[:2]) > NEWEST:
        return (
            "Python 3.11 to 3.14 is needed, found %s, for which the libraries that Headland uses are not ready. "
            "Debian/Ubuntu: sudo apt-get install python3.13; macOS: brew install python@3.13; "
            "Windows: inside WSL, sudo apt-get install python3.13. Then run this with python3.13." % found
        )
    return ""


# Before anything that an old Python can't run: the whole file only has to parse there.
if unsuited(sys.version_info, os.name):
    print(unsuited(sys.version_info, os.name), file=sys.stderr)
    sys.exit(2)

import argparse
import collections
import contextlib
import csv
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
import tempfile
import threading
import time
import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
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
PLEASE_REPORT = (
    "This is a fault of Headland, not of yours or of your data. "
    "Please report it with the file .snakemake/log/headland.log of the project's folder."
)


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
    return kept | {
        "PATH": f"{PYTHON.parent}{os.pathsep}{kept.get('PATH', os.defpath)}",
        "PYTHONPATH": str(ROOT / "workflow"),
        "PYTHONUTF8": "1",
        "PYTHONHASHSEED": "0",
        "PYTHONUNBUFFERED": "1",
        "MPLBACKEND": "Agg",
    }


def run(
    command: Sequence,
    each_line: Callable[[str], None] | None = None,
    env: dict[str, str] | None = None,
    pass_fds: Sequence[int] = (),
) -> int:
    """Run a command in the project's root and return its exit status; where this program is stopped, so is the command.

    With `each_line`, the command's lines (both streams) go there, and it gets a process group of its own, so that it
    and all that it started can be ended together. Without, it shares the terminal.
    """
    apart = each_line is not None
    child = subprocess.Popen(
        [str(part) for part in command],
        cwd=ROOT,
        env=env or environment(),
        pass_fds=pass_fds,
        start_new_session=apart,
        stdin=subprocess.DEVNULL if apart else None,
        stdout=subprocess.PIPE if apart else None,
        stderr=subprocess.STDOUT if apart else None,
        encoding="utf-8",
        errors="replace",
    )
    try:
        if apart:
            for line in child.stdout:
                each_line(line.rstrip("\n"))
        return child.wait()
    except BaseException:
        # one that shares the terminal got its Ctrl-C there: 0 asks nothing, and gives it the time to end
        for number in (signal.SIGINT if apart else 0, signal.SIGTERM, signal.SIGKILL):
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child.pid, number) if apart else child.send_signal(number)
            with contextlib.suppress(subprocess.TimeoutExpired):
                child.wait(timeout=5)
                break
        if apart:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(child.pid, signal.SIGKILL)  # what the child may have left behind
        raise


def hold(file, busy: Callable[[], None]) -> None:
    """Hold a file until this process, and each child that inherits it, ends; call `busy` first where it is held."""
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


VENV_MODULE = Need(
    "Python's own module for environments (venv with ensurepip)",
    (f"python3.{sys.version_info[1]}-venv",),
    (f"python@3.{sys.version_info[1]}",),
)


def can_make_environments() -> bool:
    importlib.invalidate_caches()
    return all(importlib.util.find_spec(name) for name in ("venv", "ensurepip"))


def remedy(need: Need) -> str:
    apt = f"sudo apt-get install {' '.join(need.apt)}"
    return (
        f"Debian/Ubuntu: {apt}; macOS: brew install {' '.join(need.brew)}; Windows: inside WSL, {apt}. "
        "Or run the same command with --mend, which does it."
    )


def mend(need: Need, screen: Screen) -> None:
    """Install what is missing with the system's own installer, each command printed first."""
    if sys.platform == "darwin" and shutil.which("brew"):
        commands = [["brew", "install", *need.brew]]
    elif shutil.which("apt-get"):
        prefix = [] if os.geteuid() == 0 else ["sudo"]
        if prefix and not shutil.which("sudo"):
            raise CannotStart(
                "To install for the whole machine, --mend needs root or sudo. "
                f"As root: apt-get install {' '.join(need.apt)}"
            )
        commands = [
            [*prefix, "apt-get", "update"],
            [*prefix, "apt-get", "install", "--yes", "--no-install-recommends", *need.apt],
        ]
    else:
        raise CannotStart(
            "--mend knows apt-get (Debian, Ubuntu) and brew (macOS), and finds neither here. "
            f"Install by hand: {need.what}."
        )
    for command in commands:
        screen.line(f"Running: {shlex.join(command)}")
        with SETUP_LOG.open("a") as log:
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


REASONS = [
    (
        r"CERTIFICATE_VERIFY_FAILED",
        "the package index shows a certificate that this computer does not trust; "
        "a network that looks into traffic has one of its own: ask who runs it, and set PIP_CERT to its file",
    ),
    (
        r"name resolution|NewConnectionError|NameResolutionError|Network is unreachable|[Cc]onnection refused"
        r"|ConnectTimeout|Could not resolve|[Cc]onnection timed out|Max retries|Failed to establish",
        "the network can't be reached, or the package index on it; connect this computer and run the same command again",
    ),
    (r"No space left", "the disk is full; make room and run the same command again"),
    (
        r"DO NOT MATCH THE HASHES",
        "a downloaded library is not the one in requirements.lock: its checksum differs",
    ),
    (r"[Pp]ermission denied", "a file could not be written; see who owns the project's folder"),
    (r"No matching distribution", "a library is not to be had ready-made for this computer and Python"),
]


def reason_of_failure() -> str:
    """Why setting up failed, in plain words where they are known, with the last lines of its log."""
    lines = SETUP_LOG.read_text(encoding="utf-8", errors="replace").splitlines()[-40:]
    said = "\n".join(lines)
    reason = next(
        (words for pattern, words in REASONS if re.search(pattern, said)), "its last lines tell why"
    )
    last = [f"  {plain(line)[:200]}" for line in lines if line.strip()][-5:]
    return "\n".join([f"{reason}.", *last, f"All of it: {short(SETUP_LOG)}"])


# The project's own environment ---------------------------------------------------------------------------------------


# pip takes ready-made libraries only. Two come as source: both work as plain Python, and a compiler that does
# nothing (`true`) leaves out the optional speed-up of one of them, so that no machine needs a real one.
OF_THE_LOCK = (
    "--require-hashes",
    "--requirement",
    LOCK,
    "--no-input",
    "--disable-pip-version-check",
    "--only-binary",
    ":all:",
    "--no-binary",
    "connection-pool,immutables",
)
BUILDERS = ("setuptools", "wheel")  # what these two are made with


def stamp() -> str:
    """What an environment is made from: the lock file and this Python."""
    return f"{hashlib.sha256(LOCK.read_bytes()).hexdigest()} {sys.version_info[0]}.{sys.version_info[1]}\n"


def environment_is_made() -> bool:
    """Whether `.venv` is whole and of today's lock file: the stamp is written last."""
    return PYTHON.exists() and STAMP.is_file() and STAMP.read_text() == stamp()


def make_environment(screen: Screen) -> None:
    """Make `.venv` anew from requirements.lock."""
    if VENV.is_dir() and any(VENV.iterdir()) and not (VENV / "pyvenv.cfg").exists():
        raise CannotStart(
            f"{short(VENV)} is not an environment; move it away and run the same command again."
        )
    screen.line("Setting up the environment (about two minutes, once) ...")
    make = [sys._base_executable, "-m", "venv", "--clear", VENV]
    fill = [PYTHON, "-m", "pip", "install", *OF_THE_LOCK, "--no-user", "--compile"]
    fetched = 0

    def note(line: str) -> None:
        nonlocal fetched
        fetched += line.startswith("Collecting ")
        log.write(line + "\n")

    shown = lambda: f"  {fetched} libraries fetched" if fetched else "  starting"
    with SETUP_LOG.open("a", encoding="utf-8", errors="replace") as log, screen.under(shown):
        failed = run(make, note) or run(fill, note, env=environment() | {"CC": "true"})
    if failed:
        raise CannotStart(f"The environment could not be set up: {reason_of_failure()}")
    STAMP.write_text(stamp())


def prepare(arguments: argparse.Namespace, screen: Screen) -> None:
    """See to it that the environment is there."""
    try:
        if not environment_is_made():
            with SETUP_LOG.open("a") as held:
                hold(
                    held, lambda: screen.line("Another run is setting up the environment; waiting for it ...")
                )
                if not environment_is_made():
                    held.truncate(0)
                    if arguments.mend and not can_make_environments():
                        mend(VENV_MODULE, screen)
                    if not can_make_environments():
                        raise CannotStart(f"Missing: {VENV_MODULE.what}. {remedy(VENV_MODULE)}")
                    make_environment(screen)
    except OSError as problem:
        raise CannotStart(f"The environment can't be written in {ROOT}: {problem.strerror}.") from None


# The chain -----------------------------------------------------------------------------------------------------------


# The lines of Snakemake that tell something; a rule without a message of its own is told by its name.
TELLING = re.compile(
    r"Job (?P<job>\d+): (?P<message>.*)|(?:local)?(?:rule|checkpoint) (?P<rule>\w+):$|total +(?P<total>\d+)$"
    r"|(?P<done>\d+) of (?P<of>\d+) steps |Error in (?:rule|checkpoint) (?P<failed>\w+)|(?P<nothing>Nothing to be done)"
    r"|(?P<locked>.*Directory cannot be locked)|    Error in rule (?P<grouped>\w+):|    message: .*SLURM status is: '(?P<ended>\w+)'|    log: (?P<of_job>.*slurm_logs.*) \(check log file|Job \S+ has been (?P<submitted>submitted with \w+ jobid \w+)|"
)


class Steps:
    """Reads Snakemake's lines, says one plain line a step, and keeps what is needed to explain a failure."""

    def __init__(self, screen: Screen):
        self.screen = screen
        self.total = self.started = self.done = 0
        self.messages: dict[str, str] = {}
        self.failures: list[dict[str, str]] = []
        self.said: list[str] = []
        self.ended = self.of_job = (
            ""  # how the cluster says that a job ended, and the job's own log, before the job's steps are told
        )
        self.nothing_to_do = self.locked = self.in_failure = False

    def bar(self) -> str:
        if not self.total:
            return "finding out what has to be done ..."
        filled = round(30 * self.done / self.total)
        return f"[{'#' * filled}{'.' * (30 - filled)}] {self.done} of {self.total} steps done"

    def read(self, line: str) -> None:
        self.said.append(line)
        found = TELLING.match(line).groupdict("")
        if self.in_failure and line.startswith("    ") and not (found["grouped"] or found["ended"]):
            key, _, value = line.strip().partition(": ")
            self.failures[-1].setdefault(key, value.partition(" (check log file")[0])
            return
        self.in_failure = bool(found["failed"] or found["grouped"])
        self.done, self.total = (
            int(found["done"] or self.done),
            int(found["of"] or found["total"] or self.total),
        )
        self.nothing_to_do = self.nothing_to_do or bool(found["nothing"])
        self.locked = self.locked or bool(found["locked"])
        if found["failed"]:
            self.failures.append({"rule": found["failed"]})
        if found["grouped"]:
            self.failures.append({"rule": found["grouped"], "grouped": self.ended, "of_job": self.of_job})
        if line.startswith("    message: "):
            self.ended = found["ended"]
        self.of_job = found["of_job"] or self.of_job
        if found["submitted"]:
            self.screen.line(f"A campaign was {found['submitted']}")
        if found["job"]:
            self.messages[found["job"]] = plain(found["message"])
        if found["job"] or found["rule"]:
            self._say(plain(found["message"] or found["rule"]))

    def _say(self, message: str) -> None:
        self.started += 1
        self.screen.line(f"[{self.started:>{len(str(self.total))}}/{self.total}] {message}")

    def for_the_user(self) -> list[str]:
        """What the Snakefile said where it refused to start: not Snakemake's own lines, nor how Snakemake is used."""
        if any(line.startswith("usage: ") for line in self.said):
            return []
        return [
            plain(line)
            for line in self.said
            if line.strip() and not line.startswith(("Using ", "Config file "))
        ]

    def failed(self, results: Path) -> list[dict[str, str]]:
        """The failures of one campaign: their logs are in its results. Of steps that were one job on a cluster all are told; which of them failed, the job's own log says."""
        ours = [
            failure for failure in self.failures if (ROOT / failure.get("log", "")).is_relative_to(results)
        ]
        alone, jobs = [failure for failure in ours if "grouped" not in failure], {}
        for failure in ours:
            if "grouped" in failure:
                jobs.setdefault(failure["of_job"], []).append(failure)
        return [
            *alone,
            *(failure for of_job, steps in jobs.items() for failure in self._of_job(of_job, steps)),
        ]

    @staticmethod
    def _of_job(of_job: str, steps: list[dict[str, str]]) -> list[dict[str, str]]:
        """The steps of a cluster's job that failed; where the cluster ended the job, the one that it had come to."""
        said = text_of(ROOT / of_job) if of_job else ""
        logs = {
            ROOT / path: how
            for how, path in re.findall(
                r" ended (?:with exit status|by signal) (.*); its log is (.+)$", said, re.M
            )
        }
        failed = [
            {**step, "how": logs[ROOT / step["log"]]} for step in steps if ROOT / step.get("log", "") in logs
        ]
        if failed:
            return failed
        ended = re.search(r"\*\*\* (?:JOB|STEP) .* (CANCELLED) AT \S+( DUE TO [A-Z ]+)? \*\*\*", said)
        if ended:
            steps = [{**step, "grouped": ended.group(1) + (ended.group(2) or "")} for step in steps]
        begun = [step for step in steps if text_of(ROOT / step.get("log", ""))]
        return [max(begun, key=lambda step: (ROOT / step["log"]).stat().st_mtime)] if begun else steps[:1]

    def explained(self, failures: Sequence[dict[str, str]]) -> list[str]:
        """Which steps failed and where their logs are; a log's last line too, where it is written for people."""
        lines = [] if failures else ["The steps could not be started."]
        for failure in failures:
            lines.append(f"This step failed: {self.messages.get(failure.get('jobid'), failure['rule'])}")
            if "log" in failure:
                log = ROOT / failure["log"]
                lines.append(f"  its log: {short(log)}")
                last = last_line(log)
                if failure.get("grouped", "FAILED") not in ("", "FAILED"):
                    lines.append(
                        f"  which ends: the cluster ended its job ({failure['grouped']}); run the same command again."
                    )
                elif "the disk being full" in failure.get("how", ""):  # and its log may lie on it
                    lines.append("  which ends: The disk is full: make room and run the same command again.")
                elif last and not re.match(
                    r"\s|[\w.]*(Error|Exception|Interrupt|Exit|Warning|Errors)\b", last
                ):
                    lines.append(f"  which ends: {plain(last)}")
        return lines


def to_report(lines: list[str]) -> list[str]:
    """Why steps failed, and that it is our fault: unless a log ends with what the user can do."""
    return (
        lines
        if any(line.endswith("run the same command again.") for line in lines)
        else [*lines, PLEASE_REPORT]
    )


def text_of(file: Path) -> str:
    """What a log holds; nothing where there is none."""
    try:
        return file.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""


def last_line(file: Path) -> str:
    return next((line for line in reversed(text_of(file).splitlines()) if line.strip()), "")


RUNNING_HERE = """
import os, psutil, sys
for process in psutil.process_iter(["cmdline", "cwd"]):
    words, folder = process.info["cmdline"] or [], process.info["cwd"]
    if folder == sys.argv[1] and any(os.path.basename(w.removesuffix("/__main__.py")) == "snakemake" for w in words):
        print(process.pid)
"""


def check_settings(campaigns: Sequence[Path]) -> dict[Path, list[str]]:
    """The errors in the settings of campaigns that have any, in plain lines already."""
    lines: list[str] = []
    status = run([PYTHON, ROOT / "scripts" / "verbs" / "settings.py", *campaigns], lines.append)
    if status not in (0, 2):
        keep(lines)
        raise Fault(f"The settings could not be checked. {PLEASE_REPORT}")
    found: dict[Path, list[str]] = {}
    for line in lines:
        number, _, error = line.partition(" ")
        found.setdefault(campaigns[int(number)], []).append(plain(error))
    return found


def keep(lines: Iterable[str]) -> None:
    """Keep for a report what was said behind the scenes."""
    RUN_LOG.parent.mkdir(parents=True, exist_ok=True)
    RUN_LOG.write_text("\n".join(lines) + "\n", encoding="utf-8")


def snakemake(campaigns: Mapping[Path, Path], cores: int) -> list:
    """The command that makes the results of campaigns. campaigns: campaign folders by results folder."""
    # Snakemake strips quotes off a value's ends and reads the rest as YAML: the blanks keep them, and ` #`
    named = json.dumps(
        {str(results): str(campaign) for results, campaign in campaigns.items()}, ensure_ascii=False
    )
    return [
        PYTHON,
        "-m",
        "snakemake",
        "--snakefile",
        ROOT / "Snakefile",
        "--directory",
        ROOT,
        "--workflow-profile",
        ROOT / "config" / "profiles" / "laptop",
        "--cores",
        cores,
        "--rerun-incomplete",
        "--config",
        f"campaigns= {named} ",
    ]


def on_cluster(campaigns: Mapping[Path, Path], profile: str) -> list:
    """The command that makes the results of campaigns as jobs of a cluster, by a profile in config/profiles."""
    if not (ROOT / "config" / "profiles" / profile / "config.yaml").is_file():
        raise CannotStart(
            f"--profile {plain(profile)}: there is no config/profiles/{plain(profile)}/config.yaml; `slurm` is there."
        )
    if run([PYTHON, "-c", "import snakemake_executor_plugin_slurm"], lambda line: None):
        raise CannotStart(
            "--profile needs a library more; install it with "
            f"{short(PYTHON)} -m pip install --require-hashes --requirement {short(ROOT / 'requirements-cluster.lock')}"
        )
    if not shutil.which("sbatch"):
        raise CannotStart(
            "--profile needs Slurm's commands, and finds no `sbatch`; run this where you submit jobs."
        )
    for path in campaigns:
        odd = sorted(set(re.sub(r"[\w ./+-]", "", str(path))))
        if odd:
            raise CannotStart(
                f"{plain(str(path))}: on a cluster a path with {plain(' '.join(odd))} can't be used; rename the campaign's folder."
            )
    # jobs outlive the run that submitted them: those of a run that was killed may still write
    prefix = f"headland-{hashlib.sha256(os.fsencode(ROOT)).hexdigest()[:16]}"
    queued: list[str] = []
    if run(["squeue", "--me", "--noheader", "--format=%i %j"], queued.append):
        raise CannotStart(f"--profile {profile}: `squeue` says: {plain(' '.join(queued))}")
    left = " ".join(line.split()[0] for line in queued if f" {prefix}_" in line)
    if left:
        raise CannotStart(
            f"Jobs of an earlier run are still in the queue ({left}); wait until they are done, or end them with `scancel {left}`, and run the same command again."
        )
    # what stands on the command line goes through shells on its way to a node, which take quotes away
    named = {"campaigns": {str(results): str(campaign) for results, campaign in campaigns.items()}}
    text = json.dumps(named, ensure_ascii=False, sort_keys=True)
    file = ROOT / ".snakemake" / f"headland-{hashlib.sha256(text.encode()).hexdigest()[:16]}.json"
    file.parent.mkdir(exist_ok=True)
    part = file.with_suffix(f".{os.getpid()}")
    part.write_text(text, encoding="utf-8")
    part.replace(file)
    return [
        PYTHON,
        "-m",
        "snakemake",
        "--snakefile",
        ROOT / "Snakefile",
        "--directory",
        ROOT,
        "--workflow-profile",
        ROOT / "config" / "profiles" / profile,
        "--rerun-incomplete",
        "--slurm-jobname-prefix",
        prefix,
        "--configfile",
        file,
    ]


def run_snakemake(
    campaigns: Mapping[Path, Path], cores: int, screen: Screen, profile: str | None = None
) -> dict[Path, list[str]]:
    """Bring results up to date, or raise with what stands in the way. Of many campaigns a failing one stops no other: why it failed, by its results folder.

    A lock that a killed run left is removed. It is left over when no living process holds the lock files used here
    (Snakemake inherits them) and no Snakemake that somebody called directly works in the project's folder.
    """
    command = [
        *(on_cluster(campaigns, profile) if profile else snakemake(campaigns, cores)),
        *(["--keep-going"] if len(campaigns) > 1 else []),
    ]
    for results, campaign in campaigns.items():
        can_write(results)
        not_dated_ahead([campaign, *(ROOT / name for name in ("config", "scripts", "workflow"))])
        for path in dated_ahead(results):  # a clock was wrong when they were made
            os.utime(path)
    locks = ROOT / ".snakemake"
    locks.mkdir(exist_ok=True)
    with contextlib.ExitStack() as stack:
        held = []
        for results in campaigns:
            file = stack.enter_context(
                (locks / f"headland-{hashlib.sha256(os.fsencode(results)).hexdigest()[:16]}.lock").open("w")
            )
            hold(
                file,
                lambda: refuse(f"Another run is writing {short(results)}; wait until it is done, or end it."),
            )
            held.append(file)
        steps, status = attempt(command, screen, held)
        if steps.locked:
            found: list[str] = []
            run([PYTHON, "-c", RUNNING_HERE, ROOT], found.append)
            if found:
                refuse(
                    f"Snakemake is already working in this folder (process {', '.join(found)}); "
                    "wait until it is done, or end it, and run the same command again."
                )
            screen.line("An earlier run was cut off; what it left half done is done again.")
            run([*command, "--unlock"], lambda line: None)
            steps, status = attempt(command, screen, held)
    if status == 2 and steps.for_the_user():
        refuse("\n".join(steps.for_the_user()))
    if status < 0:
        raise Fault(
            "The run was ended from outside, or the memory was full. The same command goes on from there."
        )
    failed = {
        results: steps.explained(steps.failed(results)) for results in campaigns if steps.failed(results)
    }
    if status and (len(campaigns) == 1 or not failed):
        raise Fault(
            "\n".join(to_report(next(iter(failed.values()), None) or steps.explained(steps.failures)))
        )
    if steps.nothing_to_do:
        screen.line("Everything is up to date.")
    return failed


def can_write(folder: Path) -> None:
    """CannotStart where a folder can't be made or written in."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as problem:
        raise CannotStart(
            f"{short(folder)} can't be written ({problem.strerror}): mend that, or name another folder with --results."
        ) from None


def dated_ahead(folder: Path) -> list[Path]:
    """What in a folder is dated in the future, by this computer's clock."""
    latest = time.time() + 2
    return [path for path in sorted(folder.rglob("*")) if path.exists() and path.stat().st_mtime > latest]


def not_dated_ahead(folders: Sequence[Path]) -> None:
    """CannotStart where a file that goes in is dated in the future: what is made of it would seem older than it, and never up to date."""
    for folder in folders:
        for path in dated_ahead(folder):
            raise CannotStart(
                f"{plain(short(path))} is dated in the future: set this computer's clock right where it is wrong; else give it today's date with "
                f"`find {plain(shlex.quote(short(folder)))} -newermt now -exec touch {{}} +`, and run the same command again."
            )


def refuse(why: str) -> None:
    raise CannotStart(why)


def attempt(command: Sequence, screen: Screen, held: Sequence) -> tuple[Steps, int]:
    """Call Snakemake once; what it said, and its exit status."""
    steps = Steps(screen)
    try:
        with screen.under(steps.bar):
            status = run(command, steps.read, pass_fds=[file.fileno() for file in held])
    finally:
        keep(steps.said)
    return steps, status


# What was found ------------------------------------------------------------------------------------------------------


def finding_line(row: dict[str, str], screen: Screen) -> str:
    """One finding as a plain line: what kind, its code, where, what, and how to mend it."""
    severity, colour = {"error": ("ERROR", "1;31"), "warning": ("WARNING", "33")}[row["severity"]]
    where = row["file"] + (f":{row['line']}" if row["file"] and row["line"] else "")
    fields = [plain(field) for field in (row["code"], where or row["set"], row["what"]) if field]
    arrow = f"  -> {plain(row['remedy'])}" if row["remedy"] else ""
    return screen.painted(severity, colour) + "  " + "  ".join(fields) + arrow


def say_findings(results: Path, screen: Screen) -> int:
    """Say what was found, errors first; return how many errors."""
    try:
        with (results / "checks.csv").open(encoding="utf-8", newline="") as stream:
            rows = list(csv.DictReader(stream))
    except OSError:
        raise Fault(f"The run left no {short(results / 'checks.csv')}. {PLEASE_REPORT}") from None
    count = collections.Counter(row["severity"] for row in rows)
    for severity in ("error", "warning"):
        for row in rows:
            if row["severity"] == severity:
                screen.line(finding_line(row, screen))
    kinds = ("error", "warning", "note")
    screen.line(
        "Found: "
        + ", ".join(f"{count[kind]} {kind}{'' if count[kind] == 1 else 's'}" for kind in kinds)
        + "."
    )
    return count["error"]


def conclude(results: Path, screen: Screen) -> int:
    """Say what was found, and last of all where the report is; return the exit status."""
    errors = say_findings(results, screen)
    pdf = results / "report.pdf"
    if not pdf.exists():
        raise Fault(f"The run left no {short(pdf)}. {PLEASE_REPORT}")
    screen.line(short(pdf))
    return 1 if errors else 0


# The verbs -----------------------------------------------------------------------------------------------------------


def folders(campaign: Path, given: Path | None) -> tuple[Path, Path]:
    """The campaign's folder and that of its results, as they can be used."""
    campaign = Path(os.path.abspath(campaign))
    results = Path(os.path.abspath(given)) if given else ROOT / "results" / campaign.name
    if results == campaign or campaign in results.parents:
        raise CannotStart(
            f"--results {short(results)} lies in the campaign's folder, where nothing is ever written; "
            "name another folder."
        )
    for path in (campaign, results):
        odd = sorted(set("{}\n") & set(str(path)))
        if odd:
            raise CannotStart(
                f"{plain(str(path))}: a path with {' '.join(map(repr, odd))} can't be used; "
                "rename the folder."
            )
    if results.exists() and not results.is_dir():
        raise CannotStart(f"--results {short(results)} is a file; name a folder.")
    return campaign, results


def run_chain(campaign: Path, given: Path | None, arguments: argparse.Namespace, screen: Screen) -> int:
    """The whole chain on one campaign folder, and what was found."""
    campaign, results = folders(campaign, given)
    prepare(arguments, screen)
    run_snakemake({results: campaign}, arguments.cores, screen)
    return conclude(results, screen)


def run_demo(arguments: argparse.Namespace, screen: Screen) -> int:
    return run_chain(DEMO, None, arguments, screen)


def run_report(arguments: argparse.Namespace, screen: Screen) -> int:
    return run_chain(arguments.campaign, arguments.results, arguments, screen)


def run_page(script: str, words: Sequence, screen: Screen) -> int:
    """One of the scripts that make a page of their own beside the chain; its status is 0, 1, or 2 where its lines say why it could not start."""
    lines: list[str] = []
    traced = lambda: any(line.startswith("Traceback") for line in lines)

    def show(line: str) -> None:
        lines.append(plain(line))
        if "--follow" in words and not traced():
            screen.line(plain(line))

    status = run([PYTHON, ROOT / "scripts" / "verbs" / script, *words], show)
    if status not in (0, 1, 2) or traced():
        keep(lines)
        raise Fault(PLEASE_REPORT)
    if status == 2:
        raise CannotStart("\n".join(lines))
    if "--follow" not in words:
        for line in lines:
            screen.line(line)
    return status


def run_look(arguments: argparse.Namespace, screen: Screen) -> int:
    campaign, results = folders(arguments.campaign, arguments.results)
    prepare(arguments, screen)
    follow = ["--follow"] if arguments.follow else []
    if follow:
        screen.line(f"Watching {short(campaign)}; end with Ctrl-C. The page: {short(results / 'look.html')}")
    status = run_page("look.py", [campaign, results, *follow], screen)
    screen.line(short(results / "look.html"))
    return status


def run_plan(arguments: argparse.Namespace, screen: Screen) -> int:
    campaign, results = folders(arguments.campaign, arguments.results)
    prepare(arguments, screen)
    return run_page("plan.py", [campaign, results], screen)


def run_season(arguments: argparse.Namespace, screen: Screen) -> int:
    """The chain on each campaign, a failing one stopping no other, and the table across those that have results."""
    summary = Path(os.path.abspath(arguments.results or ROOT / "results" / "season"))
    prepare(arguments, screen)
    names = collections.Counter(Path(os.path.abspath(folder)).name for folder in arguments.folders)
    campaigns: dict[Path, Path] = {}
    failed: dict[Path, list[str]] = {}
    for folder in arguments.folders:
        try:
            campaign, results = folders(folder, None)
            if names[campaign.name] > 1:
                raise CannotStart(
                    f"Several of the folders are called {plain(campaign.name)}; their results would overwrite each other. Rename them."
                )
            campaigns[results] = campaign
        except CannotStart as problem:
            failed[folder] = [str(problem)]
    failed |= check_settings(list(campaigns.values())) if campaigns else {}
    campaigns = {results: campaign for results, campaign in campaigns.items() if campaign not in failed}
    if campaigns:
        failed |= {
            campaigns.pop(results): to_report(lines)
            for results, lines in run_snakemake(
                dict(campaigns), arguments.cores, screen, arguments.profile
            ).items()
        }
    errors = 0
    for results, campaign in campaigns.items():
        screen.line(f"== {short(campaign)}")
        errors |= conclude(results, screen)
    for folder, lines in failed.items():
        screen.line(f"== {short(folder)}")
        for line in lines:
            screen.line(line)
    if not campaigns:
        raise CannotStart("None of the campaigns could be worked out.")
    screen.line("== season")
    status = run_page(
        "season.py",
        [summary, *(path for results, campaign in campaigns.items() for path in (campaign, results))],
        screen,
    )
    for folder, lines in failed.items():
        ends = [line.partition("which ends: ")[2] for line in lines if "which ends: " in line]
        screen.line(f"Not in the table: {short(folder)}: {plain('; '.join([lines[0], *ends]))}")
    return max(status, errors, int(bool(failed)))


def run_answers(arguments: argparse.Namespace, screen: Screen) -> int:
    """The whole chain, where it is not up to date, then the check of students' numbers against it."""
    return run_after(
        arguments,
        screen,
        "answers",
        "teacher.html",
        "--answers",
        [arguments.answers],
        *(("--hide-values", "yes") if arguments.hide_values else ()),
    )


def run_exercises(arguments: argparse.Namespace, screen: Screen) -> int:
    """The whole chain, where it is not up to date, then a sheet of questions from its numbers."""
    return run_after(arguments, screen, "exercises", "sheet.html")


def run_class_notes(arguments: argparse.Namespace, screen: Screen) -> int:
    """The whole chain, where it is not up to date, then several people's notes through it."""
    return run_after(arguments, screen, "class_notes", "class_notes.html", "--notes", arguments.notes)


def run_after(arguments: argparse.Namespace, screen: Screen, name: str, page: str, *words) -> int:
    """The whole chain on a campaign, then a script that works on what it left; say where its page is. Among the words, lists are paths that the user gave."""
    for path in (path for word in words if isinstance(word, list) for path in word):
        if not path.is_file():
            raise CannotStart(f"{plain(short(path))}: no such file.")
    status = run_chain(arguments.campaign, arguments.results, arguments, screen)
    campaign = Path(os.path.abspath(arguments.campaign))
    results = (
        Path(os.path.abspath(arguments.results)) if arguments.results else ROOT / "results" / campaign.name
    )
    out = Path(os.path.abspath(arguments.out)) if arguments.out else results / name
    given = [
        part
        for word in words
        for part in ([Path(os.path.abspath(path)) for path in word] if isinstance(word, list) else [word])
    ]
    tell(run_script(f"{name}.py", "--campaign", campaign, "--results", results, "--out", out, *given), screen)
    screen.line(short(out / page))
    return status


def run_new(arguments: argparse.Namespace, screen: Screen) -> int:
    """A campaign folder to fill in, or packs for groups."""
    if bool(arguments.source) != bool(arguments.groups) or (arguments.source and arguments.sample):
        raise CannotStart(f"new: --from and --groups go together, without --from-file (for help: {HELP})")
    prepare(arguments, screen)
    words = ["--folder", Path(os.path.abspath(arguments.folder)), "--shown", arguments.folder]
    for option, paths in (
        ("--from-file", arguments.sample or []),
        ("--source", filter(None, [arguments.source])),
        ("--groups", filter(None, [arguments.groups])),
    ):
        for_option = [Path(os.path.abspath(path)) for path in paths]
        words += [option, *for_option] if for_option else []
    tell(run_script("new.py", *words), screen)
    return 0


def run_archive(arguments: argparse.Namespace, screen: Screen) -> int:
    """Bring the results up to date and pack them with all that they were made from and by."""
    campaign, results = folders(arguments.campaign, arguments.results)
    out = Path(os.path.abspath(arguments.out or results.with_name(f"{results.name}.zip")))
    if out.is_dir() or campaign in out.parents or results in out.parents:
        raise CannotStart(
            f"--out {short(out)} is a folder, or lies in the campaign's or the results' folder; "
            "name a file elsewhere, such as record.zip."
        )
    prepare(arguments, screen)
    with tempfile.TemporaryDirectory(prefix="headland-") as folder:
        if arguments.without_remarks:  # then the record is of a run that never saw them: its checksums agree
            bare = Path(folder, "campaign", campaign.name)
            for lines in check_settings([campaign]).values():
                raise CannotStart("\n".join(lines))
            tell(run_script("without_remarks.py", campaign, bare), screen)
            campaign, results = bare, Path(folder, "results", campaign.name)
        run_snakemake({results: campaign}, arguments.cores, screen)
        errors = say_findings(results, screen)
        wheels = ["--wheels", fetched(Path(folder, "wheels"), screen)] if arguments.wheels else []
        said = run_script(
            "archive.py",
            "--campaign",
            campaign,
            "--results",
            results,
            "--out",
            out,
            *wheels,
            "--settings",
            json.dumps({"remarks": not arguments.without_remarks}),
            "--made",
            *made(campaign, results, arguments.cores),
        )
    tell(said, screen)
    screen.line(short(out))
    return 1 if errors else 0


def run_script(name: str, *words) -> list[str]:
    """Call a script that says what it did in plain lines, or, with exit status 2, what stands in its way."""
    lines: list[str] = []
    status = run([PYTHON, ROOT / "scripts" / "verbs" / name, *words], lines.append)
    if status == 2:
        raise CannotStart("\n".join(plain(line) for line in lines))
    if status:
        keep(lines)
        raise Fault(f"{name} failed. {PLEASE_REPORT}")
    return lines


def tell(lines: Iterable[str], screen: Screen) -> None:
    for line in lines:
        screen.line("  " * line.startswith("  ") + plain(line))


def made(campaign: Path, results: Path, cores: int) -> list[str]:
    """The files that the chain makes of this campaign: what an earlier run may have left beside them is not among them."""
    lines: list[str] = []
    run([*snakemake({results: campaign}, cores), "--summary"], lines.append)
    head = next((number for number, line in enumerate(lines) if line.startswith("output_file\t")), len(lines))
    return [ROOT / line.rsplit("\t", 5)[0] for line in lines[head + 1 :] if line.count("\t") >= 5]


def fetched(folder: Path, screen: Screen) -> Path:
    """A folder with the libraries of the lock as packages, each with the checksum that the lock names."""
    screen.line("Fetching the libraries ...")
    folder.mkdir()
    with SETUP_LOG.open("w", encoding="utf-8", errors="replace") as log:
        note = lambda line: log.write(line + "\n")
        fetch = [
            PYTHON,
            "-m",
            "pip",
            "download",
            "--dest",
            folder,
            "--disable-pip-version-check",
            "--no-input",
        ]
        failed = run([*fetch, *OF_THE_LOCK], note, env=environment() | {"CC": "true"}) or run(
            [*fetch, "--only-binary", ":all:", *BUILDERS], note
        )
    if failed:
        raise CannotStart(f"The libraries could not be fetched: {reason_of_failure()}")
    return folder


def run_verify(arguments: argparse.Namespace, screen: Screen) -> int:
    """Whether an archive is intact: by the Python that runs this, since nothing need be installed for it."""
    words = [
        Path(os.path.abspath(arguments.file)),
        *(["--run", "--cores", arguments.cores] if arguments.run else []),
        *(["--mend"] if arguments.mend else []),
    ]
    return run([sys.executable, ROOT / "scripts" / "verbs" / "verify.py", *words])


def run_test(arguments: argparse.Namespace, screen: Screen) -> int:
    prepare(arguments, screen)
    # the tests themselves are named in pyproject.toml
    status = run(
        [PYTHON, "-m", "pytest", "--numprocesses", arguments.cores, "--dist", "loadfile", *arguments.rest]
    )
    return status if status >= 0 else 128 - status  # ended by a signal, as a shell counts it


# The command line ----------------------------------------------------------------------------------------------------


class Parser(argparse.ArgumentParser):
    """Usage errors as one plain line."""

    def error(self, message: str):
        raise CannotStart(f"{self.prog}: {message} (for help: {HELP})")


def count_of_cores(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of cores such as 2")
    return int(text)


def cores_here() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def command_line(words: Sequence[str]) -> argparse.Namespace:
    """The command line as `function`, its arguments, and `rest`: words for pytest."""
    parser = Parser(
        prog="headland",
        allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description="From a walked net-radiation survey to a lab report.",
    )
    verbs = parser.add_subparsers(metavar="VERB", title="verbs", parser_class=Parser)

    def verb(name: str, function: Callable, help: str, **more) -> argparse.ArgumentParser:
        added = verbs.add_parser(name, help=help, description=help, allow_abbrev=False, **more)
        added.set_defaults(function=function, rest=[])
        added.add_argument(
            "--cores",
            type=count_of_cores,
            default=cores_here(),
            metavar="N",
            help="how many to use (default: all)",
        )
        added.add_argument(
            "--mend",
            action="store_true",
            help="install what this machine lacks, with its own installer, each command printed first",
        )
        return added

    verb("demo", run_demo, "the whole chain on the example campaign in demo_inputs")
    report = verb(
        "report", run_report, "the whole chain on a campaign folder; what is up to date is not done again"
    )
    report.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="the campaign folder")
    report.add_argument(
        "--results", type=Path, metavar="DIR", help="where results go (default: results/<folder name>)"
    )
    for name, function, help in (
        (
            "plan",
            run_plan,
            "the field plan and the notes form for a day to come, from the campaign's plan.csv",
        ),
        ("look", run_look, "the quick look before driving home: no notes needed, one page"),
    ):
        page = verb(name, function, help)
        page.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="the campaign folder")
        page.add_argument(
            "--results", type=Path, metavar="DIR", help="where results go (default: results/<folder name>)"
        )
        if name == "look":
            page.add_argument(
                "--follow",
                action="store_true",
                help="look again whenever a file arrives or grows, until Ctrl-C",
            )
    season = verb("season", run_season, "many campaigns, and the table across them")
    season.add_argument("folders", type=Path, nargs="+", metavar="FOLDER", help="campaign folders")
    season.add_argument(
        "--results", type=Path, metavar="DIR", help="where the table goes (default: results/season)"
    )
    season.add_argument(
        "--profile",
        metavar="NAME",
        help="run each campaign as a job of a cluster, by config/profiles/NAME, such as slurm (docs/cluster.md)",
    )
    new = verb(
        "new",
        run_new,
        "a campaign folder to fill in; or, with --from and --groups, a pack for each group of a class",
    )
    new.add_argument("folder", type=Path, metavar="FOLDER", help="the folder to make")
    new.add_argument(
        "--from-file",
        dest="sample",
        action="append",
        type=Path,
        metavar="FILE",
        help="a file of a logger, from which its layout is worked out; once for each set",
    )
    new.add_argument(
        "--from",
        dest="source",
        type=Path,
        metavar="CAMPAIGN",
        help="the campaign whose surfaces and files are dealt to groups",
    )
    new.add_argument(
        "--groups", type=Path, metavar="GROUPS.csv", help="columns: group, and surfaces (optional)"
    )
    answers = verb(
        "answers",
        run_answers,
        "check students' numbers against the chain's: a page for each, a table for the teacher",
    )
    exercises = verb(
        "exercises", run_exercises, "a sheet of questions from the campaign's own numbers, with the key apart"
    )
    class_notes = verb("class-notes", run_class_notes, "several people's notes of one walk, compared")
    for added, folder in ((answers, "answers"), (exercises, "exercises"), (class_notes, "class_notes")):
        added.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="the campaign folder")
        added.add_argument(
            "--results",
            type=Path,
            metavar="DIR",
            help="where the campaign's results are (default: results/<folder name>)",
        )
        added.add_argument(
            "--out",
            type=Path,
            metavar="DIR",
            help=f"where the pages go (default: the folder {folder} in the results)",
        )
    answers.add_argument(
        "answers",
        type=Path,
        metavar="ANSWERS.csv",
        help="columns: who (optional), segment or surface, quantity, value, unit, uncertainty (optional)",
    )
    answers.add_argument(
        "--hide-values", action="store_true", help="leave the chain's own numbers out of all pages and tables"
    )
    class_notes.add_argument(
        "notes",
        type=Path,
        nargs="+",
        metavar="NOTES",
        help="a file of notes for each person, named after who wrote it",
    )
    archive = verb(
        "archive",
        run_archive,
        "one file that holds inputs, results, settings, the workflow and its checksums",
    )
    archive.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="the campaign folder")
    archive.add_argument(
        "--results", type=Path, metavar="DIR", help="where results go (default: results/<folder name>)"
    )
    archive.add_argument(
        "--out", type=Path, metavar="FILE.zip", help="the archive (default: beside the results)"
    )
    archive.add_argument(
        "--without-remarks",
        action="store_true",
        help="leave out remarks, and columns that Headland does not use, in notes and register",
    )
    archive.add_argument(
        "--wheels",
        action="store_true",
        help="hold the libraries too, for a rerun on a machine like this one without a network",
    )
    verify = verb(
        "verify",
        run_verify,
        "whether an archive is intact and complete; with --run, whether it gives the same numbers",
    )
    verify.add_argument("file", type=Path, metavar="FILE.zip", help="the archive")
    verify.add_argument(
        "--run",
        action="store_true",
        help="run the programs in the archive, in an environment of their own, and compare the tables",
    )
    verb(
        "test",
        run_test,
        "the project's tests; other arguments go to pytest",
        usage="headland test [--cores N] [--mend] [arguments of pytest]",
    )

    if not words:
        raise CannotStart(f"Say what to do: {', '.join(verbs.choices)} (for help: {HELP})")
    if not words[0].startswith("-") and words[0] not in verbs.choices:
        nearest = difflib.get_close_matches(words[0], verbs.choices, n=1)
        meant = f"Did you mean `{nearest[0]}`? " if nearest else ""
        raise CannotStart(
            f"There is no verb `{plain(words[0])}`. {meant}The verbs are {', '.join(verbs.choices)}."
        )
    arguments, rest = parser.parse_known_args(words)
    if arguments.function is run_test:
        arguments.rest = rest
    elif rest:
        parser.error(f"not understood: {plain(' '.join(rest))}")
    return arguments


def stop(number: int, frame) -> None:
    for each in STOPPING:
        signal.signal(each, signal.SIG_IGN)  # one is enough: children are being ended
    raise Stopped(number)


STOPPING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


def main(words: Sequence[str]) -> int:
    for number in STOPPING:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, stop)
    sys.stdout.reconfigure(errors="replace")
    sys.stderr.reconfigure(errors="replace")
    try:
        arguments = command_line(words)
        return arguments.function(arguments, Screen(sys.stdout))
    except CannotStart as problem:
        print(problem, file=sys.stderr)
        return 2
    except Fault as problem:
        print(problem, file=sys.stderr)
        return 1
    except Stopped as signalled:
        print("Stopped. What was finished is kept; the same command goes on from there.", file=sys.stderr)
        return 128 + signalled.args[0]
    except BrokenPipeError:  # the reader of this output has gone
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 128 + signal.SIGPIPE
    except Exception:
        keep([traceback.format_exc()])
        print(PLEASE_REPORT, file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
