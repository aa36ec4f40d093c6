"""The plan: closed forms of geometry, what the timetable promises of itself, the form's round trip, and what
the script says of a folder.
"""

import math
import re
import subprocess
import sys

import numpy as np
import pandas as pd
import pypdf
import pytest

from headland.field import day as days
from headland.field import expected, form, orders, plan_figures, timetable
from headland.files import user_tables
from headland.files.own_numbers import course_rows
from headland.files.schemas import table_schema
from headland.physics import geometry
from headland.uncertainty.course import course_sizes
from headland.uncertainty.differences import p_values, significant

from .made_plan import ROOT, folder

SITE = {"latitude": 45.93, "longitude": 14.87, "elevation": 310.0}
CARRYING = {
    "sensor_height": 1.5,
    "reach": 1.2,
    "carrier_height": 1.8,
    "carrier_width": 0.5,
    "walking_speed": 0.8,
}
START, END = (pd.Timestamp(f"2026-05-21 {hour}:00", tz="UTC") for hour in ("08", "13"))


@pytest.fixture(scope="module")
def day():
    return days.sky(pd.date_range(START, END, freq="300s"), SITE, 20.0, 60.0)


@pytest.fixture(scope="module")
def fields():
    return pd.DataFrame(
        [
            ("Lower meadow", "short_grass", 90.0, 65.0),
            ("Dry tilth", "bare_dry_soil", 100.0, 80.0),
            ("Yard", "paving", 80.0, 65.0),
        ],
        columns=["field", "surface", "length", "heading"],
    )


def table(fields, rounds=2, sets=("curlew", "lapwing"), monitor=False, end=END):
    asked = timetable.Day(START, end, 0.8, 4.0, monitor, rounds, 7)
    return timetable.timetable(fields, list(sets), asked)


@pytest.mark.parametrize(
    "text, wanted",
    [
        ("80", [80.0]),
        ("80;170", [80.0, 170.0]),
        ("350-10", [350.0, 355.0, 0.0, 5.0, 10.0]),
        ("60 100-110", [60.0, 100.0, 105.0, 110.0]),
    ],
)
def test_headings_are_read(text, wanted):
    assert days.headings_of(text) == wanted


@pytest.mark.parametrize("text", ["north", "400", "80-", "-80", "1e9", "0-180 0.1-359"])
def test_odd_headings_are_refused(text):
    with pytest.raises(ValueError):
        days.headings_of(text)


def test_no_heading_means_any():
    assert len(days.headings_of("")) == len(days.headings_of("any")) == 36


def test_shade_loss_is_beam_times_the_view_of_the_shadow(day):
    row = day.iloc[[30]].reset_index(drop=True)
    view = geometry.shadow_view(
        row["azimuth"] - 200.0, row["elevation"], 1.5, geometry.Carrier(1.2, 1.8, 0.5)
    )
    assert days.shade_loss(200.0, row, CARRYING)[0, 0] == pytest.approx(
        (1.0 - row["diffuse_fraction"].iloc[0]) * float(np.asarray(view)[0])
    )


def test_towards_the_sun_the_shadow_falls_behind(day):
    row = day.iloc[[0]].reset_index(drop=True)
    azimuth = float(row["azimuth"].iloc[0])
    ahead, away = days.shade_loss([azimuth, azimuth + 180.0], row, CARRYING)[:, 0]
    assert 0.0 < ahead < 0.4 * away


def test_a_degree_of_tilt_costs_what_it_adds_to_the_beam():
    """Of a beam of 800 W m-2 normal to the sun, 30 and 10 degrees high: 3.008 % of 400 and 9.883 % of 138.9
    W m-2 (published beside the view factors)."""
    sky = pd.DataFrame({"beam": [800.0, 800.0, 800.0], "elevation": [30.0, 10.0, -5.0]})
    assert days.tilt_cost(sky) == pytest.approx([12.03, 13.73, 0.0], abs=0.005)


def test_by_night_nothing_is_lost_or_costs():
    night = days.sky(pd.date_range("2026-05-21 22:00", periods=5, freq="300s", tz="UTC"), SITE, 20.0, 60.0)
    assert (
        not days.tilt_cost(night).any()
        and not days.shade_loss([0.0], night, CARRYING).any()
        and not night["sw_in"].any()
    )


def test_a_compass_tells_the_mean_by_its_hatch_in_grey_too(day):
    figure = plan_figures.heading_figure(
        pd.DataFrame({"field": ["Yard"], "heading": [80.0], "free": [[80.0]]}), day, CARRYING
    )
    hatched = [patch for patch in figure.axes[0].patches if patch.get_hatch()]
    assert (
        len(hatched) == 1
        and np.abs(np.mean(hatched[0].get_facecolor()[:3]) - np.mean(hatched[0].get_edgecolor()[:3])) > 0.3
    )


def test_the_best_heading_is_one_of_the_free_ones(day):
    assert days.best_heading([80.0], day, CARRYING)[0] == 80.0
    free = days.headings_of("")
    best = days.best_heading(free, day, CARRYING)
    worst = max(max(days.best_heading([h], day, CARRYING)[1:]) for h in free)
    assert max(best[1:]) < worst


def test_every_field_stands_in_the_middle_of_the_same_time(fields):
    visits, rounds = table(fields, 1, ("curlew",))
    walks = visits[visits["activity"] == "walk"]
    middles = (
        (walks["start_utc"] + (walks["end_utc"] - walks["start_utc"]) / 2).groupby(walks["field"]).mean()
    )
    assert rounds == 1 and (middles.max() - middles.min()).total_seconds() < 300.0
    assert list(walks["field"].drop_duplicates()) == list(fields["field"])


def test_no_set_is_in_two_places_and_headings_come_in_pairs(fields):
    visits, _ = table(fields, 3)
    for _, own in visits.groupby("set"):
        own = own.sort_values("start_utc")
        assert (own["start_utc"].iloc[1:].to_numpy() >= own["end_utc"].iloc[:-1].to_numpy()).all()
    walks = visits[visits["activity"] == "walk"]
    for _, pair in walks.groupby(["set", "field", "transect"]):
        assert len(pair) == 2 and abs(pair["heading"].diff().iloc[1]) == 180.0
    assert not walks.duplicated(["field", "transect", "pass"]).any()


def test_pauses_are_irregular(fields):
    visits, _ = table(fields, 2, ("curlew",))
    walks = visits[visits["activity"] == "walk"].sort_values("start_utc")
    pauses = (
        walks["start_utc"].iloc[1:].to_numpy() - walks["end_utc"].iloc[:-1].to_numpy()
    ) / np.timedelta64(1, "s")
    assert len(set(pauses)) > 0.7 * len(pauses)


def test_the_day_begins_and_ends_with_clock_checks_and_swapped_positions(fields):
    visits, _ = table(fields)
    for name in ("curlew", "lapwing"):
        own = visits[visits["set"] == name]["activity"].tolist()
        assert (
            own[0] == own[-1] == "clock_check"
            and own[1] == "channel_check"
            and own.count("side_by_side") == 4
        )
    assert visits["remark"].str.contains("swapped").sum() == 4


def test_rounds_fit_into_the_day_and_one_is_always_there(fields):
    assert table(fields, 20)[0]["end_utc"].max() <= END + pd.Timedelta(minutes=10)
    assert table(fields, 2, end=START + pd.Timedelta(minutes=20))[1] == 1


def test_a_sky_monitor_stands_through_all_walks(fields):
    visits, _ = table(fields, 1, monitor=True)
    walks, monitor = (visits[visits["activity"] == a] for a in ("walk", "sky_monitor"))
    assert set(walks["set"]) == {"curlew"} and list(monitor["set"]) == ["lapwing"]
    assert (
        monitor["start_utc"].iloc[0] <= walks["start_utc"].min()
        and monitor["end_utc"].iloc[0] >= walks["end_utc"].max()
    )


def test_passes_needed_is_the_solution_of_its_own_equation():
    def width(n):
        return math.sqrt(3.0**2 + (8.0**2 - 3.0**2) * 4 / n)

    for pairs in (1, 6):
        needed, factor = expected.passes_needed(10.0, (8.0, 3.0), 4, pairs), expected.promise(pairs)
        assert factor * width(needed) <= 10.0 < factor * width(needed - 1)
    assert (
        expected.passes_needed(1.0, (8.0, 3.0), 4, 1) == math.inf
        and expected.passes_needed(1e6, (8.0, 3.0), 4, 1) == 1.0
    )
    assert math.isnan(expected.passes_needed(1.0, (math.nan, math.nan), 4, 1))


@pytest.mark.parametrize("pairs", [1, 3, 6])
def test_a_promised_difference_is_told_nine_times_in_ten_among_all_that_are_tested(pairs):
    """20 000 draws of one pair that differs by the promise and others that do not: 0.9 within 0.01, or more
    where Holm's later steps help."""
    rng = np.random.default_rng(3)
    size = 1.0 / 1.959964
    values = rng.normal(0.0, size, (20_000, pairs))
    values[:, 0] += expected.promise(pairs)
    told = [significant(p_values(row, np.full(pairs, size)), np.ones(pairs, bool))[0] for row in values]
    assert np.mean(told) == pytest.approx(0.9, abs=0.01)


def test_orders_leave_less_open_the_better_the_course_cancels(fields):
    """A visit to each field once leaves most open, two sets at once next to nothing of the slopes."""
    course = course_sizes(course_rows(ROOT / "config" / "course.csv"))
    visits, rounds = table(fields)
    assert orders.step_of(visits) == pytest.approx(0.2, abs=0.1)
    found = orders.left_open(visits, len(fields), rounds, course).set_index("order")
    for quantity in course:
        once, a_b_a, in_rounds, together = found[quantity]
        assert once > a_b_a > in_rounds and once > together
        sizes = course[quantity]
        least = 1.96 * math.sqrt(2.0 * (sizes.visit**2 + sizes.segment**2))
        assert together == pytest.approx(least, rel=1e-3)
    assert not len(orders.left_open(visits, 1, rounds, course))


def test_the_workbook_is_read_by_the_chain_as_it_was_written(fields, tmp_path):
    visits, _ = table(fields)
    columns = [f["name"] for f in table_schema("notes")["fields"]]
    rows = form.rows(visits, "Europe/Ljubljana", columns)
    settings_of_it = {
        "site": {"timezone": "Europe/Ljubljana"},
        "sets": {"curlew": {}, "lapwing": {}},
        "surfaces": ["short_grass", "paving"],
    }
    form.workbook(visits, settings_of_it).save(tmp_path / "notes.xlsx")
    read, findings = user_tables.read_user_table(tmp_path / "notes.xlsx", "notes")
    assert not findings
    for name in ("date", "set", "field", "surface", "activity", "transect", "pass"):
        assert read[name].tolist() == rows[name].tolist(), name
    assert read["heading"].fillna(-1).tolist() == visits["heading"].fillna(-1).tolist()


def call(campaign, results):
    return subprocess.run(
        [sys.executable, ROOT / "scripts" / "verbs" / "plan.py", campaign, results],
        capture_output=True,
        text=True,
        timeout=120,
    )


def test_all_faults_of_a_plan_are_told_at_once(tmp_path):
    done = call(
        folder(tmp_path / "day", "A,short_gras,90,,\nB,paving,-3,,\nB,paving,60,north,\n"),
        tmp_path / "results",
    )
    assert done.returncode == 2 and "Traceback" not in done.stderr
    for part in ("short_gras", 'did you mean "short_grass"', "north", "there twice", "-3"):
        assert part in done.stderr, part
    assert not (tmp_path / "results").exists()


def test_a_plan_leaves_its_pages_and_the_form(tmp_path):
    done = call(
        folder(tmp_path / "day", "Meadow,short_grass,90,,\nYard,paving,60,20-70,\n"), tmp_path / "results"
    )
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "results" / "plan.html").read_text(encoding="utf-8")
    for word in (
        "Timetable",
        "Lightning",
        "Livestock",
        "Permission",
        "responsible person decide",
        "side by side",
    ):
        assert word in page
    assert {p.name for p in (tmp_path / "results").iterdir()} >= {
        "plan.html",
        "form.html",
        "notes.xlsx",
        "timetable.csv",
    }
    assert len(pypdf.PdfReader(tmp_path / "results" / "plan.pdf").pages) == 2
    assert page.index("Timetable") < page.index("What the day can show")


def test_the_demos_plan_is_two_pages_and_its_form_a_page_a_set(tmp_path):
    done = call(ROOT / "demo_inputs", tmp_path)
    assert done.returncode == 0, done.stderr
    pages = [page.extract_text() for page in pypdf.PdfReader(tmp_path / "form.pdf").pages]
    assert [re.search(r"Notes of (\w+)", page)[1] for page in pages] == ["curlew", "lapwing"]
    assert len(pypdf.PdfReader(tmp_path / "plan.pdf").pages) == 2
    planned = set(pd.read_csv(ROOT / "demo_inputs" / "plan.csv")["field"])
    assert planned <= {name for name in planned if name in " ".join(pages).replace("\n", " ")}
    assert (tmp_path / "phone.html").is_file()


def test_there_and_back_share_a_row_of_the_paper_form(fields):
    visits, _ = table(fields)
    columns = [f["name"] for f in table_schema("notes")["fields"]]
    rows = form.rows(visits, "Europe/Ljubljana", columns)
    sets = {name: {"logger_id": "X", "utc_offset": "+01:00"} for name in ("curlew", "lapwing")}
    for page in form.pages(rows, sets):
        walks = [row for row in page["rows"] if row["back"] and row["what"]]
        assert len(walks) == 2 * 2 * len(fields)
        own = rows[(rows["set"] == page["set"]) & (rows["activity"] == "walk")]
        assert [row["headings"].count("°") for row in walks] == [2] * len(walks) and len(own) == 2 * len(
            walks
        )


def circumstances(levelling):
    """A plan's circumstances whose heads lean by so many degrees (standard deviation)."""
    term = {"enabled": "true", "distribution": "normal", "sigma": str(levelling)}
    return expected.Circumstances(SITE, CARRYING, {}, {"levelling": term}, {}, 20.0, 60.0)


def test_a_surface_remembers_the_sun_of_the_way_there(fields):
    visits, _ = table(fields, 1, ("curlew",))
    walks = visits[visits["activity"] == "walk"].reset_index(drop=True).assign(incoming_set="curlew")
    level, once, twice = (
        expected.unsettled(visits, walks, circumstances(degrees)) for degrees in (0.0, 1.0, 2.0)
    )
    day = days.sky(pd.DatetimeIndex(walks["start_utc"]), SITE, 20.0, 60.0)
    assert (
        level < 600.0 * np.abs(np.gradient(day["sw_in"], day["time_utc"].astype("int64") / 1e6)).max()
    ).all()  # no more than the sun moves in the memory of ten minutes
    leans = np.sqrt(once**2 - level**2)
    # there and back, a lean is there with either sign
    assert (leans[1::2] > 1.0).all() and (leans < 2.0 * np.sqrt(2.0) * days.tilt_cost(day).max()).all()
    assert np.sqrt(twice**2 - level**2)[1::2] == pytest.approx(2.0 * leans[1::2], rel=0.03)


@pytest.mark.parametrize("count, grid", [(1, (1, 1)), (8, (1, 8)), (9, (2, 8))])
def test_compasses_stand_eight_in_a_row(day, count, grid):
    names = [f"Yard {n}" for n in range(count)]
    fields = pd.DataFrame({"field": names, "heading": 80.0, "free": [[80.0]] * count})
    axes = plan_figures.heading_figure(fields, day, CARRYING).axes
    assert axes[0].get_subplotspec().get_gridspec().get_geometry() == grid


@pytest.mark.parametrize("most, edge", [(0.0, 1.0), (0.94, 1.0), (2.0, 2.1)])
def test_a_compass_reaches_to_the_worst_hour_and_to_one_percent_at_least(most, edge):
    assert plan_figures.compass_edge(np.array([0.0, most])) == pytest.approx(edge)
