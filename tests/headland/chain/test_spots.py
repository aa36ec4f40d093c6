"""Stands: one spot each, however long it lasts, and what several spots say of a field."""

import numpy as np
import pandas as pd
import pytest

from headland.base.groups import is_stand, seen_from_spots
from headland.chain import spots, summarise


def rows(*changes):
    base = {
        "activity": "stand",
        "field": "mill",
        "transect": "a",
        "speed": 0.0,
        "weight": 300.0,
        "independent": 1.0,
        "sw_in": 800.0,
        "sw_out": 160.0,
        "lw_out": 440.0,
        "ground_sw_out": 0.1,
        "ground_lw_out": 0.1,
        "ground_correlation": 0.0,
    }
    return pd.DataFrame([{**base, **change} for change in changes])


WALK = {"activity": "walk", "speed": 0.8}


def five(**columns):
    table = rows(*({"transect": name} for name in "abcde"))
    return table.assign(**columns)


@pytest.mark.parametrize(
    "changes, wanted",
    [
        ([{}], 1.0),
        ([{"weight": 9000.0}], 1.0),
        ([{}, {}], 1.0),  # the same spot again
        ([{"transect": None}, {"transect": None}], 1.0),
        ([{}, {"transect": "b"}, {"field": "yard"}], 3.0),
        ([{"weight": 900.0}, {"transect": "b"}], 1200.0**2 / (900.0**2 + 300.0**2)),
        ([{**WALK, "independent": 12.0}, {**WALK, "independent": 9.0}], 12.0),
        ([{**WALK, "independent": 12.0}, {**WALK, "independent": 9.0, "transect": "b"}], 21.0),
        ([{**WALK, "independent": 0.0}, {}], 0.0),
    ],
)
def test_looks_of_spots_and_walks(changes, wanted):
    assert spots.looks(rows(*changes)) == pytest.approx(wanted)


def test_a_walk_and_a_stand_are_as_good_as_so_many_equal_looks():
    """The variance of the mean by recorded time, found by drawing the ground."""
    table = rows({**WALK, "independent": 8.0, "weight": 200.0}, {"weight": 400.0}, {"transect": "b"})
    rng = np.random.default_rng(3)
    ground = rng.standard_normal((200_000, 10))
    mean = (200.0 * ground[:, :8].mean(axis=1) + 400.0 * ground[:, 8] + 300.0 * ground[:, 9]) / 900.0
    assert spots.looks(table) == pytest.approx(1.0 / np.var(mean), rel=0.01)


def test_samples_of_a_stand_say_nothing_of_the_ground_beside_a_walk():
    table = rows({**WALK, "ground_sw_out": 6.0, "ground_lw_out": 5.0}, {"weight": 3000.0})
    found = summarise.ground_scatter(table)
    assert (found["ground_sw_out"], found["ground_lw_out"]) == pytest.approx((6.0, 5.0))


def test_where_nobody_walked_the_spots_are_compared():
    """Under a sun that doubles, only what the albedo does not explain is scatter."""
    sun = np.array([400.0, 500.0, 600.0, 700.0, 800.0])
    off = np.array([2.0, -1.0, 0.0, -2.0, 1.0])
    warm = np.array([3.0, 1.0, -1.0, -2.0, -1.0])
    table = five(sw_in=sun, sw_out=0.25 * sun + off, lw_out=440.0 + warm)
    found = summarise.ground_scatter(table)
    assert found["independent"] == pytest.approx(5.0)
    assert found["ground_sw_out"] == pytest.approx(np.std(off, ddof=1))
    assert found["ground_lw_out"] == pytest.approx(np.std(warm, ddof=1))
    assert found["ground_correlation"] == pytest.approx(np.corrcoef(off, warm)[0, 1])


def test_one_spot_has_no_scatter_and_repeated_visits_are_averaged():
    assert spots.scatter(rows({}, {"lw_out": 460.0})) == spots.UNKNOWN
    table = rows({"lw_out": 430.0}, {"lw_out": 460.0, "weight": 600.0}, {"transect": "b", "lw_out": 440.0})
    assert spots.scatter(table)["ground_lw_out"] == pytest.approx(np.std([450.0, 440.0], ddof=1))
    assert spots.scatter(table.assign(lw_out=[np.nan, np.nan, 440.0])) == spots.UNKNOWN


def test_by_night_there_is_no_albedo_to_take_out():
    found = spots.scatter(five(sw_in=0.0, sw_out=0.0, lw_out=[300.0, 301.0, 302.0, 303.0, 304.0]))
    assert found["ground_sw_out"] == 0.0 and found["ground_correlation"] == 0.0
    assert found["ground_lw_out"] == pytest.approx(np.std(np.arange(5.0), ddof=1))


def test_what_is_a_stand():
    table = rows({}, WALK, {"activity": "walk"})
    assert is_stand(table).tolist() == [True, False, True]
    assert is_stand(table.drop(columns="speed")).tolist() == [True, False, False]


@pytest.mark.parametrize(
    "changes, words",
    [
        ([WALK], ""),
        ([{}, {}], "from one spot"),
        ([{}, {"transect": "b"}], "from 2 spots"),
        ([{**WALK, "weight": 100.0}, {}], "from one spot for 75 % of the recorded time"),
    ],
)
def test_the_finding_s_words(changes, words):
    assert seen_from_spots(rows(*changes)) == words
