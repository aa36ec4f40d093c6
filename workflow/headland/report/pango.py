"""Whether this machine can lay out a PDF: WeasyPrint needs Pango, which no Python package brings along.

The front door runs this file before anything is installed, so it imports the standard library only.
"""

import ctypes
import sys

LIBRARIES = ("pango-1.0", "pangoft2-1.0")
APT = ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0")
"""Packages of Debian and Ubuntu. The last makes the embedded fonts small; without it fontTools does."""
BREW = ("pango",)
HOW_TO_INSTALL = (
    "No PDF, because Pango is missing. Install it, then run the same command again: "
    f"Debian or Ubuntu (WSL on Windows too) `sudo apt install {' '.join(APT)}`, "
    f"macOS `brew install {' '.join(BREW)}`. Every page also prints from a browser."
)


def is_missing() -> bool:
    """Whether a library of Pango can't be loaded. Takes a millisecond, unlike loading WeasyPrint."""
    return not all(_opens(name) for name in LIBRARIES)


def _opens(name: str) -> bool:
    files = [f"lib{name}.so.0", f"lib{name}-0.dll"]
    if sys.platform == "darwin":
        folders = ("", "/opt/homebrew/lib/", "/usr/local/lib/")
        files = [f"{folder}lib{name}{ending}.dylib" for folder in folders for ending in (".0", "")]
    for file in files:
        try:
            ctypes.CDLL(file)
        except OSError:
            continue
        return True
    return False
