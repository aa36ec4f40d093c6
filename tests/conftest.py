"""What all tests share."""

import os
from pathlib import Path

# scripts are called by hand as they are in a terminal, with the package on the path
os.environ["PYTHONPATH"] = str(Path(__file__).parents[1] / "workflow")
