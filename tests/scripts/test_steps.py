"""What Snakemake says, and what the screen shows of it."""

import io

import pytest

from front.screen import Screen
from front.steps import Steps

from .helpers import said

SNAKEMAKE_SAYS = """\
Building DAG of jobs...
Job stats:
job       count
------  -------
read          2
report        1
total         3

[Wed May 20 09:48:21 2026]
Job 2: Reading the logger files of plover
Reason: Missing output files: read/plover.csv
Job 1: Reading the logger files of heron
Finished jobid: 2 (Rule: read)
1 of 3 steps (33%) done
Finished jobid: 1 (Rule: read)
2 of 3 steps (67%) done
localrule report:
    input: read/heron.csv
    log: logs/report.log
"""

SNAKEMAKE_FAILS = """\
Job 0: Writing the report
Error in rule report:
    message: None
    jobid: 0
    output: report.html
    log: logs/report.log (check log file(s) for error details)
    shell:
        python scripts/steps/report.py
        (command exited with non-zero exit code)
WorkflowError:
"""


def reading(screen, text):
    steps = Steps(screen)
    for line in text.splitlines():
        steps.read(line)
    return steps


def test_steps_are_one_plain_line_each(project, screen):
    steps = reading(screen, SNAKEMAKE_SAYS)
    assert said(screen) == [
        "[1/3] Reading the logger files of plover",
        "[2/3] Reading the logger files of heron",
        "[3/3] report",
    ]
    assert steps.bar() == "[" + "#" * 20 + "." * 10 + "] 2 of 3 steps done"


@pytest.mark.parametrize(
    "last, shown",
    [
        ("heron.csv, line 3: no number; expected a number", True),
        ("ValueError: x", False),
        ("json.decoder.JSONDecodeError: x", False),
        ("headland.tables.UserErrors: x", False),
        ("KeyboardInterrupt", False),
        ("    raise x", False),
    ],
)
def test_a_failed_step_is_named_with_its_log_and_never_a_trace(project, screen, last, shown):
    log = project / "logs" / "report.log"
    log.parent.mkdir()
    log.write_text(f"Traceback (most recent call last):\n{last}\n\n")
    lines = (steps := reading(screen, SNAKEMAKE_FAILS)).explained(steps.failures)
    assert lines[:2] == ["This step failed: Writing the report", "  its log: logs/report.log"]
    assert lines[2:] == ([f"  which ends: {last}"] if shown else [])


def test_a_lock_and_nothing_to_do_are_recognised(project, screen):
    assert reading(screen, "LockException:\nError: Directory cannot be locked. Please make").locked
    assert reading(
        screen, "Nothing to be done (all requested files are present and up to date)."
    ).nothing_to_do


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_a_pipe_gets_lines_only(project, screen):
    with screen.under(lambda: "bar"):
        screen.line("one")
    assert screen.stream.getvalue() == "one\n"


@pytest.mark.parametrize("no_color, coloured", [("", True), ("1", False)])
def test_a_terminal_gets_a_bar_under_the_lines_and_colour_unless_told(
    project, monkeypatch, no_color, coloured
):
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("NO_COLOR", no_color)
    screen = Screen(Terminal())
    with screen.under(lambda: "bar"):
        screen.line("one")
    assert screen.stream.getvalue() == "\r\x1b[Kone\n\r\x1b[Kbar  0 s\r\x1b[K"
    assert screen.painted("x", "31") == ("\x1b[31mx\x1b[0m" if coloured else "x")
