"""Noted intervals without a sample that counts."""

import numpy as np
import pandas as pd
import pytest

from headland.chain.unused import counts


def segments(**changes):
    begin = pd.Timestamp("2026-05-21T10:00:00Z")
    base = {"segment": ["h1", "h2"], "set": "heron", "notes_row": [3, 5], "field": ["Yard", ""],
            "activity": "walk", "start_utc": begin, "end_utc": begin + pd.Timedelta(minutes=2),
            "height": 1.5, "surface": ["paving", "gravel"]}  # fmt: skip
    return pd.DataFrame(base | changes)


def found(names, excluded, flags="", **changes):
    samples = pd.DataFrame({"segment": names, "flags": flags})
    made = counts(segments(**changes), samples, np.array(excluded))
    return [(one.code, one.line, one.facts["field"], one.facts["samples"]) for one in made]


def test_a_note_without_a_sample():
    assert found(["h1", "h1"], [False, True]) == [("note-without-data", 5, "walk", 0)]


def test_a_note_whose_samples_are_all_left_out():
    assert found(["h1", "h1", "h2"], [True, True, False]) == [("segment-unused", 3, "Yard", 2)]


@pytest.mark.parametrize("flags", ["cover", "sw_in-impossible", "battery-low edge"])
def test_what_has_a_finding_of_its_own_is_not_said_twice(flags):
    assert found(["h1", "h2"], [True, False], [flags, ""]) == []
    assert found(["h1", "h2"], [True, False], ["edge", ""]) == [("segment-unused", 3, "Yard", 1)]


def test_a_head_on_the_ground_has_a_finding_of_its_own():
    assert found(["h1", "h2"], [True, False], height=[0.05, 1.5]) == []
    assert found(["h2"], [False], height=[0.05, 1.5]) == [("note-without-data", 3, "Yard", 0)]


def test_an_interval_of_ground_that_another_one_counts_is_a_small_loss():
    """Ground is a field and a surface: another surface of the same field is none."""
    both = {"field": "Yard", "surface": ["paving", "paving"]}
    for changes, expected in ((both, "others"), (both | {"surface": ["paving", "gravel"]}, "")):
        samples = pd.DataFrame({"segment": ["h1", "h2"], "flags": ""})
        (one,) = counts(segments(**changes), samples, np.array([True, False]))
        assert (one.code, one.variant) == ("segment-unused", expected)
