"""What is edited reruns what depends on it, and nothing else."""

import os
import shutil
import time

import pandas as pd
import pytest

from .conftest import Project


@pytest.fixture()
def edited(project, tmp_path):
    """A copy of the demo that has been run once, to edit."""
    campaign = shutil.copytree(project.folder / "demo_inputs", tmp_path / "campaign")
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "report.html").touch()  # only whole runs are compared
    first = project.run(campaign, tmp_path / "results")
    assert first.status == 0, first.printed[-2000:]
    return campaign, tmp_path / "results"


AFTER_NOTES = {
    "segment",
    "samples_of_set",
    "summarise",
    "balance",
    "propagate",
    "diagnose",
    "checks",
    "datapackage",
}


def test_reruns(project, edited):
    """What is edited reruns what depends on it and nothing else; what is only touched reruns nothing."""
    campaign, results = edited
    time.sleep(1.1)
    for path in campaign.rglob("*"):
        os.utime(path)
    assert project.run(campaign, results).jobs() == set()
    notes = campaign / "notes.csv"
    lines = notes.read_text(encoding="utf-8").splitlines(keepends=True)
    row = next(i for i, line in enumerate(lines) if ",walk," in line)
    lines[row] = lines[row].replace(",short_grass,", ",stubble,")
    notes.write_text("".join(lines), encoding="utf-8")
    (results / "report.html").touch()  # as a whole run leaves it
    rerun = project.run(campaign, results)
    assert rerun.status == 0 and rerun.jobs() == AFTER_NOTES
    told = pd.read_csv(results / "changes.csv", keep_default_na=False)
    own = told[told["quantity"] != "net_radiation_common_sky"]
    named = {kind: set(own.loc[own["kind"] == kind, "item"]) for kind in ("segment", "surface")}
    assert told.loc[told["kind"] == "note", ["item", "quantity", "before", "after"]].values.tolist() == [
        [f"line {row + 1}", "surface", "short_grass", "stubble"]
    ]
    assert named["segment"] == {"curlew-0820-0956"} and named["surface"] == {"short_grass", "stubble"}
    assert set(told.loc[told["kind"] == "segment", "cause"]) == {f"notes, line {row + 1}"}
    settings = campaign / "campaign.yaml"
    settings.write_text(
        settings.read_text(encoding="utf-8").replace('shift: "00:00:00"', 'shift: "00:00:01"'),
        encoding="utf-8",
    )
    assert project.run(campaign, results).jobs() == AFTER_NOTES
    register = campaign / "instruments.csv"
    register.write_text(register.read_text(encoding="utf-8").replace("66.89", "66.90"), encoding="utf-8")
    assert project.run(campaign, results).jobs() == AFTER_NOTES | {"calibrate", "correct_longwave", "screen"}


def test_an_edited_formula_reruns_exactly_the_steps_that_reach_it(tmp_path):
    own = Project(tmp_path / "project")
    results = tmp_path / "results"
    assert own.run("demo_inputs", results).status == 0
    for module, rules in (
        ("chain/balance", {"balance", "propagate", "diagnose", "checks", "datapackage"}),
        ("physics/geometry", AFTER_NOTES),
    ):
        path = own.folder / "workflow" / "headland" / f"{module}.py"
        path.write_text(path.read_text(encoding="utf-8") + "\n# edited\n", encoding="utf-8")
        assert own.run("demo_inputs", results).jobs() == rules
