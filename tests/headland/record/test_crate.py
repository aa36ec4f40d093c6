"""The crate's metadata: what every file is, and what the run read and made."""

import pytest

from headland.record.crate import crate, kind_of

RECORD = {
    "title": "Spring", "site": {"name": "Mill", "latitude": 46.0, "longitude": 7.0, "elevation": 430.0},
    "dates": ("2026-05-21", "2026-05-23"), "authors": ["A. Author", "B. Author"], "licence": "CC BY 4.0",
    "version": "0.1.0", "versions": {"libraries": {"snakemake": "9.0"}}, "name": "day",
}  # fmt: skip
PATHS = (
    "README.txt", "inputs/day/campaign.yaml", "inputs/day/notes.csv", "inputs/day/logger/a.csv",
    "inputs/day/logger/b.csv", "results/surfaces.csv", "results/steps/1_ingest/a.csv",
    "project/Snakefile", "project/requirements.lock", "project/workflow/x.py", "wheels/y.whl",
)  # fmt: skip


def graph(paths=PATHS, **changes):
    files = {path: (10 + place, "0" * 64) for place, path in enumerate(paths)}
    return {one["@id"]: one for one in crate({**RECORD, **changes}, files)["@graph"]}


def test_the_last_day_takes_the_place_of_a_date_of_packing():
    root = graph()["./"]
    assert root["datePublished"] == "2026-05-23" and root["temporalCoverage"] == "2026-05-21/2026-05-23"


def test_every_file_but_the_project_s_is_an_entity_with_its_size():
    entities = graph()
    for place, path in enumerate(PATHS):
        named = not path.startswith(("project/workflow", "wheels/"))
        assert (path in entities) == named, path
        if named:
            assert entities[path]["contentSize"] == str(10 + place)
    parts = [one["@id"] for one in entities["inputs/"]["hasPart"]]
    assert parts == [path for path in PATHS if path.startswith("inputs/")]
    assert {"@id": "README.txt"} in entities["./"]["hasPart"]


def test_the_run_read_the_inputs_and_made_the_results():
    entities = graph()
    run = entities["#run"]
    assert [one["@id"] for one in run["object"]] == [path for path in PATHS if path.startswith("inputs/")]
    assert run["result"] == {"@id": "results/surfaces.csv"}
    assert run["agent"] == {"@id": "#author-1"} and entities["#author-2"]["name"] == "B. Author"
    assert entities["./"]["author"] == [{"@id": "#author-1"}, {"@id": "#author-2"}]


def test_inputs_are_examples_of_their_kind():
    entities = graph()
    kinds = {one["name"]: one for one in entities.values() if one["@type"] == "FormalParameter"}
    assert set(kinds) == {"settings of the campaign", "field notes", "logger file", "surfaces.csv"}
    examples = [one["@id"] for one in kinds["logger file"]["workExample"]]
    assert examples == ["inputs/day/logger/a.csv", "inputs/day/logger/b.csv"]
    assert entities["inputs/day/notes.csv"]["exampleOfWork"] == {"@id": kinds["field notes"]["@id"]}


def test_what_is_not_stated_is_not_there():
    entities = graph(authors=[], licence="")
    assert "author" not in entities["./"] and "agent" not in entities["#run"]
    assert entities["#licence"]["name"] not in ("", "CC BY 4.0")
    assert entities["#coordinates"]["latitude"] == 46.0 and entities["#coordinates"]["longitude"] == 7.0


@pytest.mark.parametrize(
    "name, kind",
    [("campaign.yaml", "settings of the campaign"), ("notes.xlsx", "field notes"),
     ("track_1.gpx", "GPS track"), ("station.csv", "reference station"), ("logger/x.csv", "logger file")],
)  # fmt: skip
def test_what_an_input_is(name, kind):
    assert kind_of(name).startswith(kind)
