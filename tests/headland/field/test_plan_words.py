"""Cells and figures of the plan, by hand."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.field import day as days
from headland.field import plan_figures, plan_page

ZONE = "Europe/Ljubljana"
CARRYING = {
    "sensor_height": 1.5,
    "reach": 1.2,
    "carrier_height": 1.8,
    "carrier_width": 0.5,
    "walking_speed": 0.8,
}
SITE = {"latitude": 45.93, "longitude": 14.87, "elevation": 310.0}
CLASSES = {name: {"label": {"value": name.replace("_", " ")}} for name in ("short_grass", "paving")}


@pytest.fixture(scope="module")
def day():
    return days.sky(pd.date_range("2026-05-21T03:00Z", "2026-05-21T19:00Z", freq="300s"), SITE, 20.0, 60.0)


def some_day(**columns):
    times = pd.date_range("2026-05-21T08:00Z", periods=6, freq="600s")
    frame = {
        "time_utc": times,
        "elevation": 40.0,
        "azimuth": 120.0,
        "sw_in": 700.0,
        "lw_in": 330.0,
        "beam": 800.0,
    }
    return pd.DataFrame(frame | columns)


def test_stretches_of_the_day_in_local_time():
    """Local time is two hours ahead."""
    good = np.array([True, True, False, True, True, True])
    assert plan_page.hours_when(some_day(), good, ZONE) == "10:00 to 10:10 and 10:30 to 10:50"
    assert plan_page.hours_when(some_day(), ~good & good, ZONE) == "at no hour"


def test_cheap_hours_are_those_in_which_tilt_costs_least_of_what_arrives(day):
    """With a high sun; with the sun under 10 degrees nothing is cheap."""
    start, end = plan_page.cheap_hours(day, ZONE).split(" to ")
    noon = 12.0 + 56.0 / 60.0  # local time: summer time, and the sun is due south at 12:56
    middle = (sum(map(float, np.array(start.split(":"), float) / [1, 60]))
              + sum(map(float, np.array(end.split(":"), float) / [1, 60]))) / 2.0  # fmt: skip
    assert abs(middle - noon) < 0.25 and start < end
    assert plan_page.cheap_hours(some_day(elevation=9.0), ZONE) == "at no hour"


@pytest.mark.parametrize(
    "degrees, words",
    [([40.0, 45.0, 50.0, 120.0], "40° to 50°, 120°"), ([355.0, 0.0, 5.0], "355° to 5°"),
     ([10.0, 16.0], "10°, 16°"), ([], "")],
)  # fmt: skip
def test_directions_as_ranges(degrees, words):
    assert plan_page.directions(degrees) == words


def test_full_hours_with_the_cost_of_a_degree():
    (row,) = plan_page.hour_rows(some_day(elevation=30.0), ZONE)
    assert row == {
        "time": "10:00",
        "elevation": "30°",
        "azimuth": "120°",
        "sw_in": "700",
        "lw_in": "330",
        "tilt": "12",
    }


def difference(**changes):
    return {"surface_a": "short_grass", "surface_b": "paving", "quantity": "net_radiation_common_sky",
            "difference": 60.0, "half_width": 20.0, "passes": 4, "passes_needed": 2.0} | changes  # fmt: skip


@pytest.mark.parametrize(
    "changes, word, told",
    [({}, "2 passes", True), ({"passes_needed": 1.0}, "1 pass", True),
     ({"passes_needed": 4.0}, "4 passes", True), ({"passes_needed": 5.0}, "5 passes", False),
     ({"passes_needed": math.inf}, "never", False),
     ({"half_width": math.nan}, "too little ground", False)],
)  # fmt: skip
def test_a_pair_is_told_apart_where_the_planned_passes_are_enough(changes, word, told):
    (row,) = plan_page.pair_rows(pd.DataFrame([difference(**changes)]), CLASSES)
    cell = row["cells"]["net_radiation_common_sky"]
    assert (cell["word"], cell["told"]) == (word, told)
    assert row["pair"] == "short grass − paving" and row["passes"] == "4"
    if not changes:
        assert cell["value"] == "60 ± 20"


def visit(set_, start, activity="walk", heading=80.0, transect="1", **more):
    begin = pd.Timestamp(f"2026-05-21T{start}Z")
    return {"set": set_, "start_utc": begin, "end_utc": begin + pd.Timedelta(minutes=2), "field": "Yard",
            "activity": activity, "heading": heading, "transect": transect, "remark": ""} | more  # fmt: skip


def test_passes_of_a_visit_share_a_row_and_so_do_sets_that_do_the_same():
    visits = pd.DataFrame(
        [
            visit("a", "08:00", "clock_check", math.nan, "", remark="time"),
            visit("b", "08:00", "clock_check", math.nan, "", remark="logger"),
            visit("a", "08:10"), visit("a", "08:13", heading=260.0), visit("b", "08:10"),
            visit("a", "08:20", transect="2"), visit("b", "08:05", "sky_monitor", math.nan, ""),
        ]
    )  # fmt: skip
    rows = plan_page.visit_rows(visits, ZONE)
    assert [(row["set"], row["start"], row["end"], row["headings"]) for row in rows] == [
        ("a, b", "10:00", "10:02", ""), ("b", "10:05", "10:07", ""), ("a", "10:10", "10:15", "80°, 260°"),
        ("b", "10:10", "10:12", "80°"), ("a", "10:20", "10:22", "80°"),
    ]  # fmt: skip
    assert rows[0]["remark"] == "time, then logger" and rows[1]["activity"] == "sky monitor"
    assert plan_page.visit_rows(visits[::-1], ZONE) == rows


def test_a_field_s_row_gives_both_ways_and_the_way_with_the_least_shadow(day):
    fields = pd.DataFrame(
        [{"field": "Yard", "surface": "paving", "length": 65.4, "heading": 80.0, "free": [80.0],
          "there": 0.012, "back": 0.034}]
    )  # fmt: skip
    morning = day[(day["elevation"] > 30.0) & (day["azimuth"] < 120.0)]
    (row,) = plan_page.field_rows(fields, morning, CARRYING, CLASSES)
    assert row["heading"] == "80° and 260°" and row["length"] == "65 m" and row["loss"] == "1.2 and 3.4 %"
    # the sun is ahead on the way at 80 degrees: the shadow falls behind the carrier
    assert row["one_way"].startswith("80°")
    assert float(row["one_way"].split("(")[1].split(" ")[0]) < 2.5
    evening = day[(day["elevation"] > 30.0) & (day["azimuth"] > 240.0)]
    (row,) = plan_page.field_rows(fields, evening, CARRYING, CLASSES)
    assert row["one_way"].startswith("260°")


def test_the_sun_s_figure_draws_its_course_and_what_arrives(day):
    hours = (pd.Timestamp("2026-05-21T08:00Z"), pd.Timestamp("2026-05-21T12:00Z"))
    high, flux, tilt = plan_figures.sun_figure(day, hours, ZONE).axes
    up = day[day["elevation"] > -3.0]
    curve = max(high.get_lines(), key=lambda line: len(line.get_xdata()))
    assert curve.get_ydata() == pytest.approx(up["elevation"].to_numpy())
    drawn = [line.get_ydata() for line in flux.get_lines()]
    assert drawn[0] == pytest.approx(up["sw_in"].to_numpy()) and drawn[1] == pytest.approx(
        up["lw_in"].to_numpy()
    )
    marked = {text.get_text() for text in high.texts}
    even = day[
        (day["time_utc"].dt.minute == 0) & (day["time_utc"].dt.hour % 2 == 0) & (day["elevation"] > 5.0)
    ]
    assert marked == {f"{azimuth:.0f}°" for azimuth in even["azimuth"]}
    (cost,) = tilt.get_lines()
    noon = np.argmax(up["elevation"].to_numpy())
    beam = up["beam"].to_numpy()[noon] * np.sin(np.radians(up["elevation"].to_numpy()[noon]))
    share = 100.0 * beam * np.radians(1.0) / np.tan(np.radians(up["elevation"].to_numpy()[noon]))
    assert cost.get_ydata()[noon] == pytest.approx(share / up["sw_in"].to_numpy()[noon], rel=0.05)
    assert np.isnan(cost.get_ydata()[up["elevation"].to_numpy() <= 10.0]).all()
    (span,) = [patch for patch in high.patches]
    assert span.get_width() == pytest.approx(4.0 / 24.0)
