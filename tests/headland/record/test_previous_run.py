"""The memory of a run: kept, read again, the same or not."""

import os

import pytest

from headland.record import changes, previous_run

INPUTS = {"settings": {"title": "Day"}, "notes": [{"set": "heron"}], "files": {"a.csv": "00"}}


@pytest.fixture
def results(tmp_path):
    for name in previous_run.REMEMBERED:
        (tmp_path / f"{name}.csv").write_text("surface,albedo\npaving,0.120\nsnow,\n")
    return tmp_path


def run_of(results, inputs=INPUTS):
    return changes.Run(inputs, previous_run._tables(results))


def test_what_is_remembered_is_read_again(results):
    assert previous_run.before(results) is None
    previous_run.remember(results, run_of(results))
    again = previous_run.before(results)
    assert again.inputs == INPUTS
    assert again.tables["surfaces"]["albedo"].tolist() == ["0.120", ""]
    assert previous_run.is_same(again, run_of(results))


def test_another_input_or_another_number_is_another_run(results):
    previous_run.remember(results, run_of(results))
    before = previous_run.before(results)
    assert not previous_run.is_same(before, run_of(results, INPUTS | {"settings": {"title": "Other"}}))
    for name in previous_run.REMEMBERED:
        text = (results / f"{name}.csv").read_text()
        (results / f"{name}.csv").write_text(text.replace("0.120", "0.121"))
        assert not previous_run.is_same(before, run_of(results)), name
        (results / f"{name}.csv").write_text(text)
    assert previous_run.is_same(before, run_of(results))


def test_a_memory_that_is_damaged_is_none(results):
    previous_run.remember(results, run_of(results))
    (results / "steps" / "previous_run" / "inputs.json").write_text("{")
    assert previous_run.before(results) is None


def test_the_memory_can_be_made_younger(results):
    previous_run.remember(results, run_of(results))
    file = results / "steps" / "previous_run" / "inputs.json"
    os.utime(file, (1.0, 1.0))
    previous_run.keep_time(results)
    assert file.stat().st_mtime > 1e9


@pytest.mark.parametrize(
    "value, text", [(float("nan"), ""), (0.25, "0.25"), (12.0, "12"), ("a", "a"), (3, "3")]
)
def test_cells_as_text(value, text):
    assert previous_run._text(value) == text
