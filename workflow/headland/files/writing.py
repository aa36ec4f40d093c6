"""Writing files whole: a run that is killed leaves no half-written file under a name that people open."""

from __future__ import annotations

import contextlib
import glob
import json
import os
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def whole(path: Path) -> Iterator[Path]:
    """A path beside `path` to write to; when the block ends well, the file is renamed to `path`.

    What an earlier writer of this name left half-written is removed.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    for left in path.parent.glob(f".{glob.escape(path.name)}.*.part"):
        left.unlink(missing_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield part
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write text as UTF-8, with its line ends as they are."""
    with whole(path) as part:
        part.write_text(text, encoding="utf-8", newline="")


def write_json(path: Path, value: object) -> None:
    """Write a value as JSON that people can read."""
    write_text(path, json.dumps(value, ensure_ascii=False, indent=2) + "\n")
