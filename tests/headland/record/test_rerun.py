"""Running an archive again: own programs where the code is equal, foreign ones only on request and with
little.
"""

import os
import subprocess
import sys

import pytest

from headland.record import rerun

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
    import io

    from headland.record import bag

    calls = []
    monkeypatch.setattr(rerun.subprocess, "call", lambda command, **_: calls.append(command))
    archive = bag.opened(io.BytesIO(packed()))
    again = rerun.by_own_programs(archive, ROOT, tmp_path, ["--cores", "1"])
    assert calls[0][1] == str(ROOT / "scripts" / "headland.py") and again == tmp_path / "again.zip"
    assert (tmp_path / "inputs" / "x" / "campaign.yaml").is_file() and not (tmp_path / "project").exists()
