"""Pythons that do not suit, and usage."""

import ast
import os
import runpy
import subprocess
import sys

import pytest

from front import command_line, places

from .helpers import FRONT_DOOR, call

gate = runpy.run_path(str(FRONT_DOOR), run_name="gate")
unsuited = gate["unsuited"]
SHARED = FRONT_DOOR.parents[1] / "workflow" / "headland" / "report" / "pango.py"
PARTS = [FRONT_DOOR, *sorted((FRONT_DOOR.parent / "front").glob("*.py")), SHARED]


@pytest.mark.parametrize("file", PARTS, ids=lambda file: file.stem)
def test_an_old_python_can_read_the_file(file):
    ast.parse(file.read_text(encoding="utf-8"), feature_version=(3, 6))


def test_the_first_file_has_nothing_that_is_newer_than_what_it_says():
    """It holds the check of the version, so that even older Pythons have to be able to read it."""
    text = FRONT_DOOR.read_text(encoding="ascii")
    tree = ast.parse(text, feature_version=(3, 4))
    new = (ast.JoinedStr, ast.Match, ast.AnnAssign, ast.NamedExpr)
    assert not any(isinstance(part, new) for part in ast.walk(tree))
    arguments = [
        argument for part in ast.walk(tree) if isinstance(part, ast.arguments) for argument in part.args
    ]
    assert all(argument.annotation is None for argument in arguments)


def test_nothing_new_is_evaluated_before_the_version_is_looked_at():
    """Before the check are imports of old modules, constants and a function; our parts come after it."""
    *before, main = ast.parse(FRONT_DOOR.read_text(encoding="utf-8")).body
    for node in before:
        assert isinstance(node, ast.Expr | ast.Import | ast.Assign | ast.FunctionDef), ast.unparse(node)
        if isinstance(node, ast.Import):
            assert {alias.name for alias in node.names} <= {"os", "sys"}
    lines = [ast.unparse(node) for node in main.body]
    checked = next(n for n, line in enumerate(lines) if "sys.exit(2)" in line)
    ours = next(n for n, line in enumerate(lines) if "from front" in line)
    assert checked < ours


def test_the_parts_need_only_the_standard_library():
    """They run before anything is installed."""
    for file in PARTS:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module]
            else:
                continue
            assert {name.split(".")[0] for name in names} <= sys.stdlib_module_names | {"front"}, file


@pytest.mark.parametrize(
    "version, system, begins",
    [
        ((3, 6, 15), "posix", "Python 3.11 or later is needed, found 3.6."),
        ((3, 10, 0), "posix", "Python 3.11 or later is needed, found 3.10."),
        ((3, 15, 0), "posix", "Python 3.11 to 3.14 is needed, found 3.15"),
        ((3, 12, 0), "nt", "Headland runs on Linux, macOS and, on Windows, inside WSL"),
    ],
)
def test_an_unsuited_python_is_told_in_one_line_with_the_command(project, version, system, begins):
    line = unsuited(version, system)
    assert line.startswith(begins) and "\n" not in line
    commands = ["wsl --install"] if system == "nt" else ["sudo apt-get install", "brew install", "inside WSL"]
    assert all(command in line for command in commands)


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 14, 2)])
def test_a_suited_python_is_let_in(project, version):
    assert unsuited(version, "posix") == ""


@pytest.mark.parametrize(
    "words, wanted",
    [
        ((), "Say what to do: demo, report, "),
        (("reprot", "x"), "There is no verb `reprot`. Did you mean `report`?"),
        (("dmeo",), "Did you mean `demo`?"),
        (("xylophone",), "There is no verb `xylophone`. The verbs are demo, report, "),
        (("report", "x", "--result", "y"), "not understood: --result y"),
        (("demo", "--cores", "0"), "'0' is not a number of cores"),
        (("demo", "--cores", "two"), "'two' is not a number of cores"),
    ],
)
def test_usage_errors_are_one_plain_line_and_exit_2(words, wanted):
    status, out, err = call(*words)
    assert (status, out) == (2, "")
    assert wanted in err and len(err.splitlines()) == 1


def test_help_names_every_verb():
    status, out, _ = call("--help")
    assert status == 0 and all(verb in out for verb in ("demo", "report", "plan", "look", "season", "test"))


def test_words_for_pytest_are_handed_on_in_order(project):
    arguments = command_line.parse(
        ["test", "-k", "sun and not moon", "--mend", "-x", "tests/headland", "--cores", "3"]
    )
    assert arguments.rest == ["-k", "sun and not moon", "-x", "tests/headland"]
    assert (arguments.install, arguments.cores) == (True, 3)


@pytest.mark.parametrize(
    "campaign, results, wanted",
    [
        ("day", "day/results", "is inside the campaign's folder"),
        ("day", "day", "is inside the campaign's folder"),
        ("day", "link/results", "is inside the campaign's folder"),
        ("link", "day/results", "is inside the campaign's folder"),
        ("{day}", None, "a path with '{' '}' can't be used"),
        ("day", "requirements.lock", "is a file; name a folder"),
    ],
)
def test_folders_that_can_not_serve_are_told_before_anything_is_made(
    project, capsys, campaign, results, wanted
):
    (project / "link").symlink_to(project / "day")
    words = ["report", campaign] + (["--results", results] if results else [])
    assert command_line.main(words) == 2
    assert wanted in capsys.readouterr().err
    assert not (project / ".venv").exists()


@pytest.mark.parametrize("words", [["archive", "day"], ["exercises", "day"]])
@pytest.mark.parametrize("out", ["day/a.zip", "link/a.zip"])
def test_nothing_is_written_into_a_campaign_by_any_name(project, capsys, words, out):
    """`exercises --out` did, and `--results` and `--out` by a link."""
    (project / "link").symlink_to(project / "day")
    assert command_line.main([*words, "--out", out]) == 2
    assert f"--out {out} is inside the campaign's folder" in capsys.readouterr().err
    assert not (project / ".venv").exists()


@pytest.mark.parametrize(
    "words, missing",
    [
        (("report",), "CAMPAIGN"),
        (("new",), "FOLDER"),
        (("answers", "x"), "ANSWERS.csv"),
        (("class-notes", "x"), "NOTES"),
    ],
)
def test_a_missing_argument_shows_the_help_of_its_verb(words, missing):
    status, out, err = call(*words)
    assert (status, out) == (2, "")
    first, _, *shown = err.splitlines()
    assert missing in first and shown[0].startswith(f"usage: headland {words[0]}")


def test_the_version_is_that_of_the_project():
    status, out, _ = call("--version")
    assert status == 0 and out == f"Headland {places.version()}\n"


@pytest.mark.parametrize("verb", ["report", "plan", "look", "archive", "exercises"])
def test_a_mistyped_folder_leaves_nothing_behind_and_suggests_the_nearest(project, capsys, verb):
    (project / "spring").mkdir()
    before = sorted(project.rglob("*"))
    assert command_line.main([verb, "sprnig"]) == 2
    assert capsys.readouterr().err == "sprnig: no such folder. Did you mean `spring`?\n"
    assert sorted(project.rglob("*")) == before


def test_the_old_word_for_install_keeps_working():
    assert (
        command_line.parse(["demo", "--mend"]).install and command_line.parse(["demo", "--install"]).install
    )


@pytest.mark.parametrize(
    "words", [["report", "a\x1b[2Jb"], ["reprot\x1b[2J"], ["report", "day", "--results", "x\x07"]]
)
def test_names_can_not_steer_the_terminal(project, capsys, words):
    assert command_line.main(words) == 2
    err = capsys.readouterr().err
    assert err.strip() and all(line.isprintable() for line in err.splitlines())


def test_a_name_that_is_too_long_is_one_plain_line(project, capsys):
    assert command_line.main(["report", "x" * 5000]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "use shorter names" in line


def test_a_long_temporary_folder_is_not_used(project, monkeypatch):
    monkeypatch.setattr(places.tempfile, "gettempdir", lambda: "/tmp/" + "x" * 90)
    assert places.temporary() == "/tmp"


def test_a_module_of_the_user_s_takes_no_place_of_the_library_s(tmp_path):
    """PYTHONPATH is often set for other programs; a file in it may be called like a module that we need."""
    for name in ("argparse", "difflib", "front"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('taken for ours')\n")
    done = subprocess.run(
        [sys.executable, FRONT_DOOR, "--version"],
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0 and done.stdout.startswith("Headland "), done.stderr


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
def test_closed_streams_are_no_fault_of_headland(closed):
    words = ["sh", "-c", f'"$0" "$1" look nowhere {closed}', sys.executable, str(FRONT_DOOR)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=60)
    assert done.returncode == 2 and "fault of Headland" not in done.stderr + done.stdout
    assert "2>" in closed or "nowhere" in done.stderr
