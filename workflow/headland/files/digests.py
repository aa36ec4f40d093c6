"""SHA-256 digests of files and of contents in memory. Standard library only."""

from __future__ import annotations

import hashlib
from pathlib import Path


def digest(path: Path) -> str:
    """SHA-256 of a file's content, in hexadecimal."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def digest_of(content: bytes) -> str:
    """SHA-256 of a content in memory, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()
