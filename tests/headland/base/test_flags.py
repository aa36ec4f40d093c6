"""Flags of samples as texts: joined, looked for, added."""

import numpy as np
import pandas as pd
import pytest

from headland.base.flags import also_flagged, excluding_flags, has_any, joined, limits_of, merged, reworded


def test_each_sample_has_the_names_that_hit_it():
    found = {"edge": np.array([True, False, True]), "frozen": np.array([False, False, True])}
    assert joined(found).tolist() == ["edge", "", "edge frozen"]
    assert joined({name: hit[:0] for name, hit in found.items()}).tolist() == []


@pytest.mark.parametrize("texts", [pd.Series(["edge", None]), pd.Series(["", np.nan], dtype="object")])
def test_a_sample_without_even_an_empty_text_is_a_fault(texts):
    """The place of a missing text is -1, which would be that of the last word."""
    with pytest.raises(ValueError, match="no flags"):
        has_any(texts, {"edge"})
    with pytest.raises(ValueError, match="no flags"):
        reworded(texts, [True, True], lambda text, mark: text)
    with pytest.raises(ValueError, match="no flags"):
        merged(pd.Series(["", ""]), texts)


def test_words_are_found_whole():
    texts = pd.Series(["edge", "edges", "frozen edge", "", "cover-sw_in"])
    assert has_any(texts, {"edge", "cover"}).tolist() == [True, False, True, False, False]


def test_a_name_is_added_where_it_hit():
    texts = pd.Series(["a", "", "b"], index=[5, 1, 3])
    assert also_flagged(texts, "x", np.array([True, True, False])).tolist() == ["a x", "x", "b"]
    assert merged(texts, pd.Series(["", "c", "d"], index=[5, 1, 3])).tolist() == ["a", "c", "b d"]


def test_four_texts_by_three_marks_keep_their_own_words():
    texts = pd.Series(list("abcd") * 3)
    marks = list("xyz") * 4
    found = reworded(texts, marks, lambda text, mark: text + mark)
    assert found.tolist() == [a + b for a, b in zip(texts, marks, strict=True)]


def test_limits_are_numbers_or_unknown():
    rows = [
        {"flag": "f", "low": "1.5", "scale": "", "power": "0", "offset": "-2", "excludes": "true"},
        {"flag": "g", "low": "", "scale": "", "power": "", "offset": "", "excludes": "false"},
    ]
    limits = limits_of(rows)
    assert (limits["f"]["low"], limits["f"]["power"], limits["f"]["offset"]) == (1.5, 0.0, -2.0)
    assert np.isnan(limits["f"]["scale"]) and np.isnan(limits["g"]["low"])
    assert excluding_flags(limits) == {"f"}
