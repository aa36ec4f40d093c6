"""Incoming terms from a sky monitor."""

import numpy as np
import pandas as pd
import pytest

from headland.chain import incoming, summarise

from .made_segments import CLASSES, samples


def monitored(heron, curlew, **monitor):
    noted = pd.DataFrame(
        [
            {"segment": "a", "set": "heron", "activity": "walk", "heading": 80.0},
            {"segment": "b", "set": "curlew", "activity": "sky_monitor", "heading": 180.0, **monitor},
        ]
    )
    start = pd.Timestamp("2026-05-21T09:00:00Z")
    noted = noted.assign(
        surface="stubble",
        height=1.5,
        speed=[0.8, 0.0],
        sky="",
        notes_row=[2, 3],
        start_utc=start,
        end_utc=start + pd.Timedelta(seconds=60),
    )
    table, findings = summarise.segments(
        noted,
        {"heron": heron, "curlew": curlew},
        intervals={"heron": 1.0, "curlew": 1.0},
        excluding={"edge", "missing"},
        surfaces=CLASSES,
    )
    return table.set_index("segment"), [(f.code, f.variant) for f in findings]


def test_a_sky_monitor_gives_its_incoming_terms_to_the_walking_set():
    heron = samples(sw_in=650.0, body_temperature=25.0, incoming_body_temperature=25.0)
    rows, findings = monitored(
        heron, samples(sw_in=800.0 + np.arange(60.0), lw_in=350.0, lw_in_net=-80.0).assign(segment="b")
    )
    walk = rows.loc["a"]
    assert walk[
        ["sw_in", "lw_in", "lw_in_net", "lw_out", "body_temperature", "incoming_body_temperature"]
    ].tolist() == pytest.approx([829.5, 350.0, -80.0, 430.0, 25.0, 22.0])
    assert (walk["incoming_set"], walk["incoming_heading"], findings) == (
        "curlew",
        180.0,
        [("sky-monitor", "")],
    )
    assert walk["albedo"] == pytest.approx(160.0 / 829.5) and rows.loc["b", "incoming_set"] == "curlew"


def test_a_monitor_that_was_not_there_long_enough_gives_nothing():
    rows, findings = monitored(samples(sw_in=650.0), samples().assign(segment="b").iloc[:30])
    assert (
        rows.loc["a", "sw_in"] == 650.0
        and rows.loc["a", "incoming_set"] == "heron"
        and findings == [("sky-monitor", "too-little")]
    )
    rows, _ = monitored(samples(sw_in=650.0), samples().assign(segment="b", flags="missing"))
    assert rows.loc["a", "sw_in"] == 650.0
    rows, _ = monitored(samples(sw_in=650.0), samples().assign(segment="b"), activity="stand")
    assert rows.loc["a", "sw_in"] == 650.0


@pytest.mark.parametrize("length, share", [(52, 53 / 60), (53, 0.9)])
def test_what_a_monitor_covers_reaches_one_interval_beyond_its_samples(length, share):
    rows, findings = monitored(samples(sw_in=650.0), samples(sw_in=800.0).assign(segment="b").iloc[:length])
    assert (rows.loc["a", "sw_in"] == 800.0) == (share >= 0.9)


@pytest.mark.parametrize("length, enough", [(52, False), (53, True)])
def test_no_more_than_one_interval_beyond_its_samples_counts(length, enough):
    """The monitor stores 0.6 s after the set: its last sample covers the next of the set, and not the one
    after, which is 1.4 s away."""
    monitor = samples(sw_in=800.0).assign(segment="b").iloc[:length]
    later = monitor.assign(middle_utc=monitor["middle_utc"] + pd.Timedelta(seconds=0.6))
    rows, _ = monitored(samples(sw_in=650.0), later)
    assert (rows.loc["a", "sw_in"] == 800.0) == enough


@pytest.mark.parametrize(
    "name, start, end, at_once",
    [
        ("curlew", 0, 5, True),
        ("heron", 0, 5, False),  # no set monitors its own walk
        ("curlew", -5, 0, False),  # it ended as the walk began
        ("curlew", 5, 9, False),
        ("curlew", 4, 9, True),
    ],
)
def test_a_monitor_is_another_set_during_some_of_the_walk(name, start, end, at_once):
    row = {"set": "heron", "start_utc": 0, "end_utc": 5}
    assert incoming._at_once({"set": name, "start_utc": start, "end_utc": end}, row) is at_once
