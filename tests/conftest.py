"""What all tests share."""

import os
from pathlib import Path

from hypothesis import settings

# scripts are called by hand as they are in a terminal, with the package on the path
os.environ["PYTHONPATH"] = str(Path(__file__).parents[1] / "workflow")

# a loaded machine must not fail a property
settings.register_profile("headland", deadline=None)
settings.load_profile("headland")
