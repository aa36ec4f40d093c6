"""What a user gets wrong in files: plain errors and a status, never a trace."""

import runpy
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import chain

ROOT = Path(__file__).parents[2]
SETTINGS = ROOT / "scripts" / "verbs" / "settings.py"


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def settings(campaign: Path) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, str(SETTINGS), str(campaign)], text=True, capture_output=True, timeout=120
    )


@pytest.fixture()
def campaign(tmp_path) -> Path:
    return Path(shutil.copytree(ROOT / "demo_inputs", tmp_path / "campaign"))


COULD_NOT_START = {
    "a misspelt key": (
        lambda c: edit(c / "campaign.yaml", "utc_offset", "utc_ofset"),
        ["line 13", "utc_ofset", 'did you mean "utc_offset"', "utc_offset is missing"],
    ),
    "a value that is not allowed": (
        lambda c: edit(c / "campaign.yaml", "longwave: net", "longwave: nett"),
        ['"nett"', '"net"', '"corrected"'],
    ),
    "an unknown layout": (
        lambda c: edit(c / "campaign.yaml", "layout: comma-clock", "layout: coma-clock"),
        ['did you mean "comma-clock"'],
    ),
    "an unknown zone": (
        lambda c: edit(c / "campaign.yaml", "timezone: Europe/Ljubljana", "timezone: Europe/Lublana"),
        ["IANA"],
    ),
    "no loggers": (lambda c: shutil.rmtree(c / "logger"), ["no set has a file"]),
    "no notes": (lambda c: (c / "notes.csv").unlink(), ["notes.csv", "no such file"]),
    "no register": (lambda c: (c / "instruments.csv").unlink(), ["instruments.csv", "no such file"]),
    "no settings": (lambda c: (c / "campaign.yaml").unlink(), ["campaign.yaml", "no such file"]),
    "not YAML": (lambda c: (c / "campaign.yaml").write_text("title: [a\n\tb"), ["YAML"]),
    "files outside": (
        lambda c: edit(c / "campaign.yaml", "logger/curlew_*.csv", "../../curlew_*.csv"),
        ["inside the campaign folder"],
    ),
}


@pytest.mark.parametrize("name", COULD_NOT_START)
def test_could_not_start(campaign, name, capsys):
    break_it, words = COULD_NOT_START[name]
    break_it(campaign)
    assert runpy.run_path(str(SETTINGS))["main"](str(campaign)) == 2
    said, told = capsys.readouterr()
    assert said == ""
    for word in words:
        assert word in told, (word, told)


def test_all_faults_at_once(campaign):
    """As a program."""
    edit(campaign / "campaign.yaml", "utc_offset", "utc_ofset")
    edit(campaign / "campaign.yaml", "walking_speed", "walkingspeed")
    (campaign / "notes.csv").unlink()
    run = settings(campaign)
    assert run.returncode == 2 and run.stdout == "" and len(run.stderr.splitlines()) == 6, (
        run.stderr
    )  # two unknown and missing for each set, one unknown, no notes


DONE_WITH_ERRORS = {
    "a missing column in the notes": (
        lambda c: edit(c / "notes.csv", "surface,", "surfcae,"),
        "column-missing",
    ),
    "a wrong unit in the register": (
        lambda c: edit(c / "instruments.csv", "W m-2 per mV", "W m-2 per V"),
        "value-invalid",
    ),
    "an unknown surface": (lambda c: edit(c / "notes.csv", "stubble,", "stubbel,"), "notes-unknown-name"),
    "a layout that does not fit": (
        lambda c: edit(c / "campaign.yaml", "layout: semicolon-day", "layout: comma-clock"),
        "layout-mismatch",
    ),
    "an empty file": (lambda c: next((c / "logger").glob("curlew*")).write_bytes(b""), "file-empty"),
    "a set without files": (
        lambda c: [p.unlink() for p in (c / "logger").glob("curlew*")],
        "set-without-files",
    ),
}


@pytest.mark.parametrize("name", DONE_WITH_ERRORS)
def test_a_fault_is_a_finding(campaign, name):
    break_it, code = DONE_WITH_ERRORS[name]
    break_it(campaign)
    assert code in chain.run(campaign, to="segment").codes("error")


def test_a_run_with_errors_is_done_and_names_that_would_do_harm_stay_names(project, campaign, tmp_path):
    """Text from a user's file is data: in a shell, in a template, in a page, in a spreadsheet. And what is
    wrong with a file ends no step, nor the run.
    """
    nasty = "=cmd|' /C calc'!A0 <b>{surface}</b> $(touch harm) `touch harm`"
    edit(campaign / "notes.csv", ",Beet block,", f',"{nasty}",')
    edit(
        campaign / "campaign.yaml",
        "title: Meadow to farmyard, late-summer practical",
        'title: "Meadow $(touch harm) <script>alert(1)</script> {x}"',
    )
    for name in ("an unknown surface", "a set without files"):
        DONE_WITH_ERRORS[name][0](campaign)
    outcome = project.run(campaign, tmp_path / "results", whole=True, draws=512)
    assert outcome.status == 0, outcome.printed[-2000:]
    assert {"notes-unknown-name", "set-without-files"} <= set(outcome.codes("error"))
    logs = list(outcome.folder.rglob("*.log"))
    assert logs and not [log for log in logs if "Traceback" in log.read_text(encoding="utf-8")]
    assert not list(tmp_path.rglob("harm")) and not (project.folder / "harm").exists()
    page = (outcome.folder / "report.html").read_text(encoding="utf-8")
    assert "<script>alert(1)" not in page and "<b>{surface}</b>" not in page and "alert(1)" in page
    assert "'=cmd" in (outcome.folder / "fields.csv").read_text(encoding="utf-8")
