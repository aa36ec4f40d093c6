"""Bringing results up to date.

The checks before it, the locks, Snakemake, and the words for a failure.
"""

import contextlib
import json
import os
import shlex
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO

from front import children, cluster, installers, libraries, ownership, places, problems, runlog
from front.problems import CannotStart, Fault, please_report
from front.screen import Screen, plain
from front.steps import Steps, to_report

FROM_OUTSIDE = "The run was ended from outside, or the memory was full. The same command goes on from there."
BELL = "\a"
"""A line by which a page's script asks for a beep."""
RUNNING_HERE = """
import os, psutil, sys
for process in psutil.process_iter(["cmdline", "cwd"]):
    words, folder = process.info["cmdline"] or [], process.info["cwd"]
    names = [os.path.basename(word.removesuffix("/__main__.py")) for word in words]
    if folder == sys.argv[1] and "snakemake" in names:
        print(process.pid)
"""


def call(words: Sequence, each_line, pass_fds: Sequence[int] = ()) -> int:
    """Run a program with the environment's Python; its exit status."""
    python = libraries.python()
    return children.run([python, *words], each_line, env=children.environment(python), pass_fds=pass_fds)


def check_settings(campaigns: Sequence[Path]) -> "dict[Path, list[str]]":
    """The errors in the settings of campaigns that have any, in plain lines already."""
    lines: list[str] = []
    status = call([places.ROOT / "scripts" / "verbs" / "settings.py", *campaigns], lines.append)
    if status not in (0, 2):
        runlog.keep(lines)
        raise of_script(status, lines, f"The settings could not be checked. {please_report()}")
    found: dict[Path, list[str]] = {}
    for line in lines:
        number, _, error = line.partition(" ")
        found.setdefault(campaigns[int(number)], []).append(plain(error))
    return found


def of_script(status: int, lines: Sequence[str], otherwise: str) -> Exception:
    """How to end where a script ended by a signal or in a trace: the machine's fault, or Headland's."""
    machine = problems.of_machine(lines)
    if status < 0 and not machine:
        return Fault(FROM_OUTSIDE)
    return CannotStart(machine) if machine else Fault(otherwise)


def memory_mb() -> int:
    """The computer's memory in MB: steps that would need more together run one after the other."""
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") // 1_000_000


def snakemake(campaigns: Mapping[Path, Path], cores: int, also: Sequence[str] = ()) -> list:
    """The words for Python that make the results of campaigns.

    campaigns: campaign folders by results folder. also: what is asked for beside the report.
    """
    paths = {str(results): str(campaign) for results, campaign in campaigns.items()}
    # Snakemake strips quotes off a value's ends and reads the rest as YAML: the blanks keep them, and ` #`
    named = f"campaigns= {json.dumps(paths, ensure_ascii=False)} "
    return [
        *("-m", "snakemake"),
        *("--snakefile", places.ROOT / "Snakefile"),
        *("--directory", places.base()),
        *("--workflow-profile", places.ROOT / "config" / "profiles" / "laptop"),
        *("--cores", cores),
        *("--resources", f"mem_mb={memory_mb()}"),
        "--rerun-incomplete",
        *("--config", named),
        *([f"also={json.dumps(list(also))}"] if also else []),
    ]


def bring_up_to_date(
    campaigns: Mapping[Path, Path],
    cores: int,
    screen: Screen,
    profile: "str | None" = None,
    also: Sequence[str] = (),
) -> "dict[Path, list[str]]":
    """Bring results up to date, or raise with what prevents it. also: what is asked for beside the report.

    Of many campaigns a failing one stops no other; returns why each failed, by its results folder.
    """
    for results, campaign in campaigns.items():
        ready_to_write(results, campaign)
    words = cluster.command(campaigns, profile)[1:] if profile else snakemake(campaigns, cores, also)
    at_front = words.index("-m") + 2
    words[at_front:at_front] = ["--keep-going"] if len(campaigns) > 1 else []
    with contextlib.ExitStack() as stack:
        held = [stack.enter_context(locked(results)) for results in campaigns]
        for results, campaign in campaigns.items():
            ownership.claim(results, campaign)
        if not all(ownership.is_known(results) for results in campaigns):
            words[at_front:at_front] = ["--forceall"]
        steps, status = attempt_twice(words, screen, held)
        failed = outcome(steps, status, campaigns)
        for results in campaigns:
            if results not in failed:
                ownership.remember(results)
    if steps.nothing_to_do:
        screen.line("Everything is up to date.")
    return failed


def outcome(steps: Steps, status: int, campaigns: Mapping[Path, Path]) -> "dict[Path, list[str]]":
    """Why campaigns failed, by results folder; raises where none could be done."""
    if status == 2 and steps.for_the_user():
        raise CannotStart("\n".join(steps.for_the_user()))
    if status < 0:
        raise Fault(FROM_OUTSIDE)
    failed = {}
    for results in campaigns:
        failures = steps.failed(results)
        if failures:
            failed[results] = steps.explained(failures)
    if status and (len(campaigns) == 1 or not failed):
        lines = next(iter(failed.values()), None) or steps.explained(steps.failures)
        raise Fault("\n".join(to_report(lines)))
    return failed


def attempt_twice(words: Sequence, screen: Screen, held: Sequence[IO]) -> "tuple[Steps, int]":
    """Call Snakemake, and once more where a run that was killed left its lock.

    The lock is left over when no living process holds the lock files used here (Snakemake inherits them)
    and no Snakemake that somebody called directly works in the folder.
    """
    steps, status = attempt(words, screen, held)
    if not steps.locked:
        return steps, status
    found: list[str] = []
    call(["-c", RUNNING_HERE, places.base()], found.append)
    if found:
        raise CannotStart(
            f"Snakemake is already working in this folder (process {', '.join(found)}); "
            "wait until it is done, or end it, and run the same command again."
        )
    screen.line("An earlier run was cut off; what it left half done is done again.")
    call([*words, "--unlock"], lambda line: None)
    return attempt(words, screen, held)


def attempt(words: Sequence, screen: Screen, held: Sequence[IO]) -> "tuple[Steps, int]":
    """Call Snakemake once; what it said, and its exit status."""
    steps = Steps(screen)
    try:
        with screen.under(steps.bar):
            status = call(words, steps.read, pass_fds=[file.fileno() for file in held])
    finally:
        runlog.keep(steps.said)
    return steps, status


@contextlib.contextmanager
def locked(results: Path):
    """Hold a results folder, so that two runs do not write it at once."""

    def busy() -> None:
        shown = places.short(results)
        raise CannotStart(f"Another run is writing {shown}; wait until it is done, or end it.")

    try:
        file = (ownership.folder(results) / "lock").open("a")
    except PermissionError:
        shown = places.short(results)
        raise CannotStart(f"{shown} belongs to another user; name another folder with --results.") from None
    with file:
        children.hold(file, busy, children.PATIENCE)
        yield file


def ready_to_write(results: Path, campaign: Path) -> None:
    """CannotStart where results can't be written, or where dates would mislead Snakemake."""
    can_write(results)
    not_dated_ahead([campaign, *(places.ROOT / name for name in ("config", "scripts", "workflow"))])
    for path in dated_ahead(results):  # a clock was wrong when they were made
        os.utime(path)


def can_write(folder: Path) -> None:
    """CannotStart where a folder can't be made or written in."""
    try:
        ownership.folder(folder).mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder) as file:
            file.write(b"\n" * 4096)
    except OSError as problem:
        known = problems.of_system(problem)
        shown = places.short(folder)
        raise CannotStart(
            f"{shown}: {known}"
            if "disk is full" in known
            else f"{shown} can't be written ({problem.strerror}): correct that, "
            "or name another folder with --results."
        ) from None


def own(results: Path, campaign: Path) -> None:
    """CannotStart where a folder can't be written, or holds another campaign's results."""
    can_write(results)
    ownership.claim(results, campaign)


def dated_ahead(folder: Path) -> "list[Path]":
    """What in a folder is dated in the future, by this computer's clock."""
    latest = time.time() + 2
    return [path for path in sorted(folder.rglob("*")) if path.exists() and path.stat().st_mtime > latest]


def not_dated_ahead(folders: Sequence[Path]) -> None:
    """CannotStart where an input is dated in the future.

    Results would seem older than it, and never up to date.
    """
    for folder in folders:
        for path in dated_ahead(folder):
            find = shlex.join(["find", places.short(folder), "-newermt", "now"])
            raise CannotStart(
                f"{plain(places.short(path))} is dated in the future: correct this computer's clock where it "
                f"is wrong; else give the file today's date with `{plain(find)} -exec touch {{}} +`, "
                "and run the same command again."
            )


def made(campaign: Path, results: Path, cores: int) -> "list[Path]":
    """The files that the chain makes of this campaign.

    What an earlier run may have left beside them is not among them.
    """
    lines: list[str] = []
    words = snakemake({results: campaign}, cores)
    call([*words, "--summary"], lines.append)
    head = next((number for number, line in enumerate(lines) if line.startswith("output_file\t")), len(lines))
    rows = [line for line in lines[head + 1 :] if line.count("\t") >= 5]
    return [places.base() / line.rsplit("\t", 5)[0] for line in rows]


def run_script(name: str, *words) -> "list[str]":
    """Call a script that says what it did in plain lines. CannotStart with its lines at exit status 2."""
    lines: list[str] = []
    status = call([places.ROOT / "scripts" / "verbs" / name, *words], lines.append)
    if status == 2:
        raise CannotStart("\n".join(plain(line) for line in lines))
    if status:
        runlog.keep(lines)
        raise of_script(status, lines, f"{name} failed. {please_report()}")
    return lines


def run_page(script: str, words: Sequence, screen: Screen) -> int:
    """Call a script that makes a page of its own.

    Its status is 0, 1, or 2 where its lines say why it could not start.
    """
    lines: list[str] = []
    follow = "--follow" in words

    def traced() -> bool:
        return any(line.startswith("Traceback") for line in lines)

    def show(line: str) -> None:
        if line == BELL:
            screen.beep()
            return
        lines.append("  " * line.startswith("  ") + plain(line))
        if follow and not traced():
            screen.line(lines[-1])

    status = call([places.ROOT / "scripts" / "verbs" / script, *words], show)
    if status not in (0, 1, 2) or traced():
        runlog.keep(lines)
        raise of_script(status, lines, please_report())
    if status == 2:
        raise CannotStart("\n".join(lines))
    if not follow:
        for line in lines:
            screen.line(line)
    return status


def pango(screen: Screen, may_install: bool) -> None:
    """Install Pango where it is missing and the user agrees; without it everything but the PDF is made."""
    if may_install and not installers.has_pango():
        installers.install(installers.pango(), screen)
