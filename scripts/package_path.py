"""Lets a script import the package `headland`: imported for that effect, before it.

The package's folder goes in front, because this folder holds a `headland.py` of its own, the front door.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "workflow"))
