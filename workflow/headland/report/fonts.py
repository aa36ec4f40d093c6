"""The fonts of all pages and figures: those that matplotlib ships, so that both are the same on every
machine.
"""

from importlib.util import find_spec
from pathlib import Path


def _shipped() -> Path:
    """Where matplotlib keeps its fonts, found without loading it."""
    spec = find_spec("matplotlib")
    assert spec is not None and spec.origin is not None
    return Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"


FONT_FOLDER = _shipped()
