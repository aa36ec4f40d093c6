"""The log of a run: what was said behind the scenes, in a file of its own with the results.

It can be sent to somebody: it names neither the user, nor the computer, nor the user's folders.
"""

import contextlib
import os
import re
import socket
import time
from collections.abc import Iterable
from pathlib import Path

from front import places

PERSONAL = re.compile(r"(?i)\s*(host|user): ")
"""How a line of Snakemake begins that names the computer or the user."""
KEPT = 20
"""Logs of earlier runs that are kept in a folder."""
_folder: "Path | None" = None
_hidden: "dict[str, str]" = {}
_file: "Path | None" = None


def begin(folder: Path, hidden: "dict[str, str]") -> None:
    """From now on the log goes to a new file in this folder.

    Hidden: texts that it must not show, and their replacements.
    """
    global _folder, _hidden, _file
    _folder, _hidden, _file = folder, dict(hidden), None


def shown() -> str:
    """The log's path as the user would type it; empty where nothing was kept."""
    return places.short(_file) if _file else ""


def keep(lines: Iterable[str]) -> None:
    """Add lines to the log. A log that can't be written stops nothing."""
    global _file
    with contextlib.suppress(OSError, RuntimeError):
        folder = _folder or places.state() / "logs"
        folder.mkdir(parents=True, exist_ok=True)
        if _file is None or _file.parent != folder:
            _file = folder / time.strftime(f"%Y%m%d-%H%M%S-{os.getpid()}.log", time.gmtime())
            for old in sorted(folder.glob("*-*-*.log"))[:-KEPT]:
                old.unlink(missing_ok=True)
        with _file.open("a", encoding="utf-8", errors="replace") as stream:
            stream.writelines(f"{anonymous(line)}\n" for line in lines if not PERSONAL.match(line))


def anonymous(text: str) -> str:
    """Text without the names of the user, the computer and the user's folders."""
    found = {
        str(places.ROOT): "PROJECT",
        os.path.expanduser("~"): "HOME",
        **{path: word for path, word in _hidden.items()},
    }
    for path in sorted(found, key=len, reverse=True):
        if len(path) > 1:
            text = text.replace(path, found[path])
    for name, word in ((socket.gethostname(), "COMPUTER"), (os.environ.get("USER", ""), "USER")):
        if len(name) > 1:
            text = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", word, text)
    return text
