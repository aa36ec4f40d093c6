"""Whether this machine can lay out a PDF:

WeasyPrint needs the library Pango, which no Python package brings along.
"""

from __future__ import annotations

import ctypes
import sys

NAMES = ("libpango-1.0.so.0", "libpango-1.0.dylib", "pango-1.0", "libpango-1.0-0.dll")
HOW_TO_INSTALL = (
    "No PDF, because Pango is missing. Install it, then run the same command again: "
    "Debian or Ubuntu (WSL on Windows too) `sudo apt install libpango-1.0-0 libpangoft2-1.0-0`, "
    "macOS `brew install pango`. Every page also prints from a browser."
)


def is_missing() -> bool:
    """Whether Pango can't be loaded. Takes a millisecond, unlike loading WeasyPrint."""
    folders = ("", "/opt/homebrew/lib/", "/usr/local/lib/") if sys.platform == "darwin" else ("",)
    for name in (folder + name for folder in folders for name in NAMES):
        try:
            ctypes.CDLL(name)
        except OSError:
            continue
        return False
    return True
