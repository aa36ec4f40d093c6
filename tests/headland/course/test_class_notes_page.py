"""The page of a class's notes: its tables, and files that can't be used."""

import argparse
import dataclasses
from pathlib import Path

import pandas as pd
import pytest

from headland.base.errors import UserErrors
from headland.course import class_notes_page
from headland.course.class_notes_page import Comparison
from headland.course.rerun import Outcome

INTERVALS = pd.DataFrame(
    [
        {"segment": "h1", "surface": "paving", "noted_by": 2, "start_earliest": -10.0,
         "start_latest": 20.0,
         "start_sd": 21.2, "end_earliest": 0.0, "end_latest": 10.0, "end_sd": 7.1,
         "other_labels": "anna: gravel",
         "missed_by": ""},
    ]
)  # fmt: skip
EFFECTS = pd.DataFrame(
    [
        {"who": who, "surface": surface, "net_radiation": 500.0 + d, "difference": d}
        for who, d in (("anna", 10.0), ("bela", -4.0))
        for surface in ("paving", "gravel")
    ]
)
DONE = Comparison(INTERVALS, EFFECTS, [{"who": "anna", "line": 4, "what": "Odd."}], {"paving": "pavement"}, 2)


def tables():
    return {title: table for title, _, table in class_notes_page.context(DONE, "Day")["parts"]}


def test_starts_and_ends_with_their_spread():
    text = str(tables()["Intervals"])
    for part in ("h1", "pavement", "21", "anna: gravel", "–"):
        assert part in text
    assert "20" in text and "10" in text


def test_each_person_s_difference_and_the_spread_of_each_surface():
    text = str(tables()["By person"])
    assert "10.0" in text and "−4.0" in text and text.index("anna") < text.index("bela")
    text = str(tables()["Net radiation"])
    assert "496.0" in text and "510.0" in text and "9.9" in text


def texts(title):
    """Heads and cells of a table; which columns are aligned to the right."""
    table = tables()[title]
    heads = [one["title"] for one in table["columns"]]
    right = [place for place, one in enumerate(table["columns"]) if not one["text"]]
    return heads, [[cell["text"] for cell in row] for row in table["rows"]], right


def test_each_column_of_the_intervals_is_under_its_head():
    heads, rows, right = texts("Intervals")
    assert heads == [
        "segment", "surface", "noted by", "start", "sd", "end", "sd", "labels that disagree", "missed by",
    ]  # fmt: skip
    assert rows == [
        ["h1", "pavement", "2", "−10 to 20", "21", "0 to 10", "7", "anna: gravel", "–"],
    ] and right == [2, 3, 4, 5, 6]


def test_each_column_of_net_radiation_is_under_its_head():
    heads, rows, right = texts("Net radiation")
    assert heads == ["surface", "people", "lowest", "highest", "sd"] and right == [1, 2, 3, 4]
    assert rows == [
        ["gravel", "2", "496.0", "510.0", "9.9"],
        ["pavement", "2", "496.0", "510.0", "9.9"],
    ]
    heads, rows, right = texts("By person")
    assert heads == ["who", "pavement", "gravel"] and right == [1, 2]
    assert rows == [["anna", "10.0", "10.0"], ["bela", "−4.0", "−4.0"]]
    assert texts("What was found in the files")[:2] == (["who", "line", "what"], [["anna", "4", "Odd."]])


def test_what_was_found_in_the_files():
    assert "Odd." in str(tables()["What was found in the files"])
    assert class_notes_page.context(DONE, "Day")["count"] == 2


def noted(start, surface):
    """One walk of 2 min, noted so many s after 10:00."""
    begin = pd.Timestamp("2026-05-21T10:00Z") + pd.Timedelta(seconds=start)
    end = begin + pd.Timedelta("2min")
    return pd.DataFrame(
        {"segment": "h1", "set": "heron", "surface": surface, "field": "Yard", "activity": "walk",
         "start_utc": begin, "end_utc": end},
        index=[0],
    )  # fmt: skip


def of(net):
    return Outcome(pd.DataFrame(), pd.DataFrame({"net_radiation": {"paving": net}}))


def test_people_are_compared_with_the_campaign_s_own_notes(monkeypatch):
    """Anna notes 10 s early and has a bad line, Bela 20 s late and another surface; -10 and 5 W m-2."""
    people = {"anna": (noted(-10.0, "paving"), [4]), "bela": (noted(20.0, "gravel"), [0])}
    survey = argparse.Namespace(raw="raw", segments=noted(0.0, "paving"))
    values = {"anna": of(490.0), "bela": of(505.0)}

    def read(path, S, raw):
        assert raw == "raw" and S["title"] == "Day"
        return path.stem, *people[path.stem]

    monkeypatch.setattr(class_notes_page, "survey_of", lambda *args: survey)
    monkeypatch.setattr(class_notes_page, "noted_in", read)
    monkeypatch.setattr(class_notes_page, "samples_of", lambda given: "samples")
    monkeypatch.setattr(class_notes_page, "segments_of", lambda given, samples: samples)
    monkeypatch.setattr(class_notes_page, "outcome", lambda given, segments: of(500.0))
    monkeypatch.setattr(
        class_notes_page.class_notes, "values_by", lambda given, noted, segments: values[noted]
    )
    monkeypatch.setattr(
        class_notes_page.findings, "describe", lambda line, step, sentences: {"line": line, "what": "Odd."}
    )
    paths = [Path(f"{name}.csv") for name in people]
    S = {"title": "Day", "overrides": {"surfaces": {}}}
    done = class_notes_page.compared(Path("day"), Path("out"), S, paths)
    assert done.people == 2 and done.labels["shallow_water"] == "shallow water"
    assert done.said == [
        {"who": "anna", "line": 4, "what": "Odd."},
        {"who": "bela", "line": "", "what": "Odd."},
    ]
    row = done.intervals.iloc[0]
    assert (row["noted_by"], row["start_earliest"], row["start_latest"]) == (2, -10.0, 20.0)
    assert row["other_labels"] == "bela: gravel"
    assert done.effects["difference"].tolist() == [-10.0, 5.0] and list(done.effects["who"]) == [
        "anna",
        "bela",
    ]


def test_what_nobody_missed_or_disagreed_on_is_a_dash():
    calm = dataclasses.replace(DONE, intervals=INTERVALS.assign(other_labels="", missed_by="bela"))
    ((_, _, table), *_) = class_notes_page.context(calm, "Day")["parts"]
    assert [cell["text"] for cell in table["rows"][0]][-2:] == ["–", "bela"]


def test_files_that_are_missing_or_have_one_name_are_refused(tmp_path):
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).touch()
    (tmp_path / "x").mkdir()
    (tmp_path / "x" / "a.csv").touch()
    class_notes_page.refuse_missing([tmp_path / "a.csv", tmp_path / "b.csv"])
    with pytest.raises(UserErrors, match="no such file"):
        class_notes_page.refuse_missing([tmp_path / "a.csv", Path(tmp_path / "none.csv")])
    with pytest.raises(UserErrors, match="two files of this name"):
        class_notes_page.refuse_missing([tmp_path / "a.csv", tmp_path / "x" / "a.csv"])
