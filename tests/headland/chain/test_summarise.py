"""Albedo, net radiation, surface temperature, the common sky and the means of segments and groups."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.base.findings import Withheld
from headland.chain import summarise, withholding
from headland.chain.segment_means import segment_means
from headland.physics import longwave, radiation
from headland.physics.constants import SIGMA, ZERO_CELSIUS
from headland.physics.series import (
    VIEW_LENGTH,
    autocorrelation,
    effective_samples,
    independent_samples,
    noise_of_mean,
    rate_of_change,
    remembered,
    without_trend,
)

flux = st.floats(0.0, 1200.0)
long = st.floats(150.0, 700.0)


def common_sky(net, albedo, *others):
    names = ("sw_in", "lw_in", "sw_ref", "lw_ref", "emissivity", "sky_response")
    return radiation.net_common_sky(net, albedo, **dict(zip(names, others, strict=True)))


def samples(count=60, **changes):
    base = {
        "sw_in": 800.0,
        "sw_out": 160.0,
        "lw_in": 330.0,
        "lw_out": 430.0,
        "lw_in_net": -100.0,
        "lw_out_net": 0.0,
        "body_temperature": 22.0,
        "solar_elevation": 55.0,
        "solar_azimuth": 180.0,
        "sw_clear": 820.0,
        "incoming_body_temperature": 22.0,
        "sw_in_memory": changes.get("sw_in", 800.0),
        "seconds": np.arange(count),
    }
    return pd.DataFrame(
        {
            name: np.broadcast_to(np.asarray(changes.get(name, value), float), count).copy()
            for name, value in base.items()
        }
    ).assign(
        flags="",
        segment="a",
        middle_utc=pd.Timestamp("2026-05-21T09:00:00Z") + pd.to_timedelta(np.arange(count), unit="s"),
    )


def means(frame, used=None, *, interval=1.0, emissivity=1.0, height=1.5, speed=0.8):
    return segment_means(
        frame,
        np.ones(len(frame), bool) if used is None else used,
        interval=interval,
        emissivity=emissivity,
        height=height,
        speed=speed,
    )


# Surface temperature
# ----------------------------------------------------------------------------------------------


# L_out 450, L_in 350 W m-2 (anchors; half the last digit)
@pytest.mark.parametrize(
    "emissivity, celsius", [(1.0, 25.320), (0.98, 25.657), (0.95, 26.189), (0.92, 26.751)]
)
def test_surface_temperature(emissivity, celsius):
    assert float(longwave.surface_temperature(450.0, 350.0, emissivity)) - ZERO_CELSIUS == pytest.approx(
        celsius, abs=5e-4
    )


@given(st.floats(230.0, 340.0), st.floats(100.0, 500.0), st.floats(0.8, 1.0))
def test_forward_then_inverse_returns_the_surface(kelvin, lw_in, emissivity):
    lw_out = emissivity * SIGMA * kelvin**4 + (1.0 - emissivity) * lw_in
    assert float(longwave.surface_temperature(lw_out, lw_in, emissivity)) == pytest.approx(kelvin, rel=1e-9)
    assert longwave.emitted(lw_out, lw_in, emissivity) * emissivity + (
        1.0 - emissivity
    ) * lw_in == pytest.approx(lw_out, rel=1e-9)


@given(st.floats(200.0, 600.0), st.floats(0.8, 1.0))
def test_under_a_sky_as_warm_as_the_surface_the_emissivity_does_not_matter(flux_, emissivity):
    assert longwave.surface_temperature(flux_, flux_, emissivity) == pytest.approx((flux_ / SIGMA) ** 0.25)


def test_nothing_left_to_emit_is_no_temperature():
    assert np.isnan(longwave.surface_temperature(0.0, 300.0, 0.9))


# Albedo and net radiation
# ------------------------------------------------------------------------------------------


def test_albedo_is_the_ratio_of_sums_not_the_mean_of_ratios():
    sw_in, sw_out = np.array([100.0, 900.0]), np.array([50.0, 90.0])
    assert radiation.albedo(sw_in, sw_out) == pytest.approx(0.14)
    assert np.mean(sw_out / sw_in) == pytest.approx(0.30)


@given(st.floats(0.01, 0.99), st.lists(st.floats(1.0, 1200.0), min_size=1, max_size=50))
def test_albedo_of_an_even_surface_is_its_own_whatever_the_sun(a, sun):
    assert radiation.albedo(np.array(sun), a * np.array(sun)) == pytest.approx(a)


def test_without_sun_there_is_no_albedo():
    assert np.isnan(radiation.albedo(np.zeros(3), np.zeros(3)))
    assert radiation.albedo(np.array([[100.0], [0.0]]), np.array([[20.0], [0.0]])).tolist()[0] == 0.2


@given(flux, flux, long, long)
def test_net_radiation_signs(sw_in, sw_out, lw_in, lw_out):
    net = radiation.net_radiation(sw_in, sw_out, lw_in, lw_out)
    assert net == pytest.approx((sw_in - sw_out) + (lw_in - lw_out), abs=1e-9)
    assert radiation.net_radiation(sw_in + 1, sw_out, lw_in + 1, lw_out) == pytest.approx(net + 2)
    assert radiation.net_radiation(sw_in, sw_out + 1, lw_in, lw_out + 1) == pytest.approx(net - 2)
    assert radiation.net_radiation(sw_out, sw_in, lw_out, lw_in) == pytest.approx(-net, abs=1e-9)


# The common sky
# ----------------------------------------------------------------------------------------------------


@given(
    net=st.floats(-200.0, 900.0),
    albedo=st.floats(0.0, 1.0),
    sw_in=flux,
    lw_in=long,
    emissivity=st.floats(0.8, 1.0),
    response=st.floats(0.0, 0.3),
)
def test_under_the_sky_as_it_was_net_stays(net, albedo, sw_in, lw_in, *, emissivity, response):
    assert float(common_sky(net, albedo, sw_in, lw_in, sw_in, lw_in, emissivity, response)) == pytest.approx(
        net, abs=1e-9
    )


@given(
    a=st.floats(0.0, 0.9),
    sw_in=st.floats(200.0, 1000.0),
    change=st.floats(-0.24, 0.24),
    lw_in=long,
    lw_out=long,
    lw_ref=long,
    emissivity=st.floats(0.8, 1.0),
    response=st.floats(0.0, 0.3),
)
def test_common_sky_is_the_formula_of_the_methods(
    a, sw_in, change, *, lw_in, lw_out, lw_ref, emissivity, response
):
    sw_ref = sw_in * (1.0 + change)
    net = radiation.net_radiation(sw_in, a * sw_in, lw_in, lw_out)
    expected = (
        (1 - a) * sw_ref
        + (lw_in - lw_out)
        + emissivity * (lw_ref - lw_in)
        - response * (1 - a) * (sw_ref - sw_in)
    )
    assert float(common_sky(net, a, sw_in, lw_in, sw_ref, lw_ref, emissivity, response)) == pytest.approx(
        expected, abs=1e-8
    )


@pytest.mark.parametrize(
    "sw_ref, known", [(1000.0, True), (600.0, True), (1000.1, False), (599.9, False), (800.0, True)]
)
def test_beyond_a_quarter_there_is_no_common_sky(sw_ref, known):
    assert np.isfinite(common_sky(500.0, 0.2, 800.0, 330.0, sw_ref, 330.0, 0.97, 0.06)) == known


def test_by_night_a_quarter_of_50_is_allowed_and_the_albedo_not_needed():
    assert common_sky(-60.0, np.nan, 0.0, 300.0, 2.0, 310.0, 0.97, 0.06) == pytest.approx(-60.0 + 9.7)
    assert np.isnan(common_sky(-60.0, np.nan, 0.0, 300.0, 12.6, 310.0, 0.97, 0.06))


# Independent looks
# -------------------------------------------------------------------------------------------------


def test_the_view_s_own_length():
    assert pytest.approx(2.776, abs=5e-4) == VIEW_LENGTH


@given(st.integers(3, 500))
def test_uncorrelated_samples_all_count(count):
    assert effective_samples(count, np.zeros(0)) == count


def test_wholly_correlated_samples_count_once():
    assert effective_samples(50, np.ones(49)) == pytest.approx(1.0)


def test_autocorrelation_against_the_definition():
    values = np.random.default_rng(3).normal(size=200).cumsum()
    d = values - values.mean()
    expected = np.array([np.dot(d[:-k], d[k:]) for k in range(1, 200)]) / np.dot(d, d)
    rho = autocorrelation(values)
    assert rho == pytest.approx(expected[: len(rho)]) and expected[len(rho)] <= 0 and (rho > 0).all()
    assert len(autocorrelation(np.full(30, 7.0))) == 0 == len(autocorrelation([1.0, 2.0]))


def test_autocorrelation_of_a_red_series():
    generator, r = np.random.default_rng(4), 0.8
    noise = generator.normal(size=200_000) * math.sqrt(1 - r * r)
    series = np.empty_like(noise)
    series[0] = 0.0
    for k in range(1, len(noise)):
        series[k] = r * series[k - 1] + noise[k]
    assert autocorrelation(series)[:3] == pytest.approx(
        [0.8, 0.64, 0.512], abs=0.02
    )  # 3 standard errors at this length


def test_a_walk_gives_no_more_looks_than_its_length_over_the_view():
    looks = independent_samples(100, 80.0, 1.5)
    assert looks == pytest.approx(80.0 / (2.776 * 1.5) / 1.5, rel=1e-3)
    patchy = np.repeat([1.0, -1.0, 1.0, -1.0], 25)
    assert independent_samples(100, 80.0, 1.5, patchy) < looks
    assert independent_samples(4, 1e6, 1.5) == pytest.approx(4 / 1.5)


def test_a_trend_is_taken_out():
    t = np.arange(50.0)
    rest = without_trend(3.0 + 0.2 * t + np.tile([1.0, -1.0], 25), t)
    assert abs(np.polyfit(t, rest, 1)[0]) < 1e-12 and np.std(rest) == pytest.approx(1.0, abs=0.01)
    assert np.abs(without_trend(3.0 + 0.2 * t, t)).max() < 1e-10
    assert without_trend([1.0, 5.0], [0.0, 1.0]).tolist() == [0.0, 0.0]


def test_noise_of_a_mean_is_that_of_the_samples():
    values = np.random.default_rng(5).normal(0.0, 2.0, 40_000)
    assert noise_of_mean(values, 1.0) == pytest.approx(2.0 / 200.0, rel=0.02)
    assert noise_of_mean([1.0], 1.0) == 0.0 == noise_of_mean(values, 10.0)
    assert noise_of_mean(np.arange(100.0), 1.0) == pytest.approx(math.sqrt(0.5) / 10.0)


# Segments
# ----------------------------------------------------------------------------------------------------------


def test_means_of_a_steady_segment():
    row = means(samples())
    assert (row["samples"], row["samples_used"], row["weight"]) == (60, 60, 60.0)
    assert (row["sw_in"], row["albedo"], row["net_radiation"]) == pytest.approx((800.0, 0.2, 540.0))
    assert row["surface_temperature"] == pytest.approx((430.0 / SIGMA) ** 0.25 - ZERO_CELSIUS)
    assert (
        row["noise_sw_in"],
        row["ground_sw_out"],
        row["ground_lw_out"],
        row["ground_correlation"],
    ) == pytest.approx((0, 0, 0, 0), abs=1e-9)


def test_net_of_means_is_the_mean_of_nets():
    generator = np.random.default_rng(6)
    frame = samples(
        sw_in=generator.uniform(300, 900, 60),
        sw_out=generator.uniform(60, 180, 60),
        lw_out=generator.uniform(400, 450, 60),
    )
    assert means(frame)["net_radiation"] == pytest.approx(
        (frame["sw_in"] - frame["sw_out"] + frame["lw_in"] - frame["lw_out"]).mean()
    )


def test_only_used_samples_count():
    frame = samples(sw_in=np.where(np.arange(60) < 30, 800.0, 5000.0))
    assert means(frame, np.arange(60) < 30)["sw_in"] == 800.0


def test_albedo_needs_the_sun_above_10_degrees_and_50_w_m2():
    low = np.arange(60) < 30
    assert means(samples(solar_elevation=np.where(low, 10.0, 10.1), sw_out=np.where(low, 700.0, 160.0)))[
        "albedo"
    ] == pytest.approx(0.2)
    assert means(samples(sw_in=np.where(low, 50.0, 800.0), sw_out=np.where(low, 49.0, 160.0)))[
        "albedo"
    ] == pytest.approx(0.2)
    assert np.isnan(means(samples(solar_elevation=5.0))["albedo"]) and np.isfinite(
        means(samples(solar_elevation=5.0))["net_radiation"]
    )


def test_a_segment_without_used_samples_has_no_means_but_a_sun():
    row = means(samples(), np.zeros(60, bool))
    assert (
        np.isnan(row["sw_in"])
        and np.isnan(row["albedo"])
        and row["solar_elevation"] == 55.0
        and row["independent"] == 0.0
    )
    assert np.isnan(means(samples().iloc[:0])["solar_azimuth"])


def test_a_moving_sky_is_no_scatter_of_the_ground():
    sky = np.random.default_rng(7).uniform(200.0, 900.0, 60)
    assert means(samples(sw_in=sky, sw_out=0.2 * sky))["ground_sw_out"] == pytest.approx(0.0, abs=1e-9)
    assert means(samples(lw_out=430.0 + 0.1 * np.arange(60)))["ground_lw_out"] == pytest.approx(0.0, abs=1e-9)


def test_the_azimuth_is_averaged_as_a_direction():
    azimuth = means(samples(2, solar_azimuth=[359.0, 1.0]))["solar_azimuth"]
    assert min(azimuth, 360.0 - azimuth) == pytest.approx(0.0, abs=1e-9)


def test_standing_is_one_look():
    assert means(samples(), speed=0.0)["independent"] == 1.0


def test_rate_of_change_of_a_steady_rise_and_of_one_sample():
    assert rate_of_change([0.0, 1.0, 2.0, 5.0], [10.0, 12.0, 14.0, 20.0]) == pytest.approx([2.0] * 4)
    assert rate_of_change([3.0], [7.0]).tolist() == [0.0]
    assert means(samples(sw_in=700.0 + 2.0 * np.arange(60)))["rate_sw_in"] == pytest.approx(2.0)


def test_a_surface_remembers_the_sun_it_had():
    seconds = np.cumsum(np.random.default_rng(8).uniform(0.5, 20.0, 40))
    values = np.random.default_rng(9).uniform(100.0, 900.0, 40)
    by_hand = [
        np.average(values[: k + 1], weights=np.exp((seconds[: k + 1] - seconds[k]) / 300.0))
        for k in range(40)
    ]
    assert remembered(seconds, values, 300.0) == pytest.approx(by_hand)
    assert remembered(seconds, np.where(np.arange(40) == 5, np.nan, 500.0)) == pytest.approx([500.0] * 40)


def monitored(heron, curlew, **monitor):
    noted = pd.DataFrame(
        [
            {"segment": "a", "set": "heron", "activity": "walk", "heading": 80.0},
            {"segment": "b", "set": "curlew", "activity": "sky_monitor", "heading": 180.0, **monitor},
        ]
    )
    start = pd.Timestamp("2026-05-21T09:00:00Z")
    noted = noted.assign(
        surface="stubble",
        height=1.5,
        speed=[0.8, 0.0],
        sky="",
        notes_row=[2, 3],
        start_utc=start,
        end_utc=start + pd.Timedelta(seconds=60),
    )
    table, findings = summarise.segments(
        noted,
        {"heron": heron, "curlew": curlew},
        intervals={"heron": 1.0, "curlew": 1.0},
        excluding={"edge", "missing"},
        surfaces=CLASSES,
    )
    return table.set_index("segment"), [(f.code, f.variant) for f in findings]


def test_a_sky_monitor_gives_its_incoming_terms_to_the_walking_set():
    heron = samples(sw_in=650.0, body_temperature=25.0, incoming_body_temperature=25.0)
    rows, findings = monitored(
        heron, samples(sw_in=800.0 + np.arange(60.0), lw_in=350.0, lw_in_net=-80.0).assign(segment="b")
    )
    walk = rows.loc["a"]
    assert walk[
        ["sw_in", "lw_in", "lw_in_net", "lw_out", "body_temperature", "incoming_body_temperature"]
    ].tolist() == pytest.approx([829.5, 350.0, -80.0, 430.0, 25.0, 22.0])
    assert (walk["incoming_set"], walk["incoming_heading"], findings) == (
        "curlew",
        180.0,
        [("sky-monitor", "")],
    )
    assert walk["albedo"] == pytest.approx(160.0 / 829.5) and rows.loc["b", "incoming_set"] == "curlew"


def test_a_monitor_that_was_not_there_long_enough_gives_nothing():
    rows, findings = monitored(samples(sw_in=650.0), samples().assign(segment="b").iloc[:30])
    assert (
        rows.loc["a", "sw_in"] == 650.0
        and rows.loc["a", "incoming_set"] == "heron"
        and findings == [("sky-monitor", "too-little")]
    )
    rows, _ = monitored(samples(sw_in=650.0), samples().assign(segment="b", flags="missing"))
    assert rows.loc["a", "sw_in"] == 650.0
    rows, _ = monitored(samples(sw_in=650.0), samples().assign(segment="b"), activity="stand")
    assert rows.loc["a", "sw_in"] == 650.0


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


# Groups
# ------------------------------------------------------------------------------------------------------------

CLASSES = {
    "stubble": {"emissivity": {"value": 0.96}, "sky_response": {"value": 0.12}},
    "paving": {"emissivity": {"value": 0.95}, "sky_response": {"value": 0.15}},
}


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


# Withheld
# ----------------------------------------------------------------------------------------------------------


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
