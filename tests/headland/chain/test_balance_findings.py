"""What is said of a surface whose balance is not estimated, not split, or against the wind; and every row of
visits that a made campaign gives."""

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from headland.chain import balance
from headland.files.surfaces import surface_classes

CLASSES = surface_classes(Path(__file__).parents[3] / "config" / "surfaces.csv", {})
METHODS = {"ground_heat": "class_fraction", "green_cover": "priestley_taylor", "latent_heat": "estimated"}


def made(surface="short_grass", methods=METHODS, count=2, **changes):
    """Two walks over a surface by day with 400 W m-2, a campaign of its own, with what is given changed."""
    start = pd.Timestamp("2026-05-21T10:00Z") + pd.to_timedelta(np.arange(count) * 600, unit="s")
    usual = {
        "set": "heron",
        "segment": [f"s{k}" for k in range(count)],
        "surface": surface,
        "field": "Meadow",
        "activity": "walk",
        "start_utc": start,
        "end_utc": start + pd.Timedelta(minutes=4),
        "weight": 240.0,
        "net_radiation": 400.0,
        "solar_elevation": 50.0,
        "surface_temperature": 25.0,
    }
    air = {"air_temperature": 20.0, "air_source": "weather.csv", "pressure": 980.0, "wind_speed": 3.0}
    segments = pd.DataFrame(usual | {key: value for key, value in changes.items() if key not in air})
    around = pd.DataFrame(air | {key: value for key, value in changes.items() if key in air}, segments.index)
    return segments, balance.visits_of(
        segments, surfaces=CLASSES, methods=methods, air=around, after_noon=np.zeros(count)
    )


def balanced(surface="short_grass", methods=METHODS, **changes):
    """The row of the surface, and what was found on it."""
    segments, visits = made(surface, methods, **changes)
    means = segments.groupby("surface")[["net_radiation", "surface_temperature"]].mean().reset_index()
    table, found = balance.groups(means, visits, ["surface"], methods)
    return table.iloc[0], [(one.code, one.variant, one.facts.get("reason", "")) for one in found]


@pytest.mark.parametrize(
    "surface, changes, said",
    [
        ("short_grass", {}, []),
        ("snow", {}, [("balance-not-estimated", "melt", "")]),
        ("short_grass", {"solar_elevation": 19.0}, [("balance-not-estimated", "sun-low", "")]),
        ("short_grass", {"net_radiation": 99.0}, [("balance-not-estimated", "net-small", "")]),
        ("short_grass", {"net_radiation": math.nan}, [("balance-not-estimated", "unknown", "")]),
        (
            "short_grass",
            {"solar_elevation": -5.0, "net_radiation": -60.0},
            [("balance-not-split", "", "by night nothing is split")],
        ),
        (
            "short_grass",
            {"solar_elevation": [50.0, -5.0], "net_radiation": [400.0, -60.0]},
            [("balance-not-split", "", "by night nothing is split")],
        ),
        # what is missing of the nights is not hidden by sound days, nor a low sun by sound nights
        (
            "short_grass",
            {"solar_elevation": [50.0, -5.0], "net_radiation": [400.0, math.nan]},
            [("balance-not-estimated", "unknown", "")],
        ),
        (
            "short_grass",
            {"solar_elevation": [15.0, -5.0], "net_radiation": [400.0, -60.0]},
            [("balance-not-estimated", "sun-low", "")],
        ),
        (
            "short_grass",
            {"net_radiation": -30.0},
            [("balance-not-split", "", "too little available energy")],
        ),
        ("short_grass", {"air_temperature": math.nan}, [("weather-missing", "", "")]),
        ("short_grass", {"air_temperature": [20.0, math.nan]}, [("weather-missing", "", "")]),
        # dry ground is split without an air temperature
        ("paving", {"air_temperature": math.nan}, []),
        # warm ground gives sensible heat; where it comes out negative the wind says otherwise
        ("short_grass", {"surface_temperature": 10.0}, [("heat-against-wind", "", "")]),
        ("short_grass", {"surface_temperature": 10.0, "wind_speed": math.nan}, []),
    ],
)
def test_what_is_said_of_a_balance(surface, changes, said):
    row, found = balanced(surface, **changes)
    assert found == said
    assert np.isfinite(row["ground_heat"]) == (not row["reason"])
    assert np.isfinite(row["latent_heat"]) == (not said or said[0][0] == "heat-against-wind")


def test_where_a_method_has_nothing_for_a_class_it_is_named():
    """Santanello's form needs a bare soil, Choudhury's a leaf area index."""
    for method, with_it, without in (
        ("santanello", "bare_dry_soil", "paving"),
        ("choudhury", "short_grass", "paving"),
    ):
        methods = METHODS | {"ground_heat": method}
        row, found = balanced(with_it, methods)
        assert row["method"] == method and ("ground-heat-method", "", "") not in found
        row, found = balanced(without, methods)
        assert row["method"] == "class_fraction" and ("ground-heat-method", "", "") in found


def test_green_cover_by_equilibrium_evaporation_and_20():
    """De Bruin & Holtslag (1982): no coefficient of the class's enters it, and 20 W m-2 are added."""
    row, found = balanced(methods=METHODS | {"green_cover": "de_bruin_holtslag"})
    plain, _ = balanced()
    available = 400.0 - row["ground_heat"]
    alpha = CLASSES["short_grass"]["priestley_taylor_coefficient"]["value"]
    equilibrium = plain["latent_heat"] / alpha
    assert row["split"] == "de_bruin_holtslag" and found == []
    assert row["latent_heat"] == pytest.approx(equilibrium + 20.0, rel=1e-6)
    assert 0.5 * available < equilibrium < available


def test_only_what_was_walked_or_stood_is_a_visit_with_its_own_weather():
    """A side-by-side comparison between two walks; the second walk has warmer air."""
    _, visits = made(
        count=3, activity=["walk", "side_by_side", "stand"], air_temperature=[10.0, 50.0, 30.0],
        net_radiation=[400.0, 900.0, 300.0],
    )  # fmt: skip
    assert visits["segment"].tolist() == ["s0", "s2"] and visits["air_temperature"].tolist() == [10.0, 30.0]
    assert visits["net_radiation"].tolist() == [400.0, 300.0] and visits.index.tolist() == [0, 1]
    assert visits["day"].tolist() == [True, True]
    # what green grass evaporates of its available energy grows with the temperature
    share = visits["latent_heat"] / (visits["net_radiation"] - visits["ground_heat"])
    assert share[1] > 1.2 * share[0]


def test_a_group_is_day_where_most_of_its_time_was():
    for weight, day in (([240.0, 120.0], True), ([120.0, 240.0], False)):
        row, _ = balanced(weight=weight, solar_elevation=[50.0, -5.0], net_radiation=[400.0, -60.0])
        assert row["day"] == day
    row, _ = balanced(air_source=["weather.csv", "station.csv"])
    assert row["air_source"] == "station.csv; weather.csv"
