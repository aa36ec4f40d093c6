"""Runs: what is asked of Snakemake, and how a run ends."""

import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from front import chain, command_line, findings, libraries, problems
from front.steps import Steps

from .helpers import FRONT_DOOR, fake_python, lacking, leave, log, made, said

ERROR = 'error,notes-reversed,notes,heron,notes.csv,7,,,,"The end, 10:00, comes first.",Exchange them.'
WARNING = "warning,swing-strong,screen,plover,,,,,,The head swings.,Walk slower."
NOTE = "note,factor-outdated,calibrate,heron,,,,,,Rescaled.,"


@pytest.mark.parametrize(
    "rows, status, lines",
    [
        ([], 0, ["Found: 0 errors, 0 warnings, 0 notes."]),
        (
            [NOTE, WARNING],
            0,
            [
                "WARNING  swing-strong  plover  The head swings.  -> Walk slower.",
                "Found: 0 errors, 1 warning, 1 note.",
            ],
        ),
        (
            [WARNING, ERROR],
            1,
            [
                "ERROR  notes-reversed  notes.csv:7  The end, 10:00, comes first.  -> Exchange them.",
                "WARNING  swing-strong  plover  The head swings.  -> Walk slower.",
                "Found: 1 error, 1 warning, 0 notes.",
            ],
        ),
    ],
)
def test_findings_errors_first_then_the_report_last_of_all(project, screen, rows, status, lines):
    results = leave(*rows)
    assert findings.conclude(results, screen) == status
    assert said(screen) == [*lines, "results/day/report.pdf"]


def test_cells_can_not_steer_the_terminal(project, screen):
    results = leave('error,x,,,"a\x1b[2Jb.csv",1,,,,"two\nlines",')
    findings.conclude(results, screen)
    assert said(screen)[0] == "ERROR  x  a [2Jb.csv:1  two lines"


def test_a_whole_run(project, monkeypatch, capsys):
    lacking(monkeypatch)
    fake_python("echo 'total 1'; echo 'Job 0: All done'")
    leave(ERROR, name="a day: #1")
    assert command_line.main(["report", "a day: #1", "--cores", "3"]) == 1
    out = capsys.readouterr().out.splitlines()
    assert out[0] == "[1/1] All done" and out[-1] == "results/a day: #1/report.pdf"
    asked = (project / "asked").read_text().splitlines()
    assert asked[asked.index("--cores") + 1] == "3"
    assert asked[asked.index("--config") + 1 :] == [
        f'campaigns= {{"{project}/results/a day: #1": "{project}/a day: #1"}} '
    ]


def test_what_is_asked_for_beside_the_report(project, monkeypatch):
    lacking(monkeypatch)
    fake_python("echo 'Nothing to be done (x).'")
    leave()
    assert command_line.main(["report", "day", "--netcdf"]) == 0
    asked = (project / "asked").read_text().splitlines()
    assert asked[asked.index("--config") + 2] == 'also=["netcdf"]'
    assert command_line.main(["report", "day", "--with-questions"]) == 0
    assert 'also=["questions"]' in (project / "asked").read_text()


def test_results_elsewhere(project, monkeypatch, capsys):
    lacking(monkeypatch)
    fake_python("echo 'Nothing to be done (x).'")
    leave(name="elsewhere")
    assert command_line.main(["report", "day", "--results", "results/elsewhere"]) == 0
    assert capsys.readouterr().out.splitlines()[0] == "Everything is up to date."
    assert (
        f'campaigns= {{"{project}/results/elsewhere": "{project}/day"}} '
        in (project / "asked").read_text().splitlines()
    )


def test_wrong_settings_are_passed_through(project, monkeypatch, capsys):
    lacking(monkeypatch)
    fake_python(
        "echo 'Using workflow specific profile'; echo 'campaign.yaml, line 2: x; expected y' >&2; exit 2",
    )
    assert command_line.main(["report", "day"]) == 2
    assert capsys.readouterr().err == "campaign.yaml, line 2: x; expected y\n"


@pytest.mark.parametrize(
    "ends, status", [("exit 0", 0), ("exit 5", 5), ("kill -TERM $$", 128 + signal.SIGTERM)]
)
def test_the_exit_status_of_the_tests_is_handed_on(project, monkeypatch, ends, status):
    lacking(monkeypatch)
    made(f"#!/bin/sh\nprintf '%s\\n' \"$@\" > asked\n{ends}\n")
    assert command_line.main(["test", "--cores", "2", "-x"]) == status
    asked = (project / "asked").read_text().splitlines()
    in_turn = ["--dist", "loadfile", "--no-loadscope-reorder"]
    assert asked[2:] == ["-m", "pytest", "--numprocesses", "2", *in_turn, "-x"]


@pytest.mark.parametrize(
    "bad, last",
    [("", "Success"), ("ruff", "These checks failed: ruff, ruff"), ("mypy", "These checks failed: mypy")],
)
def test_the_code_is_checked_too_and_what_fails_is_named_last(project, monkeypatch, capsys, bad, last):
    """Types beside the tests: what is said of them comes after."""
    lacking(monkeypatch)
    made(f"#!/bin/sh\necho \"$*\" >> asked\ncase \"$*\" in *'mypy') echo Success ;; esac\n"
         f"case \"$*\" in *'-m {bad or 'nothing'}'*) exit 1 ;; esac\n")  # fmt: skip
    assert command_line.main(["test", "--cores", "2"]) == int(bool(bad))
    asked = [line.split(" -m ")[1].split()[0] for line in (project / "asked").read_text().splitlines()]
    assert asked[:2] == ["ruff", "ruff"] and sorted(asked[2:]) == ["mypy", "pytest"]
    said = capsys.readouterr().out.splitlines()
    assert said[-1] == last and "Success" in said[-2:]


def test_what_the_snakefile_refuses_is_passed_through(project, monkeypatch, capsys):
    lacking(monkeypatch)
    fake_python(
        "echo 'Using workflow specific profile x.'; echo 'notes.csv: not there; expected it' >&2; exit 2",
    )
    assert command_line.main(["report", "day"]) == 2
    assert capsys.readouterr().err == "notes.csv: not there; expected it\n"


@pytest.mark.parametrize(
    "how",
    [
        {"settings": "echo Traceback; exit 1"},
        {"snakemake": "echo 'KeyError: 1'; exit 1"},
        {"snakemake": "echo 'usage: snakemake'; exit 2"},  # called wrongly
        {"snakemake": "exit 0"},  # ends well and leaves nothing
        {"snakemake": "echo 'Directory cannot be locked'; exit 1"},  # and no unlocking helps
    ],
)
def test_faults_of_ours_are_called_so_with_exit_1_and_no_trace(project, monkeypatch, capsys, how):
    lacking(monkeypatch)
    fake_python(**how)
    assert command_line.main(["report", "day"]) == 1
    err = capsys.readouterr().err
    assert "This is a fault of Headland, not of yours" in err
    assert "Traceback" not in err and "KeyError" not in err


def test_an_unforeseen_fault_keeps_its_trace_in_the_log(project, monkeypatch, capsys):
    monkeypatch.setattr(libraries, "prepare", lambda *a, **b: 1 / 0)
    assert command_line.main(["demo"]) == 1
    assert capsys.readouterr().err.splitlines() == [problems.please_report()]
    assert "ZeroDivisionError" in log()


LOCKED = "if [ -e locked ]; then echo 'Error: Directory cannot be locked. Please'; exit 1; fi"


def test_a_lock_that_a_killed_run_left_is_removed(project, monkeypatch, capsys):
    lacking(monkeypatch)
    fake_python(LOCKED)
    (project / "locked").touch()
    leave()
    assert command_line.main(["report", "day"]) == 0
    assert (
        capsys.readouterr().out.splitlines()[0]
        == "An earlier run was cut off; what it left half done is done again."
    )


def test_a_lock_of_a_living_snakemake_is_left(project, monkeypatch, capsys):
    lacking(monkeypatch)
    fake_python(LOCKED, running="4711\\n")
    (project / "locked").touch()
    assert command_line.main(["report", "day"]) == 2
    assert "(process 4711)" in capsys.readouterr().err
    assert (project / "locked").exists()


def test_two_runs_on_the_same_results_do_not_meet(project, monkeypatch, capsys):
    lacking(monkeypatch)
    fake_python()
    leave()
    held = {}

    def first(command, screen, lock):  # while the first run is at it, a second one is started
        if not held:
            held["status"] = 0
            held["status"] = command_line.main(["report", "day"])
        return Steps(screen), 0

    monkeypatch.setattr(chain, "attempt", first)
    assert command_line.main(["report", "day"]) == 0
    assert held["status"] == 2
    assert "Another run is writing results/day" in capsys.readouterr().err


def test_stopping_ends_the_children_and_says_one_line(tmp_path):
    """A real process, really interrupted: its child's child must not live on."""
    folder = tmp_path / "a project"
    shutil.copytree(FRONT_DOOR.parent, folder / "scripts", ignore=shutil.ignore_patterns("__pycache__"))
    (folder / "demo_inputs").mkdir()
    for name in ("requirements.lock", "pyproject.toml"):
        shutil.copy(FRONT_DOOR.parents[1] / name, folder)
    pango = Path("workflow", "headland", "report", "pango.py")  # the front door reads its sentences there
    (folder / pango).parent.mkdir(parents=True)
    shutil.copy(FRONT_DOOR.parents[1] / pango, folder / pango)
    sleeping = "#!/bin/sh\nsleep 60 & echo $! > sleeper; echo 'Job 0: Sleeping'; wait\n"
    program = f"""
import signal, sys
# a shell that runs the tests in the background ignores it
signal.signal(signal.SIGINT, signal.default_int_handler)
sys.path.insert(0, {str(folder / "scripts")!r})
from front import command_line, libraries, places
libraries.prepare = lambda *a, **b: places.prepare_base()
libraries.python().parent.mkdir(parents=True)
libraries.python().write_text({sleeping!r})
libraries.python().chmod(0o755)
sys.exit(command_line.main(["demo"]))
"""
    command = [sys.executable, "-u", "-c", program]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert "Sleeping" in child.stdout.readline()
    child.send_signal(signal.SIGINT)
    _, err = child.communicate(timeout=30)
    assert child.returncode == 130
    assert err.splitlines() == ["Stopped. What was finished is kept; the same command goes on from there."]
    sleeper = int((folder / "sleeper").read_text())
    for _ in range(50):
        if not alive(sleeper):
            break
        time.sleep(0.1)
    assert not alive(sleeper)


def alive(process):
    """Whether a process still runs (a zombie, which waits for its parent, does not)."""
    try:
        return psutil.Process(process).status() != psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return False
