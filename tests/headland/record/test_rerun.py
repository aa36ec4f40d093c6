"""Running an archive again: own programs where the code is equal, foreign ones only on request and with
little.
"""

import io
import os
import subprocess
import sys
from types import SimpleNamespace

import pytest

from headland.record import bag, rerun

from .made import ROOT, packed, payload


@pytest.fixture
def forged(tmp_path):
    """An archive whose own front door leaves a mark when it runs."""
    mark = tmp_path / "ran"
    code = f"import os; open({str(mark)!r}, 'w').write(repr(dict(os.environ)))\n".encode()
    path = tmp_path / "forged.zip"
    path.write_bytes(packed(payload(**{"project/scripts/headland.py": code})))
    return path, mark


def verify(path, *options, **more):
    return subprocess.run(
        [sys.executable, ROOT / "scripts/headland.py", "verify", path, *options],
        capture_output=True,
        text=True,
        timeout=120,
        env=os.environ | more,
    )


def test_foreign_programs_do_not_run_without_their_flag(forged):
    path, mark = forged
    said = verify(path, "--run")
    assert said.returncode == 2 and "It is not run" in said.stdout and not mark.exists(), said.stdout


def test_foreign_programs_run_with_a_warning_an_empty_home_and_nothing_of_the_user(forged):
    path, mark = forged
    said = verify(path, "--run", "--run-foreign-code", SECRET_TOKEN="s3cret", PIP_TARGET="/nowhere")
    assert "WARNING" in said.stdout and "prove nothing" in said.stdout and mark.exists(), said.stdout
    assert "s3cret" not in mark.read_text() and "/nowhere" not in mark.read_text()
    environment = eval(mark.read_text())  # written by the test's own program
    assert environment["HOME"] != os.environ.get("HOME") and "headland-verify-" in environment["HOME"]
    assert "The same numbers" not in said.stdout and said.returncode == 2


def test_the_environment_of_foreign_programs_has_no_network_settings_where_libraries_are_there(
    tmp_path, monkeypatch
):
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1/")
    assert "PIP_INDEX_URL" not in rerun.foreign_environment(tmp_path, brings_libraries=True)
    assert rerun.foreign_environment(tmp_path, brings_libraries=True)["PIP_NO_INDEX"] == "1"
    assert "PIP_INDEX_URL" in rerun.foreign_environment(tmp_path, brings_libraries=False)


def test_own_programs_run_where_the_code_is_equal(tmp_path, monkeypatch):
    """The command names the checker's front door; nothing of the archive's project is unpacked."""
    calls = []
    monkeypatch.setattr(rerun.subprocess, "call", lambda command, **_: calls.append(command))
    archive = bag.opened(io.BytesIO(packed()))
    again = rerun.by_own_programs(archive, ROOT, tmp_path, ["--cores", "1"])
    assert calls[0][1] == str(ROOT / "scripts" / "headland.py") and again == tmp_path / "again.zip"
    assert (tmp_path / "inputs" / "x" / "campaign.yaml").is_file() and not (tmp_path / "project").exists()


@pytest.fixture
def asked(monkeypatch):
    """What would have been run, and with what; nothing is."""
    calls = []
    monkeypatch.setattr(rerun.subprocess, "call", lambda command, **more: calls.append((command, more)))
    return calls


@pytest.mark.parametrize("case", [(True, True, True), (True, False, False), (False, True, False)])
def test_foreign_programs_get_their_own_files_and_no_network_where_that_can_be(
    tmp_path, monkeypatch, capsys, asked, case
):
    """The archive brings its libraries, the system gives a namespace: only then it has no network."""
    brings, gives, alone = case
    monkeypatch.setattr(rerun, "can_run_without_network", lambda: gives)
    wheels = {"wheels/one.whl": b"w"} if brings else {}
    archive = bag.opened(io.BytesIO(packed(payload(**{"project/scripts/headland.py": b"1\n"}, **wheels))))
    again = rerun.by_foreign_programs(archive, tmp_path, ["--cores", "1"])
    ((command, more),) = asked
    start = len(rerun.WITHOUT_NETWORK) if alone else 0
    assert command[:start] == list(rerun.WITHOUT_NETWORK[:start])
    assert command[start:] == [
        sys.executable,
        str(tmp_path / "project" / "scripts" / "headland.py"),
        "archive",
        str(tmp_path / "inputs" / "x"),
        "--results",
        str(tmp_path / "results"),
        "--out",
        str(again),
        "--cores",
        "1",
    ]
    assert more["cwd"] == tmp_path and more["stdin"] == subprocess.DEVNULL
    assert more["env"]["HOME"] == str(tmp_path / "home") and ("PIP_NO_INDEX" in more["env"]) == brings
    there = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()}
    assert {"project/scripts/headland.py", "inputs/x/campaign.yaml"} <= there
    assert ("wheels/one.whl" in there) == brings
    assert (tmp_path / "home").is_dir() and not any((tmp_path / "home").iterdir())
    assert ("without a network" in capsys.readouterr().out) == alone


@pytest.mark.parametrize(
    "there, ends, can",
    [
        ("/usr/bin/unshare", SimpleNamespace(returncode=0), True),
        ("/usr/bin/unshare", SimpleNamespace(returncode=1), False),
        ("/usr/bin/unshare", OSError(), False),
        ("/usr/bin/unshare", subprocess.TimeoutExpired("unshare", 10), False),
        (None, SimpleNamespace(returncode=0), False),
    ],
)
def test_a_network_is_taken_away_only_where_the_system_can(monkeypatch, there, ends, can):
    def run(command, **more):
        assert command == [*rerun.WITHOUT_NETWORK, "true"]
        assert more["capture_output"] and more["stdin"] == subprocess.DEVNULL and more["timeout"] <= 10
        if isinstance(ends, Exception):
            raise ends
        return ends

    monkeypatch.setattr(rerun.shutil, "which", lambda name: there)
    monkeypatch.setattr(rerun.subprocess, "run", run)
    assert rerun.can_run_without_network() == can


@pytest.mark.parametrize(
    "more, name",
    [({}, "x"), ({"inputs/y/campaign.yaml": b"title: y\n"}, ""), ({"inputs/note.txt": b"read me\n"}, "x")],
)
def test_one_folder_of_inputs_is_the_campaign(more, name):
    assert rerun.campaign_name(bag.opened(io.BytesIO(packed(payload(**more))))) == name


@pytest.mark.parametrize(
    "settings, title",
    [
        ({"campaign": {"title": "A day"}}, "A day"),
        ({"campaign": {}}, ""),
        ({"campaign": ["A day"]}, ""),
        ({}, ""),
    ],
)
def test_the_title_is_read_from_settings_of_any_shape(settings, title):
    assert rerun.title(settings) == title
