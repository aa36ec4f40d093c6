"""A process that stays: after each saved change the page, then the rest, with the bytes that a run from
nothing gives them.
"""

import json
import os
import shutil
import subprocess
import sys

import pytest

from headland.report import following

from .conftest import digests

WALK = "2025-08-20,curlew,11:56:00,"
ONLY_AFTER_AN_EDIT = {
    "changes.csv",
    "changes.html",
    "steps/9_report/changes.log",
    "follow.html",
    "follow.js",
}
"""Files that say what an edit changed, or that only the process that stays writes."""


class Following:
    """The process, and what it says."""

    def __init__(self, project, campaign, results):
        named = json.dumps({str(results): str(campaign)})
        profile = project.folder / "config" / "profiles" / "laptop"
        words = ["--snakefile", project.folder / "Snakefile", "--workflow-profile", profile]
        words += ["--cores", "2", "--config", f"campaigns= {named} "]
        script = project.folder / "scripts" / "verbs" / "follow.py"
        start = [sys.executable, script, "--campaign", campaign, "--results", results, "--", *words]
        kept = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
        self.lines: list[str] = []
        self.process = subprocess.Popen(
            [str(word) for word in start],
            cwd=project.folder,
            env=kept | {"PYTHONPATH": str(project.folder / "workflow"), "PYTHONHASHSEED": "0"},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def until(self, what: str) -> str:
        """Read up to a mark; its status."""
        for line in self.process.stdout:
            self.lines.append(line)
            if line.startswith(f"FOLLOW {what}"):
                return line.split()[2] if len(line.split()) > 2 else ""
        raise AssertionError("".join(self.lines[-20:]))


@pytest.fixture
def followed(project, tmp_path):
    """A follower of the demo with one note that is wrong by 30 s."""
    campaign, results = tmp_path / "demo_inputs", tmp_path / "other place" / "demo"
    shutil.copytree(project.folder / "demo_inputs", campaign)
    notes = (campaign / "notes.csv").read_text(encoding="utf-8")
    assert WALK in notes
    (campaign / "notes.csv").write_text(notes.replace(WALK, WALK.replace("11:56:00", "11:56:30")), "utf-8")
    running = Following(project, campaign, results)
    yield running, campaign, results
    running.process.kill()
    running.process.wait()


def test_a_saved_note_gives_the_page_first_and_all_as_from_nothing(project, demo_run, followed):
    """Corrected and saved, the note gives the demo, and every file of it has the bytes that another run gave
    it from nothing, in another place and with other hashes of words.
    """
    running, campaign, results = followed
    running.until("ready")
    page = (results / "report.html").read_bytes()
    shutil.copy(project.folder / "demo_inputs" / "notes.csv", campaign)
    assert running.until("page") == "0"
    new = (results / "report.html").read_text(encoding="utf-8")
    mark = following.mark_of(new)
    assert new.encode("utf-8") != page
    assert (results / "follow.html").read_text("utf-8") == following.reloading(new, mark)
    assert (results / "follow.js").read_text("utf-8") == following.mark_file(mark)
    assert running.until("rest") == "0"

    settings = (campaign / "campaign.yaml").read_text(encoding="utf-8")
    (campaign / "campaign.yaml").write_text(settings.replace("latitude: 45.93", "latitude: x"), "utf-8")
    assert running.until("page") == "2"
    assert any("site.latitude" in line and "x" in line for line in running.lines[-10:])
    (campaign / "campaign.yaml").write_text(settings, "utf-8")
    assert running.until("rest") == "0"

    assert demo_run.status == 0, demo_run.printed[-3000:]
    followed_to, afresh = digests(results), digests(demo_run.folder)
    assert not ONLY_AFTER_AN_EDIT - set(followed_to)
    differing = {name for name in followed_to | afresh if followed_to.get(name) != afresh.get(name)}
    assert differing == ONLY_AFTER_AN_EDIT
