"""Reads what Snakemake says: one plain line a step for the user, and what explains a failure."""

import re
from collections.abc import Sequence
from pathlib import Path

from front import places, problems
from front.screen import Screen, plain

# The lines of Snakemake that matter. A step whose rule has no message goes by the rule's name.
TELLING = re.compile(
    r"Job (?P<job>\d+): (?P<message>.*)"
    r"|(?:local)?(?:rule|checkpoint) (?P<rule>\w+):$"
    r"|total +(?P<total>\d+)$"
    r"|(?P<done>\d+) of (?P<of>\d+) steps "
    r"|Error in (?:rule|checkpoint) (?P<failed>\w+)"
    r"|(?P<nothing>Nothing to be done)"
    r"|(?P<locked>.*Directory cannot be locked)"
    r"|    Error in rule (?P<grouped>\w+):"
    r"|    message: .*SLURM status is: '(?P<ended>\w+)'"
    r"|    log: (?P<of_job>.*slurm_logs.*) \(check log file"
    r"|Job \S+ has been (?P<submitted>submitted with \w+ jobid \w+)"
    r"|"
)
TRACE = re.compile(r"\s|[\w.]*(Error|Exception|Interrupt|Exit|Warning|Errors)\b")
"""How a line begins that is no sentence for people."""


class Steps:
    """Says one plain line a step, and keeps what is needed to explain a failure."""

    def __init__(self, screen: Screen):
        self.screen = screen
        self.total = self.started = self.done = 0
        self.messages: dict[str, str] = {}
        self.failures: list[dict[str, str]] = []
        self.said: list[str] = []
        # how the cluster says that a job ended, and the job's own log: both come before the job's steps
        self.ended = self.of_job = ""
        self.nothing_to_do = self.locked = self.in_failure = False

    def bar(self) -> str:
        if not self.total:
            return "finding out what has to be done ..."
        filled = round(30 * self.done / self.total)
        return f"[{'#' * filled}{'.' * (30 - filled)}] {self.done} of {self.total} steps done"

    def read(self, line: str) -> None:
        self.said.append(line)
        match = TELLING.match(line)
        found = match.groupdict("") if match else {}
        if self.in_failure and line.startswith("    ") and not (found["grouped"] or found["ended"]):
            key, _, value = line.strip().partition(": ")
            self.failures[-1].setdefault(key, value.partition(" (check log file")[0])
            return
        self._count(found)
        self._note_failure(line, found)
        if found["submitted"]:
            self.screen.line(f"A campaign was {found['submitted']}")
        if found["job"]:
            self.messages[found["job"]] = plain(found["message"])
        if found["job"] or found["rule"]:
            self._say(plain(found["message"] or found["rule"]))

    def _count(self, found: "dict[str, str]") -> None:
        self.done = int(found["done"] or self.done)
        self.total = int(found["of"] or found["total"] or self.total)
        self.nothing_to_do = self.nothing_to_do or bool(found["nothing"])
        self.locked = self.locked or bool(found["locked"])

    def _note_failure(self, line: str, found: "dict[str, str]") -> None:
        self.in_failure = bool(found["failed"] or found["grouped"])
        if found["failed"]:
            self.failures.append({"rule": found["failed"]})
        if found["grouped"]:
            self.failures.append({"rule": found["grouped"], "grouped": self.ended, "of_job": self.of_job})
        if line.startswith("    message: "):
            self.ended = found["ended"]
        self.of_job = found["of_job"] or self.of_job

    def _say(self, message: str) -> None:
        self.started += 1
        self.screen.line(f"[{self.started:>{len(str(self.total))}}/{self.total}] {message}")

    def for_the_user(self) -> "list[str]":
        """What the Snakefile said where it refused to start.

        Not Snakemake's own lines, nor how Snakemake is used.
        """
        if any(line.startswith("usage: ") for line in self.said):
            return []
        own = ("Using ", "Config file ")
        return [plain(line) for line in self.said if line.strip() and not line.startswith(own)]

    def failed(self, results: Path) -> "list[dict[str, str]]":
        """The failures of one campaign: their logs are in its results.

        Snakemake names all steps that were one job on a cluster; the job's own log says which of them failed.
        """
        ours = [failure for failure in self.failures if _log(failure).is_relative_to(results)]
        alone = [failure for failure in ours if "grouped" not in failure]
        jobs: dict[str, list[dict[str, str]]] = {}
        for failure in ours:
            if "grouped" in failure:
                jobs.setdefault(failure["of_job"], []).append(failure)
        return [*alone, *(step for of_job, steps in jobs.items() for step in _of_job(of_job, steps))]

    def explained(self, failures: "Sequence[dict[str, str]]") -> "list[str]":
        """Which steps failed, where their logs are, and why where that is known in plain words."""
        lines = [] if failures else ["The steps could not be started."]
        machine = problems.of_machine(self.said)
        for failure in failures:
            name = self.messages.get(failure.get("jobid", ""), failure["rule"])
            lines.append(f"This step failed: {name}")
            if "log" in failure:
                lines.append(f"  its log: {places.short(_log(failure))}")
                lines += _why(failure)
        if machine and not any(line.endswith(problems.AGAIN) for line in lines):
            lines.append(machine)
        return lines


def _why(failure: "dict[str, str]") -> "list[str]":
    """How a failed step's log ends, where people can read it."""
    text = text_of(_log(failure))
    last = next((line for line in reversed(text.splitlines()) if line.strip()), "")
    if failure.get("grouped", "FAILED") not in ("", "FAILED"):
        ended = f"the cluster ended its job ({failure['grouped']}); run the same command again."
        return [f"  which ends: {ended}"]
    if "the disk being full" in failure.get("how", ""):  # and its log may be on it
        return [f"  which ends: {problems.of_machine([failure['how']])}"]
    if last and not TRACE.match(last):
        in_words = problems.of_machine([last]) if last in problems.OF_THE_SYSTEM.values() else plain(last)
        return [f"  which ends: {in_words}"]
    machine = problems.of_machine([failure.get("how", ""), *text.splitlines()[-5:]])
    return [f"  which ends: {machine}"] if machine else []


def _log(failure: "dict[str, str]") -> Path:
    return places.base() / failure.get("log", "")


def _of_job(of_job: str, steps: "list[dict[str, str]]") -> "list[dict[str, str]]":
    """The steps of a cluster's job that failed; where the cluster ended the job, the one that it had come
    to.
    """
    said = text_of(places.base() / of_job) if of_job else ""
    ends = re.findall(r" ended (?:with exit status|by signal) (.*); its log is (.+)$", said, re.M)
    logs = {places.base() / path: how for how, path in ends}
    failed = [{**step, "how": logs[_log(step)]} for step in steps if _log(step) in logs]
    if failed:
        return failed
    ended = re.search(r"\*\*\* (?:JOB|STEP) .* (CANCELLED) AT \S+( DUE TO [A-Z ]+)? \*\*\*", said)
    if ended:
        steps = [{**step, "grouped": ended.group(1) + (ended.group(2) or "")} for step in steps]
    begun = [step for step in steps if text_of(_log(step))]
    return [max(begun, key=lambda step: _log(step).stat().st_mtime)] if begun else steps[:1]


def to_report(lines: "list[str]") -> "list[str]":
    """Why steps failed, and that Headland is at fault, unless a line says what the user can do."""
    if any(line.endswith("run the same command again.") for line in lines):
        return lines
    return [*lines, problems.please_report()]


def text_of(file: Path) -> str:
    """What a log holds; nothing where there is none."""
    try:
        return file.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
