"""Findings that are listed once, findings that list their places, and small pieces that every step shares."""

import numpy as np
import pandas as pd
import pytest

from headland.base import findings, groups, station, words
from headland.base.errors import UserError, UserErrors, refuse
from headland.base.findings import Finding
from headland.base.frames import Held, Pieces


@pytest.mark.parametrize(
    "where, times",
    [
        ({"file": "instruments.csv", "line": 4}, 1),
        ({"file": "instruments.csv", "line": 4, "set": "heron"}, 2),
        ({"file": "instruments.csv"}, 2),
        ({"line": 4}, 2),
        ({}, 2),
    ],
)
def test_a_line_of_a_table_that_each_set_reads_again_is_told_once(where, times):
    one = ("calibrate", Finding("value-invalid", **where))
    assert findings.folded([one, one]) == [one] * times


def test_equal_findings_of_other_steps_lines_or_facts_are_several():
    def of(step="calibrate", line=4, value="x"):
        return step, Finding("value-invalid", file="instruments.csv", line=line, facts={"value": value})

    found = [of(), of(step="diagnose"), of(line=5), of(value="y"), of()]
    assert findings.folded(found) == found[:4]


def place_and_times(*found):
    ((_, one),) = findings.gathered([("segment", finding) for finding in found])
    return one.facts.get("places"), one.start_utc, one.end_utc


def test_several_places_reach_from_the_first_beginning_to_the_last_end():
    def at(start, end, segment):
        return Finding("own-shade", start_utc=start, end_utc=end, facts={"segment": segment})

    found = [at("10:10", "10:20", "b"), at("10:00", "10:05", "a"), at("10:12", "10:30", "c")]
    assert place_and_times(*found) == (["b", "a", "c"], "10:00", "10:30")
    without_end = [found[0], at("10:00", "", "a")]
    assert place_and_times(*without_end) == (["b", "a"], "10:10", "10:20")


@pytest.mark.parametrize(
    "where, place",
    [
        ({"file": "notes.csv", "line": 3, "start_utc": "10:00"}, "notes.csv line 3"),
        ({"file": "notes.csv", "start_utc": "10:00"}, "notes.csv"),
        ({"line": 3, "start_utc": "10:00"}, "line 3"),
        ({"start_utc": "10:00"}, "10:00"),
        ({"file": "notes.csv", "line": 3, "facts": {"segment": "heron-1"}}, "heron-1"),
    ],
)
def test_a_place_is_a_segment_else_a_file_and_line_else_a_time(where, place):
    other = Finding("own-shade", facts={"segment": "elsewhere"})
    assert place_and_times(other, Finding("own-shade", **where))[0] == ["elsewhere", place]


def test_one_place_found_twice_is_one_finding_as_it_stands():
    one = Finding("own-shade", start_utc="10:00", end_utc="10:05", facts={"segment": "a", "count": 3})
    again = Finding("own-shade", start_utc="10:02", end_utc="10:09", facts={"segment": "a", "count": 4})
    assert findings.gathered([("segment", one), ("segment", again)]) == [("segment", one)]


@pytest.mark.parametrize("name", ["code", "variant", "set", "channel"])
def test_another_code_variant_set_or_channel_is_another_cause(name):
    one = Finding("own-shade", facts={"segment": "a"})
    other = Finding(**{"code": "own-shade", name: "other"}, facts={"segment": "b"})
    assert len(findings.gathered([("segment", one), ("segment", other)])) == 2


def described(count, length=5):
    places = [f"p{number:0{length - 1}}" for number in range(count)]
    table = {("c", ""): {"severity": "note", "step": "", "what": "Seen", "remedy": "Look again?"}}
    return findings.describe(Finding("c", facts={"places": places} if count else {}), "segment", table)


@pytest.mark.parametrize(
    "count, told",
    [
        (0, "Seen."),
        (2, "Seen. The same in 1 other place: p0001."),
        (3, "Seen. The same in 2 other places: p0001, p0002."),
        (6, "Seen. The same in 5 other places: p0001, p0002, p0003, p0004, p0005."),
        (7, "Seen. The same in 6 other places: p0001, p0002, p0003, p0004, p0005 and 1 more."),
        (9, "Seen. The same in 8 other places: p0001, p0002, p0003, p0004, p0005 and 3 more."),
    ],
)
def test_five_other_places_are_spoken_of_by_name(count, told):
    row = described(count)
    assert (row["what"], row["remedy"], row["count"]) == (told, "Look again?", max(count, 1))


@pytest.mark.parametrize("count, left", [(3000, 0), (3001, 1), (3500, 500)])
def test_a_list_of_places_has_30_000_characters_with_its_commas(count, left):
    """Each of eight letters, a comma and a blank."""
    listed = described(count, 8)["places"]
    assert listed.endswith(f", and {left} more" if left else "p0002999") and listed.count("p") == 3000


# Times of a fixed station


def test_a_station_s_interval_is_the_middle_one_of_its_steps():
    seconds = np.array([0, 60, 120, 180, 1000])
    times = pd.Timestamp("2026-05-21T10:00Z") + pd.to_timedelta(seconds, unit="s")
    table = pd.DataFrame({"time_utc": times, "sw_in": 1.0, "lw_in": 2.0})
    assert station.records(table, "end")[2] == 60.0
    assert station.records(table[3:], "end")[2] == 820.0
    assert np.isnan(station.records(table[4:], "end")[2])
    with_gap = table.assign(time_utc=table["time_utc"].where(seconds != 60))
    assert len(station.records(with_gap, "end")[0]) == 4
    samples, step = station.incoming(table[:0], "end", lambda *_: pytest.fail("nothing to remember"))
    assert len(samples) == 0 and np.isnan(step)


def test_a_station_s_terms_have_no_error_of_a_head():
    times = pd.to_datetime(["2026-05-21T10:01Z", "2026-05-21T10:02Z"], utc=True)
    table = pd.DataFrame({"time_utc": times, "sw_in": [500.0, 510.0], "lw_in": [330.0, 332.0]})
    samples, _ = station.incoming(table, "middle", lambda seconds, sw_in: sw_in - seconds + seconds[0])
    assert samples["seconds"].tolist() == [table["time_utc"][n].timestamp() for n in (0, 1)]
    assert samples["sw_in"].tolist() == [500.0, 510.0] and samples["lw_in"].tolist() == [330.0, 332.0]
    assert samples["sw_in_memory"].tolist() == [500.0, 450.0]
    assert not samples[["lw_in_net", "body_temperature"]].to_numpy().any() and samples["used"].all()


# Groups


def rows(**columns):
    usual = {"activity": "walk", "weight": 60.0, "field": "Meadow", "transect": "t1"}
    return pd.DataFrame(usual | columns)


def test_what_was_walked_or_stood_with_a_sample_counts():
    table = rows(activity=["walk", "stand", "side_by_side", "dark", "walk"], weight=[1.0, 1.0, 9.0, 9.0, 0.0])
    assert groups.counted_segments(table).index.tolist() == [0, 1]


def test_a_stand_is_noted_or_has_no_speed():
    table = rows(activity=["walk", "stand", "walk"])
    assert groups.is_stand(table).tolist() == [False, True, False]
    assert groups.is_stand(table.assign(speed=[0.0, 0.8, 0.8])).tolist() == [True, True, False]


@pytest.mark.parametrize(
    "columns, said",
    [
        ({"activity": ["walk", "walk"]}, ""),
        ({"activity": ["stand", "stand"]}, "from one spot"),
        ({"activity": ["stand", "stand"], "transect": ["t1", "t2"]}, "from 2 spots"),
        ({"activity": ["stand", "stand"], "field": ["Meadow", "Yard"]}, "from 2 spots"),
        ({"activity": ["stand", "stand"], "transect": [None, None]}, "from one spot"),
        ({"activity": ["stand", "walk"], "weight": [60.0, 180.0]},
         "from one spot for 25 % of the recorded time"),
        ({"activity": ["stand", "walk", "stand"], "transect": ["t1", "t2", "t3"]},
         "from 2 spots for 67 % of the recorded time"),
    ],
)  # fmt: skip
def test_from_how_many_spots_a_ground_was_seen(columns, said):
    assert groups.seen_from_spots(rows(**columns)) == said


# Tables in memory, errors, words


def test_a_held_table_gives_columns_and_rows_anew_numbered():
    held = Held(pd.DataFrame({"a": [1, 2, 3], "b": [4, 5, 6], "c": 0}))
    assert "a" in held and "z" not in held
    chosen = held.read(["b", "a"], np.array([False, True, True]))
    assert list(chosen) == ["b", "a"] and chosen["a"].tolist() == [2, 3] and chosen.index.tolist() == [0, 1]
    assert list(held.read()) == ["a", "b", "c"] and held.read(["c"]).shape == (3, 1)
    assert held.read(rows=np.array([True, False, False]))["b"].tolist() == [4]
    assert [list(piece) for piece in held.pieces()] == [["a", "b", "c"]]
    assert [list(piece) for piece in held.pieces(["b"])] == [["b"]]
    beside = held.beside(pd.DataFrame({"x": [7, 8, 9]}), ["a"])
    assert list(beside) == ["x", "a"] and beside["a"].tolist() == [1, 2, 3]
    pieces = [pd.DataFrame({"a": [1]}), pd.DataFrame({"a": [2, 3]})]
    whole = Pieces(pieces).held()
    assert whole["a"].tolist() == [1, 2, 3] and whole.read().index.tolist() == [0, 1, 2]


def test_an_error_says_file_line_found_and_expected():
    assert str(UserError("a.csv", 3, "x", "y")) == "a.csv, line 3: x; expected y"
    assert str(UserError("a.csv", None, "x", "y")) == "a.csv: x; expected y"
    both = UserErrors([UserError("a.csv", 3, "x", "y"), UserError("b.csv", None, "p", "q")])
    assert str(both) == "a.csv, line 3: x; expected y\nb.csv: p; expected q" and len(both.errors) == 2
    assert str(refuse("a.csv", 3, "x", "y")) == "a.csv, line 3: x; expected y"


@pytest.mark.parametrize(
    "text, code",
    [("plain é 北", ""), ("a\u00a0b\u3000c", ""), ("a\tb\nc\u200d", ""), ("a\u202eb", "U+202E"),
     ("a\x07b\x1b", "U+0007"), ("\ud800", "U+D800")],
)  # fmt: skip
def test_the_first_harmful_character_is_named(text, code):
    assert words.harmful(text) == code


def test_the_nearest_name_is_the_most_alike_in_any_case():
    assert words.nearest("Stubbel", ["stable", "stubble", "pebble"]) == "stubble"
    # three letters of five are enough, two are not
    assert words.nearest("abcxx", ["abcyy"]) == "abcyy" and words.nearest("abxxx", ["abyyy"]) == ""


@pytest.mark.parametrize(
    "one, two, whole",
    [
        (("10:00", "10:05"), ("10:30", "11:00"), ("10:00", "11:00")),
        # a place without a beginning or an end: the times of the first are kept
        (("", "10:05"), ("10:30", "11:00"), ("", "10:05")),
        (("10:00", ""), ("10:30", "11:00"), ("10:00", "")),
        (("10:10", "10:15"), ("", "11:00"), ("10:10", "10:15")),
    ],
)
def test_a_cause_in_several_places_lasts_from_the_first_to_the_last_where_all_have_times(one, two, whole):
    two_places = [
        Finding("cover-left-on", set="heron", start_utc=start, end_utc=end, facts={"segment": segment})
        for segment, (start, end) in (("a", one), ("b", two))
    ]
    ((_, both),) = findings.gathered([("segment", place) for place in two_places])
    assert (both.start_utc, both.end_utc) == whole
