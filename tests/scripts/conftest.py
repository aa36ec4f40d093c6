"""A project's folder for tests of the front door: an empty one, and no installer is ever called."""

import io

import pytest

from front import installers, places, runlog
from front.screen import Screen


@pytest.fixture
def project(monkeypatch, tmp_path):
    """An empty project's folder, in which the front door works."""
    folder = tmp_path / "a project"
    for each in (folder, folder / "demo_inputs", folder / "day"):
        each.mkdir()
    (folder / "requirements.lock").write_text("one==1\n")
    (folder / "requirements-dev.lock").write_text("two==2\n")
    (folder / "pyproject.toml").write_text('[project]\nversion = "0"\n')
    monkeypatch.setattr(places, "ROOT", folder)
    monkeypatch.setattr(runlog, "_folder", None)
    monkeypatch.setattr(runlog, "_file", None)
    monkeypatch.chdir(folder)
    monkeypatch.setattr("signal.signal", lambda number, handler: None)  # pytest keeps its own
    monkeypatch.setattr(
        installers.subprocess, "call", lambda command, **more: pytest.fail(f"installs: {command}")
    )
    monkeypatch.setattr(installers, "has_pango", lambda: True)
    return folder


@pytest.fixture
def screen(project):
    return Screen(io.StringIO())
