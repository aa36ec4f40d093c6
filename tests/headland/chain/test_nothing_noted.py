"""A campaign whose notes list no walk."""

import pytest

import chain
from simulate import specs
from simulate.campaign import simulate


@pytest.fixture(scope="module")
def outcome(tmp_path_factory):
    folder = tmp_path_factory.mktemp("campaign")
    simulate(specs.minimal()).write(folder)
    notes = folder / "notes.csv"
    notes.write_text(notes.read_text().splitlines()[0] + "\n")
    return chain.run(folder, to="segment")


def test_no_segment_is_said_once_with_the_file(outcome):
    found = [one for _, one in outcome.found if one.code == "no-segment"]
    assert [one.file for one in found] == ["notes.csv"]


def test_what_was_recorded_lacks_a_note(outcome):
    assert "data-without-note" in outcome.codes()
    assert all((frame["segment"] == "").all() for frame in outcome.samples.values())
