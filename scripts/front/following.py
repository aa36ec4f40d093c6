"""`report --follow`: what is said while a process stays, watches a campaign folder and refreshes its page."""

from collections.abc import Sequence
from pathlib import Path

from front import chain, children, findings, libraries, places, runlog
from front.problems import CannotStart, Fault, please_report
from front.screen import Screen, plain
from front.steps import Steps

MARK = "FOLLOW "
SCRIPT = places.ROOT / "scripts" / "verbs" / "follow.py"


class Quiet(Steps):
    """Steps of which only the last line on a terminal speaks."""

    def _say(self, message: str) -> None:
        self.started += 1


class Followed:
    """Reads what the following process says, and says what became of each change."""

    def __init__(self, results: Path, screen: Screen):
        self.results, self.screen = results, screen
        self.steps, self.busy = Quiet(screen), False

    def bar(self) -> str:
        return self.steps.bar() if self.busy else "watching; end with Ctrl-C"

    def read(self, line: str) -> None:
        if not line.startswith(MARK):
            self.steps.read(line)
            return
        what, *rest = line.split()[1:]
        if what == "ready":
            page = places.short(self.results / "follow.html")
            self.screen.line(f"Watching; end with Ctrl-C. This page refreshes itself: {page}")
            return
        if what == "begin":
            self.steps, self.busy = Quiet(self.screen), True
            return
        status, seconds = rest
        self.said_of(what, int(status), seconds)
        runlog.keep(self.steps.said)
        self.busy = what == "page" and status == "0"
        self.steps = Quiet(self.screen)

    def said_of(self, what: str, status: int, seconds: str) -> None:
        """What became of the page, or of what is made after it."""
        if status == 0 and what == "page":
            findings.say(self.results, self.screen)
            page = places.short(self.results / "follow.html")
            self.screen.line(f"The page is new, {seconds} s after the change: {page}")
        elif status == 0:
            self.screen.line(f"PDF and tables are new, {seconds} s after the change.")
        else:
            lines = self.steps.for_the_user() if status == 2 else self.steps.explained(self.steps.failures)
            for line in lines:
                self.screen.line(plain(line))
            self.screen.line("The page was not changed. Correct it and save: it is tried again.")


def follow(campaign: Path, results: Path, words: Sequence, screen: Screen) -> int:
    """Watch a campaign folder whose results are up to date, until interrupted. words: for Snakemake."""
    followed = Followed(results, screen)
    python = libraries.python()
    with chain.locked(results) as held, screen.under(followed.bar):
        status = children.run(
            [python, SCRIPT, "--campaign", campaign, "--results", results, "--", *words],
            followed.read,
            env=children.environment(python),
            pass_fds=[held.fileno()],
        )
    runlog.keep(followed.steps.said)
    if status == 2:
        raise CannotStart("\n".join(followed.steps.for_the_user()) or please_report())
    raise Fault(f"The watching ended by itself. {please_report()}")
