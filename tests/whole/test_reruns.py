"""What is edited reruns what depends on it, and nothing else."""

import os
import time

import pandas as pd
import pytest

from .conftest import Project

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
BALANCE = "workflow/headland/chain/balance.py"
GEOMETRY = "workflow/headland/physics/geometry.py"
EDITS = (
    (
        "demo_inputs/instruments.csv",
        "66.89",
        "66.90",
        AFTER_NOTES | {"calibrate", "correct_longwave", "screen"},
    ),
    ("demo_inputs/campaign.yaml", 'shift: "00:00:00"', 'shift: "00:00:01"', AFTER_NOTES),
    (GEOMETRY, "import numpy", "# edited\nimport numpy", AFTER_NOTES),
    (
        BALANCE,
        "import numpy",
        "# edited\nimport numpy",
        AFTER_NOTES - {"segment", "samples_of_set", "summarise"},
    ),
)
"""A file, what is edited in it, and the rules that depend on it. Each reruns no more than the one before, so
that a rule that an undone edit would still rerun is seen.
"""


@pytest.fixture(scope="module")
def own(demo_run, tmp_path_factory) -> Project:
    """The demo as it was run, in a copy of its project, to edit."""
    assert demo_run.status == 0, demo_run.printed[-2000:]
    return Project(tmp_path_factory.mktemp("edited") / "project", demo_run.project)


def planned(own: Project) -> set[str]:
    """What would be run for the tables."""
    return own.run("demo_inputs", own.folder / "results" / "demo", "--dry-run").planned()


def test_what_is_only_touched_reruns_nothing(own):
    time.sleep(1.1)
    for path in (own.folder / "demo_inputs").rglob("*"):
        os.utime(path)
    assert planned(own) == set()


@pytest.mark.parametrize("name, old, new, rules", EDITS, ids=[name for name, *_ in EDITS])
def test_an_edit_reruns_exactly_the_steps_that_depend_on_it(own, name, old, new, rules):
    path = own.folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    found = planned(own)
    path.write_text(text, encoding="utf-8")
    assert found == rules


def test_an_edited_note_is_rerun_and_what_it_changed_is_told(own):
    results, notes = own.folder / "results" / "demo", own.folder / "demo_inputs" / "notes.csv"
    lines = notes.read_text(encoding="utf-8").splitlines(keepends=True)
    row = next(i for i, line in enumerate(lines) if ",walk," in line)
    lines[row] = lines[row].replace(",short_grass,", ",stubble,")
    notes.write_text("".join(lines), encoding="utf-8")
    (results / "report.html").touch()  # as a whole run leaves it: only whole runs are compared
    rerun = own.run("demo_inputs", results)
    assert rerun.status == 0 and rerun.jobs() == AFTER_NOTES
    told = pd.read_csv(results / "changes.csv", keep_default_na=False)
    own_sky = told[told["quantity"] != "net_radiation_common_sky"]
    named = {kind: set(own_sky.loc[own_sky["kind"] == kind, "item"]) for kind in ("segment", "surface")}
    assert told.loc[told["kind"] == "note", ["item", "quantity", "before", "after"]].values.tolist() == [
        [f"line {row + 1}", "surface", "short_grass", "stubble"]
    ]
    assert named["segment"] == {"curlew-0820-0956"} and named["surface"] == {"short_grass", "stubble"}
    assert set(told.loc[told["kind"] == "segment", "cause"]) == {f"notes, line {row + 1}"}
