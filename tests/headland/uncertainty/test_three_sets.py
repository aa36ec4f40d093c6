"""Three sets side by side, more than once: who belongs together, one scale, and their comparison, by hand."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.uncertainty import intercompare
from headland.uncertainty.intercompare import Scale

NAMES = ("curlew", "heron", "lapwing")


def stood(*rows):
    """Segments side by side: set, start in min, and what changes."""
    start = pd.Timestamp("2026-05-21T08:00Z")
    return pd.DataFrame(
        [
            {"set": name, "activity": "side_by_side", "samples_used": 100, "field": "f0", "sw_in": 800.0,
             "start_utc": start + pd.Timedelta(minutes=at), "end_utc": start + pd.Timedelta(minutes=at + 10),
             "incoming_set": name} | more
            for name, at, more in rows
        ]
    )  # fmt: skip


THREE = stood(*((name, at, {}) for at in (0, 60, 120) for name in NAMES))


def test_sets_belong_together_by_time():
    found = [{name: 3 * k + n for n, name in enumerate(NAMES)} for k in range(3)]
    assert intercompare.visits(THREE) == found
    assert intercompare.visits(THREE.iloc[:4]) == found[:1]  # curlew stood alone at the second
    walked = THREE.assign(activity=["side_by_side", "walk", "side_by_side", *["stand"] * 6])
    assert intercompare.visits(walked) == [{"curlew": 0, "lapwing": 2}]


def test_a_set_that_is_noted_twice_is_in_a_visit_once():
    twice = stood(("curlew", 0, {}), ("curlew", 1, {}), ("heron", 0, {}))
    assert intercompare.visits(twice) == [{"curlew": 0, "heron": 2}]


def test_each_set_is_held_against_the_first_of_a_visit():
    """Heron is 1.5 min after curlew, lapwing 1.5 min before: each has 8.5 of 10 min with curlew."""
    apart = stood(("curlew", 0, {}), ("heron", 1.5, {}), ("lapwing", -1.5, {}))
    assert intercompare.visits(apart) == [{"curlew": 0, "heron": 1, "lapwing": 2}]


def scale(reference, visits=None, of_sky=None, sunny=(True, True, True)):
    names = np.array(list(NAMES) * 3)
    return Scale(
        reference,
        names,
        names if of_sky is None else of_sky,
        intercompare.visits(THREE) if visits is None else visits,
        sunny,
    )


READ = np.array([[100.0, 80.0, 30.0, 110.0, 80.0, 40.0, 150.0, 80.0, 80.0]])
"""What curlew, heron and lapwing read at three visits."""
FOUR = dict.fromkeys(("sw_in", "sw_out", "lw_in", "lw_out"), READ)


def test_the_mean_of_all_sets_is_the_aim_of_each():
    """At the three visits 70, 76.667 and 103.333, 83.333 on average; curlew reads 120 on average."""
    one = scale("mean")
    assert [one.aim(READ, k)[0] for k in range(3)] == pytest.approx([70.0, 230.0 / 3.0, 310.0 / 3.0])
    found = intercompare.on_one_scale(FOUR, one, {})
    aim = 250.0 / 3.0
    assert found["lw_out"][0, 0] == pytest.approx(100.0 + aim - 120.0)
    assert found["sw_out"][0, 0] == pytest.approx(100.0 * aim / 120.0)
    assert found["sw_in"][0, 2] == pytest.approx(30.0 * aim / 50.0)
    assert found["lw_in"][0, 8] == pytest.approx(80.0 + aim - 50.0)


def test_a_reference_s_own_segments_stay_and_others_meet_its_mean():
    found = intercompare.on_one_scale(FOUR, scale("heron"), {})
    assert found["sw_in"][0, 1::3].tolist() == found["lw_out"][0, 1::3].tolist() == [80.0] * 3
    assert found["lw_in"][0, 0] == pytest.approx(100.0 - 40.0)
    assert found["sw_out"][0, 5] == pytest.approx(40.0 * 80.0 / 50.0)
    assert READ[0, 0] == 100.0  # what was read is not changed


def test_only_visits_with_the_reference_and_enough_sun_count():
    """Curlew met heron at the first and the last visit; the last had no sun."""
    visits = [{"curlew": 0, "heron": 1}, {"curlew": 3, "lapwing": 5}, {"curlew": 6, "heron": 7}]
    one = scale("heron", visits, sunny=(True, True, False))
    assert one.links("curlew") == [0, 2] and one.links("lapwing") == [] and one.links("heron") == [0, 2]
    assert scale("mean", visits).links("lapwing") == [1]
    found = intercompare.on_one_scale(FOUR, one, {})
    assert found["sw_in"][0, 3] == pytest.approx(110.0 * 0.8)  # 80 of 100 at the first
    assert found["lw_in"][0, 3] == pytest.approx(110.0 + 80.0 - 125.0)
    assert found["lw_out"][0, 5] == 40.0 and found["sw_out"][0, 5] == 40.0  # lapwing never met it


def test_incoming_terms_are_those_of_the_set_that_lent_its_sky():
    """Every walk has heron's sky: nothing of it is rescaled, while the lower heads are each set's own."""
    one = scale("heron", of_sky=np.array(["heron"] * 9))
    assert set(one.owner("sw_in")) == set(one.owner("lw_in")) == {"heron"}
    assert one.owner("sw_out").tolist() == one.owner("lw_out").tolist() == list(NAMES) * 3
    found = intercompare.on_one_scale(FOUR, one, {})
    assert found["sw_in"].tolist() == READ.tolist() and found["lw_in"].tolist() == READ.tolist()
    assert found["lw_out"][0, 0] == pytest.approx(60.0)


def test_who_can_t_be_put_on_a_scale_is_named_once():
    alone = pd.concat([THREE, stood(("plover", 300, {}), ("plover", 400, {}))], ignore_index=True)
    made, found = intercompare.scale_of(alone, "heron")
    assert [(one.code, one.set, one.facts) for one in found] == [
        ("scale-not-known", "plover", {"reference": "heron"})
    ]
    assert made.reference == "heron" and made.sunny == [True] * 3
    dim = THREE.assign(sw_in=[800.0, 800.0, 49.0, *[800.0] * 6])
    assert intercompare.scale_of(dim, "mean")[0].sunny == [False, True, True]
    assert intercompare.scale_of(THREE, "none") == (None, [])


# The comparison ---------------------------------------------------------------------------------------------


def test_each_pair_of_sets_is_compared_in_each_channel():
    """Draws of all three move together, so differences have no interval but by heron's own part."""
    frame = THREE.iloc[:3]
    even = np.linspace(-10.0, 10.0, 2001)[:, None]
    values = {name: 100.0 * k + np.array([50.0, 40.0, 20.0]) for k, name in enumerate(FOUR)}
    moved = np.array([0.0, 1.0, 0.0])
    draws = {name: value + 0.3 * even + even * moved for name, value in values.items()}
    own = pd.DataFrame(
        {
            column: value + more
            for name, value in values.items()
            for column, more in (
                (name, 0.0),
                (f"{name}_low", -np.array([3.0, 6.0, 4.0])),
                (f"{name}_high", np.array([3.0, 10.0, 4.0])),
            )
        }
    )
    table = intercompare.comparison(frame, own, draws, {})
    assert list(table) == intercompare.COLUMNS
    assert list(zip(table["set_a"], table["set_b"], strict=True))[::4] == [
        ("curlew", "heron"), ("curlew", "lapwing"), ("heron", "lapwing"),
    ]  # fmt: skip
    assert table["channel"].tolist() == list(FOUR) * 3
    row = table.iloc[0]
    assert (row["mean_a"], row["mean_b"], row["difference"], row["ratio"]) == (50.0, 40.0, 10.0, 1.25)
    assert (row["difference_low"], row["difference_high"]) == pytest.approx((0.5, 19.5))
    # half of 6 + 10 is 8, beside curlew's 3
    assert row["e_n"] == pytest.approx(10.0 / math.hypot(3.0, 8.0))
    assert row["ratio_high"] == pytest.approx((50.0 - 2.85) / (40.0 - 12.35))
    assert row["ratio_low"] == pytest.approx((50.0 + 2.85) / (40.0 + 12.35))
    same = table.iloc[4]
    assert (same["difference_low"], same["difference_high"]) == pytest.approx((30.0, 30.0))
    assert (row["field"], row["start_utc"], row["end_utc"]) == (
        "f0",
        *frame.iloc[0][["start_utc", "end_utc"]],
    )


def test_the_ground_under_each_is_taken_off_what_it_read():
    errors = {"side_by_side_sw_out": np.array([[2.0, -1.0]])}
    read = {"sw_out": np.array([[50.0, 40.0]]), "sw_in": np.array([[90.0, 90.0]])}
    assert intercompare.as_side_by_side(read, "sw_out", errors).tolist() == [[48.0, 41.0]]
    assert intercompare.as_side_by_side(read, "sw_in", errors).tolist() == [[90.0, 90.0]]


def test_scatter_of_the_ground_is_a_root_mean_square_of_walks_with_samples():
    walks = [
        {"activity": "walk", "ground_sw_out": 3.0, "ground_lw_out": 1.0},
        {"activity": "walk", "ground_sw_out": 9.0, "ground_lw_out": 1.0},
        {"activity": "walk", "ground_sw_out": 50.0, "ground_lw_out": 9.0, "samples_used": 0},
        {"activity": "walk", "ground_sw_out": 70.0, "ground_lw_out": 9.0, "field": "f1"},
    ]
    frame = pd.concat([THREE.iloc[:2], stood(*(("curlew", 200, one) for one in walks))], ignore_index=True)
    found = intercompare.ground_scatter(frame, "sw_out")
    assert found == pytest.approx({0: math.sqrt(45.0), 1: math.sqrt(45.0)})
    assert intercompare.ground_scatter(frame, "lw_out") == pytest.approx({0: 1.0, 1: 1.0})
