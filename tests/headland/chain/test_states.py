"""Errors reach the numbers: a state for each row, a made case on both sides."""

import numpy as np
import pandas as pd
import pytest

from headland.base.findings import Finding
from headland.chain import states

SPAN = {"start_utc": "2026-05-21T09:00:00Z", "end_utc": "2026-05-21T09:05:00Z"}


def segments(**columns):
    """Two walks of one set and one of another, all over one field."""
    start = pd.to_datetime(["2026-05-21T09:00Z", "2026-05-21T10:00Z", "2026-05-21T09:00Z"], utc=True)
    table = pd.DataFrame(
        {
            "set": ["heron", "heron", "teal"],
            "surface": "short_grass",
            "field": "Meadow",
            "activity": "walk",
            "weight": 300.0,
            "start_utc": start,
            "end_utc": start + pd.Timedelta("5min"),
        }
    )
    return table.assign(incoming_set=table["set"], **columns)


def of(*found):
    return states.with_states(segments(), found)["state"].tolist()


def test_without_findings_no_row_has_a_state():
    assert of() == ["", "", ""]


@pytest.mark.parametrize(
    "found, expected",
    [
        (Finding("sign-reversed", set="heron", channel="lw_in"), ["withheld", "withheld", ""]),
        (Finding("channel-frozen", set="heron", channel="lw_in", **SPAN), ["withheld", "", ""]),
        (Finding("sign-reversed", "undecided", "heron", channel="lw_in"), ["provisional", "provisional", ""]),
        (Finding("sampling-interval", set="teal"), ["", "", "provisional"]),
        (Finding("clock-backwards", set="heron", **SPAN), ["provisional", "provisional", ""]),
        (Finding("rows-duplicated", set="heron"), ["", "", ""]),
        (Finding("head-too-low", "near", "heron"), ["", "", ""]),
        (Finding("thermal-shock", set="heron"), ["", "", ""]),
    ],
    ids=lambda value: getattr(value, "code", ""),
)
def test_an_error_reaches_the_rows_that_it_concerns(found, expected):
    assert of(found) == expected


def test_what_withholds_outweighs_what_is_doubtful():
    both = Finding("sampling-interval", set="heron"), Finding("sign-reversed", set="heron", channel="lw_in")
    assert of(*both) == ["withheld", "withheld", ""]


def test_the_incoming_terms_of_a_monitor_count():
    table = segments().assign(incoming_set=["teal", "heron", "teal"])
    found = [Finding("sign-reversed", set="teal", channel="lw_in")]
    assert states.with_states(table, found)["state"].tolist() == ["withheld", "", "withheld"]


@pytest.mark.parametrize(
    "rows, value, expected",
    [
        (["", "", ""], 400.0, ""),
        (["", "provisional", ""], 400.0, "provisional"),
        (["withheld", "", ""], 400.0, "provisional"),
        (["withheld", "withheld", "withheld"], np.nan, "withheld"),
        (["", "", ""], np.nan, ""),
    ],
)
def test_a_field_has_the_state_of_its_segments(rows, value, expected):
    fields = pd.DataFrame({"surface": ["short_grass"], "field": ["Meadow"], "lw_in": [value]})
    fields = fields.assign(sw_in=500.0, sw_out=100.0, lw_out=420.0)
    table = segments().assign(state=rows)
    assert states.of_groups(fields, table, "fields")["state"].tolist() == [expected]
    assert states.of_groups(fields, table, "surfaces")["state"].tolist() == [expected]
    joined = states.joined(fields, states.of_groups(fields, table, "fields"), "fields")
    assert list(joined)[-1] == "state" and joined["state"].tolist() == [expected]
