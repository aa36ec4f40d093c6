"""The import graph: every way an import is written is seen, and the memory on disk is never needed."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from headland.files import imports

ROOT = Path(__file__).parents[3]
SCRIPTS = sorted((ROOT / "scripts" / "steps").glob("*.py"))


@pytest.mark.parametrize(
    "source, module",
    [
        ("import headland.files.tables", "headland.files.tables"),
        ("import headland.files.tables as t, json", "headland.files.tables"),
        ("import json, headland.files.tables", "headland.files.tables"),
        ("from headland.files import tables", "headland.files.tables"),
        ("from headland.files import (\n    jobs,\n    tables as t,  # why\n)", "headland.files.tables"),
        ("from headland.files.tables import (\n    read_table,\n)", "headland.files.tables"),
        ("from headland import files", "headland.files"),
        ("def f():\n    from headland.files import tables", "headland.files.tables"),
        ("class A:\n    def f(self):\n        import headland.files.tables", "headland.files.tables"),
        (
            "if True:\n    try:\n        from headland.files import tables\n    except ImportError: pass",
            "headland.files.tables",
        ),
        ("from . import tables", "headland.files.tables"),
        ("from .tables import read_table", "headland.files.tables"),
        ("from .. import base", "headland.base"),
        ("from ..base import errors", "headland.base.errors"),
        ("from ..base.errors import UserError", "headland.base.errors"),
        ("import json; from headland.files import tables", "headland.files.tables"),
        ("from headland.files import \\\n    tables", "headland.files.tables"),
    ],
)
def test_every_way_to_write_an_import_is_seen(source, module):
    names = imports.imported_names(source, "headland.files")
    assert module in names
    parts = module.split(".")
    assert {".".join(parts[:count]) for count in range(1, len(parts))} <= set(names)


@pytest.mark.parametrize(
    "source", ["'import headland.files.tables'", "# from headland.files import tables", "x = 1"]
)
def test_a_text_or_remark_is_no_import(source):
    assert imports.imported_names(source, "headland.files") == []


LOADS = """
import os, runpy, sys
import jinja2, jsonschema, matplotlib.figure, numpy, openpyxl, pandas, pvlib, scipy.optimize, scipy.stats
for script in sys.argv[1:]:
    read, write = os.pipe()
    if not os.fork():
        runpy.run_path(script, run_name="a module")
        ours = [m.__file__ for n, m in sys.modules.items() if n.startswith("headland") and m.__file__]
        os.write(write, (script + "|" + "|".join(ours) + chr(10)).encode())
        os._exit(0)
    os.close(write)
    os.wait()
    sys.stdout.write(open(read, encoding="utf-8").read())
"""
"""Loads each script in a fork of a process that has the libraries, and nothing of ours, already."""


@pytest.fixture(scope="module")
def loaded():
    """The modules of ours that each script of a step loads."""
    said = subprocess.run(
        [sys.executable, "-c", LOADS, *map(str, SCRIPTS)],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": str(ROOT / "workflow")},
    ).stdout
    rows = [line.split("|") for line in said.splitlines()]
    return {Path(script): set(modules) for script, *modules in rows}


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A memory that all scripts share, as those of the rules do."""
    return tmp_path_factory.mktemp("kept") / "kept.json"


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_all_modules_that_a_step_loads_are_known(script, kept, loaded):
    """Compared with what Python really loads."""
    reached = {str(path) for path in imports.reached(script, kept)[1:]}
    assert len(loaded[script]) > 3 and loaded[script] <= reached


@pytest.fixture
def script(tmp_path):
    path = tmp_path / "a_step.py"
    path.write_text("from headland.base import words\n")
    return path


def names(paths):
    return [path.stem for path in paths]


def test_the_graph_is_remembered_by_content(tmp_path, script, monkeypatch):
    kept = tmp_path / "deep" / "kept.json"
    first = imports.reached(script, kept)
    assert "words" in names(first) and kept.is_file()
    monkeypatch.setattr(imports, "imported_names", lambda *_: pytest.fail("the grammar was read again"))
    assert imports.reached(script, kept) == first


def test_an_edited_file_is_read_again(tmp_path, script):
    kept = tmp_path / "kept.json"
    imports.reached(script, kept)
    script.write_text("def f():\n    from headland.base import errors\n")
    assert {"errors", "words"} <= set(names(imports.reached(script, kept)))  # errors imports words
    script.write_text("x = 1\n")
    assert names(imports.reached(script, kept)) == ["a_step"]


@pytest.mark.parametrize("content", ["", "[]", "{", '{"a": 1}', '{"a": [1]}', "\0"])
def test_a_damaged_memory_is_not_used(tmp_path, script, content):
    kept = tmp_path / "kept.json"
    kept.write_text(content)
    assert "words" in names(imports.reached(script, kept))


def test_a_place_that_can_t_be_written_is_no_error(tmp_path, script):
    (tmp_path / "file").write_text("")
    assert "words" in names(imports.reached(script, tmp_path / "file" / "kept.json"))
    (tmp_path / "kept.json").mkdir()
    assert "words" in names(imports.reached(script, tmp_path / "kept.json"))
