"""One installation for many users, and results that belong to one campaign."""

import json
import os

import pytest

from front import chain, command_line, libraries, ownership, places, runlog
from front.problems import CannotStart

from .helpers import call, fake_python, leave, made


@pytest.fixture
def shared(project, monkeypatch, tmp_path):
    """A project's folder that belongs to somebody else; the user's cache."""
    monkeypatch.setattr(places, "is_own", lambda: False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    return project


def names(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def test_a_shared_installation_is_only_read(shared, monkeypatch, capsys, tmp_path):
    monkeypatch.setattr(libraries, "folder", lambda: tmp_path / "environment")
    fake_python("ls config > /dev/null && touch touched")
    (shared / "config").mkdir()
    campaign = tmp_path / "work" / "day"
    campaign.mkdir()
    before = names(shared)
    monkeypatch.setattr(chain, "not_dated_ahead", lambda folders: None)
    results = tmp_path / "work" / "results" / "day"
    results.mkdir(parents=True)
    (results / "checks.csv").write_text("severity,code\n")
    (results / "report.pdf").touch()
    assert command_line.main(["report", "day"]) == 0, capsys.readouterr().err
    assert names(shared) == before
    assert places.base().is_relative_to(tmp_path / "cache") and (places.base() / "touched").exists()
    assert names(campaign) == []
    assert {"campaign.json", "lock"} == set(os.listdir(results / ".headland"))


def test_an_environment_that_others_made_is_used_and_a_damaged_one_is_made_in_the_cache(shared, tmp_path):
    monkeypatched = places.is_own
    places.is_own = lambda: True
    made()
    places.is_own = monkeypatched
    assert libraries.folder() == shared / ".venv"
    (shared / ".venv" / "made-from").write_text("of another state")
    assert libraries.folder().is_relative_to(tmp_path / "cache")


@pytest.mark.parametrize("verb", ["report", "look", "plan"])
def test_results_of_another_campaign_are_refused_and_not_overwritten(project, capsys, verb):
    fake_python()
    results = leave()
    (project / "day" / "notes.csv").write_text("ours\n")
    assert command_line.main(["report", "day"]) == 0
    before = {path: path.read_bytes() for path in results.rglob("*") if path.is_file()}
    other = project / "elsewhere" / "day"
    other.mkdir(parents=True)
    (other / "notes.csv").write_text("theirs, and longer\n")
    capsys.readouterr()
    assert command_line.main([verb, str(other)]) == 2
    err = capsys.readouterr().err
    assert "holds the results of another campaign folder; name another folder with --results" in err
    assert {path: path.read_bytes() for path in before} == before
    assert command_line.main(["report", str(other), "--results", "results/theirs"]) == 1  # a run took place
    assert command_line.main(["report", "day"]) == 0


def test_a_campaign_that_was_moved_goes_on_with_its_results(project):
    results = project / "results"
    ownership.folder(results).mkdir(parents=True)
    (project / "day" / "notes.csv").write_text("ours\n")
    ownership.claim(results, project / "day")
    (project / "day").rename(project / "moved")
    ownership.claim(results, project / "moved")
    (project / "moved" / "notes.csv").write_text("edited since\n")
    ownership.claim(results, project / "moved")
    (project / "moved").rename(project / "again")
    (project / "again" / "notes.csv").write_text("moved and edited at once\n")
    with pytest.raises(CannotStart, match="delete results/.headland/campaign.json"):
        ownership.claim(results, project / "again")


def test_the_record_of_a_campaign_names_no_path(project):
    results = project / "results"
    ownership.folder(results).mkdir(parents=True)
    ownership.claim(results, project / "day")
    text = (results / ".headland" / "campaign.json").read_text()
    assert str(project) not in text and "day" not in json.loads(text).values()


def test_results_that_another_s_memory_made_are_made_anew(project, monkeypatch):
    """Snakemake here does not know from which settings they were made."""
    fake_python()
    leave()
    assert command_line.main(["report", "day"]) == 0
    assert "--forceall" not in (project / "asked").read_text().splitlines()
    (places.state() / "memory").write_text("another")
    assert command_line.main(["report", "day"]) == 0
    assert "--forceall" in (project / "asked").read_text().splitlines()
    assert command_line.main(["report", "day"]) == 0
    assert "--forceall" not in (project / "asked").read_text().splitlines()


def test_each_run_has_a_log_that_names_neither_user_nor_place(project, monkeypatch):
    monkeypatch.setenv("USER", "somebody")
    monkeypatch.setattr("socket.gethostname", lambda: "workbench")
    said = f"{project}/day/notes.csv of somebody on workbench in {os.path.expanduser('~')}/x"
    fake_python(f"echo 'host: workbench'; echo '  User: nobody'; echo '{said}'")
    results = leave()
    for _ in range(2):
        assert command_line.main(["report", "day"]) == 0
        monkeypatch.setattr(runlog, "_file", None)
    logs = sorted((results / "logs").glob("*.log"))
    assert logs
    for log in logs:
        text = log.read_text()
        assert "notes.csv of USER on COMPUTER" in text
        assert not any(
            name in text
            for name in (str(project), "somebody", "nobody", "workbench", os.path.expanduser("~"))
        )


def test_logs_do_not_pile_up(project):
    folder = project / "logs"
    folder.mkdir()
    for number in range(50):
        (folder / f"20260101-0000{number:02}-1.log").touch()
    runlog.begin(folder, {})
    runlog.keep(["one"])
    assert len(list(folder.glob("*.log"))) <= runlog.KEPT + 1


def test_help_and_version_need_no_home_and_no_name(monkeypatch):
    monkeypatch.setattr(os, "environ", {"PATH": os.defpath})
    assert call("--version")[0] == 0
