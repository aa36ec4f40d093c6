"""Step 6: means of fields and surfaces, the common sky, and what is withheld."""

import numpy as np
import pandas as pd
import pytest

from headland.base.findings import Withheld
from headland.chain import summarise, withholding
from headland.physics import longwave
from headland.physics.constants import ZERO_CELSIUS

from .made_segments import CLASSES, means, samples


def segments(*rows):
    base = {
        "set": "heron",
        "field": "mill",
        "surface": "stubble",
        "activity": "walk",
        "transect": "a",
        "start_utc": pd.Timestamp("2026-05-21T09:00:00Z"),
        "end_utc": pd.Timestamp("2026-05-21T09:10:00Z"),
    }
    return pd.DataFrame(
        [
            {
                **base,
                **means(samples(**{k: v for k, v in row.items() if k.startswith(("sw", "lw"))})),
                **{k: v for k, v in row.items() if not k.startswith(("sw", "lw"))},
            }
            for row in rows
        ]
    )


def test_segments_count_by_their_recorded_time():
    table = segments({"sw_in": 800.0, "weight": 100.0}, {"sw_in": 600.0, "weight": 300.0})
    row = summarise.groups(table, ["surface"], CLASSES, (650.0, 330.0)).iloc[0]
    assert row["sw_in"] == pytest.approx(650.0) and row["segments"] == 2 and row["weight"] == 400.0


def test_a_group_s_albedo_is_the_ratio_of_its_sums():
    table = segments({"sw_in": 800.0, "sw_out": 160.0}, {"sw_in": 400.0, "sw_out": 120.0})
    assert summarise.groups(table, ["surface"], CLASSES, (600.0, 330.0))["albedo"].item() == pytest.approx(
        280.0 / 1200.0
    )


def test_a_group_lasts_from_its_first_beginning_to_its_last_end_in_whatever_order():
    at = [pd.Timestamp(f"2026-05-21T{clock}:00Z") for clock in ("09:20", "09:00", "09:10")]
    ends = [pd.Timestamp(f"2026-05-21T{clock}:00Z") for clock in ("09:25", "09:40", "09:15")]
    table = segments(*({"start_utc": a, "end_utc": b} for a, b in zip(at, ends, strict=True)))
    row = summarise.groups(table, ["surface"], CLASSES, (800.0, 330.0)).iloc[0]
    assert (row["start_utc"], row["end_utc"]) == (at[1], ends[1])


def test_only_walks_and_stands_stand_for_their_surface():
    table = segments(
        {"sw_in": 800.0},
        {"sw_in": 100.0, "activity": "dark"},
        {"sw_in": 100.0, "activity": "sky_monitor"},
        {"sw_in": 700.0, "activity": "stand"},
    )
    assert summarise.groups(table, ["surface"], CLASSES, (750.0, 330.0))["sw_in"].item() == pytest.approx(
        750.0
    )
    assert summarise.reference_sky(table) == pytest.approx((750.0, 330.0))


def test_fields_and_surfaces():
    table = segments({"field": "mill"}, {"field": "yard", "surface": "paving"}, {"field": "barn"})
    assert summarise.groups(table, ["surface", "field"], CLASSES, (800.0, 330.0))[
        ["surface", "field"]
    ].values.tolist() == [["paving", "yard"], ["stubble", "barn"], ["stubble", "mill"]]
    assert summarise.groups(table, ["surface"], CLASSES, (800.0, 330.0))["surface"].tolist() == [
        "paving",
        "stubble",
    ]


def test_passes_over_one_transect_are_one_look_at_the_ground():
    def looks(*transects):
        rows = segments(*({"transect": t, "independent": n} for t, n in transects))
        return summarise.ground_scatter(rows)["independent"]

    assert looks(("a", 6.0), ("a", 8.0)) == 8.0 and looks(("a", 6.0), ("b", 8.0)) == 14.0


def test_nothing_measured_gives_empty_tables():
    table = segments({"weight": 0.0})
    empty = summarise.groups(table, ["surface"], CLASSES, summarise.reference_sky(table))
    assert (
        empty.empty and "net_radiation_common_sky" in empty and np.isnan(summarise.reference_sky(table)).all()
    )
    noted = pd.DataFrame(columns=["segment", "set", "surface", "start_utc", "end_utc", "sky"])
    none, found = summarise.segments(noted, {}, intervals={}, excluding=set(), surfaces={})
    assert none.empty and found == [] and {"net_radiation", "incoming_set", "noted_sky"} <= set(none)
    assert {str(none[name].dtype) for name in ("start_utc", "end_utc")} == {"datetime64[us, UTC]"}


def test_a_surface_under_another_sky_is_named():
    table = segments({"sw_in": 900.0}, {"sw_in": 500.0, "surface": "paving", "sw_out": 60.0})
    sky = summarise.reference_sky(table)
    groups = summarise.groups(table, ["surface"], CLASSES, sky)
    assert [(f.code, f.facts["surface"]) for f in summarise.found(groups, sky)] == [
        ("sky-too-different", "paving")
    ]


def test_segments_take_their_class_and_a_bare_interval_is_black():
    noted = pd.DataFrame(
        [
            {"segment": "a", "set": "heron", "surface": s, "height": 1.5, "speed": 0.8, "sky": "sun"}
            for s in ("stubble", "")
        ]
    )
    noted = noted.assign(
        activity="walk",
        heading=80.0,
        start_utc=pd.Timestamp("2026-05-21T09:00:00Z"),
        end_utc=pd.Timestamp("2026-05-21T09:10:00Z"),
    )
    table, _ = summarise.segments(
        noted, {"heron": samples()}, intervals={"heron": 1.0}, excluding={"edge"}, surfaces=CLASSES
    )
    assert table["surface_temperature"].tolist() == pytest.approx(
        [float(longwave.surface_temperature(430.0, 330.0, e)) - ZERO_CELSIUS for e in (0.96, 1.0)]
    )
    assert table["noted_sky"].tolist() == ["sun", "sun"]
    with_sky = summarise.with_common_sky(table, CLASSES, (800.0, 340.0))
    assert with_sky["net_radiation_common_sky"].tolist() == pytest.approx([540.0 + 9.6, 550.0])


def test_visits_under_one_sky_count_once_whatever_the_set():
    start = pd.Timestamp("2026-05-21T09:00:00Z")

    def at(*minutes):
        starts = [start + pd.Timedelta(minutes=m) for m in minutes]
        return pd.DataFrame([{"start_utc": s, "end_utc": s + pd.Timedelta(minutes=2)} for s in starts])

    assert (
        summarise.visits(at(0)) == 1
        and summarise.visits(at(0, 3, 5)) == 1
        and summarise.visits(at(0, 60, 62)) == 2
        and summarise.visits(at(60, 0)) == 2
    )


def test_what_can_t_be_trusted_has_no_value_and_neither_has_what_is_computed_from_it():
    row = withholding.without(means(samples()), {"lw_out"})
    assert (
        all(np.isnan(row[name]) for name in ("lw_out", "surface_temperature", "net_radiation"))
        and row["albedo"] == pytest.approx(0.2)
        and row["lw_in"] == 330.0
    )
    row = withholding.without(means(samples()), {"sw_in"})
    assert np.isnan(row["albedo"]) and row["albedo_sw_out"] == 0.0 and np.isfinite(row["surface_temperature"])
    assert withholding.without(means(samples()), set()) == means(samples())


def test_which_channels_of_a_segment_an_error_concerns():
    span = ("2026-05-21T09:00:00Z", "2026-05-21T09:10:00Z")
    entry = Withheld(("heron",), ("lw_in", "lw_out"))

    def concerned(entry, own="heron", sky="heron"):
        return withholding.untrustworthy([entry], own, sky, *span)

    assert concerned(entry) == {"lw_in", "lw_out"} and concerned(entry, "curlew", "curlew") == set()
    assert concerned(entry, sky="curlew") == {"lw_out"} and concerned(entry, "curlew", "heron") == {"lw_in"}
    assert concerned(Withheld((), ("sw_in",)), "curlew", "curlew") == {"sw_in"}
    assert concerned(Withheld(("heron",), ("sw_in",), "2026-05-21T09:05:00Z", "2026-05-21T09:07:00Z")) == {
        "sw_in"
    }
    assert (
        concerned(Withheld(("heron",), ("sw_in",), "2026-05-21T10:05:00Z", "2026-05-21T10:07:00Z")) == set()
    )


def test_a_surface_goes_on_with_what_another_set_has_of_it():
    table = segments({"set": "heron"}, {"set": "curlew", "sw_in": 700.0, "sw_out": 140.0})
    table.loc[0, ["lw_out", "surface_temperature", "net_radiation", "ground_lw_out"]] = np.nan
    row = summarise.groups(table, ["surface"], CLASSES, summarise.reference_sky(table)).iloc[0]
    assert (
        row["sw_in"] == pytest.approx(750.0)
        and row["lw_out"] == 430.0
        and row["net_radiation"] == pytest.approx(750.0 - 150.0 + 330.0 - 430.0)
    )
    nothing = summarise.groups(table.iloc[:1], ["surface"], CLASSES, summarise.reference_sky(table)).iloc[0]
    assert np.isnan(nothing["net_radiation"]) and nothing["albedo"] == pytest.approx(0.2)


def test_stands_without_a_transect_are_looks_at_the_ground_too():
    rows = segments({"independent": 6.0}, {"independent": 5.0, "transect": None}, {"independent": 4.0})
    assert summarise.ground_scatter(rows)["independent"] == 6.0 + 5.0
    other = segments(
        {"independent": 6.0}, {"independent": 5.0, "transect": "b"}, {"independent": 4.0, "field": "x"}
    )
    assert summarise.ground_scatter(other)["independent"] == 15.0


def test_the_ground_s_scatter_is_the_root_of_the_mean_square_by_recorded_time():
    rows = segments({"weight": 30.0}, {"weight": 10.0}).assign(
        ground_sw_out=[2.0, 6.0], ground_lw_out=[1.0, 3.0], ground_correlation=[0.5, -0.5]
    )
    found = summarise.ground_scatter(rows)
    assert found["ground_sw_out"] == pytest.approx(np.sqrt(0.75 * 4.0 + 0.25 * 36.0))
    assert found["ground_lw_out"] == pytest.approx(np.sqrt(0.75 * 1.0 + 0.25 * 9.0))
    covariance = 0.75 * 0.5 * 2.0 * 1.0 - 0.25 * 0.5 * 6.0 * 3.0
    wanted = covariance / found["ground_sw_out"] / found["ground_lw_out"]
    assert found["ground_correlation"] == pytest.approx(wanted)
