"""Screening: the published limits, flags on samples, and the state of the sky."""

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from headland.base.flags import also_flagged, excluding_flags, has_any, joined, limits_of, merged, reworded
from headland.chain import screen
from headland.files.own_numbers import quality_rows

CONFIG = Path(__file__).parents[3] / "config"
LIMITS = limits_of(quality_rows(CONFIG / "quality.csv"))


def frame(elevation=60.0, sw_in=800.0, sw_out=160.0, lw_in=330.0, lw_out=430.0):
    values = np.broadcast_arrays(sw_in, sw_out, lw_in, lw_out, elevation)
    return pd.DataFrame(
        dict(
            zip(
                ("sw_in", "sw_out", "lw_in", "lw_out", "solar_elevation"),
                map(np.atleast_1d, values),
                strict=True,
            )
        )
    )


def flags(air=20.0, toa=1361.0, **values):
    samples = frame(**values)
    return {
        name
        for name, hit in screen.flags(
            samples, LIMITS, np.full(len(samples), air), np.full(len(samples), toa)
        ).items()
        if hit.any()
    }


# Long & Dutton 2002 with 1361 W m-2, physically possible / extremely rare, as computed apart (anchors; half
# the last digit)
@pytest.mark.parametrize(
    "zenith, possible, rare, up_possible, up_rare",
    [
        (0, 2141.50, 1683.20, 1683.20, 1411.00),
        (30, 1817.85, 1424.28, 1424.28, 1195.24),
        (60, 988.61, 760.89, 760.89, 642.41),
        (80, 349.78, 249.82, 249.82, 216.52),
        (95, 100.0, 50.0, 50.0, 50.0),
    ],
)
def test_upper_limits_of_shortwave(zenith, possible, rare, up_possible, up_rare):
    for flag, expected in (
        ("sw_in-impossible", possible),
        ("sw_in-rare", rare),
        ("sw_out-impossible", up_possible),
        ("sw_out-rare", up_rare),
    ):
        row = LIMITS[flag]
        got = screen.upper_limit(1361.0, 90.0 - zenith, row["scale"], row["power"], row["offset"])
        assert got == pytest.approx(expected, abs=0.005), flag


@pytest.mark.parametrize(
    "flag, low, high",
    [
        ("lw_in-impossible", 40, 700),
        ("lw_in-rare", 60, 500),
        ("lw_out-impossible", 40, 900),
        ("lw_out-rare", 60, 700),
    ],
)
def test_limits_of_longwave(flag, low, high):
    assert (LIMITS[flag]["low"], LIMITS[flag]["offset"]) == (low, high)


def test_limits_against_air_at_20_degrees():
    # anchors: L_in 167.51 to 443.77, L_out 339.41 to 580.95 W m-2
    for lw_in, hit in ((167.5, True), (167.52, False), (443.76, False), (443.78, True)):
        assert ("lw_in-against-air" in flags(lw_in=lw_in)) == hit
    for lw_out, hit in ((339.40, True), (339.42, False), (580.94, False), (580.96, True)):
        assert ("lw_out-against-air" in flags(lw_out=lw_out)) == hit


def test_limits_are_compared_strictly():
    assert not screen.outside(np.array([40.0, 700.0, 40.0 - 1e-10]), 40.0, 700.0).any()
    assert screen.outside(np.array([40.0 - 1e-6, 700.0 + 1e-6]), 40.0, 700.0).all()


def test_a_sound_sample_has_no_flag():
    assert flags() == set()
    assert flags(elevation=-20.0, sw_in=-1.0, sw_out=0.0, lw_in=300.0, lw_out=360.0, air=12.0) == {"sun-low"}


@pytest.mark.parametrize(
    "values, flag",
    [
        ({"sw_in": np.nan}, "missing"),
        ({"lw_out": np.nan}, "missing"),
        ({"sw_in": -15.1}, "sw_in-impossible"),
        ({"sw_in": 2000.0}, "sw_in-impossible"),
        ({"sw_in": 1600.0}, "sw_in-rare"),
        ({"sw_out": -15.1}, "sw_out-impossible"),
        ({"lw_in": 39.0}, "lw_in-impossible"),
        ({"lw_out": 901.0}, "lw_out-impossible"),
        ({"sw_out": 801.0}, "sw-up-over-down"),
        ({"lw_in": 456.0, "lw_out": 430.0}, "lw-in-against-out"),
        ({"lw_in": 129.0, "lw_out": 430.0}, "lw-in-against-out"),
        ({"elevation": 9.9}, "sun-low"),
    ],
)
def test_each_flag(values, flag):
    assert flag in flags(**values)


def test_reflection_is_not_judged_in_the_dark():
    assert "sw-up-over-down" not in flags(sw_in=49.0, sw_out=60.0)
    assert "sw-up-over-down" in flags(sw_in=51.0, sw_out=60.0)
    assert "sw-up-over-down" not in flags(sw_in=51.0, sw_out=50.0)


def test_without_an_air_temperature_there_is_no_test_against_it():
    assert flags(air=np.nan, lw_in=100.0, lw_out=380.0) & {"lw_in-against-air", "lw_out-against-air"} == set()


def test_flags_are_joined_sample_by_sample():
    found = {"a": np.array([True, False, True]), "b": np.array([False, False, True])}
    assert joined(found).tolist() == ["a", "", "a b"]
    assert joined({}).tolist() == []


def test_a_flag_is_a_word_not_a_part_of_one():
    texts = pd.Series(["sun-low", "low", "", "edge sun-low"])
    assert has_any(texts, {"low"}).tolist() == [False, True, False, False]
    assert has_any(texts, {"sun-low"}).tolist() == [True, False, False, True]


def test_what_excludes_is_what_the_table_says():
    assert excluding_flags(LIMITS) == {
        "missing",
        "sw_in-impossible",
        "edge",
        "overlap",
        "low-head",
        "upward-shaded",
        "cover",
        "cover-sw_in",
        "cover-sw_out",
    }


def test_sky_clear_broken_overcast_and_unknown():
    clear = 800.0 + np.linspace(0.0, 100.0, 300)
    generator = np.random.default_rng(1)
    assert screen.sky_state(0.98 * clear, clear) == "clear"
    assert screen.sky_state(0.30 * clear, clear) == "overcast"
    assert screen.sky_state(np.where(generator.random(300) < 0.5, 1.05, 0.3) * clear, clear) == "broken"
    assert screen.sky_state(0.65 * clear, clear) == "broken"
    assert screen.sky_state(np.full(5, np.nan), clear[:5]) == "" == screen.sky_state(np.zeros(5), np.zeros(5))


def test_the_sun_s_own_course_is_no_scatter():
    clear = np.full(600, 700.0)
    assert screen.sky_state(clear * np.linspace(0.90, 1.10, 600), clear) == "clear"


def test_a_finding_says_how_often_and_when():
    samples = frame(sw_in=np.array([800.0, 5000.0, 5000.0]))
    hit = screen.flags(samples, LIMITS, np.full(3, 20.0), np.full(3, 1361.0))
    stamps = pd.Series(
        pd.to_datetime(["2026-05-21T10:00:00Z", "2026-05-21T10:00:01Z", "2026-05-21T10:00:02Z"])
    )
    (one,) = screen.found(hit, LIMITS, stamps, "heron", set())
    assert (one.code, one.channel, one.facts["count"]) == ("beyond-possible", "sw_in", 2)
    assert screen.found(hit, LIMITS, stamps, "heron", {"sw_in"}) == []
    assert (one.start_utc, one.end_utc) == ("2026-05-21T10:00:01Z", "2026-05-21T10:00:02Z")


def test_quality_csv_is_sound():
    with (CONFIG / "quality.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len({row["flag"] for row in rows}) == len(rows)
    for row in rows:
        assert row["excludes"] in ("true", "false") and row["source"] and row["how"] and row["meaning"], row[
            "flag"
        ]
        numbers = [row[key] for key in ("low", "scale", "power", "offset") if row[key]]
        assert all(np.isfinite(float(number)) for number in numbers)
    for channel in ("sw_in", "sw_out", "lw_in", "lw_out"):
        possible, rare = LIMITS[f"{channel}-impossible"], LIMITS[f"{channel}-rare"]
        assert possible["channel"] == rare["channel"] == channel
        assert possible["low"] <= rare["low"] and rare["offset"] <= possible["offset"]


# at 20 degC, as computed apart (anchors; half the last digit)
@pytest.mark.parametrize(
    "channel, flag, low, high",
    [("lw_in", "lw_in-against-air", 167.51, 443.77), ("lw_out", "lw_out-against-air", 339.41, 580.95)],
)
def test_limits_of_longwave_against_the_air(channel, flag, low, high):
    for inside in (low + 0.006, high - 0.006):
        assert flag not in flags(**{channel: inside})
    for outside in (low - 0.006, high + 0.006):
        assert flag in flags(**{channel: outside})


def test_texts_are_reworded_once_for_each_pair_and_stay_in_their_order():
    asked = []
    texts = pd.Series(["a", "", "a", "b"], index=[3, 1, 2, 0])
    found = reworded(
        texts,
        np.array([True, False, True, False]),
        lambda text, mark: asked.append(text) or f"{text}{mark:d}",
    )
    assert (
        found.tolist() == ["a1", "0", "a1", "b0"]
        and found.index.tolist() == [3, 1, 2, 0]
        and sorted(asked) == ["", "a", "b"]
    )
    assert merged(texts, pd.Series(["x", "y", "", ""])).tolist() == ["a x", "y", "a", "b"]
    assert also_flagged(texts, "z", [False, True, True, False]).tolist() == ["a", "z", "a z", "b"]
    assert merged(texts[:0], texts[:0]).tolist() == []


@pytest.mark.parametrize("clear, known", [(50.5, True), (49.5, False)])
def test_the_sky_is_told_where_the_clear_sky_is_over_50(clear, known):
    assert bool(screen.sky_state(np.full(10, clear), np.full(10, clear))) == known
    assert bool(screen.sky_state([clear], [clear])) == known


@pytest.mark.parametrize(
    "share, scatter, sky",
    [(0.86, 0.0, "clear"), (0.84, 0.0, "broken"), (0.95, 0.029, "clear"), (0.95, 0.031, "broken"),
     (0.44, 0.0, "overcast"), (0.46, 0.0, "broken"), (0.30, 0.099, "overcast"), (0.30, 0.101, "broken")],
)  # fmt: skip
def test_states_of_the_sky_just_inside_and_just_outside(share, scatter, sky):
    """Samples to both sides of the share by so much of it, without a trend."""
    pattern = np.tile([1.0, -1.0, -1.0, 1.0], 50)
    assert screen.sky_state(700.0 * share * (1.0 + scatter * pattern), np.full(200, 700.0)) == sky
