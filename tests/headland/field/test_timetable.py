"""The timetable of a day, minute by minute: what is at fixed times, and bounds of what is irregular."""

import numpy as np
import pandas as pd
import pytest

from headland.field import timetable

START = pd.Timestamp("2026-05-21T08:00:00Z")
FIELDS = pd.DataFrame(
    [("Meadow", "short_grass", 80.0, 350.0), ("Yard", "paving", 60.4, 90.0), ("Track", "gravel", 40.0, 10.0),
     ("Tilth", "bare_dry_soil", 100.0, 200.0)],
    columns=["field", "surface", "length", "heading"],
)  # fmt: skip


def made(sets=("curlew", "lapwing"), hours=24.0, rounds=1, monitor=False):
    end = START + pd.Timedelta(hours=hours)
    return timetable.timetable(FIELDS, list(sets), timetable.Day(START, end, 0.8, 4.0, monitor, rounds, 7))


def minutes(rows, column="start_utc"):
    return ((rows[column] - START) / pd.Timedelta("1min")).tolist()


def of(table, **wanted):
    for column, value in wanted.items():
        table = table[table[column] == value]
    return table


def spans(rows):
    return list(zip(minutes(rows), minutes(rows, "end_utc"), strict=True))


def test_the_morning_of_two_sets_minute_by_minute():
    """Clocks 2 min, four heads of 20 s, 2 min of pause, 5 min side by side, a minute to swap, 5 min more."""
    table, _ = made()
    for name, first in (("curlew", 1), ("lapwing", 2)):
        own = of(table, set=name)
        (check, channels, one, other) = own.iloc[:4].to_dict("records")
        assert [row["activity"] for row in (check, channels, one, other)] == [
            "clock_check", "channel_check", "side_by_side", "side_by_side",
        ]  # fmt: skip
        wanted = [(0, 2), (2, 10 / 3), (16 / 3, 31 / 3), (34 / 3, 49 / 3)]
        np.testing.assert_allclose(spans(own.iloc[:4]), wanted)
        assert channels["remark"] == "sw_in sw_out lw_in lw_out"
        assert check["remark"] == "the time, and what the logger shows, to the second"
        assert one["remark"] == f"place {first}"
        assert other["remark"] == f"place {3 - first}: positions swapped"
        assert (one["field"], one["surface"]) == ("Meadow", "short_grass")
        assert (check["field"], check["surface"], channels["field"]) == ("", "", "")
        assert np.isnan([check["heading"], check["length"], one["heading"]]).all()
        assert (check["transect"], one["pass"]) == ("", "")
        first_walk = minutes(of(own, activity="walk"))[0]
        assert 49 / 3 + 3 <= first_walk < 49 / 3 + 3 + 45 / 60


def test_the_morning_and_the_evening_of_one_set():
    table, _ = made(("curlew",))
    assert table["activity"].tolist() == ["clock_check", "channel_check", *["walk"] * 16, "clock_check"]
    assert 16 / 3 + 3 <= minutes(table)[2] < 16 / 3 + 3 + 45 / 60
    last, check = table.iloc[-2], table.iloc[-1]
    assert check["start_utc"] - last["end_utc"] == pd.Timedelta("4min")
    assert check["end_utc"] - check["start_utc"] == pd.Timedelta("2min")
    assert check["remark"] == "before the logger is switched off" and check["field"] == ""


def test_the_evening_of_two_sets_minute_by_minute():
    table, _ = made()
    end = max(minutes(of(table, activity="walk"), "end_utc")) + 4.0
    for name, first in (("curlew", 1), ("lapwing", 2)):
        last = of(table, set=name).iloc[-3:]
        assert last["activity"].tolist() == ["side_by_side", "side_by_side", "clock_check"]
        np.testing.assert_allclose(spans(last), [(end, end + 5), (end + 6, end + 11), (end + 12, end + 14)])
        assert last["remark"].tolist()[:2] == [f"place {first}", f"place {3 - first}: positions swapped"]
        assert last["field"].tolist() == ["Meadow", "Meadow", ""]


def test_three_sets_swap_places_in_a_ring():
    table, _ = made(("curlew", "heron", "lapwing"))
    beside = of(table, activity="side_by_side")
    places = [remark.split(":")[0] for remark in beside["remark"]]
    assert places == [f"place {k}" for k in (1, 2, 3, 2, 3, 1, 1, 2, 3, 2, 3, 1)]


def walks(name, **more):
    return of(made(**more)[0], set=name, activity="walk").reset_index(drop=True)


def test_each_set_begins_half_way_round_and_goes_there_and_back():
    """Rounds A B C D D C B A; the other set begins at C."""
    order = {"curlew": "Meadow Yard Track Tilth", "lapwing": "Track Tilth Meadow Yard"}
    for name, text in order.items():
        fields = text.split()
        wanted = [field for field in fields + fields[::-1] for _ in (1, 2)]
        assert walks(name)["field"].tolist() == wanted
        assert walks(name, rounds=2)["field"].tolist() == wanted * 2
    assert walks("curlew")["surface"].iloc[2] == "paving"


def test_a_pass_lasts_its_length_at_the_pace_to_the_second_and_comes_back_turned_round():
    """60.4 m at 0.8 m/s are 75.5 s, so 76 s; 350 degrees back is 170, 200 is 20."""
    own = walks("curlew")
    seconds = (own["end_utc"] - own["start_utc"]).dt.total_seconds()
    assert seconds.tolist() == [100, 100, 76, 76, 50, 50, 125, 125, 125, 125, 50, 50, 76, 76, 100, 100]
    assert own["pass"].tolist() == ["1", "2"] * 8
    assert own["heading"].iloc[:8].tolist() == [350.0, 170.0, 90.0, 270.0, 10.0, 190.0, 200.0, 20.0]
    assert own["length"].iloc[:4].tolist() == [80.0, 80.0, 60.4, 60.4]


def test_each_visit_is_a_transect_of_its_own():
    """Two sets: the first has 1, 3, 5 …, the second 2, 4, 6 … of each field."""
    for name, numbers in (("curlew", ["1", "3", "5", "7"]), ("lapwing", ["2", "4", "6", "8"])):
        for _, own in walks(name, rounds=2).groupby("field"):
            assert own["transect"].tolist() == [number for number in numbers for _ in (1, 2)]


def gaps(own):
    return (own["start_utc"].iloc[1:].to_numpy() - own["end_utc"].iloc[:-1].to_numpy()) / np.timedelta64(
        1, "s"
    )


def test_pauses_are_within_their_bounds_and_irregular():
    """20 to 75 s to turn; 40 to 200 s between visits, and the 4 min to another field."""
    every = np.concatenate([gaps(walks(name, rounds=8)) for name in ("curlew", "lapwing")]).reshape(2, -1)
    turns, between = every[:, ::2].ravel(), every[:, 1::2].ravel()
    assert turns.min() >= 20 and turns.max() < 75 and turns.min() < 25 and turns.max() > 68
    same = np.tile(([False] * 3 + [True] + [False] * 3 + [True]) * 8, 2).reshape(2, -1)[:, :-1].ravel()
    for pauses, more in ((between[same], 0.0), (between[~same], 240.0)):
        assert pauses.min() >= 40 + more and pauses.max() < 200 + more
        assert pauses.min() < 60 + more and pauses.max() > 175 + more
    assert len(set(turns)) > 30


def test_sets_and_days_have_pauses_of_their_own():
    one, other = (gaps(walks(name)) for name in ("curlew", "lapwing"))
    assert not np.array_equal(one, other)
    again, _ = made()
    assert again.equals(made()[0])


@pytest.mark.parametrize("sets, closing", [(("curlew",), 2.0), (("curlew", "lapwing"), 15.0)])
def test_a_round_more_must_leave_time_for_the_evening(sets, closing):
    """2 min of clocks, and with two sets twice 5 min side by side and 3 min."""
    table, _ = made(sets, rounds=2)
    needed = max(minutes(of(table, activity="walk"), "end_utc")) + closing
    assert made(sets, rounds=2, hours=(needed + 0.01) / 60.0)[1] == 2
    assert made(sets, rounds=2, hours=(needed - 0.01) / 60.0)[1] == 1


def test_one_round_is_there_however_short_the_day_and_no_more_than_asked():
    assert made(hours=0.1)[1] == 1 and made(hours=48.0, rounds=3)[1] == 3


def test_all_sets_but_the_first_watch_the_sky():
    table, _ = made(("curlew", "heron", "lapwing"), monitor=True)
    walked, watch = of(table, activity="walk"), of(table, activity="sky_monitor")
    assert set(walked["set"]) == {"curlew"} and watch["set"].tolist() == ["heron", "lapwing"]
    assert set(watch["remark"]) == {"stands level and free of shadows, all the time"}
    assert set(watch["field"]) == {"Meadow"} and set(watch["surface"]) == {"short_grass"}
    ends = max(minutes(walked, "end_utc"))
    np.testing.assert_allclose(spans(watch), [(49 / 3 + 3, ends)] * 2)
    assert set(of(walked, field="Yard")["transect"]) == {"1", "2"}
    alone, _ = made(("curlew",), monitor=True)
    assert "sky_monitor" not in set(alone["activity"])


def test_visits_are_in_order_of_time_and_of_the_sets():
    table, _ = made(("lapwing", "curlew"))
    keys = list(zip(table["start_utc"], table["set"], strict=True))
    assert keys == sorted(keys) and table.index.tolist() == list(range(len(table)))
