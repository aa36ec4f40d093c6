"""A process that stays: after each saved change the page, then the rest, as a run from nothing would make
them.
"""

import json
import os
import shutil
import subprocess
import sys

import pytest

from headland.report import following

WALK = "2025-08-20,curlew,11:56:00,"


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
    campaign, results = tmp_path / "day", tmp_path / "results"
    shutil.copytree(project.folder / "demo_inputs", campaign)
    running = Following(project, campaign, results)
    yield running, campaign, results
    running.process.kill()
    running.process.wait()


def test_a_saved_note_gives_the_page_first_and_all_as_from_nothing(project, followed, tmp_path):
    running, campaign, results = followed
    running.until("ready")
    page = (results / "report.html").read_bytes()
    notes = (campaign / "notes.csv").read_text(encoding="utf-8")
    assert WALK in notes
    (campaign / "notes.csv").write_text(notes.replace(WALK, WALK.replace("11:56:00", "11:56:30")), "utf-8")
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

    afresh = project.run(campaign, tmp_path / "afresh", whole=True)
    assert afresh.status == 0, afresh.printed
    for name in ("report.html", "surfaces.csv", "differences.csv", "checks.csv", "report.pdf"):
        assert (results / name).read_bytes() == (afresh.folder / name).read_bytes(), name
