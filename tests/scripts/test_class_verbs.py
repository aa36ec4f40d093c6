"""Verbs for a class, and seasons."""

import pytest

from front import chain, class_verbs, command_line, libraries
from front.problems import CannotStart, Fault

from .helpers import call, fake_python, lacking, leave, log, made, said


def test_a_script_that_is_refused_is_passed_on_and_a_fault_is_a_fault(project, screen):
    made("#!/bin/sh\necho 'a.csv, line 2: x; expected y'\nexit 2\n")
    with pytest.raises(CannotStart, match="a.csv, line 2: x; expected y"):
        chain.run_script("new.py", "--folder", "x")
    libraries.python().write_text("#!/bin/sh\necho boom\nexit 1\n")
    with pytest.raises(Fault, match="fault of Headland"):
        chain.run_script("new.py", "--folder", "x")
    assert "boom" in log()
    libraries.python().write_text(
        "#!/bin/sh\necho 'Made it.'; echo '  CHECK this'; printf 'odd \\033[31m\\n'\n"
    )
    screen.lines(chain.run_script("new.py", "--folder", "x"))
    assert said(screen) == ["Made it.", "  CHECK this", "odd [31m"]


@pytest.mark.parametrize(
    "words, wanted",
    [
        (("new", "x", "--from", "y"), "--from and --groups go together"),
        (("new", "x", "--groups", "y"), "--from and --groups go together"),
        (("answers", "x", "there is none.csv"), "there is none.csv: no such file"),
        (("class-notes", "x", "none.csv"), "none.csv: no such file"),
    ],
)
def test_usage_errors_of_the_verbs_for_a_class(words, wanted):
    status, out, err = call(*words)
    assert (status, out) == (2, "") and wanted in err and len(err.splitlines()) == 1


def test_a_script_gets_whole_paths(project, screen, monkeypatch):
    (project / "a.csv").touch()
    got = []
    monkeypatch.setattr(class_verbs, "run_chain", lambda *words: 1)
    monkeypatch.setattr(chain, "run_script", lambda name, *words: got.append((name, *map(str, words))) or [])
    arguments = command_line.parse(["answers", "day", "a.csv", "--hide-values"])
    assert arguments.function(arguments, screen) == 1
    results = project / "results" / "day"
    assert got == [
        (
            "answers.py",
            "--campaign",
            str(project / "day"),
            "--results",
            str(results),
            "--out",
            str(results / "answers"),
            "--answers",
            str(project / "a.csv"),
            "--hide-values",
            "yes",
            "--attempt",
            str(arguments.attempt),
        )
    ]
    assert said(screen)[-1].endswith("results/day/answers/teacher.html")


def test_a_season_goes_on_without_the_campaign_that_fails(project, monkeypatch, capsys):
    lacking(monkeypatch)
    log = leave(name="poor") / "steps" / "screen.log"
    log.parent.mkdir()
    log.write_text("The disk is full.\n")
    fake_python(
        f"echo 'Error in rule screen:'; echo '    jobid: 3'; "
        f"echo '    log: {log} (check log file(s) for error details)'; exit 1",
        settings="echo '1 campaign.yaml, line 2: x; expected y' >&2; exit 2",
    )
    leave(name="good")
    (project / "wrong").mkdir()
    assert command_line.main(["season", "good", "wrong", "poor"]) == 1
    out = capsys.readouterr().out
    assert "== good" in out and "Not in the table: wrong: campaign.yaml, line 2: x; expected y" in out
    assert (
        "Not in the table: poor: This step failed: screen" in out and "which ends: The disk is full." in out
    )
    asked = (project / "asked").read_text()
    assert "--keep-going" in asked and "good" in asked and "poor" in asked and "wrong" not in asked
