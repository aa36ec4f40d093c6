"""What a step's script reads and writes, by the names of its options."""

import json
import sys

import pandas as pd
import pytest

from headland.base.findings import Finding
from headland.base.frames import Made
from headland.base.untold import Untold
from headland.files import options, step, tables

KIND = "differences"


def rows(*pairs):
    columns = [field["name"] for field in tables.table_schema(KIND)["fields"]]
    base = {name: "" for name in columns} | {"quantity": "albedo", "difference": 0.1}
    return pd.DataFrame([base | {"surface_a": a, "surface_b": b} for a, b in pairs], columns=columns)


@pytest.fixture
def folder(tmp_path):
    tables.write_table(tmp_path / "one.csv", rows(("a", "b"), ("a", "c")), KIND)
    tables.write_table(tmp_path / "two.csv", rows(("d", "e")), KIND)
    return tmp_path


def files(monkeypatch, reads, writes=None, leaves=(), settings=None, **paths):
    words = ["step.py", "--settings", json.dumps(settings or {})]
    for name, given in paths.items():
        words += [f"--{name.replace('_', '-')}", *map(str, given if isinstance(given, list) else [given])]
    monkeypatch.setattr(sys, "argv", words)
    return step.Files(reads, writes or {}, leaves)


def test_several_tables_as_one_with_rows_numbered_anew(monkeypatch, folder):
    both = [folder / "one.csv", folder / "two.csv"]
    read = files(monkeypatch, {"pairs": step.together(KIND)}, pairs=both)["pairs"]
    assert read["surface_a"].tolist() == ["a", "a", "d"] and read.index.tolist() == [0, 1, 2]
    apart = files(monkeypatch, {"pairs": step.frames(KIND)}, pairs=both)["pairs"]
    assert [len(frame) for frame in apart] == [2, 1]


def test_tables_of_sets_come_by_set(monkeypatch, folder):
    given = {"settings": {"sets": ["heron", "plover"]}, "pairs": [folder / "one.csv", folder / "two.csv"]}
    read = files(monkeypatch, {"pairs": step.of_sets(KIND), "at": step.PATHS}, at=[folder], **given)
    assert {name: len(frame) for name, frame in read["pairs"].items()} == {"heron": 2, "plover": 1}
    stored = files(monkeypatch, {"pairs": step.stored_of_sets(KIND)}, **given)
    assert stored["pairs"]["plover"].read(["surface_b"])["surface_b"].tolist() == ["e"]
    assert {one: len(parts[0]) for one, parts in read.each_set("pairs").items()} == {"heron": 2, "plover": 1}
    assert read.some(["at"]) == {"at": [folder]}


def test_what_users_wrote_comes_with_what_is_wrong_with_it(monkeypatch, tmp_path):
    (tmp_path / "notes.csv").write_text(
        "set,date,start,end,field,surface\nheron,not a date,10:00,10:02,Yard,paving\n"
    )
    made = files(monkeypatch, {"notes": options.NOTES}, notes=tmp_path / "notes.csv")
    assert len(made["notes"]) <= 1 and made.found
    (tmp_path / "weather.csv").write_text("time_utc,air_temperature\n2026-05-21T10:00:00Z,20.5\n")
    made = files(monkeypatch, {"weather": options.WEATHER}, weather=[tmp_path / "weather.csv"])
    assert made["weather"]["air_temperature"].tolist() == [20.5] and made.found == []
    assert files(monkeypatch, {"weather": options.WEATHER}, weather=[])["weather"].empty


def test_a_step_writes_its_tables_findings_and_what_it_could_not_check(monkeypatch, folder, capsys):
    made = files(
        monkeypatch, {"pairs": step.table(KIND)}, {"out": KIND}, ("findings", "untold"),
        pairs=folder / "one.csv", out=folder / "out.csv", findings=folder / "f.csv", untold=folder / "u.csv",
    )  # fmt: skip
    made.found.append(Finding("no-segment", file="notes.csv"))
    made.write(
        Made(
            {"out": made["pairs"]},
            [Finding("beyond-possible", set="heron")],
            [Untold("channel-frozen", "coarse-steps", "heron")],
        )
    )
    assert tables.read_table(folder / "out.csv", KIND)["surface_b"].tolist() == ["b", "c"]
    assert [one.code for one in tables.read_findings(folder / "f.csv")] == ["no-segment", "beyond-possible"]
    assert "coarse-steps" in (folder / "u.csv").read_text()
    assert "out.csv: 2 rows" in capsys.readouterr().err


def test_an_option_that_is_missing_stops_the_step(monkeypatch, folder):
    with pytest.raises(SystemExit):
        files(monkeypatch, {"pairs": step.table(KIND)})


def test_options_of_several_files_take_them_all(tmp_path):
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text(f"x,y\n{name},1\n")
    paths = [tmp_path / "a.csv", tmp_path / "b.csv"]
    assert options.TEXTS_OF_TABLES.many and options.TABLES.many and options.JSONS.many
    assert options.TEXTS_OF_TABLES.read(paths, {}) == {name: [[name, "1"]] for name in ("a.csv", "b.csv")}
