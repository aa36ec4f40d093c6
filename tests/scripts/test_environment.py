"""What the machine lacks, and the environment."""

import importlib.util
import io
import os
import shutil
import subprocess
import sys

import pytest

from front import chain, children, command_line, findings, installers, libraries, places
from front.problems import CannotStart
from front.screen import Screen

from .helpers import FRONT_DOOR, fake_python, lacking, leave, made, made_from, said


def whole():
    return libraries.damage(libraries.folder(), [places.lock()]) == ""


@pytest.mark.parametrize("absent", ["venv", "ensurepip"])
def test_environments_need_both_modules(project, monkeypatch, absent):
    find = importlib.util.find_spec
    assert installers.can_make_environments()
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == absent else find(name))
    assert not installers.can_make_environments()


def test_a_missing_module_for_environments_is_one_line_with_three_commands_and_exit_2(
    project, monkeypatch, capsys
):
    lacking(monkeypatch, module=True)
    assert command_line.main(["demo"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    package = f"python3.{sys.version_info[1]}-venv"
    assert f"Debian/Ubuntu: sudo apt-get install {package};" in line
    assert "macOS: brew install python@3." in line
    assert f"Windows: inside WSL, sudo apt-get install {package}" in line
    assert "--install" in line


def test_the_module_is_not_asked_for_once_the_environment_is_made(project, monkeypatch):
    made()
    lacking(monkeypatch, module=True)
    libraries.prepare(Screen(io.StringIO()), may_install=False)


def test_installing_installs_what_is_missing_and_nothing_else(project, monkeypatch, screen):
    lacking(monkeypatch, module=True)
    monkeypatch.setattr(libraries, "make", lambda screen, locks: None)
    installed = []

    def install(need, screen):
        installed.append(need)
        lacking(monkeypatch)

    monkeypatch.setattr(installers, "install", install)
    libraries.prepare(screen, may_install=True)
    assert installed == [installers.VENV_MODULE]


@pytest.mark.parametrize("user, prefix", [(0, ""), (1000, "sudo ")])
def test_installing_on_debian_prints_each_command_before_it_runs(project, monkeypatch, screen, user, prefix):
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(places, "is_own", lambda: True)
    monkeypatch.setattr(os, "geteuid", lambda: user)
    monkeypatch.setattr(shutil, "which", lambda name: f"/bin/{name}" if name in ("apt-get", "sudo") else None)
    ran = []

    def run(command, **more):
        ran.append((" ".join(command), len(said(screen))))
        return 0

    monkeypatch.setattr(subprocess, "call", run)
    installers.install(installers.VENV_MODULE, screen)
    packages = " ".join(installers.VENV_MODULE.apt)
    commands = [
        f"{prefix}apt-get update",
        f"{prefix}apt-get install --yes --no-install-recommends {packages}",
    ]
    assert ran == [(commands[0], 1), (commands[1], 2)]
    assert said(screen) == [f"Running: {command}" for command in commands]


def test_installing_on_macos_uses_brew(project, monkeypatch, screen):
    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.setattr(shutil, "which", lambda name: "brew" if name == "brew" else None)
    ran = []
    monkeypatch.setattr(subprocess, "call", lambda command, **more: ran.append(command) or 0)
    installers.install(installers.VENV_MODULE, screen)
    assert ran == [["brew", "install", f"python@3.{sys.version_info[1]}"]]


def test_installing_without_an_installer_or_rights_says_so(project, monkeypatch, screen):
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(CannotStart, match="finds neither here"):
        installers.install(installers.VENV_MODULE, screen)
    monkeypatch.setattr(shutil, "which", lambda name: name if name == "apt-get" else None)
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    with pytest.raises(CannotStart, match="needs root or sudo"):
        installers.install(installers.VENV_MODULE, screen)


@pytest.mark.parametrize("is_made", [True, False])
def test_nothing_is_installed_without_consent(project, monkeypatch, capsys, is_made):
    """Where something is missing, no installer is called (the fixture lets none through)."""
    if is_made:
        fake_python()
        leave(name="demo_inputs")
    lacking(monkeypatch, module=True)
    assert command_line.main(["demo"]) == (0 if is_made else 2)
    assert "Running:" not in capsys.readouterr().out


def test_an_environment_is_stale_by_lock_python_or_interruption(project, monkeypatch):
    assert not whole()
    made()
    assert whole()
    lock = places.lock().read_text()
    places.lock().write_text(lock + "two==2\n")
    assert not whole()
    places.lock().write_text(lock)
    assert whole()
    monkeypatch.setattr(sys, "version_info", (3, 14, 0))
    assert not whole()
    monkeypatch.undo()


def test_an_environment_whose_python_has_gone_is_stale(project):
    made()
    libraries.python().unlink()
    libraries.python().symlink_to("gone")
    assert not whole()


@pytest.mark.parametrize("broken", ["venv", "pip", None])
def test_the_stamp_is_written_only_when_all_went_well(project, monkeypatch, screen, broken):
    def run(command, each_line, env=None):
        (project / ".venv.part" / "bin").mkdir(parents=True, exist_ok=True)
        (project / ".venv.part" / "bin" / "python").touch()
        each_line("WARNING: Failed to establish a new connection: Temporary failure in name resolution")
        return int(broken in [str(word) for word in command])

    monkeypatch.setattr(children, "run", run)
    monkeypatch.setattr(children, "of_pip", lambda python: {})
    if broken:
        with pytest.raises(CannotStart) as problem:
            libraries.make(screen, [places.lock()])
        first, *rest = str(problem.value).splitlines()
        assert first.startswith("The environment could not be set up: the network can't be reached")
        assert any("Temporary failure" in line for line in rest)
    else:
        libraries.make(screen, [places.lock()])
    assert made_from().exists() == (broken is None)
    assert not (project / ".venv.part").exists()
    assert said(screen) == ["Setting up the environment (about two minutes, once) ..."]


def test_a_folder_that_is_no_environment_is_not_cleared(project, screen):
    libraries.folder().mkdir()
    (libraries.folder() / "diary.txt").touch()
    with pytest.raises(CannotStart, match="move it away"):
        libraries.make(screen, [places.lock()])
    assert (libraries.folder() / "diary.txt").exists()


def test_children_inherit_nothing_that_changes_which_code_runs(project, monkeypatch):
    for name in ("PYTHONPATH", "PYTHONHOME", "PYTHONDONTWRITEBYTECODE", "PYTHONHASHSEED"):
        monkeypatch.setenv(name, "7")
    env = children.environment(libraries.python())
    assert not {"PYTHONHOME", "PYTHONDONTWRITEBYTECODE"} & set(env)
    assert env["PYTHONPATH"] == str(project / "workflow")
    assert (env["PYTHONUTF8"], env["PYTHONHASHSEED"], env["MPLBACKEND"]) == ("1", "0", "Agg")
    assert env["PATH"].split(os.pathsep)[0] == str(libraries.python().parent)


def test_the_lock_has_hashes_and_no_address():
    text = (FRONT_DOOR.parents[1] / "requirements.lock").read_text(encoding="utf-8")
    assert "://" not in text
    pinned = [block for block in text.replace("\\\n", " ").splitlines() if block.strip()]
    assert pinned and all("==" in block and "--hash=sha256:" in block for block in pinned)


@pytest.mark.parametrize("harm", ["deleted", "cut"])
def test_a_library_file_that_is_lost_is_noticed_before_use(project, harm):
    made()
    file = libraries.folder() / "lib" / "library.py"
    file.parent.mkdir()
    file.write_text("a = 1\n")
    libraries.list_files(libraries.folder())
    assert whole()
    file.write_text("") if harm == "cut" else file.unlink()
    assert libraries.damage(libraries.folder(), [places.lock()]).startswith("lib/library.py ")


def test_a_damaged_environment_is_made_again(project, monkeypatch, screen):
    made()
    (libraries.folder() / "one").touch()
    libraries.list_files(libraries.folder())
    (libraries.folder() / "one").unlink()
    monkeypatch.setattr(libraries, "filled", pretended)
    libraries.prepare(screen, may_install=False)
    assert said(screen)[0] == "The environment is damaged: one is missing."
    assert whole() and not list(project.glob(".venv.*t")) + list(project.glob(".venv.old"))


def pretended(part, locks, screen):
    """A new environment without libraries."""
    (part / "bin").mkdir(parents=True)
    (part / "bin" / "python").touch()
    (part / "pyvenv.cfg").touch()
    (part / "bin" / "tool").write_text(f"#!{part}/bin/python\n")
    return True


def test_an_environment_takes_its_place_whole_and_its_programs_find_python(project, monkeypatch, screen):
    """Whoever is killed while it is made leaves no half-made one under its name, and the next makes it."""
    (project / ".venv.part" / "left").mkdir(parents=True)
    assert not whole()
    monkeypatch.setattr(libraries, "filled", pretended)
    libraries.prepare(screen, may_install=False)
    assert whole() and not (project / ".venv.part").exists()
    assert (project / ".venv" / "bin" / "tool").read_text() == f"#!{project}/.venv/bin/python\n"


def test_a_link_to_another_environment_is_replaced_and_not_followed(project, monkeypatch, screen, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    (other / "pyvenv.cfg").touch()
    (project / ".venv").symlink_to(other)
    monkeypatch.setattr(libraries, "filled", pretended)
    libraries.prepare(screen, may_install=False)
    assert whole() and not (project / ".venv").is_symlink() and (other / "pyvenv.cfg").exists()


def test_tests_need_more_and_users_can_use_that_too(project, monkeypatch, screen):
    monkeypatch.setattr(libraries, "filled", pretended)
    libraries.prepare(screen, may_install=False)
    both = [places.lock(), places.lock_of_tests()]
    assert libraries.damage(libraries.folder(), both)
    libraries.prepare(screen, may_install=False, for_tests=True)
    assert whole() and not libraries.damage(libraries.folder(), both)


MISLEADING = ("PIP_TARGET", "PIP_USER", "SNAKEMAKE_PROFILE", "MATPLOTLIBRC", "MPLBACKEND")


def test_the_user_s_settings_of_tools_do_not_reach_them(project, monkeypatch):
    for name in MISLEADING:
        monkeypatch.setenv(name, "elsewhere")
    made("#!/bin/sh\necho \"global.index-url='http://mirror/simple'\"; echo \"install.target='elsewhere'\"\n")
    for env in (children.environment(libraries.python()), children.of_pip(libraries.python())):
        assert "elsewhere" not in [env.get(name) for name in MISLEADING]
    pip = children.of_pip(libraries.python())
    assert pip["PIP_INDEX_URL"] == "http://mirror/simple" and pip["PIP_CONFIG_FILE"] == os.devnull


def test_pango_is_installed_with_consent_and_its_lack_is_one_line_without(project, monkeypatch, screen):
    monkeypatch.setattr(installers, "has_pango", lambda: False)
    installed = []
    monkeypatch.setattr(installers, "install", lambda need, screen: installed.append(need))
    chain.pango(screen, may_install=False)
    assert installed == []
    chain.pango(screen, may_install=True)
    assert installed == [installers.pango()]
    results = leave()
    (results / "report.html").touch()
    assert findings.conclude(results, screen) == 0
    *_, line, report = said(screen)
    assert report == "results/day/report.html"
    for words in ("libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0", "brew install pango", "inside WSL"):
        assert words in line
