"""docs/updating.md, done: a course's settings outlive a newer version."""

import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def git(folder, *words):
    done = subprocess.run(
        [
            "git",
            "-c",
            "user.name=course",
            "-c",
            "user.email=course@localhost",
            "-c",
            "commit.gpgsign=false",
            *words,
        ],
        cwd=folder,
        capture_output=True,
        text=True,
    )
    return done.returncode, done.stdout + done.stderr


@pytest.fixture
def course(tmp_path):
    """The project's folder with a history, and a course's clone of it with settings of its own."""
    if not shutil.which("git"):
        pytest.skip("git is not here")
    origin = tmp_path / "origin"
    shutil.copytree(ROOT / "config", origin / "config")
    git(origin, "init", "--initial-branch", "main")
    git(origin, "add", ".")
    git(origin, "commit", "--message", "one")
    git(tmp_path, "clone", str(origin), "course")
    clone = tmp_path / "course"
    git(clone, "switch", "--create", "course")
    shutil.copy(clone / "config/layouts/comma-clock.yaml", clone / "config/layouts/our-logger.yaml")
    edit(clone / "config/config.yaml", "draws: 16384", "draws: 65536")
    edit(clone / "config/quality.csv", "sw_in-rare,sw_in,-2,", "sw_in-rare,sw_in,-3,")
    git(clone, "add", ".")
    assert git(clone, "commit", "--message", "ours")[0] == 0
    return origin, clone


def edit(path, old, new):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def update(origin, clone, old, new):
    edit(origin / "config/quality.csv", old, new)
    git(origin, "commit", "--all", "--message", "two")
    git(clone, "fetch", "origin")
    return git(clone, "merge", "origin/main")


def test_a_newer_version_is_taken_and_no_setting_lost(course):
    origin, clone = course
    status, said = update(
        origin, clone, "\nlow-head,", "\nnew-flag,,,,,,true,definition,definition,a new one\nlow-head,"
    )
    assert status == 0, said
    quality = (clone / "config/quality.csv").read_text(encoding="utf-8")
    assert "\nnew-flag," in quality and "sw_in-rare,sw_in,-3," in quality
    assert (
        "draws: 65536" in (clone / "config/config.yaml").read_text(encoding="utf-8")
        and (clone / "config/layouts/our-logger.yaml").is_file()
    )


def test_a_row_that_both_changed_is_named_and_not_lost(course):
    origin, clone = course
    status, said = update(origin, clone, "sw_in-rare,sw_in,-2,", "sw_in-rare,sw_in,-4,")
    assert status and "config/quality.csv" in said
    text = (clone / "config/quality.csv").read_text(encoding="utf-8")
    assert "sw_in,-3," in text and "sw_in,-4," in text
    git(clone, "merge", "--abort")
    assert "sw_in,-3," in (clone / "config/quality.csv").read_text(encoding="utf-8")
