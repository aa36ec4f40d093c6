"""Faults of the machine: each in its own plain line with a remedy, never as a fault of Headland."""

import errno
import os
import signal
import subprocess
import sys
import time

import psutil
import pytest

from front import chain, children, command_line, libraries, places, problems

from .helpers import fake_python, lacking, leave, made

WORDS = {
    "disk": "The disk is full",
    "memory": "The memory is full",
    "many": "no more processes or open files",
    "locks": "The file system keeps no locks",
    "read-only": "is read-only",
    "drive": "does not answer",
    "long": "longer than this computer allows",
    "permission": "You may not read or write",
}


@pytest.mark.parametrize(
    "said, kind",
    [
        ("OSError: [Errno 28] No space left on device: '.snakemake/metadata/x'", "disk"),
        ("OSError: [Errno 122] Disk quota exceeded", "disk"),
        ("JobFailed: figures.py ended with exit status 28, the disk being full; its log is x", "disk"),
        ("MemoryError", "memory"),
        ("numpy._core._exceptions._ArrayMemoryError: Unable to allocate 3.1 GiB for an array", "memory"),
        ("JobFailed: propagate.py was ended by signal 9, perhaps for lack of memory; its log is x", "memory"),
        ("OSError: [Errno 12] Cannot allocate memory", "memory"),
        ("ImportError: libblas.so: failed to map segment from shared object", "memory"),
        ("BlockingIOError: [Errno 11] Resource temporarily unavailable", "many"),
        ("RuntimeError: can't start new thread", "many"),
        ("OSError: [Errno 24] Too many open files", "many"),
        ("OSError: [Errno 37] No locks available", "locks"),
        ("OSError: [Errno 30] Read-only file system: 'x'", "read-only"),
        ("OSError: [Errno 116] Stale file handle", "drive"),
        ("OSError: AF_UNIX path too long", "long"),
        ("PermissionError: [Errno 13] Permission denied: 'x'", "permission"),
    ],
)
def test_what_snakemake_meets_is_told_in_one_plain_line(project, monkeypatch, capsys, said, kind):
    lacking(monkeypatch)
    (project / "said").write_text(said + "\n")
    fake_python("cat said; exit 1")
    leave()
    assert command_line.main(["report", "day"]) == 1
    err = capsys.readouterr().err
    assert WORDS[kind] in err and err.rstrip().endswith("run the same command again.")
    assert "fault of Headland" not in err and "Errno" not in err


@pytest.mark.parametrize("said", ["MemoryError", "OSError: [Errno 28] No space left on device"])
def test_what_a_step_meets_is_told_after_its_name(project, monkeypatch, capsys, said):
    lacking(monkeypatch)
    results = leave()
    (results / "x.log").write_text(f"Traceback (most recent call last):\n{said}\n")
    fake_python("echo 'Error in rule screen:'; echo '    log: results/day/x.log'; exit 1")
    assert command_line.main(["report", "day"]) == 1
    step, log, why = capsys.readouterr().err.splitlines()
    assert (step, log) == ("This step failed: screen", "  its log: results/day/x.log")
    assert why.startswith("  which ends: The ") and "is full" in why


@pytest.mark.parametrize(
    "number, kind",
    [
        (errno.ENOSPC, "disk"),
        (errno.EDQUOT, "disk"),
        (errno.ENOMEM, "memory"),
        (errno.ENOLCK, "locks"),
        (errno.EROFS, "read-only"),
        (errno.EMFILE, "many"),
        (errno.ENAMETOOLONG, "long"),
        (errno.EPERM, "permission"),
    ],
)
def test_what_the_front_door_itself_meets(project, monkeypatch, capsys, number, kind):
    def fails(*words, **more):
        raise OSError(number, os.strerror(number))

    fake_python()
    monkeypatch.setattr(children.fcntl, "flock", fails)
    leave()
    assert command_line.main(["report", "day"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert WORDS[kind] in line


def test_a_user_without_a_home_is_told_what_to_do(project, monkeypatch, capsys):
    def no_home():
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(places, "is_own", lambda: False)
    monkeypatch.setattr(places.Path, "home", no_home)
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    assert command_line.main(["demo"]) == 2
    assert "set HOME to a folder that you can write" in capsys.readouterr().err


def test_a_log_that_can_not_be_written_stops_nothing(project, monkeypatch, capsys):
    (project / "results" / "day").mkdir(parents=True)
    (project / "results" / "day" / "logs").touch()
    fake_python()
    leave()
    assert command_line.main(["report", "day"]) == 0


def test_no_temporary_folder_is_taken_from_where_the_user_is(project, monkeypatch):
    monkeypatch.setattr(places.tempfile, "gettempdir", lambda: os.getcwd())
    monkeypatch.delenv("TMPDIR", raising=False)
    assert places.temporary() == str(places.state() / "tmp")


SLEEPER = """
import os, sys, time
open(sys.argv[1], "w").write(f"{os.getpid()} {os.getpgrp()}")
print("begun", flush=True)
time.sleep(60)
"""


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("whom", ["process", "group"])
def test_a_run_ends_with_its_front_door(tmp_path, how, whom):
    """However the front door ends, its child and the child's child end, so that the next run can go on."""
    script = tmp_path / "sleeper.py"
    script.write_text(SLEEPER)
    program = f"""
import signal, sys
sys.path.insert(0, {str(children.KEEPER.parents[1])!r})
from front import children
command = [sys.executable, {str(script)!r}, {str(tmp_path / "pid")!r}]
children.run(command, print, env={{}}, cwd={str(tmp_path)!r})
"""
    door = subprocess.Popen(
        [sys.executable, "-u", "-c", program], stdout=subprocess.PIPE, start_new_session=True
    )
    assert door.stdout.readline() == b"begun\n"
    child, group = map(int, (tmp_path / "pid").read_text().split())
    assert child == group != door.pid
    if whom == "group":
        os.killpg(door.pid, how)
    else:
        door.send_signal(how)
    door.wait(timeout=10)
    assert gone(child)


def gone(process):
    """Whether a process ends within some seconds (a zombie, which waits for its parent, has ended)."""
    for _ in range(50):
        try:
            if psutil.Process(process).status() == psutil.STATUS_ZOMBIE:
                return True
        except psutil.NoSuchProcess:
            return True
        time.sleep(0.1)
    return False


def test_a_run_that_is_just_ending_is_waited_for(project):
    """One that was killed may hold its results for a moment."""
    lock = project / "lock"
    holder = subprocess.Popen(
        [sys.executable, "-c", "import fcntl, sys, time; f = open(sys.argv[1], 'w'); "
         "fcntl.flock(f, fcntl.LOCK_EX); print('held', flush=True); time.sleep(0.5)", lock],
        stdout=subprocess.PIPE,
    )  # fmt: skip
    assert holder.stdout.readline() == b"held\n"
    with lock.open("a") as file:
        children.hold(file, lambda: pytest.fail("not waited for"), children.PATIENCE)
    holder.wait()


def test_every_sentence_for_a_fault_of_the_machine_says_what_to_do():
    for _, sentence in problems.MACHINE_FAULTS:
        assert sentence.endswith("run the same command again.") and len(sentence.split()) <= 35


def test_memory_is_what_the_computer_has():
    assert 100 < chain.memory_mb() < 100_000_000 and libraries.BUILD_TOOLS


@pytest.mark.parametrize(
    "said, told",
    [
        ("PermissionError: [Errno 13] Permission denied: '/a b/it\\'s'", "You may not read or write /a b/it"),
        (
            "PermissionError: [Errno 13] Permission denied: '/a/b' -> '/a/c'",
            "You may not read or write /a/b:",
        ),
        ("OSError: [Errno 30] Read-only file system: '/media/card'", "/media/card is read-only: correct"),
        ("OSError: [Errno 30] Read-only file system", "A folder that has to be written is read-only"),
        ("Permission denied", "You may not read or write a file or folder that this needs: check"),
    ],
)
def test_the_file_or_folder_is_named_where_the_system_names_it(said, told):
    line = problems.of_machine(["Traceback (most recent call last):", said])
    assert line.startswith(told) and line.endswith(problems.AGAIN)
    assert "{" not in line and "\\\\n" not in line


def test_an_exception_names_its_file():
    told = problems.of_system(PermissionError(errno.EACCES, "Permission denied", "/shared/day"))
    assert told.startswith("You may not read or write /shared/day:")


def test_a_new_folder_where_none_may_be_made_is_named(project, capsys):
    """`new` said that a file or folder could not be read, and not which."""
    made("#!/bin/sh\necho \"PermissionError: [Errno 13] Permission denied: '/shared/day'\"; exit 1\n")
    assert command_line.main(["new", "/shared/day"]) == 2
    assert "You may not read or write /shared/day: check who owns it" in capsys.readouterr().err


@pytest.mark.parametrize("verb", ["new", "look", "report"])
def test_a_script_that_the_system_ended_is_no_fault_of_headland(project, capsys, verb):
    """By a limit of processor time, or for lack of memory."""
    made("#!/bin/sh\nkill -KILL $$\n")
    leave()
    assert command_line.main([verb, "next" if verb == "new" else "day"]) == 1
    err = capsys.readouterr().err
    assert "was ended from outside, or the memory was full" in err and "fault of Headland" not in err
