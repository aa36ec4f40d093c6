"""Each mean of a segment and of a group by its own name and unit, by numbers worked out by hand; where
segments count, and where they don't."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.base.findings import Withheld
from headland.chain import summarise, withholding
from headland.chain.segment_means import MEANS, albedo_of, scatter_of, segment_means, share_with, sun_of

from .made_segments import CLASSES, means, samples
from .test_summarise import segments

TIME = np.arange(60.0)
RADIATION = ("sw_in", "sw_out", "lw_in", "lw_out")


def courses():
    """Every column rises by its own step from its own start."""
    names = (
        *RADIATION,
        "lw_in_net",
        "lw_out_net",
        "body_temperature",
        "incoming_body_temperature",
        "sw_in_memory",
    )
    return {name: 100.0 * (n + 1) + (n + 1) * TIME for n, name in enumerate(names)}


def test_each_mean_is_of_its_own_column():
    row = means(samples(**courses()), interval=2.0)
    for n, name in enumerate(courses()):
        assert row[name] == pytest.approx(100.0 * (n + 1) + (n + 1) * 29.5), name
    assert {name: row[f"rate_{name}"] for name in RADIATION} == pytest.approx(
        {name: n + 1.0 for n, name in enumerate(RADIATION)}
    )
    # successive differences of 1, 2, 3 and 4: the root of half their square over 60 samples
    assert [row[f"noise_{name}"] for name in RADIATION] == pytest.approx(
        [(n + 1) / math.sqrt(120.0) for n in range(4)]
    )
    assert (row["samples"], row["samples_used"], row["weight"]) == (60, 60, 120.0)
    assert row["albedo_sw_in"] == pytest.approx(2.0 * 60 * 129.5)
    assert row["albedo_sw_out"] == pytest.approx(2.0 * 60 * 259.0)
    assert row["net_radiation"] == pytest.approx(129.5 - 259.0 + 388.5 - 518.0)
    assert set(row) == {"samples", "samples_used", "weight", *MEANS}


def test_only_used_samples_are_in_a_mean_and_a_rate_is_of_the_whole_course():
    used = TIME >= 50
    row = means(samples(**courses()), used)
    for n, name in enumerate(courses()):
        assert row[name] == pytest.approx(100.0 * (n + 1) + (n + 1) * 54.5), name
    bent = samples(sw_in=np.where(TIME < 50, 500.0, 500.0 + 3.0 * (TIME - 49.0)))
    # the first used sample lies between a flat and a rising step
    assert means(bent, used)["rate_sw_in"] == pytest.approx(3.0)
    assert means(bent, TIME >= 49)["rate_sw_in"] == pytest.approx((1.5 + 10 * 3.0) / 11)
    assert row["samples"] == 60 and row["weight"] == 10.0


def test_the_sun_is_that_of_the_used_samples_else_of_all():
    course = {"solar_elevation": 40.0 + TIME / 10.0, "solar_azimuth": 170.0 + TIME / 10.0}
    used = TIME < 20
    row = means(samples(**course), used)
    assert (row["solar_elevation"], row["solar_azimuth"]) == pytest.approx((40.95, 170.95))
    none = means(samples(**course), np.zeros(60, bool))
    assert (none["solar_elevation"], none["solar_azimuth"]) == pytest.approx((42.95, 172.95))
    assert none["sky"] == "" and none["weight"] == 0.0
    assert all(
        math.isnan(none[name]) for name in (*RADIATION, "net_radiation", "surface_temperature", "albedo")
    )


@pytest.mark.parametrize(
    "azimuths, middle", [([80.0, 100.0], 90.0), ([260.0, 280.0], 270.0), ([350.0, 30.0], 10.0)]
)
def test_a_mean_azimuth_is_a_direction(azimuths, middle):
    found = sun_of({"solar_azimuth": np.array(azimuths), "solar_elevation": np.array([10.0, 20.0])})
    assert (found["solar_azimuth"], found["solar_elevation"]) == pytest.approx((middle, 15.0))


def test_the_share_of_thermal_shock_is_of_the_used_samples():
    frame = samples().assign(flags=np.where(TIME < 12, "thermal-shock edge", np.where(TIME < 15, "edge", "")))
    assert means(frame, TIME >= 6)["thermal_shock"] == pytest.approx(6.0 / 54.0)
    assert means(frame.drop(columns="flags"))["thermal_shock"] == 0.0
    assert share_with(pd.Series(["a", "", "a b", ""]), "a") == 0.5
    # a quarter, of which the middle sample has none
    assert (
        share_with(pd.Series(["a", "", "", ""]), "a") == 0.25
        and share_with(pd.Series([], dtype="str"), "a") == 0.0
    )


def test_the_surface_is_as_warm_as_it_emits_besides_what_it_reflects():
    """L_out less a tenth of L_in over 0.9 is what a black surface would emit: 451 W m-2 at 25.5 degC."""
    row = means(samples(lw_in=330.0, lw_out=0.9 * 451.0 + 33.0), emissivity=0.9)
    assert row["surface_temperature"] == pytest.approx((451.0 / 5.670374419e-8) ** 0.25 - 273.15)


@pytest.mark.parametrize(
    "elevation, sw_in, sunny",
    [(10.1, 800.0, True), (9.9, 800.0, False), (55.0, 50.1, True), (55.0, 49.9, False)],
)
def test_an_albedo_is_of_samples_with_enough_sun(elevation, sw_in, sunny):
    one = {
        "solar_elevation": np.array([55.0, elevation]),
        "sw_in": np.array([800.0, sw_in]),
        "sw_out": np.array([160.0, 0.5 * sw_in]),
    }
    found = albedo_of(one, 2.0)
    wanted = (160.0 + 0.5 * sw_in) / (800.0 + sw_in) if sunny else 0.2
    assert found["albedo"] == pytest.approx(wanted)
    assert found["albedo_sw_in"] == pytest.approx(2.0 * (800.0 + sunny * sw_in))
    assert found["albedo_sw_out"] == pytest.approx(2.0 * (160.0 + sunny * 0.5 * sw_in))


def scatter(count=60, height=1.5, length=48.0, **changes):
    frame = samples(count, **changes)
    return scatter_of({name: frame[name].to_numpy(float) for name in RADIATION}, height=height, length=length)


def test_scatter_is_a_standard_deviation_over_the_ratio_of_the_sums():
    """Sun of 400 and 800 in turn; the ground reflects a fifth and 6 W m-2 more or less."""
    sun = np.where(TIME % 2 == 0, 400.0, 800.0)
    off = np.tile([6.0, 6.0, -6.0, -6.0], 15)
    found = scatter(sw_in=sun, sw_out=0.2 * sun + off)
    assert found["ground_sw_out"] == pytest.approx(6.0) and found["ground_lw_out"] == pytest.approx(
        0.0, abs=1e-9
    )
    night = scatter(sw_in=0.0, sw_out=off)
    assert night["ground_sw_out"] == pytest.approx(6.0)


@pytest.mark.parametrize(
    "count, length, looks",
    [
        (60, 48.0, 48.0 / (2.776 * 1.5) / 1.5),
        (60, 0.0, 1.0),
        (0, 48.0, 0.0),
        (0, 0.0, 0.0),
        (1, 48.0, 1 / 1.5),
        (1, 0.0, 1.0),
    ],
)
def test_looks_of_a_walk_of_a_stand_and_of_nothing(count, length, looks):
    own = np.where(np.arange(count) % 2 == 0, 1.0, -1.0)  # no sample is like the one before
    found = scatter(count, length=length, sw_out=160.0 + own, lw_out=430.0 - own)
    assert found["independent"] == pytest.approx(looks, rel=1e-3)
    assert found["ground_sw_out"] == pytest.approx(float(count > 1))
    assert found["ground_correlation"] == pytest.approx(-float(count > 1), abs=1e-3)


def test_a_walk_is_as_long_as_its_recorded_time_and_speed_say():
    own = np.where(TIME % 2 == 0, 1.0, -1.0)
    frame, used = samples(sw_out=160.0 + own, lw_out=430.0 - own), TIME < 30
    row = segment_means(frame, used, interval=2.0, emissivity=1.0, height=1.5, speed=0.5)
    assert row["independent"] == pytest.approx(30 * 2.0 * 0.5 / (2.776 * 1.5) / 1.5, rel=1e-3)


# Groups


def grouped(table, sky=(700.0, 330.0), by=("surface",)):
    return summarise.groups(table, list(by), CLASSES, sky)


def test_a_group_has_the_means_sums_and_counts_of_its_segments():
    table = segments(
        {"sw_in": 800.0, "weight": 100.0, "samples_used": 50},
        {"sw_in": 600.0, "weight": 300.0, "samples_used": 70},
    )
    table = table.assign(
        solar_elevation=[50.0, 40.0], lw_in=[300.0, 340.0], lw_out=[420.0, 440.0], sw_out=[160.0, 120.0]
    )
    row = grouped(table).iloc[0]
    assert (row["segments"], row["samples_used"], row["weight"]) == (2, 120, 400.0)
    assert [row[name] for name in ("sw_in", "sw_out", "lw_in", "lw_out", "solar_elevation")] == pytest.approx(
        [650.0, 130.0, 330.0, 435.0, 42.5]
    )
    assert row["net_radiation"] == pytest.approx(650.0 - 130.0 + 330.0 - 435.0)
    assert list(grouped(table)) == ["surface", *summarise.GROUP_COLUMNS]
    assert list(grouped(table[:0])) == ["surface", *summarise.GROUP_COLUMNS]


def test_the_common_sky_is_the_mean_of_the_segments_that_count_by_their_time():
    table = segments(
        {"sw_in": 800.0, "weight": 100.0},
        {"sw_in": 600.0, "weight": 300.0},
        {"sw_in": 100.0, "activity": "dark"},
    )
    table["lw_in"] = [300.0, 340.0, 900.0]
    assert summarise.reference_sky(table) == pytest.approx((650.0, 330.0))
    gap = table.assign(sw_in=[800.0, np.nan, 100.0])
    assert summarise.reference_sky(gap) == pytest.approx((800.0, 330.0))


def test_what_a_surface_has_not_yet_followed_is_a_root_of_mean_squares_over_the_visits():
    """Memories of 30 W m-2 too much and 40 too little: 25 root 2; four visits halve it."""
    table = segments({"sw_in": 800.0}, {"sw_in": 800.0}).assign(sw_in_memory=[830.0, 760.0])
    assert grouped(table)["sky_memory"].item() == pytest.approx(math.sqrt((900.0 + 1600.0) / 2.0))
    apart = segments(*[{"sw_in": 800.0}] * 4).assign(sw_in_memory=[830.0, 760.0, 830.0, np.nan])
    start = pd.Timestamp("2026-05-21T09:00Z") + pd.to_timedelta(np.arange(4), unit="h")
    apart = apart.assign(start_utc=start, end_utc=start + pd.Timedelta(minutes=2))
    root = math.sqrt((900.0 + 1600.0 + 900.0) / 3.0)
    assert grouped(apart)["sky_memory"].item() == pytest.approx(root / 2.0)
    assert grouped(apart.assign(sw_in_memory=np.nan))["sky_memory"].item() == 0.0


@pytest.mark.parametrize("pause, count", [(599, 1), (600, 1), (601, 2)])
def test_ten_minutes_between_two_walks_make_two_visits(pause, count):
    start = pd.Timestamp("2026-05-21T09:00Z")
    later = start + pd.Timedelta(seconds=300 + pause)
    rows = pd.DataFrame(
        {
            "start_utc": [start, start, later],
            "end_utc": [start + pd.Timedelta(seconds=300), start + pd.Timedelta(seconds=10), later],
        }
    )
    assert summarise.visits(rows) == count and summarise.visits(rows.iloc[::-1]) == count


def test_under_another_common_sky_a_surface_absorbs_and_emits_more():
    """100 W m-2 more of sun on an albedo of a fifth, 10 more of longwave on an emissivity of 0.96; a part of
    what comes more is emitted again (0.12)."""
    row = grouped(segments({"sw_in": 800.0}), (900.0, 340.0)).iloc[0]
    more = 0.8 * 100.0 + 0.96 * 10.0
    assert row["net_radiation_common_sky"] == pytest.approx(
        540.0 + (1.0 - 0.12) * 0.8 * 100.0 + 9.6, abs=0.2 * more
    )
    assert 540.0 + 0.8 * more < row["net_radiation_common_sky"] < 540.0 + more
    own = grouped(segments({"sw_in": 800.0}), (800.0, 330.0)).iloc[0]
    assert own["net_radiation_common_sky"] == pytest.approx(540.0)


def test_a_surface_that_can_t_be_put_under_the_common_sky_is_a_note_with_both_skies():
    table = pd.DataFrame(
        {
            "surface": ["a", "b", "c"],
            "sw_in": [912.4, 500.0, np.nan],
            "net_radiation": [1.0, 2.0, np.nan],
            "net_radiation_common_sky": [np.nan, 2.0, np.nan],
        }
    )
    (one,) = summarise.found(table, (612.6, 330.0))
    assert one.facts == {"surface": "a", "sw_in": "912", "sw_ref": "613"}


@pytest.mark.parametrize("band", ["ground_sw_out", "ground_lw_out"])
def test_ground_that_does_not_scatter_in_one_band_has_no_correlation(band):
    rows = segments({}, {}).assign(ground_sw_out=2.0, ground_lw_out=3.0, ground_correlation=0.5)
    assert summarise.ground_scatter(rows)["ground_correlation"] == pytest.approx(0.5)
    assert summarise.ground_scatter(rows.assign(**{band: 0.0}))["ground_correlation"] == 0.0


# What can't be trusted


@pytest.mark.parametrize(
    "start, end, hit",
    [
        ("", "", True),
        ("09:10", "09:20", True),
        ("09:10:01", "09:20", False),
        ("08:00", "09:00", True),
        ("08:00", "08:59", False),
        ("", "08:59", False),
        ("", "09:00", True),
        ("09:11", "", False),
        ("09:10", "", True),
    ],
)
def test_a_segment_is_concerned_where_an_error_touches_it(start, end, hit):
    """The segment lasts from nine to ten past."""

    def at(clock):
        return clock and f"2026-05-21T{clock}{':00' if len(clock) == 5 else ''}Z"

    entry = Withheld(("heron",), ("sw_in",), at(start), at(end))
    found = withholding.untrustworthy([entry], "heron", "heron", at("09:00"), at("09:10"))
    assert found == ({"sw_in"} if hit else set())


@pytest.mark.parametrize(
    "channels, gone",
    [
        ({"sw_in"}, {"sw_in", "net_radiation", "albedo", "ground_sw_out", "sw_in_memory"}),
        ({"sw_out"}, {"sw_out", "net_radiation", "albedo", "ground_sw_out"}),
        ({"lw_in"}, {"lw_in", "net_radiation", "surface_temperature", "ground_lw_out"}),
        ({"lw_out"}, {"lw_out", "net_radiation", "surface_temperature", "ground_lw_out"}),
    ],
)
def test_what_goes_with_a_channel(channels, gone):
    row = means(samples())
    left = withholding.without(row, channels)
    assert {name for name, value in left.items() if value != value} == gone
    sums = 0.0 if channels & {"sw_in", "sw_out"} else row["albedo_sw_in"]
    assert left["albedo_sw_in"] == sums and (left["albedo_sw_out"] == 0.0) == (sums == 0.0)
