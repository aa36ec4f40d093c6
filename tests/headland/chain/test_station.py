"""A fixed station: what its times name, its incoming terms in place of the sets', and the uncertainty that
comes with them.
"""

import numpy as np
import pandas as pd
import pytest

import chain
from headland.base import station
from headland.base.errors import UserErrors
from headland.files import settings
from simulate import mistakes_across, specs
from simulate.campaign import simulate


@pytest.mark.parametrize("stamp, later", [("end", 0.0), ("middle", 30.0), ("start", 60.0)])
def test_the_end_of_a_record_by_what_its_time_names(stamp, later):
    times = pd.to_datetime(
        ["2026-05-21T10:01:00Z", "2026-05-21T10:00:00Z", "2026-05-21T10:02:00Z", "2026-05-21T10:02:00Z"],
        utc=True,
    )
    rows, ends, step = station.records(
        pd.DataFrame({"time_utc": times, "sw_in": [2.0, 1.0, 3.0, 4.0]}), stamp
    )
    assert step == 60.0 and rows["sw_in"].tolist() == [1.0, 2.0, 3.0]
    np.testing.assert_allclose(
        ends - pd.Timestamp("2026-05-21T10:00:00Z").timestamp(), np.array([0.0, 60.0, 120.0]) + later
    )


def test_a_record_without_one_of_the_two_terms_is_not_used():
    times = pd.to_datetime(["2026-05-21T10:01:00Z", "2026-05-21T10:02:00Z", "2026-05-21T10:03:00Z"], utc=True)
    rows = pd.DataFrame({"time_utc": times, "sw_in": [500.0, 510.0, np.nan], "lw_in": [330.0, np.nan, 332.0]})
    samples, step = station.incoming(rows, "end", lambda seconds, values: values * 2.0)
    assert samples["sw_in_memory"].iloc[:2].tolist() == [1000.0, 1020.0]
    assert samples["used"].tolist() == [True, False, False] and step == 60.0
    assert np.diff(samples["seconds"]).tolist() == [60.0, 60.0]
    assert samples["seconds"].iloc[0] == pd.Timestamp("2026-05-21T10:00:30Z").timestamp()


@pytest.fixture(scope="module")
def campaign():
    return simulate(specs.minimal())


def whole_day(campaign, by=1.0):
    """A record a minute of the true sky, without a gap."""
    name = campaign.spec.sets[0].name
    frame = (
        mistakes_across.station(campaign, name, by)
        .assign(time_utc=lambda f: pd.to_datetime(f["time_utc"], utc=True))
        .set_index("time_utc")
    )
    return (
        frame.resample("60s")
        .mean()
        .interpolate()
        .reset_index()
        .assign(time_utc=lambda f: f["time_utc"].dt.strftime("%Y-%m-%dT%H:%M:%SZ"))
    )


def written(campaign, folder, table=None, **keys):
    for part, values in keys.items():
        campaign.settings.setdefault(part, {}).update(values)
    try:
        campaign.write(folder)
    finally:
        for part in keys:
            campaign.settings.pop(part)
    if table is not None:
        table.to_csv(folder / "station.csv", index=False)
    return folder


def test_incoming_terms_of_the_station(campaign, tmp_path):
    table = whole_day(campaign, 1.1)
    own = chain.run(written(campaign, tmp_path), draws=256)
    fixed = chain.run(written(campaign, tmp_path, table, methods={"incoming_terms": "station"}), draws=256)
    a, b = own.segments.set_index("segment"), fixed.segments.set_index("segment")
    walks = b[b["activity"] == "walk"].index
    assert set(b.loc[walks, "incoming_set"]) == {station.NAME}
    np.testing.assert_allclose(b.loc[walks, "sw_in"] / a.loc[walks, "sw_in"], 1.1, atol=0.04)
    np.testing.assert_allclose(b.loc[walks, "albedo"] / a.loc[walks, "albedo"], 1 / 1.1, atol=0.04)
    np.testing.assert_array_equal(b.loc[walks, "sw_out"], a.loc[walks, "sw_out"])
    note = [f for _, f in fixed.found if f.code == "incoming-station"]
    assert [(f.variant, f.facts["count"], f.facts["stamp"]) for f in note] == [("", len(walks), "end")]
    # one half width of the incoming shortwave: 1.96 times the root of 2.5 % and 2 % squared, and next to
    # nothing from noise
    values = fixed.result.segments.set_index("segment").loc[walks]
    half = (values["sw_in_high"] - values["sw_in_low"]) / 2 / values["sw_in"]
    np.testing.assert_allclose(half, 1.96 * np.hypot(0.025, 0.02), rtol=0.12)
    half = (values["lw_in_high"] - values["lw_in_low"]) / 2 / values["lw_in"]
    np.testing.assert_allclose(half, 1.96 * np.hypot(0.015, 0.005), rtol=0.12)


def test_gaps_keep_the_own_terms_and_say_so(campaign, tmp_path):
    table = whole_day(campaign)
    fixed = chain.run(
        written(campaign, tmp_path, table.iloc[:2], methods={"incoming_terms": "station"}), to="summarise"
    )
    assert not (fixed.segments["incoming_set"] == station.NAME).all()
    assert "too-little" in [f.variant for _, f in fixed.found if f.code == "incoming-station"]


def test_the_stamp_is_heeded_and_told(campaign, tmp_path):
    table = whole_day(campaign, 1.4)
    begun = table.assign(
        time_utc=(pd.to_datetime(table["time_utc"], utc=True) - pd.Timedelta("60s")).dt.strftime(
            "%Y-%m-%dT%H:%M:%SZ"
        )
    )
    end = chain.run(written(campaign, tmp_path, table), draws=64)
    start = chain.run(written(campaign, tmp_path, begun, station={"stamp": "start"}), draws=64)
    facts = [[f.facts for _, f in run.found if f.code == "station-disagrees"] for run in (end, start)]
    assert (
        facts[0]
        and [f["stamp"] for f in facts[0]] == ["end"] * len(facts[0])
        and [f["stamp"] for f in facts[1]] == ["start"] * len(facts[1])
    )
    assert [{**f, "stamp": ""} for f in facts[0]] == [{**f, "stamp": ""} for f in facts[1]]
    assert all(float(f["normalised"]) > 1.8 for f in facts[0])


def test_each_set_is_held_against_the_station(campaign, tmp_path):
    """A station that reads 1.1 times the truth: a sound set reads 1/1.1 of it, and E_n is the distance over
    the expanded uncertainty, of which the interval is 1.96 standard ones.
    """
    for by in (1.0, 1.1):
        found = chain.run(written(campaign, tmp_path / str(by), whole_day(campaign, by)), draws=64)
        table = found.against_station.set_index("channel")
        assert (
            set(table.index) == {"sw_in", "lw_in"}
            and set(table["set"]) == {campaign.spec.sets[0].name}
            and (table["records"] > 0).all()
        )
        assert (
            table.loc["sw_in", "ratio"] == pytest.approx(1.0 / by, abs=0.04)
            and table.loc["sw_in", "ratio_low"] < 1.0 / by < table.loc["sw_in", "ratio_high"]
        )
        expanded = (table["ratio_high"] - table["ratio_low"]) / 2.0 / 1.959964 * 2.0 / table["ratio"]
        np.testing.assert_allclose(table["e_n"], np.abs(table["ratio"] - 1.0) / expanded, rtol=1e-6)


def test_the_station_s_ground_is_not_compared(campaign, tmp_path):
    table = whole_day(campaign).assign(sw_out=lambda f: 3 * f["sw_out"], lw_out=lambda f: 1.5 * f["lw_out"])
    assert "station-disagrees" not in chain.run(written(campaign, tmp_path, table), draws=64).codes()


def test_the_choice_needs_a_station(campaign, tmp_path):
    with pytest.raises(UserErrors) as problem:
        settings.load(
            written(campaign, tmp_path, methods={"incoming_terms": "station"}), chain.ROOT / "config"
        )
    assert "station.csv" in str(problem.value.errors[0]) and problem.value.errors[0].line
