"""What all tests share."""

import os
import sys
from pathlib import Path

from hypothesis import settings

# scripts are called by hand as they are in a terminal, with the package on the path
os.environ["PYTHONPATH"] = str(Path(__file__).parents[1] / "workflow")

# as in the rules: processes that share the processors wait for each other's threads
os.environ["OPENBLAS_NUM_THREADS"] = "1"

# what is compiled is kept, also where the environment asks for none: collecting takes three times as
# long without, and every script that a test calls would compile the package again
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# a loaded machine must not fail a property
settings.register_profile("headland", deadline=None)
settings.load_profile("headland")

LONGEST_FIRST = ("whole", "study", "scripts", "simulate", "world")
"""Folders whose files take longest: processes that share the files end at the same time where these begin."""


def pytest_collection_modifyitems(items):
    places = {name: place for place, name in enumerate(LONGEST_FIRST)}
    here = Path(__file__).parent
    items.sort(key=lambda item: places.get(item.path.relative_to(here).parts[0], len(places)))
