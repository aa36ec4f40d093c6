"""The front door: what it says and how it ends, without a network and without the chain."""

import argparse
import ast
import importlib.util
import io
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

FRONT_DOOR = Path(__file__).resolve().parents[2] / "scripts" / "headland.py"


@pytest.fixture
def door(monkeypatch, tmp_path):
    """The front door as a module whose project folder is an empty one (by path: its name is the package's too)."""
    spec = importlib.util.spec_from_file_location("front_door", FRONT_DOOR)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    project = tmp_path / "a project"
    project.mkdir()
    (project / "requirements.lock").write_text("one==1\n")
    here = {
        "ROOT": "",
        "DEMO": "demo_inputs",
        "LOCK": "requirements.lock",
        "VENV": ".venv",
        "PYTHON": ".venv/bin/python",
        "STAMP": ".venv/made-from",
        "SETUP_LOG": ".venv.log",
        "RUN_LOG": ".snakemake/log/headland.log",
    }
    for name, path in here.items():
        monkeypatch.setattr(module, name, project / path)
    monkeypatch.chdir(project)
    monkeypatch.setattr(module.signal, "signal", lambda number, handler: None)  # pytest keeps its own
    monkeypatch.setattr(
        module.subprocess, "call", lambda command, **more: pytest.fail(f"installs: {command}")
    )
    return module


@pytest.fixture
def screen(door):
    return door.Screen(io.StringIO())


def said(screen):
    return screen.stream.getvalue().splitlines()


def call(*words):
    """The front door as a user calls it: exit status, standard output, standard error."""
    done = subprocess.run([sys.executable, FRONT_DOOR, *words], capture_output=True, text=True, timeout=60)
    return done.returncode, done.stdout, done.stderr


def made(door, python="#!/bin/sh\nexit 0\n"):
    """Put an environment in place whose Python is the given script."""
    door.PYTHON.parent.mkdir(parents=True)
    door.PYTHON.write_text(python)
    door.PYTHON.chmod(0o755)
    (door.VENV / "pyvenv.cfg").touch()
    door.STAMP.write_text(door.stamp())


# Old and unsuited Pythons --------------------------------------------------------------------------------------------


def test_an_old_python_can_read_the_file():
    ast.parse(FRONT_DOOR.read_text(encoding="utf-8"), feature_version=(3, 6))


def test_nothing_new_is_evaluated_before_the_version_is_looked_at():
    """Up to the look at the version there are only imports of old modules, constants and a function without hints."""
    body = ast.parse(FRONT_DOOR.read_text(encoding="utf-8")).body
    gate = next(
        i for i, node in enumerate(body) if isinstance(node, ast.If) and "unsuited" in ast.unparse(node.test)
    )
    for node in body[:gate]:
        assert isinstance(node, (ast.Expr, ast.Import, ast.Assign, ast.FunctionDef)), ast.unparse(node)
        if isinstance(node, ast.Import):
            assert {alias.name for alias in node.names} <= {"os", "sys"}
        if isinstance(node, ast.FunctionDef):
            assert not any(isinstance(part, (ast.JoinedStr, ast.Match)) for part in ast.walk(node))
            assert node.returns is None and all(argument.annotation is None for argument in node.args.args)


@pytest.mark.parametrize(
    "version, system, begins",
    [
        ((3, 6, 15), "posix", "Python 3.11 or later is needed, found 3.6."),
        ((3, 10, 0), "posix", "Python 3.11 or later is needed, found 3.10."),
        ((3, 15, 0), "posix", "Python 3.11 to 3.14 is needed, found 3.15"),
        ((3, 12, 0), "nt", "Headland runs on Linux, macOS and, on Windows, inside WSL"),
    ],
)
def test_an_unsuited_python_is_told_in_one_line_with_the_command(door, version, system, begins):
    line = door.unsuited(version, system)
    assert line.startswith(begins) and "\n" not in line
    commands = ["wsl --install"] if system == "nt" else ["sudo apt-get install", "brew install", "inside WSL"]
    assert all(command in line for command in commands)


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 14, 2)])
def test_a_suited_python_is_let_in(door, version):
    assert door.unsuited(version, "posix") == ""


# Usage ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words, wanted",
    [
        ((), "Say what to do: demo, report, "),
        (("reprot", "x"), "There is no verb `reprot`. Did you mean `report`?"),
        (("dmeo",), "Did you mean `demo`?"),
        (("xylophone",), "There is no verb `xylophone`. The verbs are demo, report, "),
        (("report",), "CAMPAIGN"),
        (("report", "x", "--result", "y"), "not understood: --result y"),
        (("demo", "--cores", "0"), "'0' is not a number of cores"),
        (("demo", "--cores", "two"), "'two' is not a number of cores"),
    ],
)
def test_usage_errors_are_one_plain_line_and_exit_2(words, wanted):
    status, out, err = call(*words)
    assert (status, out) == (2, "")
    assert wanted in err and len(err.splitlines()) == 1


def test_help_names_every_verb():
    status, out, _ = call("--help")
    assert status == 0 and all(verb in out for verb in ("demo", "report", "plan", "look", "season", "test"))


def test_words_for_pytest_are_handed_on_in_order(door):
    arguments = door.command_line(
        ["test", "-k", "sun and not moon", "--mend", "-x", "tests/headland", "--cores", "3"]
    )
    assert arguments.rest == ["-k", "sun and not moon", "-x", "tests/headland"]
    assert (arguments.mend, arguments.cores) == (True, 3)


@pytest.mark.parametrize(
    "campaign, results, wanted",
    [
        ("day", "day/results", "lies in the campaign's folder"),
        ("day", "day", "lies in the campaign's folder"),
        ("{day}", None, "a path with '{' '}' can't be used"),
        ("day", "requirements.lock", "is a file; name a folder"),
    ],
)
def test_folders_that_can_not_serve_are_told_before_anything_is_made(door, capsys, campaign, results, wanted):
    words = ["report", campaign] + (["--results", results] if results else [])
    assert door.main(words) == 2
    assert wanted in capsys.readouterr().err
    assert not door.VENV.exists()


# What the machine lacks ----------------------------------------------------------------------------------------------


def lacking(door, monkeypatch, module=False):
    monkeypatch.setattr(door, "can_make_environments", lambda: not module)


@pytest.mark.parametrize("absent", ["venv", "ensurepip"])
def test_environments_need_both_modules(door, monkeypatch, absent):
    find = importlib.util.find_spec
    assert door.can_make_environments()
    monkeypatch.setattr(door.importlib.util, "find_spec", lambda name: None if name == absent else find(name))
    assert not door.can_make_environments()


def test_a_missing_module_for_environments_is_one_line_with_three_commands_and_exit_2(
    door, monkeypatch, capsys
):
    lacking(door, monkeypatch, module=True)
    assert door.main(["demo"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    package = f"python3.{sys.version_info[1]}-venv"
    assert f"Debian/Ubuntu: sudo apt-get install {package};" in line
    assert "macOS: brew install python@3." in line
    assert f"Windows: inside WSL, sudo apt-get install {package}" in line
    assert "--mend" in line


def test_the_module_is_not_asked_for_once_the_environment_is_made(door, monkeypatch):
    made(door)
    lacking(door, monkeypatch, module=True)
    door.prepare(argparse.Namespace(mend=False), door.Screen(io.StringIO()))


def test_mending_installs_what_is_missing_and_nothing_else(door, monkeypatch, screen):
    lacking(door, monkeypatch, module=True)
    monkeypatch.setattr(door, "make_environment", lambda screen: None)
    mended = []

    def mend(need, screen):
        mended.append(need)
        lacking(door, monkeypatch)

    monkeypatch.setattr(door, "mend", mend)
    door.prepare(argparse.Namespace(mend=True), screen)
    assert mended == [door.VENV_MODULE]


@pytest.mark.parametrize("user, prefix", [(0, ""), (1000, "sudo ")])
def test_mending_on_debian_prints_each_command_before_it_runs(door, monkeypatch, screen, user, prefix):
    monkeypatch.setattr(door.sys, "platform", "linux")
    monkeypatch.setattr(door.os, "geteuid", lambda: user)
    monkeypatch.setattr(
        door.shutil, "which", lambda name: f"/bin/{name}" if name in ("apt-get", "sudo") else None
    )
    ran = []

    def run(command, **more):
        ran.append((" ".join(command), len(said(screen))))
        return 0

    monkeypatch.setattr(door.subprocess, "call", run)
    door.mend(door.VENV_MODULE, screen)
    packages = " ".join(door.VENV_MODULE.apt)
    commands = [
        f"{prefix}apt-get update",
        f"{prefix}apt-get install --yes --no-install-recommends {packages}",
    ]
    assert ran == [(commands[0], 1), (commands[1], 2)]
    assert said(screen) == [f"Running: {command}" for command in commands]


def test_mending_on_macos_uses_brew(door, monkeypatch, screen):
    monkeypatch.setattr(door.sys, "platform", "darwin")
    monkeypatch.setattr(door.shutil, "which", lambda name: "brew" if name == "brew" else None)
    ran = []
    monkeypatch.setattr(door.subprocess, "call", lambda command, **more: ran.append(command) or 0)
    door.mend(door.VENV_MODULE, screen)
    assert ran == [["brew", "install", f"python@3.{sys.version_info[1]}"]]


def test_mending_without_an_installer_or_rights_says_so(door, monkeypatch, screen):
    monkeypatch.setattr(door.sys, "platform", "linux")
    monkeypatch.setattr(door.shutil, "which", lambda name: None)
    with pytest.raises(door.CannotStart, match="finds neither here"):
        door.mend(door.VENV_MODULE, screen)
    monkeypatch.setattr(door.shutil, "which", lambda name: name if name == "apt-get" else None)
    monkeypatch.setattr(door.os, "geteuid", lambda: 1000)
    with pytest.raises(door.CannotStart, match="needs root or sudo"):
        door.mend(door.VENV_MODULE, screen)


@pytest.mark.parametrize("is_made", [True, False])
def test_nothing_is_installed_without_consent(door, monkeypatch, capsys, is_made):
    """Where something is missing, no installer is called (the fixture lets none through)."""
    if is_made:
        fake_python(door)
        leave(door, name="demo_inputs")
    lacking(door, monkeypatch, module=True)
    assert door.main(["demo"]) == (0 if is_made else 2)
    assert "Running:" not in capsys.readouterr().out


# The environment -----------------------------------------------------------------------------------------------------


def test_an_environment_is_stale_by_lock_python_or_interruption(door, monkeypatch):
    assert not door.environment_is_made()
    made(door)
    assert door.environment_is_made()
    lock = door.LOCK.read_text()
    door.LOCK.write_text(lock + "two==2\n")
    assert not door.environment_is_made()
    door.LOCK.write_text(lock)
    assert door.environment_is_made()
    monkeypatch.setattr(door.sys, "version_info", (3, 14, 0))
    assert not door.environment_is_made()
    monkeypatch.undo()


def test_an_environment_whose_python_has_gone_is_stale(door):
    made(door)
    door.PYTHON.unlink()
    door.PYTHON.symlink_to("gone")
    assert not door.environment_is_made()


@pytest.mark.parametrize("broken", ["venv", "pip", None])
def test_the_stamp_is_written_only_when_all_went_well(door, monkeypatch, screen, broken):
    def run(command, each_line, env=None):
        door.VENV.mkdir(exist_ok=True)
        each_line("WARNING: Failed to establish a new connection: Temporary failure in name resolution")
        return int(broken in [str(word) for word in command])

    monkeypatch.setattr(door, "run", run)
    if broken:
        with pytest.raises(door.CannotStart) as problem:
            door.make_environment(screen)
        first, *rest = str(problem.value).splitlines()
        assert first.startswith("The environment could not be set up: the network can't be reached")
        assert any("Temporary failure" in line for line in rest)
    else:
        door.make_environment(screen)
    assert door.STAMP.exists() == (broken is None)
    assert said(screen) == ["Setting up the environment (about two minutes, once) ..."]


def test_a_folder_that_is_no_environment_is_not_cleared(door, screen):
    door.VENV.mkdir()
    (door.VENV / "diary.txt").touch()
    with pytest.raises(door.CannotStart, match="move it away"):
        door.make_environment(screen)
    assert (door.VENV / "diary.txt").exists()


def test_children_inherit_nothing_that_changes_which_code_runs(door, monkeypatch):
    for name in ("PYTHONPATH", "PYTHONHOME", "PYTHONDONTWRITEBYTECODE", "PYTHONHASHSEED"):
        monkeypatch.setenv(name, "7")
    env = door.environment()
    assert not {"PYTHONHOME", "PYTHONDONTWRITEBYTECODE"} & set(env)
    assert env["PYTHONPATH"] == str(door.ROOT / "workflow")
    assert (env["PYTHONUTF8"], env["PYTHONHASHSEED"], env["MPLBACKEND"]) == ("1", "0", "Agg")
    assert env["PATH"].split(os.pathsep)[0] == str(door.PYTHON.parent)


def test_the_lock_has_hashes_and_no_address():
    text = (FRONT_DOOR.parents[1] / "requirements.lock").read_text(encoding="utf-8")
    assert "://" not in text
    pinned = [block for block in text.replace("\\\n", " ").splitlines() if block.strip()]
    assert pinned and all("==" in block and "--hash=sha256:" in block for block in pinned)


# The chain -----------------------------------------------------------------------------------------------------------

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


def reading(door, screen, text):
    steps = door.Steps(screen)
    for line in text.splitlines():
        steps.read(line)
    return steps


def test_steps_are_one_plain_line_each(door, screen):
    steps = reading(door, screen, SNAKEMAKE_SAYS)
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
def test_a_failed_step_is_named_with_its_log_and_never_a_trace(door, screen, last, shown):
    log = door.ROOT / "logs" / "report.log"
    log.parent.mkdir()
    log.write_text(f"Traceback (most recent call last):\n{last}\n\n")
    lines = (steps := reading(door, screen, SNAKEMAKE_FAILS)).explained(steps.failures)
    assert lines[:2] == ["This step failed: Writing the report", "  its log: logs/report.log"]
    assert lines[2:] == ([f"  which ends: {last}"] if shown else [])


def test_a_lock_and_nothing_to_do_are_recognised(door, screen):
    assert reading(door, screen, "LockException:\nError: Directory cannot be locked. Please make").locked
    assert reading(
        door, screen, "Nothing to be done (all requested files are present and up to date)."
    ).nothing_to_do


def fake_python(door, snakemake="exit 0", settings="exit 0", running=""):
    """An environment whose Python only answers to what the front door asks it."""
    made(
        door,
        f"""#!/bin/sh
case "$*" in
  *--unlock*) rm -f locked ;;
  *"-m snakemake"*) printf '%s\\n' "$@" > asked; {snakemake} ;;
  *settings.py*) {settings} ;;
  *"import os, psutil"*) printf '{running}' ;;
esac
""",
    )


def leave(door, *rows, name="day"):
    results = door.ROOT / "results" / name
    results.mkdir(parents=True, exist_ok=True)
    header = "severity,code,step,set,file,line,start_utc,end_utc,channel,what,remedy"
    (results / "checks.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    (results / "report.pdf").touch()
    return results


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
def test_findings_errors_first_then_the_report_last_of_all(door, screen, rows, status, lines):
    results = leave(door, *rows)
    assert door.conclude(results, screen) == status
    assert said(screen) == [*lines, "results/day/report.pdf"]


def test_cells_can_not_steer_the_terminal(door, screen):
    results = leave(door, 'error,x,,,"a\x1b[2Jb.csv",1,,,,"two\nlines",')
    door.conclude(results, screen)
    assert said(screen)[0] == "ERROR  x  a [2Jb.csv:1  two lines"


def test_a_whole_run(door, monkeypatch, capsys):
    lacking(door, monkeypatch)
    fake_python(door, "echo 'total 1'; echo 'Job 0: All done'")
    leave(door, ERROR, name="a day: #1")
    assert door.main(["report", "a day: #1", "--cores", "3"]) == 1
    out = capsys.readouterr().out.splitlines()
    assert out[0] == "[1/1] All done" and out[-1] == "results/a day: #1/report.pdf"
    asked = (door.ROOT / "asked").read_text().splitlines()
    assert asked[asked.index("--cores") + 1] == "3"
    assert asked[asked.index("--config") + 1 :] == [
        f'campaigns= {{"{door.ROOT}/results/a day: #1": "{door.ROOT}/a day: #1"}} '
    ]


def test_results_elsewhere(door, monkeypatch, capsys):
    lacking(door, monkeypatch)
    fake_python(door, "echo 'Nothing to be done (x).'")
    leave(door, name="elsewhere")
    assert door.main(["report", "day", "--results", "results/elsewhere"]) == 0
    assert capsys.readouterr().out.splitlines()[0] == "Everything is up to date."
    assert (
        f'campaigns= {{"{door.ROOT}/results/elsewhere": "{door.ROOT}/day"}} '
        in (door.ROOT / "asked").read_text().splitlines()
    )


def test_wrong_settings_are_passed_through(door, monkeypatch, capsys):
    lacking(door, monkeypatch)
    fake_python(
        door,
        "echo 'Using workflow specific profile'; echo 'campaign.yaml, line 2: x; expected y' >&2; exit 2",
    )
    assert door.main(["report", "day"]) == 2
    assert capsys.readouterr().err == "campaign.yaml, line 2: x; expected y\n"


@pytest.mark.parametrize(
    "ends, status", [("exit 0", 0), ("exit 5", 5), ("kill -TERM $$", 128 + signal.SIGTERM)]
)
def test_the_exit_status_of_the_tests_is_handed_on(door, monkeypatch, ends, status):
    lacking(door, monkeypatch)
    made(door, f"#!/bin/sh\nprintf '%s\\n' \"$@\" > asked\n{ends}\n")
    assert door.main(["test", "--cores", "2", "-x"]) == status
    asked = (door.ROOT / "asked").read_text().splitlines()
    assert asked == ["-m", "pytest", "--numprocesses", "2", "--dist", "loadfile", "-x"]


def test_what_the_snakefile_refuses_is_passed_through(door, monkeypatch, capsys):
    lacking(door, monkeypatch)
    fake_python(
        door,
        "echo 'Using workflow specific profile x.'; echo 'notes.csv: not there; expected it' >&2; exit 2",
    )
    assert door.main(["report", "day"]) == 2
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
def test_faults_of_ours_are_called_so_with_exit_1_and_no_trace(door, monkeypatch, capsys, how):
    lacking(door, monkeypatch)
    fake_python(door, **how)
    assert door.main(["report", "day"]) == 1
    err = capsys.readouterr().err
    assert "This is a fault of Headland, not of yours" in err
    assert "Traceback" not in err and "KeyError" not in err


def test_an_unforeseen_fault_keeps_its_trace_in_the_log(door, monkeypatch, capsys):
    monkeypatch.setattr(door, "prepare", lambda *a: 1 / 0)
    assert door.main(["demo"]) == 1
    assert capsys.readouterr().err.splitlines() == [door.PLEASE_REPORT]
    assert "ZeroDivisionError" in door.RUN_LOG.read_text()


LOCKED = "if [ -e locked ]; then echo 'Error: Directory cannot be locked. Please'; exit 1; fi"


def test_a_lock_that_a_killed_run_left_is_removed(door, monkeypatch, capsys):
    lacking(door, monkeypatch)
    fake_python(door, LOCKED)
    (door.ROOT / "locked").touch()
    leave(door)
    assert door.main(["report", "day"]) == 0
    assert (
        capsys.readouterr().out.splitlines()[0]
        == "An earlier run was cut off; what it left half done is done again."
    )


def test_a_lock_of_a_living_snakemake_is_left(door, monkeypatch, capsys):
    lacking(door, monkeypatch)
    fake_python(door, LOCKED, running="4711\\n")
    (door.ROOT / "locked").touch()
    assert door.main(["report", "day"]) == 2
    assert "(process 4711)" in capsys.readouterr().err
    assert (door.ROOT / "locked").exists()


def test_two_runs_on_the_same_results_do_not_meet(door, monkeypatch, capsys):
    lacking(door, monkeypatch)
    fake_python(door)
    leave(door)
    held = {}

    def first(command, screen, lock):  # while the first run is at it, a second one is started
        if not held:
            held["status"] = 0
            held["status"] = door.main(["report", "day"])
        return door.Steps(screen), 0

    monkeypatch.setattr(door, "attempt", first)
    assert door.main(["report", "day"]) == 0
    assert held["status"] == 2
    assert "Another run is writing results/day" in capsys.readouterr().err


def test_stopping_ends_the_children_and_says_one_line(tmp_path):
    """A real process, really interrupted: its child's child must not live on."""
    project = tmp_path / "a project"
    (project / "scripts").mkdir(parents=True)
    (project / "scripts" / "headland.py").write_text(FRONT_DOOR.read_text(encoding="utf-8"), encoding="utf-8")
    (project / "requirements.lock").touch()
    program = f"""
import importlib.util, os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)        # a shell that runs the tests behind itself has it ignored
spec = importlib.util.spec_from_file_location("front_door", {str(project / "scripts" / "headland.py")!r})
door = importlib.util.module_from_spec(spec)
spec.loader.exec_module(door)
door.prepare = lambda *a: ""
door.check_settings = lambda *a: None
os.makedirs(door.PYTHON.parent)
door.PYTHON.write_text("#!/bin/sh\\nsleep 60 & echo $! > sleeper; echo 'Job 0: Sleeping'; wait\\n")
door.PYTHON.chmod(0o755)
sys.exit(door.main(["demo"]))
"""
    command = [sys.executable, "-u", "-c", program]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert "Sleeping" in child.stdout.readline()
    child.send_signal(signal.SIGINT)
    _, err = child.communicate(timeout=30)
    assert child.returncode == 130
    assert err.splitlines() == ["Stopped. What was finished is kept; the same command goes on from there."]
    sleeper = int((project / "sleeper").read_text())
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


# The screen ----------------------------------------------------------------------------------------------------------


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_a_pipe_gets_lines_only(door, screen):
    with screen.under(lambda: "bar"):
        screen.line("one")
    assert screen.stream.getvalue() == "one\n"


@pytest.mark.parametrize("no_color, coloured", [("", True), ("1", False)])
def test_a_terminal_gets_a_bar_under_the_lines_and_colour_unless_told(door, monkeypatch, no_color, coloured):
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("NO_COLOR", no_color)
    screen = door.Screen(Terminal())
    with screen.under(lambda: "bar"):
        screen.line("one")
    assert screen.stream.getvalue() == "\r\x1b[Kone\n\r\x1b[Kbar  0 s\r\x1b[K"
    assert screen.painted("x", "31") == ("\x1b[31mx\x1b[0m" if coloured else "x")


# Verbs for a class ---------------------------------------------------------------------------------------------------


def test_a_script_that_is_refused_is_passed_on_and_a_fault_is_a_fault(door, screen):
    made(door, "#!/bin/sh\necho 'a.csv, line 2: x; expected y'\nexit 2\n")
    with pytest.raises(door.CannotStart, match="a.csv, line 2: x; expected y"):
        door.run_script("new.py", "--folder", "x")
    door.PYTHON.write_text("#!/bin/sh\necho boom\nexit 1\n")
    with pytest.raises(door.Fault, match="fault of Headland"):
        door.run_script("new.py", "--folder", "x")
    assert "boom" in door.RUN_LOG.read_text()
    door.PYTHON.write_text("#!/bin/sh\necho 'Made it.'; echo '  CHECK this'; printf 'odd \\033[31m\\n'\n")
    door.tell(door.run_script("new.py", "--folder", "x"), screen)
    assert said(screen) == ["Made it.", "  CHECK this", "odd [31m"]


@pytest.mark.parametrize(
    "words, wanted",
    [
        (("new",), "FOLDER"),
        (("new", "x", "--from", "y"), "--from and --groups go together"),
        (("new", "x", "--groups", "y"), "--from and --groups go together"),
        (("answers", "x"), "ANSWERS.csv"),
        (("answers", "x", "there is none.csv"), "there is none.csv: no such file"),
        (("class-notes", "x"), "NOTES"),
        (("class-notes", "x", "none.csv"), "none.csv: no such file"),
    ],
)
def test_usage_errors_of_the_verbs_for_a_class(words, wanted):
    status, out, err = call(*words)
    assert (status, out) == (2, "") and wanted in err and len(err.splitlines()) == 1


def test_a_script_gets_whole_paths(door, screen, monkeypatch):
    (door.ROOT / "a.csv").touch()
    got = []
    monkeypatch.setattr(door, "run_chain", lambda *words: 1)
    monkeypatch.setattr(door, "run_script", lambda name, *words: got.append((name, *map(str, words))) or [])
    arguments = door.command_line(["answers", "day", "a.csv", "--hide-values"])
    assert arguments.function(arguments, screen) == 1
    results = door.ROOT / "results" / "day"
    assert got == [
        (
            "answers.py",
            "--campaign",
            str(door.ROOT / "day"),
            "--results",
            str(results),
            "--out",
            str(results / "answers"),
            "--answers",
            str(door.ROOT / "a.csv"),
            "--hide-values",
            "yes",
        )
    ]
    assert said(screen)[-1].endswith("results/day/answers/teacher.html")


def test_a_season_goes_on_without_the_campaign_that_fails(door, monkeypatch, capsys):
    lacking(door, monkeypatch)
    log = leave(door, name="poor") / "steps" / "screen.log"
    log.parent.mkdir()
    log.write_text("The disk is full.\n")
    fake_python(
        door,
        f"echo 'Error in rule screen:'; echo '    jobid: 3'; echo '    log: {log} (check log file(s) for error details)'; exit 1",
        settings="echo '1 campaign.yaml, line 2: x; expected y' >&2; exit 2",
    )
    leave(door, name="good")
    assert door.main(["season", "good", "wrong", "poor"]) == 1
    out = capsys.readouterr().out
    assert "== good" in out and "Not in the table: wrong: campaign.yaml, line 2: x; expected y" in out
    assert (
        "Not in the table: poor: This step failed: screen" in out and "which ends: The disk is full." in out
    )
    asked = (door.ROOT / "asked").read_text()
    assert "--keep-going" in asked and "good" in asked and "poor" in asked and "wrong" not in asked


@pytest.mark.parametrize(
    "said_of_job, told",
    [
        (
            "figures.py ended with exit status 1; its log is {results}/failed.log\nsrun: error: vm: task 0: Exited with exit code 1\n",
            [
                "This step failed: failed",
                "  its log: results/poor/failed.log",
                "  which ends: The disk is full: make room and run the same command again.",
            ],
        ),
        (
            "figures.py ended with exit status 28, the disk being full; its log is {results}/done.log\n",
            [
                "This step failed: done",
                "  its log: results/poor/done.log",
                "  which ends: The disk is full: make room and run the same command again.",
            ],
        ),
        (
            "figures.py was ended by signal 9, perhaps for lack of memory; its log is {results}/failed.log\n",
            [
                "This step failed: failed",
                "  its log: results/poor/failed.log",
                "  which ends: The disk is full: make room and run the same command again.",
            ],
        ),
        (
            "slurmstepd-vm: error: *** JOB 1 ON vm CANCELLED AT 2026-11-28T08:04:41 ***\n",
            [
                "This step failed: done",
                "  its log: results/poor/done.log",
                "  which ends: the cluster ended its job (CANCELLED); run the same command again.",
            ],
        ),
        (
            "slurmstepd: error: *** JOB 1 ON vm CANCELLED AT 2026-11-28T08:04:41 DUE TO TIME LIMIT ***\n",
            [
                "This step failed: done",
                "  its log: results/poor/done.log",
                "  which ends: the cluster ended its job (CANCELLED DUE TO TIME LIMIT); run the same command again.",
            ],
        ),
    ],
    ids=["failed", "no room", "killed", "cancelled", "time limit"],
)
def test_on_a_cluster_a_campaign_s_failure_is_that_of_the_step_that_failed(door, screen, said_of_job, told):
    """Snakemake tells all steps of a job that failed; which of them did, the job's own log says."""
    results, of_job = (
        leave(door, name="poor"),
        door.ROOT / ".snakemake" / "slurm_logs" / "group_campaign_a_..." / "7.log",
    )
    of_job.parent.mkdir(parents=True)
    of_job.write_text(said_of_job.format(results=results))
    for number, name in enumerate(("failed", "done", "never")):
        (results / f"{name}.log").write_text(
            {
                "failed": "The disk is full: make room and run the same command again.\n",
                "done": "fine\n",
                "never": "",
            }[name]
        )
        os.utime(results / f"{name}.log", (1000 + number, 1000 + number))
    steps = door.Steps(screen)
    for line in [
        "Job 1f-2 has been submitted with SLURM jobid 7 (log: x).",
        "    message: Error in group campaign",
        f"    log: {of_job} (check log file(s) for error details)",
        "    jobs:",
        "        rule done:",
    ]:
        steps.read(line)
    for name in ("done", "failed", "never"):
        for line in [
            f"    Error in rule {name}:",
            "        message: None",
            f"        output: {results}/{name}.csv",
            f"        log: {results}/{name}.log (check log file(s) for error details)",
        ]:
            steps.read(line)
    assert said(screen) == ["A campaign was submitted with SLURM jobid 7"]
    assert steps.explained(steps.failed(results)) == told
    steps.read(
        "    message: SLURM-job '8' failed, SLURM status is: 'CANCELLED'. Detailed failure reason unavailable (status command is not 'sacct')."
    )
    for line in [
        "    Error in rule failed:",
        f"        output: {results}/failed.csv",
        f"        log: {results}/failed.log (check log file(s) for error details)",
    ]:
        steps.read(line)
    assert (
        steps.explained(steps.failures[-1:])[-1]
        == "  which ends: the cluster ended its job (CANCELLED); run the same command again."
    )


def test_what_a_cluster_needs_is_told_before_anything_starts(door, monkeypatch):
    campaigns = {door.ROOT / "results" / "day": door.ROOT / "day"}
    with pytest.raises(door.CannotStart, match="there is no config/profiles/slum"):
        door.on_cluster(campaigns, "slum")
    profile = door.ROOT / "config" / "profiles" / "slurm" / "config.yaml"
    profile.parent.mkdir(parents=True)
    profile.touch()
    fake_python(door, "exit 0")
    monkeypatch.setattr(door.shutil, "which", lambda name: None)
    with pytest.raises(door.CannotStart, match="sbatch"):
        door.on_cluster(campaigns, "slurm")
    monkeypatch.setattr(door.shutil, "which", lambda name: name)
    bin = door.ROOT / "bin"
    bin.mkdir()
    (bin / "squeue").write_text(
        f"#!/bin/sh\necho 5 other_1\necho 7 headland-{door.hashlib.sha256(door.os.fsencode(door.ROOT)).hexdigest()[:16]}_1f\n"
    )
    (bin / "squeue").chmod(0o755)
    monkeypatch.setenv("PATH", f"{bin}:{os.environ['PATH']}")
    with pytest.raises(
        door.CannotStart,
        match="still in the queue .7.; wait until they are done, or end them with `scancel 7`",
    ):
        door.on_cluster(campaigns, "slurm")
    (bin / "squeue").write_text("#!/bin/sh\n")
    assert door.on_cluster(campaigns, "slurm")[-2] == "--configfile"
    with pytest.raises(door.CannotStart, match=r"a path with \$ ' can't be used"):
        door.on_cluster({door.ROOT / "it's $x": door.ROOT / "day"}, "slurm")


def test_a_results_folder_that_can_t_be_written_is_told_in_one_line(door):
    (door.ROOT / "a file").touch()
    with pytest.raises(door.CannotStart, match="can't be written .Not a directory.: mend that"):
        door.can_write(door.ROOT / "a file" / "results")


def test_an_input_dated_in_the_future_is_told_with_the_remedy_and_results_are_dated_now(door):
    campaign, results = door.ROOT / "my day", door.ROOT / "results"
    for folder in (campaign, results):
        folder.mkdir()
        (folder / "file.csv").touch()
    door.not_dated_ahead([campaign])
    os.utime(campaign / "file.csv", (time.time() + 3600,) * 2)
    with pytest.raises(door.CannotStart, match="my day/file.csv is dated in the future") as told:
        door.not_dated_ahead([campaign])
    subprocess.run(str(told.value).split("`")[1], shell=True, check=True, cwd=door.ROOT)
    door.not_dated_ahead([campaign])
    assert door.dated_ahead(results) == []
