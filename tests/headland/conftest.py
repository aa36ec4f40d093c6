"""What tests of modules share."""

import importlib.util
import sys
from pathlib import Path

import pytest

SCRIPTS = Path(__file__).parents[2] / "scripts"


@pytest.fixture(scope="session")
def as_module():
    """Loads a script as a module: in this process, so that libraries are loaded once."""

    def load(name: str):
        sys.path.insert(0, str(SCRIPTS))
        try:
            spec = importlib.util.spec_from_file_location(
                f"{name}_script", next(SCRIPTS.glob(f"*/{name}.py"))
            )
            module = importlib.util.module_from_spec(spec)
            spec.loader.exec_module(module)
        finally:
            sys.path.remove(str(SCRIPTS))
        return module

    return load
