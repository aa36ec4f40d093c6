"""Covers left on in a segment, and covers that were meant."""

import numpy as np
import pandas as pd
import pytest

from headland.chain.covers import covers, without_meant_covers


def frame(flags, segment="h1"):
    times = pd.date_range("2026-05-21T10:00:00Z", periods=len(flags), freq="1s")
    return pd.DataFrame({"time_utc": times, "segment": segment, "flags": flags})


def segments(activity="walk"):
    return pd.DataFrame(
        {"segment": ["h1"], "set": "heron", "notes_row": 4, "field": "Yard", "activity": activity}
    )


@pytest.mark.parametrize("count, variant", [(89, ""), (90, "segment"), (100, "segment")])
def test_nine_in_ten_samples_under_covers_leave_nothing(count, variant):
    flags = ["cover"] * count + [""] * (100 - count)
    (found,) = covers(segments(), frame(flags))
    assert (found.variant, found.line, found.facts["count"], found.facts["samples"]) == (
        variant,
        4,
        count,
        100,
    )
    assert found.facts["covers"] == "all covers were"
    assert pd.Timestamp(found.end_utc) == pd.Timestamp("2026-05-21T10:00:00Z") + pd.Timedelta(
        seconds=count - 1
    )


def test_the_covered_head_is_named():
    (found,) = covers(segments(), frame(["cover-sw_in edge"] * 5 + ["cover-sw_out"] * 5 + [""] * 90))
    assert found.channel == "sw_in sw_out" and found.facts["covers"] == "the cover of sw_in and sw_out was"
    assert covers(segments(), frame(["edge"] * 10)) == []
    assert covers(segments(), frame(["cover"] * 10, segment="")) == []


@pytest.mark.parametrize(
    "activity, left", [("dark", "edge"), ("channel_check", "edge"), ("walk", "cover edge")]
)
def test_covers_that_were_meant_are_no_flag(activity, left):
    assert np.array(without_meant_covers(segments(activity), frame(["cover edge", ""]))).tolist() == [
        left,
        "",
    ]
