"""What tests of the front door share."""

import subprocess
import sys
from pathlib import Path

from front import installers, libraries, places, runlog

FRONT_DOOR = Path(__file__).resolve().parents[2] / "scripts" / "headland.py"


def said(screen):
    return screen.stream.getvalue().splitlines()


def call(*words):
    """The front door as a user calls it: exit status, standard output, standard error."""
    done = subprocess.run([sys.executable, FRONT_DOOR, *words], capture_output=True, text=True, timeout=60)
    return done.returncode, done.stdout, done.stderr


def made_from():
    return libraries.folder() / "made-from"


def made(python="#!/bin/sh\nexit 0\n"):
    """Put an environment in place whose Python is the given script."""
    libraries.python().parent.mkdir(parents=True)
    libraries.python().write_text(python)
    libraries.python().chmod(0o755)
    (libraries.folder() / "pyvenv.cfg").touch()
    made_from().write_text(libraries.stamp([places.lock(), places.lock_of_tests()]))


def lacking(monkeypatch, module=False):
    monkeypatch.setattr(installers, "can_make_environments", lambda: not module)


def fake_python(snakemake="exit 0", settings="exit 0", running=""):
    """An environment whose Python only answers to what the front door asks it."""
    made(
        f"""#!/bin/sh
case "$*" in
  *--unlock*) rm -f locked ;;
  *"-m snakemake"*) printf '%s\\n' "$@" > asked; {snakemake} ;;
  *settings.py*) {settings} ;;
  *"import os, psutil"*) printf '{running}' ;;
esac
"""
    )


def leave(*rows, name="day"):
    """A campaign folder, and the results that a run on it left."""
    (places.ROOT / name).mkdir(exist_ok=True)
    results = places.ROOT / "results" / name
    results.mkdir(parents=True, exist_ok=True)
    header = "severity,code,step,set,file,line,start_utc,end_utc,channel,what,remedy"
    (results / "checks.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    (results / "report.pdf").touch()
    return results


def log():
    """What the run's log holds."""
    return runlog._file.read_text()
