"""A wet window is named beside a dry one, and shadows, clouds and heads that differ all day are not."""

import numpy as np
import pandas as pd
import pytest

from headland.base.findings import Finding
from headland.checks.against_station import Station
from headland.checks.campaign import Campaign
from headland.checks.wet_windows import wet_windows
from headland.physics.longwave import own_emission

N = 3600
START = pd.Timestamp("2025-06-16 10:00", tz="UTC")
EMISSION = float(own_emission(298.15))
LW_IN = EMISSION - 100.0
NO_STATION = Station(pd.DataFrame({"time_utc": [], "sw_in": [], "lw_in": []}), "end")


def record(hidden: float = 0.0, since: int = 1200, until: int = 2400, *, lit=1.0, usual=0.0) -> pd.DataFrame:
    """An hour of one set whose window hides a share of a sky that is 100 W m-2 colder than the head."""
    time = pd.date_range(START, periods=N, freq="s")
    there = (np.arange(N) >= since) & (np.arange(N) < until)
    return pd.DataFrame(
        {
            "time_utc": time,
            "segment": "a",
            "flags": "",
            "sw_in": 780.0 * np.where(there, lit, 1.0),
            "sw_clear": 800.0,
            "lw_in": LW_IN + 100.0 * (usual + hidden * there),
            "body_temperature": 25.0,
            "solar_elevation": 45.0,
        }
    )


def told(
    sets: dict[str, pd.DataFrame], station: Station = NO_STATION, air: float = 25.0
) -> tuple[list[Finding], list]:
    """What is found, and the sets without a witness. air: degC."""
    campaign = Campaign(
        samples=sets,
        moments={name: START.timestamp() + np.arange(len(frame)) + 0.5 for name, frame in sets.items()},
        intervals=dict.fromkeys(sets, 1.0),
        excluding={"edge"},
        segments=pd.DataFrame({"segment": ["a"], "air_temperature": [air]}),
        certificates=pd.DataFrame(),
        terms={},
        carrying={},
    )
    untold: list = []
    found = wet_windows(campaign, station, untold.append)
    return found, [one.set for one in untold]


def said(sets: dict[str, pd.DataFrame], station: Station = NO_STATION) -> tuple[list, list]:
    """Set and minutes of what is found, and the sets without a witness."""
    found, untold = told(sets, station)
    return [(one.set, one.facts["minutes"]) for one in found], untold


@pytest.mark.parametrize("hidden, expected", [(0.19, []), (0.21, [("teal", "20")]), (0.9, [("teal", "20")])])
def test_a_window_is_wet_from_a_fifth_of_the_sky_on(hidden, expected):
    assert said({"heron": record(), "teal": record(hidden)}) == (expected, [])


@pytest.mark.parametrize("minutes, expected", [(1, 0), (2, 0), (3, 1)])
def test_a_window_is_wet_for_three_minutes(minutes, expected):
    wet = record(0.6, until=1200 + 60 * minutes)
    assert len(said({"heron": record(), "teal": wet})[0]) == expected


def test_what_hides_the_sun_as_well_is_a_shadow():
    assert said({"heron": record(), "teal": record(0.6, lit=0.7)})[0] == []
    assert said({"heron": record(), "teal": record(0.6, lit=0.85)})[0] == [("teal", "20")]


def test_heads_that_differ_all_day_are_not_wet():
    assert said({"heron": record(), "teal": record(usual=0.24)})[0] == []
    assert said({"heron": record(), "teal": record(usual=0.6)})[0] == []


def test_without_a_beam_or_a_witness_nothing_is_said():
    dull = record(0.6).assign(sw_in=300.0)
    assert said({"heron": dull, "teal": record(0.6).assign(sw_in=300.0)}) == ([], ["heron", "teal"])
    assert said({"teal": record(0.6)}) == ([], ["teal"])


@pytest.mark.parametrize("step, expected", [(300, [("teal", "20")]), (900, [])])
def test_a_station_is_a_witness_too(step, expected):
    times = pd.date_range(START, periods=N // step + 1, freq=f"{step}s")
    rows = pd.DataFrame({"time_utc": times, "sw_in": 780.0, "lw_in": LW_IN})
    assert said({"teal": record(0.6)}, Station(rows, "end"))[0] == expected


@pytest.mark.parametrize("hidden, air, variant", [(0.78, 25.0, "beside"), (0.82, 25.0, "covered")])
def test_a_sky_as_warm_as_the_air_may_be_a_cover(hidden, air, variant):
    found, _ = told({"heron": record(), "teal": record(hidden)}, air=air)
    assert [one.variant for one in found] == [variant]


def test_a_cover_is_as_warm_as_the_air_and_not_as_the_body():
    air = 20.0
    hidden = 1.0 - (EMISSION - float(own_emission(273.15 + air))) / 100.0
    assert 0.6 < hidden < 0.8
    assert [one.variant for one in told({"heron": record(), "teal": record(hidden)}, air=air)[0]] == [
        "covered"
    ]


def station_of(lw_in: float) -> Station:
    """A station whose minutes of a sunny hour have one LW_in."""
    times = pd.date_range(START, periods=N // 60 + 1, freq="60s")
    return Station(pd.DataFrame({"time_utc": times, "sw_in": 780.0, "lw_in": lw_in}), "end")


def test_where_a_further_witness_calls_the_window_dry_the_sky_differed():
    wet, beside = record(0.3), station_of(LW_IN)
    assert said({"heron": record(), "teal": wet}, beside)[0] == [("teal", "20")]
    assert said({"heron": record(0.25), "teal": wet}, beside)[0] == [("heron", "20"), ("teal", "20")]
    cloudy = beside.rows.assign(
        lw_in=LW_IN
        + 30.0
        * beside.rows["time_utc"].between(
            START + pd.Timedelta(seconds=1200), START + pd.Timedelta(seconds=2400)
        )
    )
    assert said({"heron": record(), "teal": wet}, Station(cloudy, "end"))[0] == []


def test_minutes_with_a_gap_between_them_are_not_in_a_row():
    """The witness's sun is out for two minutes of three, as between clouds."""
    clouds = np.where((np.arange(N) // 60) % 3 == 2, 300.0, 780.0)
    assert said({"heron": record().assign(sw_in=clouds), "teal": record(0.6)})[0] == []


def test_two_sets_that_call_each_other_wet_were_under_other_clouds():
    one, other = record(0.22, until=1500), record(0.22, since=2700, until=3000)
    assert said({"heron": one, "teal": record()})[0] == [("heron", "5")]
    assert said({"heron": one, "teal": other})[0] == []
