"""Programs that the front door starts: what they inherit, and how they end."""

import contextlib
import fcntl
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import IO

from front import places

KEEPER = Path(__file__).with_name("keeper.py")
NOT_INHERITED = ("PYTHON", "SNAKEMAKE", "MPL", "MATPLOTLIB", "PIP_", "SOURCE_DATE_EPOCH")
"""Variables that begin so would change which code runs or what it computes."""
OF_THE_NETWORK = (
    "CERT",
    "CLIENT_CERT",
    "DEFAULT_TIMEOUT",
    "EXTRA_INDEX_URL",
    "FIND_LINKS",
    "INDEX_URL",
    "KEYRING_PROVIDER",
    "NO_INDEX",
    "PROXY",
    "RETRIES",
    "TIMEOUT",
    "TRUSTED_HOST",
)
"""Settings of pip that say how libraries are fetched; nothing else of the user's settings reaches it."""
PATIENCE = 5.0
"""s for which a run waits for another that holds its results: one that was killed takes a moment to end."""


def environment(python: Path) -> "dict[str, str]":
    """What children inherit. python: the Python of the environment, whose programs they find first."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(NOT_INHERITED)}
    caches = places.state() / "cache"
    if not os.path.isdir(kept.get("HOME", "")):
        kept["HOME"] = str(places.base())
    if sys.platform == "darwin":  # where Homebrew keeps the libraries that WeasyPrint opens
        kept.setdefault("DYLD_FALLBACK_LIBRARY_PATH", "/opt/homebrew/lib:/usr/local/lib:/usr/lib")
    kept.setdefault("USER", "user")  # some libraries ask for a name, which the computer need not know
    return kept | {
        "PATH": f"{python.parent}{os.pathsep}{kept.get('PATH', os.defpath)}",
        "PYTHONPATH": str(places.ROOT / "workflow"),
        "PYTHONUTF8": "1",
        "PYTHONHASHSEED": "0",
        "PYTHONUNBUFFERED": "1",
        "MPLBACKEND": "Agg",
        "MPLCONFIGDIR": str(caches / "matplotlib"),
        "XDG_CACHE_HOME": str(caches),
        "TMPDIR": places.temporary(),
    }


def of_pip(python: Path) -> "dict[str, str]":
    """What pip inherits: of the user's variables and files of settings only those for the network."""
    settings: dict[str, str] = {}
    listed = subprocess.run(
        [str(python), "-m", "pip", "config", "list"],
        capture_output=True,
        text=True,
        env={name: value for name, value in os.environ.items() if not name.startswith("PYTHON")},
    )
    for line in listed.stdout.splitlines():
        key, _, value = line.partition("=")
        name = key.rpartition(".")[2].replace("-", "_").upper()
        if name in OF_THE_NETWORK:
            settings[f"PIP_{name}"] = value.strip("'\"").replace("\\n", " ").strip()
    inherited = environment(python) | settings | {"PIP_CONFIG_FILE": os.devnull}
    # fetched libraries may stay where pip keeps them for all of the user's projects
    for name in ("XDG_CACHE_HOME", "HOME"):
        inherited.pop(name, None)
        if name in os.environ:
            inherited[name] = os.environ[name]
    return inherited


def run(
    command: Sequence,
    each_line: "Callable[[str], None] | None" = None,
    *,
    env: "dict[str, str]",
    cwd: "Path | None" = None,
    pass_fds: Sequence[int] = (),
) -> int:
    """Run a command and return its exit status; when the front door ends, so does the command.

    With `each_line`, its lines (both streams) go there, and it gets a process group of its own, so that it
    and all that it started can be ended together. Without, it shares the terminal.
    """
    apart = each_line is not None
    words = [str(word) for word in command]
    reading, writing = os.pipe()
    kept = words[1] == "-m" or words[1].endswith(".py")
    if kept:
        words[1:1] = [str(KEEPER), str(reading)]
    try:
        child = subprocess.Popen(
            words,
            cwd=cwd or places.base(),
            env=env,
            pass_fds=(*pass_fds, *([reading] if kept else [])),
            start_new_session=apart,
            stdin=subprocess.DEVNULL if apart else None,
            stdout=subprocess.PIPE if apart else None,
            stderr=subprocess.STDOUT if apart else None,
            encoding="utf-8",
            errors="replace",
        )
        os.close(reading)
        try:
            if each_line is not None and child.stdout is not None:
                for line in child.stdout:
                    each_line(line.rstrip("\n"))
                child.stdout.close()
            return child.wait()
        except BaseException:
            end(child, apart)
            raise
    finally:
        os.close(writing)


def end(child: subprocess.Popen, apart: bool) -> None:
    """End a command, politely first."""
    # one that shares the terminal got its Ctrl-C there: 0 asks nothing, and gives it the time to end
    for number in (signal.SIGINT if apart else 0, signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError):
            if apart:
                os.killpg(child.pid, number)
            else:
                child.send_signal(number)
        with contextlib.suppress(subprocess.TimeoutExpired):
            child.wait(timeout=5)
            break
    if apart:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(child.pid, signal.SIGKILL)  # what the child may have left behind


def hold(file: IO, busy: Callable[[], None], patience: float = 0.0) -> None:
    """Hold a file until this process, and each child that inherits it, ends.

    Where another holds it: try again for `patience` seconds, then call `busy`, and wait if that returns.
    """
    until = time.monotonic() + patience
    while True:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except BlockingIOError:
            if time.monotonic() >= until:
                break
            time.sleep(0.1)
    busy()
    fcntl.flock(file, fcntl.LOCK_EX)
